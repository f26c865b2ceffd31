"""Passkeys: a log-in by a key pair that a person's device holds and unlocks by finger, face or number, instead of a
password.

The checks of the open standard (Web Authentication, W3C Recommendation, level 2, 2021) are those of a library of its
own.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import ipaddress
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from overwood.desk import book
from overwood.ground.errors import Misuse, NotFound

# How long a device may take to answer, and passkeys of one account: our own choice.
ANSWER_WITHIN_S, MOST_OF_ONE = 300, 10
_LONGEST_LABEL = 80
State = dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What the browser is asked for, and what must come back with its answer."""

    options: dict[str, Any]
    state: State


def _server(origin: str) -> Any:
    """The library's server for one address of the desk, such as https://desk.example:8443. Raises Misuse when the
    library is missing, or the desk is opened by a number: a passkey belongs to a name."""
    try:
        from fido2.server import Fido2Server
        from fido2.webauthn import PublicKeyCredentialRpEntity
    except ImportError as fault:
        raise Misuse("passkeys need the extra office.", remedy='Install it: pip install "overwood[office]".') from fault
    host = urlsplit(origin).hostname or ""
    if _is_number(host):
        raise Misuse(
            "a passkey belongs to a name, and the desk was opened by a number.", remedy="Open the desk by its name."
        )
    return Fido2Server(PublicKeyCredentialRpEntity(id=host, name="Overwood"), verify_origin=lambda said: said == origin)


def _is_number(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _asked(pair: tuple[Any, State], now: dt.datetime) -> Asked:
    options, state = pair
    return Asked(options=dict(options.public_key), state={"challenge": state["challenge"], "begun_at": now.isoformat()})


def _state(state: State, now: dt.datetime) -> State:
    """What the library wants back; an answer that came too late is refused."""
    if now - dt.datetime.fromisoformat(state["begun_at"]) > dt.timedelta(seconds=ANSWER_WITHIN_S):
        raise Misuse("the device took too long.", remedy="Try again.")
    return {"challenge": state["challenge"], "user_verification": "required"}


def of(who: str) -> list[dict[str, Any]]:
    """The passkeys of an account."""
    return book.passkeys.of(who)


def begin(who: str, origin: str, now: dt.datetime) -> Asked:
    """Ask a device for a new passkey of an account."""
    server = _server(origin)
    from fido2.webauthn import PublicKeyCredentialUserEntity

    if len(of(who)) >= MOST_OF_ONE:
        raise Misuse(f"you have {MOST_OF_ONE} passkeys.", remedy="End one first.")
    mark = hashlib.sha256(f"passkey of {who}".encode()).digest()
    user = PublicKeyCredentialUserEntity(id=mark, name=who, display_name=who)
    return _asked(server.register_begin(user, resident_key_requirement="required", user_verification="required"), now)


def finish(who: str, label: str, origin: str, state: State, answer: Mapping[str, Any], now: dt.datetime) -> None:
    """Keep the passkey that a device made. Raises Misuse when it does not hold, has no name, or is kept already."""
    if not label or len(label) > _LONGEST_LABEL:
        raise Misuse(
            "the passkey has no name.", remedy=f"Say which device it is, in {_LONGEST_LABEL} letters or fewer."
        )
    made = _checked(lambda: _server(origin).register_complete(_state(state, now), answer))
    credential = made.credential_data
    if not book.passkeys.add(who, label, credential.credential_id, bytes(credential), made.counter, now):
        raise Misuse("this passkey is kept already.", remedy="Log in with it.")


def begin_log_in(origin: str, now: dt.datetime) -> Asked:
    """Ask a device for any passkey of this desk."""
    return _asked(_server(origin).authenticate_begin(user_verification="required"), now)


def finish_log_in(origin: str, state: State, answer: Mapping[str, Any], now: dt.datetime) -> str:
    """The account whose passkey answered. Raises Misuse when the answer does not hold, was used already, or its passkey
    has ended."""
    server = _server(origin)
    from fido2.webauthn import AttestedCredentialData, AuthenticationResponse

    said = _checked(lambda: AuthenticationResponse.from_dict(answer))
    row = book.passkeys.data_of(said.raw_id)
    if row is None:
        raise Misuse("this desk does not know the passkey, or it has ended.", remedy="Log in with name and password.")
    known = [AttestedCredentialData(row[1])]
    _checked(lambda: server.authenticate_complete(_state(state, now), known, said))
    begun_at = dt.datetime.fromisoformat(state["begun_at"])
    if not book.passkeys.use(said.raw_id, said.response.authenticator_data.counter, begun_at, now):
        raise Misuse("this answer was used already.", remedy="Try again.")
    return row[0]


def end(number: int, who: str) -> None:
    """End a passkey of an account."""
    if not book.passkeys.end(number, who):
        raise NotFound(f"you have no passkey {number}.")


def _checked(step: Any) -> Any:
    """What a step of the library gives; whatever a stranger sent it, only words come of it."""
    try:
        return step()
    except Misuse:
        raise
    except Exception as fault:  # the library reads foreign bytes and fails in as many ways as they can be wrong
        raise Misuse("the answer of the device does not hold.", remedy="Try again.") from fault
