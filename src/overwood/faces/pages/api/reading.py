"""What the API tells: stands, advice, figures, light, fire, money, counts, rules, records; and what is tried without
being kept."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import Query, Router

from overwood.desk import (
    answers,
    burn_table,
    conflicts,
    entering,
    fire,
    formulas,
    futures,
    importing,
    marking,
    office,
    outlines,
    session,
    timber,
)
from overwood.desk import light as light_desk
from overwood.desk.conflicts import Dispute
from overwood.desk.fire import Burn
from overwood.desk.formulas.keys import Computed
from overwood.desk.futures import Monitored
from overwood.desk.light import FloorLight
from overwood.desk.marking_table import Sums
from overwood.desk.outlines import Outline, Proposal
from overwood.desk.timber import StandTimber
from overwood.faces.pages import asking, judging, light, papers, property, records
from overwood.faces.pages.api.shapes import (
    DrawingIn,
    EntryOut,
    Fault,
    FormulaIn,
    MarkIn,
    PaperOut,
    RecordOut,
    RuleOut,
    StandOut,
    TraceOut,
    TryIn,
    VersionOut,
    WaitingOut,
)
from overwood.faces.telling import list_of, plain, shape, with_cautions
from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import TABLES
from overwood.ground.sources import all_sources, cite
from overwood.judgement.course import Advice
from overwood.judgement.course.due import Due
from overwood.judgement.course.steps import caution
from overwood.judgement.injection import Order
from overwood.judgement.money.choices import Choices

# One router for every file of the API: two operations of one address must stand on the same.
router = Router()
FAULTS = {400: Fault, 404: Fault, 422: Fault}
_MOST_ROWS = 1_000


@router.get("/stands", response=list[StandOut])
def stands(request: HttpRequest) -> Any:
    """Every stand of the book."""
    return session.stands()


@router.get("/due", response={200: list_of(Due), **FAULTS})
def due_everywhere(request: HttpRequest, days: int = Query(365, ge=1, le=3_660)) -> Any:
    """What is due within some days, over all stands, in the order of the calendar; waits until every stand is
    judged."""
    ask = asking.question()
    return plain(property.due(judging.whole(ask), ask.on, days))


@router.get("/stands/{name}/advice", response={200: shape(Advice), **FAULTS})
def advice(request: HttpRequest, name: str) -> Any:
    """The next step of a stand with its reasons."""
    return plain(answers.advice(name, asking.question()))


@router.get("/stands/{name}/figures", response={200: list_of(Figure), **FAULTS})
def figures(request: HttpRequest, name: str) -> Any:
    """Every figure of a stand with its error and its origin."""
    return plain(list(answers.evidence(name, asking.question()).values()))


@router.get("/stands/{name}/due", response={200: list_of(Due), **FAULTS})
def due(request: HttpRequest, name: str) -> Any:
    """What is due in a stand."""
    _, entries = answers.judge(name, asking.question())
    return plain(entries)


@router.get("/stands/{name}/counts", response={200: shape(Monitored), **FAULTS})
def counts(request: HttpRequest, name: str) -> Any:
    """Counts beside each other: visits, people, fences, kept forecasts."""
    return plain(futures.monitored(name, asking.question()))


@router.get("/stands/{name}/light", response={200: shape(FloorLight), **FAULTS})
def floor_light(request: HttpRequest, name: str) -> Any:
    """Light on the floor."""
    return plain(light_desk.light(name, asking.question()))


@router.get("/stands/{name}/injection", response={200: with_cautions(Order), **FAULTS})
def injection(request: HttpRequest, name: str) -> Any:
    """The order for the injection of the midstory."""
    answer = fire.injection_answer(name, asking.question(), product=fire.product_on_table(name))
    return plain(answer.answer) | {"cautions": list(fire.injection_cautions())}


@router.get("/stands/{name}/burn", response={200: with_cautions(Burn), **FAULTS})
def burn(request: HttpRequest, name: str) -> Any:
    """Gates and card of a burn, with the days that were counted by the weather file on its table."""
    ask = asking.question()
    if lying := burn_table.kept_on_table(name, ask):
        return lying.result | {"cautions": list(fire.cautions())}
    answer = burn_table.answer_of(name, ask, weather=None, law=asking.law(), prices=asking.prices())
    return plain(answer.answer) | {"cautions": list(fire.cautions())}


@router.get("/stands/{name}/timber", response={200: with_cautions(StandTimber), **FAULTS})
def volumes(request: HttpRequest, name: str) -> Any:
    """Volume by species, product and grade; with a price list its value."""
    return plain(timber.timber(name, asking.question(), asking.prices(), "")) | {"cautions": [caution("money")]}


@router.get("/stands/{name}/choices", response={200: with_cautions(Choices), **FAULTS})
def choices(request: HttpRequest, name: str) -> Any:
    """What each choice pays; needs the price list the server was started with."""
    listed = asking.prices()
    if listed is None:
        raise NotFound("choices in money need your price list.", remedy="Start the server with --prices FILE.")
    return plain(timber.choices_answer(name, asking.question(), listed).answer) | {"cautions": [caution("money")]}


@router.get("/stands/{name}/papers", response={200: list[PaperOut], **FAULTS})
def kept_papers(request: HttpRequest, name: str) -> Any:
    """Papers that were kept, the newest first."""
    answers.stand_file(name)
    return session.kept_papers(name)


@router.get("/stands/{name}/papers/{which}.pdf", response=FAULTS)
def paper(request: HttpRequest, name: str, which: str) -> Any:
    """A paper as PDF from the records as they stand; or, by its number, one that was kept."""
    if which.isdecimal():
        return papers.kept(request, name, int(which))
    return papers.paper(request, name, which)


@router.post("/stands/{name}/what-if", response={200: shape(Advice), **FAULTS})
def what_if(request: HttpRequest, name: str, tried: TryIn) -> Any:
    """The advice under one number moved within its range; nothing is kept."""
    ask = asking.question()
    return plain(answers.what_if(name, ask, tried.rule, tried.value))


@router.post("/stands/{name}/marking", response={200: with_cautions(Sums, leave=dict[str, bool]), **FAULTS})
def mark(request: HttpRequest, name: str, asked: MarkIn) -> Any:
    """Leave or take a tree, or mark down to a basal area; an empty request only reads the marking on the table."""
    if not marking.has_map(name, asking.question()):
        raise NotFound(f"{name} has no stem map.", remedy="Bring one in with the records.")
    return light.changed(name, flip=asked.flip, basal_area_ft2_ac=asked.basal_area_ft2_ac) | {
        "cautions": light.cautions()
    }


@router.get("/rules", response=list[RuleOut])
def rules(request: HttpRequest) -> Any:
    """Rulebook and assumptions in force."""
    return list(asking.question().rules.entries.values())


@router.get("/sources", response=dict[str, str])
def sources(request: HttpRequest) -> Any:
    """The bibliography behind every constant, by key."""
    return {key: cite(key) for key in sorted(all_sources())}


@router.get("/formulas", response=list[str])
def formula_names(request: HttpRequest) -> Any:
    """Names of the formula desk."""
    return list(formulas.every())


@router.post("/formulas/{name}", response={200: shape(Computed), **FAULTS})
def formula(request: HttpRequest, name: str, asked: FormulaIn) -> Any:
    """One formula computed from text keys."""
    return plain(formulas.compute(name, asked.given))


@router.get("/records/{table}", response={200: list[RecordOut], **FAULTS})
def table_rows(request: HttpRequest, table: str, text: str = "", most: int = Query(100, ge=1, le=_MOST_ROWS)) -> Any:
    """Records of a table, the newest first; ``text`` is looked for in their keys."""
    records.known_table(table)
    return [{"id": row.id, "row": entering.as_text(row)} for row in session.newest_records(table, text, most)]


@router.get("/records/{table}/{row}", response={200: list[VersionOut], **FAULTS})
def versions(request: HttpRequest, table: str, row: str) -> Any:
    """A record and those it replaced, the newest first."""
    records.known_table(table)
    return [
        {
            "entry": one["batch_id"],
            "entered_at": one["batch__entered_at"],
            "entered_by": one["batch__entered_by"],
            "undone": one["batch__withdrawn_at"] is not None,
            "row": {name: entering.typed(one[name]) for name in TABLES[table].columns},
        }
        for one in records.versions(table, row)
    ]


@router.get("/conflicts", response=list_of(Dispute))
def open_conflicts(request: HttpRequest) -> Any:
    """Records that claim one key and differ, side by side; no figure uses them."""
    return plain(conflicts.open_conflicts())


@router.get("/import/waiting", response=list[WaitingOut])
def waiting(request: HttpRequest) -> Any:
    """Files that wait with their faults."""
    return [row | {"problems": len(row["problems"])} for row in importing.quarantine()]


@router.get("/import/entries", response=list[EntryOut])
def entries(request: HttpRequest) -> Any:
    """What came in, the newest first."""
    return session.entries()


@router.get("/outlines", response={200: list_of(Outline), **FAULTS})
def drawn(request: HttpRequest) -> Any:
    """Outlines of the stands as GeoJSON, with their area on the ellipsoid."""
    return plain(outlines.outlines())


@router.post("/outlines/check", response={200: shape(Proposal), **FAULTS})
def check_outline(request: HttpRequest, drawing: DrawingIn) -> Any:
    """What a drawing comes to; nothing is kept."""
    return plain(outlines.propose(outlines.Drawing(**drawing.dict())))


@router.get("/audit", response={200: list[TraceOut], **FAULTS})
def audit(request: HttpRequest, text: str = "") -> HttpResponse | Any:
    """Who changed what, the newest first: an office's only."""
    return office.traces(text)
