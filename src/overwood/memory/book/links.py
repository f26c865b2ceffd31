"""Addresses that open an account once, and the log-ins under way."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime
from typing import Any

from django.db import transaction

from overwood.memory.book.accounts import digest_of
from overwood.memory.book.models import Link


def new(who: str, role: str, made_by: str, ends_at: datetime) -> str:
    """The secret part of an address for one account, told once; an earlier one for it ends."""
    token = secrets.token_urlsafe(32)
    Link.objects.filter(who=who, used_at=None).delete()
    Link.objects.create(
        digest=digest_of(token), who=who, role=role, made_by=made_by, made_at=datetime.now(UTC), ends_at=ends_at
    )
    return token


def of(token: str, at: datetime) -> dict[str, Any] | None:
    """Whom an address is for, and in which role; None where it is not in force."""
    return (
        Link.objects.filter(digest=digest_of(token), used_at=None, ends_at__gt=at)
        .values("who", "role", "made_by", "ends_at")
        .first()
    )


def take(token: str, at: datetime) -> bool:
    """Use an address up; False where it is not in force (any more)."""
    return bool(Link.objects.filter(digest=digest_of(token), used_at=None, ends_at__gt=at).update(used_at=at))


def whole() -> Any:
    """One transaction: an address is used up only where what it is for was done."""
    return transaction.atomic()


def sessions(who: str | None = None) -> list[dict[str, Any]]:
    """Log-ins under way, of one account or of all: their digest, whose, since when and from where; newest first."""
    from django.contrib.auth.models import User
    from django.contrib.sessions.models import Session

    from overwood.memory.book.log_ins import SessionStore

    names = {str(number): name for number, name in User.objects.values_list("id", "username")}
    rows = []
    for row in Session.objects.filter(expire_date__gt=datetime.now(UTC)):
        held = SessionStore().decode(row.session_data)
        name = names.get(str(held.get("_auth_user_id", "")), "")
        if name and who in (None, name):
            rows.append(
                {
                    "mark": row.session_key,
                    "who": name,
                    "since": held.get("since", ""),
                    "address": held.get("address", ""),
                }
            )
    return sorted(rows, key=lambda log_in: log_in["since"], reverse=True)


def end_session(mark: str, who: str | None = None) -> bool:
    """End a log-in of one account, or of any; False where there is none."""
    from django.contrib.sessions.models import Session

    if mark not in {log_in["mark"] for log_in in sessions(who)}:
        return False
    return bool(Session.objects.filter(session_key=mark).delete()[0])
