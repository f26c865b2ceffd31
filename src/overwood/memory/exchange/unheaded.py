"""A sheet without headings, read by what its cells hold: one column of species, beside plots and diameters."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from overwood.ground import species
from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.reading import Sheet
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import is_word

# Shares of the cells of a column that must be of one kind, and the fewest rows such a sheet has: our own limits.
_MOST_CELLS, _FEWEST_ROWS, _WIDEST = 0.8, 3, 12
_YES = "yes"


def layout_of(sheet: Sheet) -> Layout | None:
    """The sheet under headings that say what its columns look like; None where they look like no tally."""
    rows = [(row, [cell.strip() for cell in cells]) for row, cells in sheet.rows() if any(map(str.strip, cells))]
    width = max((len(cells) for _, cells in rows), default=0)
    if len(rows) < _FEWEST_ROWS or width > _WIDEST:
        return None
    columns = [[cells[at] if at < len(cells) else "" for _, cells in rows] for at in range(width)]
    kinds = [at for at, cells in enumerate(columns) if _share(cells, _is_species)]
    numbers = [at for at, cells in enumerate(columns) if at not in kinds and _share(cells, _is_number)]
    if len(kinds) != 1 or not numbers:
        return None
    after = [at for at in numbers if at > kinds[0]]
    size = (after or numbers)[0]
    plot = next((at for at in numbers if at != size and _is_rising(columns[at])), -1)
    if plot < 0:
        return None
    words = {kinds[0]: "Species", size: "DBH", plot: "Plot"}
    named = tuple(f"{words.get(at, 'Column')} (column {chr(ord('A') + at)})" for at in range(width))
    return Layout(
        file=sheet.file, sheet=sheet.name, titles=(), heading_rows=(), headings=named, body=tuple(rows),
        delimiter=sheet.delimiter if isinstance(sheet.source, bytes) else "",
    )  # fmt: skip


def is_line(cells: Sequence[str]) -> bool:
    """Whether cells taken for headings, for a letter among them, are a line: a species beside a number."""
    filled = [cell for cell in cells if cell]
    known = [cell for cell in filled if headings.score([cell])]
    return all(len(cell) == 1 for cell in known) and any(map(_is_species, filled)) and any(map(_is_number, filled))


def question(layout: Layout, said: Said) -> Question:
    """Whether the columns are what they look like."""
    shown = ", ".join(layout.headings)
    text = f"The sheet has no headings. By what its cells hold its columns are {shown}: is that right?"
    told = said.setting("no_headings")
    choices = (Choice(_YES, "else say what a column is, or put a row of headings above the first line"),)
    return Question(
        key=said.key("no_headings"), kind="set", sheet=said.sheet, text=text, choices=choices,
        answer=told if told == _YES else "",
    )  # fmt: skip


def _share(cells: Sequence[str], of_kind: Callable[[str], bool]) -> bool:
    filled = [cell for cell in cells if cell and not is_word("none", cell)]
    return bool(filled) and sum(map(of_kind, filled)) >= _MOST_CELLS * len(filled)


def _is_species(cell: str) -> bool:
    match = species.match(cell)
    return not cell.isdigit() and (match.ambiguous or match.spcd not in (None, species.UNKNOWN))


def _is_number(cell: str) -> bool:
    return classes.measure(cell) is not None


def _is_rising(cells: Sequence[str]) -> bool:
    """Whether whole numbers never fall: those of plots, line by line."""
    numbers = [int(cell) for cell in cells if cell.isdigit()]
    return len(numbers) == len([cell for cell in cells if cell]) and numbers == sorted(numbers)
