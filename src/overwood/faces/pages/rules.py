"""The rulebook and the assumptions with what an office changed, and the bibliography."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.faces.pages import asking
from overwood.ground.sources import all_sources, cite


def page(request: HttpRequest) -> HttpResponse:
    """Every number of the rulebook and the assumptions."""
    ask = asking.question()
    text = request.GET.get("text", "").lower()
    shown = [rule for rule in ask.rules.entries.values() if all(word in f"{rule.name} {rule.note}".lower() for word in text.split())]
    changed = {difference.name: difference.default for difference in ask.rules.differences}
    context = {"title": "Rulebook", "rules": shown, "changed": changed, "text": text, "overlay": asking.DESK.overlay}
    return render(request, "rules.html", context)


def sources(request: HttpRequest) -> HttpResponse:
    """The bibliography behind every constant."""
    return render(request, "sources.html", {"title": "Sources", "sources": [(key, cite(key)) for key in sorted(all_sources())]})
