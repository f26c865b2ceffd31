"""Long work by the API: futures and searches begin, are asked for, and are stopped."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from overwood.desk import kept
from overwood.desk import work as desk_work
from overwood.faces.pages import futures, light, plan
from overwood.faces.pages.api.reading import FAULTS, router
from overwood.faces.pages.api.shapes import FuturesIn, PlanIn, WorkOut
from overwood.faces.telling import plain, shape
from overwood.judgement.plan.answer import Plan


def _out(work: desk_work.Work) -> dict[str, Any]:
    made = work.result or {}
    return {
        "number": work.number,
        "what": work.title,
        "share_pct": work.share_pct,
        "note": work.note,
        "finished": work.ended,
        "fault": work.fault,
        "result": kept.of(made["answer"]).result if "answer" in made else work.result,
        # Those of the futures hold those of a search.
        "cautions": futures.cautions(),
    }


@router.post("/stands/{name}/futures", response={200: WorkOut, **FAULTS})
def run_futures(request: HttpRequest, name: str, asked: FuturesIn) -> Any:
    """Begin the simulation of every course."""
    return _out(futures.begin(name, count=asked.count, sets=asked.sets, seed=asked.seed))


@router.post("/stands/{name}/search", response={200: WorkOut, **FAULTS})
def run_search(request: HttpRequest, name: str) -> Any:
    """Begin the search for the leave trees; its marking comes on the table."""
    return _out(light.begin_search(name))


@router.get("/plan", response={200: shape(Plan), **FAULTS})
def kept_plan(request: HttpRequest) -> Any:
    """The plan of the property kept last."""
    newest = plan.newest()
    return plain(newest[0])


@router.post("/plan", response={200: WorkOut, **FAULTS})
def run_plan(request: HttpRequest, asked: PlanIn) -> Any:
    """Begin a plan of the property under the limits of a file of limits; it is kept as the property's."""
    return _out(plan.begin(asked.limits))


@router.get("/work/{int:number}", response={200: WorkOut, **FAULTS})
def how_far(request: HttpRequest, number: int) -> Any:
    """How far work of yours is, and what came of it."""
    return _out(desk_work.of(number))


@router.post("/work/{int:number}/stop", response={200: WorkOut, **FAULTS})
def stop(request: HttpRequest, number: int) -> Any:
    """Stop work of yours; what it has so far comes as its result."""
    return _out(desk_work.stop(number))
