"""Records into the book: rows are checked, compared with what is there, and stored whole or not at all; an entry can be undone."""

from __future__ import annotations

import dataclasses
import datetime as dt
import difflib
import functools
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from overwood.ground.errors import Misuse, Problem
from overwood.ground.records import TABLES, Record, Table
from overwood.memory.exchange import checking, contract, foreign, reading
from overwood.memory.exchange.reading import Sheet

Progress = Callable[[str, int], None]
_SEPARATOR = "\x1f"
_MOST_COMPARED = 5_000


@dataclass
class Report:
    """What came of bringing a file in."""

    file: str
    batch: int | None = None
    new: dict[str, int] = field(default_factory=dict)
    same: int = 0
    corrected: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    quarantine: int | None = None
    mapping: str = ""
    already: bool = False

    @property
    def faults(self) -> list[Problem]:
        return [problem for problem in self.problems if problem.severity == "error"]

    @property
    def warnings(self) -> list[Problem]:
        return [problem for problem in self.problems if problem.severity == "warning"]


def enter(tables: dict[str, list[dict[str, str]]], *, today: dt.date, name: str) -> Report:
    """Put typed rows in the book, checked as a file's are; rows with faults change nothing and are handed back with their problems."""
    from overwood.memory.book import store

    sheets = []
    for table, rows in tables.items():
        columns = list(TABLES[table].columns)
        cells = [columns, *([row.get(column, "") for column in columns] for row in rows)]
        sheets.append(Sheet(file=name, name=table, source=list(enumerate(cells))))
    digest = hashlib.sha256(repr((name, today, tables)).encode()).hexdigest()
    report = Report(name)
    try:
        with store.atomic():
            Entry(report, today=today, progress=None).store(name, digest, sheets, None)
            # What the book holds already makes no entry of its own.
            if report.faults or not any(report.new.values()):
                raise HasFaults
    except HasFaults:
        report.batch, report.new, report.corrected = None, {}, []
        report.same = 0 if report.faults else report.same
    return report


def as_text(record: Record) -> dict[str, str]:
    """A record as the text of its columns, as a person would type it."""
    return {f.name: typed(getattr(record, f.name)) for f in dataclasses.fields(record) if "column" in f.metadata}


def typed(value: Any) -> str:
    """A value as a person would type it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.12g}"
    return "" if value is None else str(value)


class HasFaults(Exception):
    """Rolls the transaction back."""


class Entry:
    """One file on its way into the book: what it has seen so far, and what must be compared."""

    def __init__(self, report: Report, *, today: dt.date, progress: Progress | None) -> None:
        self.report, self.today, self.progress = report, today, progress
        self.seen: dict[str, set[str]] = {name: set() for name in TABLES}
        self.parents: dict[tuple[str, tuple[str, ...]], set[str]] = {}
        self.filled: dict[str, bool] = {}
        self.batch: Any = None

    def store(self, name: str, digest: str, sheets: list[Sheet], plan: dict[str, Any] | None) -> None:
        from overwood.memory.book import store

        self.batch = store.begin_batch(name, digest)
        self.report.batch = int(self.batch.id)
        parts = self._parts(sheets, plan)
        for table in TABLES:
            for make_chunks in parts.get(table, []):
                for sheet, frame in make_chunks():
                    self._chunk(TABLES[table], sheet, frame)
        self.batch.rows = self.report.new
        self.batch.save(update_fields=["rows"])

    def _parts(self, sheets: list[Sheet], plan: dict[str, Any] | None) -> dict[str, list[Callable[[], Any]]]:
        parts: dict[str, list[Callable[[], Any]]] = {}
        plans = {entry["sheet"]: entry for entry in (plan or {"sheets": []})["sheets"]}
        for sheet in sheets:
            if foreign.is_contract(sheet):
                table = sheet.name.strip().lower()
                parts.setdefault(table, []).append(functools.partial(self._frames, sheet, table))
            elif plans.get(sheet.name, {}).get("table"):
                for table, frame in foreign.apply(plans[sheet.name], sheet).items():
                    parts.setdefault(table, []).append(functools.partial(iter, [(sheet, frame)]))
            else:
                self._warn(sheet, "This sheet is not understood and was left out.")
        return parts

    def _warn(self, sheet: Sheet, what: str) -> None:
        self.report.problems.append(Problem(what=what, file=sheet.file, sheet=sheet.name, severity="warning"))

    def _frames(self, sheet: Sheet, table: str) -> Iterator[tuple[Sheet, Any]]:
        """The rows of a contract sheet as frames of text, a bounded number of rows at a time."""
        rows = sheet.rows()
        headings = [cell.strip().lower() for cell in next(rows)[1]]
        if not self._headings_fit(sheet, table, headings):
            return
        waiting: list[reading.Row] = []
        for row, cells in rows:
            if not any(cells):
                continue
            if len(cells) > len(headings) and any(cell.strip() for cell in cells[len(headings) :]):
                self._fault(sheet, row, "", "The row has more cells than there are headings.", found=cells[len(headings)])
                continue
            waiting.append((row, cells))
            if len(waiting) == reading.CHUNK_ROWS:
                yield sheet, _frame(headings, waiting)
                waiting = []
        if waiting:
            yield sheet, _frame(headings, waiting)

    def _headings_fit(self, sheet: Sheet, table: str, headings: list[str]) -> bool:
        columns = TABLES[table].columns
        named = [heading for heading in headings if heading]
        fits = True
        for heading in sorted({heading for heading in named if named.count(heading) > 1}):
            self._fault(sheet, 1, heading, "The heading stands twice.", remedy="Keep one of the two columns.")
            fits = False
        for name, column in columns.items():
            if column.required and name not in named:
                near = difflib.get_close_matches(name, [h for h in named if h not in columns], n=1, cutoff=0.6)
                remedy = f"Is {near[0]!r} meant?" if near else "Add it."
                self._fault(sheet, 1, name, "A column that must be there is missing.", remedy=remedy)
                fits = False
        for heading in named:
            if heading not in columns:
                self._warn(sheet, f"The column {heading!r} is not part of the contract; its values are not stored.")
        return fits

    def _fault(self, sheet: Sheet, row: int | None, column: str, what: str, *, found: str = "", remedy: str = "") -> None:
        problem = Problem(what=what, file=sheet.file, sheet=sheet.name, row=row, column=column, found=found, remedy=remedy)
        self.report.problems.append(problem)

    def _chunk(self, table: Table, sheet: Sheet, frame: Any) -> None:
        checked = checking.check(table, frame, file=sheet.file, sheet=sheet.name, today=self.today)
        self.report.problems += checked.problems
        good = self._with_parents(table, sheet, _defaults(table, checked.good))
        good = self._without_twins(table, sheet, good)
        if table.name == "rings":
            good = self._without_overlaps(sheet, good)
        self._insert(table, good)
        if self.progress:
            self.progress(table.name, frame.height)

    def _with_parents(self, table: Table, sheet: Sheet, good: Any) -> Any:
        import polars as pl

        for keys, parent in contract.parents(table.name):
            held, here = self._held(parent, keys, good), self.seen[parent]
            marks = _marks(good, keys)
            known = pl.Series([mark in here or mark in held for mark in marks], dtype=pl.Boolean)
            for row, *values in good.filter(~known).select(checking.ROW, *keys).iter_rows():
                self._orphan(sheet, row, keys, parent, values, held | here)
            good = good.filter(known)
        return good

    def _orphan(self, sheet: Sheet, row: int, keys: tuple[str, ...], parent: str, values: list[str], known: set[str]) -> None:
        near = difflib.get_close_matches(_SEPARATOR.join(values), known, n=1, cutoff=0.6) if len(known) < _MOST_COMPARED else []
        remedy = f"The nearest is {near[0].replace(_SEPARATOR, ' ')!r}." if near else f"Add it to {parent}."
        what = f"There is no such {_singular(parent)} in {parent}."
        self._fault(sheet, row, keys[-1], what, found=" ".join(values), remedy=remedy)

    def _held(self, parent: str, keys: tuple[str, ...], good: Any) -> set[str]:
        """Keys of a parent table that the book holds, as far as this chunk needs them."""
        from overwood.memory.book import store

        held = self.parents.setdefault((parent, keys), set())
        if not self._book_has(parent):
            return held
        if len(keys) == 1:
            if not held:
                held |= store.key_values(parent, keys[0])
            return held
        looked = self.parents.setdefault((parent, ("looked",)), set())
        visits = set(good[keys[0]].unique().to_list()) - looked
        looked |= visits
        held |= {f"{row[1]}{_SEPARATOR}{row[2]}" for row in store.raw_rows(parent, visits)}
        return held

    def _without_twins(self, table: Table, sheet: Sheet, good: Any) -> Any:
        """Rows whose key did not occur before in this file; a twin that differs is a fault."""
        marks, seen = _marks(good, table.key).to_list(), self.seen[table.name]
        before = len(seen)
        seen_earlier = [mark in seen for mark in marks] if seen else []
        seen.update(marks)
        if len(seen) == before + len(marks):
            return good
        keep, first_of = [], {}
        for place, mark in enumerate(marks):
            values = good.row(place)[1:]
            earlier = bool(seen_earlier) and seen_earlier[place]
            if not earlier and mark not in first_of:
                first_of[mark] = values
                keep.append(place)
            elif first_of.get(mark) != values:
                self._fault(
                    sheet,
                    good[checking.ROW][place],
                    table.key[-1],
                    "The same row stands twice with different values.",
                    found=mark.replace(_SEPARATOR, " "),
                    remedy="Keep the right one, or number them apart.",
                )
        return good[keep]

    def _without_overlaps(self, sheet: Sheet, good: Any) -> Any:
        """Rings of one visit whose dbh ranges do not overlap, so that no tree counts twice."""
        taken: dict[str, list[tuple[float, float]]] = {}
        keep = []
        for place, ring in enumerate(good.iter_rows(named=True)):
            low, high = ring["low_dbh_in"] or 0.0, ring["high_dbh_in"] or 1e9
            others = taken.setdefault(ring["visit"], [])
            if ring["layer"] != "reproduction" and any(low < up and start < high for start, up in others):
                self._fault(
                    sheet,
                    ring[checking.ROW],
                    "low_dbh_in",
                    "Two rings of this visit take in the same dbh.",
                    found=f"{low:g} to {high:g} in",
                    remedy="Give low_dbh_in and high_dbh_in so that they do not overlap.",
                )
                continue
            if ring["layer"] != "reproduction":
                others.append((low, high))
            keep.append(place)
        return good[keep]

    def _insert(self, table: Table, good: Any) -> None:
        from overwood.memory.book import store

        if not good.height:
            return
        names = list(table.columns)
        rows = _plain_rows(good, names)
        replaces: list[str | None] = [None] * len(rows)
        if self._book_has(table.name):
            rows, replaces = self._compared(table, good, rows)
        ids = store.new_ids(len(rows))
        entries = ((row_id, self.batch.id, old, *row) for row_id, old, row in zip(ids, replaces, rows, strict=True))
        stored = store.insert(table.name, ("id", "batch_id", "replaces", *names), entries)
        self.report.new[table.name] = self.report.new.get(table.name, 0) + stored

    def _book_has(self, table: str) -> bool:
        from overwood.memory.book import store

        if table not in self.filled:
            self.filled[table] = store.current(table).exists()
        return self.filled[table]

    def _compared(self, table: Table, good: Any, rows: list[tuple[Any, ...]]) -> tuple[list[Any], list[str | None]]:
        """Leave out what the book already holds; what differs becomes a correction that names the old row."""
        from overwood.memory.book import store

        names = list(table.columns)
        places = [names.index(key) for key in table.key]
        held = store.raw_rows(table.name, good[table.key[0]].unique().to_list())
        by_key = {tuple(row[1 + place] for place in places): row for row in held}
        fresh: list[Any] = []
        replaces: list[str | None] = []
        for row in rows:
            old = by_key.get(tuple(row[place] for place in places))
            if old is None:
                fresh.append(row)
                replaces.append(None)
                continue
            changes = [
                f"{name} {_shown(before)} -> {_shown(after)}"
                for name, before, after in zip(names, old[1:], row, strict=True)
                if not _equal(before, after)
            ]
            if not changes:
                self.report.same += 1
                continue
            fresh.append(row)
            replaces.append(old[0])
            self.report.corrected.append(f"{table.name} {' '.join(map(str, (row[p] for p in places)))}: {'; '.join(changes)}")
        return fresh, replaces


def _shown(value: Any) -> str:
    return "blank" if value in (None, "") else str(value)


def _equal(before: Any, after: Any) -> bool:
    if isinstance(before, dt.date):
        before = before.isoformat()
    return bool(before == after)


def _singular(table: str) -> str:
    return {"properties": "property"}.get(table, table.rstrip("s"))


def _frame(headings: list[str], rows: list[reading.Row]) -> Any:
    import polars as pl

    columns: dict[str, list[str]] = {}
    for place, heading in enumerate(headings):
        if heading:
            columns[heading] = [cells[place] if place < len(cells) else "" for _, cells in rows]
    return pl.DataFrame({checking.ROW: [row for row, _ in rows], **columns}, schema_overrides={checking.ROW: pl.Int64})


def _marks(frame: Any, keys: tuple[str, ...]) -> Any:
    import polars as pl

    return frame.select(pl.concat_str([pl.col(key).cast(pl.String) for key in keys], separator=_SEPARATOR))[keys[0]]


def _defaults(table: Table, good: Any) -> Any:
    import polars as pl

    defaults = {f.name: f.default for f in dataclasses.fields(table.record) if f.name in table.columns}
    fills = [pl.col(name).fill_null(value) for name, value in defaults.items() if isinstance(value, int) and value]
    return good.with_columns(fills) if fills else good


def _plain_rows(good: Any, names: list[str]) -> list[tuple[Any, ...]]:
    """Rows as both databases take them: dates as text, blank text as an empty text."""
    import polars as pl
    import polars.selectors as cs

    plain = good.select(names).with_columns(cs.date().dt.to_string("%Y-%m-%d"), cs.string().fill_null(pl.lit("")))
    dates = [name for name in names if good.schema[name] == pl.Date]
    plain = plain.with_columns([pl.when(pl.col(name) == "").then(None).otherwise(pl.col(name)).alias(name) for name in dates])
    return list(plain.rows())


def undo(batch: int) -> None:
    """Take an entry out of the current view; its rows stay in the history."""
    from overwood.memory.book import store

    if not store.withdraw(batch):
        raise Misuse(f"there is no entry {batch} to withdraw.", remedy="See `overwood entries`.")
