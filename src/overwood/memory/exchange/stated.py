"""What a sheet says of itself (totals, trees and basal area an acre, remarks), held against what is read of it.

A hand wrote those sums from the same lines. Where they differ, a column, a unit, a plot or a status may be misread.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from overwood.ground import units
from overwood.ground.measures import many
from overwood.memory.exchange import body as bodies
from overwood.memory.exchange import classes, free_words, headings, unlisted, years
from overwood.memory.exchange.design import Design, sizes_named
from overwood.memory.exchange.draft import Draft
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said, as_written, of_sheet, rows_said
from overwood.memory.exchange.straighten import Lines

# Questions, rows that an answer leaves out, and cells by row and column that an answer changes.
Doubt = tuple[list[Question], frozenset[int], Mapping[int, Mapping[str, str]]]
# Sums an acre are written rounded, factors of a tree by its inch class; two sizes nearer than the first are one.
_SAME_SIZE, _ROUNDED, _BY_CLASS = 0.02, 0.03, 0.05
_TREES = re.compile(
    r"^(?:total |all |no\.? of |number of )?(?:trees|stems)(?: tallied| counted| in all)?\s*[:=]?\s*(\d+)$"
)
_PLOTS = re.compile(
    r"^(?:#|no\.?|number|total)?\s*(?:of )?(?:plots|points)[a-z ]*[:=]?\s*(\d+)$|^(\d+) (?:plots|points)$"
)
_BASAL = re.compile(r"^(?:total |stand )?(?:ba|basal area)\s*(?:/|per )\s*(?:ac|acre)\s*[:=]?\s*(\d+(?:\.\d+)?)$")
_AN_ACRE = re.compile(r"^(?:tpa|(?:total )?trees\s*(?:/|per )\s*(?:ac|acre))\s*[:=]?\s*(\d+(?:\.\d+)?)$")
_OF_A_POINT = re.compile(r"trees|stems|tall(?:y|ied)|count", re.IGNORECASE)
_OF_A_TREE = re.compile(r"tpa|trees?\s*(?:/|per)|stems?\s*(?:/|per)|expan", re.IGNORECASE)
# Numbers of several trees in one cell; factors in headings of counts.
_BASAL_OF_TREE = re.compile(r"(?:tree )?(?:ba|basal area)(?: tree)?")
# Basal areas in square feet or square meters of those in ft2, diameters in in, cm or mm of those in in.
_OF_AREAS = (1.0, units.conversion("ft2", "ac")(1) / units.conversion("m2", "ac")(1))
_OF_LENGTHS = (1.0, 1 / units.conversion("cm", "in")(1), 1 / units.conversion("mm", "in")(1))
_DIAMETERS = ("dbh", "diameter", "diam", "d b h")
_TREES_TO = re.compile(r"\d+\s*(?:-|\u2013|to|&|,)\s*\d+")
_TIMES = re.compile(r"[(\s][x\u00d7*]\s*\d+|\bin (?:tens|hundreds|dozens|thousands)\b|\b\d{1,4}s\b", re.IGNORECASE)
# Trees of which only some were taken, and the least diameter of a title, in.
_SAMPLED = re.compile(
    r"\bevery (?:other|second|third|\d+(?:nd|rd|th))\b|\bsub-?sampled?\b"
    r"|\bonly (?:some|part|oaks?)\b",
    re.IGNORECASE,
)
_LEAST = re.compile(
    r"(?:>=?|\u2265|over|above|min(?:imum)?(?: dbh)?:?)\s*(\d+(?:\.\d+)?)\s*(?:in\b|inch|\")"
    r"|(\d+(?:\.\d+)?)\s*(?:in\b|inch(?:es)?|\")?\.?\s*(?:and|&)\s*(?:up|over|larger|greater)",
    re.IGNORECASE,
)
# Labels of dead trees, trees to cut, or some trees alone; before and after a cut name a time.
_LABEL_WORDS = 5
_STATES = re.compile(
    r"(?<!pre)(?<!post)(?<!pre-)(?<!post-)(?<!pre )(?<!post )(?<!before )(?<!after )\b"
    r"(?:snags?|dead|mortality|cull|cut trees?|trees? cut|marked|harvested|stumps|removed|girdled"
    r"|leave trees?|crop trees?|(?:site|sample|height|witness|bearing|den) trees?)\b",
    re.IGNORECASE,
)
_DEAD = re.compile(r"says '[^']*\b(?:snags?|dead|mortality)\b", re.IGNORECASE)
_PART = re.compile(
    r"\b(?:half|quarter|third|1/2|1/4|3/4|partial|part of(?: the)?|split)[\s-]*(?:plot|point|circle)\b"
    r"|\b(?:plot|point) (?:was )?(?:half|halved|split|partial)\b",
    re.IGNORECASE,
)
# Remarks that say a line is more than one stem, or another size.
_MORE = re.compile(
    r"\b(?:x\s?\d+|\d+\s?x|count(?:ed)? (?:twice|double|\d+)|(?:two|three|four|\d+) (?:stems|trees|more))\b",
    re.IGNORECASE,
)


def doubts(draft: Draft, read: bodies.Body, design: Design, said: Said) -> Doubt:
    """Sums and remarks of a tally that say other than its lines, and what the answers make of the lines."""
    lines = read.lines
    differ = [*lines.unequal, *_total_columns(draft)]
    differ += _by_tree(draft, lines, design)
    if draft.table == "trees":
        differ += [*_by_point(draft, lines), *_by_size(draft, lines, design), *_in_all(draft, lines, design)]
        differ += _summed(draft, lines)
    asked: list[Question] = []
    if differ:
        text = "The sheet says other sums than its lines come to: is anything misread?"
        meaning = "the lines are right as they are read; else say another unit, column or size, or mend the sheet"
        asked += of_sheet(said, "own_sums", text, meaning, differ)
    told = [*_words(draft, read, design)]
    if not told:
        return asked, frozenset(), {}
    text = "Words of the sheet may say that its lines are other than they are read as."
    rows = frozenset(row for one in told for row in one.rows)
    others = [
        Choice("leave out", f"{many(len(rows), 'line')} named there, or below it, are left out"),
        Choice("dead", f"{many(len(rows), 'line')} named there, or below it, are dead trees"),
    ]
    meaning = "each line is as its columns say; else mend the sheet, or say that it holds nothing to take"
    whole = [Choice("leave out", "no line of the sheet is taken")]
    asked += as_written(said, "remarks", text, meaning, [one.text for one in told], others if rows else whole)
    if rows and draft.table == "trees" and all(_DEAD.search(one.text) for one in told):
        ways = sorted(asked[-1].choices, key=lambda one: one.value != "dead")
        asked[-1] = replace(asked[-1], choices=tuple(ways))
    answer = asked[-1].answer
    dead = {row: {"status": "dead"} for row in rows} if answer == "dead" and draft.table == "trees" else {}
    return asked, rows if answer == "leave out" else frozenset(), dead


@dataclass(frozen=True)
class _Told:
    """Words that may change lines, and the rows of those lines; none where they are of the sheet as a whole."""

    text: str
    rows: frozenset[int] = frozenset()


def _words(draft: Draft, read: bodies.Body, design: Design) -> Iterator[_Told]:
    """All that words of the sheet say and no column does."""
    lines = read.lines
    beside = dict[str, list[int]]()
    for row, remark in _remarks(draft, lines):
        beside.setdefault(remark, []).append(row)
    told = [_Told(text) for text in _multiplied(draft)]
    told += [_Told(text, frozenset(at)) for text, at in _other_sizes(lines, beside, design)]
    told += [_Told(text, frozenset(at)) for text, at in _several(lines, beside)]
    parts = {remark: at for remark, at in beside.items() if _PART.search(remark)}
    told += [
        _Told(f"{remark!r} ({rows_said(at)}): read as a whole plot", frozenset(at)) for remark, at in parts.items()
    ]
    told += [*_states(draft, lines), *(_Told(text) for text in _samples(draft, lines, beside))]
    yield from told
    known = (_LEAST, *(one.named for one in _SUMS))
    by_column = ("edge",) if lines.place("edge_count") >= 0 else ()
    titles = {text: (at, frozenset[int]()) for text, at in free_words.of_titles(draft, lines, known).items()}
    titles |= {text: (at, frozenset(at)) for text, at in beside.items() if free_words.of_remark(text, by_column)}
    words = (word for one in (*draft.questions, *read.questions) for word in one.words)
    shown = " ".join((*(one.text for one in told), *words))
    for text, (at, rows) in titles.items():
        if text not in shown:
            yield _Told(f"{text[:160]!r} ({rows_said(at)}): nothing of it is read", rows)


def held(draft: Draft, lines: Lines) -> set[str]:
    """Headings of columns that are not read, but held against what is: amounts an acre, basal areas, totals, diameters
    in another unit."""
    every = draft.layout.headings if draft.layout is not None else ()
    of_trees = draft.table == "trees" and not draft.wide
    return {
        cell
        for cell in every
        if (of_trees and (_BASAL_OF_TREE.fullmatch(headings.plain(cell)) or headings.plain(cell) in _DIAMETERS))
        or (draft.wide and (headings.plain(cell) in _totals() or cell.lower().startswith("dead")))
        or headings.is_amount_an_acre(cell)
    } | {heading for heading, _ in _told_by_point(draft, lines, _come(lines))}


def _total_columns(draft: Draft) -> Iterator[str]:
    """Rows of a sheet of columns of counts whose own column of totals holds another sum."""
    layout, wide = draft.layout, draft.wide
    if layout is None or wide is None or draft.lines is None:
        return
    at = [at for at, cell in enumerate(layout.headings) if at not in draft.used and headings.plain(cell) in _totals()]
    rows = {line.row for line in draft.lines.lines}
    for row, cells in layout.body if len(at) == 1 else ():
        total = classes.measure(cells[at[0]]) if at[0] < len(cells) else None
        if row in rows and total is not None:
            known = [classes.measure(cells[place]) for place in wide.places if place < len(cells)]
            come = sum(one[0] for one in known if one is not None)
            if come != total[0]:
                yield f"row {row}: {layout.headings[at[0]]} {total[0]:g}; the columns that are read come to {come:g}"


def _totals() -> frozenset[str]:
    return frozenset(word for word in headings.words("total") if re.match(r"total|sum|all", word))


def _come(lines: Lines) -> dict[str, float]:
    """The stems of each point by its lines."""
    point, stems = lines.place("point"), lines.place("stems")
    come: dict[str, float] = {}
    for line in lines.lines if point >= 0 else ():
        count = classes.measure(line.cells[stems]) if stems >= 0 else (1.0, "")
        come[line.cells[point]] = come.get(line.cells[point], 0.0) + (count[0] if count else 0.0)
    return come


def _told_by_point(
    draft: Draft, lines: Lines, come: Mapping[str, float]
) -> Iterator[tuple[str, dict[str, set[float]]]]:
    """Headings of columns that state one number of trees for most points, with what each point is said to have."""
    layout, point = draft.layout, lines.place("point")
    point_of = {line.row: line.cells[point] for line in (*lines.lines, *lines.empties)} if come else {}
    for at, heading in enumerate(layout.headings if layout is not None and come else ()):
        if at in draft.used or not _OF_A_POINT.search(heading) or headings.is_no_count(heading):
            continue
        told: dict[str, set[float]] = {}
        for row, cells in layout.body if layout is not None else ():
            if row in point_of and (number := _number(cells, at)):
                told.setdefault(point_of[row], set()).add(number[0])
        if 2 * len(told) >= len(come) and all(len(numbers) == 1 for numbers in told.values()):
            yield heading, told


def _by_point(draft: Draft, lines: Lines) -> Iterator[str]:
    """Columns that state the trees of each point, where most points have other ones."""
    come = _come(lines)
    for heading, told in _told_by_point(draft, lines, come):
        wrong = [name for name, numbers in told.items() if numbers != {come.get(name, 0.0)}]
        if wrong:
            yield f"point {wrong[0]}: {heading} {told[wrong[0]].pop():g}; its lines come to {come.get(wrong[0], 0):g}"


def _by_tree(draft: Draft, lines: Lines, design: Design) -> Iterator[str]:
    """Trees an acre that each line is said to stand for, where the prism or plot makes other ones of its diameter."""
    layout = draft.layout
    if layout is None or not design.is_known:
        return
    body, plots = dict(layout.body), bodies.tally_of(lines, "in").points
    for at, heading in enumerate(layout.headings):
        if at in draft.used or not headings.is_amount_an_acre(heading):
            continue
        if draft.table == "trees" and not _OF_A_TREE.search(heading):
            continue
        pairs = [
            (line.row, told[0], each)
            for line in lines.lines
            if (told := _number(body.get(line.row, []), at)) and (each := _an_acre(lines, line.cells, design))
        ]
        wrong = min((_unlike(pairs, share) for share in (1, plots)), key=len, default=[])
        if wrong:
            row, written, each = wrong[0]
            by = "its diameter and " if draft.table == "trees" else ""
            yield f"row {row}: {heading} {written:g}; by {by}{design.words()} it is {each:.3g}"


def _by_size(draft: Draft, lines: Lines, design: Design) -> Iterator[str]:
    """Basal areas and second diameters beside the diameters that are theirs in no usual unit, nor the factor."""
    layout, place = draft.layout, lines.place("dbh_in")
    body = dict(layout.body) if layout is not None else {}
    # Two measures of one tree are asked about by their years.
    others = years.several(layout).values() if layout is not None else ()
    for at, heading in enumerate(layout.headings if layout is not None and place >= 0 else ()):
        plain = headings.plain(heading)
        is_basal = bool(_BASAL_OF_TREE.fullmatch(plain))
        if at in {*draft.used, *others} or not (is_basal or plain in _DIAMETERS):
            continue
        pairs = [
            (line.row, told[0], units.FT2_PER_IN2_OF_DBH * size[0] ** 2 if is_basal else size[0])
            for line in lines.lines
            if (told := _number(body.get(line.row, []), at))
            and (size := classes.measure(line.cells[place]))
            and told[0] * size[0]
        ]
        ways = [[(row, told, one * to) for row, told, one in pairs] for to in (_OF_AREAS if is_basal else _OF_LENGTHS)]
        wrong = min((_unlike(way, 1) for way in ways), key=len)
        if wrong and not (is_basal and all(told == design.baf_ft2_ac for _, told, _ in pairs)):
            row, written, come = wrong[0]
            yield f"row {row}: {heading} {written:g}; by its diameter it is {come:.3g}"


def _unlike(pairs: Sequence[tuple[int, float, float]], share: float) -> list[tuple[int, float, float]]:
    return [(row, told, each) for row, told, each in pairs if abs(told * share / each - 1) > _BY_CLASS]


def _an_acre(lines: Lines, cells: Sequence[str], design: Design) -> float:
    """Trees an acre of one line."""
    place, at = lines.place("dbh_in"), lines.place("stems")
    count = classes.measure(cells[at]) if at >= 0 else (1.0, "")
    if design.plot_area_ac:
        return count[0] / design.plot_area_ac if count else 0.0
    size = classes.measure(cells[place]) if place >= 0 else None
    if not size or not size[0] or not count:
        return 0.0
    return count[0] * (design.baf_ft2_ac or 0) / (units.FT2_PER_IN2_OF_DBH * size[0] ** 2)


def _number(cells: Sequence[str], at: int) -> tuple[float, str] | None:
    return classes.measure(cells[at]) if at < len(cells) else None


@dataclass(frozen=True)
class _Sum:
    """One sum that a sheet may state of all its lines: how it is written, and what the lines come to."""

    named: re.Pattern[str]
    of: Callable[[Lines, Design], float | None]
    near: float


def _stems(lines: Lines, _design: Design) -> float:
    return sum(bodies.tally_of(lines, "in").stems)


def _basal_area(lines: Lines, design: Design) -> float | None:
    return bodies.tally_of(lines, "in").basal_area(design)


def _trees_an_acre(lines: Lines, design: Design) -> float | None:
    points = bodies.tally_of(lines, "in").points
    each = [_an_acre(lines, line.cells, design) for line in lines.lines] if design.is_known else []
    return sum(each) / points if each and points else None


def _plots(lines: Lines, _design: Design) -> float | None:
    """The plots of a sheet without a column of them; with one, plots without a line are asked about by their names."""
    return bodies.tally_of(lines, "in").points if lines.place("point") < 0 else None


_SUMS = (
    _Sum(_PLOTS, _plots, 0.0),
    _Sum(_TREES, _stems, 0.0),
    _Sum(_BASAL, _basal_area, _ROUNDED),
    _Sum(_AN_ACRE, _trees_an_acre, _ROUNDED),
)


def _in_all(draft: Draft, lines: Lines, design: Design) -> Iterator[str]:
    """Sums of the whole sheet in its titles, notes and unread cells that neither all trees nor the live ones make."""
    if lines.place("dbh_in") < 0 or _several_stands(lines):
        return
    live = replace(lines, lines=tuple(line for line in lines.lines if not _is_dead(lines, line.cells)))
    for row, text in _cells_beside(draft):
        for one in _SUMS:
            if not (said := one.named.match(text)):
                continue
            come = [value for some in (lines, live) if (value := one.of(some, design)) is not None]
            told = float(next(filter(None, said.groups())))
            if come and all(abs(told - value) > max(one.near * value, 0.5) for value in come):
                yield f"row {row}: {text}; the lines come to {come[0]:.4g}"


def _summed(draft: Draft, lines: Lines) -> Iterator[str]:
    """Titles and notes that count several plots of lines that name none: read as one plot, they would stand for so
    many."""
    notes = {one.row for one in lines.fates if one.fate == "note"}
    below = ((row, cells) for row, cells in draft.layout.body if row in notes) if draft.layout else ()
    for row, cells in (*draft.layout.titles, *below) if draft.layout and lines.place("point") < 0 else ():
        text = " ".join(cell.strip() for cell in cells if cell.strip())
        if (match := unlisted.IN_PASSING.search(text)) and int(match[1]) > 1:
            yield f"row {row}: {text[:80]}; the lines name none: they are read as one, unless its size is that of all"


def _several_stands(lines: Lines) -> bool:
    return len(set(filter(None, lines.values("stand", empty_too=True)))) > 1


def _is_dead(lines: Lines, cells: Sequence[str]) -> bool:
    marks = {name: cells[at] for name in ("status", "dead_mark", "live_mark") if (at := lines.place(name)) >= 0}
    return marks.get("status") == "dead" or marks.get("dead_mark") == "yes" or marks.get("live_mark") == "no"


def _cells_beside(draft: Draft) -> Iterator[tuple[int, str]]:
    """Cells outside the columns that are read, alone and with the cell right of them, in small letters."""
    layout = draft.layout
    if layout is None or draft.lines is None:
        return
    rows = {line.row for line in draft.lines.lines}
    unread = _unread(draft)
    for row, cells in (*layout.titles, *layout.beside, *layout.body):
        for at in unread if row in rows else range(len(cells)):
            cell = cells[at].strip().lower() if at < len(cells) else ""
            if cell and not cell[0].isdigit():
                yield row, cell
                right = cells[at + 1].strip() if at + 1 < len(cells) else ""
                if re.fullmatch(r"[\d.]+", right):
                    yield row, f"{cell.rstrip(':= ')} {right}"


def _unread(draft: Draft) -> list[int]:
    """The places of cells that no column reads."""
    width = max((len(cells) for _, cells in draft.layout.body), default=0) if draft.layout else 0
    return [at for at in range(width) if at not in draft.used]


def _remarks(draft: Draft, lines: Lines) -> Iterator[tuple[int, str]]:
    """Words beside the lines, in columns of remarks and in those that are not read."""
    places = [at for name in ("note", "point_note") if (at := lines.place(name)) >= 0]
    yield from ((line.row, line.cells[at]) for line in lines.lines for at in places if line.cells[at])
    rows, unread = {line.row for line in lines.lines}, _unread(draft)
    for row, cells in draft.layout.body if draft.layout and unread else ():
        if row in rows:
            yield from ((row, cells[at].strip()) for at in unread if at < len(cells) and " " in cells[at])


def _other_sizes(lines: Lines, remarks: Mapping[str, list[int]], design: Design) -> Iterator[tuple[str, Sequence[int]]]:
    """Remarks that name a factor or plot other than the one the sheet is read with."""
    if not design.is_known or {"baf_ft2_ac", "plot_area_ac"} & set(lines.columns):
        return
    for remark, at in remarks.items():
        factors, plots = sizes_named(remark)
        own = [*((one, design.baf_ft2_ac) for one in factors), *((one, design.plot_area_ac) for one in plots)]
        if any(wanted is None or abs(one / wanted - 1) >= _SAME_SIZE for one, wanted in own):
            yield f"{remark!r} ({rows_said(at)}): every line is read with {design.words()}", at


def _multiplied(draft: Draft) -> list[str]:
    """Headings of counts that name a factor, such as Count (x10)."""
    layout, wide = draft.layout, draft.wide.places if draft.wide else ()
    read = [*wide, *(at for name, at in draft.places.items() if name in ("stems", "browsed", "acorns"))]
    heads = [layout.headings[at] for at in read if layout is not None and at < len(layout.headings)]
    return [f"heading {cell!r}: its numbers are read as stems" for cell in heads if _TIMES.search(cell)]


def _states(draft: Draft, lines: Lines) -> Iterator[_Told]:
    """Short titles and notes that name dead or cut trees, where no column says which trees are, with the lines below
    each up to the next such row."""
    if {"status", "dead_mark", "live_mark", "cut_mark"} & set(lines.columns) or draft.layout is None:
        return
    named = {one.row for one in lines.fates if one.fate in ("title", "note", "heading")}
    rows = (*draft.layout.titles, *((row, cells) for row, cells in draft.layout.body if row in named))
    for row, cells in ((0, [draft.sheet.name]), *rows):
        text = " ".join(cell.strip() for cell in cells if cell.strip())
        if len(text.split()) <= _LABEL_WORDS and _STATES.search(text):
            where = f"row {row} says" if row else "the sheet is named"
            last = min(
                (one for one in named if one > row and row), default=max(named | {line.row for line in lines.lines})
            )
            below = frozenset(line.row for line in lines.lines if row < line.row <= last)
            yield _Told(f"{where} {text!r}: all lines are read as live trees of the stand", below)


def _samples(draft: Draft, lines: Lines, remarks: Mapping[str, list[int]]) -> Iterator[str]:
    """Titles and remarks that lines are a part of what stood there, above a least diameter, or amounts an acre."""
    sizes = [size[0] for cell in lines.values("dbh_in") if (size := classes.measure(cell)) is not None]
    titles = {
        " ".join(cell.strip() for cell in cells if cell.strip()): [row]
        for row, cells in (draft.layout.titles if draft.layout else ())
    }
    for text, at in {**titles, **remarks}.items():
        least = _LEAST.search(text)
        below = sum(size < float(least[1] or least[2]) for size in sizes) if least else 0
        if below and least:
            yield f"{text!r} ({rows_said(at)}): {below} of the lines are smaller"
        elif _SAMPLED.search(text) or (headings.is_per_area(text) and not any(map(str.isdigit, text))):
            yield f"{text!r} ({rows_said(at)}): the lines are read as all that was counted on its plots"


def _several(lines: Lines, remarks: Mapping[str, list[int]]) -> Iterator[tuple[str, Sequence[int]]]:
    """Remarks and numbers of trees that speak of several stems, where no column counts them."""
    if lines.place("stems") >= 0:
        return
    tree = lines.place("tree")
    named = {remark: at for remark, at in remarks.items() if _MORE.search(remark)}
    for line in lines.lines if tree >= 0 else ():
        if _TREES_TO.fullmatch(line.cells[tree]):
            named.setdefault(f"tree {line.cells[tree]}", []).append(line.row)
    yield from ((f"{remark!r} ({rows_said(at)}): read as one stem a line", at) for remark, at in named.items())
