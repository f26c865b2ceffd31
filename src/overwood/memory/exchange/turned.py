"""Cells that stand for a number without being one: inch classes, open-ended classes, yes and no for browsed stems."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace

from overwood.ground.measures import many
from overwood.memory.exchange import classes, measures
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said, rows_said
from overwood.memory.exchange.straighten import Line, Lines, is_word

_COUNTS_BITES = re.compile(r"browsed|bitten|\bno\b|#|count|stems", re.IGNORECASE)
_SCALE = re.compile(r"[(\[]\s*\d\s*(?:-|to)\s*\d\s*[)\]]|score|rating|class|index|level", re.IGNORECASE)


def of(lines: Lines, table: str, names: Mapping[str, str], said: Said) -> tuple[Lines, list[Question]]:
    """The lines with such cells as numbers, as far as they are known, and what must be asked; ``names`` are the
    headings by column."""
    lines, sizes = _open_classes(lines, said) if table == "trees" else (lines, [])
    lines, browsed = _browsed(lines, names.get("browsed", ""), said) if table == "seedlings" else (lines, [])
    return lines, [*sizes, *browsed]


def _changed(lines: Lines, column: str, change: Callable[[Line, str], str]) -> Lines:
    place = lines.place(column)

    def one(line: Line) -> Line:
        return Line(line.row, (*line.cells[:place], change(line, line.cells[place]), *line.cells[place + 1 :]))

    return replace(lines, lines=tuple(map(one, lines.lines)))


def _open_classes(lines: Lines, said: Said) -> tuple[Lines, list[Question]]:
    """Diameters of classes without an upper limit, as the size that a person says; two-sided ones of a wide sheet, or a
    column of classes, by their middle."""
    if "dbh_in" not in lines.columns:
        return lines, []
    sizes = [cell for cell in lines.values("dbh_in") if cell]
    ranges = sum(classes.middle(cell) != cell for cell in sizes)
    # Two limits in one cell of a column of sizes are a slip; in most cells they are classes.
    wide = (lines.columns[-1] == "stems" and "dbh_in" in lines.columns[-3:]) or ranges * 2 > len(sizes)
    written = sorted({cell for cell in lines.values("dbh_in") if classes.is_open_ended(cell)})
    questions = [_open_question(cell, said) for cell in written]
    told = {question.key.partition("dbh_in.")[2]: question.answer for question in questions}
    return _changed(
        lines, "dbh_in", lambda _, cell: told.get(cell) or (classes.middle(cell) if wide else cell)
    ), questions


def _open_question(written: str, said: Said) -> Question:
    given = classes.span(written)
    low = given.low if given else 0.0
    text = f"Diameter class {written!r} has no upper limit: which diameter stands for it?"
    choices = tuple(Choice(f"{low + more:g}", f"{more:g} above its lower limit") for more in (1, 2, 4))
    answer = said.code("dbh_in", written)
    return Question(
        key=said.key(f"dbh_in.{written}"), kind="code", text=text, choices=choices, answer=answer, sheet=said.sheet
    )


def _bites(lines: Lines, heading: str, said: Said) -> tuple[Lines, list[Question]]:
    """Whether numbers below a heading that counts nothing, such as Browse, count stems or grade how hard they were
    bitten."""
    counted = [int(cell) for cell in lines.values("browsed") if cell.isdigit()]
    if not any(counted) or (_COUNTS_BITES.search(heading) and not _SCALE.search(heading)):
        return lines, []
    told = said.setting("bites")
    text = f"{heading!r} holds numbers up to {max(counted)}: do they count bitten stems, or grade how hard?"
    choices = (
        Choice("stems", "each is a number of stems bitten"),
        Choice("grades", "they grade, and no number of bitten stems is known"),
    )
    answer = told if told in ("stems", "grades") else ""
    question = Question(key=said.key("bites"), kind="set", text=text, choices=choices, answer=answer, sheet=said.sheet)
    return _changed(lines, "browsed", lambda _, cell: cell if answer != "grades" else ""), [question]


def _browsed(lines: Lines, heading: str, said: Said) -> tuple[Lines, list[Question]]:
    """Yes and no for browsed stems: on a line of one stem they are 1 and 0; of more stems, a yes is asked about."""
    values = {cell for cell in lines.values("browsed") if cell}
    lines, asked = _bites(lines, heading, said)
    if asked:
        return lines, asked
    if not values or not all(is_word("yes", cell) or is_word("no", cell) for cell in values) or values <= {"0", "1"}:
        return lines, []
    stems, place = lines.place("stems"), lines.place("browsed")
    counts = {line.row: measures.counted(line.cells[stems]) if stems >= 0 else "1" for line in lines.lines}
    several = [
        line.row for line in lines.lines if is_word("yes", line.cells[place]) and counts[line.row] not in ("", "1")
    ]
    told = said.setting("browsed")
    answer = told if told in ("all", "one", "unknown") else ""
    text = (
        many(len(several), "line of several stems says", "lines of several stems say")
        + f" yes to browsed ({rows_said(several)}): how many stems were bitten?"
    )
    choices = (Choice("all", "all stems of the line"), Choice("one", "one of them"), Choice("unknown", "not noted"))
    question = Question(
        key=said.key("browsed"), kind="set", text=text, choices=choices, answer=answer, sheet=said.sheet
    )

    def number(line: Line, cell: str) -> str:
        if not cell or is_word("no", cell):
            return "0" if cell else ""
        count = counts[line.row]
        return "1" if count in ("", "1") or answer == "one" else count if answer == "all" else ""

    return _changed(lines, "browsed", number), [question] if several else []
