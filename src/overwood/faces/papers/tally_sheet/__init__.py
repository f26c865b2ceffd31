"""Blank tally sheets for each kind of visit of a stand, and the map that goes with them: two pages at most each."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Any

from overwood.desk import codes, foot_sums, legs
from overwood.desk.tally_forms import FORMS, Form
from overwood.faces.papers import press
from overwood.faces.papers.tally_sheet import drawing
from overwood.ground.errors import Misuse
from overwood.ground.records import TABLES
from overwood.ground.species import by_code
from overwood.judgement.course.steps import caution
from overwood.science import survey

# Lines of a sheet of two pages; each row of points at its head takes the place of one. Our own measure of the page.
_LINES, _LETTERS_IN_ROW, _MOST_POINTS = 54, 95, 150
# Labels on two pages: four abreast, eight down, and the words at the head.
_MOST_LABELS = 64
# Points of the map whose legs fit the second page.
_MOST_LEGS = 80
_SHARES_OF_WIDTH = {"species": 2.6, "point": 1.1, "tree": 1.1}


def write(plan: dict[str, Any], kind: str, on: dt.date, target: Path) -> None:
    """Write the blank sheet as PDF; ``plan`` is what the visit needs (``desk.walks.plan``)."""
    press.set_pdf("tally_sheet/tally.typ", content(plan, kind, on), target)


def write_map(plan: dict[str, Any], on: dt.date, target: Path) -> None:
    """Write the map of the stand with its points, and the legs between them, as PDF."""
    press.set_pdf("tally_sheet/map.typ", map_content(plan, on), target)


def write_labels(plan: dict[str, Any], on: dt.date, target: Path, first: int = 1) -> None:
    """Write labels for the stakes of the points as PDF, from the ``first`` on."""
    press.set_pdf("tally_sheet/labels.typ", label_content(plan, on, first), target)


def content(plan: dict[str, Any], kind: str, on: dt.date) -> dict[str, Any]:
    """Everything the template of the sheet prints.

    Raises
    ------
    Misuse
        when the visit has more points than a sheet can list.
    """
    form, visit = FORMS[kind], plan["visits"][0]
    points = [one["point"] for one in visit["points"]] if "point" in form.columns else []
    if len(points) > _MOST_POINTS:
        remedy = "Take a phone, or lay fewer points."
        raise Misuse(f"a sheet lists {_MOST_POINTS} points at most, and this visit has {len(points)}.", remedy=remedy)
    listed = "   ".join(f"\u25a1\u00a0{point}" for point in points)
    rows = math.ceil(len(listed) / _LETTERS_IN_ROW)
    return {
        "title": f"Tally sheet, stand {plan['stand']}: {kind}",
        "subtitle": f"{plan['name']}, printed {on.day} {on:%B %Y}; {form.about}",
        "footer": "Overwood. Sum the foot in the woods, from the sheet; it is typed with the lines.",
        "rings": [_ring(ring) for ring in visit["rings"] if ring.get("layer") == form.layer],
        "species": [f"{by_code(int(code)).common_name} ({code})" for code in plan["species"]],
        "points": listed,
        "choices": _choices(form),
        "columns": [_heading(form, name) for name in form.columns],
        "widths": [_SHARES_OF_WIDTH.get(name, 1.0) for name in form.columns],
        "foot": [_foot_cell(form, name) for name in form.columns],
        "counts": [_count_words(name) for name in foot_sums.names(form) if name in (foot_sums.LINES, foot_sums.PLOTS)],
        "lines": _LINES - rows if form.table else 0,
        "cautions": [caution(name) for name in ("field", "snags")],
    }


def map_content(plan: dict[str, Any], on: dt.date) -> dict[str, Any]:
    """Everything the template of the map prints.

    Raises
    ------
    Misuse
        when the visit has more points than two pages hold.
    """
    ground = legs.ground_map(plan["outline"], plan["visits"][0]["points"])
    if len(ground.legs) > _MOST_LEGS:
        remedy = "Write the points as waypoints with `overwood plots`, or lay fewer."
        raise Misuse(f"the map lists {_MOST_LEGS} points at most, and this visit has {len(ground.legs)}.", remedy=remedy)
    picture, scale = drawing.svg(ground)
    return {
        "title": f"Map, stand {plan['stand']}",
        "subtitle": f"{plan['name']}, printed {on.day} {on:%B %Y}; visit: {plan['visits'][0]['kind']}",
        "footer": "Overwood. Bearings are from true north; set your compass for the declination of the place.",
        "picture": picture,
        "scale": scale,
        "alt": f"Outline of stand {plan['stand']} with {len(ground.legs)} points, north up, and a scale bar of {scale}",
        "legs": [_leg_cells(leg) for leg in ground.legs],
        "unplaced": ", ".join(ground.unplaced),
        "cautions": [caution(name) for name in ("field", "snags")],
    }


def label_content(plan: dict[str, Any], on: dt.date, first: int = 1) -> dict[str, Any]:
    """Everything the template of the labels prints.

    Raises
    ------
    Misuse
        when the visit has no points from there on.
    """
    points = plan["visits"][0]["points"][first - 1 :]
    if not points:
        raise Misuse(f"the visit has no label {first}.", remedy=f"It has {len(plan['visits'][0]['points'])} points.")
    here = points[:_MOST_LABELS]
    return {
        "title": f"Labels, stand {plan['stand']}",
        "subtitle": f"{plan['name']}, printed {on.day} {on:%B %Y}; {len(here)} points. Each code says the stand, the point and its place.",
        "footer": "Overwood. Print on weatherproof stock.",
        "stand": plan["stand"],
        "labels": [_label(plan["stand"], one) for one in here],
        "left": len(points) - len(here),
        "next": first + len(here),
    }


def _label(stand: str, point: dict[str, Any]) -> dict[str, str]:
    placed = point["lon"] is not None and point["lat"] is not None
    place = f"{point['lat']:.6f}, {point['lon']:.6f}" if placed else ""
    words = f"stand {stand}, point {point['point']}"
    return {"point": point["point"], "place": place, "words": words, "code": codes.drawn(f"{words}{f', {place}' if place else ''}")}


def _leg_cells(leg: legs.Leg) -> list[str]:
    way = "" if leg.bearing_deg is None else f"{leg.bearing_deg % 360:.0f}\u00b0"
    far = "" if leg.distance_ft is None else f"{leg.distance_ft:,.0f}"
    return [leg.point, way, far, f"{leg.latitude_deg:.6f}", f"{leg.longitude_deg:.6f}"]


def _ring(ring: dict[str, str]) -> str:
    """A ring in the words of the trade."""
    if ring.get("baf_ft2_ac"):
        size = f"prism of {float(ring['baf_ft2_ac']):g} ft\u00b2/ac"
    elif ring.get("plot_area_ac"):
        area = float(ring["plot_area_ac"])
        size = f"plots of 1/{1 / area:.0f} acre, radius {float(survey.plot_radius_ft(area)):.2f} ft"
    else:
        size = ring.get("design", "")
    low, high = ring.get("low_dbh_in"), ring.get("high_dbh_in")
    bounds = f", {low} in. dbh and more" if low else ""
    return f"{ring['layer'].capitalize()}: {size}{bounds}{f', under {high} in.' if high else ''}."


def _choices(form: Form) -> list[str]:
    columns = TABLES[form.table].columns if form.table else {}
    kinds = {name: columns[name].choices or (("yes", "no") if columns[name].kind == "boolean" else ()) for name in form.columns}
    return [f"{name.replace('_', ' ').capitalize()}: {', '.join(words)}" for name, words in kinds.items() if words]


def _heading(form: Form, name: str) -> str:
    unit = TABLES[form.table].columns[name].unit
    bare = name.removesuffix("_in").removesuffix("_ft").removesuffix("_pct").removesuffix("_yr").replace("_", " ")
    return f"{bare}, {unit}" if unit and unit != bare else bare


def _foot_cell(form: Form, name: str) -> str:
    return "sum" if name in form.summed else ""


def _count_words(name: str) -> str:
    return {foot_sums.LINES: "Lines written on this sheet", foot_sums.PLOTS: "Plots looked at on this sheet, empty ones too"}[name]
