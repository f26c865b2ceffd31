"""The light map of a mapped block: floor light as colour, crowns to scale, leave trees by number."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from overwood.faces.papers import press
from overwood.ground.units import FT_PER_M
from overwood.judgement.stem_map import Block, Light, Mask

_TOP_PCT = 60
# Ground on one panel of a numbered map at the most; more of it would leave no room for its numbers.
_PANEL_FT = 500.0
# Height of a number [px], and its width for each digit as a part of that.
_LETTER_PX, _DIGIT = 7.0, 0.62
# How far from its stem a number may be put, in its own heights and widths.
_FARTHEST = 4


@dataclass(frozen=True)
class Panel:
    """Part of a map that is drawn, in feet from its south-west corner."""

    west_ft: float
    south_ft: float
    east_ft: float
    north_ft: float

    def holds(self, east_ft: float, north_ft: float) -> bool:
        """Whether a place lies on the panel; the west and south sides belong to it."""
        return self.west_ft <= east_ft < self.east_ft and self.south_ft <= north_ft < self.north_ft


def panels(block: Block) -> list[Panel]:
    """A map in parts on which numbers can be read, row by row from the north-west."""
    width, height = block.map.width_ft, block.map.height_ft
    across, up = (math.ceil(side / _PANEL_FT) for side in (width, height))
    return [
        Panel(column * width / across, row * height / up, (column + 1) * width / across, (row + 1) * height / up)
        for row in reversed(range(up))
        for column in range(across)
    ]


def write_picture(block: Block, states: Sequence[Light], target: Path) -> None:
    """Write the maps of several states side by side as SVG."""
    everything = np.ones(len(block.stems), dtype=bool)
    standing = {"midstory out": block.without_midstory}
    target.parent.mkdir(parents=True, exist_ok=True)
    charts = [chart(block, state, standing.get(state.state, everything), side_px=360) for state in states]
    target.write_text(press.svg({"hconcat": charts}), encoding="utf-8")


def chart(block: Block, light: Light, standing: Mask, *, side_px: int, numbers: bool = False, panel: Panel | None = None) -> dict[str, Any]:
    """One state, or a panel of it, as a Vega-Lite chart; crowns of the trees standing are drawn to scale."""
    shown = panel or Panel(0.0, 0.0, block.map.width_ft, block.map.height_ft)
    width, height = shown.east_ft - shown.west_ft, shown.north_ft - shown.south_ft
    scale = side_px / max(width, height)
    layers = [_floor(block, light, shown), _crowns(block, standing, shown, scale)]
    if numbers:
        layers += _numbers(block, standing, shown, scale)
    return {
        "title": {"text": f"{light.state}: {light.mean_pct:.0f} % of full sun", "fontSize": 12},
        "width": round(width * scale),
        "height": round(height * scale),
        "layer": layers,
    }


def _axis(field: str, low: float, top: float, title: str) -> dict[str, Any]:
    scale = {"domain": [low, top], "nice": False, "zero": False}
    return {"field": field, "type": "quantitative", "scale": scale, "axis": {"title": title, "grid": False}}


def _places(panel: Panel) -> dict[str, Any]:
    return {
        "x": _axis("x", panel.west_ft, panel.east_ft, "feet east"),
        "y": _axis("y", panel.south_ft, panel.north_ft, "feet north"),
    }


def _floor(block: Block, light: Light, panel: Panel) -> dict[str, Any]:
    rows, columns = light.field.shape
    dx, dy = block.map.width_ft / columns, block.map.height_ft / rows
    values = [
        {
            "x": round(j * dx, 2),
            "x2": round((j + 1) * dx, 2),
            "y": round(i * dy, 2),
            "y2": round((i + 1) * dy, 2),
            "light": round(100 * v, 1),
        }
        for (i, j), v in np.ndenumerate(light.field)
        if panel.west_ft < (j + 1) * dx and j * dx < panel.east_ft and panel.south_ft < (i + 1) * dy and i * dy < panel.north_ft
    ]
    colour = {
        "field": "light",
        "type": "quantitative",
        "scale": {"scheme": "cividis", "domain": [0, _TOP_PCT], "clamp": True},
        "legend": {"title": "% of full sun", "orient": "right"},
    }
    return {
        "data": {"values": values},
        "mark": {"type": "rect", "strokeWidth": 0, "clip": True},
        "encoding": {**_places(panel), "x2": {"field": "x2"}, "y2": {"field": "y2"}, "color": colour},
    }


def _crowns(block: Block, standing: Mask, panel: Panel, scale: float) -> dict[str, Any]:
    t = block.crowns
    values = [
        {
            "x": round(float(t.x[i]) * FT_PER_M % block.map.width_ft, 1),
            "y": round(float(t.y[i]) * FT_PER_M % block.map.height_ft, 1),
            "area": round(math.pi * float(t.a[i] * t.b[i]) * (FT_PER_M * scale) ** 2, 1),
        }
        for i in np.flatnonzero(standing)
    ]
    return {
        "data": {"values": values},
        "mark": {
            "type": "point",
            "shape": "circle",
            "filled": False,
            "stroke": "#FFFFFF",
            "strokeWidth": 0.8,
            "opacity": 0.9,
            "clip": True,
        },
        "encoding": {**_places(panel), "size": {"field": "area", "type": "quantitative", "scale": None, "legend": None}},
    }


def _numbers(block: Block, standing: Mask, panel: Panel, scale: float) -> list[dict[str, Any]]:
    """Numbers of the trees standing, none on another, each with a line to its stem where it had to be moved."""
    stems = [block.stems[i] for i in np.flatnonzero(standing) if panel.holds(block.stems[i].east_ft, block.stems[i].north_ft)]
    places = np.array([(stem.east_ft, stem.north_ft) for stem in stems], dtype=float).reshape(-1, 2)
    widths = np.array([len(stem.stem) * _DIGIT * _LETTER_PX for stem in stems])
    put = apart(places * scale, widths) / scale
    values = [
        {"x": stem.east_ft, "y": stem.north_ft, "x2": round(float(x), 1), "y2": round(float(y), 1), "stem": stem.stem}
        for stem, (x, y) in zip(stems, put, strict=True)
    ]
    line = {
        "data": {"values": [value for value in values if (value["x"], value["y"]) != (value["x2"], value["y2"])]},
        "mark": {"type": "rule", "color": "#FFFFFF", "strokeWidth": 0.6},
        "encoding": {**_places(panel), "x2": {"field": "x2"}, "y2": {"field": "y2"}},
    }
    number = {
        "data": {"values": [{"x": value["x2"], "y": value["y2"], "stem": value["stem"]} for value in values]},
        "mark": {
            "type": "text", "fontSize": _LETTER_PX, "fontWeight": "bold", "color": "#FFFFFF", "stroke": "#000000", "strokeWidth": 0.15,
        },
        "encoding": {**_places(panel), "text": {"field": "stem"}},
    }  # fmt: skip
    return [line, number]


def apart(places_px: np.ndarray, widths_px: np.ndarray) -> np.ndarray:
    """Where numbers go so that none lies on another: at their stems, or as near as there is room; shape (n, 2) [px].

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
    """Steps away from a stem, the nearest first, in halves of a number's width and height."""
    reach = np.arange(-_FARTHEST, _FARTHEST + 0.5, 0.5)
    grid = np.array([(x / 2, y) for x in reach for y in reach])
    yield from grid[np.argsort((grid**2).sum(axis=1), kind="stable")]
