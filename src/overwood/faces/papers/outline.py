"""The outline of a stand as a small map for papers."""

from __future__ import annotations

import math

from overwood.ground import measures

_FT_PER_DEGREE = 364_567.2  # one degree of latitude near 37.5 N, for the scale bar alone


def drawn(wkt: str) -> tuple[str, str]:
    """The stand's outline as a small SVG with a scale bar; nothing where there is none."""
    if not wkt:
        return "", ""
    import shapely

    shape = shapely.from_wkt(wkt)
    shrink = math.cos(math.radians(shape.centroid.y))
    rings = [shape.exterior] if shape.geom_type == "Polygon" else [part.exterior for part in shape.geoms]
    points = [[(x * shrink * _FT_PER_DEGREE, -y * _FT_PER_DEGREE) for x, y in ring.coords] for ring in rings]
    west, south = min(x for ring in points for x, _ in ring), max(y for ring in points for _, y in ring)
    east, north = max(x for ring in points for x, _ in ring), min(y for ring in points for _, y in ring)
    wide, tall = east - west, south - north
    bar = 10 ** math.floor(math.log10(wide / 2))
    edge = 0.06 * max(wide, tall)
    paths = "".join(
        (
            f'<polygon points="{" ".join(f"{x - west:.0f},{y - north:.0f}" for x, y in ring)}" fill="#EAF3FA" '
            f'stroke="#0072B2" stroke-width="{edge / 8:.0f}"/>'
        )
        for ring in points
    )
    line = (
        f'<line x1="0" y1="{tall + edge:.0f}" x2="{bar:.0f}" y2="{tall + edge:.0f}" stroke="#222222" '
        f'stroke-width="{edge / 5:.0f}"/>'
    )
    box = f"{-edge:.0f} {-edge:.0f} {wide + 2 * edge:.0f} {tall + 3 * edge:.0f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}">{paths}{line}</svg>',
        f"{measures.amount(bar, 'ft', ',.0f')}",
    )
