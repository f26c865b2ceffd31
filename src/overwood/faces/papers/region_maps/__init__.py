"""The maps of many stands on one page that opens without a network: the kind of work each needs next, and the gates."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from string import Template
from typing import Any

import numpy as np
import polars as pl
import shapely

from overwood.desk.part_counties import NOT_JUDGED
from overwood.desk.part_maps import GATES, Drawn
from overwood.desk.places import miles
from overwood.faces.papers import press
from overwood.judgement import gates
from overwood.judgement.course.steps import all_steps, title_counted

# Okabe and Ito's colors, by the tokens of every face.
WORK_COLORS = {
    word: press.LOOK[token]
    for word, token in (
        ("look", "water"), ("treat", "rival"), ("cut", "need"), ("wait", "shut"), (NOT_JUDGED, "pencil"),
    )
}  # fmt: skip
_ANSWER_COLORS = {
    word: press.LOOK[token]
    for word, token in zip(gates.ANSWERS, ("oak", "need", "rival", "other", "water"), strict=True)
}
_WORK_WORDS = {"look": "look or count", "cut": "cut, if firm"}
# Units across a map; more shapes than these are drawn as cells, each a unit wide.
_ACROSS, _MOST_SHAPES = 1000, 4_000
_DOT = 4.0
_CAUTION = (
    "Whether a stand is cut, injected or burned is decided on its full advice, which says how firm it is and what to "
    "take care of; this page is for finding the stands to look at."
)


@dataclass(frozen=True)
class _Plane:
    """Degrees to units of a map, north up."""

    west: float
    north: float
    east_units: float
    north_units: float
    wide: float
    tall: float

    @classmethod
    def of(cls, shapes: Any) -> _Plane:
        west, south, east, north = (float(end) for end in shapely.total_bounds(shapes))
        shrink = float(np.cos(np.radians((south + north) / 2)))
        scale = (_ACROSS - 2 * _DOT) / max((east - west) * shrink, north - south, 1e-6)
        rim = _DOT / scale
        wide, tall = (east - west) * shrink * scale + 2 * _DOT, (north - south) * scale + 2 * _DOT
        return cls(west - rim / shrink, north + rim, shrink * scale, scale, wide, tall)

    def moved(self, shapes: Any) -> Any:
        """The shapes in units of the map."""
        ends = np.array([self.west, self.north]), np.array([self.east_units, -self.north_units])
        return shapely.transform(shapes, lambda at: (at - ends[0]) * ends[1])


def write(region: Drawn, standing: Any, words: str, target: Path) -> None:
    """Lay the page down: a map of the kind of work and one of each gate, with the counts below."""
    columns = [("work", "What the stands need next", WORK_COLORS, _WORK_WORDS)]
    columns += [(f"gate_{name.replace(' ', '_')}", gates.GATES[name].question, _ANSWER_COLORS, {}) for name in GATES]
    drawing = _Drawing.of(region) if len(region.shapes) else None
    maps = "".join(_figure(region, drawing, *column) for column in columns) if drawing else ""
    page = Template((Path(__file__).parent / "page.html").read_text(encoding="utf-8")).substitute(
        {name: press.LOOK[name] for name in ("ink", "soft", "line", "edge", "ground", "paper")},
        title=f"{standing.stands:,} stands and what they need next", subtitle=escape(words),
        shapes=drawing.shapes if drawing else "", maps=maps, notes=_notes(region),
        steps=_steps(standing.steps), counties=_counties(standing.counties),
    )  # fmt: skip
    target.write_text(page, encoding="utf-8", newline="\n")


@dataclass(frozen=True)
class _Drawing:
    """What all maps share: shapes that each map takes by number, or the stand of each cell where there are many."""

    plane: _Plane
    shapes: str
    cells: Any

    @classmethod
    def of(cls, region: Drawn) -> _Drawing:
        plane = _Plane.of(region.shapes)
        moved = plane.moved(region.shapes)
        if len(moved) > _MOST_SHAPES:
            return cls(plane, "", _cells(moved, plane))
        return cls(plane, "".join(_shape(number, one) for number, one in enumerate(moved)), None)

    def colored(self, region: Drawn, column: str, colors: dict[str, str]) -> str:
        """The stands of one map."""
        values = region.stands[column].fill_null("").to_list()
        if self.cells is None:
            titles = zip(region.stands["name"].to_list(), values, strict=True)
            return "".join(
                f'<use href="#s{number}" fill="{colors.get(value) or "none"}">'
                f"<title>{escape(name)}: {value}</title></use>"
                for number, (name, value) in enumerate(titles)
            )
        place = {value: number for number, value in enumerate(colors, start=1)}
        codes = np.array([0, *(place.get(value, 0) for value in values)], dtype=np.uint8)
        image = _png(codes[self.cells], list(colors.values()))
        size = f'width="{self.plane.wide:.0f}" height="{self.plane.tall:.0f}"'
        return f'<image href="data:image/png;base64,{image}" {size}/>'


def _shape(number: int, shape: Any) -> str:
    if shape.geom_type == "Point":
        return f'<circle id="s{number}" cx="{shape.x:.1f}" cy="{shape.y:.1f}" r="{_DOT:g}"/>'
    rings = [ring for part in shapely.get_parts(shape) for ring in (part.exterior, *part.interiors)]
    lines = "".join("M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in ring.coords[:-1]) + "Z" for ring in rings)
    return f'<path id="s{number}" fill-rule="evenodd" d="{lines}"/>'


def _cells(moved: Any, plane: _Plane) -> Any:
    """The number of the stand that lies in each cell of a unit, from 1; 0 where none does."""
    from rasterio.features import rasterize

    is_dot = shapely.get_type_id(moved) == 0
    moved[is_dot] = shapely.box(*(shapely.bounds(moved[is_dot]) + np.array([-1, -1, 1, 1])).T)
    size = max(round(plane.tall), 1), max(round(plane.wide), 1)
    return rasterize(zip(moved, range(1, len(moved) + 1), strict=True), size, all_touched=True, dtype=np.int32)


def _png(codes: Any, colors: Sequence[str]) -> str:
    from PIL import Image

    image = Image.fromarray(codes, mode="P")
    image.putpalette([0, 0, 0, *(part for color in colors for part in bytes.fromhex(color[1:]))])
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True, transparency=0)
    return base64.b64encode(out.getvalue()).decode()


def _figure(
    region: Drawn, drawing: _Drawing, column: str, title: str, colors: dict[str, str], words: dict[str, str]
) -> str:
    counts = dict(
        region.stands.group_by(column).agg(pl.len(), pl.col("area_ac").sum()).rows_by_key(column, unique=True)
    )
    legend = "".join(
        f'<li><i style="background:{color}"></i>{words.get(value, value)}: {_counted(*counts[value])}</li>'
        for value, color in colors.items()
        if value in counts
    )
    box = f"0 0 {drawing.plane.wide:.0f} {drawing.plane.tall:.0f}"
    return (
        f'<figure><h2>{escape(title)}</h2><svg viewBox="{box}" role="img" aria-label="{escape(title)}">'
        f"{drawing.colored(region, column, colors)}</svg><ul>{legend}</ul></figure>\n"
    )


def _counted(stands: int, acres: float) -> str:
    return f"{stands:,}" + (f" ({acres:,.0f} ac)" if acres else "")


def _notes(region: Drawn) -> str:
    notes = [_CAUTION]
    if len(region.shapes):
        west, south, east, north = shapely.total_bounds(region.shapes)
        across = miles(west, (south + north) / 2, east, (south + north) / 2)
        notes.append(f"North is up; from west to east are {across:,.1f} miles.")
    fells = [name for name, step in all_steps().items() if step.fells]
    doubted = region.stands.filter(pl.col("step").is_in(fells) & (pl.col("work") == "look")).height
    if doubted:
        notes.append(f"Cuts that the full advice holds in doubt are drawn as looks: {doubted:,} here.")
    if region.without_place:
        is_one, count = region.without_place == 1, f"{region.without_place:,}"
        have = (
            "stand has neither an outline nor a place and is"
            if is_one
            else ("stands have neither an outline nor a place and are")
        )
        notes.append(f"{count} {have} on no map.")
    if (shapely.get_type_id(region.shapes) == 0).any():
        notes.append(
            "A dot is the place noted of a property, and no stand's own; those of the national inventory are blurred."
        )
    if len(region.shapes) > _MOST_SHAPES:
        notes.append(
            "Stands are drawn as cells: where several lie in one, the last by name is seen. The counts are of all."
        )
    return "".join(f"<p>{note}</p>" for note in notes)


def _steps(rows: Sequence[Any]) -> str:
    head = ("next step", "stands", "acres", "acres not noted")
    cells = [
        (title_counted(one.step), f"{one.stands:,}", f"{one.area_ac:,.0f}", f"{one.without_area:,}") for one in rows
    ]
    return _table(head, cells)


def _counties(rows: Sequence[Any]) -> str:
    if not rows:
        return ""
    is_sample = any(row.plots is not None for row in rows)
    head: tuple[str, ...] = ("county", "next step", "stands", "acres")
    cells: list[tuple[str, ...]] = [
        (row.county, title_counted(row.step), f"{row.stands:,}", _number(row.area_ac)) for row in rows
    ]
    note = ""
    if is_sample:
        head += ("plots", "share of the land, %", "from", "to", "acres of land", "from", "to")
        more = (
            (row.plots, row.share_pct, row.low_pct, row.high_pct, row.land_ac, row.low_ac, row.high_ac) for row in rows
        )
        cells = [(*cell, *map(_number, each)) for cell, each in zip(cells, more, strict=True)]
        note = "<p>Shares are those of the plots of a sample, with the interval of their sampling error.</p>"
    return f"<details><summary>Stands by county and next step</summary>{note}{_table(head, cells, 'words')}</details>"


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:,.1f}" if value % 1 else f"{value:,.0f}"


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], kind: str = "") -> str:
    lines = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f'<table class="{kind}"><tr>{"".join(f"<th>{escape(one)}</th>" for one in head)}</tr>{lines}</table>'
