"""The rulebook and the assumptions with what an office changed, and the bibliography."""

from __future__ import annotations

from urllib.parse import quote

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.desk import overlay
from overwood.faces.pages import asking
from overwood.ground.meanings import meanings, terms
from overwood.ground.sources import all_sources, cite


def page(request: HttpRequest) -> HttpResponse:
    """Every number of the rulebook and the assumptions; a POST changes one in the office's overlay."""
    if request.method == "POST":
        name, value, note = (request.POST.get(key, "") for key in ("name", "value", "note"))
        change(request, name, value, note)
        return HttpResponseRedirect(f"/rules/?text={quote(name)}")
    ask = asking.question()
    text = request.GET.get("text", "").lower()
    shown = [rule for rule in ask.rules.entries.values() if all(word in f"{rule.name} {rule.note}".lower() for word in text.split())]
    changed = {difference.name: difference.default for difference in ask.rules.differences}
    context = {
        "title": "Rulebook",
        "rules": shown,
        "all": list(ask.rules.entries.values()),
        "changed": changed,
        "text": text,
        "overlay": asking.DESK.overlay,
        "own": asking.DESK.own_rules,
    }
    return render(request, "rules.html", context)


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
        request, "words.html", {"title": "Words", "terms": sorted(terms().items(), key=lambda row: row[0].lower()), "words": figures}
    )


def sources(request: HttpRequest) -> HttpResponse:
    """The bibliography behind every constant."""
    return render(request, "sources.html", {"title": "Sources", "sources": [(key, cite(key)) for key in sorted(all_sources())]})
