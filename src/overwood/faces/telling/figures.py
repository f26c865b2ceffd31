"""Numbers and figures as people read them, the same on every face."""

from __future__ import annotations

import functools
import math

from overwood.ground import measures, tables
from overwood.ground.figure import Figure

_WHOLE = (
    "stems/ac", "trees/ac", "acorns/ac", "stumps/ac", "stems/ha", "trees/ha", "acorns/ha", "stumps/ha", "plots", "rows",
)  # fmt: skip


@functools.cache
def labels() -> dict[str, dict[str, str]]:
    """What each figure is called: on a stand's page and in which part of it, above its gauge, and in the owner's brief
    with so many places."""
    return {row["figure"]: row for row in tables.rows("faces/telling/figure_labels.csv")}


def number(value: float, unit: str = "") -> str:
    """A number with no more digits than it deserves."""
    if math.isnan(value):
        return "-"
    size = abs(value)
    if unit in _WHOLE or size >= 1000:
        return f"{value:,.0f}"
    if size >= 100:
        return f"{value:.0f}"
    return f"{value:.2f}" if size < 10 else f"{value:.1f}"


def of_ten(chance: float) -> str:
    """A chance as people say it."""
    if 0 < chance < 0.05:
        return "under 1 of 10"
    return f"{10 * chance:.0f} of 10"


def shown(figure: Figure) -> tuple[str, str, str]:
    """Value, interval and unit of a figure in words, in the system of units in force."""
    if not figure.measured:
        return "not measured", "", figure.note
    if not isinstance(figure.value, int | float) or isinstance(figure.value, bool):
        return str(figure.value), "", ""
    scale, unit = (100.0, "%") if figure.unit == "share" else (1.0, figure.unit)

    def turn(value: float) -> str:
        return number(measures.convert(value * scale, unit), measures.unit_word(unit))

    span = f"{turn(figure.low)} to {turn(figure.high)}" if figure.low is not None and figure.high is not None else ""
    return turn(figure.number), span, measures.unit_word(unit)
