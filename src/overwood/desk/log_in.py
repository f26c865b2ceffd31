"""Coming in to an office: the second factor of an account, addresses that open one once, and the log-ins under way."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from overwood.desk import book, office
from overwood.ground.errors import Misuse, NotFound

# How long an invitation, or an address for a new password, stays open: our own choice.
LINK_HOURS = 72


@dataclass(frozen=True, kw_only=True)
class NewFactor:
    """A key for a device, told once: as letters in fours, and as the address that devices read."""

    letters: str
    address: str


@dataclass(frozen=True, kw_only=True)
class Invitation:
    """Whom an address opens an account for; without a role it is for a new password."""

    who: str
    role: str
    made_by: str


def password_backend() -> str:
    """What checks name, password and code."""
    return "overwood.memory.book.password_backend.Backend"


def second_factor(who: str) -> str:
    """ "" without a second factor, "begun" before it is confirmed, "on" when the log-in asks for it."""
    return book.second_factor.state(who)


def begin_second_factor(who: str) -> NewFactor:
    """A new key; the log-in asks for its codes once one was typed back."""
    if book.second_factor.state(who) == "on":
        raise Misuse("your account has a second factor already.", remedy="Take it off first, with your password.")
    letters, address = book.second_factor.begin(who)
    return NewFactor(letters=" ".join(letters[at : at + 4] for at in range(0, len(letters), 4)), address=address)


def confirm_second_factor(who: str, code: str, now: dt.datetime) -> list[str]:
    """Put the second factor in force; returns the spare codes, told once."""
    spare = book.second_factor.confirm(who, code, now)
    if not spare:
        raise Misuse(
            "this code is not right, so nothing was changed.",
            remedy="Look at the clock of the device, and type the code it shows now.",
        )
    return spare


def end_second_factor(who: str) -> None:
    """Take the second factor off an account."""
    if not book.second_factor.end(who):
        raise NotFound(f"{who} has no second factor.")


def invite(name: str, role: str, made_by: str, now: dt.datetime) -> str:
    """The secret part of an address that makes an account once. Raises Misuse when the name is taken or cannot be, or
    the role is not known."""
    office.check_new(name, role)
    return book.links.new(name, role, made_by, now + dt.timedelta(hours=LINK_HOURS))


def new_password_link(name: str, made_by: str, now: dt.datetime) -> str:
    """The secret part of an address that gives an account a new password once."""
    if office.person(name) is None:
        raise NotFound(f"there is no open account {name!r}.", remedy="See the list of accounts.")
    return book.links.new(name, "", made_by, now + dt.timedelta(hours=LINK_HOURS))


def invitation(token: str, now: dt.datetime) -> Invitation:
    """What an address is for. Raises NotFound when it was used, has ended, or was never given out."""
    row = book.links.of(token, now)
    if row is None:
        raise NotFound(
            "this address was used, has ended, or was never given out.",
            remedy="Ask an admin of your office for a new one.",
        )
    return Invitation(who=row["who"], role=row["role"], made_by=row["made_by"])


def take(token: str, password: str, now: dt.datetime) -> Invitation:
    """Use an address: the account is made, or has the new password. Nothing is used up where the password is too
    weak."""
    asked = invitation(token, now)
    with book.links.whole():
        if not book.links.take(token, now):
            raise NotFound(
                "this address was used a moment ago.", remedy="Log in, or ask an admin of your office for a new one."
            )
        if asked.role:
            office.add(asked.who, asked.role, password)
        else:
            office.set_password(asked.who, password)
    return asked


def sessions(who: str | None = None) -> list[dict[str, Any]]:
    """Log-ins under way, of one account or of all, newest first."""
    return book.links.sessions(who)


def session_mark(key: str | None) -> str:
    """The mark under which a browser's own log-in is listed."""
    return book.log_ins.mark_of(key)


def end_session(mark: str, who: str | None = None) -> None:
    """End a log-in of one account, or of any."""
    if not book.links.end_session(mark, who):
        raise NotFound("this log-in has ended already.")
