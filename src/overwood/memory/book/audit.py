"""The audit log: who changed what, each line sealed with the one before by the office's secret, and its newest seal
noted beside the book.

Whoever can write the book alone can then neither change a line, nor take one out, nor cut the log off, without its
showing.
"""

from __future__ import annotations

import hashlib
import hmac
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.db.models import Q

from overwood.memory.book.models import Trace

# A number of our own for the database's lock, so that two lines of the log never follow the same one.
_LOG_LOCK = 7_236_401
# Seals made with the office's secret begin so; those without are from before there were such.
_SEALED = "k"
CUT = "lines were taken off the end of this log, or another or older copy of the book was put in its place"


@dataclass(frozen=True)
class Chain:
    """The log as a chain: its lines, the seal of the last, the first line that does not follow, lines without the
    secret, whether it was cut."""

    lines: int
    last_mark: str
    broken_at: int | None
    without_secret: int
    is_cut: bool


@transaction.atomic
def trace(who: str, role: str, what: str, address: str, status: int) -> None:
    """Add a line to the audit log; its seal is made from it and the seal of the line before."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOG_LOCK])
    last = Trace.objects.order_by("-id").values_list("mark", flat=True).first() or ""
    if _is_cut(last):
        last = _add(last, "", "", CUT, "", 0)
        _note(last)
    else:
        # A line that is stored already: one that is only being written may yet be taken back.
        _note(last)
    _add(last, who, role, what, address, status)


def _add(last: str, who: str, role: str, what: str, address: str, status: int) -> str:
    line = Trace(at=datetime.now(UTC), who=who, role=role, what=what, address=address, status=status)
    line.mark = _seal_of(last, line)
    line.save()
    return str(line.mark)


def _text(before: str, line: Trace) -> bytes:
    parts = (before, line.at.isoformat(), line.who, line.role, line.what, line.address, str(line.status))
    return "\x1f".join(parts).encode("utf-8", "surrogatepass")


def mark_of(before: str, line: Trace) -> str:
    """The seal of a line without the secret: a digest of it and of the seal before."""
    return hashlib.sha256(_text(before, line)).hexdigest()


def _seal_of(before: str, line: Trace) -> str:
    """The seal of a line with the office's secret."""
    from django.conf import settings

    key = hashlib.sha256(b"audit log:" + settings.SECRET_KEY.encode()).digest()
    return (_SEALED + hmac.digest(key, _text(before, line), "sha256").hex())[:64]


def chain() -> Chain:
    """Whether the log follows from its first line to its last, and its newest noted seal stands in it."""
    before, count, broken, bare, noted = "", 0, None, 0, _noted()
    is_cut = bool(noted)
    for line in Trace.objects.order_by("id").iterator(chunk_size=2_000):
        sealed = line.mark.startswith(_SEALED)
        # Once lines are sealed with the secret, none without it may follow.
        right = _seal_of(before, line) if sealed or count > bare else mark_of(before, line)
        if broken is None and line.mark != right:
            broken = int(line.id)
        count, bare, is_cut, before = count + 1, bare + (not sealed), is_cut and line.mark != noted, line.mark
    return Chain(count, before, broken, bare, is_cut)


def _place() -> Path | None:
    """The file with the newest seal, in the office's folder; none where the book is one person's."""
    from django.conf import settings

    text = getattr(settings, "AUDIT_HEAD", "")
    return Path(text) if text else None


def _noted() -> str:
    place = _place()
    try:
        return place.read_text(encoding="ascii").strip() if place else ""
    except FileNotFoundError:
        return ""


def _note(mark: str) -> None:
    place = _place()
    if place is None or not mark:
        return
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    fresh = place.with_name(f"{place.name}.{os.getpid()}")
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as stream:
        stream.write(mark)
    fresh.replace(place)


def _is_cut(last: str) -> bool:
    """Whether the noted seal is in no line any more."""
    noted = _noted()
    return bool(noted) and noted != last and not Trace.objects.filter(mark=noted).exists()


def traces(text: str, most: int) -> list[dict[str, Any]]:
    """Who changed what, newest first; ``text`` is looked for in names, words and addresses."""
    query = Trace.objects.order_by("-id")
    for word in text.split():
        query = query.filter(Q(who__icontains=word) | Q(what__icontains=word) | Q(address__icontains=word))
    return list(query.values()[:most])
