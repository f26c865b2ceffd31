"""A legend of codes on a sheet of its own: which words a cruiser's letters or numbers stand for."""

from __future__ import annotations

from collections.abc import Sequence

from overwood.ground import species
from overwood.memory.exchange import classes
from overwood.memory.exchange.headings import plain
from overwood.memory.exchange.reading import Row, Sheet

_CODE = (
    "code",
    "codes",
    "symbol",
    "abbreviation",
    "abbr",
    "letters",
    "letter",
    "key",
    "number",
    "no",
    "species code",
    "sp",
    "sp code",
    "class",
)
_MEANING = (
    "species",
    "meaning",
    "name",
    "common name",
    "species name",
    "stands for",
    "description",
    "tree",
    "means",
    "full name",
    "height class",
    "height",
    "class",
    "ht class",
)
_MOST_ROWS = 400


def pairs(sheet: Sheet) -> list[tuple[str, str]]:
    """The (code, species) pairs of a legend; none where the sheet is no legend: two columns, most of the second
    species."""
    rows = [(row, [cell.strip() for cell in cells if cell.strip()]) for row, cells in _first_rows(sheet)]
    listed = [(cells[0], cells[1]) for _, cells in rows if len(cells) == 2]
    if not rows or len(listed) * 2 < len(rows):
        return []
    titled = any(plain(cells[0]) in _CODE and plain(cells[1]) in _MEANING for _, cells in rows if len(cells) == 2)
    known = [pair for pair in listed if _is_meaning(pair[1])]
    known = [pair for pair in known if plain(pair[1]) not in _MEANING]
    return known if known and (titled or len(known) * 2 > len(listed)) and not _is_measured(known) else []


def _is_meaning(text: str) -> bool:
    """Whether a text says what a code can stand for: a species, or a class of heights."""
    found = species.match(text)
    return found.spcd is not None or found.ambiguous or classes.span(text) is not None


def _is_measured(known: Sequence[tuple[str, str]]) -> bool:
    """Whether the second column holds numbers: codes of a tally, not names."""
    return all(second.replace(".", "").isdigit() for _, second in known)


def _first_rows(sheet: Sheet) -> list[Row]:
    rows = []
    for row, cells in sheet.rows():
        if any(cell.strip() for cell in cells):
            rows.append((row, cells))
        if len(rows) >= _MOST_ROWS:
            break
    return rows


def of(sheets: Sequence[Sheet]) -> dict[str, str]:
    """What the codes of a file stand for, in capitals, by all its legends; of no more than one sheet there is none."""
    if len(sheets) < 2:
        return {}
    return {code.upper(): name for sheet in sheets for code, name in pairs(sheet)}
