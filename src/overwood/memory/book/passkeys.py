"""Passkeys of accounts as they are kept: what a key pair's public half is, and when it last opened the desk."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from overwood.memory.book.models import Passkey


def add(who: str, label: str, credential: bytes, data: bytes, count: int, at: datetime) -> bool:
    """Keep a new passkey; False where it is kept already."""
    row = Passkey(who=who, label=label, credential=credential.hex(), data=data, count=count, made_at=at, begun_at=at)
    with transaction.atomic():
        if Passkey.objects.filter(credential=row.credential).exists():
            return False
        row.save()
    return True


def of(who: str) -> list[dict[str, Any]]:
    """The passkeys of an account, oldest first."""
    return list(Passkey.objects.filter(who=who).order_by("id").values("id", "label", "made_at", "used_at"))


def data_of(credential: bytes) -> tuple[str, bytes] | None:
    """Whose a passkey is, and its public half; None where it is not kept."""
    row = Passkey.objects.filter(credential=credential.hex()).first()
    return (row.who, bytes(row.data)) if row else None


@transaction.atomic
def use(credential: bytes, count: int, begun_at: datetime, at: datetime) -> bool:
    """Note that a passkey opened the desk; False where the same answer did already, or its counter says that it was
    copied."""
    row = Passkey.objects.select_for_update().filter(credential=credential.hex()).first()
    is_copy = row is not None and (count or row.count) and count <= row.count
    if row is None or is_copy or begun_at <= row.begun_at:
        return False
    row.count, row.begun_at, row.used_at = count, begun_at, at
    row.save()
    return True


def end(number: int, who: str) -> bool:
    """End a passkey of an account; False where there is none."""
    return bool(Passkey.objects.filter(id=number, who=who).delete()[0])
