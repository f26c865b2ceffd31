"""Rows in and out of the book, and the current view: what was not replaced and not withdrawn."""

from __future__ import annotations

import secrets
import time
import zlib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from contextvars import ContextVar
from datetime import UTC, date, datetime
from typing import Any

from django.db import connection, transaction
from django.db.models import Q, QuerySet

from overwood.ground.records import TABLES, Property, Record, Stand, StandFile, Visit
from overwood.memory.book.models import MODELS, Batch, Forecast, Paper, Quarantine, SavedMapping

_BY_VISIT = tuple(name for name, table in TABLES.items() if table.key[0] == "visit" and name != "visits")
_BY_STAND = ("strata", "visits", "operations", "decisions", "sightings")
_INSERT_AT_ONCE = 5_000
_KEYS_AT_ONCE = 500

atomic = transaction.atomic
# Who writes: the account of an office, "" for a forester alone.
WHO: ContextVar[str] = ContextVar("who", default="")


class _Clock:
    """Hands out ticks of 1/4096 ms that never repeat, so that identifiers sort in the order they were made."""

    def __init__(self) -> None:
        self._next = 0

    def take(self, count: int) -> int:
        first = max(time.time_ns() // 1_000_000 << 12, self._next)
        self._next = first + count
        return first


_CLOCK = _Clock()


def new_ids(count: int) -> list[str]:
    """Time-ordered identifiers (UUID version 7, RFC 9562 with a counter) as 32 hexadecimal digits."""
    first, noise = _CLOCK.take(count), secrets.token_bytes(8 * count).hex()
    ids = []
    for index in range(count):
        tick, tail = first + index, noise[16 * index : 16 * index + 16]
        ids.append(f"{tick >> 12:012x}7{tick & 0xFFF:03x}{'89ab'[int(tail[0], 16) & 3]}{tail[1:]}")
    return ids


def begin_batch(file_name: str, digest: str) -> Batch:
    return Batch.objects.create(file_name=file_name, digest=digest, entered_at=datetime.now(UTC), entered_by=WHO.get())


def batch_of(digest: str) -> Batch | None:
    """The entry that already brought in a file of this content, if it was not withdrawn."""
    return Batch.objects.filter(digest=digest, withdrawn_at=None).first()


def batches() -> list[dict[str, Any]]:
    return list(Batch.objects.order_by("-id").values("id", "file_name", "entered_at", "entered_by", "rows", "withdrawn_at"))


def withdraw(batch_id: int) -> bool:
    """Hide the rows of one entry from the current view; False where there is no such entry."""
    return bool(Batch.objects.filter(id=batch_id, withdrawn_at=None).update(withdrawn_at=datetime.now(UTC)))


def data_version() -> str:
    """Changes whenever the current view changes."""
    last = Batch.objects.order_by("-id").values_list("id", flat=True).first() or 0
    return f"{last}.{Batch.objects.exclude(withdrawn_at=None).count()}"


def insert(table: str, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> int:
    """Append rows; ``columns`` include id, batch_id and replaces. One statement for all rows, in slices."""
    quoted = ", ".join(f'"{name}"' for name in columns)
    marks = ", ".join(["%s"] * len(columns))
    sql = f'INSERT INTO "{table}" ({quoted}) VALUES ({marks})'
    stored, waiting = 0, []
    with connection.cursor() as cursor:
        for row in rows:
            waiting.append(row)
            if len(waiting) == _INSERT_AT_ONCE:
                cursor.executemany(sql, waiting)
                stored, waiting = stored + len(waiting), []
        if waiting:
            cursor.executemany(sql, waiting)
    return stored + len(waiting)


def current(table: str) -> QuerySet[Any]:
    """Rows of a table that are in force."""
    model = MODELS[table]
    in_force = model.objects.filter(batch__withdrawn_at=None)
    replaced = in_force.exclude(replaces=None).values("replaces")
    return in_force.exclude(id__in=replaced)


def history(table: str, row_id: str) -> list[dict[str, Any]]:
    """A row and those it replaced, newest first."""
    found, model, columns, wanted = [], MODELS[table], list(TABLES[table].columns), row_id
    while wanted:
        row = model.objects.filter(id=wanted).values(*_WITH_ENTRY, *columns).first()
        if row is None:
            break
        found.append(row)
        wanted = row["replaces"]
    return found


_WITH_ENTRY = ("id", "batch_id", "replaces", "batch__entered_at", "batch__entered_by", "batch__file_name", "batch__withdrawn_at")


def key_values(table: str, column: str) -> set[str]:
    """Every value of one column in the current view."""
    return set(current(table).values_list(column, flat=True).distinct())


def records(table: str, **where: Any) -> list[Any]:
    """Records of the current view, in a steady order."""
    shape = TABLES[table].record
    names = list(TABLES[table].columns)
    rows = current(table).filter(**where).order_by("id").values_list("id", *names)
    return [shape(id=row[0].hex, **dict(zip(names, row[1:], strict=True))) for row in rows.iterator(chunk_size=2_000)]


def newest(table: str, text: str, most: int) -> list[Any]:
    """Records of the current view, the newest first; ``text`` is looked for in the first two parts of the key."""
    shape, names = TABLES[table], list(TABLES[table].columns)
    query = current(table)
    for word in text.split():
        wanted = Q()
        for key in shape.key[:2]:
            wanted |= Q(**{f"{key}__icontains": word})
        query = query.filter(wanted)
    rows = query.order_by("-id").values_list("id", *names)[:most]
    return [shape.record(id=row[0].hex, **dict(zip(names, row[1:], strict=True))) for row in rows]


def raw_rows(table: str, keys: Iterable[str] | None = None) -> list[tuple[Any, ...]]:
    """Current rows as plain tuples, id first, then the columns of the contract; ``keys`` are values of the first key."""
    query, names = current(table), list(TABLES[table].columns)
    if keys is None:
        parts = [query]
    else:
        wanted = sorted(keys)
        slices = [wanted[first : first + _KEYS_AT_ONCE] for first in range(0, len(wanted), _KEYS_AT_ONCE)]
        parts = [query.filter(**{f"{TABLES[table].key[0]}__in": part}) for part in slices]
    return [(row[0].hex, *row[1:]) for part in parts for row in part.values_list("id", *names).iterator(chunk_size=5_000)]


def stand_names() -> list[str]:
    """Stands that are listed: those merged into another are not."""
    return sorted(current("stands").filter(merged_into="").values_list("stand", flat=True))


def stand_marks() -> dict[str, str]:
    """For each stand which entries in force its records came by, its own and the acorn checks of its property."""
    in_force = Batch.objects.filter(withdrawn_at=None).values("id")
    owners = dict(current("stands").values_list("stand", "property"))
    listed = set(stand_names())
    visits = {visit: (stand, kind) for visit, stand, kind in current("visits").values_list("visit", "stand", "kind")}
    own: dict[str, set[int]] = defaultdict(set)
    crops: dict[str, set[int]] = defaultdict(set)
    for table in ("stands", *_BY_STAND):
        for stand, batch in MODELS[table].objects.filter(batch__in=in_force).values_list("stand", "batch").distinct():
            own[stand].add(batch)
    for table in _BY_VISIT:
        for visit, batch in MODELS[table].objects.filter(batch__in=in_force).values_list("visit", "batch").distinct():
            stand, kind = visits.get(visit, ("", ""))
            own[stand].add(batch)
            if kind == "acorn":
                crops[owners.get(stand, "")].add(batch)
    return {name: f"{sorted(own[name])} {sorted(crops[owner])}" for name, owner in sorted(owners.items()) if name in listed}


def stand_files(names: Sequence[str] | None = None) -> dict[str, StandFile]:
    """The files of the named stands, or of all that are listed, each table read once."""
    stands: list[Stand] = records("stands")
    wanted = set(names) if names is not None else {stand.stand for stand in stands if not stand.merged_into}
    owners = {stand.property for stand in stands if stand.stand in wanted}
    neighbours = {stand.stand for stand in stands if stand.property in owners}
    by_stand = {table: _grouped(records(table, stand__in=list(wanted)), "stand") for table in _BY_STAND}
    visits = {v.visit: v.stand for rows in by_stand["visits"].values() for v in rows if isinstance(v, Visit)}
    by_visit = {table: _grouped(records(table, visit__in=list(visits)), "visit") for table in _BY_VISIT}
    near_visits: list[Visit] = records("visits", stand__in=list(neighbours), kind="acorn")
    near_trees = _grouped(records("acorn_trees", visit__in=[visit.visit for visit in near_visits]), "visit")
    properties: dict[str, Property] = {row.property: row for row in records("properties")}
    files = {}
    for stand in stands:
        if stand.stand not in wanted:
            continue
        own = [visit.visit for visit in by_stand["visits"].get(stand.stand, ())]
        near = [v for v in near_visits if v.stand != stand.stand and _owner(stands, v.stand) == stand.property]
        tallies = {table: tuple(row for name in own for row in by_visit[table].get(name, ())) for table in _BY_VISIT}
        files[stand.stand] = StandFile(
            stand=stand,
            property=properties.get(stand.property),
            neighbour_visits=tuple(near),
            neighbour_acorn_trees=tuple(row for visit in near for row in near_trees.get(visit.visit, ())),
            **{table: tuple(by_stand[table].get(stand.stand, ())) for table in _BY_STAND},
            **tallies,
        )
    return dict(sorted(files.items()))


def _owner(stands: Sequence[Stand], name: str) -> str:
    return next((stand.property for stand in stands if stand.stand == name), "")


def _grouped(rows: Sequence[Record], name: str) -> dict[str, list[Any]]:
    groups: dict[str, list[Any]] = defaultdict(list)
    for row in rows:
        groups[getattr(row, name)].append(row)
    return groups


def hold(file_name: str, digest: str, content: bytes, mapping: Any, problems: list[dict[str, Any]]) -> int:
    """Keep a faulty file whole until it is settled; the same file waiting already keeps its number."""
    waiting = Quarantine.objects.filter(digest=digest, settled_at=None).first()
    if waiting is not None:
        waiting.problems, waiting.mapping = problems, mapping
        waiting.save(update_fields=["problems", "mapping"])
        return int(waiting.id)
    held = Quarantine.objects.create(
        file_name=file_name,
        digest=digest,
        content=zlib.compress(content),
        mapping=mapping,
        problems=problems,
        entered_at=datetime.now(UTC),
    )
    return int(held.id)


def held() -> list[dict[str, Any]]:
    """Files that wait in quarantine."""
    waiting = Quarantine.objects.filter(settled_at=None).order_by("id")
    return list(waiting.values("id", "file_name", "problems", "entered_at"))


def held_file(number: int) -> tuple[str, bytes, Any] | None:
    """Name, content and mapping of a waiting file."""
    row = Quarantine.objects.filter(id=number, settled_at=None).first()
    return (row.file_name, zlib.decompress(bytes(row.content)), row.mapping) if row else None


def settle(number: int, outcome: str) -> None:
    Quarantine.objects.filter(id=number).update(settled_at=datetime.now(UTC), outcome=outcome)


def settle_name(file_name: str, outcome: str) -> int:
    """Settle every waiting file of this name, once a mended one came in whole."""
    waiting = Quarantine.objects.filter(file_name=file_name, settled_at=None)
    return waiting.update(settled_at=datetime.now(UTC), outcome=outcome)


def save_mapping(name: str, signature: str, spec: dict[str, Any]) -> None:
    SavedMapping.objects.update_or_create(name=name, defaults={"signature": signature, "spec": spec, "saved_at": datetime.now(UTC)})


def mapping_for(signature: str) -> tuple[str, dict[str, Any]] | None:
    row = SavedMapping.objects.filter(signature=signature).order_by("-saved_at").first()
    return (row.name, row.spec) if row else None


def mappings() -> list[dict[str, Any]]:
    return list(SavedMapping.objects.order_by("name").values("name", "signature", "spec", "saved_at"))


def keep_forecast(stand: str, kind: str, made_on: date, rules_version: str, settings: dict[str, Any], result: dict[str, Any]) -> int:
    """Add a forecast as it was made; returns its number."""
    kept = Forecast.objects.create(
        stand=stand,
        kind=kind,
        made_on=made_on,
        made_at=datetime.now(UTC),
        made_by=WHO.get(),
        rules_version=rules_version,
        data_version=data_version(),
        settings=settings,
        result=result,
    )
    return int(kept.id)


def forecasts(stand: str | None = None, kind: str | None = None) -> list[dict[str, Any]]:
    """Kept forecasts, oldest first."""
    query = Forecast.objects.order_by("made_on", "id")
    if stand is not None:
        query = query.filter(stand=stand)
    if kind is not None:
        query = query.filter(kind=kind)
    return list(query.values())


def keep_paper(stand: str, which: str, title: str, own_words: str, made_on: date, rules_version: str, content: bytes) -> int:
    """Add a document as it was printed; returns its number."""
    kept = Paper.objects.create(
        stand=stand,
        which=which,
        title=title,
        own_words=own_words,
        made_on=made_on,
        made_at=datetime.now(UTC),
        made_by=WHO.get(),
        rules_version=rules_version,
        data_version=data_version(),
        content=content,
    )
    return int(kept.id)


def papers(stand: str) -> list[dict[str, Any]]:
    """Kept documents of a stand without their content, newest first."""
    return list(Paper.objects.filter(stand=stand).order_by("-id").values(*_PAPER))


_PAPER = ("id", "stand", "which", "title", "own_words", "made_on", "made_at", "made_by", "rules_version", "data_version")


def paper_content(stand: str, number: int) -> bytes | None:
    """A kept document of a stand as it was printed."""
    row = Paper.objects.filter(stand=stand, id=number).first()
    return bytes(row.content) if row else None
