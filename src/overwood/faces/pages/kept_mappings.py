"""Kept mappings of foreign headings: listed, shown, mended and forgotten."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.desk import mappings
from overwood.faces.pages import asking
from overwood.ground.errors import Misuse


def page(request: HttpRequest) -> HttpResponse:
    """Every kept mapping."""
    return render(request, "mappings.html", {"title": "Headings that are remembered", "kept": mappings.kept()})


def one(request: HttpRequest, number: int) -> HttpResponse:
    """One kept mapping, to be mended or forgotten."""
    entry = mappings.one(number)
    frame: dict[str, Any] = {}
    status = 200
    if request.method == "POST" and request.POST.get("act") == "forget":
        mappings.forget(number)
        asking.note(request, f"mapping {entry.name} forgotten")
        return HttpResponseRedirect("/import/mappings/")
    if request.method == "POST":
        try:
            entry = _mended(request, entry)
            frame["saved"] = True
            asking.note(request, f"mapping {entry.name} changed")
        except Misuse as fault:
            frame["open"], status = fault, 422
    return render(request, "kept_mapping.html", frame | _shown(entry), status=status)


def _mended(request: HttpRequest, entry: mappings.KeptMapping) -> mappings.KeptMapping:
    columns = {
        heading: request.POST[f"as.{heading}"] for heading in entry.mapping.headings if f"as.{heading}" in request.POST
    }
    in_use = set(columns.values())
    units = _part(request, "in.")
    return mappings.change(
        entry.number,
        columns=columns,
        units={column: unit for column, unit in units.items() if column in in_use and unit},
        codes=_part(request, "code."),
    )


def _part(request: HttpRequest, start: str) -> dict[str, str]:
    return {key.removeprefix(start): str(value).strip() for key, value in request.POST.items() if key.startswith(start)}


def _shown(entry: mappings.KeptMapping) -> dict[str, Any]:
    mapping = entry.mapping
    headings = []
    for heading in mapping.headings:
        column = mapping.columns.get(heading, "")
        units = mappings.units_of(mapping.table, column)
        headings.append({"heading": heading, "column": column, "units": units, "unit": mapping.units.get(column, "")})
    codes = [(column, written, code) for column, known in mapping.codes.items() for written, code in known.items()]
    return {
        "title": entry.name,
        "one": entry,
        "headings": headings,
        "codes": codes,
        "may_be": mappings.columns_of(mapping.table),
    }
