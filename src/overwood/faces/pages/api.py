"""The typed JSON API beside the pages: the same desk, the same owner's cookie; forms tokens guard what changes anything."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import NinjaAPI, Schema
from ninja.errors import ValidationError
from ninja.security import APIKeyCookie, HttpBearer

from overwood.desk import answers, formulas, futures, importing, marking, session
from overwood.desk.office import Person
from overwood.faces.cli.output import plain
from overwood.faces.pages import asking, light, records
from overwood.faces.pages.guard import COOKIE
from overwood.ground.errors import Misuse, NotFound, OverwoodError
from overwood.ground.records import TABLES


class _Owner(APIKeyCookie):
    """The cookie that the launch token gave; a change also needs the token of a form."""

    param_name = COOKIE

    def authenticate(self, request: HttpRequest, key: str | None) -> Person | None:
        return None if asking.DESK.office else asking.person(request)


class _Session(APIKeyCookie):
    """The cookie of a log-in to an office; a change also needs the token of a form."""

    param_name = "overwood_session"

    def authenticate(self, request: HttpRequest, key: str | None) -> Person | None:
        by_token = "Authorization" in request.headers
        return asking.person(request) if asking.DESK.office and not by_token else None


class _Token(HttpBearer):
    """A token that an account of an office made."""

    def authenticate(self, request: HttpRequest, token: str) -> Person | None:
        return asking.person(request) if asking.DESK.office else None


# What may be sent by which role, and what it does, for the audit log; "" keeps nothing.
SENDS = {
    "/stands/<name>/what-if": ("reader", ""),
    "/stands/<name>/marking": ("reader", ""),
    "/formulas/<name>": ("reader", ""),
    "/records/<table>": ("field", "wrote a record by the API"),
}
api = NinjaAPI(
    title="Overwood", version="1", auth=[_Token(), _Session(), _Owner()], docs_url=None, urls_namespace="api",
    description="Figures, advice, markings and records of one book. A browser's cookie opens it, and changes then need the header X-CSRFToken; in an office a token of your account opens it without.",
)  # fmt: skip


class Fault(Schema):
    """What was wrong and what to do next."""

    what: str
    remedy: str


class StandOut(Schema):
    stand: str
    name: str
    property: str
    area_ac: float | None
    site_index_ft: float | None
    birth_year: int | None


class WindowOut(Schema):
    start: dt.date
    end: dt.date


class GateOut(Schema):
    name: str
    question: str
    state: str
    figure: str
    why: str
    settle: str


class AdviceOut(Schema):
    stand: str
    on: dt.date
    what_it_is: str
    stage: str
    step: str
    title: str
    window: WindowOut | None
    second_window: WindowOut | None
    why: list[str]
    doubts: list[str]
    sure: str
    would_change: list[str]
    missing: list[str]
    measure_next: list[str]
    cautions: list[str]
    gates: list[GateOut]
    follow_on: list[str]
    rulebook_version: str


class InputOut(Schema):
    name: str
    value: float | int | str | bool | None
    unit: str
    figure: str
    rows: list[str]


class FigureOut(Schema):
    name: str
    value: float | int | str | bool | None
    unit: str
    low: float | None
    high: float | None
    level: float | None
    n: int | None
    method: str
    sources: list[str]
    inputs: list[InputOut]
    note: str
    status: str


class DueOut(Schema):
    stand: str
    what: str
    window: WindowOut
    why: str
    cautions: list[str]


class TryIn(Schema):
    rule: str
    value: float


class MarkIn(Schema):
    """A tree to leave or take, or a basal area to mark down to."""

    flip: str | None = None
    basal_area_ft2_ac: float | None = None


class MarkOut(Schema):
    leave: dict[str, bool]
    leave_trees_ac: float
    residual_ba_ft2_ac: float
    stocking_pct: float
    seed_cover_share: float
    mean_light_pct: float
    in_band_share: float
    sale_bf_ac: float
    sale_usd_ac: float | None
    value_kept_usd_ac: float | None


class RuleOut(Schema):
    name: str
    book: str
    value: float | int | list[str]
    low: float | None
    high: float | None
    unit: str
    status: str
    source: str
    note: str


class RowIn(Schema):
    """One record of a table of the contract, as text by column."""

    row: dict[str, str]


class EnteredOut(Schema):
    entry: int | None
    new: dict[str, int]
    corrected: list[str]


class FormulaIn(Schema):
    given: dict[str, str]


_FAULTS = {400: Fault, 404: Fault, 422: Fault}


@api.exception_handler(OverwoodError)
def _said(request: HttpRequest, fault: Any) -> HttpResponse:
    status = 404 if isinstance(fault, NotFound) else 400
    return api.create_response(request, {"what": Exception.__str__(fault), "remedy": fault.remedy}, status=status)


@api.exception_handler(ValidationError)
def _malformed(request: HttpRequest, fault: Any) -> HttpResponse:
    first = fault.errors[0] if fault.errors else {}
    where = " ".join(str(part) for part in first.get("loc", ()))
    return api.create_response(
        request, {"what": f"{where}: {first.get('msg', 'cannot be read')}", "remedy": "See /api/openapi.json."}, status=422
    )


@api.get("/stands", response=list[StandOut])
def stands(request: HttpRequest) -> Any:
    """Every stand of the book."""
    return session.stands()


@api.get("/stands/{name}/advice", response={200: AdviceOut, **_FAULTS})
def advice(request: HttpRequest, name: str) -> Any:
    """The next step of a stand with its reasons."""
    return answers.advice(name, asking.question(), try_rules=False).to_dict()


@api.get("/stands/{name}/figures", response={200: list[FigureOut], **_FAULTS})
def figures(request: HttpRequest, name: str) -> Any:
    """Every figure of a stand with its error and its origin."""
    return [figure.to_dict() for figure in answers.evidence(name, asking.question()).values()]


@api.get("/stands/{name}/due", response={200: list[DueOut], **_FAULTS})
def due(request: HttpRequest, name: str) -> Any:
    """What is due in a stand."""
    _, entries = answers.judge(name, asking.question())
    return [{**vars(entry), "window": vars(entry.window), "cautions": list(entry.cautions)} for entry in entries]


@api.get("/stands/{name}/counts", response={200: dict[str, Any], **_FAULTS})
def counts(request: HttpRequest, name: str) -> Any:
    """Counts beside each other: visits, people, fences, kept forecasts."""
    found = dataclasses.asdict(futures.monitored(name, asking.question()))
    return json.loads(json.dumps(plain(found), default=str))


@api.post("/stands/{name}/what-if", response={200: AdviceOut, **_FAULTS})
def what_if(request: HttpRequest, name: str, tried: TryIn) -> Any:
    """The advice under one number moved within its range; nothing is kept."""
    ask = asking.question()
    return answers.what_if(name, ask, tried.rule, tried.value).to_dict()


@api.post("/stands/{name}/marking", response={200: MarkOut, **_FAULTS})
def mark(request: HttpRequest, name: str, asked: MarkIn) -> Any:
    """Leave or take a tree, or mark down to a basal area; an empty request only reads the marking on the table."""
    if not marking.has_map(name, asking.question()):
        raise NotFound(f"{name} has no stem map.", remedy="Bring one in with the records.")
    return light.changed(name, flip=asked.flip, basal_area_ft2_ac=asked.basal_area_ft2_ac)


@api.get("/rules", response=list[RuleOut])
def rules(request: HttpRequest) -> Any:
    """Rulebook and assumptions in force."""
    return list(asking.question().rules.entries.values())


@api.get("/formulas", response=list[str])
def formula_names(request: HttpRequest) -> Any:
    """Names of the formula desk."""
    return list(formulas.FORMULAS)


@api.post("/formulas/{name}", response={200: dict[str, Any], **_FAULTS})
def formula(request: HttpRequest, name: str, asked: FormulaIn) -> Any:
    """One formula computed from text keys."""
    return json.loads(json.dumps(plain(formulas.compute(name, asked.given)), default=str))


@api.post("/records/{table}", response={200: EnteredOut, **_FAULTS})
def record(request: HttpRequest, table: str, asked: RowIn) -> Any:
    """Write one record, checked as a file is; the same key corrects the record before."""
    if table not in TABLES:
        raise NotFound(f"there is no table {table!r}.", remedy=f"There are {', '.join(TABLES)}.")
    records.check_may_write(request, table)
    report = importing.enter({table: [asked.row]}, today=dt.date.today(), name=f"typed {table}")
    asking.note(request, records.told(report))
    if report.faults:
        raise Misuse("; ".join(str(fault) for fault in report.faults), remedy="Nothing was written.")
    return {"entry": report.batch, "new": report.new, "corrected": report.corrected}
