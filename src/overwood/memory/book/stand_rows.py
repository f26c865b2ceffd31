"""Everything that was ever stored of one stand, in force or not: what an auditor sees."""

from __future__ import annotations

from typing import Any

from overwood.ground.records import TABLES
from overwood.memory.book.models import MODELS, Aside, Batch, Ruling
from overwood.memory.book.view import current, sliced

# What stands before the columns of a record: its identifier, whether it counts, and how it came into the book.
ENTRY = ("id", "in_force", "replaces", "entry", "file_name", "entered_at", "entered_by", "withdrawn_at")
_STORED = (
    "id",
    "replaces",
    "batch_id",
    "batch__file_name",
    "batch__entered_at",
    "batch__entered_by",
    "batch__withdrawn_at",
)


def every_row(stand: str) -> dict[str, list[tuple[Any, ...]]]:
    """By table the rows of a stand, its visits and its property: :data:`ENTRY`, then the columns of the contract,
    oldest first."""
    visits = set(MODELS["visits"].objects.filter(stand=stand).values_list("visit", flat=True))
    owners = set(MODELS["stands"].objects.filter(stand=stand).values_list("property", flat=True))
    return {name: _rows(name, stand, visits, owners) for name in TABLES}


def _rows(table: str, stand: str, visits: set[str], owners: set[str]) -> list[tuple[Any, ...]]:
    columns = TABLES[table].columns
    if "stand" in columns:
        lead, wanted = "stand", {stand}
    elif "visit" in columns:
        lead, wanted = "visit", visits
    else:
        lead, wanted = "property", owners
    if lead not in columns:
        return []
    query = MODELS[table].objects
    stored = [
        row for part in sliced(wanted) for row in query.filter(**{f"{lead}__in": part}).values_list(*_STORED, *columns)
    ]
    standing = {
        key
        for part in sliced(wanted)
        for key in current(table).filter(**{f"{lead}__in": part}).values_list("id", flat=True)
    }
    return sorted((_listed(row, row[0] in standing) for row in stored), key=lambda row: str(row[0]))


def _listed(row: tuple[Any, ...], counts: bool) -> tuple[Any, ...]:
    key, replaces, entry, file_name, entered_at, entered_by, withdrawn_at, *values = row
    times = ["" if moment is None else moment.isoformat() for moment in (entered_at, withdrawn_at)]
    return (
        key.hex,
        counts,
        replaces.hex if replaces else "",
        entry,
        file_name,
        times[0],
        entered_by,
        times[1],
        *values,
    )


def rulings_of(rows: dict[str, list[tuple[Any, ...]]]) -> list[dict[str, Any]]:
    """Undos and settlements that touch any of these rows, or an entry that brought one in; oldest first, with their
    reasons."""
    ids = {row[0] for lines in rows.values() for row in lines}
    entries = {row[ENTRY.index("entry")] for lines in rows.values() for row in lines}
    of_rows = {
        number for part in sliced(ids) for number in Aside.objects.filter(row__in=part).values_list("ruling", flat=True)
    }
    of_entries = Batch.objects.filter(id__in=entries).exclude(ruling=None).values_list("ruling", flat=True)
    numbers = of_rows | set(of_entries)
    return list(Ruling.objects.filter(id__in=numbers).order_by("id").values())
