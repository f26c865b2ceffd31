"""Tables that stand below each other on one sheet, and sheets that lie on their side, as sheets of their own."""

from __future__ import annotations

import dataclasses
import difflib
import itertools
import re
from collections.abc import Sequence

from overwood.memory.exchange import classes, headings, legend
from overwood.memory.exchange.layout import labels
from overwood.memory.exchange.reading import Row, Sheet

# Rows that are looked through for a second table: our own limit.
_MOST_ROWS = 20_000
# A sheet on its side has a heading in most rows of its first column, and hardly any row that could be headings.
_SHARE, _FEWEST, _WIDEST = 0.6, 3, 2_000
_TWO, _ALIKE = 2, 0.5
_PLACES = ("stand", "visited_on", "point")
_SIZED = {"dbh_in", "height_class", "height_ft", "stems"}


def apart(sheet: Sheet) -> list[Sheet]:
    """The tables of a sheet, each under its own headings; the sheet itself where it holds one.

    A part keeps the numbers of its rows, and is named by the row it begins with.
    """
    rows = [(row, cells) for row, cells in sheet.rows() if any(cell.strip() for cell in cells)]
    if len(rows) > _MOST_ROWS:
        return [sheet]
    upright = _upright(rows)
    if upright:
        return [dataclasses.replace(sheet, source=upright, on_its_side=True)]
    rows, labelled = _labels_beside(rows)
    if labelled:
        sheet = dataclasses.replace(sheet, source=rows, beside=labelled)
    beside = _beside(rows)
    if beside:
        right = dataclasses.replace(sheet, name=f"{sheet.name}, right part", source=beside[1])
        return [part for one in (dataclasses.replace(sheet, source=beside[0]), right) for part in _cut(one)]
    return _cut(sheet, rows)


def _cut(sheet: Sheet, rows: Sequence[Row] = ()) -> list[Sheet]:
    rows = list(rows) or list(sheet.rows())
    starts = _starts(rows)
    if not starts:
        return [sheet]
    ends = (*starts[1:], len(rows))
    parts = [dataclasses.replace(sheet, source=rows[: starts[0]])]
    for start, end in zip(starts, ends, strict=True):
        name = f"{sheet.name} from row {rows[start][0]}"
        parts.append(dataclasses.replace(sheet, name=name, source=rows[start:end]))
    return parts


def notes(sheet: Sheet) -> tuple[str, ...]:
    """What must be said of a sheet that was turned."""
    said = "The sheet lies on its side: its columns are read as rows, row 3 is column C."
    return (said,) if sheet.on_its_side else ()


def _upright(rows: Sequence[Row]) -> list[Row]:
    """The columns as rows, where the first column holds the headings; none elsewhere."""
    first = [cells[0].strip() if cells else "" for _, cells in rows]
    filled = [cell for cell in first if cell]
    width = max((len(cells) for _, cells in rows), default=0)
    known = headings.score(filled)
    if known < max(_FEWEST, _SHARE * len(filled)) or width <= _FEWEST or len(rows) > headings.MOST_HEADINGS:
        return []
    if width > _WIDEST or max(headings.score(cells) for _, cells in rows) > 1:
        return []
    columns = [[cells[at].strip() if at < len(cells) else "" for _, cells in rows] for at in range(width)]
    return [(at + 1, cells) for at, cells in enumerate(columns)]


def _beside(rows: Sequence[Row]) -> tuple[list[Row], list[Row]] | None:
    """The left and the right part of rows whose headings name a second tally of another kind, as of young stems."""
    head = next((cells for _, cells in rows if _may_be_headings([cell.strip() for cell in cells])), [])
    known = {**headings.synonyms()["trees"], **headings.synonyms()["seedlings"]}
    columns = [
        known.get(headings.plain(cell), "height_class" if classes.is_class_heading(cell) else "")
        for cell in head[: headings.MOST_HEADINGS]
    ]
    start = _start_of_list(head, columns) or _start_of_tally(columns)
    if not start:
        return None
    shared = [at for at in range(start) if columns[at] in _PLACES and columns[at] not in columns[start:]]

    def of_right(cells: Sequence[str]) -> list[str]:
        own = [cell if at >= start else "" for at, cell in enumerate(cells)]
        if any(cell.strip() for cell in own):
            return [cell if at in shared else mine for at, (cell, mine) in enumerate(zip(cells, own, strict=True))]
        return own

    parts = [(row, cells[:start]) for row, cells in rows], [(row, of_right(cells)) for row, cells in rows]
    return parts[0], [(row, cells) for row, cells in parts[1] if any(cell.strip() for cell in cells)]


def _labels_beside(rows: Sequence[Row]) -> tuple[list[Row], tuple[Row, ...]]:
    """The rows without labels that stand right of a blank column (Stand: K1, BAF 20), and those labels with their
    values; the rows as they are where anything else stands there."""
    width = max((len(cells) for _, cells in rows), default=0)
    gaps = [at for at in range(2, width - 1) if not any(at < len(cells) and cells[at].strip() for _, cells in rows)]
    for gap in gaps:
        right = {row: [cell.strip() for cell in cells[gap:] if cell.strip()] for row, cells in rows}
        filled = {row: cells for row, cells in right.items() if cells}
        pairs = [(row, _label(cells)) for row, cells in filled.items()]
        if filled and all(pair for _, pair in pairs) and any(_is_known(pair[0]) for _, pair in pairs if pair):
            left = [(row, cells[:gap]) for row, cells in rows if any(cell.strip() for cell in cells[:gap])]
            return left, tuple((row, list(pair)) for row, pair in pairs if pair)
    return list(rows), ()


def _label(cells: Sequence[str]) -> tuple[str, str] | None:
    """A label and its value in two cells, or in one (Stand: K1, BAF 20); None of anything else."""
    match = re.match(r"^\s*([A-Za-z][A-Za-z ./]*?)\s*[:=#]?\s*(\S*\d\S*|(?<=[:=] ).+)$", cells[0])
    if len(cells) == 1 and match and (":" in cells[0] or "=" in cells[0] or _is_known(match[1])):
        return match[1], match[2]
    return (cells[0].rstrip(":= "), cells[1]) if len(cells) == _TWO and not cells[0][:1].isdigit() else None


def _is_known(label: str) -> bool:
    return any(
        headings.plain(label) in headings.words(f"section_{kind}") for kind in ("stand", "date", "baf", "plot_area")
    )


def _start_of_tally(columns: Sequence[str]) -> int:
    """Where a second tally of another kind begins; 0 where none does."""
    species = [at for at, name in enumerate(columns) if name == "species"]
    if len(species) != _TWO:
        return 0
    start = next((at for at in range(species[0] + 1, species[1]) if columns[at] in ("stand", "point")), species[1])
    left, right = set(columns[:start]) - {""}, set(columns[start:]) - {""}
    return 0 if right <= left or not right & _SIZED or not left & _SIZED else start


def _start_of_list(head: Sequence[str], columns: Sequence[str]) -> int:
    """Where a list of plots (their places, factors, sizes) begins right of a tally; 0 where none does.

    Its rows are of other plots than the rows of the tally that they stand beside.
    """
    points = [at for at, name in enumerate(columns) if name == "point"]
    if len(points) != _TWO or "species" not in columns[: points[1]]:
        return 0
    known = headings.synonyms()["points"]
    listed = {known.get(headings.plain(cell), "") for cell in head[points[1] :] if cell.strip()}
    return points[1] if "" not in listed and "species" not in columns[points[1] :] and len(listed) > 1 else 0


def _starts(rows: Sequence[Row]) -> list[int]:
    """Places at which another table begins: its headings, with the rows of words above them."""
    top: list[str] = []
    starts: list[int] = []
    for place, (_, raw) in enumerate(rows):
        cells = [cell.strip() for cell in raw]
        if not _heads_legend(cells) and not (_may_be_headings(cells) and _is_line(rows[place + 1 : place + 2])):
            continue
        words = [f"{headings.plain(cell)} {headings.unit_in(cell)}".strip() for cell in cells]
        start = place
        while start and _follows(rows, start) and _is_above(rows[start - 1][1]):
            start -= 1
        is_apart = start < place or not _follows(rows, start) or _shares(words, top)
        if top and _is_other(words, top, cells) and is_apart:
            starts.append(start)
            top = words
        top = top or words
    return starts


def _is_other(words: Sequence[str], top: Sequence[str], cells: Sequence[str]) -> bool:
    """Whether headings are others than those above, or stand elsewhere: not the same again, cut short or with a slip of
    the pen."""
    pairs = list(itertools.zip_longest(words, top[: len(words)], fillvalue=""))
    new = [at for at, (word, above) in enumerate(pairs) if word and word != above]
    same = sum(1 for word, above in pairs if word and word == above)
    if same < _FEWEST - 1 or same < len(new):
        return bool(new)
    return any(
        headings.score([words[at]]) or classes.is_member_heading(cells[at]) or _is_unlike(*pairs[at]) for at in new
    )


def _is_unlike(word: str, above: str) -> bool:
    """Whether a heading is no slip of the pen of the one above it, but says something else."""
    return bool(above) and difflib.SequenceMatcher(None, word, above).ratio() < _ALIKE


def _shares(words: Sequence[str], top: Sequence[str]) -> bool:
    """Whether any heading stands where it stood above."""
    return any(word and word == above for word, above in zip(words, top, strict=False))


def _follows(rows: Sequence[Row], place: int) -> bool:
    """Whether a row stands directly below the one before."""
    return place > 0 and rows[place - 1][0] == rows[place][0] - 1


def _may_be_headings(cells: Sequence[str]) -> bool:
    """Whether a row is several short words, at least two of them headings, or one beside species and classes."""
    filled = [cell for cell in cells if cell]
    numbers = [cell for cell in filled if cell[:1].isdigit() and not classes.is_class_heading(cell)]
    if len(filled) < _FEWEST - 1 or filled[0][:1].isdigit() or numbers or labels(filled):
        return False
    # A letter alone is a code of a line sooner than a heading.
    known = [cell for cell in filled if len(cell) > 1 and headings.score([cell])]
    if len(known) != 1 or len(filled) < _FEWEST:
        return len(known) > 1
    return all(classes.is_member_heading(cell) for cell in filled if cell not in known)


def _heads_legend(cells: Sequence[str]) -> bool:
    filled = [cell for cell in cells if cell]
    return len(filled) == _TWO and legend.is_headed(filled)


def _is_line(below: Sequence[Row]) -> bool:
    """Whether a row is a line of a tally: several cells, a digit among them, no heading or label."""
    filled = [cell.strip() for _, cells in below for cell in cells if cell.strip()]
    digits = sum(map(_has_digit, filled))
    return len(filled) > 1 and digits > 0 and (digits > 1 or not headings.score(filled)) and not labels(filled)


def _has_digit(cell: str) -> bool:
    return any(letter.isdigit() for letter in cell)


def _is_above(cells: Sequence[str]) -> bool:
    """Whether a row is a title or label of the table below it rather than a line of the one above."""
    filled = [cell.strip() for cell in cells if cell.strip()]
    return len(filled) == 1 or bool(labels(filled))
