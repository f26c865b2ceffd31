"""Long work by the API: futures and searches begin, are asked for, and are stopped."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

from django.http import HttpRequest

from overwood.faces.cli.output import plain
from overwood.faces.pages import futures, jobs, light
from overwood.faces.pages.api.reading import FAULTS, router
from overwood.faces.pages.api.shapes import FuturesIn, WorkOut


def _out(job: jobs.Job) -> dict[str, Any]:
    finished = job.finished.is_set()
    return {
        "number": job.number,
        "what": job.what,
        "share_pct": job.share_pct,
        "note": job.note,
        "finished": finished,
        "fault": job.fault,
        "result": _plain(job.result) if finished and job.result is not None else None,
        # Those of the futures hold those of a search.
        "cautions": futures.cautions(),
    }


def _plain(result: Any) -> dict[str, Any]:
    """The parts of a result that JSON carries; maps of light and single futures stay on the server."""
    fields = {field.name: getattr(result, field.name) for field in dataclasses.fields(result)}
    found: dict[str, Any] = json.loads(json.dumps(plain({name: _told(value) for name, value in fields.items()}), default=lambda _: None))
    return found


def _told(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: _told(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, tuple | list):
        return [_told(entry) for entry in value]
    return value


@router.post("/stands/{name}/futures", response={200: WorkOut, **FAULTS})
def run_futures(request: HttpRequest, name: str, asked: FuturesIn) -> Any:
    """Begin the simulation of every course."""
    return _out(futures.begin(name, count=asked.count, sets=asked.sets, seed=asked.seed))


@router.post("/stands/{name}/search", response={200: WorkOut, **FAULTS})
def run_search(request: HttpRequest, name: str) -> Any:
    """Begin the search for the leave trees; its marking comes on the table."""
    return _out(light.begin_search(request, name))


@router.get("/work/{int:number}", response={200: WorkOut, **FAULTS})
def how_far(request: HttpRequest, number: int) -> Any:
    """How far work of yours is, and what came of it."""
    return _out(jobs.of(number))


@router.post("/work/{int:number}/stop", response={200: WorkOut, **FAULTS})
def stop(request: HttpRequest, number: int) -> Any:
    """Stop work of yours; what it has so far comes as its result."""
    return _out(jobs.stopped(number))
