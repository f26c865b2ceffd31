"""Futures: courses side by side, what drives the answer, counts beside the forecast."""

from __future__ import annotations

import base64
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import answers, futures
from overwood.faces.pages import asking, jobs, stand
from overwood.ground.errors import NotFound
from overwood.judgement.course.steps import caution

_COUNT, _SETS = 2_000, 100


def cautions() -> list[str]:
    """What to mind where courses of treatment are compared."""
    return [caution(name) for name in ("forecast", "herbicide", "burn", "felling", "snags")]


def page(request: HttpRequest, name: str) -> HttpResponse:
    """What the counts say so far, and the door to the simulation."""
    ask = asking.question()
    beside = asking.kept(f"beside {name}", ask, lambda: futures.monitored(name, ask))
    return render(
        request, "futures.html", {"title": f"Futures, {name}", "name": name, "beside": beside, "kept": futures.kept(name), "count": _COUNT}
    )


@require_POST
def run(request: HttpRequest, name: str) -> HttpResponse:
    """Begin the simulation, and show how far it is."""
    job = begin(name, count=_COUNT, sets=_SETS, seed=1)
    return render(request, "job.html", {"job": job, "address": _address(name, job.number), "title": "Futures"})


def begin(name: str, *, count: int, sets: int, seed: int) -> jobs.Job:
    """Begin the simulation of every course over the same futures."""
    ask = asking.question()
    answers.stand_file(name)

    def work(job: jobs.Job) -> Any:
        found, _ = futures.futures(name, ask, count=count, sets=sets, seed=seed, prices=asking.prices(), progress=job.step)
        return found

    return jobs.begin(f"futures of {name}", count, work)


def running(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """How far the simulation is, and its result; a POST stops it."""
    job = jobs.stopped(number) if request.method == "POST" else jobs.of(number)
    if not job.finished.is_set():
        return render(request, "job.html", {"job": job, "address": _address(name, number), "title": "Futures"})
    if job.fault:
        raise NotFound(job.fault)
    from overwood.faces.papers import forecast, press

    outcomes = sorted(job.result.outcomes, key=lambda one: -one.dominant_oaks_ac[1])
    context = {
        "title": "Futures",
        "name": name,
        "found": job.result,
        "outcomes": outcomes,
        "picture": base64.b64encode(press.svg(forecast.chart(job.result)).encode()).decode(),
        "cautions": cautions(),
    }
    return render(request, "futures_done.html", context)


def _address(name: str, number: int) -> str:
    return f"/futures/{stand.quoted(name)}/run/{number}/"
