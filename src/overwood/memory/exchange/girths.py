"""Trees measured round: a column headed girth or circumference holds pi times the diameter."""

from __future__ import annotations

import math
import re

from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.straighten import Lines


def is_girth(heading: str) -> bool:
    """Whether a heading speaks of the way round a stem."""
    return bool(re.search(r"\b(girth|circumference|circ|gbh|cbh)\b", headings.plain(heading)))


def of(lines: Lines, heading: str) -> tuple[Lines, tuple[str, ...]]:
    """The lines with diameters in the unit written, where the heading speaks of the way round, and what is said of it;
    what is no number is left for the check to name."""
    if not is_girth(heading):
        return lines, ()

    def across(cell: str) -> str:
        found = classes.measure(cell)
        return f"{found[0] / math.pi:.4g} {found[1]}".strip() if found else cell

    told = f"{heading} is the way round a stem: the diameter is it over pi."
    return lines.changed(across, lines.place("dbh_in")), (told,)
