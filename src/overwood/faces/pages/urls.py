"""Addresses of the pages: for each, the view, the role that sees it, the role that may send to it, and what sending
does."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.urls.resolvers import RoutePattern, URLResolver

from overwood.faces.pages import api_roles


@dataclass(frozen=True)
class Place:
    """One address. ``view`` is MODULE.FUNCTION; ``see`` and ``send`` name roles, "" is open to everybody; ``does`` is
    for the audit log.

    ``metric`` says that it speaks the units that are asked for; what machines read keeps its own.
    """

    route: str
    view: str
    see: str = "reader"
    send: str = "admin"
    does: str = ""
    metric: bool = True


PLACES = (
    Place("", "property.page", send="reader"),
    Place("start/", "start.begin", send="forester", does="began the book"),
    Place("due.ics", "property.calendar", send="reader"),
    Place("due/", "due.page"),
    Place("compare/", "compare.page"),
    Place("across/", "across.page"),
    Place("stands.pdf", "property.table"),
    Place("map/stands.json", "mapping.shapes"),
    Place("map/check/", "mapping.check", send="reader"),
    Place("map/keep/", "mapping.keep", send="forester", does="drew an outline"),
    Place("map/typed/", "mapping.typed", see="forester", send="forester", does="drew an outline"),
    Place("outlines/", "outlines.page", send="forester", does="brought outlines in"),
    Place("ground/", "ground.page", send="forester", does="brought streams, roads or sites in"),
    Place("outlines/outlines.<str:kind>", "outlines.download", metric=False),
    Place("map/behind/<int:number>/<int:zoom>/<int:column>/<int:row>", "mapping.tile"),
    Place("stand/<str:name>/", "stand.page"),
    Place("stand/<str:name>/why/<str:figure>/", "stand.why"),
    Place("stand/<str:name>/what-if/", "stand.what_if", send="reader"),
    Place("stand/<str:name>/decide/", "stand.decide", send="forester", does="wrote a decision down"),
    Place("stand/<str:name>/chart/<str:which>.svg", "stand.chart"),
    Place("light/<str:name>/", "light.page"),
    Place("light/<str:name>/table/", "light.table"),
    Place("light/<str:name>/aside/", "light.aside"),
    Place("light/<str:name>/change/", "light.change", send="reader"),
    Place("light/<str:name>/search/", "light.search", send="field"),
    Place("light/<str:name>/search/<int:number>/", "light.searched", send="field"),
    Place("light/<str:name>/trees.csv", "light.trees", metric=False),
    Place("light/<str:name>/keep/", "light.keep", send="reader"),
    Place("canopy/<str:name>/", "canopy.page", send="forester", does="kept or checked a map from above"),
    Place("canopy/<str:name>/crowns.csv", "canopy.crowns", metric=False),
    Place("law.toml", "own_lists.law_file", metric=False),
    Place("law/", "own_lists.law", send="forester", does="wrote down the law for burning"),
    Place("prices/", "own_lists.prices", send="forester", does="changed the price list"),
    Place("prices/prices.toml", "own_lists.price_file", metric=False),
    Place("fire/<str:name>/", "fire.page", send="field"),
    Place("fire/<str:name>/days/<int:number>/", "fire.counting", send="field"),
    Place("futures/<str:name>/", "futures.page"),
    Place("futures/<str:name>/run/", "futures.run", send="field"),
    Place("futures/<str:name>/run/<int:number>/", "futures.running", send="field"),
    Place("plan/", "plan.page"),
    Place("plan/run/", "plan.run", send="forester", does="made a plan"),
    Place("plan/run/<int:number>/", "plan.running", send="forester"),
    Place("plan/orders.pdf", "plan.orders"),
    Place("plan/plan.ics", "plan.calendar"),
    Place("work/", "tray.page", see="field"),
    Place("work/<int:number>/stop/", "tray.stop", see="field", send="field"),
    Place("money/<str:name>/", "money.page"),
    Place("owner-walk/<str:name>/", "owner_walk.page"),
    Place("papers/<str:name>/", "papers.page"),
    Place("papers/<str:name>/<str:which>.pdf", "papers.paper"),
    Place("papers/<str:name>/woods/<str:what>.pdf", "papers.for_woods"),
    Place(
        "papers/<str:name>/<str:which>/keep",
        "papers.keep",
        send="forester",
        does="had a paper printed and kept",
    ),
    Place("papers/<str:name>/made/<int:number>/", "papers.making", send="forester"),
    Place(
        "papers/<str:name>/file/",
        "papers.archive",
        see="forester",
        send="forester",
        does="took out the file of a stand",
    ),
    Place("papers/<str:name>/kept/<int:number>", "papers.kept"),
    Place(
        "papers/<str:name>/kept/<int:number>/guest/",
        "papers.invite",
        see="forester",
        send="forester",
        does="gave a guest's address out",
    ),
    Place("import/", "importing.page", see="field", send="forester", does="sent a file"),
    Place("import/file/<int:number>/", "importing.sheet", see="forester", send="forester", does="answered for a file"),
    Place("import/work/<int:number>/", "importing.at_work", see="forester", send="forester", does="stopped an import"),
    Place("import/template.xlsx", "importing.template", metric=False),
    Place("import/species/", "importing.species", see="field", send="forester", does="said what a species is"),
    Place("import/mappings/", "kept_mappings.page", see="field"),
    Place(
        "import/mappings/<int:number>/",
        "kept_mappings.one",
        see="field",
        send="forester",
        does="changed a kept mapping",
    ),
    Place("import/visit/", "importing.visit", see="forester", send="forester", does="undid a visit"),
    Place("import/redo/<int:number>/", "importing.redo", see="forester", send="forester", does="took an undo back"),
    Place(
        "import/waiting/<int:number>/", "importing.waiting", see="field", send="forester", does="settled a waiting file"
    ),
    Place("import/entry/<int:number>/", "importing.entry", see="forester", send="forester", does="undid an entry"),
    Place("conflicts/", "conflicts.page", see="field", send="forester", does="settled a dispute"),
    Place("records/", "records.page"),
    Place("records/<str:table>/", "records.form", send="field", does="typed a record"),
    Place("records/<str:table>/<str:row>/", "records.history"),
    Place("tally/<str:name>/", "tally.page", see="field", send="field", does="typed a tally"),
    Place("ticks/<str:name>/", "ticks.page", see="field", send="field"),
    Place("tally/<str:name>/draft/", "tally.draft", see="field", send="field", metric=False),
    Place("walks/", "walks.page", see="field", send="field", does="made a walk or sent a tally"),
    Place("walks/codes/", "walks.codes", see="field", send="field", metric=False),
    Place("walks/<str:number>/", "walks.one", see="field", send="forester", does="wrote, settled or recalled a walk"),
    Place("walks/<str:number>/photos/<str:name>.jpg", "walks.photo", see="field", metric=False),
    Place("woods/", "woods.kit", see="", metric=False),
    Place("woods/door.json", "woods.door", see="field", metric=False),
    Place("woods/walk/<str:number>.json", "woods.walk", see="field", metric=False),
    Place("woods/up", "woods.up", see="field", send="field", does="sent a tally from the woods", metric=False),
    Place("woods/<str:name>", "woods.kit", see="", metric=False),
    Place("rules/", "rules.page", send="forester", does="changed the rulebook"),
    Place("units/<str:system>/", "units.switch", see="", metric=False),
    Place("words/", "rules.words"),
    Place("sources/", "rules.sources"),
    Place("calc/", "calc.page"),
    Place("calc/<str:name>/", "calc.formula"),
    Place("launch/<str:token>/", "guard.launch", see="", send=""),
    Place("first/<str:token>/", "office.first", see="", send=""),
    Place("welcome/<str:token>/", "office.welcome", see="", send=""),
    Place("login/", "office.log_in", see="", send=""),
    Place("login/passkey/", "passkeys.log_in", see="", send=""),
    Place("logout/", "office.log_out", send="reader", does="logged out"),
    Place("trust/authority.pem", "office.authority", see="", send="", metric=False),
    Place("guest/<str:token>/", "office.guest", see="", send="", metric=False),
    Place("guest/<str:token>/paper.pdf", "office.guest_pdf", see="", send="", metric=False),
    Place("account/", "office.own", send="reader", does="changed the own account"),
    Place("account/passkey/", "passkeys.own", send="reader", does="changed the own account"),
    Place("office/", "office.page", see="admin", send="admin", does="changed the office"),
    Place("office/audit/", "office.audit", see="admin"),
)
_BY_ROUTE = {place.route: place for place in PLACES}
_SAFE = ("GET", "HEAD", "OPTIONS")


def needed(route: str, method: str) -> str:
    """The role that may ask this of an address; "" is everybody."""
    if route.startswith("api/"):
        operation = route.removeprefix("api")
        if method in _SAFE:
            return api_roles.SEES.get(operation, "reader")
        return api_roles.SENDS.get(operation, ("admin", ""))[0]
    place = _BY_ROUTE[route]
    return place.see if method in _SAFE else place.send


def speaks_metric(route: str) -> bool:
    """Whether a page can say all its values in metric units; what machines read keeps its own."""
    return route in _BY_ROUTE and _BY_ROUTE[route].metric


def does(route: str) -> str:
    """What sending to an address changes, in words; "" where nothing is kept."""
    if route.startswith("api/"):
        return api_roles.SENDS.get(route.removeprefix("api"), ("", ""))[1]
    return _BY_ROUTE[route].does


def _view(where: str) -> Callable[..., HttpResponse]:
    """A view whose module is imported when it is first asked for: the first page then does not wait for all the
    others."""
    module, name = where.split(".")

    def view(request: HttpRequest, **given: Any) -> HttpResponse:
        asked_view = getattr(importlib.import_module(f"overwood.faces.pages.{module}"), name)
        answer: HttpResponse = asked_view(request, **given)
        return answer

    return view


urlpatterns = [
    URLResolver(RoutePattern("api/"), "overwood.faces.pages.api.addresses", app_name="ninja", namespace="api"),
    *(path(place.route, _view(place.view)) for place in PLACES),
]
handler404 = "overwood.faces.pages.guard.not_found"
handler500 = "overwood.faces.pages.guard.broken"
