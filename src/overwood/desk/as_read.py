"""How the lines of foreign sheets were read, beside what is written in them: shown before anything is stored.

The cells as they stand are held against the records made of them, whatever stages they went through: what a heading
comes to, what no cell of a line says and was inferred, cells of which nothing is kept, and a few whole lines.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from overwood.ground import species
from overwood.ground.errors import Problem
from overwood.ground.measures import many
from overwood.ground.records import TABLES
from overwood.ground.units import FT2_PER_IN2_OF_DBH
from overwood.memory.exchange.applying import Ready
from overwood.memory.exchange.checking import ROW
from overwood.memory.exchange.classes import SPLIT
from overwood.memory.exchange.measures import counted
from overwood.memory.exchange.proposal import LEFT_OUT, Part, Proposal, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.sheets import Read
from overwood.memory.exchange.straighten import is_word
from overwood.science import survey

_TALLIES = ("trees", "seedlings", "acorn_trees", "stems")
_SHOWN_CODES, _SHOWN_ROWS, _SHOWN_RECORDS, _SHOWN_WORDS = 12, 4, 4, 8
# Columns of a record that say what is counted: whatever they hold must be written in the line, or is told.
_TELLING = ("stand", "visited_on", "point", "stratum", "species", "dbh_in", "height_class", "height_ft", "stems",
    "status", "quality", "origin", "crown_class", "edge_count")  # fmt: skip
# What a line of trees without the column counts as, in words.
_TAKEN_FOR_GRANTED = {
    "trees": {"status": "a live tree", "stems": "one tree"},
    "seedlings": {"stems": "one stem", "height_class": "of the height in its line"},
}
_SIZES = ("baf_ft2_ac", "plot_area_ac")
_OF_STATUS = frozenset(("status", "dead_mark", "live_mark"))
_STANDING, _GONE = ("status", "quality"), frozenset(("dead", "cull"))
_Record = Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class ColumnRead:
    """A heading with the column it is taken as and what it comes to: least, middle and most of its numbers in the
    record's ``unit``, or its commonest cells as (written, read, lines); ``more`` cells are not shown. ``total`` is that
    of counts. ``column`` is "" where nothing is read of it."""

    heading: str
    column: str
    unit: str = ""
    numbers: tuple[float, ...] = ()
    total: float | None = None
    codes: tuple[tuple[str, str, int], ...] = ()
    more: int = 0
    filled: int = 0
    blank: int = 0


@dataclass(frozen=True, kw_only=True)
class LineRead:
    """A row of the file as it is written and the records made of it, each with the stems an acre that it stands for at
    its point (None where its plot says no size). ``why`` it is shown."""

    row: int
    why: str
    written: tuple[str, ...]
    records: tuple[_Record, ...]
    per_ac: tuple[float | None, ...]
    more: int = 0


@dataclass(frozen=True, kw_only=True)
class TallyRead:
    """A sheet's tally as it was read. ``stems_ac`` and ``ba_ft2_ac`` are means over its points, of live stems; None
    where its plots say no size."""

    sheet: str
    table: str
    layer: str
    ring: _Record
    columns: tuple[ColumnRead, ...]
    inferred: tuple[str, ...]
    lines: tuple[LineRead, ...]
    points: int
    # Records of the point with fewest, of the middle one, and of the point with most, by its name.
    by_point: tuple[int, float, int]
    fullest: str
    records: int
    stems: float
    stems_ac: float | None
    ba_ft2_ac: float | None


def of(proposal: Proposal | None, parts: Sequence[Part], faults: Iterable[Problem] = ()) -> tuple[TallyRead, ...]:
    """Every tally of a foreign file as it was read; ``parts`` are its tables of the contract. Rows with ``faults`` are
    told there: they are in no sum and are no line to look at."""
    waiting = defaultdict(list)
    for part in parts:
        waiting[part.file, part.sheet, part.table].append(part)
    rings, sizes = _rings(parts), _sizes(parts)
    refused = {(fault.file, fault.sheet, fault.row) for fault in faults}
    made = []
    for sheet in proposal.sheets if proposal else ():
        ready: Ready | None = sheet.body.ready if sheet.body else None
        if ready is None or ready.table not in _TALLIES or not ready.lines.lines:
            continue
        part = waiting[ready.file, ready.sheet, ready.table].pop(0)
        tally = _Tally(ready, sheet.body, part, sheet.questions, rings, sizes)
        rows = [row for row in tally.records if (ready.file, ready.sheet, row) not in refused]
        made.append(tally.read(sheet.sheet, rows))
    return tuple(made)


def _rings(parts: Iterable[Part]) -> dict[str, list[_Record]]:
    """The rings of each visit."""
    rings = defaultdict(list)
    for part in parts:
        for row in part.frame.to_dicts() if part.table == "rings" else ():
            rings[row["visit"]].append(row)
    return rings


def _sizes(parts: Iterable[Part]) -> dict[tuple[str, str], _Record]:
    """Points, with the factor or plot size of their own where they have one."""
    rows = (row for part in parts if part.table == "points" for row in part.frame.to_dicts())
    return {(row["visit"], row["point"]): row for row in rows}


def _number(text: str | None) -> float | None:
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        return None


@dataclass(frozen=True, kw_only=True)
class _Ring:
    """A ring in numbers: dbh from ``low_in`` up to ``high_in``, and a factor, ft2/ac, or a plot's area, ac."""

    layer: str
    low_in: float
    high_in: float
    factor: float | None
    area: float | None


class _Tally:
    """One sheet: its rows as they are written, and the records made of each."""

    def __init__(
        self, ready: Ready, read: Read, part: Part, questions: Sequence[Question],
        rings: Mapping[str, list[_Record]], sizes: Mapping[tuple[str, str], _Record],
    ) -> None:  # fmt: skip
        assert read.draft is not None and read.draft.layout is not None and read.read is not None
        self.ready, self.draft, self.layout, self.questions = ready, read.draft, read.draft.layout, questions
        self.codes = read.read.codes
        self.rings, self.sizes, self.table = rings, sizes, ready.table
        self.known: dict[str, list[_Ring]] = {}
        self.records: dict[int, list[_Record]] = defaultdict(list)
        for row in part.frame.to_dicts():
            self.records[row[ROW]].append({name: text or "" for name, text in row.items() if name != ROW})
        self.per_ac = {row: tuple(map(self._stands_for, held)) for row, held in self.records.items()}
        self.columns = [name for name in part.frame.columns if name != ROW]
        self.cells: dict[int, list[Sequence[str]]] = defaultdict(list)
        for number, cells in self.layout.body:
            self.cells[number].append(cells)

    def read(self, sheet: str, rows: Sequence[int]) -> TallyRead:
        """All that is told of the tally; ``rows`` are those that can be taken."""
        every = [one for row in rows for one in self.records[row]]
        visits = {one["visit"] for one in every}
        points = {place for place, row in self.sizes.items() if place[0] in visits and row.get("in_stand") != "no"}
        listed = {(one["visit"], one.get("point", "")) for one in every}
        inside = [
            (one, per_ac)
            for row in rows
            for one, per_ac in zip(self.records[row], self.per_ac[row], strict=True)
            if one.get("status") != "dead"
        ]
        inside = [(one, per_ac) for one, per_ac in inside if not points or (one["visit"], one.get("point")) in points]
        count = len(points) or len(listed)
        held = Counter((one["visit"], one.get("point", "")) for one in every)
        held.update(dict.fromkeys(points, 0))
        fullest, most = held.most_common(1)[0] if held else (("", ""), 0)
        known = self.table in ("trees", "seedlings") and all(per_ac is not None for _, per_ac in inside)
        basal = [
            (per_ac or 0) * FT2_PER_IN2_OF_DBH * dbh**2 for one, per_ac in inside if (dbh := _number(one.get("dbh_in")))
        ]
        return TallyRead(
            sheet=sheet,
            table=self.table,
            layer=self.ready.ring.get("layer", ""),
            ring=dict(self.ready.ring),
            columns=tuple(self._columns()),
            inferred=tuple(self._inferred()),
            lines=tuple(self._lines({row: self.records[row] for row in rows})),
            points=count,
            by_point=(min(held.values(), default=0), float(median(held.values() or (0,))), most),
            fullest=fullest[1],
            records=len(every),
            stems=sum(_stems(one) for one in every),
            stems_ac=sum(per_ac or 0 for _, per_ac in inside) / count if known and count else None,
            ba_ft2_ac=sum(basal) / count if known and count and basal else None,
        )

    def _stands_for(self, one: _Record) -> float | None:
        """Stems an acre that a record stands for at its point."""
        dbh_in = _number(one.get("dbh_in")) if self.table == "trees" else None
        unread = bool(one.get("stems")) and _number(one["stems"]) is None
        if unread or self.table not in ("trees", "seedlings") or (self.table == "trees" and dbh_in is None):
            return None
        rings = self._rings_of(one["visit"])
        ring = next((ring for ring in rings if dbh_in is None or ring.low_in <= dbh_in < ring.high_in), None)
        if ring is None:
            return 0.0 if rings else None
        factor, area = ring.factor, ring.area
        if self.ready.has_own_sizes and ring.layer != "midstory":
            own = self.sizes.get((one["visit"], one.get("point", "")), {})
            sizes = [_number(own.get(name)) for name in _SIZES]
            factor, area = sizes if any(sizes) else (factor, area)
        if not (factor and dbh_in) and not area:
            return None
        each = float(survey.trees_per_acre_prism(factor, dbh_in)) if factor and dbh_in else 1 / (area or 1)
        return each * _stems(one) * (_number(one.get("edge_count")) or 1)

    def _rings_of(self, visit: str) -> list[_Ring]:
        """The rings of a visit that take in lines of this sheet."""
        if visit not in self.known:
            young = self.table == "seedlings"
            own = [ring for ring in self.rings[visit] if (ring.get("layer") == "reproduction") == young]
            self.known[visit] = [_ring(ring) for ring in own]
        return self.known[visit]

    def _columns(self) -> Iterator[ColumnRead]:
        """Each heading with what it comes to."""
        columns = {place: column for column, place in self.draft.places.items()}
        wide = self.draft.wide.said if self.draft.wide else {}
        for place, heading in enumerate(self.layout.headings):
            place_of = self.layout.again.get(place, place)
            column = columns.get(place_of, "").partition("#")[0]
            pairs = list(self._pairs(place, column))
            held = Counter(written for written, _ in pairs if written)
            if not heading and not held:
                continue
            if place in wide:
                yield _counted(heading, f"stems of {self._kind_of(wide[place])}", held, len(pairs))
            else:
                yield self._column(heading or f"column {place + 1}", column, pairs)

    def _kind_of(self, said: Sequence[str]) -> str:
        """What a column of counts counts, as the codes of its heading were read."""
        assert self.draft.wide is not None
        pairs = zip(self.draft.wide.columns, said, strict=False)
        codes = ((column, word, self.codes.get(column, {}).get(word, word)) for column, word in pairs)
        return " ".join(f"{word} (shared)" if code == SPLIT else _plain(column, code) for column, word, code in codes)

    def _pairs(self, place: int, column: str) -> Iterator[tuple[str, str]]:
        """A column's cell in each line as it is written, and as it is read; "" where several trees of a row cannot be
        told apart, and of headings that come again."""
        for row, records in self.records.items():
            copies = self.cells[row]
            held = [cells[place].strip() if place < len(cells) else "" for cells in copies]
            if place in self.layout.again:
                yield held[0], ""
            elif len(copies) in (1, len(records)):
                yield from ((text, one.get(column, "")) for text, one in zip(held, records, strict=False))
            else:
                yield from ((text, "") for text in held if text)

    def _column(self, heading: str, column: str, pairs: Sequence[tuple[str, str]]) -> ColumnRead:
        filled = [pair for pair in pairs if pair[0]]
        made = ColumnRead(
            heading=heading, column="" if column == LEFT_OUT else column, filled=len(filled),
            blank=len(pairs) - len(filled),
        )  # fmt: skip
        shape = TABLES[self.table].columns.get(column)
        every = [text for held in self.records.values() for one in held if (text := one.get(column, ""))]
        numbers = [number for text in every if (number := _number(text)) is not None]
        if shape is not None and column not in ("species", "tree", "point") and numbers and len(numbers) == len(every):
            ends = (min(numbers), float(median(numbers)), max(numbers))
            total = sum(numbers) if column in ("stems", "acorns") else None
            return dataclasses.replace(made, unit=shape.unit, numbers=ends, total=total)
        codes = Counter((written, _meaning(column, read)) for written, read in filled).most_common()
        shown = tuple((written, read, count) for (written, read), count in codes[:_SHOWN_CODES])
        return dataclasses.replace(made, codes=shown, more=len(codes) - len(shown))

    def _inferred(self) -> Iterator[str]:
        """What no cell of a line says, each with its lines and where it is from."""
        yield from self._of_columns()
        for column in _TELLING:
            if column not in self.draft.places and column not in self._of_headings:
                yield from self._without_column(column)
        ring = {"baf_ft2_ac", "plot_area_ac"} & self.ready.ring.keys()
        yield from (f"{name} is {self.ready.ring[name]}: {self._source(*_SIZES)}" for name in sorted(ring))
        if not self.ready.has_own_sizes and not ring and self.table in ("trees", "seedlings"):
            yield "the size of the plots is not said: nothing an acre comes of it"

    @property
    def _of_headings(self) -> set[str]:
        """Columns that headings of counts say."""
        return {*self.draft.wide.columns, "stems"} if self.draft.wide else set()

    def _of_columns(self) -> Iterator[str]:
        """Cells that are blank or ditto and were filled, and cells that are written and came to nothing."""
        for column, place in self.draft.places.items():
            if column not in self.columns:
                continue
            filled: list[tuple[int, str]] = []
            lost: list[tuple[int, str]] = []
            for row, records in self.records.items():
                written = [cells[place].strip() for cells in self.cells[row] if place < len(cells)]
                bare = all(map(_is_bare, written))
                if bare and records[0].get(column):
                    filled.append((row, records[0][column]))
                elif not bare and not any(one.get(column) for one in records):
                    lost.append((row, next(filter(None, written))))
            name = self.layout.headings[place] if place < len(self.layout.headings) else column
            if filled:
                yield (
                    f"{name}: blank or ditto in {many(len(filled), 'line')}, taken from above or from an answer "
                    f"({_some(f'row {row} as {_plain(column, text)}' for row, text in filled)})"
                )
            granted = _TAKEN_FOR_GRANTED.get(self.table, {}).get(column, "")
            blank = sum(not one.get(column) for held in self.records.values() for one in held) - len(lost)
            if granted and blank > 0:
                yield f"{name}: blank in {many(blank, 'line')}: each is {granted}"
            if lost:
                yield (
                    f"{name}: nothing is read of {many(len(lost), 'written cell')} "
                    f"({_some(f'row {row}: {text}' for row, text in lost)})"
                )

    def _without_column(self, column: str) -> Iterator[str]:
        """A value of the records that no heading of the sheet says."""
        held = Counter(one.get(column, "") for held in self.records.values() for one in held)
        if column in ("stand", "visited_on"):
            said = self.ready.constants.get(column, "")
            held = Counter({said: sum(held.values())}) if said else Counter()
        said_of = {text: count for text, count in held.items() if text}
        granted = _TAKEN_FOR_GRANTED.get(self.table, {}).get(column, "")
        if said_of:
            shown = _some(f"{_plain(column, text)} ({many(count, 'line')})" for text, count in said_of.items())
            yield f"{column}, which no heading says: {shown}; {self._source(column)}"
        if granted and held[""] and not self._marks(column):
            yield f"{many(held[''], 'line says', 'lines say')} nothing of {column}: each is {granted}"

    def _marks(self, column: str) -> bool:
        return column == "status" and bool(_OF_STATUS & set(self.draft.places))

    def _source(self, *keys: str) -> str:
        """Where a value that no line says is from."""
        asked = [one for one in self.questions if one.key.rpartition(".")[2] in keys]
        said: Said = self.draft.said
        if any(said.setting(key) for key in keys):
            return "as answered"
        evidence = [text for one in asked for text in one.evidence[:1]]
        return evidence[0] if evidence else "from a heading, a row above or a mark"

    def _lines(self, taken: Mapping[int, Sequence[_Record]]) -> Iterator[LineRead]:
        """A few whole lines that show what differs."""
        shown: set[int] = set()
        for why, row in self._telling_rows(taken) if taken else ():
            if row in shown or len(shown) >= _SHOWN_ROWS:
                continue
            shown.add(row)
            records = self.records[row]
            written = [cell.strip() for cells in self.cells[row][:1] for cell in cells]
            while written and not written[-1]:
                written.pop()
            yield LineRead(
                row=row,
                why=why,
                written=tuple(written),
                records=tuple(records[:_SHOWN_RECORDS]),
                per_ac=self.per_ac[row][:_SHOWN_RECORDS],
                more=max(0, len(records) - _SHOWN_RECORDS),
            )

    def _telling_rows(self, taken: Mapping[int, Sequence[_Record]]) -> Iterator[tuple[str, int]]:
        """Rows worth a look: the commonest kind, a dead or cull tree, what counts for most, is filled, or is rare."""
        kinds = Counter(_kind(held[0]) for held in taken.values())
        (common, _), (rare, _) = kinds.most_common()[0], kinds.most_common()[-1]
        usual = [row for row, held in taken.items() if _kind(held[0]) == common]
        yield "of the commonest kind", usual[len(usual) // 2]
        if gone := [row for row, held in taken.items() if _GONE & {held[0].get(name) for name in _STANDING}]:
            yield "dead or cull", gone[0]
        weights = {row: sum(per_ac or 0 for per_ac in self.per_ac[row]) for row in taken}
        if len(set(weights.values())) > 1:
            yield "counts for most", max(weights, key=weights.__getitem__)
        bare = {row: self._bare(row) for row in taken}
        if max(bare.values()):
            yield "filled from elsewhere", max(bare, key=bare.__getitem__)
        yield "of the rarest kind", next(row for row, held in taken.items() if _kind(held[0]) == rare)

    def _bare(self, row: int) -> int:
        """How many cells of a line are blank or ditto and read all the same."""
        one = self.records[row][0]
        places = [(column, place) for column, place in self.draft.places.items() if one.get(column)]
        cells = self.cells[row][0] if self.cells[row] else ()
        held = [cells[place].strip() if place < len(cells) else "" for _, place in places]
        return sum(map(_is_bare, held))


@functools.lru_cache(maxsize=4096)
def _is_bare(text: str) -> bool:
    """Whether a cell is blank or a ditto mark."""
    return not text or is_word("ditto", text)


def _ring(said: _Record) -> _Ring:
    low, high = _number(said.get("low_dbh_in")), _number(said.get("high_dbh_in"))
    factor, area = (_number(said.get(name)) for name in _SIZES)
    high_in = math.inf if high is None else high
    return _Ring(layer=said.get("layer", ""), low_in=low or 0.0, high_in=high_in, factor=factor, area=area)


def _stems(one: _Record) -> float:
    return 1.0 if not one.get("stems") else _number(one["stems"]) or 0.0


def _kind(one: _Record) -> tuple[str, ...]:
    return tuple(one.get(name, "") for name in ("species", "status", "quality", "height_class"))


def _counted(heading: str, column: str, held: Counter[str], lines: int) -> ColumnRead:
    numbers = [number for text in held.elements() if (number := _number(counted(text))) is not None]
    ends = (min(numbers), float(median(numbers)), max(numbers)) if numbers else ()
    filled = sum(held.values())
    return ColumnRead(
        heading=heading, column=column, numbers=ends, total=sum(numbers), filled=filled, blank=lines - filled
    )


def _plain(column: str, text: str) -> str:
    return _meaning(column, text) or text


def _meaning(column: str, read: str) -> str:
    """What a value of the record means: the name of a species; "" where nothing was read."""
    return species.by_code(int(read)).common_name if column == "species" and read.isdigit() else read


def _some(words: Iterable[str]) -> str:
    every = list(words)
    more = len(every) - _SHOWN_WORDS
    return ", ".join(every[:_SHOWN_WORDS]) + (f" and {more} more" if more > 0 else "")
