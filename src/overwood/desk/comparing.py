"""Rows held against the book: what is new, what corrects, what is there already, and what somebody else has changed
since."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from overwood.desk import book
from overwood.desk.account import Account
from overwood.desk.incoming import Clash, Origin
from overwood.desk.review import Change
from overwood.ground.records import Record, Table
from overwood.memory.exchange.reading import Sheet

# A row to be added: the row it replaces, and its values; None where it is not added.
_Row = tuple[str | None, tuple[Any, ...]] | None
# A row as it is stored: its identifier, the row it replaces, its device, its values.
Made = tuple[str, str | None, str, tuple[Any, ...]]
# Where one of these is given another value, the others that are not given no longer hold.
_TOGETHER = {
    "rings": ("design", "baf_ft2_ac", "plot_area_ac", "strip_width_ft"),
    "points": ("baf_ft2_ac", "plot_area_ac"),
    "seedlings": ("height_class", "height_ft"),
}


@dataclass
class _Held:
    """What the book holds of the keys and identifiers of one chunk."""

    by_key: dict[tuple[Any, ...], tuple[Any, ...]]
    by_id: dict[str, tuple[tuple[Any, ...], bool]]
    disputed: set[tuple[str, ...]]
    in_force: set[str]
    # Identifiers that rows of the book correct, theirs too that have not come yet.
    corrected: set[str]


def _held(table: Table, leads: list[str], origins: dict[int, Origin]) -> _Held:
    places, rows = key_places(table), book.store.raw_rows(table.name, leads)
    named = {one for origin in origins.values() for one in (origin.id, origin.replaces) if one}
    return _Held(
        by_key={tuple(row[1 + place] for place in places): row for row in rows},
        by_id=book.store.rows_by_id(table.name, named) if named else {},
        disputed=book.view.disputed_keys(table.name, leads),
        in_force={row[0] for row in rows},
        corrected=book.store.corrected(table.name, named) if named else set(),
    )


@dataclass(frozen=True)
class _Case:
    """One row on its way: where it stands, its key, its values and what it says of itself."""

    table: Table
    sheet: Sheet
    number: int
    key: tuple[str, ...]
    row: tuple[Any, ...]
    origin: Origin

    @property
    def name(self) -> str:
        return " ".join(map(str, self.key))

    def clash(self, old: tuple[Any, ...] | None) -> Clash:
        names = list(self.table.columns)
        stored = dict(zip(names, map(typed, old[1:]), strict=True)) if old else {}
        came = dict(zip(names, map(typed, filler(self.table)(self.row)), strict=True))
        return Clash(table=self.table.name, key=self.name, row=old[0] if old else "", stored=stored, came=came)


class Comparison:
    """Holds the rows of one chunk against the book and writes what came of each into the entry."""

    def __init__(
        self, entry: Account, table: Table, sheet: Sheet, leads: list[str], origins: dict[int, Origin]
    ) -> None:
        self.entry, self.table, self.sheet, self.origins = entry, table, sheet, origins
        self.held = _held(table, leads, origins)

    def made(self, rows: list[tuple[int, tuple[Any, ...]]]) -> list[Made]:
        """Rows to be added; what the book holds already is left out."""
        ids, places, made = iter(book.store.new_ids(len(rows))), key_places(self.table), []
        for number, row in rows:
            origin = self.origins.get(number, Origin())
            case = _Case(self.table, self.sheet, number, tuple(row[place] for place in places), row, origin)
            one = self._with_own_id(case) if origin.id or origin.replaces else self._by_key(case)
            if one is None:
                continue
            known = origin.id in self.held.by_id
            made.append((origin.id if origin.id and not known else next(ids), one[0], origin.device, one[1]))
            self.entry.take(self.sheet, number, stored=True)
        return made

    def _by_key(self, case: _Case) -> _Row:
        """A row that names no record: held against what is in force under its key."""
        if case.key in self.held.disputed:
            what = "Several records claim this one; settle that first."
            return self._clash(case, None, what, "See `overwood conflicts`.")
        old = self.held.by_key.get(case.key)
        if old is None:
            self.entry.ledger.add(case.table.name, case.key)
            return None, filler(case.table)(case.row)
        return self._against(case, old)

    def _against(self, case: _Case, old: tuple[Any, ...]) -> _Row:
        """A row held against the record it would correct: only what it carries is compared."""
        merged = _merged(case.table, old[1:], case.row, case.origin.clears)
        changes = _changes(case.table, case.key, old[1:], merged, row=old[0])
        if not changes:
            return self._same(case)
        self.entry.ledger.part(case.table.name, case.key).changes.extend(changes)
        self.entry.report.corrected.append(f"{case.table.name} {case.name}: {'; '.join(map(str, changes))}")
        return old[0], merged

    def _same(self, case: _Case) -> _Row:
        self.entry.report.same += 1
        self.entry.ledger.part(case.table.name, case.key).same += 1
        self.entry.take(case.sheet, case.number, stored=False)
        return None

    def _with_own_id(self, case: _Case) -> _Row:
        """A row that says which record it is, or which one it corrects."""
        origin = case.origin
        if origin.id and self.entry.named.setdefault((case.table.name, origin.id), case.row) is not case.row:
            if self.entry.named[case.table.name, origin.id] == case.row:
                return self._same(case)
            return self._stands_twice(case)
        if origin.id in self.held.by_id:
            return self._known(case)
        if origin.id:
            return self._made_elsewhere(case)
        if origin.replaces not in self.held.in_force:
            what = "The record was changed or withdrawn since it was read; nothing was written over it."
            return self._clash(
                case, self.held.by_key.get(case.key), what, "Look at both, then correct the record as it stands now."
            )
        old = next(row for row in self.held.by_key.values() if row[0] == origin.replaces)
        return self._against(case, old)

    def _stands_twice(self, case: _Case) -> _Row:
        what = "Two rows of this file have one identifier and differ."
        self.entry.fault(
            case.sheet, case.number, "id", what, found=case.origin.id, remedy="Leave the identifier of a new row blank."
        )
        self.entry.refuse(case.sheet, [case.number])
        return None

    def _known(self, case: _Case) -> _Row:
        """A record that came before: a repeat, or a correction of it where it is still the newest."""
        values, stands = self.held.by_id[case.origin.id]
        filled = (
            filler(case.table)(case.row)
            if self.entry.synced
            else _merged(case.table, values, case.row, case.origin.clears)
        )
        is_repeat = not _changes(case.table, case.key, values, filled)
        if is_repeat and (stands or self.entry.synced):
            return self._same(case)
        if not stands and not self.entry.synced:
            return self._by_key(case)
        if case.origin.id in self.held.in_force and not self.entry.synced:
            return self._against(case, (case.origin.id, *values))
        what = "The book has another value under this identifier, and the record was changed since."
        return self._clash(
            case,
            self.held.by_key.get(case.key) or (case.origin.id, *values),
            what,
            "Look at both, then correct the newest.",
        )

    def _made_elsewhere(self, case: _Case) -> _Row:
        """A record made at another device: kept as it is; where others claim its key, a person settles it."""
        values = filler(case.table)(case.row)
        part = self.entry.ledger.part(case.table.name, case.key)
        self.entry.touched[case.table.name].add(case.key[0])
        old, replaces = self.held.by_key.get(case.key), case.origin.replaces or None
        if case.origin.id in self.held.corrected:
            # Its correction came first and stays in force: the record is kept behind it.
            return replaces, values
        if case.key in self.held.disputed or (
            old is not None and old[0] != replaces and _changes(case.table, case.key, old[1:], values)
        ):
            part.clashes.append(f"{case.table.name} {case.name}")
            self.entry.report.clashes.append(case.clash(old))
        elif old is None or old[0] != replaces:
            part.rows[case.table.name] += 1
        else:
            part.changes.extend(_changes(case.table, case.key, old[1:], values))
        return replaces, values

    def _clash(self, case: _Case, old: tuple[Any, ...] | None, what: str, remedy: str) -> _Row:
        self.entry.report.clashes.append(case.clash(old))
        self.entry.fault(case.sheet, case.number, case.table.key[-1], what, found=case.name, remedy=remedy)
        self.entry.refuse(case.sheet, [case.number])
        return None


def typed(value: Any) -> str:
    """A value as a person would type it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.12g}"
    return "" if value is None else str(value)


def as_text(record: Record) -> dict[str, str]:
    """A record as the text of its columns, as a person would type it."""
    return {f.name: typed(getattr(record, f.name)) for f in dataclasses.fields(record) if "column" in f.metadata}


def _changes(
    table: Table, key: tuple[str, ...], before: tuple[Any, ...], after: tuple[Any, ...], row: str = ""
) -> list[Change]:
    return [
        Change(
            table=table.name, key=" ".join(map(str, key)), column=name, before=_shown(old), after=_shown(new), row=row
        )
        for name, old, new in zip(table.columns, before, after, strict=True)
        if not _equal(old, new)
    ]


def _shown(value: Any) -> str:
    return "" if value is None else str(value)


def _equal(before: Any, after: Any) -> bool:
    if isinstance(before, dt.date):
        before = before.isoformat()
    return bool(before == after)


def _merged(table: Table, old: tuple[Any, ...], new: tuple[Any, ...], clears: frozenset[str]) -> tuple[Any, ...]:
    """The stored values with what a row carries laid over them: a blank cell changes nothing, the word clear
    empties."""
    names = list(table.columns)
    given = {name: value for name, value in zip(names, new, strict=True) if value not in (None, "")}
    cells = (value.isoformat() if isinstance(value, dt.date) else value for value in old)
    merged = dict(zip(names, cells, strict=True)) | given
    group = _TOGETHER.get(table.name, ())
    if any(name in given and not _equal(old[names.index(name)], given[name]) for name in group):
        merged |= {name: new[names.index(name)] for name in group}
    if "species" in given and "species_written" in merged:
        merged["species_written"] = given.get("species_written", "")
    merged |= {name: _empty(table, name) for name in clears}
    return tuple(merged[name] for name in names)


def _empty(table: Table, name: str) -> Any:
    return next(f.default for f in dataclasses.fields(table.record) if f.name == name)


def key_places(table: Table) -> list[int]:
    names = list(table.columns)
    return [names.index(key) for key in table.key]


def with_defaults(table: Table, frame: Any) -> Any:
    """Text cells of records that are all new, blank whole numbers filled with what they stand for, so that rules see
    it."""
    import polars as pl

    cells = {name: pl.col(name).fill_null("").str.strip_chars() for name in table.columns if name in frame.columns}
    if not cells:
        return frame
    # A line that says nothing stays blank.
    says = pl.any_horizontal([cell != "" for cell in cells.values()])
    fills = []
    for name, default in blanks_of(table).items():
        cell = cells.get(name, pl.lit(""))
        fills.append(pl.when(says & (cell == "")).then(pl.lit(str(default))).otherwise(cell).alias(name))
    return frame.with_columns(fills)


def blanks_of(table: Table) -> dict[str, int]:
    """What a blank whole number of a new record stands for."""
    defaults = {f.name: f.default for f in dataclasses.fields(table.record) if f.name in table.columns}
    return {name: default for name, default in defaults.items() if isinstance(default, int) and default}


def filler(table: Table) -> Callable[[tuple[Any, ...]], tuple[Any, ...]]:
    """Puts the defaults of a new record where a whole number is blank."""
    defaults = blanks_of(table)
    fills = [(place, defaults[name]) for place, name in enumerate(table.columns) if name in defaults]
    if not fills:
        return lambda row: row

    def fill(row: tuple[Any, ...]) -> tuple[Any, ...]:
        values = list(row)
        for place, default in fills:
            if values[place] is None:
                values[place] = default
        return tuple(values)

    return fill
