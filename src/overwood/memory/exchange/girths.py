"""Trees measured round: a column headed girth or circumference holds pi times the diameter."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.straighten import Line, Lines


def is_girth(heading: str) -> bool:
    """Whether a heading speaks of the way round a stem."""
    return bool(re.search(r"\b(girth|circumference|circ|gbh|cbh)\b", headings.plain(heading)))


def of(lines: Lines, heading: str) -> tuple[Lines, tuple[str, ...]]:
    """The lines with diameters in the unit written, where the heading speaks of the way round, and what is said of it;
    what is no number is left for the check to name."""
    if not is_girth(heading):
        return lines, ()
    place = lines.place("dbh_in")

    def across(line: Line) -> Line:
        found = classes.measure(line.cells[place])
        size = f"{found[0] / math.pi:.4g} {found[1]}".strip() if found else line.cells[place]
        return replace(line, cells=(*line.cells[:place], size, *line.cells[place + 1 :]))

    told = f"{heading} is the way round a stem: the diameter is it over pi."
    return replace(lines, lines=tuple(map(across, lines.lines))), (told,)
