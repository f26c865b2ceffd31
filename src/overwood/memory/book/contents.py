"""One content counts once: the entries that a file of the same content made, and the mark its next entry carries."""

from __future__ import annotations

import hashlib

from overwood.ground.records import TABLES
from overwood.memory.book import view
from overwood.memory.book.models import MODELS, Aside, Batch


def _next(mark: str) -> str:
    """The mark of a further entry of one content, such as the same file with other answers."""
    return hashlib.sha256(f"again {mark}".encode()).hexdigest()


def entries_of(digest: str) -> list[int]:
    """Entries in force that a file of this content made, newest first."""
    entries: list[int] = []
    while rows := list(Batch.objects.filter(digest=digest).values_list("id", "withdrawn_at")):
        entries += [entry for entry, withdrawn_at in rows if withdrawn_at is None]
        digest = _next(digest)
    return sorted(entries, reverse=True)


def free_mark(digest: str) -> str:
    """The first mark of this content that no entry in force carries; two processes that store at once take the same
    one."""
    while Batch.objects.filter(digest=digest, withdrawn_at=None).exists():
        digest = _next(digest)
    return digest


def has_rows(entry: int) -> bool:
    """Whether any row of an entry was neither withdrawn nor set aside."""
    return any(view.standing(table).filter(batch=entry).exists() for table in TABLES)


def is_whole(entry: int) -> bool:
    """Whether no row of an entry was set aside, as by the undo of one visit."""
    aside = Aside.objects.filter(ruling__lifted_at=None)
    rows = {table: MODELS[table].objects.filter(batch=entry).values("id") for table in TABLES}
    return not any(aside.filter(table=table, row__in=ids).exists() for table, ids in rows.items())
