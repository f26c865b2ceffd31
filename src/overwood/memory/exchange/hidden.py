"""What a workbook hides from who looks at it: hidden rows are asked about, hidden columns and sheets told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from overwood.ground.measures import many
from overwood.memory.exchange.proposal import Choice, Question, RowFate
from overwood.memory.exchange.reading import Sheet
from overwood.memory.exchange.said import Said, rows_said
from overwood.memory.exchange.straighten import Line, Lines

_READ, _LEFT = "read", "leave out"
_WHY_HIDDEN = ("they were hidden to look at others, and count", "they were hidden because they do not count")
_WHY_STRUCK = ("they count all the same", "they were taken back")


def rows(sheet: Sheet, lines: Lines, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """The lines without those of hidden or struck rows where so answered, and the questions; none where no such row
    holds a line or an empty plot."""
    questions: list[Question] = []
    for key, numbers, looks, reasons in (
        ("hidden_rows", sheet.hidden.rows, "hidden", _WHY_HIDDEN),
        ("struck_rows", sheet.hidden.struck, "struck through", _WHY_STRUCK),
    ):
        held = sorted({line.row for line in (*lines.lines, *lines.empties)} & set(numbers))
        if not held:
            continue
        told = said.setting(key)
        answer = told if told in (_READ, _LEFT) else ""
        text = many(len(held), "row of the tally is", "rows of the tally are")
        text += f" {looks} in the sheet ({rows_said(held)}): {'is it' if len(held) == 1 else 'are they'} read?"
        questions.append(
            Question(
                key=said.key(key), kind="set", sheet=said.sheet, answer=answer, text=text,
                choices=(Choice(_READ, reasons[0]), Choice(_LEFT, reasons[1])),
            )
        )  # fmt: skip
        if answer == _LEFT:
            lines = without(lines, set(held), sheet.name, f"{looks} in the sheet, and left out")
    return lines, tuple(questions)


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
