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


def as_diameters(lines: Lines) -> Lines:
    """The same lines with diameters in the unit written; what is no number is left for the check to name."""
    place = lines.place("dbh_in")

    def across(line: Line) -> Line:
        found = classes.measure(line.cells[place])
        size = f"{found[0] / math.pi:.4g} {found[1]}".strip() if found else line.cells[place]
        return replace(line, cells=(*line.cells[:place], size, *line.cells[place + 1 :]))

    return replace(lines, lines=tuple(map(across, lines.lines))) if place >= 0 else lines
