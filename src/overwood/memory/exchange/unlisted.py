"""Plots that a sheet speaks of without a line of their own: a range of empty ones, a note that names them, a number of
plots above or below.

A plot that was looked at and held nothing belongs to the mean; left out, every amount an acre comes out too high.
"""

from __future__ import annotations

import re
from collections.abc import Container, Sequence
from dataclasses import replace

from overwood.ground.measures import many
from overwood.memory.exchange import headings, hidden, sections
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import AS_WRITTEN, Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import NOT_LOOKED_AT, STATED, Line, Lines

_RANGE = re.compile(r"^(\d{1,3})\s*(?:-|\u2013|to|thru|through)\s*(\d{1,3})$", re.IGNORECASE)
_EMPTY = re.compile(
    r"\b(?:no (?:trees?|tally|stems?|regen\w*|seedlings?)|empty|nothing|zero|blank|without (?:trees?|stems?|"
    r"regen\w*))\b",
    re.IGNORECASE,
)
_PLOTS = re.compile(r"\b(?:plots?|points?|pts?|stations?)\b", re.IGNORECASE)
_NUMBERS = re.compile(r"\d+(?:\s*(?:-|to)\s*\d+)?")
# Plots named as one of so many: 3 of 12.
_OF_ALL = re.compile(r"^\d{1,3} ?(?:of|/) ?(\d{1,3})$")
_PLACE = ("stand", "visited_on")
# Plots that a title counts in passing: a cruise of 12 plots.
IN_PASSING = re.compile(
    r"(?<![\w/.,-])(\d{1,3}) (?:(?!ac|acre|ft|foot|m\b|m2|ha\b)[a-z]+ )?(?:plots|points|pts)\b", re.IGNORECASE
)
_PLOTS_TO = re.compile(
    r"\b(?:plots|points|pts)\s*(\d{1,3})\s*(?:-|\u2013|to|thru|through)\s*(\d{1,3})\b", re.IGNORECASE
)
_ADD, _LEAVE_OUT, _LOOKED = "add", "leave out", "looked at"
_MOST, _SHOWN, _FEWEST_NUMBERED = 500, 12, 3
# A part of a plot, as it is named with its plot.
_PART = re.compile(r"(.+)-(\d{1,2})")


def with_empties(
    layout: Layout, lines: Lines, said: Said, listed: Container[str]
) -> tuple[Lines, tuple[Question, ...]]:
    """The lines with the plots that were only spoken of, or passed over, as empty ones, where so answered, and the
    question for it; ``listed`` are plots that another sheet of the file lists."""
    point = lines.place("point")
    if point < 0:
        return lines, ()
    spoken, asked = _spoken_of(layout, lines, said, point) if not _several(lines) else (lines, ())
    return (spoken, asked) if asked else _passed_over(lines, said, point, listed)


def _spoken_of(layout: Layout, lines: Lines, said: Said, point: int) -> tuple[Lines, tuple[Question, ...]]:
    ranged = _ranged(lines, point)
    kept = tuple(line for line in lines.empties if line not in ranged)
    held = {line.cells[point] for line in (*lines.lines, *kept)}
    named = {name: row for name, row in _named(layout, lines, ranged, point).items() if name not in held}
    number, row = _stated(layout, lines)
    more = number - len(held) - len(named) if number else 0
    named |= {f"empty {place}": row for place in range(1, more + 1)} if 0 < more <= _MOST else {}
    if not named or not lines.lines:
        return lines, ()
    question = _question(said, _words(named, held, number, row, more), len(named))
    if question.answer != _ADD:
        return lines, (question,)
    added = tuple(_empty(lines, point, name, at, lines.lines[0]) for name, at in named.items())
    return replace(lines, empties=(*kept, *added)), (question,)


def _question(said: Said, text: str, number: int) -> Question:
    told = said.setting("empty_plots")
    return Question(
        key=said.key("empty_plots"), kind="set", sheet=said.sheet, text=text,
        answer=told if told in (_ADD, AS_WRITTEN) else "",
        choices=(
            Choice(_ADD, f"{number} come in as plots that were looked at and hold nothing"),
            Choice(AS_WRITTEN, "only plots with lines of their own are plots of this look"),
        ),
    )  # fmt: skip


def _passed_over(lines: Lines, said: Said, point: int, listed: Container[str]) -> tuple[Lines, tuple[Question, ...]]:
    """The lines with plots whose numbers are passed over as empty ones, where so answered, and the question for it."""
    at = [place for name in _PLACE if (place := lines.place(name)) >= 0]
    looks: dict[tuple[str, ...], dict[str, Line]] = {}
    for line in (*lines.lines, *lines.empties):
        looks.setdefault(tuple(line.cells[place] for place in at), {}).setdefault(line.cells[point], line)
    missing = {
        look: [name for name in _missing(tuple(named), lines.place("cluster") >= 0) if name not in listed]
        for look, named in looks.items()
    }
    # What a note says was skipped held nobody knows what.
    skipped = {name for one in lines.fates if one.why.startswith(NOT_LOOKED_AT) for name in _NUMBERS.findall(one.why)}
    missing = {look: left for look, names in missing.items() if (left := [one for one in names if one not in skipped])}
    if not missing or not lines.lines:
        return lines, ()
    shown = "; ".join(
        ", ".join(names[:_SHOWN]) + " and more" * (len(names) > _SHOWN) + (f" of {' '.join(look)}" if any(look) else "")
        for look, names in list(missing.items())[:_SHOWN]
    )
    text = f"No line names plots {shown}: were they looked at, and held nothing? The means are too high without them."
    question = _question(said, text, sum(map(len, missing.values())))
    if question.answer != _ADD:
        return lines, (question,)
    added = []
    for look, names in missing.items():
        like = next(iter(looks[look].values()))
        added += [_empty(lines, point, name, like.row, like) for name in names]
    return replace(lines, empties=(*lines.empties, *added)), (question,)


def _missing(names: Sequence[str], in_parts: bool) -> list[str]:
    """Plots that running numbers pass over, or parts that some plots have and others lack; none where so many are
    missing that nobody numbered them on."""
    pairs = [part for name in names if (part := _PART.fullmatch(name))] if in_parts else []
    missing: list[str] = []
    if pairs and len(pairs) == len(names):
        plots, parts = (list(dict.fromkeys(pair[side] for pair in pairs)) for side in (1, 2))
        every = (f"{plot}-{part}" for plot in plots for part in sorted(parts, key=int))
        missing = [name for name in every if name not in names]
    elif all(name.isascii() and name.isdigit() for name in names):
        numbers, width = set(map(int, names)), min(map(len, names))
        missing = [str(one).zfill(width) for one in range(min(numbers), max(numbers)) if one not in numbers]
    return missing if len(names) >= _FEWEST_NUMBERED and len(missing) <= len(names) else []


def visited(layout: Layout, lines: Lines, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """A list of plots without those that were skipped, where so answered, and the question for it."""
    words = headings.words("unvisited")
    texts = {row: " ".join(cells).lower() for row, cells in layout.body}
    rows = [line.row for line in lines.lines]
    skipped = {row: texts[row].strip() for row in rows if any(word in texts.get(row, "") for word in words)}
    if not skipped:
        return lines, ()
    told = said.setting("plots_skipped")
    row, shown = next(iter(skipped.items()))
    question = Question(
        key=said.key("plots_skipped"), kind="set", sheet=said.sheet,
        text=many(len(skipped), "plot")
        + f" of the list may not have been looked at (row {row}: {shown[:60]}): were they?",
        answer=told if told in (_LEAVE_OUT, _LOOKED) else "",
        choices=(Choice(_LEAVE_OUT, "they were not: they are no plots of this look"),
            Choice(_LOOKED, "they were: without a line they held nothing")),
    )  # fmt: skip
    left = set(skipped) if told == _LEAVE_OUT else set()
    return hidden.without(lines, left, layout.sheet, "not looked at") if left else lines, (question,)


def _words(named: dict[str, int], held: set[str], number: int, row: int, more: int) -> str:
    if more > 0:
        return (
            f"Row {row} says {number} plots, and the sheet has lines of {len(held)}: did the other "
            f"{number - len(held)} hold nothing?"
        )
    first = min(named.values())
    return (
        f"Row {first} speaks of plots without lines of their own ({', '.join(list(named)[:8])}): did they hold nothing?"
    )


def _several(lines: Lines) -> bool:
    """Whether the sheet holds several stands or days, so that nobody knows whose the plots are."""
    return any(len(set(filter(None, lines.values(name, empty_too=True)))) > 1 for name in _PLACE)


def _ranged(lines: Lines, point: int) -> list[Line]:
    """Empty plots whose name is a range, where no plot of the tally is named so."""
    if any(_RANGE.match(line.cells[point]) for line in lines.lines):
        return []
    return [line for line in lines.empties if (said := _RANGE.match(line.cells[point])) and int(said[1]) < int(said[2])]


def _named(layout: Layout, lines: Lines, ranged: Sequence[Line], point: int) -> dict[str, int]:
    """Plots that a range or a note calls empty, with the row that does."""
    named = {name: line.row for line in ranged for name in _spread(line.cells[point])}
    notes = {one.row for one in lines.fates if one.fate == "note"}
    # A plot whose labels stand above a table without a line.
    said = sections.of(layout, "trees", ("point",))
    heads = {one.row for one in lines.fates if one.fate in ("heading", "title")}
    named |= {name: row for row, pairs in said.items() if row in heads for column, name in pairs if column == "point"}
    for row, cells in layout.titles:
        for said_of in _PLOTS_TO.finditer(" ".join(cells)):
            first, last = int(said_of[1]), int(said_of[2])
            named |= {str(number): row for number in range(first, last + 1)} if first < last else {}
    for row, cells in layout.body:
        text = " ".join(cell.strip() for cell in cells if cell.strip())
        if row in notes and _EMPTY.search(text) and _PLOTS.search(text) and not STATED.match(text):
            for part in _NUMBERS.findall(text):
                named |= {name: named.get(name, row) for name in _spread(part)}
    return named


def _spread(text: str) -> list[str]:
    said = _RANGE.match(text.strip())
    if not said:
        return [text.strip()]
    return [str(number) for number in range(int(said[1]), int(said[2]) + 1)]


def _stated(layout: Layout, lines: Lines) -> tuple[int, int]:
    """The number of plots that a row above or below the tally states, and the row; 0 where none does."""
    of_all = {said[1] if (said := _OF_ALL.match(name)) else "" for name in lines.values("point", empty_too=True)}
    if len(of_all) == 1 and (number := of_all.pop()):
        return int(number), lines.lines[0].row
    notes = {one.row for one in lines.fates if one.fate == "note"}
    for row, cells in (*layout.titles, *((row, cells) for row, cells in layout.body if row in notes)):
        for text in (" ".join(cell.strip() for cell in cells if cell.strip()), *(cell.strip() for cell in cells)):
            if said := STATED.match(text):
                return int(next(filter(None, said.groups()))), row
    for row, cells in layout.titles:
        if said := IN_PASSING.search(" ".join(cells)):
            return int(said[1]), row
    return 0, 0


def _empty(lines: Lines, point: int, name: str, row: int, like: Line) -> Line:
    place = {lines.place(column) for column in _PLACE}
    own = {point: name, lines.place("cluster"): name.partition("-")[0]}
    cells = (own.get(at, cell if at in place else "") for at, cell in enumerate(like.cells))
    return Line(row, tuple(cells))
