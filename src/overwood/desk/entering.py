"""Records into the book: looked at first, then stored whole or not at all; what they would replace needs a person's
yes."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
from collections.abc import Iterable, Mapping

from overwood.desk import book
from overwood.desk.comparing import as_text, typed
from overwood.desk.entry import Entry, Progress
from overwood.desk.incoming import ORIGIN, Clash, Incoming, Report
from overwood.ground.errors import Misuse
from overwood.ground.records import TABLES
from overwood.memory.exchange.reading import Sheet

__all__ = [
    "ALL",
    "Clash",
    "Incoming",
    "Progress",
    "Report",
    "as_text",
    "enter",
    "look",
    "typed",
    "typed_sheets",
    "visit_of",
    "was_entered",
    "write",
]

# Consent to everything that would be replaced.
ALL = frozenset({"*"})
_NOTHING: frozenset[str] = frozenset()


class _Unstored(Exception):
    """Rolls the transaction back."""


def look(
    coming: Incoming,
    *,
    today: dt.date,
    instead_of: int | None = None,
    progress: Progress | None = None,
    synced: bool = False,
) -> Report:
    """What would come of storing; nothing is written. ``instead_of`` is an earlier entry that it would take the place
    of."""
    report = Report(coming.name)
    try:
        with book.store.atomic():
            Entry(report, today=today, progress=progress, synced=synced).run(coming, secrets.token_hex(32), instead_of)
            raise _Unstored
    except _Unstored:
        report.nothing_stored()
    return report


def write(
    coming: Incoming,
    *,
    today: dt.date,
    replace: frozenset[str] = _NOTHING,
    instead_of: int | None = None,
    leave_out_faulty: bool = False,
    progress: Progress | None = None,
    synced: bool = False,
    ask_species: bool = False,
) -> Report:
    """Store what comes in, in one transaction.

    Nothing is stored where a row has a fault (``leave_out_faulty`` stores the others), or where something would be
    replaced whose mark is not in ``replace``: then ``needs_consent`` of the report names it. A content that the book
    holds already, or that another process stores at this moment, is stored once. ``synced`` rows come from a device
    and are kept as they were made: rivals go in side by side and wait for a person. With ``ask_species`` an unknown
    species is a fault.
    """
    from django.db import IntegrityError

    report = Report(coming.name)
    try:
        with book.store.atomic():
            entry = Entry(report, today=today, progress=progress, synced=synced, ask_species=ask_species)
            entry.run(coming, coming.digest, instead_of)
            # What a device made is kept beside what is there, so that nothing is replaced that its maker did not see.
            report.needs_consent = () if synced else _unconsented(report, replace)
            if report.needs_consent or (report.faults and not leave_out_faulty):
                raise _Unstored
            # What the book holds already makes no entry of its own.
            if not any(report.new.values()) and report.review is not None and report.review.adds_only:
                raise _Unstored
    except _Unstored:
        report.nothing_stored()
    except IntegrityError:
        known = book.store.batch_of(coming.digest)
        if known is None:
            raise
        return Report(coming.name, batch=int(known.id), already=True)
    return report


def _unconsented(report: Report, replace: frozenset[str]) -> tuple[str, ...]:
    if replace >= ALL or report.review is None:
        return ()
    return tuple(mark for mark in report.review.replaces if mark not in replace)


def enter(
    tables: Mapping[str, Iterable[Mapping[str, str]]],
    *,
    today: dt.date,
    name: str,
    replace: frozenset[str] = _NOTHING,
    form: str = "",
    synced: bool = False,
    ask_species: bool = False,
) -> Report:
    """Put typed rows in the book, checked as a file's are; rows with faults change nothing and are handed back with
    their problems.

    Rows are texts by column; ``id``, ``device`` and ``replaces`` may stand beside the columns of the contract. ``form``
    is the number of the form they were typed in: a form counts once. ``ask_species`` as in ``write``.
    """
    sheets = typed_sheets(name, tables)
    coming = Incoming(name=name, digest=_mark(form), sheets=sheets, is_typed=True)
    return write(coming, today=today, replace=replace, synced=synced, ask_species=ask_species)


def was_entered(form: str) -> bool:
    """Whether the book has an entry of this form."""
    return bool(form) and book.store.batch_of(_mark(form)) is not None


def _mark(form: str) -> str:
    return hashlib.sha256(f"form {form}".encode()).hexdigest() if form else secrets.token_hex(32)


def visit_of(tables: Mapping[str, Iterable[Mapping[str, str]]]) -> str:
    """The one visit that every row is of. Raises Misuse when a table is not of a visit, or rows name none or several
    visits."""
    strange = sorted(table for table in tables if table not in TABLES or TABLES[table].key[0] != "visit")
    if strange:
        known = ", ".join(table for table, shape in TABLES.items() if shape.key[0] == "visit")
        raise Misuse(
            f"{', '.join(strange)}: no table of a visit.", remedy=f"Nothing was written. Tables of a visit are {known}."
        )
    visits = sorted({row.get("visit", "").strip() for rows in tables.values() for row in rows})
    if len(visits) != 1 or not visits[0]:
        raise Misuse(
            f"rows are of {len(visits)} visits: {', '.join(map(repr, visits))}.",
            remedy="Nothing was written. Send one visit at a time.",
        )
    return visits[0]


def typed_sheets(name: str, tables: Mapping[str, Iterable[Mapping[str, str]]]) -> tuple[Sheet, ...]:
    """Rows of text by table as sheets in the program's own form."""
    return tuple(_sheet(name, table, list(rows)) for table, rows in tables.items())


def _sheet(name: str, table: str, rows: list[Mapping[str, str]]) -> Sheet:
    """Only the columns that a row carries, so that what was not asked erases nothing."""
    said = {column for row in rows for column in row}
    columns = [column for column in TABLES[table].columns if column in said or TABLES[table].columns[column].required]
    columns += [column for column in ORIGIN if column in said]
    cells = [columns, *([row.get(column, "") for column in columns] for row in rows)]
    return Sheet(file=name, name=table, source=list(enumerate(cells)))
