"""An office: accounts with roles, tokens, guests' addresses, and the trace of who changed what."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from overwood.desk import book
from overwood.ground.errors import Misuse, NotFound

# Each role may do what the ones before it may.
ROLES = {
    "reader": "reads everything, tries choices; keeps nothing",
    "field": "also types records and tallies, and runs searches and futures",
    "forester": "also imports, decides, draws, keeps papers, changes the rulebook, undoes",
    "admin": "also accounts, guests' addresses and the audit log",
}
MOST_GUEST_DAYS = 366
MOST_TOKEN_DAYS = 366
# Longer texts only cost the machine time.
_LONGEST_PASSWORD = 200


@dataclass(frozen=True)
class Person:
    """Who asks: the name of an account, and its role."""

    name: str
    role: str

    def may(self, role: str) -> bool:
        """Whether this person's role holds another."""
        order = list(ROLES)
        return order.index(self.role) >= order.index(role)


# A forester alone with the book.
ALONE = Person("", "admin")


def apps() -> list[str]:
    """Django's apps that an office needs beside the book."""
    from overwood.memory.book.setup import OFFICE_APPS

    return list(OFFICE_APPS)


@contextmanager
def acting_as(person: Person) -> Iterator[None]:
    """Write what is entered under this person's name."""
    mark = book.store.WHO.set(person.name)
    try:
        yield
    finally:
        book.store.WHO.reset(mark)


def acting() -> str:
    """The name under which is written now."""
    return book.store.WHO.get()


def accounts() -> list[dict[str, Any]]:
    """Every account with its role, whether it is open, and its last log-in."""
    return book.accounts.accounts()


def person(name: str) -> Person | None:
    """The person of an open account that has a role."""
    account = book.accounts.account(name)
    return (
        Person(account["name"], account["role"]) if account and account["active"] and account["role"] in ROLES else None
    )


def add(name: str, role: str, password: str) -> None:
    """Add an account. Raises Misuse when the name is taken or cannot be, the role is not known, or the password is
    weak."""
    check_new(name, role)
    _strong(name, password)
    book.accounts.add(name, role, password)


def check_new(name: str, role: str) -> None:
    """Refuse a name that is taken or cannot be, and a role that is not known."""
    _known_role(role)
    if book.accounts.account(name) is not None:
        raise Misuse(
            f"there is an account {name!r} already.",
            remedy="Choose another name, or give that one a new password.",
            field="name",
        )
    faults = book.accounts.name_faults(name)
    if faults:
        raise Misuse(
            f"the name {name!r} cannot be: {' '.join(faults)}", remedy="Use letters, digits and @ . + - _", field="name"
        )


def _known_role(role: str) -> None:
    if role not in ROLES:
        raise Misuse(f"there is no role {role!r}.", remedy=f"There are {', '.join(ROLES)}.")


def _strong(name: str, password: str) -> None:
    faults = book.accounts.password_faults(name, password)
    if len(password) > _LONGEST_PASSWORD:
        raise Misuse(
            f"the password is longer than {_LONGEST_PASSWORD} characters.",
            remedy="Choose a shorter one.",
            field="password",
        )
    if faults:
        raise Misuse(
            f"the password is too weak. {' '.join(faults)}",
            remedy="Choose a longer one, such as four words.",
            field="password",
        )


def _known(name: str) -> dict[str, Any]:
    known = book.accounts.account(name)
    if known is None:
        raise NotFound(f"there is no account {name!r}.", remedy="See the list of accounts.")
    return known


def _another_admin(name: str) -> None:
    others = [row for row in accounts() if row["name"] != name and row["role"] == "admin" and row["active"]]
    if _known(name)["role"] == "admin" and not others:
        raise Misuse(f"{name} is the only open account of an admin.", remedy="Make another admin first.")


def set_role(name: str, role: str) -> None:
    """Give an account another role; one open admin always stays."""
    _known_role(role)
    _known(name)
    if role != "admin":
        _another_admin(name)
    book.accounts.set_role(name, role)


def set_open(name: str, is_open: bool) -> None:
    """Close an account, or open it again; one open admin always stays."""
    _known(name)
    if not is_open:
        _another_admin(name)
    book.accounts.set_active(name, is_open)


def set_password(name: str, password: str) -> None:
    """A new password: ends the account's sessions, and forgets its failed log-ins."""
    _known(name)
    _strong(name, password)
    book.accounts.set_password(name, password)
    book.accounts.unlock(name)


def new_key(who: str, label: str, days: int, today: dt.date) -> str:
    """A token of the API for an account, told once; it ends after some days, or with a new password."""
    if not label:
        raise Misuse("the token has no name.", remedy="Say what will use it.", field="label")
    if not 1 <= days <= MOST_TOKEN_DAYS:
        raise Misuse(f"{days} days cannot be.", remedy=f"Give 1 to {MOST_TOKEN_DAYS} days.", field="days")
    return book.accounts.new_key(who, label, today + dt.timedelta(days=days))


def keys(who: str | None = None) -> list[dict[str, Any]]:
    """Tokens that were not ended, of one account or of all."""
    return book.accounts.keys(who)


def withdraw_key(number: int, who: str | None = None) -> None:
    """End a token of one account, or of any."""
    if not book.accounts.withdraw_key(number, who):
        raise NotFound(
            f"there is no token {number} of yours in force." if who else f"there is no token {number} in force."
        )


def failures_from(address: str, minutes: int) -> int:
    """Log-ins that failed from one address in the last minutes, whatever the name."""
    return book.accounts.failures_from(address, minutes)


@dataclass(frozen=True)
class LogState:
    """The audit log as a chain: its lines, the seal of the last, and what is wrong with it, "" where nothing is."""

    lines: int
    last_mark: str
    fault: str


def log_state() -> LogState:
    """Whether the audit log follows from its first line to its last, and was not cut off."""
    chain, fault = book.audit.chain(), ""
    if chain.broken_at is not None:
        fault = (
            f"The log does not follow from line {chain.broken_at} on: a line there was changed or taken out "
            "by other means than this desk, "
            "or the office's secret is not the one it was sealed with."
        )
    elif chain.is_cut:
        fault = f"{book.audit.CUT[0].upper()}{book.audit.CUT[1:]}."
    elif chain.lines and chain.without_secret == chain.lines:
        fault = (
            "No line is sealed with the office's secret: the log is from an older program, or was written by "
            "other means than this desk."
        )
    return LogState(chain.lines, chain.last_mark, fault)


def session_engine() -> str:
    """Where log-ins are kept: in the book, by the digest of what the browser holds."""
    return "overwood.memory.book.log_ins"


def person_of_key(token: str) -> Person | None:
    """Who made a token in force."""
    account = book.accounts.account_of_key(token)
    return Person(account["name"], account["role"]) if account and account["role"] in ROLES else None


@dataclass(frozen=True, kw_only=True)
class GuestPaper:
    """One kept paper as its owner sees it: what it is, until when, and whom to call about it."""

    stand: str
    title: str
    made_on: dt.date
    ends_on: dt.date
    contact: str
    telephone: str
    content: bytes = field(repr=False)


def new_guest(who: str, stand: str, paper: int, days: int, today: dt.date, to_call: tuple[str, str] = ("", "")) -> str:
    """The secret part of an address that shows one kept paper for some days, told once; ``to_call`` is a name and a
    telephone."""
    if not 1 <= days <= MOST_GUEST_DAYS:
        raise Misuse(f"{days} days cannot be.", remedy=f"Give 1 to {MOST_GUEST_DAYS} days.", field="days")
    until = today + dt.timedelta(days=days)
    contact, telephone = (part.strip() for part in to_call)
    token = book.accounts.new_guest(who, stand, paper, until, contact=contact or who, telephone=telephone)
    if token is None:
        raise NotFound(f"{stand} has no kept paper {paper}.")
    return token


def guests() -> list[dict[str, Any]]:
    """Addresses of guests in force or ended, newest first."""
    return book.accounts.guests()


def withdraw_guest(number: int) -> None:
    """End a guest's address."""
    if not book.accounts.withdraw_guest(number):
        raise NotFound(f"there is no guest's address {number} in force.")


def guest_paper(token: str, today: dt.date) -> GuestPaper:
    """The paper a guest may see. Raises NotFound when the address was never given out, was withdrawn, or has ended."""
    paper = book.accounts.guest_paper(token, today)
    if paper is None:
        raise NotFound("this address shows nothing (any more).", remedy="Ask your forester for a new one.")
    return GuestPaper(**paper)


def trace(person: Person, what: str, address: str, status: int) -> None:
    """Write down what a person changed."""
    book.audit.trace(person.name, person.role, what, address, status)


def traces(text: str = "", most: int = 300) -> list[dict[str, Any]]:
    """Who changed what, newest first."""
    return book.audit.traces(text, most)
