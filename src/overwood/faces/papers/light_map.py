"""The light map of a mapped block: floor light as color, crowns to scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from overwood.faces.papers import press
from overwood.ground import measures
from overwood.ground.units import FT_PER_M
from overwood.judgement.stem_map import Block, Light, Mask

_TOP_PCT = 60
# Meters between the marks of an axis.
_MARK_M = 10


def write_picture(block: Block, states: Sequence[Light], target: Path) -> None:
    """Write the maps of several states side by side as SVG."""
    everything = np.ones(len(block.stems), dtype=bool)
    standing = {"midstory out": block.without_midstory}
    target.parent.mkdir(parents=True, exist_ok=True)
    charts = [chart(block, state, standing.get(state.state, everything), side_px=360) for state in states]
    target.write_text(press.svg({"hconcat": charts}), encoding="utf-8")


@dataclass(frozen=True)
class ChartWords:
    """Title, axes and legend of a map."""

    title: str
    east: str = "feet east"
    north: str = "feet north"
    legend: str = "% of full sun"


def chart(
    block: Block, light: Light, standing: Mask, *, side_px: int, words: ChartWords | None = None
) -> dict[str, Any]:
    """One state as a Vega-Lite chart; crowns of the trees standing are drawn to scale."""
    words = words or ChartWords(f"{light.state}: {light.mean_pct:.0f}% of full sun")
    width, height = block.map.width_ft, block.map.height_ft
    scale = side_px / max(width, height)
    places = {"x": axis("x", 0.0, width, words.east), "y": axis("y", 0.0, height, words.north)}
    return {
        "title": {"text": words.title, "fontSize": 12},
        "width": round(width * scale),
        "height": round(height * scale),
        "layer": [_floor(block, light, places, words.legend), _crowns(block, standing, places, scale)],
    }


def axis(field: str, low: float, top: float, title: str, *, grid: bool = False) -> dict[str, Any]:
    """One axis of a map in feet, marked in the system in force."""
    scale = {"domain": [low, top], "nice": False, "zero": False}
    marks: dict[str, Any] = {"title": title, "grid": grid}
    if measures.is_metric():
        first = math.ceil(low / FT_PER_M / _MARK_M) * _MARK_M
        marks["values"] = [m * FT_PER_M for m in range(first, math.floor(top / FT_PER_M) + 1, _MARK_M)]
        marks["labelExpr"] = f"format(datum.value / {FT_PER_M!r}, '.0f')"
    return {"field": field, "type": "quantitative", "scale": scale, "axis": marks}


def _floor(block: Block, light: Light, places: dict[str, Any], legend: str) -> dict[str, Any]:
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
    ]
    colour = {
        "field": "light",
        "type": "quantitative",
        "scale": {"scheme": "cividis", "domain": [0, _TOP_PCT], "clamp": True},
        "legend": {"title": legend, "orient": "right"},
    }
    return {
        "data": {"values": values},
        "mark": {"type": "rect", "strokeWidth": 0, "clip": True},
        "encoding": {**places, "x2": {"field": "x2"}, "y2": {"field": "y2"}, "color": colour},
    }


def circles(block: Block, which: Mask, scale: float) -> list[dict[str, float]]:
    """Crowns of some trees for a chart: where they stand [ft], and how large each circle is drawn."""
    t = block.crowns
    return [
        {
            "x": round(float(t.x[i]) * FT_PER_M % block.map.width_ft, 1),
            "y": round(float(t.y[i]) * FT_PER_M % block.map.height_ft, 1),
            "area": round(math.pi * float(t.a[i] * t.b[i]) * (FT_PER_M * scale) ** 2, 1),
        }
        for i in np.flatnonzero(which)
    ]


def _crowns(block: Block, standing: Mask, places: dict[str, Any], scale: float) -> dict[str, Any]:
    return {
        "data": {"values": circles(block, standing, scale)},
        "mark": {
            "type": "point",
            "shape": "circle",
            "filled": False,
            "stroke": "#FFFFFF",
            "strokeWidth": 0.8,
            "opacity": 0.9,
            "clip": True,
        },
        "encoding": {**places, "size": {"field": "area", "type": "quantitative", "scale": None, "legend": None}},
    }
