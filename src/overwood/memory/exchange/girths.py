"""Trees measured round: a column headed girth or circumference holds pi times the diameter."""

from __future__ import annotations

import math
import re

from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Lines

_KEY, _ROUND, _ACROSS = "way_round", "round", "across"
_MAY_BE = re.compile(r"\ba?round\b|^tape\b", re.IGNORECASE)


def is_girth(heading: str) -> bool:
    """Whether a heading speaks of the way round a stem."""
    return bool(re.search(r"\b(girth|circumference|circ|gbh|cbh)\b", headings.plain(heading)))


def of(lines: Lines, heading: str, said: Said) -> tuple[Lines, tuple[Question, ...], tuple[str, ...]]:
    """The lines with diameters in the unit written, where the heading speaks of the way round or an answer does, with
    the question for it and what is said of it; what is no number is left for the check to name."""
    asked = (_question(heading, lines, said),) if _MAY_BE.search(heading) and not is_girth(heading) else ()
    # Until it is answered what else is asked is shown of girths: diameters are headed so.
    if not is_girth(heading) and (not asked or asked[0].answer == _ACROSS):
        return lines, asked, ()

    def across(cell: str) -> str:
        size = classes.measure(cell)
        return f"{size[0] / math.pi:.4g} {size[1]}".strip() if size else cell

    told = f"{heading} is the way round a stem: the diameter is it over pi."
    return lines.changed(across, lines.place("dbh_in")), asked, (told,)


def _question(heading: str, lines: Lines, said: Said) -> Question:
    told = said.setting(_KEY)
    sizes = [size[0] for cell in lines.values("dbh_in") if (size := classes.measure(cell)) is not None]
    most = max(sizes, default=math.pi)
    return Question(
        key=said.key(_KEY), kind="set", sheet=said.sheet, answer=told if told in (_ROUND, _ACROSS) else "",
        text=f"Does {heading!r} hold the way round each stem, or its diameter?",
        choices=(
            Choice(_ROUND, f"the circumference: {most:g} is a diameter of {most / math.pi:.3g}"),
            Choice(_ACROSS, f"the diameter, as of a tape that shows it: {most:g}"),
        ),
    )  # fmt: skip
