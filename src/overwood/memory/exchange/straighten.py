"""Every row below the headings gets its fate: lines of a tally, empty plots, headings again, totals, notes.

Blanks and ditto marks that mean "the same as above" are filled; section rows ("Plot 3") hold for the rows below them.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from overwood.ground import species
from overwood.memory.exchange import classes, headings, sections, watching
from overwood.memory.exchange.layout import Layout, labels
from overwood.memory.exchange.proposal import RowFate

# Blank cells of these take the value above.
FILLED_DOWN = ("stand", "visited_on", "point", "subplot", "stratum", "observer", "baf_ft2_ac", "plot_area_ac")
_LABELLED = ("stand", "point", "tree", "species", "line", "stem")
_NAMES = ("stand", "point", "subplot", "tree", "line", "stem", "species", "stems")
_COUNTED = ("dbh_in", "stems", "height_class", "height_ft", "basal_diameter_in")
_TALLIES = ("trees", "seedlings")
_LONGEST_NAME = 14
_LONGEST_LETTERS = 2
_LOOK_BELOW = 4
# A label that speaks of all that stands above it.
_OF_ALL = re.compile(r"(?:(?:sub|grand|plot|point|stand|page|all|totals?|sums?|trees|stems|of|no|\d)[\s:=.#-]*)+")
_EQUAL = 1e-6
_COUNT_NOTE = re.compile(r"^(n|no|count|trees|plots)\.?\s*[=:]\s*\d+$", re.IGNORECASE)


_RULED = re.compile(r"[-\u2013\u2014_=*~]{3,}(?: [-\u2013\u2014_=*~]{2,})*")
NOT_LOOKED_AT = "not looked at"
# A row that states how many plots there are.
STATED = re.compile(
    r"^(?:#|no\.?|num(?:ber)?\.?|total(?: number)?)\s*(?:of\s+)?(?:plots|points|pts|stations)\b[^\d]{0,12}(\d{1,3})$"
    r"|^(?:plots|points)(?: taken| cruised| measured| tallied| visited)?\s*[:=]?\s*(\d{1,3})$"
    r"|^(\d{1,3}) (?:plots|points|pts)\b[^|]{0,20}$",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Line:
    """One line of a tally: the row of the file it stands in, and its cells in the order of the columns."""

    row: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Lines:
    """A tally in columns: its lines, plots looked at and empty, and the fates of all rows that hold no line."""

    columns: tuple[str, ...]
    lines: tuple[Line, ...]
    empties: tuple[Line, ...] = ()
    fates: tuple[RowFate, ...] = ()
    filled: tuple[str, ...] = ()
    # Rows of totals that hold other sums than the lines above them, in words.
    unequal: tuple[str, ...] = ()

    def place(self, column: str) -> int:
        """Where a column stands; -1 where it does not."""
        return self.columns.index(column) if column in self.columns else -1

    def values(self, column: str, *, empty_too: bool = False) -> list[str]:
        """The cells of a column, of empty plots too where asked; none where it is absent."""
        place = self.place(column)
        return [line.cells[place] for line in (*self.lines, *(self.empties if empty_too else ()))] if place >= 0 else []

    def changed(self, change: Callable[[str], str], *places: int) -> Lines:
        """The tally with the cells of some columns changed, those of empty plots too."""

        def one(line: Line) -> Line:
            cells = (change(cell) if at in places else cell for at, cell in enumerate(line.cells))
            return Line(line.row, tuple(cells))

        return replace(self, lines=tuple(map(one, self.lines)), empties=tuple(map(one, self.empties)))


def without(lines: Lines, place: int) -> Lines:
    """The lines without a column."""

    def one(line: Line) -> Line:
        return Line(line.row, (*line.cells[:place], *line.cells[place + 1 :]))

    columns = (*lines.columns[:place], *lines.columns[place + 1 :])
    return replace(lines, columns=columns, lines=tuple(map(one, lines.lines)), empties=tuple(map(one, lines.empties)))


def with_subplots(lines: Lines) -> Lines:
    """Subplots as points of their own, named PLOT-SUBPLOT, that belong together as the cluster of their plot."""
    point, sub = lines.place("point"), lines.place("subplot")
    if sub < 0:
        return lines
    if point < 0:
        return replace(lines, columns=tuple("point" if column == "subplot" else column for column in lines.columns))
    has_cluster = "cluster" in lines.columns

    def joined(line: Line) -> Line:
        plot, part = line.cells[point], line.cells[sub]
        cells = list(line.cells)
        cells[point] = f"{plot}-{part}" if plot and part else plot
        return Line(line.row, (*cells, *(() if has_cluster else (plot,))))

    columns = (*lines.columns, *(() if has_cluster else ("cluster",)))
    return replace(
        lines, columns=columns, lines=tuple(map(joined, lines.lines)), empties=tuple(map(joined, lines.empties))
    )


def is_word(kind: str, text: str) -> bool:
    """Whether a cell is one of the words of a kind."""
    return text.strip().lower().rstrip("!") in headings.words(kind)


def of(layout: Layout, places: Mapping[str, int], wide: Sequence[int], table: str) -> Lines:
    """The body of a sheet as lines; ``places`` are the columns that were understood, ``wide`` those of counts."""
    names = (*places, *(f"wide:{place}" for place in wide))
    where = (*places.values(), *wide)
    said = sections.of(layout, table, names) if table in _TALLIES else {}
    spoken = {column for pairs in said.values() for column, _ in pairs}
    added = tuple(name for name in sections.COLUMNS if name in spoken and name not in names)
    walk = _Walk(layout=layout, columns=(*names, *added), where=where, table=table, said=said)
    for row, cells in watching.each(layout.body, watching.LAID_OUT):
        walk.take(row, [cell.strip() for cell in cells])
    return walk.result()


class _Walk:
    """One pass down a sheet: what stood above is all that is remembered."""

    def __init__(
        self,
        *,
        layout: Layout,
        columns: tuple[str, ...],
        where: tuple[int, ...],
        table: str,
        said: Mapping[int, sections.Said],
    ) -> None:
        self.layout, self.columns, self.where, self.table, self.said = layout, columns, where, table, said
        self.above: dict[str, str] = {}
        self.rows_seen: set[int] = set()
        self.points = self._points_with_more()
        self.filled: set[str] = set()
        # Stems counted in all lines, and in those since the last row that sums them.
        self.total: dict[str, float] = {}
        self.since: dict[str, float] = {}
        # What the lines had come to at each row of totals.
        self.sums: dict[str, set[float]] = {}
        self.unequal: list[str] = []
        self.lines: list[Line] = []
        self.empties: list[Line] = []
        self.fates: list[RowFate] = [
            self._fate(row, "title", " ".join(cell.strip() for cell in cells if cell.strip()))
            for row, cells in layout.titles
        ]
        self.fates += [self._fate(row, "heading") for row in layout.heading_rows]
        inside = {row for row, _ in (*layout.titles, *layout.body)} | set(layout.heading_rows)
        self.fates += [self._fate(row, "title", " ".join(cells)) for row, cells in layout.beside if row not in inside]
        for row, _ in layout.titles:
            self._enter_sections(row)

    def _points_with_more(self) -> frozenset[str]:
        """Names in the plot column of rows that say something besides."""
        number = self.columns.index("point") if "point" in self.columns else len(self.where)
        if number >= len(self.where):
            return frozenset()
        rows = (
            [cells[place].strip() if place < len(cells) else "" for place in self.where]
            for _, cells in self.layout.body
        )
        return frozenset(raw[number] for raw in rows if sum(map(bool, raw)) > 1)

    def _fate(self, row: int, fate: str, why: str = "") -> RowFate:
        return RowFate(sheet=self.layout.sheet, row=row, fate=fate, why=why)

    def take(self, row: int, cells: list[str]) -> None:
        """Give one row its fate, or make a line of it."""
        raw = [cells[place] if place < len(cells) else "" for place in self.where]
        if not any(raw) and row in self.rows_seen:
            return
        self.rows_seen.add(row)
        raw = [_whole(cell) if name in _NAMES else cell for name, cell in zip(self.columns, raw, strict=False)]
        raw += [""] * (len(self.columns) - len(raw))
        fate, why = self._no_line(row, cells, raw)
        if fate:
            self.fates.append(self._fate(row, fate, why))
            if fate == "total" and _OF_ALL.fullmatch(why.strip().lower()):
                self._hold_against(row, why, raw)
            return
        values = self._with_above(raw)
        line = Line(row, tuple(values))
        word = self._emptiness(values)
        if word is None:
            self.lines.append(line)
            for column, count in self._counts(values).items():
                self.total[column] = self.total.get(column, 0.0) + count
                self.since[column] = self.since.get(column, 0.0) + count
        else:
            self.empties.append(line)
            self.fates.append(self._fate(row, "empty", word))

    def _hold_against(self, row: int, label: str, raw: list[str]) -> None:
        """Note a total that is the sum neither of all lines above it nor of those since an earlier total."""
        for name, told in self._counts(raw).items():
            come = self.total.get(name, 0.0)
            before = self.sums.setdefault(name, {0.0})
            if all(abs(come - held - told) > _EQUAL for held in before):
                self.unequal.append(f"row {row}: {label} {told:g}; the lines above it come to {come:g}")
            before.add(come)

    def _no_line(self, row: int, cells: list[str], raw: list[str]) -> tuple[str, str]:
        """The fate of a row that holds neither line nor plot, with the words for it."""
        first = next(cell for cell in cells if cell)
        if self._repeats_headings(cells):
            return "heading", "the headings again"
        if row in self.said and not self._in_point_column(row, raw):
            self._enter_sections(row)
            return "heading", first
        text = " ".join(cell for cell in cells if cell)
        if _RULED.fullmatch(text) or (STATED.match(text) and self.table in _TALLIES):
            return "note", text
        label = self._total_label(first, raw)
        if label:
            return "total", label
        if self._is_sum(cells, raw):
            return "total", f"{first}, the sum of what stands above"
        if self._was_not_looked_at(cells, raw):
            return "note", f"{NOT_LOOKED_AT}: {' '.join(cell for cell in cells if cell)[:80]}"
        if self._is_note(raw) or (self.table in _TALLIES and labels(cells)):
            return "note", " ".join(cell for cell in cells if cell)[:80]
        return "", ""

    def _repeats_headings(self, cells: list[str]) -> bool:
        filled = [(place, cell) for place, cell in enumerate(cells) if cell]
        pairs = [(cell, self.layout.headings[place]) for place, cell in filled if place < len(self.layout.headings)]
        same = sum(
            headings.plain(cell) == headings.plain(heading) and not cell[:1].isdigit()
            for cell, heading in pairs
            if heading
        )
        # Headings that are classes are numbers, as counts are: only a row that says every one of them says them again.
        again = len(filled) > 2 and all(cell == heading for cell, heading in pairs) and len(pairs) == len(filled)
        return (same >= 2 and same * 2 >= len(filled)) or (again and same > 0)

    def _in_point_column(self, row: int, raw: list[str]) -> bool:
        """Whether a plot's name stands alone in the plot column: it may be an empty plot."""
        at = self.columns.index("point") if "point" in self.columns else -1
        return at >= 0 and bool(raw[at]) and sections.is_only(self.said, row, "point")

    def _enter_sections(self, row: int) -> None:
        for column, value in self.said.get(row, ()):
            self.above[column] = value
            if column == "stand":
                self.above.pop("point", None)

    def _total_label(self, first: str, raw: list[str]) -> str:
        """The words that make a row a total; "" where it is none. SUM in the species column is sugar maple."""
        labels = [first] if first not in raw else []
        for column, value in zip(self.columns, raw, strict=True):
            if value and column in (*_LABELLED, *_COUNTED) and not (column == "species" and species.match(value).spcd):
                labels.append(value)
        return next((label for label in labels if _says_total(label) or _COUNT_NOTE.match(label)), "")

    def _is_sum(self, cells: list[str], raw: list[str]) -> bool:
        """Whether a row holds nothing but the sums of the counts above it, since the last such row or of all."""
        counts = self._counts(raw)
        shown = [name for name, value in zip(self.columns, raw, strict=False) if value]
        named = "point" in shown and self._is_point_above(raw)
        shown = [name for name in shown if not (named and name == "point")]
        if (
            not any(counts.values())
            or set(shown) != set(counts)
            or (shown == ["stems"] and sum(map(bool, cells)) > 1 + named)
        ):
            return False
        is_sum = any(
            # A line of one plot may well be like the one above.
            (len(self.lines) > 1 or shown == ["stems"])
            and counts == {name: number for name, number in sums.items() if number}
            for sums in (self.since, self.total)
        )
        self.since = {} if is_sum else self.since
        return is_sum

    def _is_point_above(self, raw: list[str]) -> bool:
        """Whether a row that counts names the plot above it by other words ("Plot 1" below the lines of 1)."""
        name, above = raw[self.columns.index("point")], self.above.get("point", "")
        return name != above and name.rpartition(" ")[2].lstrip("0") == above.lstrip("0") != ""

    def _counts(self, values: list[str]) -> dict[str, float]:
        """The counts of a row by the columns that hold any."""
        pairs = zip(self.columns, values, strict=False)
        return {name: _count(value) for name, value in pairs if value and (name == "stems" or name.startswith("wide:"))}

    def _was_not_looked_at(self, cells: list[str], raw: list[str]) -> bool:
        """Whether a row without sizes or counts says that its plot was skipped: such a plot is not an empty one."""
        sizes = [
            value
            for column, value in zip(self.columns, raw, strict=True)
            if column in _COUNTED or column.startswith("wide:")
        ]
        if self.table not in _TALLIES or any(
            value and not is_word("none", value) and _has_digit(value) for value in sizes
        ):
            return False
        return any(
            phrase in cell.lower()
            for cell in cells
            if not _has_digit_only(cell)
            for phrase in headings.words("unvisited")
        )

    def _is_note(self, raw: list[str]) -> bool:
        """Whether a row has words only: nothing in a column of the tally, or a sentence in the first."""
        told = (self.columns.index("note"),) if "note" in self.columns and self.table in _TALLIES else ()
        raw = ["" if place in told else value for place, value in enumerate(raw)]
        filled = [value for value in raw if value]
        if not filled:
            return True
        if self.table not in _TALLIES:
            return len(filled) == 1 and len(self.columns) > 1 and len(filled[0]) > _LONGEST_NAME
        if len(filled) > 1:
            first = next(value for value in raw if value)
            return len(filled) == 2 and _begins_with("note", first) and not any(map(_has_digit_only, filled))
        only = filled[0]
        place = next(place for place, value in enumerate(raw) if value)
        if self.columns[place] == "point":
            return (
                len(only) > _LONGEST_NAME
                or (not _has_digit(only) and len(only) > _LONGEST_LETTERS)
                or self._names_no_point(only)
            )
        return self.columns[place] in ("stand", "tree", "line", "observer", "visited_on") and (
            len(only) > _LONGEST_NAME or _begins_with("note", only)
        )

    def _names_no_point(self, only: str) -> bool:
        """Whether a cell alone in the plot column is a page, day or hour: its words stand before no plot of the
        sheet."""
        if re.search(r"\d[/:]\d", only):
            return not any(re.search(r"\d[/:]\d", name) for name in self.points)
        known = set(headings.words(sections.COLUMNS["point"])) | {
            word for name in self.points for word in _words_of(name)
        }
        return any(word not in known for word in _words_of(only))

    def _with_above(self, raw: list[str]) -> list[str]:
        """Ditto marks and the blanks of place and day filled from above."""
        values = []
        new_stand = new_point = False
        for column, written in zip(self.columns, raw, strict=True):
            value, above = written, self.above.get(column, "")
            if column == "stand" and value and above and value != above:
                new_stand = True
            if column == "point" and value and value != above:
                new_point = True
            fresh = (column == "point" and new_stand) or (column == "subplot" and (new_stand or new_point))
            blank = not value and column in FILLED_DOWN and not fresh
            if above and (blank or is_word("ditto", value)):
                value = above
                self.filled.add(column)
            values.append(value)
            if value or column not in FILLED_DOWN or fresh:
                self.above[column] = value if fresh else value or above
        return values

    def _emptiness(self, values: list[str]) -> str | None:
        """The word by which a plot is empty, "" where only its number stands there; None where the row holds a line."""
        if self.table not in _TALLIES:
            return None
        named = dict(zip(self.columns, values, strict=True))
        if "point" not in self.columns and not is_word("none", named.get("species", "")):
            return None
        counted = [value for column, value in named.items() if column in _COUNTED or column.startswith("wide:")]
        amounts = [value for value in counted if value and not is_word("none", value)]
        kind = named.get("species", "")
        if is_word("none", kind) or not kind:
            if not amounts:
                return kind or next((value for value in counted if value), "")
            return None
        if "stems" in named and named["stems"] and is_word("none", named["stems"]):
            return f"{kind}: {named['stems']}"
        wide = [value for column, value in named.items() if column.startswith("wide:")]
        if wide and not any(value and not is_word("none", value) for value in wide):
            return f"{kind}: nothing counted"
        return None

    def result(self) -> Lines:
        """All lines; a plot's number on a line of its own above its trees is a heading, not an empty plot."""
        place = self.columns.index("point") if "point" in self.columns else -1
        follows = {line.row: line.cells[place] for line in self.lines} if place >= 0 else {}
        alone = {fate.row for fate in self.fates if fate.fate == "empty" and not fate.why}
        heads = {
            line.row for line in self.empties if line.row in alone and _next(follows, line.row) == line.cells[place]
        }
        fates = [
            RowFate(sheet=one.sheet, row=one.row, fate="heading") if one.row in heads else one for one in self.fates
        ]
        empties = tuple(line for line in self.empties if line.row not in heads)
        return Lines(
            self.columns, tuple(self.lines), empties, tuple(fates), tuple(sorted(self.filled)), tuple(self.unequal)
        )


def _next(follows: Mapping[int, str], row: int) -> str | None:
    """The plot of the line next below a row; only blank rows may lie between."""
    return next((follows[below] for below in range(row + 1, row + _LOOK_BELOW) if below in follows), None)


def _begins_with(kind: str, label: str) -> bool:
    text = re.sub(r"\s+", " ", label.strip().lower()).rstrip(":.= ")
    return bool(_first_words(kind).match(text))


@functools.cache
def _first_words(kind: str) -> re.Pattern[str]:
    return re.compile(rf"(?:{'|'.join(map(re.escape, sorted(headings.words(kind))))})(?:[ :]|$)")


def _says_total(label: str) -> bool:
    """Whether words begin or end with one for totals: "Total trees", "Plot 1 total"."""
    words = label.lower().rstrip(":.= ").split()
    return _begins_with("total", label) or (len(words) > 1 and words[-1] in headings.words("total"))


def _whole(text: str) -> str:
    """A number that is a name, without the .0 a spreadsheet gave it."""
    return text.split(".", maxsplit=1)[0] if re.fullmatch(r"\d+\.0+", text) else text


def _count(text: str) -> float:
    number = classes.measure(text)
    return number[0] if number else 0.0


def _words_of(text: str) -> list[str]:
    """Words of three letters and more, in small letters."""
    return [word.lower() for word in re.findall(r"[^\W\d_]{3,}", text)]


def _has_digit(text: str) -> bool:
    return any(letter.isdigit() for letter in text)


def _has_digit_only(text: str) -> bool:
    return text.replace(".", "").isdigit()
