"""Where the headings of a foreign sheet stand: title rows above, one or two rows of headings, the body below."""

from __future__ import annotations

import re
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field, replace

from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.reading import Row, Sheet

_LOOK_AT_ROWS = 40
# Words that stand below a heading beside units.
_BELOW = ("no", "number", "code", "id", "name", "num", "letters", "class", "")
_LABEL = re.compile(r"^\s*([A-Za-z][A-Za-z ./#]{0,30}?)\s*[:=]\s*(.*)$")
# A heading with the number of the tree on its line, and how many trees make such a sheet.
_NUMBERED = re.compile(r"^\s*(.*[A-Za-z.)])[\s_#]*([1-9]|[12]\d)\s*$")
_FEWEST_TREES = 2
# A code that a heading explains, up to the next one.
_CODED = re.compile(r"\b(\w{1,3})\s*=\s*([^=;,()\[\]]+?)(?=\s*[;,)\]]|\s+\w{1,3}\s*=|\s*$)")
_PAIR = re.compile(r"^\s*([A-Za-z][A-Za-z ./]{0,30}?)\s*[:=]\s*(\S.*)?$")


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A sheet apart: rows above the headings, the headings (two rows joined), and every row below with anything in
    it."""

    file: str
    sheet: str
    titles: tuple[Row, ...]
    heading_rows: tuple[int, ...]
    headings: tuple[str, ...]
    body: tuple[Row, ...]
    delimiter: str = ""
    # Columns that come again further right: each with the first of its kind.
    again: Mapping[int, int] = field(default_factory=dict)
    # Labels right of the table, which say what titles do.
    beside: tuple[Row, ...] = ()

    @property
    def title_text(self) -> str:
        """All that stands above the headings, as one line."""
        return " ".join(cell.strip() for _, cells in (*self.titles, *self.beside) for cell in cells if cell.strip())

    @property
    def title_pairs(self) -> dict[str, tuple[str, int]]:
        """What the title rows say as "word: value" or in two cells side by side, with the row: stand, day, factor."""
        pairs: dict[str, tuple[str, int]] = {}
        for row, cells in (*self.titles, *self.beside):
            filled = [cell.strip() for cell in cells if cell.strip()]
            for place, cell in enumerate(filled):
                said = _PAIR.match(cell)
                if said and said[2]:
                    pairs.setdefault(headings.plain(said[1]), (said[2].strip(), row))
                elif place + 1 < len(filled) and len(cell) <= 30:
                    pairs.setdefault(headings.plain(cell), (filled[place + 1], row))
        return pairs


def of(sheet: Sheet, told: Container[str] = (), kept: Container[str] = ()) -> Layout | None:
    """The layout of a sheet; None where no row looks like headings.

    ``told`` are headings a person spoke of, ``kept`` signatures of headings that were understood before: both go before
    the words that are known.

    Raises BadRecords when the file breaks off as a table.
    """
    rows = [(row, cells) for row, cells in sheet.rows() if any(cell.strip() for cell in cells)]
    place = _heading_place(rows, told, kept)
    if place < 0:
        return None
    first, last, joined = _joined(rows, place)
    named, body = _explained(joined, rows[last + 1 :])
    return Layout(
        file=sheet.file,
        sheet=sheet.name,
        titles=tuple(rows[:first]),
        heading_rows=tuple(row for row, _ in rows[first : last + 1]),
        headings=_unnumbered(named),
        body=body,
        delimiter=sheet.delimiter if isinstance(sheet.source, bytes) else "",
        beside=sheet.beside,
    )


def _explained(cells: Sequence[str], body: Sequence[Row]) -> tuple[list[str], tuple[Row, ...]]:
    """Headings that explain their own codes ("Ht (1=<1 ft, 2=1-3 ft)") without them, and the cells as they mean; other
    codes of the column stay as they are."""
    named, means = list(cells), dict[int, dict[str, str]]()
    for at, heading in enumerate(cells[: headings.MOST_HEADINGS]):
        pairs = {code.lower(): meaning for code, meaning in _CODED.findall(heading)}
        held = {line[at].strip().lower() for _, line in body if at < len(line)} - {""}
        if len(pairs) > 1 and held & set(pairs):
            named[at], means[at] = _CODED.split(heading)[0].strip(" (["), pairs
    if not means:
        return named, tuple(body)
    return named, tuple(
        (row, [means[at].get(cell.strip().lower(), cell) if at in means else cell for at, cell in enumerate(line)])
        for row, line in body
    )


def labels(cells: Sequence[str]) -> tuple[tuple[str, str], ...] | None:
    """The labels of a row with their values, "" where none is written; None where anything in the row is neither."""
    pairs: list[tuple[str, str]] = []
    for cell in (cell for cell in cells if cell):
        said = _LABEL.match(cell)
        if said and not cell[:1].isdigit():
            pairs.append((said[1], said[2].strip()))
        elif pairs and not pairs[-1][1]:
            pairs[-1] = (pairs[-1][0], cell)
        else:
            return None
    return tuple(pairs) if any(value for _, value in pairs) else None


def side_by_side(layout: Layout, places: Mapping[str, int]) -> Layout:
    """A sheet whose headings come again further right (two trees on a line, two tables) with the right part put below.

    Columns that come once, such as the plot, hold for both parts; a row keeps its number.
    """
    firsts = {headings.plain(layout.headings[place]): place for place in places.values()}
    again: dict[int, dict[int, int]] = {}
    counts: dict[str, int] = {}
    for place, cell in enumerate(layout.headings[: headings.MOST_HEADINGS]):
        word = headings.plain(cell)
        if word in firsts and place != firsts[word]:
            counts[word] = counts.get(word, 0) + 1
            again.setdefault(counts[word], {})[firsts[word]] = place
    copies = [moves for moves in again.values() if len(moves) > 1]
    if not copies:
        return layout
    if "point" not in places and (
        names := _plots_above(layout, [min(places.values()), *(min(m.values()) for m in copies)])
    ):
        return _under_plots(layout, places, copies, names)
    body = list(layout.body)
    for moves in copies:
        for row, cells in layout.body:
            right = {at: cells[place] if place < len(cells) else "" for at, place in moves.items()}
            if any(cell.strip() for cell in right.values()):
                body.append(
                    (
                        row,
                        [right.get(at, cell) for at, cell in enumerate(cells[: min(min(m.values()) for m in copies)])],
                    )
                )
    moved = {place: first for moves in copies for first, place in moves.items()}
    return replace(layout, body=tuple(body), again=moved)


def _plots_above(layout: Layout, starts: Sequence[int]) -> list[str]:
    """The plots named in the row above the headings, one over each table beside another; none where one lacks."""
    row, cells = layout.titles[-1] if layout.titles else (0, [])
    if row != layout.heading_rows[0] - 1:
        return []
    ends = [*starts[1:], max(len(cells), starts[-1] + 1)]
    over = [
        " ".join(cell.strip() for cell in cells[at:end] if cell.strip()) for at, end in zip(starts, ends, strict=True)
    ]
    words = "|".join(sorted(map(re.escape, headings.words("section_point")), key=len, reverse=True))
    named = [re.match(rf"^(?:{words})\s*(?:no\.?|#|number)?\s*[:#.]?\s*(\w+)$", text, re.IGNORECASE) for text in over]
    return [one[1] for one in named if one] if all(named) else []


def _under_plots(
    layout: Layout, places: Mapping[str, int], copies: Sequence[Mapping[int, int]], names: Sequence[str]
) -> Layout:
    """Tables beside each other with their plots above, put below each other with their plot in a column of its own."""
    width = len(layout.headings)
    body: list[Row] = []
    for name, moves in zip(names, ({at: at for at in places.values()}, *copies), strict=True):
        for row, cells in layout.body:
            own = {at: cells[place] for at, place in moves.items() if place < len(cells) and cells[place].strip()}
            if own:
                body.append((row, [*(own.get(at, "") for at in range(width)), name]))
    again = {place: first for moves in copies for first, place in moves.items()}
    return replace(layout, headings=(*layout.headings, "Plot"), body=tuple(body), again=again)


def _unnumbered(cells: Sequence[str]) -> tuple[str, ...]:
    """Headings of several trees on a line (Sp1, DBH1, Sp2, DBH2) without their numbers, so that they come again."""
    parts = {at: match for at, cell in enumerate(cells[: headings.MOST_HEADINGS]) if (match := _NUMBERED.match(cell))}
    known = headings.synonyms()["trees"]
    kinds = {at: match[1] for at, match in parts.items() if headings.plain(match[1]) in known}
    species = {parts[at][2] for at, word in kinds.items() if known[headings.plain(word)] == "species"}
    alone = {known.get(headings.plain(cell)) for cell in cells}
    if len(species) + ("species" in alone) < _FEWEST_TREES or not species:
        return tuple(cells)
    return tuple(kinds[at] if at in kinds and parts[at][2] in species else cell for at, cell in enumerate(cells))


def _heading_place(rows: Sequence[Row], told: Container[str], kept: Container[str]) -> int:
    """The place of the row that has most known headings; the first of equals, -1 where none has one."""
    for place, (_, cells) in enumerate(rows[:_LOOK_AT_ROWS]):
        if headings.signature([cell.strip() for cell in cells]) in kept:
            return place
    spoken = [sum(cell.strip() in told for cell in cells if cell.strip()) for _, cells in rows[:_LOOK_AT_ROWS]]
    if max(spoken, default=0) > 1:
        return spoken.index(max(spoken))
    scores = [_row_score(cells) for _, cells in rows[:_LOOK_AT_ROWS]]
    best = max(scores, default=0.0)
    return scores.index(best) if best >= 1 else -1


def _row_score(cells: Sequence[str]) -> float:
    filled = [cell for cell in cells[: headings.MOST_HEADINGS] if cell.strip()]
    known = headings.score(cells)
    spread = sum(1 for cell in filled if classes.is_class_heading(cell))
    # A title is one long cell, labels have their values beside them; headings are several short ones.
    return known + min(spread, known) / 100 if len(filled) > 1 and not labels(filled) else 0


def _joined(rows: Sequence[Row], place: int) -> tuple[int, int, list[str]]:
    """Headings of one row, or of two where a group stands above its members or units stand below; first and last
    place."""
    cells = [cell.strip() for cell in rows[place][1]]
    if place + 1 < len(rows) and _is_lower_row(cells, rows[place + 1][1]):
        return place, place + 1, _merged(cells, rows[place + 1][1])
    if place and rows[place - 1][0] == rows[place][0] - 1 and _is_group_row(rows[place - 1][1], cells):
        return place - 1, place, _merged(rows[place - 1][1], cells)
    return place, place, cells


def _is_lower_row(upper: Sequence[str], lower: Sequence[str]) -> bool:
    """Whether a row below the headings is a second row of them: units, or classes and species below a group."""
    upper = [cell.strip() for cell in upper]
    # A heading merged over both rows stands in both.
    filled = [
        (at, text)
        for at, cell in enumerate(lower)
        if (text := cell.strip()) and (at >= len(upper) or upper[at] != text)
    ]
    if not filled:
        return False
    if any(_is_unit(cell) for _, cell in filled) and all(_is_unit(c) or headings.plain(c) in _BELOW for _, c in filled):
        return True
    if not any(place >= len(upper) or not upper[place] for place, _ in filled):
        return False
    below_group = [cell for place, cell in filled if _below_group(upper, place)]
    return len(below_group) == len(filled) >= 2 and all(classes.is_member_heading(cell) for cell in below_group)


def _is_unit(cell: str) -> bool:
    return bool(headings.UNIT_WORDS.get(cell.strip("()[]. ").lower()))


def _below_group(upper: Sequence[str], place: int) -> bool:
    """Whether a place lies below a group heading or a blank cell right of it, not below a known heading of its own."""
    above = upper[place] if place < len(upper) else ""
    if above:
        return headings.score([above]) == 0 or (place + 1 >= len(upper) or not upper[place + 1])
    return True


def _is_group_row(upper: Sequence[str], lower: Sequence[str]) -> bool:
    """Whether the row above the headings names groups of columns, rather than a title of the sheet."""
    filled = [place for place, cell in enumerate(upper) if cell.strip()]
    first = next((place for place, cell in enumerate(lower) if cell.strip()), 0)
    if not filled or filled[0] <= first:
        return False
    members = [cell for place, cell in enumerate(lower) if place >= filled[0] and cell]
    return len(members) >= 2 and sum(map(classes.is_member_heading, members)) >= 2


def _merged(upper: Sequence[str], lower: Sequence[str]) -> list[str]:
    """Two rows of headings as one; a group reaches right over the blank cells beside it."""
    merged, group = [], ""
    for place in range(max(len(upper), len(lower))):
        above = upper[place].strip() if place < len(upper) else ""
        below = lower[place].strip() if place < len(lower) else ""
        group = above or group
        merged.append(f"{above or group} {below}".strip() if below and below != above else above)
    return merged
