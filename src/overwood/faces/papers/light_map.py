"""The light map of a mapped block: floor light as colour, crowns to scale, leave trees by number."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from overwood.faces.papers import press
from overwood.ground.units import FT_PER_M
from overwood.judgement.stem_map import Block, Light, Mask

_TOP_PCT = 60


def write_picture(block: Block, states: Sequence[Light], target: Path) -> None:
    """Write the maps of several states side by side as SVG."""
    everything = np.ones(len(block.stems), dtype=bool)
    standing = {"midstory out": block.without_midstory}
    target.parent.mkdir(parents=True, exist_ok=True)
    charts = [chart(block, state, standing.get(state.state, everything), side_px=360) for state in states]
    target.write_text(press.svg({"hconcat": charts}), encoding="utf-8")


def chart(block: Block, light: Light, standing: Mask, *, side_px: int, numbers: bool = False) -> dict[str, Any]:
    """One state as a Vega-Lite chart; crowns of the trees standing are drawn to scale."""
    width, height = block.map.width_ft, block.map.height_ft
    scale = side_px / max(width, height)
    layers = [_floor(block, light), _crowns(block, standing, scale)]
    if numbers:
        layers.append(_numbers(block, standing))
    return {
        "title": {"text": f"{light.state}: {light.mean_pct:.0f} % of full sun", "fontSize": 12},
        "width": round(width * scale),
        "height": round(height * scale),
        "layer": layers,
    }


def _axis(field: str, top: float, title: str) -> dict[str, Any]:
    return {"field": field, "type": "quantitative", "scale": {"domain": [0, top], "nice": False}, "axis": {"title": title, "grid": False}}


def _places(block: Block) -> dict[str, Any]:
    return {
        "x": _axis("x", block.map.width_ft, "feet east"),
        "y": _axis("y", block.map.height_ft, "feet north"),
    }


def _floor(block: Block, light: Light) -> dict[str, Any]:
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
        "legend": {"title": "% of full sun", "orient": "right"},
    }
    return {
        "data": {"values": values},
        "mark": {"type": "rect", "strokeWidth": 0},
        "encoding": {**_places(block), "x2": {"field": "x2"}, "y2": {"field": "y2"}, "color": colour},
    }


def _crowns(block: Block, standing: Mask, scale: float) -> dict[str, Any]:
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
        "mark": {"type": "point", "shape": "circle", "filled": False, "stroke": "#FFFFFF", "strokeWidth": 0.8, "opacity": 0.9},
        "encoding": {**_places(block), "size": {"field": "area", "type": "quantitative", "scale": None, "legend": None}},
    }


def _numbers(block: Block, standing: Mask) -> dict[str, Any]:
    values = [{"x": block.stems[i].east_ft, "y": block.stems[i].north_ft, "stem": block.stems[i].stem} for i in np.flatnonzero(standing)]
    return {
        "data": {"values": values},
        "mark": {"type": "text", "fontSize": 7, "fontWeight": "bold", "color": "#FFFFFF", "stroke": "#000000", "strokeWidth": 0.15},
        "encoding": {**_places(block), "text": {"field": "stem"}},
    }
