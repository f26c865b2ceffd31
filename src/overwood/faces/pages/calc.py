"""The formula desk in the browser: every formula by hand."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import formulas
from overwood.desk.formulas.keys import Computed
from overwood.faces.pages import fields, units
from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.ground.sources import cite

# Keys whose names say a US unit in a way of their own.
_WITHOUT_UNIT = {
    "inches_per_cut": "dbh per cut",
    "midflame_wind_mph": "midflame wind",
    "plots_per_acre": "plots",
}


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
        "keys": [(key, _label(key, spec.unit), spec, given[key]) for key, spec in chosen.keys.items()],
    }
    context["sources"] = [cite(key) for key in chosen.sources]
    if any(given.values()):
        asked = {key: _in_us(request, text, chosen.keys[key].unit) for key, text in given.items() if text}
        try:
            answer = formulas.compute(name, asked)
            context["values"] = _values(answer)
            context["notes"] = answer.notes
        except Misuse as fault:
            context["fault"] = _as_typed(str(fault), asked, given)
    return render(request, "formula.html", context, status=400 if "fault" in context else 200)


def _values(answer: Computed) -> list[tuple[str, Any, str]]:
    """Each value with its unit, in the units in force; one whose unit is a value itself has it beside it."""
    values = dict(answer.values)
    own = {key: str(values.pop("unit")) for key, unit in answer.units.items() if unit.endswith("as unit says")}
    return [_said(key, value, own.get(key, answer.units.get(key, ""))) for key, value in values.items()]


def _label(key: str, unit: str) -> str:
    """The name of a key or a value; without its unit where that is turned."""
    if not measures.is_metric() or not measures.metric_of(unit):
        return key
    return _WITHOUT_UNIT.get(key, fields.bare(key))


def _in_us(request: HttpRequest, text: str, unit: str) -> str:
    """A number or a list of them, as typed, in the units of the formula."""
    return ",".join(units.in_us(request.GET, part.strip(), unit) for part in text.split(","))


def _said(key: str, value: Any, unit: str) -> tuple[str, Any, str]:
    """A value with its unit, in the units in force."""
    if measures.is_metric() and isinstance(value, int | float) and measures.metric_of(unit):
        value = f"{measures.convert(value, unit):.6g}"
    return _label(key, unit), value, measures.unit_word(unit)


def _as_typed(fault: str, asked: dict[str, str], given: dict[str, str]) -> str:
    """A fault that names a value as it was typed."""
    for key, text in asked.items():
        fault = fault.replace(f"{key}={text}", f"{key}={given[key]}")
    return fault
