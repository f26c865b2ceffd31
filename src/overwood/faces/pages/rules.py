"""The rulebook and the assumptions with what an office changed, and the bibliography."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.desk import overlay
from overwood.faces.pages import asking, units
from overwood.ground import measures
from overwood.ground.errors import NotFound, OverwoodError
from overwood.ground.meanings import meanings, terms
from overwood.ground.sources import all_sources, cite
from overwood.judgement.rules import Rule


def page(request: HttpRequest) -> HttpResponse:
    """Every number of the rulebook and the assumptions; a POST changes one in the office's overlay."""
    if request.method == "POST":
        name, value, note = (request.POST.get(key, "") for key in ("name", "value", "note"))
        try:
            change(request, name, _in_us(request, name, value), note)
        except OverwoodError as fault:
            typed = {"name": name, "value": value, "note": note}
            return render(
                request,
                "rules.html",
                _context("") | {"typed": typed, "fault": fault},
                status=404 if isinstance(fault, NotFound) else 400,
            )
        return HttpResponseRedirect(f"/rules/?text={quote(name)}")
    return render(request, "rules.html", _context(request.GET.get("text", "").lower()))


def _context(text: str) -> dict[str, Any]:
    ask = asking.question()
    shown = [
        rule
        for rule in ask.rules.entries.values()
        if all(word in f"{rule.name} {rule.words}".lower() for word in text.split())
    ]
    changed = {
        difference.name: _said(ask.rules.entries[difference.name], difference.default)
        for difference in ask.rules.differences
    }
    return {
        "title": "Rulebook",
        "rules": [
            {
                "rule": rule,
                "value": _said(rule, rule.value),
                "range": "" if rule.low is None else f"{_said(rule, rule.low)} to {_said(rule, rule.high)}",
            }
            for rule in shown
        ],
        "all": list(ask.rules.entries.values()),
        "changed": changed,
        "text": text,
        "overlay": asking.DESK.overlay,
        "own": asking.DESK.own_rules,
    }


def _said(rule: Rule, value: Any) -> str:
    """A value of an entry in the units in force; as it stands in the book where its unit has no other."""
    if not measures.is_metric() or isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return measures.limit(float(value), rule.unit) if measures.metric_of(rule.unit) else str(value)


def _in_us(request: HttpRequest, name: str, value: str) -> str:
    """A typed value in the unit of its entry; as it was shown, it is the value that is in force."""
    rule = asking.question().rules.entries.get(name)
    if rule is None or isinstance(rule.value, list | str):
        return value
    held = str(rule.value) if value.strip() == _said(rule, rule.value) else ""
    return held or units.in_us(request.POST, value.strip(), rule.unit)


def change(request: HttpRequest, name: str, value: str, note: str) -> None:
    """Set an own number, or take it back; it is in force at once."""
    before = asking.question().rules.entries.get(name)
    overlay.change(asking.DESK.own_rules, name, value, note)
    asking.DESK.overlay = asking.DESK.own_rules
    was = before.value if before else "?"
    asking.note(request, f"{name} from {was} to {value.strip() or 'the default'}: {note.strip() or 'no reason'}")


def words(request: HttpRequest) -> HttpResponse:
    """What the figures mean."""
    figures = sorted(set(meanings().values()) - {(word, meaning) for word, meaning in terms().items()})
    return render(
        request,
        "words.html",
        {"title": "Words", "terms": sorted(terms().items(), key=lambda row: row[0].lower()), "words": figures},
    )


def sources(request: HttpRequest) -> HttpResponse:
    """The bibliography behind every constant."""
    return render(
        request, "sources.html", {"title": "Sources", "sources": [(key, cite(key)) for key in sorted(all_sources())]}
    )
