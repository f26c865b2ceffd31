"""The property: where every stand lies, what it needs next and when, and what that comes to."""

from __future__ import annotations

import datetime as dt
import math
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from overwood.desk import session
from overwood.desk.judging import calendar_of
from overwood.faces.pages import asking, drawn, judging
from overwood.ground import measures
from overwood.ground.errors import NotFound
from overwood.ground.records import Stand
from overwood.ground.units import FT_PER_M
from overwood.judgement.course import Advice
from overwood.judgement.course.due import Due
from overwood.judgement.course.steps import all_steps

# Kinds of work; the letter stands on the map beside the colour.
KINDS = ("look", "treat", "cut", "wait")
_AHEAD_DAYS = 365
# Length of a degree north to the eye's accuracy: a ninetieth of the earth's quarter of 10,000 km, and a little.
_M_PER_DEGREE = 111_200
# What begins within so many days is next, all else later.
_SOON_DAYS = 120
# Where the kind of work is written under a stand's name on the map, how high both are, and one alone, in units of it.
_KIND_DY, _LABEL_HIGH, _KIND_HIGH = 36, 84, 30
_ORDERS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "stand": lambda row: row["stand"].stand,
    "when": lambda row: row["advice"].window.start if row["advice"] and row["advice"].window else dt.date.max,
    "area": lambda row: -(row["stand"].area_ac or 0.0),
    "step": lambda row: row["advice"].title if row["advice"] else "~",
}


def page(request: HttpRequest) -> HttpResponse:
    """The map, the table of stands, and what is due."""
    ask = asking.question()
    if request.GET.get("go"):
        judging.go_on()
    standing = judging.standing(ask, judging.WAIT_S)
    rows = [
        _row(stand, standing.known.get(stand.stand), standing.faults.get(stand.stand, "")) for stand in standing.stands
    ]
    kind, text, order = (request.GET.get(key, "") for key in ("kind", "text", "order"))
    shown = [row for row in rows if _fits(row, kind, text)]
    shown.sort(key=_ORDERS.get(order, _ORDERS["stand"]))
    known = [row["advice"] for row in rows if row["advice"]]
    coming = due(standing, ask.on, _AHEAD_DAYS)
    context = {
        "title": "Property",
        "rows": shown,
        "count": len(rows),
        "left": standing.left,
        "stopped": standing.is_stopped,
        "acres": sum(stand.area_ac or 0.0 for stand in standing.stands),
        "owner": session.owner(),
        "map": _map(standing.stands, {row.stand: row for row in known}),
        "seasons": seasons(coming, {stand.stand: stand.name or stand.stand for stand in standing.stands}, ask.on),
        "years": (ask.on.year, ask.on.year + drawn.STRIP_YEARS),
        "sums": _sums(known),
        "kinds": list(KINDS),
        "kind": kind,
        "text": text,
        "order": order,
        "again": request.get_full_path(),
        "backgrounds": len(asking.DESK.backgrounds),
    }
    table = request.headers.get("HX-Request") and request.headers.get("HX-Target", "").endswith("stands")
    return render(request, "property_table.html" if table else "property.html", context)


def _row(stand: Stand, judged: judging.Judged | None, fault: str) -> dict[str, Any]:
    row: dict[str, Any] = {"stand": stand, "advice": None, "fault": fault, "kind": ""}
    if judged:
        advice = judged.advice
        sign = "open-sign" if not advice.firm.is_known else "good-sign" if advice.firm.is_firm else "doubt-sign"
        row |= {"advice": advice, "kind": advice.work, "firm_sign": sign}

    def html() -> str:
        strip = drawn.strip(judged.advice, judged.due) if judged else None
        return render_to_string("property_row.html", {"row": row | {"strip": strip}})

    # A page of many stands draws only what changed.
    row["html"] = asking.DESK.drawn.once(f"row {stand.stand}", (stand, judged, fault, measures.is_metric()), html)
    return row


def _map(stands: tuple[Stand, ...], advised: dict[str, Advice]) -> dict[str, Any] | None:
    """The box of the map, and its stands as they are drawn; None where no outline is noted."""
    outlines = {stand.stand: stand.boundary_wkt for stand in stands}
    ground = plane(outlines)
    if ground is None:
        return None
    of = tuple(
        (name, wkt, *((advised[name].work, advised[name].title) if name in advised else ()))
        for name, wkt in outlines.items()
    )

    def html() -> str:
        return render_to_string("property_map.html", {"map": shapes_of(outlines, advised)})

    return {"box": ground.box, "html": asking.DESK.drawn.once("map", of, html)}


@dataclass(frozen=True)
class Season:
    """A card of what is due: the same work on several stands is one line."""

    heading: str
    lines: tuple[SeasonLine, ...]


@dataclass(frozen=True)
class SeasonLine:
    """One kind of work in one season, the stands it is due on, and the fewest open days of them."""

    what: str
    when: str
    stands: tuple[dict[str, str], ...]
    days_left: int | None


def seasons(coming: list[Due], names: dict[str, str], on: dt.date) -> tuple[Season, ...]:
    """What is due within a year as three cards: open now, next, later."""
    soon = on + dt.timedelta(days=_SOON_DAYS)
    parts = (
        ("Open now", [one for one in coming if one.window.start <= on]),
        (f"Next, until {soon:%B}", [one for one in coming if on < one.window.start <= soon]),
        ("Later within a year", [one for one in coming if one.window.start > soon]),
    )
    return tuple(Season(heading, _season_lines(entries, names)) for heading, entries in parts)


def _season_lines(dues: list[Due], names: dict[str, str]) -> tuple[SeasonLine, ...]:
    groups: dict[tuple[str, str], list[Due]] = {}
    for one in dues:
        groups.setdefault((one.what, str(one.window)), []).append(one)
    return tuple(
        SeasonLine(
            what=what,
            when=when,
            stands=tuple({"stand": one.stand, "name": names.get(one.stand, one.stand)} for one in group),
            days_left=min((one.days_left for one in group if one.days_left is not None), default=None),
        )
        for (what, when), group in groups.items()
    )


def _fits(row: dict[str, Any], kind: str, text: str) -> bool:
    stand, advice = row["stand"], row["advice"]
    words = f"{stand.stand} {stand.name}"
    if advice:
        words += f" {advice.what_it_is} {advice.title} {advice.why_in_one_line}"
    return (not kind or row["kind"] == kind) and all(word in words.lower() for word in text.lower().split())


def due(standing: judging.Standing, on: dt.date, days: int) -> list[Due]:
    """What is due within some days over the stands judged by now, in the order of the calendar."""
    return calendar_of(standing.of_property, on, on + dt.timedelta(days=days))


def _sums(advices: list[Advice]) -> list[dict[str, Any]]:
    """Stands, acres that are treated and, with a price list, the cost of each step."""
    listed = asking.prices()
    costs = listed.costs if listed else {}
    sums: dict[str, dict[str, Any]] = {}
    for row in advices:
        step = all_steps()[row.step]
        # One step has one line, without the numbers of any single stand; a cut in doubt is no cost yet.
        title = step.title_in_doubt if row.cut_in_doubt else step.title
        entry = sums.setdefault(title, {"title": title, "stands": 0, "acres": 0.0, "cost": None})
        entry["stands"] += 1
        entry["acres"] += row.treated_ac or 0.0
        each = None if row.cut_in_doubt else costs.get(step.cost)
        if each is not None:
            entry["cost"] = (entry["cost"] or 0.0) + each * (row.treated_ac or 0.0)
    return sorted(sums.values(), key=lambda entry: -entry["acres"])


@dataclass(frozen=True)
class Plane:
    """A map plane, north up: a thousand units across the longer side of what is drawn."""

    west: float
    south: float
    east: float
    north: float

    @property
    def shrink(self) -> float:
        """Length of a degree east over that of a degree north."""
        return math.cos(math.radians((self.south + self.north) / 2))

    @property
    def scale(self) -> float:
        """Units of a degree north."""
        return 1000 / max((self.east - self.west) * self.shrink, self.north - self.south, 1e-9)

    @property
    def box(self) -> str:
        """The view of the drawing, with a rim."""
        width, height = (self.east - self.west) * self.shrink * self.scale, (self.north - self.south) * self.scale
        return f"-20 -20 {width + 40:.0f} {height + 40:.0f}"

    def at(self, longitude_deg: float, latitude_deg: float) -> tuple[float, float]:
        """Where a place lies."""
        return (longitude_deg - self.west) * self.shrink * self.scale, (self.north - latitude_deg) * self.scale

    def length(self, feet: float) -> float:
        """How long a length on the ground is, to the eye's accuracy."""
        return feet / FT_PER_M / _M_PER_DEGREE * self.scale


def plane(outlines: dict[str, str]) -> Plane | None:
    """The plane in which outlines are drawn; None where none is noted."""
    import shapely

    shapes = [shapely.from_wkt(wkt) for wkt in outlines.values() if wkt]
    return Plane(*(float(end) for end in shapely.total_bounds(shapes))) if shapes else None


def _kind_below(ground: Plane, shape: Any, y: float) -> float:
    """How far under its name a stand's kind is written: in its shape, or beneath (above, at the rim) one too low."""
    _, south, _, north = shape.bounds
    top, foot = ground.at(0.0, north)[1], ground.at(0.0, south)[1]
    if foot - top >= _LABEL_HIGH:
        return _KIND_DY
    lowest = ground.at(0.0, ground.south)[1]
    return foot - y + _KIND_HIGH if foot + _KIND_HIGH <= lowest else top - y - _KIND_HIGH / 3


def shapes_of(outlines: dict[str, str], advised: dict[str, Advice]) -> dict[str, Any] | None:
    """The stands as shapes in one plane, north up; None where no outline is noted."""
    import shapely

    ground = plane(outlines)
    if ground is None:
        return None

    def ring(points: Any) -> str:
        return "M" + "L".join("{:.1f},{:.1f}".format(*ground.at(x, y)) for x, y in points) + "Z"

    stands = []
    for name, shape in ((name, shapely.from_wkt(wkt)) for name, wkt in outlines.items() if wkt):
        parts = list(shape.geoms) if hasattr(shape, "geoms") else [shape]
        middle = shape.representative_point()
        x, y = ground.at(middle.x, middle.y)
        stands.append(
            {
                "name": name,
                "path": "".join(
                    ring(part.exterior.coords) + "".join(ring(hole.coords) for hole in part.interiors) for part in parts
                ),
                "x": f"{x:.1f}",
                "y": f"{y:.1f}",
                "kind_dy": f"{_kind_below(ground, shape, y):.0f}",
                "kind": advised[name].work if name in advised else "unknown",
                "title": advised[name].title if name in advised else "",
            }
        )
    return {"stands": stands, "box": ground.box}


def table(request: HttpRequest) -> HttpResponse:
    """All stands on one sheet, as PDF; waits until every stand is judged."""
    from overwood.faces.papers import stand_table

    standing = judging.whole(asking.question())
    advised = [judged.advice for _, judged in sorted(standing.known.items())]
    if not advised:
        raise NotFound("no stand is judged yet.", remedy="Bring records in first.")
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "stands.pdf"
        stand_table.write(advised, target, not_judged=sorted(standing.faults))
        response = HttpResponse(target.read_bytes(), content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="stands.pdf"'
    return response


def calendar(request: HttpRequest) -> HttpResponse:
    """What is due as iCalendar."""
    from overwood.desk import calendar as desk

    ask = asking.question()
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "due.ics"
        # What the pages judge already is not judged again for the calendar.
        desk.write(target, due(judging.whole(ask), ask.on, 2 * _AHEAD_DAYS), ask.on)
        response = HttpResponse(target.read_bytes(), content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="due.ics"'
    return response
