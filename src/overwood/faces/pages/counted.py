"""Young oaks count by count, drawn: a panel for each height, each count a dot with its interval, the limit a line."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.judgement.rules import Rules

# The drawing's own height and the room of its head and foot [px]; the rims of its years, in percents of its width.
TALL = 120.0
_HEAD, _FOOT = 16.0, 22.0
_RIM = 8.0


@dataclass(frozen=True)
class Dot:
    """One count: its place, the ends of its interval and its day."""

    x: float
    y: float
    high_y: float
    low_y: float
    on: dt.date
    says: str
    anchor: str


@dataclass(frozen=True)
class Panel:
    """Oaks of one height or taller: what the newest count says, every count as a dot, and the limit where there is
    one; heights in px from above, places in percents."""

    heading: str
    value: str
    interval: str
    dots: tuple[Dot, ...]
    limit: str
    limit_y: float

    @property
    def pairs(self) -> tuple[tuple[Dot, Dot], ...]:
        """Each count and the one after it."""
        return tuple(pairwise(self.dots))

    @property
    def limit_text_y(self) -> float:
        """Where the limit is written: above its line."""
        return self.limit_y - 4

    @property
    def says(self) -> str:
        """All the panel shows, for who hears it."""
        counts = "; ".join(f"{dot.on.day} {dot.on:%B %Y} {dot.says}" for dot in self.dots)
        return f"{self.heading}, {measures.unit_word('stems/ac')}: {counts}{f'; {self.limit}' if self.limit else ''}"


def panels(counts: tuple[tuple[dt.date, dict[float, Figure]], ...], rules: Rules) -> list[Panel]:
    """A panel for each height that any count measured."""
    heights = list(counts[-1][1]) if counts else []
    by_height = {height: [(on, row[height]) for on, row in counts if row[height].measured] for height in heights}
    return [_panel(height, rows, rules) for height, rows in by_height.items() if rows]


def _panel(height: float, rows: list[tuple[dt.date, Figure]], rules: Rules) -> Panel:
    limit = rules.number("several_hundred_ac") if height == rules.number("waist_high_ft") else 0.0
    most = 1.05 * max(limit, 1.0, *(max(end for end in (one.number, one.high) if end is not None) for _, one in rows))
    first, last = rows[0][0], rows[-1][0]

    def y(value: float) -> float:
        return round(TALL - _FOOT - (TALL - _HEAD - _FOOT) * value / most, 1)

    def dot(on: dt.date, one: Figure) -> Dot:
        share = (on - first).days / (last - first).days if last > first else 0.5
        low, high = (one.number if end is None else end for end in (one.low, one.high))
        anchor = "middle" if last == first else "start" if on == first else "end" if on == last else ""
        return Dot(round(_RIM + (100 - 2 * _RIM) * share, 1), y(one.number), y(high), y(low), on, _said(one), anchor)

    newest = rows[-1][1]
    return Panel(
        heading=f"Oaks {measures.amount(height, 'ft', 'g')} or taller",
        value=f"{_round(newest.number)} {measures.unit_word('/ac')}",
        interval=_span(newest),
        dots=tuple(dot(on, one) for on, one in rows),
        limit=f"{_round(limit)} wanted" if limit else "",
        limit_y=y(limit),
    )


def _round(value: float) -> str:
    return measures.digits(value, "/ac", ",.0f")


def _span(one: Figure) -> str:
    return "" if one.low is None or one.high is None else f"likely {_round(one.low)} to {_round(one.high)}"


def _said(one: Figure) -> str:
    return f"{_round(one.number)}{f', {span}' if (span := _span(one)) else ''}"
