"""The outline of a stand as a small map for papers."""

from __future__ import annotations

import math
from typing import Any

from overwood.faces.papers import press
from overwood.ground import measures
from overwood.ground.records import StandFile
from overwood.ground.units import FT_PER_M
from overwood.judgement.net_ground import net_ground, plane


def of_stand(file: StandFile) -> tuple[str, str]:
    """The stand's outline with the ground kept out of work, as a small SVG with a scale bar; nothing where there is no
    outline."""
    if not file.stand.boundary_wkt:
        return "", ""
    shape = plane(file.stand, file.stand.boundary_wkt)
    points = _rings(shape)
    west, south = min(x for ring in points for x, _ in ring), max(y for ring in points for _, y in ring)
    east, north = max(x for ring in points for x, _ in ring), min(y for ring in points for _, y in ring)
    wide, tall = east - west, south - north
    bar = 10 ** math.floor(math.log10(wide / 2))
    edge = 0.06 * max(wide, tall)
    paths = "".join(
        (
            f'<polygon points="{" ".join(f"{x - west:.0f},{y - north:.0f}" for x, y in ring)}" '
            f'fill="{press.LOOK["oak-soft"]}" stroke="{press.LOOK["oak"]}" stroke-width="{edge / 8:.0f}"/>'
        )
        for ring in points
    )
    rings = "".join(
        _area(zone.ground, west, north, press.LOOK["water"] if zone.protects else press.LOOK["shut"])
        for zone in net_ground(file).zones
        if zone.acres
    )
    line = (
        f'<line x1="0" y1="{tall + edge:.0f}" x2="{bar:.0f}" y2="{tall + edge:.0f}" stroke="{press.LOOK["pencil"]}" '
        f'stroke-width="{edge / 5:.0f}"/>'
    )
    box = f"{-edge:.0f} {-edge:.0f} {wide + 2 * edge:.0f} {tall + 3 * edge:.0f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}">{paths}{rings}{line}</svg>',
        f"{measures.amount(bar, 'ft', ',.0f')}",
    )


def _rings(shape: Any) -> list[list[tuple[float, float]]]:
    """Outer rings of a shape in the plane [m], in feet east and south."""
    parts = [shape] if shape.geom_type == "Polygon" else shape.geoms
    rings = [part.exterior.coords for part in parts if part.geom_type == "Polygon"]
    return [[(x * FT_PER_M, -y * FT_PER_M) for x, y in ring] for ring in rings]


def _area(shape: Any, west: float, north: float, fill: str) -> str:
    """Ground within the outline, filled."""
    return "".join(
        f'<polygon points="{" ".join(f"{x - west:.0f},{y - north:.0f}" for x, y in ring)}" fill="{fill}"/>'
        for ring in _rings(shape)
    )
