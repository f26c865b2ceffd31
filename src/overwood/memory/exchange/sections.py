"""Rows of a tally that speak of the rows below them: "Plot 3", "Stand: K1", or several labels in one row, such as
"Plot: 3", "BAF: 10", "Date: 2025-05-14"."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

from overwood.memory.exchange import design, headings
from overwood.memory.exchange.layout import Layout, labels
from overwood.memory.exchange.reading import Row

# The columns such a row can fill, with the kind of words that name each.
COLUMNS = {
    "stand": "section_stand",
    "point": "section_point",
    "visited_on": "section_date",
    "baf_ft2_ac": "section_baf",
    "plot_area_ac": "section_plot_area",
}
_SIZES = ("baf_ft2_ac", "plot_area_ac")
# Values by column, in the order of the row.
Said = tuple[tuple[str, str], ...]


def of(layout: Layout, table: str, held: Collection[str]) -> dict[int, Said]:
    """Rows that name the stand, plot, day or size of the rows below, with what each says of which column.

    Rows above the headings count where rows below them name the same, or where no heading names the plot; ``held`` are
    the columns that have a heading.
    """
    below = _named_in(layout.body, table)
    again = {column for said in below.values() for column, _ in said}
    wanted = again | ({"point"} - set(held))
    above = {
        row: kept
        for row, said in _named_in(layout.titles, table).items()
        if (kept := tuple(pair for pair in said if pair[0] in wanted))
    }
    return above | below


def _named_in(rows: Sequence[Row], table: str) -> dict[int, Said]:
    named = {}
    for row, cells in rows:
        filled = [cell.strip() for cell in cells if cell.strip()]
        said = _of_labels(labels(filled) or (), table) or (_of_words(" ".join(filled)) if len(filled) <= 2 else ())
        # Labels with their values in cells of their own: Plot, 3, BAF, 10.
        pairs = tuple(zip(filled[::2], filled[1::2], strict=False))
        if not said and len(pairs) > 1 and len(filled) == 2 * len(of_pairs := _of_labels(pairs, table)):
            said = of_pairs
        if said:
            named[row] = said
    return named


def _of_labels(pairs: Sequence[tuple[str, str]], table: str) -> Said:
    answers = []
    for label, value in pairs:
        column = next((name for name, kind in COLUMNS.items() if headings.plain(label) in headings.words(kind)), "")
        if column and value and _is_value(column, value, table):
            answers.append((column, value))
    return tuple(answers)


def _is_value(column: str, value: str, table: str) -> bool:
    """Whether a column takes a value; a day that is none is taken too, so that its lines are refused by name."""
    return design.read(column, value, table) is not None if column in _SIZES else bool(re.search(r"\w", value))


def _of_words(text: str) -> Said:
    """A plot, stand or day in words without a colon: it must hold a digit."""
    for column in ("stand", "point", "visited_on"):
        words = "|".join(sorted(map(re.escape, headings.words(COLUMNS[column])), key=len, reverse=True))
        said = re.match(
            rf"^(?:{words})\s*(?:no\.?|#|number)?\s*[:#.]?\s*([\w./-]+)(?:\s*\((.+)\))?$", text, re.IGNORECASE
        )
        if said and any(letter.isdigit() for letter in said[1]):
            # Plot 2 (1/20 ac): what stands in brackets is its size, or the row is no such one.
            sizes = zip(_SIZES, design.sizes_named(f"{said[2] or ''} plot"), strict=True)
            of_plot = tuple((name, f"{one[0]:.7g}") for name, one in sizes if len(one) == 1)
            return ((column, said[1]), *of_plot) if of_plot or not said[2] else ()
    return ()


def is_only(said: Mapping[int, Said], row: int, column: str) -> bool:
    """Whether a row speaks of one column alone."""
    return [name for name, _ in said[row]] == [column]
