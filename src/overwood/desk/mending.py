"""Species that were not understood when they came in: listed by how they were written, and mended after as corrections.

The import itself stays; each mended row is a new record that replaces the one before.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from overwood.desk import book, entering
from overwood.ground import species
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.records import TABLES


@dataclass(frozen=True, kw_only=True)
class UnknownSpecies:
    """Rows of one stand and one entry whose species was written in a way that is not known."""

    written: str
    stand: str
    entry: int
    file: str
    table: str
    rows: int
    nearest: str = ""


@dataclass(frozen=True, kw_only=True)
class _Row:
    table: str
    id: str
    entry: int
    stand: str
    written: str


def unknown_species() -> tuple[UnknownSpecies, ...]:
    """What is still unknown in the book, the most frequent first."""
    files = {row["id"]: row["file_name"] for row in book.store.batches()}
    counts = Counter((row.written, row.stand, row.entry, row.table) for row in _rows())
    return tuple(
        UnknownSpecies(
            written=written,
            stand=stand,
            entry=entry,
            file=files.get(entry, ""),
            table=table,
            rows=rows,
            nearest=species.match(written).nearest,
        )
        for (written, stand, entry, table), rows in counts.most_common()
    )


def mend_species(
    written: str, meant: str, *, today: dt.date, stand: str = "", entry: int | None = None
) -> entering.Report:
    """Say what a species that was not understood is: every row written so is corrected, and the row before stays in the
    history. Raises Misuse when ``meant`` is no one species; NotFound when no row of the book is still unknown and
    written so."""
    code = _code(meant)
    rows = [
        row for row in _rows() if row.written == written and stand in ("", row.stand) and entry in (None, row.entry)
    ]
    if not rows:
        open_ = ", ".join(sorted({row.written for row in _rows()})) or "none"
        raise NotFound(f"no row is still unknown and written {written!r}.", remedy=f"Still unknown: {open_}.")
    tables = {name: _corrected([row for row in rows if row.table == name], code) for name in TABLES}
    filled = {name: lines for name, lines in tables.items() if lines}
    return entering.enter(filled, today=today, name=f"species {written} is {code}", replace=entering.ALL)


def _code(meant: str) -> int:
    try:
        entry = species.find(meant)
    except KeyError as fault:
        raise Misuse(f"{fault.args[0]}.", remedy="See `overwood species`.") from None
    if entry.spcd == species.UNKNOWN:
        raise Misuse(f"{meant!r} is the unknown species.", remedy="Give an FIA code, a PLANTS symbol or a common name.")
    return entry.spcd


def _rows() -> list[_Row]:
    rows = book.store.unknown_species(species.UNKNOWN)
    stands = {visit.visit: visit.stand for visit in book.store.records("visits")} if rows else {}
    return [
        _Row(table=table, id=row_id, entry=entry, stand=stands.get(visit, ""), written=written)
        for table, row_id, entry, visit, written in rows
    ]


def _corrected(rows: Sequence[_Row], code: int) -> list[dict[str, str]]:
    """The rows as they would be typed, with the species they are; how they were written stays beside it."""
    if not rows:
        return []
    wanted = {row.id for row in rows}
    held = [record for record in book.store.records(rows[0].table) if record.id in wanted]
    return [entering.as_text(record) | {"species": str(code)} for record in held]
