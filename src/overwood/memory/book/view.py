"""What is in force: not withdrawn, not set aside by a ruling, not replaced, and not in dispute; and the rulings
themselves.

The view is worked out from the set of records alone, so the order in which they came in changes nothing. Several
records that claim one key and differ are rivals: none of them is in force until a person settles it. Where other
records hang on the key (a stand, a visit, a point), the one made first stays in force meanwhile. Equal ones count once.
"""

from __future__ import annotations

import functools
import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, NamedTuple

from django.db import IntegrityError, connection, transaction
from django.db.models import QuerySet

from overwood.ground.records import TABLES
from overwood.memory.book.models import MODELS, Aside, Batch, Disputed, Ruling
from overwood.memory.exchange.contract import parents

KEYS_AT_ONCE = 500
# The number of the lock that one writer of records holds at a time; any number that nothing else of the database uses.
_LOCK = 7_295_017
_IDENTIFIERS = ("id", "replaces")
_LEADERS = frozenset(parent for table in TABLES for _, parent in parents(table))


class SameContent(Exception):
    """A content came in again after its entry was undone, so that the undo cannot be taken back."""


def lock_book() -> None:
    """Wait until no other process writes records; held to the end of the transaction. SQLite does so by itself."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("select pg_advisory_xact_lock(%s)", [_LOCK])


# A page or a file asks for these hundreds of times, and making such a query takes longer than running it.
@functools.cache
def _standing(table: str) -> QuerySet[Any]:
    aside = Aside.objects.filter(table=table, ruling__lifted_at=None).values("row")
    return MODELS[table].objects.filter(batch__withdrawn_at=None).exclude(id__in=aside)


@functools.cache
def _claims(table: str) -> QuerySet[Any]:
    rows = _standing(table)
    return rows.exclude(id__in=rows.exclude(replaces=None).values("replaces"))


@functools.cache
def _current(table: str) -> QuerySet[Any]:
    out = Disputed.objects.filter(table=table, is_out=True).values("row")
    return _claims(table).exclude(id__in=out)


def standing(table: str) -> QuerySet[Any]:
    """Rows that were neither withdrawn nor set aside."""
    return _standing(table).all()


def claims(table: str) -> QuerySet[Any]:
    """Rows that nothing replaces: one a key, or several where a key is in dispute."""
    return _claims(table).all()


def current(table: str) -> QuerySet[Any]:
    """Rows of a table that are in force."""
    return _current(table).all()


class _Statement(NamedTuple):
    """A query as its database takes it, parted where the values of one column are listed."""

    sql: tuple[str, str]
    params: tuple[tuple[Any, ...], tuple[Any, ...]]
    # What turns a stored value into that of a record, by the place of its column.
    turns: dict[int, Any]


@functools.cache
def _statement(vendor: str, table: str, names: tuple[str, ...], by: str) -> _Statement:
    """Made once a process for each ``vendor`` of database: making a query takes longer than running it."""
    query = current(table).filter(**{f"{by}__in": ["0"]}) if by else current(table)
    compiler = query.values_list(*names).query.get_compiler("default")
    sql, params = compiler.as_sql()
    before, mark, after = sql.partition(f'"{by}" IN (%s)') if by else (sql, "", "")
    place = before.count("%s")
    turns = compiler.get_converters([one[0] for one in compiler.select])
    return _Statement(
        (before, after),
        (params[:place], params[place + bool(mark) :]),
        {place: turn for place, turn in turns.items() if names[place] not in _IDENTIFIERS},
    )


def current_rows(table: str, names: Sequence[str], by: str = "", values: Iterable[Any] = ()) -> list[tuple[Any, ...]]:
    """Columns of the rows in force, all or those whose column ``by`` has one of ``values``; identifiers as 32
    hexadecimal digits."""
    made = _statement(connection.vendor, table, tuple(names), by)
    rows: list[tuple[Any, ...]] = []
    with connection.cursor() as cursor:
        for part in sliced(set(values)) if by else ([],):
            marks = f'"{by}" IN ({", ".join(["%s"] * len(part))})' if by else ""
            cursor.execute(marks.join(made.sql), (*made.params[0], *part, *made.params[1]))
            rows += cursor.fetchall()
    return _turned(rows, made.turns, [place for place, name in enumerate(names) if name in _IDENTIFIERS])


def _turned(rows: list[tuple[Any, ...]], turns: dict[int, Any], identifiers: list[int]) -> list[tuple[Any, ...]]:
    if not rows:
        return rows
    columns = list(zip(*rows, strict=True))
    for place, (makers, expression) in turns.items():
        for make in makers:
            columns[place] = tuple(make(value, expression, connection) for value in columns[place])
    for place in identifiers:
        columns[place] = tuple(value.hex if isinstance(value, uuid.UUID) else value for value in columns[place])
    return list(zip(*columns, strict=True))


def sliced(values: Iterable[Any]) -> Iterator[list[Any]]:
    """Values in steady order, as many at a time as one statement takes."""
    wanted = sorted(values)
    for first in range(0, len(wanted), KEYS_AT_ONCE):
        yield wanted[first : first + KEYS_AT_ONCE]


def settle_disputes(table: str, leads: Iterable[str]) -> None:
    """Work out anew which keys of a table are in dispute, among those that begin with one of ``leads``."""
    shape, names = TABLES[table], list(TABLES[table].columns)
    places = [names.index(part) for part in shape.key]
    for part in sliced(set(leads)):
        Disputed.objects.filter(table=table, lead__in=part).delete()
        groups: dict[tuple[Any, ...], list[tuple[Any, ...]]] = defaultdict(list)
        for row in _of_several_claims(table, part).values_list("id", *names).order_by("id"):
            groups[tuple(row[1 + place] for place in places)].append(row)
        entries = [one for key, rows in groups.items() if len(rows) > 1 for one in _disputed(table, key, rows)]
        Disputed.objects.bulk_create(entries, batch_size=KEYS_AT_ONCE)


def _of_several_claims(table: str, leads: Sequence[str]) -> QuerySet[Any]:
    """Claims of those leads under which some key has more than one; the database counts, so that sound keys cost
    little."""
    from django.db.models import Count

    shape = TABLES[table]
    query = claims(table).filter(**{f"{shape.key[0]}__in": leads})
    several = (
        query.order_by().values(*shape.key).annotate(n=Count("id")).filter(n__gt=1).values_list(shape.key[0], flat=True)
    )
    return query.filter(**{f"{shape.key[0]}__in": list(set(several))})


def _disputed(table: str, key: tuple[Any, ...], rows: list[tuple[Any, ...]]) -> Iterator[Disputed]:
    rival = any(row[1:] != rows[0][1:] for row in rows)
    first_stays = not rival or table in _LEADERS
    for place, row in enumerate(rows):
        is_out = not (first_stays and place == 0)
        yield Disputed(table=table, row=row[0], lead=key[0], key=list(key), is_out=is_out, is_rival=rival)


def settle_all_disputes() -> None:
    """Work out every dispute of the book: once, for a book from before disputes were known."""
    for table, shape in TABLES.items():
        settle_disputes(table, set(MODELS[table].objects.values_list(shape.key[0], flat=True).distinct()))


@dataclass(frozen=True)
class Claim:
    """One side of a dispute: the record, where and when it was made and by which entry it came."""

    table: str
    key: tuple[str, ...]
    row: str
    entry: int
    device: str
    entered_by: str
    entered_at: datetime
    values: dict[str, Any]


def rivals() -> list[Claim]:
    """Every record of a key in dispute whose claims differ, side by side."""
    claims = []
    by_table: dict[str, list[Disputed]] = defaultdict(list)
    for one in Disputed.objects.filter(is_rival=True).order_by("table", "id"):
        by_table[one.table].append(one)
    for table, disputed in by_table.items():
        rows = {row.id: row for part in sliced(one.row for one in disputed) for row in _with_entry(table, part)}
        claims += [_claim(table, tuple(one.key), rows[one.row]) for one in disputed if one.row in rows]
    return claims


def _with_entry(table: str, ids: Sequence[Any]) -> QuerySet[Any]:
    return MODELS[table].objects.filter(id__in=ids).select_related("batch")


def _claim(table: str, key: tuple[str, ...], row: Any) -> Claim:
    values = {name: getattr(row, name) for name in TABLES[table].columns}
    batch = row.batch
    return Claim(table, key, row.id.hex, int(batch.id), row.record_device, batch.entered_by, batch.entered_at, values)


def disputed_keys(table: str, leads: Iterable[str]) -> set[tuple[str, ...]]:
    """Keys of a table that wait for a person's word."""
    query = Disputed.objects.filter(table=table, is_rival=True)
    return {
        tuple(key) for part in sliced(set(leads)) for key in query.filter(lead__in=part).values_list("key", flat=True)
    }


def disputes() -> list[tuple[str, tuple[str, ...], str]]:
    """Table and key of each dispute, each once, with the stand or visit it lies under."""
    owners = {}
    for one in Disputed.objects.filter(is_rival=True).order_by("table", "id"):
        key = tuple(one.key)
        if (one.table, key) not in owners:
            named = TABLES[one.table].key[0] in ("stand", "visit")
            owners[one.table, key] = key[0] if named else _stand_of(one.table, one.row)
    return [(table, key, owner) for (table, key), owner in owners.items()]


def _stand_of(table: str, row: Any) -> str:
    if "stand" not in TABLES[table].columns:
        return ""
    return str(MODELS[table].objects.filter(id=row).values_list("stand", flat=True).first() or "")


def _rule(kind: str, about: str, because: str, by: str) -> Ruling:
    lock_book()
    return Ruling.objects.create(at=datetime.now(UTC), by=by, kind=kind, about=about, because=because)


def withdraw_entries(entries: set[int], *, about: str, by: str) -> int:
    """Hide the rows of entries; returns the number of the ruling, 0 where none of them is in force."""
    with transaction.atomic():
        lock_book()
        batches = Batch.objects.filter(id__in=entries, withdrawn_at=None)
        wanted = list(batches.values_list("id", flat=True))
        if not wanted:
            return 0
        ruling = _rule("undo", about, "", by)
        batches.update(withdrawn_at=ruling.at, ruling=ruling)
        _settle_those_of(wanted)
    return int(ruling.id)


def _settle_those_of(entries: Iterable[int]) -> None:
    """Disputes of every key that rows of these entries name."""
    wanted = list(entries)
    for table, shape in TABLES.items():
        leads = MODELS[table].objects.filter(batch__in=wanted).values_list(shape.key[0], flat=True).distinct()
        settle_disputes(table, leads)


def set_aside(rows: dict[str, list[str]], *, kind: str, about: str, because: str, by: str) -> int:
    """Take single records out of the current view; returns the number of the ruling."""
    with transaction.atomic():
        ruling = _rule(kind, about, because, by)
        places = [Aside(ruling=ruling, table=table, row=uuid.UUID(row)) for table, ids in rows.items() for row in ids]
        Aside.objects.bulk_create(places, batch_size=KEYS_AT_ONCE)
        _settle_those_aside(ruling)
    return int(ruling.id)


def _settle_those_aside(ruling: Ruling) -> None:
    by_table: dict[str, list[uuid.UUID]] = defaultdict(list)
    for table, row in Aside.objects.filter(ruling=ruling).values_list("table", "row"):
        by_table[table].append(row)
    for table, ids in by_table.items():
        lead, model = TABLES[table].key[0], MODELS[table]
        settle_disputes(
            table,
            {key for part in sliced(ids) for key in model.objects.filter(id__in=part).values_list(lead, flat=True)},
        )


def lift(number: int, *, by: str) -> bool:
    """Take a ruling back; False where it is not there or was lifted before. Raises SameContent when a file that it hid
    came in again since."""
    with transaction.atomic():
        lock_book()
        if not Ruling.objects.filter(id=number, lifted_at=None).update(lifted_at=datetime.now(UTC), lifted_by=by):
            return False
        hidden = list(Batch.objects.filter(ruling=number).values_list("id", flat=True))
        try:
            with transaction.atomic():
                Batch.objects.filter(id__in=hidden).update(withdrawn_at=None, ruling=None)
        except IntegrityError as fault:
            raise SameContent from fault
        _settle_those_of(hidden)
        _settle_those_aside(Ruling(id=number))
    return True


def rulings() -> list[dict[str, Any]]:
    """Undos and settlements, newest first."""
    names = ("id", "at", "by", "kind", "about", "because", "lifted_at", "lifted_by")
    return list(Ruling.objects.order_by("-id").values(*names))


def entries_of_ruling(number: int) -> set[int]:
    """Entries that a ruling withdrew."""
    return set(Batch.objects.filter(ruling=number).values_list("id", flat=True))


def entries_that_replace(entries: set[int]) -> set[int]:
    """Entries in force, outside these, with rows that replace rows of these."""
    batches: set[int] = set()
    for table, model in MODELS.items():
        old = model.objects.filter(batch__in=entries).values("id")
        batches |= set(standing(table).filter(replaces__in=old).values_list("batch", flat=True).distinct())
    return batches - entries


def entries_without_parents(entries: set[int]) -> set[int]:
    """Entries in force whose rows name a stand, visit or point that only these (withdrawn) entries made."""
    batches: set[int] = set()
    for table in TABLES:
        for keys, parent in parents(table):
            batches |= _orphaned(table, keys, _lost(parent, keys, entries))
    return batches - entries


def _lost(parent: str, keys: tuple[str, ...], entries: set[int]) -> set[tuple[str, ...]]:
    """Keys that rows of these entries made and nothing in force holds any more."""
    made = set(MODELS[parent].objects.filter(batch__in=entries).values_list(*keys).distinct())
    left: set[tuple[str, ...]] = set()
    for part in sliced({key[0] for key in made}):
        left |= set(standing(parent).filter(**{f"{keys[0]}__in": part}).values_list(*keys))
    return made - left


def _orphaned(table: str, keys: tuple[str, ...], lost: set[tuple[str, ...]]) -> set[int]:
    batches: set[int] = set()
    for part in sliced({key[0] for key in lost}):
        rows = standing(table).filter(**{f"{keys[0]}__in": part}).values_list("batch", *keys).distinct()
        batches |= {batch for batch, *key in rows if tuple(key) in lost}
    return batches


def entries_missing_parents(entries: set[int]) -> bool:
    """Whether rows in force of these entries name a stand, visit or point that is not there."""
    return any(_misses(table, keys, parent, entries) for table in TABLES for keys, parent in parents(table))


def _misses(table: str, keys: tuple[str, ...], parent: str, entries: set[int]) -> bool:
    wanted = set(standing(table).filter(batch__in=entries).values_list(*keys).distinct())
    for part in sliced({key[0] for key in wanted}):
        wanted -= set(standing(parent).filter(**{f"{keys[0]}__in": part}).values_list(*keys))
    return bool(wanted)


def rows_of_visit(visit: str) -> dict[str, list[str]]:
    """Every row of a visit that was not withdrawn, by table."""
    tables = [name for name, shape in TABLES.items() if shape.key[0] == "visit"]
    rows_of = {
        name: [row.hex for row in standing(name).filter(visit=visit).values_list("id", flat=True)] for name in tables
    }
    return {name: rows for name, rows in rows_of.items() if rows}


def losing_rows(table: str, row_id: str) -> list[str]:
    """Rows of the same key that are neither this one nor those that it replaced."""
    model, shape = MODELS[table], TABLES[table]
    row = model.objects.filter(id=row_id).first()
    if row is None:
        return []
    same = dict(standing(table).filter(**{key: getattr(row, key) for key in shape.key}).values_list("id", "replaces"))
    line, step = set(), row.id
    while step is not None and step not in line:
        line.add(step)
        step = same.get(step)
    return [one.hex for one in same if one not in line]
