"""Records that claim one key and differ: side by side, and which of them stands."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import conflicts
from overwood.faces.pages import asking


def page(request: HttpRequest) -> HttpResponse:
    """Every dispute that waits; a POST lets one record stand."""
    frame: dict[str, Any] = {"title": "Records in dispute"}
    if request.method == "POST":
        row = request.POST.get("record", "")
        table = conflicts.table_of(conflicts.open_conflicts(), row)
        frame["settled"] = conflicts.settle(table, row, because=request.POST.get("because", "").strip())
        asking.note(request, f"{table} {row} settled, ruling {frame['settled']}")
    frame["waiting"] = [
        (one, [(name, [side.values[name] for side in one.sides]) for name in one.differs])
        for one in conflicts.open_conflicts()
    ]
    return render(request, "conflicts.html", frame)
