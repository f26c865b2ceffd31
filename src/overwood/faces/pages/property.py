"""The property: where every stand lies, what it needs next and when, and what that comes to."""

from __future__ import annotations

import datetime as dt
import math
import tempfile
from pathlib import Path
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import answers
from overwood.faces.pages import asking
from overwood.judgement.course import Advice

# What kind of work a step is; the letter stands on the map beside the colour.
KINDS = {
    "look": ("measure", "count", "settle", "check_acorns", "check_injection"),
    "treat": ("inject", "release_stems"),
    "cut": ("thin", "seed_cut", "release"),
    "wait": ("wait", "leave"),
}
KIND_OF = {step: kind for kind, steps in KINDS.items() for step in steps}
_AHEAD_DAYS = 365
_ORDERS = {
    "stand": lambda row: row.stand,
    "when": lambda row: row.window.start if row.window else dt.date.max,
    "area": lambda row: -(row.area_ac or 0.0),
    "step": lambda row: row.title,
}


def page(request: HttpRequest) -> HttpResponse:
    """The map, the table of stands, and what is due."""
    ask = asking.question()
    found: list[Advice] = asking.kept("property", ask, lambda: answers.property_advice(ask))
    files = asking.kept("files", ask, answers.all_files)
    kind, text, order = (request.GET.get(key, "") for key in ("kind", "text", "order"))
    shown = [row for row in found if _fits(row, kind, text)]
    shown.sort(key=_ORDERS.get(order, _ORDERS["stand"]))
    context = {
        "title": "Property",
        "rows": [{"advice": row, "kind": KIND_OF.get(row.step, "wait")} for row in shown],
        "count": len(found),
        "acres": sum(row.area_ac or 0.0 for row in found),
        "owner": next((file.property for file in files.values() if file.property), None),
        "map": drawn({name: file.stand.boundary_wkt for name, file in files.items()}, {row.stand: row for row in found}),
        "due": asking.kept("due", ask, lambda: answers.due(ask, ask.on + dt.timedelta(days=_AHEAD_DAYS))),
        "sums": _sums(found),
        "kinds": list(KINDS),
        "kind": kind,
        "text": text,
        "order": order,
    }
    template = "property_table.html" if request.headers.get("HX-Request") else "property.html"
    return render(request, template, context)


def _fits(row: Advice, kind: str, text: str) -> bool:
    words = f"{row.stand} {row.name} {row.what_it_is} {row.title} {row.why_in_one_line}".lower()
    return (not kind or KIND_OF.get(row.step, "wait") == kind) and all(word in words for word in text.lower().split())


def _sums(found: list[Advice]) -> list[dict[str, Any]]:
    """Stands and acres of each step."""
    sums: dict[str, dict[str, Any]] = {}
    for row in found:
        entry = sums.setdefault(row.step, {"title": row.title, "stands": 0, "acres": 0.0})
        entry["stands"] += 1
        entry["acres"] += row.area_ac or 0.0
    return sorted(sums.values(), key=lambda entry: -entry["acres"])


def drawn(outlines: dict[str, str], advised: dict[str, Advice]) -> dict[str, Any] | None:
    """The stands as shapes in one plane, north up; None where no outline is noted."""
    import shapely

    shapes = {name: shapely.from_wkt(wkt) for name, wkt in outlines.items() if wkt}
    if not shapes:
        return None
    west, south, east, north = shapely.total_bounds(list(shapes.values()))
    shrink = math.cos(math.radians((south + north) / 2))
    scale = 1000 / max((east - west) * shrink, north - south, 1e-9)

    def ring(points: Any) -> str:
        return "M" + "L".join(f"{(x - west) * shrink * scale:.1f},{(north - y) * scale:.1f}" for x, y in points) + "Z"

    stands = []
    for name, shape in shapes.items():
        parts = list(shape.geoms) if hasattr(shape, "geoms") else [shape]
        middle = shape.representative_point()
        kind = KIND_OF.get(advised[name].step, "wait") if name in advised else "wait"
        stands.append(
            {
                "name": name,
                "path": "".join(ring(part.exterior.coords) + "".join(ring(hole.coords) for hole in part.interiors) for part in parts),
                "x": f"{(middle.x - west) * shrink * scale:.1f}",
                "y": f"{(north - middle.y) * scale:.1f}",
                "kind": kind,
                "title": advised[name].title if name in advised else "",
            }
        )
    width, height = (east - west) * shrink * scale, (north - south) * scale
    return {"stands": stands, "box": f"-20 -20 {width + 40:.0f} {height + 40:.0f}"}


def calendar(request: HttpRequest) -> HttpResponse:
    """What is due as iCalendar."""
    from overwood.desk import calendar as desk

    ask = asking.question()
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "due.ics"
        desk.write(target, answers.due(ask, ask.on + dt.timedelta(days=2 * _AHEAD_DAYS)), ask.on)
        response = HttpResponse(target.read_bytes(), content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="due.ics"'
    return response
