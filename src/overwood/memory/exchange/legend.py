"""A legend of codes, on a sheet of its own or beside, above or below a tally: what a cruiser's codes stand for."""

from __future__ import annotations

import re
from collections.abc import Container, Sequence

from overwood.ground import species
from overwood.memory.exchange import classes
from overwood.memory.exchange.headings import plain
from overwood.memory.exchange.layout import Layout
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
# A code and its meaning written in one cell: "1 = white oak", "RM - red maple".
_EXPLAINED = re.compile(r"^\s*([A-Za-z0-9]{1,8})\s*(?:=|:|-|\u2013)\s*(\S.*?)\s*$")


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
    match = species.match(text)
    return match.spcd is not None or match.ambiguous or classes.span(text) is not None


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


def within(layout: Layout, used: Container[int]) -> tuple[dict[str, str], set[int]]:
    """What codes stand for by a legend on the sheet of the tally itself, in capitals, and the columns that hold it."""
    words: dict[str, str] = {}
    spoken: set[int] = set()
    for place in range(len(layout.headings) - 1):
        if place in used or place + 1 in used or not is_headed(layout.headings[place : place + 2]):
            continue
        rows = [(cells[place].strip(), cells[place + 1].strip()) for _, cells in layout.body if len(cells) > place + 1]
        listed = [pair for pair in rows if all(pair)]
        known = [pair for pair in listed if _is_meaning(pair[1])]
        if listed and len(known) * 2 > len(listed) and not _is_measured(known):
            words |= {code.upper(): meaning for code, meaning in known}
            spoken |= {place, place + 1}
    for _, cells in (*layout.titles, *layout.body):
        words |= _explained([cell for cell in cells if cell.strip()])
    return words, spoken


def is_headed(cells: Sequence[str]) -> bool:
    """Whether two cells are the headings of a legend."""
    return plain(cells[0]) in _CODE and plain(cells[1]) in _MEANING


def _explained(filled: Sequence[str]) -> dict[str, str]:
    """Codes that a row of words explains, one or several in a cell; none where anything else stands in the row."""
    bare = [re.sub(r"^\s*\w[\w ]*:(?=\s*\w+\s*=)", "", cell) for cell in filled]
    parts = [part for cell in bare for part in re.split(r"[;,]|\s+(?=\w{1,3}\s*=)", cell) if part.strip()]
    matches = [_EXPLAINED.match(part) for part in parts]
    pairs = [(one[1], one[2]) for one in matches if one is not None and species.match(one[2]).spcd is not None]
    return {code.upper(): meaning for code, meaning in pairs} if pairs and len(pairs) == len(parts) else {}
