"""Stand and plot written in one cell, as in S1-3: apart where a heading says so, or a person does."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from overwood.ground.measures import many
from overwood.memory.exchange import headings
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines, without

_JOINED = re.compile(r"^(.+?)\s*[-/_.:, ]\s*([^-/_.:, ]+)$")
# Quarters of a plot, unlike milacres on it.
_QUARTERS = re.compile(r"^\s*(?:quad(?:rant|rat)?|quarter|qtr|qd)\b", re.IGNORECASE)
KEY, PARTS = "stand_in_plot", "plot_parts"


def apart(lines: Lines, heading: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """Lines with the stand in a column of its own, and the question where only the names speak for it.

    It is asked where every plot's name begins with a stand of the book, or with one a heading promises.
    """
    point = lines.place("point")
    if point < 0 or "stand" in lines.columns:
        return lines, ()
    names = list(dict.fromkeys(name for name in lines.values("point", empty_too=True) if name))
    pairs = {name: (match[1], match[2]) for name in names if (match := _JOINED.match(name))}
    if not names or len(pairs) < len(names):
        return lines, ()
    if headings.is_stand_and_plot(heading):
        return _split(lines, point, pairs), ()
    known = {one.stand.casefold() for one in said.known.stands}
    named = {stand.casefold() for stand, _ in pairs.values()}
    if not named <= known or named == {said.setting("stand").casefold()}:
        return lines, ()
    told = said.setting(KEY).lower()
    question = _question(names[0], pairs[names[0]], sorted({stand for stand, _ in pairs.values()}), said, told)
    return (_split(lines, point, pairs) if told == "yes" else lines), (question,)


def parts(lines: Lines, heading: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """Lines without the quarters of their plots, where those are no plots of their own, and the question for it.

    Four quarters of a tenth acre that are read as plots of a tenth acre each make a quarter of what stands there.
    """
    at = lines.place("subplot")
    if at < 0 or lines.place("point") < 0 or not _QUARTERS.search(heading):
        return lines, ()
    told = said.setting(PARTS)
    question = Question(
        key=said.key(PARTS), kind="set", sheet=said.sheet, answer=told if told in ("whole", "each") else "",
        text=f"{heading!r} names parts of plots: is the size that is said of the whole plot, or of each part?",
        choices=(Choice("whole", "parts of a plot are read as one plot"), Choice("each", "each part is a plot")),
    )  # fmt: skip
    return (without(lines, at) if told == "whole" else lines), (question,)


def is_open(questions: Sequence[Question]) -> bool:
    """Whether it is still to be said if the names hold the stand: until then no stand is asked for."""
    return any(one.key.endswith(KEY) and not one.answer for one in questions)


def _question(name: str, pair: tuple[str, str], stands: Sequence[str], said: Said, told: str) -> Question:
    text = f"Every plot's name begins with a stand of the book: is {name!r} plot {pair[1]} of stand {pair[0]}?"
    choices = (
        Choice("yes", f"lines go to {many(len(stands), 'stand')}: {', '.join(stands[:8])}"),
        Choice("no", "the names are plots of one stand"),
    )
    return Question(
        key=said.key(KEY), kind="set", sheet=said.sheet, text=text, choices=choices,
        answer=told if told in ("yes", "no") else "",
    )  # fmt: skip


def _split(lines: Lines, point: int, pairs: dict[str, tuple[str, str]]) -> Lines:
    def one(line: Line) -> Line:
        stand, plot = pairs.get(line.cells[point], ("", line.cells[point]))
        return replace(line, cells=(*line.cells[:point], plot, *line.cells[point + 1 :], stand))

    columns = (*lines.columns, "stand")
    return replace(lines, columns=columns, lines=tuple(map(one, lines.lines)), empties=tuple(map(one, lines.empties)))
