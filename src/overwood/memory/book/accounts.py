"""Accounts of an office (Django's own), and what they gave out (tokens, guests' addresses)."""

from __future__ import annotations

import hashlib
import secrets
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q, Sum

from overwood.memory.book.models import Guest, Key, Link, Paper, Passkey


def _users() -> Any:
    from django.contrib.auth.models import User

    return User.objects.prefetch_related("groups").order_by("username")


def _plain(user: Any) -> dict[str, Any]:
    roles = [group.name for group in user.groups.all()]
    return {
        "name": user.username,
        "role": roles[0] if roles else "",
        "active": user.is_active,
        "last_login": user.last_login,
    }


def accounts() -> list[dict[str, Any]]:
    """Every account with its role, in order of names."""
    return [_plain(user) for user in _users()]


def account(name: str) -> dict[str, Any] | None:
    user = _users().filter(username=name).first()
    return _plain(user) if user else None


def password_faults(name: str, password: str) -> list[str]:
    """What Django's rules for passwords find wrong."""
    from django.contrib.auth.models import User
    from django.contrib.auth.password_validation import validate_password
    from django.core.exceptions import ValidationError

    try:
        validate_password(password, User(username=name))
    except ValidationError as fault:
        return list(fault.messages)
    return []


def name_faults(name: str) -> list[str]:
    """What Django's rules for names of accounts find wrong."""
    from django.contrib.auth.models import User
    from django.core.exceptions import ValidationError

    try:
        User(username=name).clean_fields(exclude=["password"])
    except ValidationError as fault:
        return list(fault.messages)
    return []


@transaction.atomic
def add(name: str, role: str, password: str) -> None:
    from django.contrib.auth.models import User

    user = User.objects.create_user(username=name, password=password)
    _put_in(user, role)


def _put_in(user: Any, role: str) -> None:
    from django.contrib.auth.models import Group

    user.groups.set([Group.objects.get_or_create(name=role)[0]])


@transaction.atomic
def set_role(name: str, role: str) -> None:
    _put_in(_users().get(username=name), role)


@transaction.atomic
def set_active(name: str, active: bool) -> None:
    """Open or close an account; what a closed one gave out ends with it, and does not come back."""
    _users().filter(username=name).update(is_active=active)
    if not active:
        _end_keys(name)
        Guest.objects.filter(made_by=name, withdrawn_at=None).update(withdrawn_at=datetime.now(UTC))
        Link.objects.filter(Q(made_by=name) | Q(who=name), used_at=None).delete()


@transaction.atomic
def set_password(name: str, password: str) -> None:
    """A new password; it ends every session, token and passkey of the account."""
    user = _users().get(username=name)
    user.set_password(password)
    user.save(update_fields=["password"])
    _end_keys(name)
    Link.objects.filter(who=name, used_at=None).delete()


def _end_keys(name: str) -> None:
    """Tokens and passkeys: whoever held the account may have made one."""
    Key.objects.filter(made_by=name, withdrawn_at=None).update(withdrawn_at=datetime.now(UTC))
    Passkey.objects.filter(who=name).delete()


def unlock(name: str) -> None:
    """Forget the failed log-ins of an account."""
    from axes.utils import reset

    reset(username=name)


def failures_from(address: str, minutes: int) -> int:
    """Log-ins that failed from one address, whatever the name, in the last minutes."""
    from axes.models import AccessAttempt

    since = datetime.now(UTC) - timedelta(minutes=minutes)
    recent = AccessAttempt.objects.filter(ip_address=address, attempt_time__gte=since)
    return recent.aggregate(fails=Sum("failures_since_start"))["fails"] or 0


def digest_of(token: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(token.encode()).hexdigest()


def _new_token() -> str:
    return secrets.token_urlsafe(32)


def new_key(name: str, label: str, ends_on: date) -> str:
    """A token of the API; told once."""
    token = _new_token()
    Key.objects.create(digest=digest_of(token), made_by=name, made_at=datetime.now(UTC), label=label, ends_on=ends_on)
    return token


def keys(name: str | None = None) -> list[dict[str, Any]]:
    """Tokens that were not ended, of one account or of all, newest first."""
    query = Key.objects.filter(withdrawn_at=None).order_by("-id")
    if name is not None:
        query = query.filter(made_by=name)
    return list(query.values("id", "label", "made_by", "made_at", "used_at", "ends_on"))


def withdraw_key(number: int, name: str | None = None) -> bool:
    """End a token, of one account or of any; False where there is none."""
    query = Key.objects.filter(id=number, withdrawn_at=None)
    if name is not None:
        query = query.filter(made_by=name)
    return bool(query.update(withdrawn_at=datetime.now(UTC)))


def account_of_key(token: str) -> dict[str, Any] | None:
    """The active account that made a token in force; notes the day it was used."""
    now = datetime.now(UTC)
    in_force = Q(ends_on=None) | Q(ends_on__gte=now.date())
    key = Key.objects.filter(in_force, digest=digest_of(token), withdrawn_at=None).first()
    if key is None:
        return None
    if key.used_at is None or key.used_at.date() != now.date():
        Key.objects.filter(id=key.id).update(used_at=now)
    by_name = account(key.made_by)
    return by_name if by_name and by_name["active"] else None


def new_guest(name: str, stand: str, number: int, ends_on: date, *, contact: str, telephone: str) -> str | None:
    """The secret part of an address that shows one kept paper; told once. None where there is no such paper."""
    paper = Paper.objects.filter(stand=stand, id=number).first()
    if paper is None:
        return None
    token = _new_token()
    Guest.objects.create(
        digest=digest_of(token),
        made_by=name,
        made_at=datetime.now(UTC),
        paper=paper,
        ends_on=ends_on,
        contact=contact,
        telephone=telephone,
    )
    return token


def guests() -> list[dict[str, Any]]:
    """Addresses of guests that were not withdrawn, newest first."""
    columns = ("id", "made_by", "made_at", "used_at", "ends_on", "paper_id", "paper__stand", "paper__title")
    return list(Guest.objects.filter(withdrawn_at=None).order_by("-id").values(*columns))


def withdraw_guest(number: int) -> bool:
    return bool(Guest.objects.filter(id=number, withdrawn_at=None).update(withdrawn_at=datetime.now(UTC)))


def guest_paper(token: str, today: date) -> dict[str, Any] | None:
    """The paper a guest may see, and whom to call about it; notes that it was opened."""
    guest = (
        Guest.objects.filter(digest=digest_of(token), withdrawn_at=None, ends_on__gte=today)
        .select_related("paper")
        .first()
    )
    if guest is None:
        return None
    Guest.objects.filter(id=guest.id).update(used_at=datetime.now(UTC))
    return {
        "stand": guest.paper.stand,
        "title": guest.paper.title,
        "made_on": guest.paper.made_on,
        "content": bytes(guest.paper.content),
        "ends_on": guest.ends_on,
        "contact": guest.contact,
        "telephone": guest.telephone,
    }
