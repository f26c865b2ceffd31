"""Futures: courses side by side, what drives the answer, counts beside the forecast."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import answers, futures, kept
from overwood.desk import work as desk_work
from overwood.desk.answers import Question
from overwood.faces.pages import asking, coming, counted, stand
from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.course.steps import caution
from overwood.judgement.futures.run import Futures, Outcome

_SETS, _QUICK = 100, 400
_RUN = kept.FUTURES

# What a simulation starts from.
_NEEDED = {"cruise": "cruise the stand", "reproduction": "count its reproduction on 30 or more plots"}


def cautions() -> list[str]:
    """What to mind where courses of treatment are compared."""
    return [caution(name) for name in ("forecast", "herbicide", "burn", "felling", "snags")]


_BESIDE = "beside {}"


@coming.at_once("Outcomes and counts", lambda _request, given: (_BESIDE.format(given["name"]),), "futures")
def page(request: HttpRequest, name: str) -> HttpResponse:
    """What the counts say so far, and the door to the simulation."""
    ask = asking.question()
    beside = asking.kept(_BESIDE.format(name), ask, lambda: futures.monitored(name, ask))
    try:
        run_of, unread = kept_run(name), ""
    except kept.Unread as fault:
        run_of, unread = None, str(fault)
    context = {
        "title": f"Futures, {name}",
        "name": name,
        "beside": beside,
        "panels": counted.panels(beside.counts, ask.rules),
        "unread": unread,
        "lacks": _lacks(name, ask),
        "count": futures.LEAST,
        "quick": _QUICK,
        **(_shown(*run_of) if run_of else {}),
    }
    return render(request, "futures.html", context)


def _lacks(name: str, ask: Question) -> str:
    """What a stand must have before its outcomes can be simulated; "" where it has it."""
    file = answers.stand_file(name).as_of(ask.on)
    missing = [words for kind, words in _NEEDED.items() if file.latest(kind) is None]
    return f"Before a simulation: {' and '.join(missing)}." if missing else ""


@require_POST
def run(request: HttpRequest, name: str) -> HttpResponse:
    """Begin the simulation, and show how far it is."""
    work = begin(name, count=_QUICK if request.POST.get("count") else None, sets=_SETS, seed=1)
    return render(request, "job.html", {"job": work, "address": _address(name, work.number), "title": "Futures"})


def begin(name: str, *, count: int | None, sets: int, seed: int) -> desk_work.Work:
    """Begin the simulation of every course over the same futures; without a count, of as many as hold the seed's error
    below a point."""
    answers.stand_file(name)
    asked = {"stand": name, "on": asking.question().on.isoformat(), "count": count, "sets": sets, "seed": seed}
    return desk_work.begin(_RUN, f"futures of {name}", asked, count or futures.LEAST)


def do_run(asked: dict[str, Any], step: desk_work.Step) -> dict[str, Any]:
    """The simulation itself, as a worker does it."""
    if words := futures.compiles_first():
        step(0, words)
    result, _ = futures.futures(
        asked["stand"], asking.question(asked["on"]), count=asked["count"], sets=asked["sets"], seed=asked["seed"],
        prices=asking.prices(),
        progress=lambda done: step(done, ""),
    )  # fmt: skip
    settings = {name: asked[name] for name in ("count", "sets", "seed")}
    return {"answer": kept.keep(result.stand, _RUN, asking.question(asked["on"]), settings, result).number}


def kept_run(name: str) -> tuple[Futures, kept.KeptAnswer] | None:
    """The run of a stand's futures that was kept last."""
    answer = kept.newest(answers.stand_name(name), _RUN)
    return (kept.shaped(answer, Futures), answer) if answer else None


def printable_run(name: str) -> tuple[Futures, kept.KeptAnswer]:
    """The run that a paper may print. Raises NotFound when none was made; Misuse when records have changed since."""
    run_of = kept_run(name)
    if run_of is None:
        raise NotFound(
            f"the outcomes of {name} were not simulated yet.",
            remedy="Simulate them on the tab Outcomes and counts; the paper prints that run.",
        )
    if run_of[1].is_old:
        remedy = "Simulate the outcomes again; the paper never prints a run of other records."
        raise Misuse(f"records have changed since the outcomes of {name} were simulated.", remedy=remedy)
    return run_of


def running(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """How far the simulation is, and its result; a POST stops it."""
    work = desk_work.stop(number) if request.method == "POST" else desk_work.of(number)
    if not work.ended:
        return render(request, "job.html", {"job": work, "address": _address(name, number), "title": "Futures"})
    if work.fault:
        raise NotFound(work.fault)
    run_of = kept_run(name)
    assert run_of is not None
    return render(request, "futures_done.html", {"title": "Futures", "name": name, **_shown(*run_of)})


def _shown(result: Futures, answer: kept.KeptAnswer) -> dict[str, Any]:
    """What the page shows of a run."""
    outcomes = result.by_oak
    return {
        "found": result,
        "answer": answer,
        "outcomes": outcomes,
        "rows": _rows(outcomes),
        "cautions": cautions(),
    }


def _rows(outcomes: tuple[Outcome, ...]) -> list[dict[str, Any]]:
    """The outcomes, best first; courses that come to the very same stand in one row."""
    groups: dict[Any, list[Outcome]] = {}
    for one in outcomes:
        money = None if one.npv_usd_ac is None else round(one.npv_usd_ac[1])
        groups.setdefault(
            (one.oak_stand_chance, one.oak_part_chance, one.dominant_oaks_ac, one.years_to_release, money), []
        ).append(one)
    return [
        {
            "outcome": group[0],
            "same": [other.course.name for other in group[1:]],
            "stand_pct": round(100 * group[0].oak_stand_chance, 1),
            "part_pct": round(100 * group[0].oak_part_chance, 1),
        }
        for group in groups.values()
    ]


def _address(name: str, number: int) -> str:
    return f"/futures/{stand.quoted(name)}/run/{number}/"
