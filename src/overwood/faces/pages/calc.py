"""The formula desk in the browser: every formula by hand."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import formulas
from overwood.ground.errors import Misuse
from overwood.ground.sources import cite


def page(request: HttpRequest) -> HttpResponse:
    """Every formula."""
    return render(request, "calc.html", {"title": "Formula desk", "formulas": formulas.every().values()})


def formula(request: HttpRequest, name: str) -> HttpResponse:
    """One formula: its keys, and its answer once they are given."""
    chosen = formulas.formula(name)
    given = {key: request.GET.get(key, "").strip() for key in chosen.keys}
    context: dict[str, Any] = {
        "title": name,
        "formula": chosen,
        "keys": [(key, spec, given[key]) for key, spec in chosen.keys.items()],
    }
    context["sources"] = [cite(key) for key in chosen.sources]
    if any(given.values()):
        try:
            answer = formulas.compute(name, {key: value for key, value in given.items() if value})
            context["values"] = [(key, value, answer.units.get(key, "")) for key, value in answer.values.items()]
            context["notes"] = answer.notes
        except Misuse as fault:
            context["fault"] = str(fault)
    return render(request, "formula.html", context, status=400 if "fault" in context else 200)
