"""The map of a stand with its points as SVG: north up, a scale bar in round feet."""

from __future__ import annotations

import math
from html import escape

from overwood.desk.legs import GroundMap
from overwood.faces.papers import press
from overwood.ground import measures

_NORTH = "M0,-3 L1,0 L0.25,0 L0.25,3 L-0.25,3 L-0.25,0 L-1,0 Z"


def svg(ground: GroundMap) -> tuple[str, str]:
    """The drawing in a view box of feet, and the length of its scale bar in words."""
    size = max(ground.wide_ft, ground.tall_ft, 100.0)
    edge, bar = 0.08 * size, bar_ft(size / 3)
    tall = ground.tall_ft
    outline = "".join(_ring(ring, tall, edge) for ring in ground.rings)
    points = "".join(_point(leg.point, leg.east_ft, tall - leg.north_ft, edge) for leg in ground.legs)
    foot = tall + 1.2 * edge
    scale = (
        f'<line x1="0" y1="{foot:.0f}" x2="{bar:.0f}" y2="{foot:.0f}" stroke="{press.LOOK["pencil"]}" '
        f'stroke-width="{edge / 8:.1f}"/>'
    )
    at = f"translate({ground.wide_ft + edge / 2:.0f},{-edge / 3:.0f}) scale({edge / 5:.2f})"
    north = f'<path transform="{at}" d="{_NORTH}" fill="{press.LOOK["pencil"]}"/>'
    box = f"{-edge:.0f} {-edge:.0f} {ground.wide_ft + 2.2 * edge:.0f} {tall + 2.6 * edge:.0f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}">{outline}{points}{scale}{north}</svg>',
        f"{measures.amount(bar, 'ft', ',.0f')}",
    )


def bar_ft(most: float) -> float:
    """The longest of 1, 2 or 5 times a power of ten that is no longer than this."""
    power = 10.0 ** math.floor(math.log10(most))
    return max(times * power for times in (1, 2, 5) if times * power <= most)


def _ring(ring: list[tuple[float, float]], tall: float, edge: float) -> str:
    corners = " ".join(f"{x:.1f},{tall - y:.1f}" for x, y in ring)
    ink = f'fill="{press.LOOK["oak-soft"]}" stroke="{press.LOOK["oak"]}"'
    return f'<polygon points="{corners}" {ink} stroke-width="{edge / 16:.1f}"/>'


def _point(name: str, x: float, y: float, edge: float) -> str:
    ink = f'fill="{press.LOOK["pencil"]}"'
    letters = f'font-size="{edge / 3:.1f}" font-family="Source Sans 3" {ink}'
    dot = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{edge / 12:.1f}" {ink}/>'
    return f'{dot}<text x="{x + edge / 6:.1f}" y="{y - edge / 10:.1f}" {letters}>{escape(name)}</text>'
