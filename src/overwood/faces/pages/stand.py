"""One stand's whole story: the next step first, then what stands here, the floor, the crop, the gates, and what was
done."""

from __future__ import annotations

import uuid
from typing import Any
from urllib.parse import quote

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import answers, photos, tallies
from overwood.desk.answers import Brief, Question
from overwood.faces.pages import asking, coming, drawn, judging
from overwood.faces.papers import owner_brief
from overwood.faces.telling.figures import labels
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.figure import Figure
from overwood.ground.meanings import meanings
from overwood.ground.nearest import nearest
from overwood.ground.sources import cite
from overwood.judgement.course.steps import all_steps

_ROWS_SHOWN = 60
# Stands listed beside a stand's page.
_BESIDE = 14


def brief_of(name: str, ask: Question) -> Brief:
    """Advice, figures, what is due and the tables of a stand, worked out once for the records as they stand."""
    brief: Brief = asking.kept(f"brief {name}", ask, lambda: answers.brief(name, ask))
    return brief


def _answers(_request: HttpRequest, given: dict[str, Any]) -> tuple[str, ...]:
    return (f"brief {given['name']}",)


@coming.at_once("", _answers, "stand")
def page(request: HttpRequest, name: str) -> HttpResponse:
    """The decision first, then what it turns on; all else folds."""
    return render(request, "stand.html", _context(name, asking.question()))


def _context(name: str, ask: Question) -> dict[str, Any]:
    made = brief_of(name, ask)
    file, advised, due = made.file, made.advice, made.due
    return {
        "title": f"{name} {file.stand.name}",
        "form": uuid.uuid4().hex,
        "chosen": advised.step,
        "name": name,
        "file": file,
        "advice": advised,
        "steps": [(step.name, step.title) for step in all_steps().values()],
        "parts": [
            (part, [(key, measures.prose(labels()[key]["label"]), advised.figures[key]) for key in keys])
            for part, keys in _parts(advised.figures).items()
        ],
        "basis": made.basis,
        "set_aside": (*(doubt.words for doubt in made.set_aside), *tallies.waiting_at(name)),
        "due": due,
        "photos": photos.of_stand(file),
        "visits": sorted(file.visits, key=lambda visit: visit.visited_on, reverse=True),
        "work": sorted(file.operations, key=lambda row: row.started_on, reverse=True),
        "decisions": sorted(file.decisions, key=lambda row: row.decided_on, reverse=True),
        "tried": _tried(advised, ask),
        "lead": owner_brief.lead(advised),
        "work_kind": advised.work,
        "gauges": drawn.gauges(advised, ask.rules),
        "course": drawn.course(advised, due, file.operations, file.visits),
        "beside": _beside(name, ask),
        "dots": dots(advised.firm.stays),
    }


def _parts(figures: dict[str, Figure]) -> dict[str, list[str]]:
    """Figures that the page lists, by the part they stand in."""
    parts: dict[str, list[str]] = {}
    for name, row in labels().items():
        if row["part"] and name in figures:
            parts.setdefault(row["part"], []).append(name)
    return parts


def dots(stays: float) -> list[tuple[int, bool]]:
    """Ten dots, each with its place; all ten are full only where every draw stayed."""
    full = 10 if stays == 1 else min(round(10 * stays), 9)
    return [(11 + 23 * place, place < full) for place in range(10)]


def _beside(name: str, ask: Question) -> dict[str, Any]:
    """The stands around this one, each with its step where it is judged by now, and the ones before and after."""
    standing = judging.standing(ask, 0.0)
    names = [stand.stand for stand in standing.stands]
    at = names.index(name) if name in names else 0
    first = max(0, min(at - _BESIDE // 2, len(names) - _BESIDE))
    rows = [
        {"stand": stand, "title": standing.known[stand.stand].advice.title if stand.stand in standing.known else ""}
        for stand in standing.stands[first : first + _BESIDE]
    ]
    return {"rows": rows, "before": names[at - 1] if at else "", "after": names[at + 1] if at + 1 < len(names) else ""}


def _tried(advised: Any, ask: Question) -> list[Any]:
    """The numbers this advice rests on, which the reader may move."""
    names = dict.fromkeys([rule for gate in advised.gates for rule in gate.rules] + list(advised.maturity.rules))
    rules = [ask.rules[name] for name in names if name in ask.rules.entries]
    return [
        rule for rule in rules if not isinstance(rule.value, list) and rule.low is not None and rule.high is not None
    ]


def figure_words(name: str) -> str:
    """What an estimate is called on a page."""
    return measures.prose(labels().get(name, {}).get("label", "")) or meanings().get(name, (name.replace("_", " "),))[0]


@coming.at_once("Why", _answers, "stand")
def why(request: HttpRequest, name: str, figure: str) -> HttpResponse:
    """One figure unfolded: how, from what, which rows, whose equation."""
    ask = asking.question()
    figures = brief_of(name, ask).advice.figures
    if figure not in figures:
        near = nearest(figure, figures)
        raise NotFound(f"there is no figure {figure!r}.", remedy=f"The nearest is {near!r}." if near else "")
    unfolded = figures[figure]
    ids = tuple(dict.fromkeys(row for entry in unfolded.inputs for row in entry.rows))
    words = answers.tally_rows(name, ids[:_ROWS_SHOWN])
    context = {
        "title": f"Why: {figure_words(figure)}",
        "words": figure_words(figure),
        "name": name,
        "figure": unfolded,
        "meaning": meanings().get(figure),
        "sources": [cite(key) for key in unfolded.sources],
        "made_of": [
            (entry.figure, figure_words(entry.figure), figures[entry.figure])
            for entry in unfolded.inputs
            if entry.figure in figures
        ],
        "values": [entry for entry in unfolded.inputs if entry.value is not None and not entry.figure],
        "rows": [words.get(row, row) for row in ids[:_ROWS_SHOWN]],
        "more": max(0, len(ids) - _ROWS_SHOWN),
    }
    return render(request, "why_part.html" if request.headers.get("HX-Request") else "why.html", context)


def _typed(text: str, rule: str, ask: Question) -> float:
    """A limit typed in its metric unit, in the rulebook's own; a number that is not there is refused further on."""
    return measures.back(float(text), ask.rules[rule].unit) if rule in ask.rules.entries else float(text)


@require_POST
def what_if(request: HttpRequest, name: str) -> HttpResponse:
    """The advice under one number moved; nothing is kept."""
    ask = asking.question()
    rule, text = request.POST.get("rule", ""), request.POST.get("value", "")
    try:
        value = _typed(text, rule, ask) if request.POST.get("units") == measures.METRIC else float(text)
    except ValueError:
        raise Misuse(f"{text!r} is no number.", remedy="Give a number.") from None
    now, then = brief_of(name, ask).advice, answers.what_if(name, ask, rule, value)
    entry = ask.rules[rule]
    before = {gate.name: gate.answer for gate in now.gates}
    moved = [(gate, before[gate.name]) for gate in then.gates if gate.answer != before[gate.name]]
    same = then.title == now.title and not moved
    return render(
        request,
        "what_if_part.html" if request.headers.get("HX-Request") else "what_if.html",
        {
            "title": "What if",
            "name": name,
            "rule": entry,
            "value": value,
            "now": now,
            "then": then,
            "moved": moved,
            "same": same,
        },
    )


@require_POST
def decide(request: HttpRequest, name: str) -> HttpResponse:
    """Write a decision down."""
    ask = asking.question()
    step, reason, by = (request.POST.get(key, "").strip() for key in ("step", "reason", "by"))
    try:
        if step not in all_steps():
            raise Misuse("no step was chosen.", remedy="Choose one from the list.")
        answers.decide(name, ask, step=step, reason=reason, by=by, form=request.POST.get("form", ""))
    except Misuse as fault:
        typed = {"chosen": step, "reason": reason, "by": by, "fault": fault}
        return render(request, "stand.html", _context(name, ask) | typed, status=400)
    asking.note(request, f"{name}: {step}, by {by}{f', because {reason}' if reason else ''}")
    return HttpResponseRedirect("../#decisions")


def chart(request: HttpRequest, name: str, which: str) -> HttpResponse:
    """A picture of the stand, the same as in print."""
    from overwood.faces.papers import charts, press

    ask = asking.question()
    made = brief_of(name, ask)
    specs = {"diameters": lambda: charts.diameters(made.classes), "floor": lambda: charts.floor(made.floor)}
    if which not in specs:
        raise NotFound(f"there is no chart {which!r}.")
    return HttpResponse(press.svg(specs[which]()), content_type="image/svg+xml")


def quoted(name: str) -> str:
    """A stand's name as a part of an address."""
    return quote(name, safe="")


def safe(name: str) -> str:
    """A stand's name as a part of a file name."""
    return "".join(c if c.isalnum() or c in "-_" else "-" for c in name)
