"""Several years on one sheet, told by a column of years: a person says which year is read, or that all are one look."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from overwood.memory.exchange import headings, hidden
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines

# The column stands under this name until the lines of a year are chosen.
YEAR = "year#"
_HEADED = re.compile(r"^(?:(?:cruise|survey|visit|inventory|measurement|measure|meas|sample|tally) )?(?:year|yr)$")
_ALL = "all"


def place(found: Layout) -> int:
    """Where a column of two years or more stands; -1 where none does."""
    for at, heading in enumerate(found.headings[: headings.MOST_HEADINGS]):
        if _HEADED.match(headings.plain(heading)):
            values = {cells[at].strip() for _, cells in found.body if at < len(cells) and cells[at].strip()}
            if len(values) > 1 and all(re.fullmatch(r"(19|20)\d\d", value) for value in values):
                return at
    return -1


def of(lines: Lines, sheet: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """The lines of the year that was answered, and the question; a column of years is dropped."""
    at = lines.place(YEAR)
    if at < 0:
        return lines, ()
    every = (*lines.lines, *lines.empties)
    years = Counter(line.cells[at] for line in every if line.cells[at])
    told = said.setting("year")
    answer = told if told in (*years, _ALL) else ""
    question = Question(
        key=said.key("year"), kind="set", sheet=said.sheet, answer=answer,
        text=(f"The sheet holds lines of {', '.join(sorted(years))}, and they would come in as one visit: which "
            "year is read?"),
        choices=(*(Choice(year, f"{years[year]} lines; the others are left out") for year in sorted(years)),
            Choice(_ALL, "all are one look")),
    )  # fmt: skip
    left = {line.row for line in every if line.cells[at] != answer} if answer not in ("", _ALL) else set()
    lines = hidden.without(lines, left, sheet, "of another year, left out") if left else lines

    def bare(some: Iterable[Line]) -> tuple[Line, ...]:
        return tuple(replace(line, cells=(*line.cells[:at], *line.cells[at + 1 :])) for line in some)

    names = (*lines.columns[:at], *lines.columns[at + 1 :])
    return replace(lines, columns=names, lines=bare(lines.lines), empties=bare(lines.empties)), (question,)
