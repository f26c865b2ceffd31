"""Kept answers: made once, laid in the book with what they rest on, and told again as they were made.

Papers print the answer that is kept and its digest; when records of its stand change it says that it is old.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Generic, TypedDict, TypeVar

from overwood.desk import book, session
from overwood.desk.question import Question
from overwood.desk.telling import plain
from overwood.ground import measures
from overwood.ground.doubt import Doubt
from overwood.ground.errors import NotFound, OverwoodError
from overwood.judgement.course.outlook import Outlook, outlook_of
from overwood.judgement.prices import PriceList

T = TypeVar("T")
DIGITS = 12
# The kind of answer that advice reads.
FUTURES = "futures"
# An answer on the whole property is kept under no stand's name.
PROPERTY = ""
# Stands whose marks a process holds.
_MOST_MARKS = 40


@dataclass(frozen=True, kw_only=True)
class KeptAnswer:
    """An answer as it lies in the book. ``result`` is what it says as plain data, ``settings`` what it was asked
    with."""

    number: int
    stand: str
    kind: str
    made_on: dt.date
    made_at: dt.datetime
    made_by: str
    rules_version: str
    data_version: str
    settings: dict[str, Any]
    result: dict[str, Any]
    digest: str
    is_old: bool

    @property
    def words(self) -> str:
        """Its name, for the foot of a paper."""
        return f"Answer {self.number} ({self.kind}), digest {self.digest}, rulebook {self.rules_version}."


@dataclass(frozen=True)
class NamedAnswer(Generic[T]):
    """An answer as it is told now, in the units in force, and how it lies in the book; ``kept`` is None where the book
    may only be read, or is held by an import, and holds no such answer."""

    answer: T
    kept: KeptAnswer | None
    words: str


class Unread(NotFound):
    """A kept answer of a shape that this version does not read."""


def digest_of(result: Any) -> str:
    """Twelve hexadecimal digits that change with anything the answer says."""
    return hashlib.sha256(json.dumps(result, sort_keys=True, ensure_ascii=False).encode()).hexdigest()[:DIGITS]


def shaped(kept: KeptAnswer, answer: type) -> Any:
    """The dataclass that was kept. Raises Unread when a program of another version kept it, in a shape that this one
    does not read."""
    from pydantic import TypeAdapter, ValidationError

    try:
        return TypeAdapter(answer).validate_python(kept.result)
    except ValidationError as fault:
        raise Unread(
            f"answer {kept.number} ({kept.kind} of {kept.stand or 'the property'}, {kept.made_on}) was kept "
            "by another version of the program, "
            "in a shape that this one does not read.",
            remedy="Make it again; what was kept stays in the book.",
        ) from fault


def keep(stand: str, kind: str, ask: Question, settings: dict[str, Any], answer: Any) -> KeptAnswer:
    """Lay an answer (a dataclass, or plain data) in the book; the same said again of the same records is kept once.
    Raises ValueError when it is said in metric units: its sentences would be kept so, and its digest would differ from
    that of the same answer."""
    if measures.is_metric():
        raise ValueError(f"an answer ({kind}) is kept in US units; make it within measures.in_units(measures.US)")
    result = plain(answer)
    digest, mark = digest_of(result), _mark(stand)
    last = book.outputs.newest_answer(stand, kind)
    same = {"digest": digest, "stand_mark": mark, "rules_version": ask.rules.version, "settings": settings}
    if last is None or any(last[name] != value for name, value in same.items()):
        told = {"settings": settings, "result": result, "digest": digest, "stand_mark": mark}
        book.outputs.keep_answer(stand, kind, ask.on, ask.rules.version, **told)
    newest_one = newest(stand, kind)
    assert newest_one is not None
    return newest_one


def lay(
    stand: str,
    kind: str,
    ask: Question,
    settings: dict[str, Any],
    make: Callable[[], T],
    says: Callable[[T], Any] = lambda answer: answer,
) -> NamedAnswer[T]:
    """An answer as a page shows it, a paper prints it and a command tells it: the one that lies in the book under its
    name. Where the same was said before of the same records, rules and settings, that one; else it is laid down first.

    ``make`` is asked again for other units only; ``says`` is what of it is kept, where that is not the whole.
    """
    from django.db import OperationalError

    made = measures.kept_in_us(make, OverwoodError)
    with measures.in_units(measures.US):
        result, settings = plain(says(made)), plain(settings)
        rows = book.outputs.same_answers(stand, kind, digest_of(result), _mark(stand), ask.rules.version)
        lying = next((_kept(row) for row in rows if row["settings"] == settings), None)
        if lying is None and not session.is_read_only():
            # A book that an import holds is told of all the same; the answer is laid down when it is asked for again.
            with contextlib.suppress(OperationalError):
                lying = keep(stand, kind, ask, settings, result)
    named = name_of(lying, kind, result, ask.rules.version)
    return NamedAnswer(make() if measures.is_metric() else made, lying, named)


def name_of(lying: KeptAnswer | None, kind: str, answer: Any, rules_version: str) -> str:
    """The name of an answer for a paper: as it lies in the book, or what it says where it does not."""
    return lying.words if lying else f"Not kept ({kind}), digest {digest_of(plain(answer))}, rulebook {rules_version}."


def may_keep() -> bool:
    """Whether what is said now can lie in the book: not in one that may only be read."""
    return not session.is_read_only()


def list_named(listed: PriceList | None) -> dict[str, str]:
    """A price list among the settings of an answer: whose and of when, and a digest of all its lines."""
    return {"source": listed.source, "date": str(listed.date), "digest": digest_of(plain(listed))} if listed else {}


def newest(stand: str, kind: str) -> KeptAnswer | None:
    """The answer of a kind that was kept last for a stand."""
    row = book.outputs.newest_answer(stand, kind)
    return _kept(row) if row else None


@dataclass(frozen=True, kw_only=True)
class Forecast:
    """Kept futures as advice reads them; ``courses`` names the person's own, which advice does not read.

    ``outlook`` is None where a program of another version kept it, in a shape that this one does not read.
    """

    stand: str
    answer: int
    made_on: dt.date
    rules_version: str
    courses: str
    outlook: Outlook | None

    def why_unread(self, ask: Question) -> str:
        """The code of the doubt that tells why it does not speak to a question; "" where it does."""
        if self.outlook is None:
            return "forecast_unread"
        if self.courses:
            return "forecast_of_own_courses"
        if self.rules_version != ask.rules.version:
            return "forecast_of_other_rules"
        return "" if self.outlook.age_yr == int(ask.rules.number("future_stand_age_yr")) else "forecast_of_other_age"


def forecasts(stand: str) -> tuple[Forecast, ...]:
    """Kept futures of the records as they are, the newest first; none where the newest is old, for then all are."""
    answers = all_of(stand, FUTURES)
    if not answers or answers[-1].is_old:
        return ()
    return tuple(_forecast(answer) for answer in reversed(answers) if not answer.is_old)


def _forecast(answer: KeptAnswer) -> Forecast:
    # Its simulation takes a third of a second to load, and most books keep no futures.
    from overwood.judgement.futures.run import Futures

    try:
        outlook = outlook_of(shaped(answer, Futures), answer.number, answer.made_on)
    except Unread:
        outlook = None
    return Forecast(
        stand=answer.stand, answer=answer.number, made_on=answer.made_on, rules_version=answer.rules_version,
        courses=str(answer.settings.get("courses") or ""), outlook=outlook,
    )  # fmt: skip


class Heard(TypedDict):
    """What advice takes of the kept forecasts: the outlook it reads, and a doubt for the newest where it is passed
    over."""

    outlook: Outlook | None
    unread: tuple[Doubt, ...]


def heard(forecasts: Sequence[Forecast], ask: Question) -> Heard:
    """The newest of some forecasts that speaks to a question; a word on the newest of all where none does or it cannot
    be read."""
    by_then = [one for one in forecasts if one.made_on <= ask.on]
    speaks = next((one.outlook for one in by_then if not one.why_unread(ask)), None)
    told = by_then[:1] if speaks is None else [one for one in by_then[:1] if one.outlook is None]
    doubts = (Doubt(one.why_unread(ask), {"on": one.made_on, "answer": one.answer}) for one in told)
    return {"outlook": speaks, "unread": tuple(doubts)}


def of(number: int) -> KeptAnswer:
    """A kept answer by its number. Raises NotFound when there is none of this number."""
    row = book.outputs.kept_answer(number)
    if row is None:
        raise NotFound(f"there is no kept answer {number}.")
    return _kept(row)


def all_of(stand: str, kind: str | None = None) -> list[KeptAnswer]:
    """Kept answers of a stand, oldest first."""
    return [_kept(row) for row in book.outputs.kept_answers(stand, kind)]


def newest_futures() -> dict[str, int]:
    """The number of the newest kept futures of each stand that has any."""
    return book.outputs.newest_answer_numbers(FUTURES)


def view_version() -> str:
    """Changes whenever the records change or futures are kept: what advice rests on."""
    return f"{book.store.data_version()}/{book.outputs.newest_answer_number(FUTURES)}"


def _kept(row: dict[str, Any]) -> KeptAnswer:
    fields = {name: value for name, value in row.items() if name not in ("id", "stand_mark")}
    return KeptAnswer(number=int(row["id"]), is_old=_is_old(row), **fields)


def _is_old(row: dict[str, Any]) -> bool:
    """Whether records of the stand changed since: the whole book is asked first, for that is quick."""
    if row["data_version"] == session.data_version():
        return False
    return _mark(row["stand"]) != row["stand_mark"]


def _mark(stand: str) -> str:
    """What changes when the records an answer rests on do: those of its stand, or of every stand."""
    return _mark_at(stand, book.store.where(), session.data_version())


@lru_cache(_MOST_MARKS)
def _mark_at(stand: str, _where: str, _version: str) -> str:
    return digest_of(session.stand_marks()) if stand == PROPERTY else session.stand_marks(stand).get(stand, "")
