"""What a workbook hides from who looks at it: hidden rows are asked about, hidden columns and sheets told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from overwood.memory.exchange.proposal import Choice, Question, RowFate
from overwood.memory.exchange.reading import Sheet
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines

_READ, _LEFT = "read", "leave out"


def rows(sheet: Sheet, lines: Lines, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """The lines without those of hidden rows where so answered, and the question; none where no hidden row holds a line
    or an empty plot."""
    hidden = set(sheet.hidden.rows)
    held = sorted({line.row for line in (*lines.lines, *lines.empties)} & hidden)
    if not held:
        return lines, ()
    told = said.setting("hidden_rows")
    answer = told if told in (_READ, _LEFT) else ""
    question = Question(
        key=said.key("hidden_rows"), kind="set", sheet=said.sheet, answer=answer,
        text=(f"{len(held)} rows of the tally are hidden in the sheet (row {', '.join(map(str, held[:8]))}): are "
            "they read?"),
        choices=(Choice(_READ, "they were hidden to look at others, and count"), Choice(_LEFT,
            "they were hidden because they do not count")),
    )  # fmt: skip
    return (without(lines, set(held), sheet.name, "hidden in the sheet, and left out") if answer == _LEFT else lines), (
        question,
    )


def without(lines: Lines, held: set[int], sheet: str, why: str) -> Lines:
    """The lines without those of some rows, which become notes that say why."""

    def seen(some: Iterable[Line]) -> tuple[Line, ...]:
        return tuple(line for line in some if line.row not in held)

    left = tuple(RowFate(sheet=sheet, row=row, fate="note", why=why) for row in sorted(held))
    fates = (*(one for one in lines.fates if one.row not in held), *left)
    return replace(lines, lines=seen(lines.lines), empties=seen(lines.empties), fates=fates)


def notes(sheet: Sheet, headings: Sequence[str], places: Mapping[str, int]) -> tuple[str, ...]:
    """What is said of a hidden sheet, and of hidden columns by whether they are read."""
    said = ("The sheet is hidden in its workbook.",) if sheet.hidden.sheet else ()
    names = [
        headings[at - 1]
        for at in sheet.hidden.columns
        if at <= len(headings) and headings[at - 1] and at - 1 in places.values()
    ]
    others = [
        headings[at - 1]
        for at in sheet.hidden.columns
        if at <= len(headings) and headings[at - 1] and headings[at - 1] not in names
    ]
    read = (f"Hidden in the sheet, and read: {', '.join(names[:8])}.",) if names else ()
    return (*said, *read, *((f"Hidden in the sheet, and not read: {', '.join(others[:8])}.",) if others else ()))
