"""Records that claim one key and differ: shown side by side, in no figure until a person settles them."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from typing import ClassVar

from overwood.desk import book
from overwood.desk.comparing import typed
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.records import TABLES


@dataclass(frozen=True, kw_only=True)
class Side:
    """One of the rival records: where it was made, by which entry it came, and its values as texts by column."""

    id: str
    entry: int
    device: str
    entered_by: str
    made_at: dt.datetime
    values: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class Dispute:
    """Rival records of one key. ``differs`` are the columns in which they do not agree."""

    table: str
    key: str
    stand: str
    sides: tuple[Side, ...]

    DERIVED: ClassVar = ("differs",)

    @property
    def differs(self) -> tuple[str, ...]:
        return tuple(name for name in TABLES[self.table].columns if len({side.values[name] for side in self.sides}) > 1)


def open_conflicts() -> tuple[Dispute, ...]:
    """Every conflict that waits for a person, by table and key."""
    groups: dict[tuple[str, tuple[str, ...]], list[book.view.Claim]] = defaultdict(list)
    for claim in book.view.rivals():
        groups[claim.table, claim.key].append(claim)
    stands = {visit.visit: visit.stand for visit in book.store.records("visits")} if groups else {}
    return tuple(
        Dispute(table=table, key=" ".join(key), stand=_stand(claims[0].values, stands), sides=tuple(map(_side, claims)))
        for (table, key), claims in groups.items()
    )


def _stand(values: dict[str, object], stands: dict[str, str]) -> str:
    return str(values.get("stand") or stands.get(str(values.get("visit", "")), ""))


def _side(claim: object) -> Side:
    assert isinstance(claim, book.view.Claim)
    values = {name: typed(value) for name, value in claim.values.items()}
    return Side(
        id=claim.row,
        entry=claim.entry,
        device=claim.device,
        entered_by=claim.entered_by,
        made_at=book.store.made_at(claim.row),
        values=values,
    )


def settle(table: str, row_id: str, *, because: str = "") -> int:
    """Let one record stand and set its rivals aside; returns the number of the ruling, which can be taken back. Raises
    Misuse when the record is in no conflict."""
    with book.store.atomic():
        book.view.lock_book()
        claims = [claim for claim in book.view.rivals() if claim.table == table]
        mine = next((claim for claim in claims if claim.row == row_id), None)
        if mine is None:
            raise Misuse(f"{row_id} in {table} is in no conflict.", remedy="See `overwood conflicts`.")
        rows = {table: book.view.losing_rows(table, row_id)}
        about = f"{table} {' '.join(mine.key)}: entry {mine.entry} stands"
        return book.view.set_aside(rows, kind="settle", about=about, because=because, by=book.store.WHO.get())


def table_of(waiting: tuple[Dispute, ...], row_id: str) -> str:
    """The table of a record in dispute. Raises NotFound when no dispute has such a record."""
    table = next((one.table for one in waiting if row_id in {side.id for side in one.sides}), "")
    if not table:
        raise NotFound(f"no record {row_id} is in dispute.", remedy="See `overwood conflicts` for their numbers.")
    return table
