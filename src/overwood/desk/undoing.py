"""Taking entries out of the current view with all that hangs on them, and putting them back; nothing is ever
deleted."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from overwood.desk import book
from overwood.ground.errors import Misuse


@dataclass(frozen=True, kw_only=True)
class EntryLine:
    """One entry as it is listed: its number, what it was, who brought it in, rows by table."""

    number: int
    file_name: str
    entered_by: str
    rows: dict[str, int]


@dataclass(frozen=True, kw_only=True)
class Undo:
    """What an undo takes out: the entry itself first, then those that hang on it; visits that go or change; rows by
    table."""

    entries: tuple[EntryLine, ...]
    visits: tuple[str, ...]
    rows: dict[str, int]


def undo_preview(entry: int) -> Undo:
    """What undoing an entry takes out. Nothing is changed. Raises Misuse when there is no such entry in force."""
    wanted = _with_hanging(entry)
    lines = [_line(row) for row in book.store.batches() if row["id"] in wanted]
    lines.sort(key=lambda line: (line.number != entry, line.number))
    rows: Counter[str] = Counter()
    for line in lines:
        rows.update(line.rows)
    return Undo(entries=tuple(lines), visits=tuple(book.store.visits_of_entries(wanted)), rows=dict(rows))


def _line(row: dict[str, Any]) -> EntryLine:
    return EntryLine(number=row["id"], file_name=row["file_name"], entered_by=row["entered_by"], rows=dict(row["rows"]))


def undo(entry: int) -> int:
    """Take an entry out with all that hangs on it; returns the number of the ruling, by which it can be taken back.
    Raises Misuse when there is no such entry in force."""
    with book.store.atomic():
        book.view.lock_book()
        wanted = _with_hanging(entry)
        others = sorted(wanted - {entry})
        about = f"entry {entry}" + (f" with {', '.join(map(str, others))}, which hang on it" if others else "")
        return book.view.withdraw_entries(wanted, about=about, by=book.store.WHO.get())


class _Tried(Exception):
    """Rolls a trial back."""


def _with_hanging(entry: int) -> set[int]:
    """The entry and those in force that correct its rows, or whose stand, visit or point only it made, and so on."""
    wanted = {entry}
    try:
        with book.store.atomic():
            if not book.view.withdraw_entries({entry}, about="", by=""):
                raise Misuse(f"there is no entry {entry} to withdraw.", remedy="See `overwood entries`.")
            while more := book.view.entries_that_replace(wanted) | book.view.entries_without_parents(wanted):
                book.view.withdraw_entries(more, about="", by="")
                wanted |= more
            raise _Tried
    except _Tried:
        return wanted


def visit_preview(visit: str) -> Undo:
    """What undoing one visit takes out, by whatever entries it came. Raises Misuse when the book has no such visit."""
    rows = _visit_rows(visit)
    came_by = book.store.entries_of_rows(rows)
    lines = tuple(_line(row) for row in book.store.batches() if row["id"] in came_by)
    return Undo(entries=lines, visits=(visit,), rows={table: len(ids) for table, ids in rows.items()})


def undo_visit(visit: str) -> int:
    """Take every record of one visit out, by whatever entries it came; returns the number of the ruling. Raises Misuse
    when the book has no such visit."""
    with book.store.atomic():
        book.view.lock_book()
        return book.view.set_aside(
            _visit_rows(visit), kind="undo", about=f"visit {visit}", because="", by=book.store.WHO.get()
        )


def _visit_rows(visit: str) -> dict[str, list[str]]:
    rows = book.view.rows_of_visit(visit)
    if not rows:
        raise Misuse(f"there is no visit {visit!r} to withdraw.", remedy="See the visits of its stand.")
    return rows


def redo(ruling: int) -> None:
    """Take an undo, or the settling of a conflict, back. Raises Misuse when there is no such ruling, or something it
    rests on is no longer in force."""
    with book.store.atomic():
        hidden = book.view.entries_of_ruling(ruling)
        try:
            lifted = book.view.lift(ruling, by=book.store.WHO.get())
        except book.view.SameContent:
            raise Misuse("the same file came in again since.", remedy="Undo that entry first.") from None
        if not lifted:
            raise Misuse(f"there is no undo {ruling} to take back.", remedy="See `overwood entries`.")
        if book.view.entries_missing_parents(hidden):
            raise Misuse(
                f"undo {ruling} cannot be taken back: its stand, visit or point was undone too.",
                remedy="Take that undo back first.",
            )


def rulings() -> list[dict[str, Any]]:
    """Undos and settlements, newest first."""
    return book.view.rulings()
