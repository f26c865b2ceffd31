"""A fault of a form that was sent: the page it was sent from again, with the fault at its field and what was typed
kept."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from urllib.parse import urlsplit

from django.http import HttpRequest, HttpResponse, QueryDict
from django.urls import Resolver404, resolve

from overwood.ground.errors import OverwoodError

# What is never written back into a page: secrets, the token of the form, and files that a form carries.
_NOT_AGAIN = frozenset({"csrfmiddlewaretoken", "password", "old", "code", "carried"})
_LONGEST = 20_000


@dataclass(frozen=True)
class Beside:
    """A fault, the field it is at ("" where it is none alone), and the fields as they were sent."""

    what: str
    remedy: str
    field: str
    sent: dict[str, list[str]]


def place_of_form(request: HttpRequest) -> str:
    """The address of the page that a form was sent from: what the browser says, else the address it was sent to."""
    came = urlsplit(request.headers.get("Referer", ""))
    same = came.netloc == request.get_host() and came.path.startswith("/")
    return came.path + (f"?{came.query}" if came.query else "") if same else request.path


def page_again(request: HttpRequest, fault: OverwoodError, status: int) -> HttpResponse | None:
    """The page of the form with the fault in it; None where there is no such page for this person."""
    from overwood.faces.pages.urls import needed

    place = place_of_form(request)
    asked = _asked_anew(request, place)
    try:
        page = resolve(asked.path)
        role = needed(page.route, "GET")
        if role and not request.person.may(role):
            return None
        asked.resolver_match = page
        asked.form_fault = Beside(Exception.__str__(fault), fault.remedy, fault.field, _sent(request))
        response: HttpResponse = page.func(asked, *page.args, **page.kwargs)
    except (Resolver404, KeyError, OverwoodError):
        return None
    if response.status_code != 200 or not str(response.get("Content-Type", "")).startswith("text/html"):
        return None
    response.status_code = status
    return response


def _asked_anew(request: HttpRequest, place: str) -> HttpRequest:
    """The same person asking for the page of the form."""
    path, _, query = place.partition("?")
    asked = copy.copy(request)
    asked.method, asked.path, asked.path_info, asked.GET = "GET", path, path, QueryDict(query)
    asked.META = {**request.META, "REQUEST_METHOD": "GET", "QUERY_STRING": query, "PATH_INFO": path}
    asked.POST, asked._files = QueryDict(), {}
    return asked


def _sent(request: HttpRequest) -> dict[str, list[str]]:
    given = (
        (name, [str(value) for value in values]) for name, values in request.POST.lists() if name not in _NOT_AGAIN
    )
    return {name: values for name, values in given if sum(map(len, values)) < _LONGEST}
