"""Rows in and out of the book, and the current view: what was not replaced and not withdrawn."""

from __future__ import annotations

import secrets
import time
import zlib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from contextvars import ContextVar
from datetime import UTC, datetime
from operator import itemgetter
from pathlib import Path
from typing import Any

from django.db import OperationalError, connection, transaction
from django.db.models import Count, Max, Q

from overwood.ground.errors import OverwoodError
from overwood.ground.records import BY_VISIT, TABLES, Property, Record, Stand, StandFile, Visit
from overwood.memory.book.models import MODELS, Aside, Batch, Quarantine, SavedMapping, Upload
from overwood.memory.book.view import current, current_rows, disputes, lock_book, sliced, standing

_BY_STAND = ("strata", "visits", "operations", "decisions", "sightings", "ground_features")
_INSERT_AT_ONCE = 5_000

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


def made_at(row_id: str) -> datetime:
    """When a record was made, as its time-ordered identifier says."""
    return datetime.fromtimestamp(int(row_id[:12], 16) / 1000, UTC)


def begin_batch(file_name: str, digest: str) -> Batch:
    """Open an entry, once no other process writes: to be called in a transaction.

    Raises
    ------
    django.db.IntegrityError
        when a file of this content is in force already.
    OverwoodError
        when the book may only be read.
    """
    lock_book()
    try:
        return Batch.objects.create(
            file_name=file_name, digest=digest, entered_at=datetime.now(UTC), entered_by=WHO.get()
        )
    except OperationalError as fault:
        if "readonly" not in str(fault):
            raise
        raise OverwoodError(
            "this book may only be read; nothing was written.",
            remedy="Copy it to a place of your own, or ask for the right to write it.",
        ) from fault


def batch_of(digest: str) -> Batch | None:
    """The entry that already brought in a file of this content, if it was not withdrawn."""
    return Batch.objects.filter(digest=digest, withdrawn_at=None).first()


def batches() -> list[dict[str, Any]]:
    """Entries, newest first; ``ruling`` is the undo that withdrew one."""
    names = ("id", "file_name", "entered_at", "entered_by", "rows", "withdrawn_at", "ruling")
    return list(Batch.objects.order_by("-id").values(*names))


def where() -> str:
    """The open book: its database, and for a file what tells it from another that lay in the same place."""
    name = str(connection.settings_dict["NAME"])
    if connection.vendor != "sqlite":
        return name
    stat = Path(name).stat()
    return f"{name} {stat.st_ino} {stat.st_ctime_ns}"


def data_version() -> str:
    """Changes whenever the current view does; entries and rulings are written one after the other: none is missed."""
    lifted = 'select count(*) from "ruling" where "lifted_at" is not null'
    with connection.cursor() as cursor:
        cursor.execute(f'select (select max("id") from "batch"), (select max("id") from "ruling"), ({lifted})')
        entry, ruling, count = cursor.fetchone()
    return f"{entry or 0}.{ruling or 0}.{count}"


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


def history(table: str, row_id: str) -> list[dict[str, Any]]:
    """A row and those it replaced, newest first."""
    rows, model, columns, wanted = [], MODELS[table], list(TABLES[table].columns), row_id
    while wanted:
        row = model.objects.filter(id=wanted).values(*_WITH_ENTRY, *columns).first()
        if row is None:
            break
        rows.append(row)
        wanted = row["replaces"]
    return rows


_WITH_ENTRY = (
    "id",
    "batch_id",
    "replaces",
    "batch__entered_at",
    "batch__entered_by",
    "batch__file_name",
    "batch__withdrawn_at",
)


def key_values(table: str, column: str) -> set[str]:
    """Every value of one column in the current view."""
    return {row[0] for row in current_rows(table, (column,))}


def records(table: str, **where: Any) -> list[Any]:
    """Records of the current view in a steady order, all or those with this value of one column."""
    by, value = next(iter(where.items()), ("", None))
    return in_slices(table, by, [value])


def in_slices(table: str, by: str, values: Iterable[Any]) -> list[Any]:
    """Records in their steady order whose column ``by`` has one of these values, whatever their number."""
    shape, names = TABLES[table].record, ("id", *TABLES[table].columns)
    held = sorted(current_rows(table, names, by, values), key=itemgetter(0))
    return [shape(**dict(zip(names, row, strict=True))) for row in held]


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
    """Current rows as plain tuples, id first, then columns of the contract; ``keys`` are values of the first key."""
    by = "" if keys is None else TABLES[table].key[0]
    return current_rows(table, ("id", *TABLES[table].columns), by, keys or ())


def unknown_species(code: int) -> list[tuple[str, str, int, str, str]]:
    """Current rows of the unknown species that were written in some way: table, id, entry, visit, as written."""
    rows: list[tuple[str, str, int, str, str]] = []
    for name, table in TABLES.items():
        if "species_written" in table.columns:
            held = current(name).filter(species=code).exclude(species_written="").order_by("id")
            rows += [
                (name, row[0].hex, *row[1:]) for row in held.values_list("id", "batch_id", "visit", "species_written")
            ]
    return rows


def stand_names() -> list[str]:
    """Stands that are listed: those merged into another are not."""
    return sorted(current("stands").filter(merged_into="").values_list("stand", flat=True))


def stand_marks(only: str | None = None) -> dict[str, str]:
    """For each stand (or ``only`` one) which entries in force its records came by, its own and the acorn checks of its
    property."""
    in_force = Batch.objects.filter(withdrawn_at=None).values("id")
    owners = dict(current("stands").values_list("stand", "property"))
    listed = set(stand_names()) if only is None else {only}
    looked = current("visits") if only is None else current("visits").filter(Q(stand=only) | Q(kind="acorn"))
    visits = {visit: (stand, kind) for visit, stand, kind in looked.values_list("visit", "stand", "kind")}
    own: dict[str, set[int]] = defaultdict(set)
    crops: dict[str, set[int]] = defaultdict(set)
    for table in ("stands", *_BY_STAND):
        rows = MODELS[table].objects.filter(batch__in=in_force, **({} if only is None else {"stand": only}))
        for stand, batch in rows.values_list("stand", "batch").distinct():
            own[stand].add(batch)
    for table in BY_VISIT:
        rows = MODELS[table].objects.filter(
            batch__in=in_force, **({} if only is None else {"visit__in": looked.values("visit")})
        )
        for visit, batch in rows.values_list("visit", "batch").distinct():
            stand, kind = visits.get(visit, ("", ""))
            own[stand].add(batch)
            if kind == "acorn":
                crops[owners.get(stand, "")].add(batch)
    # Single records set aside, or back again, are rare: then every stand is looked at anew.
    aside = Aside.objects.filter(ruling__lifted_at=None).aggregate(last=Max("id"), count=Count("id"))
    rest = f"{aside['last'] or 0}.{aside['count']}"
    return {
        name: f"{sorted(own[name])} {sorted(crops[owner])} {rest}"
        for name, owner in sorted(owners.items())
        if name in listed
    }


def stand_files(names: Sequence[str] | None = None) -> dict[str, StandFile]:
    """The files of the named stands, or of all that are listed, each table read once."""
    stands: list[Stand] = records("stands")
    wanted = set(names) if names is not None else {stand.stand for stand in stands if not stand.merged_into}
    # Making a query takes longer than running it, and most books hold few kinds of record.
    held = filled()
    by_stand = {t: _grouped(in_slices(t, "stand", wanted), "stand") if t in held else {} for t in _BY_STAND}
    visits = {v.visit: v.stand for rows in by_stand["visits"].values() for v in rows if isinstance(v, Visit)}
    by_visit = {t: _grouped(in_slices(t, "visit", visits), "visit") if t in held else {} for t in BY_VISIT}
    owners = {stand.property for stand in stands if stand.stand in wanted}
    near = _acorn_checks([stand for stand in stands if stand.property in owners])
    properties: dict[str, Property] = {row.property: row for row in records("properties")}
    disputed = _disputes(visits)
    files = {}
    for stand in stands:
        if stand.stand not in wanted:
            continue
        own = [visit.visit for visit in by_stand["visits"].get(stand.stand, ())]
        tallies = {table: tuple(row for name in own for row in by_visit[table].get(name, ())) for table in BY_VISIT}
        checks, trees = near.get(stand.property, ((), ()))
        files[stand.stand] = StandFile(
            stand=stand,
            property=properties.get(stand.property),
            neighbour_visits=checks,
            neighbour_acorn_trees=trees,
            conflicts=tuple(disputed.get(stand.stand, ())),
            **{table: tuple(by_stand[table].get(stand.stand, ())) for table in _BY_STAND},
            **tallies,
        )
    return dict(sorted(files.items()))


def columns_of(table: str, columns: Sequence[str], keys: Iterable[str]) -> list[tuple[Any, ...]]:
    """Some columns of the current rows whose first key is one of ``keys``."""
    return current_rows(table, columns, TABLES[table].key[0], keys)


def filled() -> set[str]:
    """Tables that ever held a row, in force or not."""
    places = {name: connection.ops.quote_name(model._meta.db_table) for name, model in MODELS.items()}
    with connection.cursor() as cursor:
        cursor.execute(f"select {', '.join(f'exists(select 1 from {place})' for place in places.values())}")
        return {name for name, has in zip(places, cursor.fetchone(), strict=True) if has}


def current_of_entry(table: str, entry: int) -> list[tuple[Any, ...]]:
    """Identifier and key of the rows of one entry that are in force."""
    return [(row[0].hex, *row[1:]) for row in current(table).filter(batch=entry).values_list("id", *TABLES[table].key)]


def visits_of_entries(entries: set[int]) -> list[str]:
    """Visits that rows of these entries name."""
    names: set[str] = set()
    for table, shape in TABLES.items():
        if shape.key[0] == "visit":
            names |= set(MODELS[table].objects.filter(batch__in=entries).values_list("visit", flat=True).distinct())
    return sorted(names)


def entries_of_rows(rows: dict[str, list[str]]) -> set[int]:
    """Entries by which these rows came."""
    return {
        entry
        for table, ids in rows.items()
        for part in sliced(ids)
        for entry in MODELS[table].objects.filter(id__in=part).values_list("batch", flat=True).distinct()
    }


def rows_by_id(table: str, ids: Iterable[str]) -> dict[str, tuple[tuple[Any, ...], bool]]:
    """Values of the rows with these identifiers, and whether each stands: was neither withdrawn nor set aside."""
    names = list(TABLES[table].columns)
    by_name: dict[str, tuple[tuple[Any, ...], bool]] = {}
    for part in sliced(set(ids)):
        rows = MODELS[table].objects.filter(id__in=part).values_list("id", *names)
        up = set(standing(table).filter(id__in=part).values_list("id", flat=True))
        by_name |= {row[0].hex: (row[1:], row[0] in up) for row in rows}
    return by_name


def corrected(table: str, ids: Iterable[str]) -> set[str]:
    """Which of these identifiers a row that stands corrects, whether or not the record itself has come."""
    names: set[str] = set()
    for part in sliced(set(ids)):
        names |= {old.hex for old in standing(table).filter(replaces__in=part).values_list("replaces", flat=True)}
    return names


def _acorn_checks(stands: Sequence[Stand]) -> dict[str, tuple[tuple[Visit, ...], tuple[Any, ...]]]:
    """Acorn checks of each property and their trees, one tuple that all its stands share."""
    owners = {stand.stand: stand.property for stand in stands}
    visits: list[Visit] = [visit for visit in records("visits", kind="acorn") if visit.stand in owners]
    trees = _grouped(in_slices("acorn_trees", "visit", [visit.visit for visit in visits]), "visit")
    by_stand: dict[str, list[Visit]] = defaultdict(list)
    for visit in visits:
        by_stand[owners[visit.stand]].append(visit)
    return {
        owner: (tuple(checks), tuple(row for visit in checks for row in trees.get(visit.visit, ())))
        for owner, checks in by_stand.items()
    }


def _disputes(visits: dict[str, str]) -> dict[str, list[str]]:
    """What waits for a person's word in each stand, as table and key."""
    by_name: dict[str, list[str]] = defaultdict(list)
    for table, key, owner in disputes():
        by_name[visits.get(owner, owner)].append(f"{table} {' '.join(key)}")
    return by_name


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


def save_mapping(name: str, signature: str, spec: dict[str, Any], *, rename: bool = False) -> str:
    """Keep how a layout is read, and hand its name on; the same headings again keep their first name unless told to
    ``rename``."""
    now = {"spec": spec, "saved_at": datetime.now(UTC)}
    named = {**now, "name": name}
    row, _ = SavedMapping.objects.update_or_create(
        signature=signature, defaults=named if rename else now, create_defaults=named
    )
    return str(row.name)


def mappings() -> list[dict[str, Any]]:
    """Kept mappings, by name."""
    return list(SavedMapping.objects.order_by("name", "id").values("id", "name", "signature", "spec", "saved_at"))


def change_mapping(number: int, spec: dict[str, Any]) -> None:
    SavedMapping.objects.filter(id=number).update(spec=spec, saved_at=datetime.now(UTC))


def forget_mapping(number: int) -> bool:
    """Take a kept mapping away; False where there is none of this number."""
    return bool(SavedMapping.objects.filter(id=number).delete()[0])


def keep_upload(file_name: str, content: bytes, most: int) -> int:
    """Keep a sent file until it is settled; of each person no more than ``most``, the oldest go first. Returns its
    number."""
    row = Upload.objects.create(
        who=WHO.get(), file_name=file_name, content=zlib.compress(content), sent_at=datetime.now(UTC)
    )
    own = Upload.objects.filter(who=WHO.get()).order_by("-id").values_list("id", flat=True)
    Upload.objects.filter(id__in=list(own[most:])).delete()
    return int(row.id)


def upload(number: int) -> tuple[str, bytes, dict[str, Any]] | None:
    """Name, content and answers so far of a file the same person sent."""
    row = Upload.objects.filter(id=number, who=WHO.get()).first()
    return (row.file_name, zlib.decompress(bytes(row.content)), dict(row.answers)) if row else None


def uploads() -> list[dict[str, Any]]:
    """Files the same person sent that are not settled, newest first."""
    return list(Upload.objects.filter(who=WHO.get()).order_by("-id").values("id", "file_name", "sent_at"))


def answer_upload(number: int, answers: dict[str, Any]) -> None:
    Upload.objects.filter(id=number, who=WHO.get()).update(answers=answers)


def drop_upload(number: int) -> bool:
    """Put a sent file away; False where the same person sent none of this number."""
    return bool(Upload.objects.filter(id=number, who=WHO.get()).delete()[0])
