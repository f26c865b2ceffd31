"""Blank tally sheets for each kind of visit of a stand, and the map that goes with them: two pages at most each."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Any

from overwood.desk import codes, foot_sums, legs
from overwood.desk.tally_forms import FORMS, Form
from overwood.faces.papers import language, press
from overwood.faces.papers.language import ENGLISH, Part, Text, Words
from overwood.faces.papers.tally_sheet import drawing
from overwood.ground import measures, tick_sheet
from overwood.ground.errors import Misuse
from overwood.ground.records import TABLES
from overwood.ground.species import by_code
from overwood.ground.tick_sheet import TickSheet
from overwood.ground.vocabulary import HEIGHT_CLASSES, as_written
from overwood.science import survey

# Lines of a sheet of two pages; each row of points at its head takes the place of one. Our own measure of the page.
_LINES, _LINES_BESIDE, _LETTERS_IN_ROW, _MOST_POINTS = 54, 48, 95, 150
# Labels on two pages: four abreast, eight down, and the words at the head.
_MOST_LABELS = 64
# Points of the map whose legs fit the second page.
_MOST_LEGS = 80
# Species and sheets of boxes of one PDF.
_MOST_SPECIES, _MOST_SHEETS = 6, 2
_SHARES_OF_WIDTH = {"species": 2.6, "point": 1.1, "tree": 1.1}


def write(plan: dict[str, Any], kind: str, on: dt.date, target: Path, tongue: str = ENGLISH) -> None:
    """Write the blank sheet as PDF; ``plan`` is what the visit needs (``desk.walks.plan``)."""
    press.set_pdf("tally_sheet/tally.typ", content(plan, kind, on, tongue), target)


def write_map(plan: dict[str, Any], on: dt.date, target: Path, tongue: str = ENGLISH) -> None:
    """Write the map of the stand with its points, and the legs between them, as PDF."""
    press.set_pdf("tally_sheet/map.typ", map_content(plan, on, tongue), target)


def write_labels(plan: dict[str, Any], on: dt.date, target: Path, first: int = 1, tongue: str = ENGLISH) -> None:
    """Write labels for the stakes of the points as PDF, from the ``first`` on."""
    press.set_pdf("tally_sheet/labels.typ", label_content(plan, on, first, tongue), target)


def write_ticks(plan: dict[str, Any], on: dt.date, target: Path, first: int = 1, tongue: str = ENGLISH) -> None:
    """Write sheets of boxes for a count of young stems as PDF, from the ``first`` plot on."""
    press.set_pdf("tally_sheet/ticks.typ", tick_content(plan, on, first, tongue), target)


def content(plan: dict[str, Any], kind: str, on: dt.date, tongue: str = ENGLISH) -> dict[str, Any]:
    """Everything the template of the sheet prints. Raises Misuse when the visit has more points than a sheet can
    list."""
    words = language.words("tally_sheet", tongue)
    form, visit = FORMS[kind], plan["visits"][0]
    points = [one["point"] for one in visit["points"]] if "point" in form.columns else []
    if len(points) > _MOST_POINTS:
        remedy = "Take a phone, or lay fewer points."
        raise Misuse(f"a sheet lists {_MOST_POINTS} points at most, and this visit has {len(points)}.", remedy=remedy)
    listed = "   ".join(f"\u25a1\u00a0{point}" for point in points)
    # A sheet in two languages has a taller head: fewer lines keep it to two pages.
    lines = (_LINES if tongue == ENGLISH else _LINES_BESIDE) - math.ceil(len(listed) / _LETTERS_IN_ROW)
    named = words.named("kinds", kind)
    return words.frame(
        title=language.one_line(words.text("title", stand=plan["stand"], kind=named)),
        heading=words.text("title", stand=plan["stand"], kind=named),
        subtitle=words.text("subtitle", name=plan["name"], day=on, about=words.named("about", kind, form.about)),
        day=words.text("day"),
        seen_by=words.text("seen_by"),
        sheet=words.text("sheet"),
        rings=[_ring(ring, words) for ring in visit["rings"] if ring.get("layer") == form.layer],
        species=[words.text("species", names=_species(plan["species"]))] if plan["species"] else [],
        points_head=words.text("points"),
        points=listed,
        choices=_choices(form, tongue),
        columns=[_column(form, name, words) for name in form.columns],
        widths=[_SHARES_OF_WIDTH.get(name, 1.0) for name in form.columns],
        foot_word=words.text("foot"),
        foot=[words.text("sum") if name in form.summed else "" for name in form.columns],
        counts=[words.text(name) for name in foot_sums.names(form) if name in (foot_sums.LINES, foot_sums.PLOTS)],
        lines=lines if form.table else 0,
        cautions=[words.caution(name) for name in ("field", "snags")],
    )


def _species(codes: list[str]) -> str:
    return ", ".join(f"{by_code(int(code)).common_name} ({code})" for code in codes)


def map_content(plan: dict[str, Any], on: dt.date, tongue: str = ENGLISH) -> dict[str, Any]:
    """Everything the template of the map prints. Raises Misuse when the visit has more points than two pages hold."""
    words = language.words("tally_sheet", tongue)
    ground = legs.ground_map(plan["outline"], plan["visits"][0]["points"])
    if len(ground.legs) > _MOST_LEGS:
        remedy = "Write the points as waypoints with `overwood plots`, or lay fewer."
        raise Misuse(
            f"the map lists {_MOST_LEGS} points at most, and this visit has {len(ground.legs)}.", remedy=remedy
        )
    picture, scale = drawing.svg(ground)
    named = words.named("kinds", plan["visits"][0]["kind"])
    return words.frame(
        title=words.line("title_map", stand=plan["stand"]),
        heading=words.text("title_map", stand=plan["stand"]),
        subtitle=words.text("subtitle_map", name=plan["name"], day=on, kind=named),
        footer=words.foot("footer_map"),
        picture=picture,
        bar=words.text("bar", scale=scale),
        alt=words.line("map_says", stand=plan["stand"], count=len(ground.legs), scale=scale),
        head_legs=words.text("head_legs"),
        heads=words.texts("legs"),
        legs=[_leg_cells(leg) for leg in ground.legs],
        unplaced=[words.text("unplaced", names=", ".join(ground.unplaced))] if ground.unplaced else [],
        cautions=[words.caution(name) for name in ("field", "snags")],
    )


def label_content(plan: dict[str, Any], on: dt.date, first: int = 1, tongue: str = ENGLISH) -> dict[str, Any]:
    """Everything the template of the labels prints. Raises Misuse when the visit has no points from there on."""
    words = language.words("tally_sheet", tongue)
    points = plan["visits"][0]["points"][first - 1 :]
    if not points:
        raise Misuse(f"the visit has no label {first}.", remedy=f"It has {len(plan['visits'][0]['points'])} points.")
    here, left = points[:_MOST_LABELS], len(points[_MOST_LABELS:])
    return words.frame(
        title=words.line("title_labels", stand=plan["stand"]),
        heading=words.text("title_labels", stand=plan["stand"]),
        subtitle=words.text("subtitle_labels", name=plan["name"], day=on, count=len(here)),
        footer=words.foot("footer_labels"),
        stand=plan["stand"],
        labels=[_label(plan["stand"], one) for one in here],
        more=[words.text("more", left=left, next=first + len(here))] if left else [],
    )


def tick_content(plan: dict[str, Any], on: dt.date, first: int = 1, tongue: str = ENGLISH) -> dict[str, Any]:
    """Everything the template of the sheets of boxes prints: two sheets at most. Raises Misuse when the visit has no
    plots from there on, or the stand has no species to print."""
    words = language.words("tally_sheet", tongue)
    visit, species = plan["visits"][0], tuple(plan["species"][:_MOST_SPECIES])
    points = [one["point"] for one in visit["points"]][first - 1 :]
    if not points or not species:
        missing = f"the visit has no plot {first}" if not points else "nothing was tallied in the stand yet"
        raise Misuse(f"{missing}.", remedy="Take a sheet with lines.")
    area = next((ring.get("plot_area_ac") for ring in visit["rings"] if ring.get("layer") == "reproduction"), "")
    room = tick_sheet.points_a_sheet(len(species))
    here = points[: _MOST_SHEETS * room]
    left = len(points) - len(here)
    sheets = [
        TickSheet(plan["stand"], area or "", species, tuple(here[start : start + room]))
        for start in range(0, len(here), room)
    ]
    pages = [_sheet(one, words) for one in sheets]
    named = words.named("kinds", visit["kind"])
    more = [words.text("more_ticks", left=left, next=first + len(here))] if left else []
    return words.frame(
        title=words.line("title_ticks", stand=plan["stand"], kind=named),
        heading=words.text("title_ticks", stand=plan["stand"], kind=named),
        subtitle=words.text("subtitle_ticks", name=plan["name"], day=on, part=f"{1 / float(area):.0f}"),
        footer=words.foot("footer_ticks"),
        how=[*words.texts("how_ticks"), *more],
        looked_head=words.text("looked"),
        sheets=pages,
        columns=[
            {
                "x": tick_sheet.column_mm(n),
                "five": tick_sheet.column_mm(n, tick_sheet.WORTH.index(5)),
                "label": as_written(label),
            }
            for n, label in enumerate(HEIGHT_CLASSES)
        ],
        xs=[tick_sheet.column_mm(n, box) for n in range(len(HEIGHT_CLASSES)) for box in range(len(tick_sheet.WORTH))],
        corners=tick_sheet.CORNERS_MM,
        square=tick_sheet.SQUARE_MM,
        box=tick_sheet.BOX_MM,
        code=tick_sheet.CODE_MM,
        code_side=tick_sheet.CODE_SIDE_MM,
        row=tick_sheet.ROW_MM,
        cautions=[words.caution("field")],
    )


def _sheet(sheet: TickSheet, words: Words) -> dict[str, Any]:
    """One sheet: its code, the box of each plot, and the name of each line."""
    lines = sheet.boxes[:: len(HEIGHT_CLASSES) * len(tick_sheet.WORTH)]
    return {
        "code": codes.drawn(sheet.code),
        "says": words.line("says_ticks", stand=sheet.stand, points=", ".join(sheet.points)),
        "looked": [{"x": box.x_mm, "y": box.y_mm, "point": box.point} for box in sheet.looked],
        "rows": [{"y": box.y_mm, "name": by_code(int(box.species)).common_name} for box in lines],
    }


def _label(stand: str, point: dict[str, Any]) -> dict[str, str]:
    placed = point["lon"] is not None and point["lat"] is not None
    place = f"{point['lat']:.6f}, {point['lon']:.6f}" if placed else ""
    says = f"stand {stand}, point {point['point']}"
    return {
        "point": point["point"],
        "place": place,
        "words": says,
        "code": codes.drawn(f"{says}{f', {place}' if place else ''}"),
    }


def _leg_cells(leg: legs.Leg) -> list[str]:
    way = "" if leg.bearing_deg is None else f"{leg.bearing_deg % 360:.0f}\u00b0"
    far = "" if leg.distance_ft is None else measures.digits(leg.distance_ft, "ft", ",.0f")
    return [leg.point, way, far, f"{leg.latitude_deg:.6f}", f"{leg.longitude_deg:.6f}"]


def _ring(ring: dict[str, str], words: Words) -> Text:
    """A ring in the words of the trade."""
    low, high = (_said(ring.get(name), "in.") for name in ("low_dbh_in", "high_dbh_in"))
    key = "between_dbh" if low and high else "from_dbh" if low else "to_dbh" if high else "no_bounds"
    values = {"layer": Part(f"layer_{ring['layer']}"), "bounds": Part(key, {"low": low, "high": high})}
    if ring.get("baf_ft2_ac"):
        return words.text("prism", **values, baf=_said(ring["baf_ft2_ac"], "ft2/ac"))
    if ring.get("plot_area_ac"):
        area = float(ring["plot_area_ac"])
        radius = measures.digits(float(survey.plot_radius_ft(area)), "ft", ".2f")
        return words.text("plot", **values, part=f"{1 / area:.0f}", radius=radius)
    return words.text("strip", **values, design=Part(f"design_{ring.get('design') or 'fixed'}"))


def _said(text: str | None, unit: str) -> str:
    """A size of a ring in the units in force, so exact that no tree at the bound is tallied otherwise; "" where it has
    none."""
    return measures.digits(float(text), unit, ".1f" if measures.is_metric() else "g") if text else ""


def _choices(form: Form, tongue: str) -> list[str]:
    """The words that a cell may hold, as they are written, with the Spanish of each where it is asked for."""
    columns = TABLES[form.table].columns if form.table else {}
    kinds = {
        name: columns[name].choices or (("yes", "no") if columns[name].kind == "boolean" else ())
        for name in form.columns
    }
    spanish = language.table("tally_sheet")
    lines = []
    for name, choices in kinds.items():
        head = name.replace("_", " ").capitalize()
        if choices and tongue == ENGLISH:
            lines.append(f"{head}: {', '.join(map(as_written, choices))}.")
        elif choices:
            beside = [
                as_written(word) if _is_number(word) else f"{word} ({spanish['choices'][word]})" for word in choices
            ]
            lines.append(f"{head} ({spanish['columns'][name]}): {', '.join(beside)}.")
    return lines


def _is_number(word: str) -> bool:
    """Whether a choice is a class of numbers, which every language reads."""
    return not any(letter.isalpha() for letter in word)


def _column(form: Form, name: str, words: Words) -> Text:
    """The heading of a column."""
    text = words.glossed("columns", name, _heading(form, name))
    return text if isinstance(text, str) else {tongue: measures.prose(said) for tongue, said in text.items()}


def _heading(form: Form, name: str) -> str:
    unit = measures.unit_word(TABLES[form.table].columns[name].unit)
    bare = name.removesuffix("_in").removesuffix("_ft").removesuffix("_pct").removesuffix("_yr").replace("_", " ")
    return f"{bare}, {unit}" if unit and unit != bare else bare
