"""A drill for the day the book is lost: a copy is put up beside the book, opened by this program, and compared row by
row."""

from __future__ import annotations

import contextlib
import hashlib
import shutil
import sqlite3
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from overwood.ground.errors import NotFound, OverwoodError
from overwood.memory.book import setup


@dataclass(frozen=True, kw_only=True)
class TableDrill:
    """One table in the book and in the copy: rows of each, and rows of the copy that the book does not have as they
    are."""

    table: str
    book_rows: int
    copy_rows: int
    changed_rows: int

    @property
    def is_equal(self) -> bool:
        return self.book_rows == self.copy_rows and not self.changed_rows


@dataclass(frozen=True, kw_only=True)
class Drill:
    """What a drill saw: every table, and the stands that the program reads from the copy."""

    copy: str
    is_fresh: bool
    stands: int
    tables: tuple[TableDrill, ...]

    @property
    def is_equal(self) -> bool:
        return all(table.is_equal for table in self.tables)


def drill(source: Path | None) -> Drill:
    """Open a copy of the book in a place of its own and compare it with the book; a copy made now where none is named.
    Raises NotFound when there is no such copy; OverwoodError when the copy is damaged or this program cannot open it,
    or the book is not one file."""
    from django.db import connection

    if connection.vendor != "sqlite":
        raise OverwoodError(
            "this drill is for a book in one file.",
            remedy="For an office database see the page on keeping: pg_restore.",
        )
    book = Path(connection.settings_dict["NAME"])
    if source is not None and not source.exists():
        raise NotFound(f"there is no copy at {source}.")
    with tempfile.TemporaryDirectory(prefix="overwood-drill-") as folder:
        place = Path(folder) / "copy.sqlite3"
        if source is None:
            setup.backup(place)
        else:
            shutil.copyfile(source, place)
            _check(place, source)
        tables = _compared(book, place)
        return Drill(
            copy=str(source or "made now"), is_fresh=source is None, stands=_stands_read(place, book), tables=tables
        )


def _check(place: Path, source: Path) -> None:
    try:
        with contextlib.closing(sqlite3.connect(place)) as copy:
            setup.check_sound(copy)
    except (sqlite3.DatabaseError, OverwoodError) as fault:
        raise OverwoodError(
            f"{source} would not bring the book back: {fault}", remedy="Take another copy, and look at its disk."
        ) from fault


def _compared(book: Path, place: Path) -> tuple[TableDrill, ...]:
    with contextlib.closing(sqlite3.connect(book)) as live, contextlib.closing(sqlite3.connect(place)) as copy:
        live.execute("begin")
        names = sorted(_tables(live) | _tables(copy))
        return tuple(_table(name, _rows(live, name), _rows(copy, name)) for name in names)


def _table(name: str, book: Counter[bytes], copy: Counter[bytes]) -> TableDrill:
    return TableDrill(table=name, book_rows=book.total(), copy_rows=copy.total(), changed_rows=(copy - book).total())


def _tables(base: sqlite3.Connection) -> set[str]:
    names = base.execute("select name from sqlite_master where type = 'table' and name not like 'sqlite_%'")
    return {row[0] for row in names}


def _rows(base: sqlite3.Connection, table: str) -> Counter[bytes]:
    """A digest of every row, with how often it stands there; none where the table is missing."""
    if table not in _tables(base):
        return Counter()
    # The name comes from the database's own list of tables.
    columns = sorted(row[1] for row in base.execute(f'pragma table_info("{table}")'))
    asked = ", ".join(f'"{column}"' for column in columns)
    return Counter(
        hashlib.sha256(repr(row).encode()).digest() for row in base.execute(f'select {asked} from "{table}"')
    )


def _stands_read(place: Path, book: Path) -> int:
    """How many stands this program reads from the copy; the book is open again afterwards."""
    from overwood.memory.book import store

    try:
        setup.open_book(place)
        return len(store.records("stands", merged_into=""))
    finally:
        setup.open_book(book)
