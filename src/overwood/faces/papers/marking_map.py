"""The map of a marking for the crew, in sheets on which every number can be read: crowns that stay, trees to cut,
strips to walk."""

from __future__ import annotations

import math
import string
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from overwood.faces.papers import press
from overwood.faces.papers.light_map import axis, circles
from overwood.judgement.stem_map import Block, Mask
from overwood.judgement.walking import Strips

# Ground on one sheet at the most, so that numbers are large enough to be read outdoors; side of its picture, height of
# a number, and its width for each digit as a part of that.
_SHEET_FT, _SIDE_PX, _LETTER_PX, _DIGIT = 260.0, 620.0, 10.0, 0.62
# How far from its stem a number may be put, in its own heights and widths.
_FARTHEST = 4


@dataclass(frozen=True)
class Panel:
    """Part of a map on a sheet of its own, in feet from its south-west corner."""

    name: str
    west_ft: float
    south_ft: float
    east_ft: float
    north_ft: float

    def holds(self, east_ft: float, north_ft: float) -> bool:
        """Whether a place lies on the panel; the west and south sides belong to it."""
        return self.west_ft <= east_ft < self.east_ft and self.south_ft <= north_ft < self.north_ft


def panels(width_ft: float, height_ft: float) -> list[Panel]:
    """A map in parts on which numbers can be read, lettered from the north, numbered from the west."""
    across, up = (max(math.ceil(side / _SHEET_FT), 1) for side in (width_ft, height_ft))
    return [
        Panel(
            f"{_letters(up - 1 - row)}{column + 1}",
            column * width_ft / across,
            row * height_ft / up,
            (column + 1) * width_ft / across,
            (row + 1) * height_ft / up,
        )
        for row in reversed(range(up))
        for column in range(across)
    ]


def wide_pct(panel: Panel) -> float:
    """How much of the width of the page the picture of a panel takes, so that a tall one still fits the page."""
    width, height = panel.east_ft - panel.west_ft, panel.north_ft - panel.south_ft
    return round(100 * width / max(width, height), 1)


def _letters(place: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    tens, ones = divmod(place, 26)
    return (string.ascii_uppercase[tens - 1] if tens else "") + string.ascii_uppercase[ones]


def panel_of(parts: list[Panel], east_ft: float, north_ft: float) -> str:
    """The sheet of a place; one on the far edge of the map belongs to the nearest."""
    for part in parts:
        if part.holds(east_ft, north_ft):
            return part.name
    middle = [
        math.hypot((p.west_ft + p.east_ft) / 2 - east_ft, (p.south_ft + p.north_ft) / 2 - north_ft) for p in parts
    ]
    return parts[int(np.argmin(middle))].name


def chart(block: Block, leave: Mask, take: Mask, panel: Panel, laid: Strips, axes: tuple[str, str]) -> dict[str, Any]:
    """One sheet as a Vega-Lite chart; ``axes`` are the words along its foot and its side."""
    width, height = panel.east_ft - panel.west_ft, panel.north_ft - panel.south_ft
    scale = _SIDE_PX / max(width, height)
    places = {
        "x": axis("x", panel.west_ft, panel.east_ft, axes[0], grid=True),
        "y": axis("y", panel.south_ft, panel.north_ft, axes[1], grid=True),
    }
    layers = [
        _strips(panel, laid, places),
        _crowns(block, leave, places, scale),
        _crosses(block, take, panel, places),
        _ways(panel, laid, places),
        *_numbers(block, leave, panel, places, scale),
    ]
    return {"width": round(width * scale), "height": round(height * scale), "layer": layers}


def _strips(panel: Panel, laid: Strips, places: dict[str, Any]) -> dict[str, Any]:
    """Lines between strips."""
    ends = [n * laid.width_ft for n in range(1, laid.count) if panel.west_ft < n * laid.width_ft < panel.east_ft]
    return {
        "data": {"values": [{"x": round(end, 1), "y": panel.south_ft, "y2": panel.north_ft} for end in ends]},
        "mark": {"type": "rule", "strokeDash": [6, 4], "color": press.LOOK["other"], "strokeWidth": 1},
        "encoding": {**places, "y2": {"field": "y2"}},
    }


def _ways(panel: Panel, laid: Strips, places: dict[str, Any]) -> dict[str, Any]:
    """Number of each strip and the way it is walked, at the foot of the sheet."""
    foot = panel.south_ft + 0.015 * (panel.north_ft - panel.south_ft)
    values = []
    for n in range(laid.count):
        middle = (max(n * laid.width_ft, panel.west_ft) + min((n + 1) * laid.width_ft, panel.east_ft)) / 2
        if (
            panel.west_ft < middle < panel.east_ft
            and n * laid.width_ft < panel.east_ft
            and (n + 1) * laid.width_ft > panel.west_ft
        ):
            values.append({"x": round(middle, 1), "y": round(foot, 1), "way": f"{n + 1} {'↑' if n % 2 == 0 else '↓'}"})
    mark = {"type": "text", "fontSize": 13, "color": press.LOOK["need"], "fontWeight": "bold"}
    return {"data": {"values": values}, "mark": mark, "encoding": {**places, "text": {"field": "way"}}}


def _crowns(block: Block, leave: Mask, places: dict[str, Any], scale: float) -> dict[str, Any]:
    mark = {
        "type": "point",
        "shape": "circle",
        "stroke": press.LOOK["oak"],
        "fill": press.LOOK["oak-soft"],
        "fillOpacity": 0.6,
        "opacity": 1,
        "clip": True,
    }
    return {
        "data": {"values": circles(block, leave, scale)},
        "mark": {**mark, "strokeWidth": 1},
        "encoding": {**places, "size": {"field": "area", "type": "quantitative", "scale": None, "legend": None}},
    }


def _crosses(block: Block, take: Mask, panel: Panel, places: dict[str, Any]) -> dict[str, Any]:
    stems = [
        block.stems[i] for i in np.flatnonzero(take) if panel.holds(block.stems[i].east_ft, block.stems[i].north_ft)
    ]
    return {
        "data": {"values": [{"x": stem.east_ft, "y": stem.north_ft} for stem in stems]},
        "mark": {
            "type": "point",
            "shape": "M-1,-1L1,1M-1,1L1,-1",
            "stroke": press.LOOK["other"],
            "size": 18,
            "strokeWidth": 1,
        },
        "encoding": places,
    }


def _numbers(block: Block, leave: Mask, panel: Panel, places: dict[str, Any], scale: float) -> list[dict[str, Any]]:
    """A dot at each tree that stays and its number, none on another, with a line where it had to be moved."""
    stems = [
        block.stems[i] for i in np.flatnonzero(leave) if panel.holds(block.stems[i].east_ft, block.stems[i].north_ft)
    ]
    at = np.array([(stem.east_ft, stem.north_ft) for stem in stems], dtype=float).reshape(-1, 2)
    widths = np.array([len(stem.stem) * _DIGIT * _LETTER_PX for stem in stems])
    put = apart((at - (panel.west_ft, panel.south_ft)) * scale, widths) / scale + (panel.west_ft, panel.south_ft)
    values = [
        {"x": stem.east_ft, "y": stem.north_ft, "x2": round(float(x), 1), "y2": round(float(y), 1), "stem": stem.stem}
        for stem, (x, y) in zip(stems, put, strict=True)
    ]
    rule = {"type": "rule", "color": press.LOOK["pencil"], "strokeWidth": 0.6}
    dot = {"type": "point", "filled": True, "size": 14, "color": press.LOOK["pencil"], "opacity": 1}
    text = {"type": "text", "fontSize": _LETTER_PX, "fontWeight": "bold", "color": "#000000"}
    numbers = [{"x": value["x2"], "y": value["y2"], "stem": value["stem"]} for value in values]
    return [
        {
            "data": {"values": values},
            "mark": rule,
            "encoding": {**places, "x2": {"field": "x2"}, "y2": {"field": "y2"}},
        },
        {"data": {"values": values}, "mark": dot, "encoding": places},
        {"data": {"values": numbers}, "mark": text, "encoding": {**places, "text": {"field": "stem"}}},
    ]


def apart(places_px: np.ndarray, widths_px: np.ndarray) -> np.ndarray:
    """Where numbers go so that none lies on another: above their stems, or as near as there is room; shape (n, 2) [px].

    Where there is no room near a stem its number goes where it hides least.
    """
    put = np.empty_like(places_px)
    for at, (place, width) in enumerate(zip(places_px, widths_px, strict=True)):
        fewest = np.inf
        for step in _steps():
            here = place + step * (width, _LETTER_PX)
            near = np.abs(put[:at] - here) < np.column_stack(((widths_px[:at] + width) / 2, np.full(at, _LETTER_PX)))
            hidden = int(near.all(axis=1).sum())
            if hidden < fewest:
                fewest, put[at] = hidden, here
            if not hidden:
                break
    return put


def _steps() -> Iterator[np.ndarray]:
    """Steps away from a stem, the nearest to just above it first, in halves of a number's width and height."""
    reach = np.arange(-_FARTHEST, _FARTHEST + 0.5, 0.5)
    grid = np.array([(x / 2, y) for x in reach for y in reach if (x, y) != (0, 0)])
    yield from grid[np.argsort(((grid - (0, 0.8)) ** 2).sum(axis=1), kind="stable")]
