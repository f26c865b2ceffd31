"""Codes of a second device at the log-in (RFC 6238): kept sealed, good once, with spare codes on paper."""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from datetime import datetime

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor.totp import TOTP
from django.db import transaction

from overwood.memory.book.models import SecondFactor

# RFC 4226 section 4 (R6) recommends 160 bits; RFC 6238 section 5.2 recommends a step of 30 s and one step of delay.
KEY_BYTES, DIGITS, STEP_S, STEPS_OFF = 20, 6, 30, 1
SPARE_CODES = 8
_SPARE_BYTES = 5


def _sealer() -> Fernet:
    from django.conf import settings

    return Fernet(base64.urlsafe_b64encode(hashlib.sha256(b"second factor:" + settings.SECRET_KEY.encode()).digest()))


def _device(key: bytes) -> TOTP:
    # The algorithm that every device of this kind knows.
    return TOTP(key, DIGITS, SHA1(), STEP_S)


def code_at(key: bytes, at: datetime) -> str:
    """The code that a device with this key shows at a time."""
    return _device(key).generate(int(at.timestamp())).decode()


def begin(who: str) -> tuple[str, str]:
    """A new key, not in force before it is confirmed: as letters to type, and as the address that devices read."""
    key = secrets.token_bytes(KEY_BYTES)
    sealed = _sealer().encrypt(key).decode()
    SecondFactor.objects.filter(who=who, confirmed_at=None).delete()
    SecondFactor.objects.create(who=who, secret=sealed)
    return base64.b32encode(key).decode().rstrip("="), _device(key).get_provisioning_uri(who, "Overwood")


def state(who: str) -> str:
    """ "" without a second factor, "begun" before it is confirmed, "on" when the log-in asks for it."""
    row = SecondFactor.objects.filter(who=who).first()
    return "" if row is None else "on" if row.confirmed_at else "begun"


@transaction.atomic
def confirm(who: str, code: str, at: datetime) -> list[str]:
    """Put the key in force by a first code; returns the spare codes, told once. None where the code is not right."""
    row = SecondFactor.objects.select_for_update().filter(who=who, confirmed_at=None).first()
    step = _step_of(row, code, at) if row else None
    if row is None or step is None:
        return []
    spare = [base64.b32encode(secrets.token_bytes(_SPARE_BYTES)).decode().lower() for _ in range(SPARE_CODES)]
    row.confirmed_at, row.last_step, row.spare = at, step, [_digest(word) for word in spare]
    row.save()
    return spare


def end(who: str) -> bool:
    """Take the second factor off; False where there is none."""
    return bool(SecondFactor.objects.filter(who=who).delete()[0])


@transaction.atomic
def passes(who: str, code: str, at: datetime) -> bool:
    """Whether an account needs no code, or this is one that was not used yet; it is used then."""
    row = SecondFactor.objects.select_for_update().filter(who=who).exclude(confirmed_at=None).first()
    if row is None:
        return True
    step = _step_of(row, code, at)
    if step is not None and step > row.last_step:
        row.last_step = step
    elif (digest := _digest(code)) in row.spare:
        row.spare = [digest_left for digest_left in row.spare if digest_left != digest]
    else:
        return False
    row.save()
    return True


def _step_of(row: SecondFactor, code: str, at: datetime) -> int | None:
    """The step of 30 seconds, near the time, whose code this is."""
    try:
        key = _sealer().decrypt(row.secret.encode())
    except InvalidToken:
        # The book was moved without the office's secret; an admin takes the second factor off.
        return None
    now, typed = int(at.timestamp()) // STEP_S, _plain(code)
    for step in range(now - STEPS_OFF, now + STEPS_OFF + 1):
        if hmac.compare_digest(_device(key).generate(step * STEP_S), typed.encode()):
            return step
    return None


def _plain(code: str) -> str:
    return "".join(code.split()).lower()


def _digest(code: str) -> str:
    return hashlib.sha256(_plain(code).encode()).hexdigest()
