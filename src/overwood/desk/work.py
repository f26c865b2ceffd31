"""Long work as a person asks for it: begun once, done by whichever server process is free, found again after a restart.

What a kind of work does is registered by the face that offers it (``kind``); what it was asked, how far it is and what
came of it lie in the book.
"""

from __future__ import annotations

import contextvars
import datetime as dt
import os
import socket
import threading
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from overwood.desk import book, office, session
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound, OverwoodError

# More at once would only slow each other, and the pages; one person of an office never takes all.
MOST_AT_ONCE, MOST_OF_ONE = 4, 2
_MOST_KEPT = 40
# A worker beats four times and more in the silence after which it counts as dead and its work is taken up anew.
_BEAT_S, _SILENT_S = 5.0, 60.0
_WRITE_EVERY_S = 0.3
# Work that ends sooner is no long work.
_MOMENT_S = 0.5
_FOR_THE_BOOK_S = 3_600.0
_LOOK_EVERY_S = 0.3


@dataclass(frozen=True)
class Work:
    """Long work: how far it is, what came of it, or what went wrong."""

    number: int
    kind: str
    title: str
    asked: dict[str, Any]
    who: str
    state: str
    done: int
    total: int
    note: str
    fault: str
    result: dict[str, Any] | None
    stop: bool
    data_version: str
    made_at: dt.datetime
    ended_at: dt.datetime | None

    @property
    def share_pct(self) -> int:
        return min(100, round(100 * self.done / max(self.total, 1)))

    @property
    def may_stop(self) -> bool:
        """Whether a stop is of use: not asked for yet, and not at the last step, in which the book is held."""
        return not (self.stop or self.ended or 0 < self.done >= self.total - 1)

    @property
    def ended(self) -> bool:
        return self.ended_at is not None

    @property
    def is_old(self) -> bool:
        """Whether records have changed since it was asked for."""
        return self.data_version != session.data_version()


Step = Callable[[int, str], bool]
# The asked things and the step, to a result that JSON carries.
Doing = Callable[[dict[str, Any], Step], dict[str, Any]]


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Work to be begun where it is asked for, and what does it."""

    kind: str
    title: str
    asked: dict[str, Any]
    total: int
    doing: Doing


def _work(row: dict[str, Any]) -> Work:
    plain = {name: value for name, value in row.items() if name != "id"}
    return Work(number=int(row["id"]), **({"result": None} | plain))


def begin(kind: str, title: str, asked: dict[str, Any], total: int) -> Work:
    """Ask for work on behalf of who acts now. Raises Misuse when as much is under way as the machine does well, or as
    one person may ask for."""
    who = office.acting()
    if book.work.count_open() >= MOST_AT_ONCE:
        raise Misuse(
            f"{MOST_AT_ONCE} pieces of long work are under way already.", remedy="Wait for one to end, or stop one."
        )
    if who and book.work.count_open(who) >= MOST_OF_ONE:
        raise Misuse(
            f"{MOST_OF_ONE} pieces of long work of yours are under way already.",
            remedy="Wait for one to end, or stop one.",
        )
    book.work.forget_old(who, _MOST_KEPT)
    return of(book.work.add(_asked_for(kind, title, asked, total)))


def _asked_for(kind: str, title: str, asked: dict[str, Any], total: int) -> dict[str, Any]:
    return {
        "kind": kind,
        "title": title,
        "asked": {**asked, "units": measures.system()},
        "who": office.acting(),
        "total": total,
        "data_version": session.data_version(),
    }


def of(number: int) -> Work:
    """Work of who acts now, by its number. Raises NotFound when it is not there any more, or is another person's."""
    row = book.work.of(number)
    if row is None or row["who"] != office.acting():
        raise NotFound(f"there is no work {number} of yours.", remedy="Start it again.")
    return _work(row)


def mine(most: int = _MOST_KEPT) -> list[Work]:
    """Work of who acts now, newest first."""
    return [_work(row) for row in book.work.mine(office.acting(), most)]


def newest_result(kind: str, rests_on: str) -> dict[str, Any] | None:
    """What anybody's last work of a kind came to that rests on the same; None where there is none."""
    return book.work.newest_result(kind, rests_on)


def stop(number: int) -> Work:
    """Ask work to stop and sum up what it has."""
    of(number)
    book.work.ask_to_stop(number)
    return of(number)


class _Piece:
    """Work begun where it was asked for: only what lasts, or shall be found again, gets a row in the book."""

    def __init__(self, asked_for: dict[str, Any]) -> None:
        self.asked_for, self.over, self.lock = asked_for, threading.Event(), threading.Lock()
        self.number, self.done, self.note = 0, 0, ""
        self.result: dict[str, Any] | None = None
        self.fault: OverwoodError | None = None

    @property
    def work(self) -> Work:
        """How it stands: as the book says where it lies there."""
        if self.number:
            return of(self.number)
        now = dt.datetime.now(dt.UTC)
        return Work(number=0, **self.asked_for, state="", done=self.done, note=self.note,
            fault=str(self.fault or ""), result=self.result, stop=False, made_at=now,
            ended_at=now if self.over.is_set() else None)  # fmt: skip


def _done(work: Work, step: Step, doing: Doing) -> dict[str, Any]:
    """What came of it, in US units as everything that is kept; a refusal in the units of who asked."""
    with measures.in_units(work.asked.get("units", measures.US)):
        return measures.kept_in_us(lambda: doing(work.asked, step), OverwoodError)


def moment_s() -> float:
    """How long work may last that is no long work."""
    return float(os.environ.get("OVERWOOD_MOMENT_S", _MOMENT_S))


def _silent_s() -> float:
    return float(os.environ.get("OVERWOOD_SILENT_S", _SILENT_S))


class Worker:
    """Does the work of the book in threads of this process, one piece each at a time."""

    def __init__(self, kinds: dict[str, Doing], threads: int) -> None:
        self.name = f"{socket.gethostname()}:{os.getpid()}:{uuid.uuid4().hex[:8]}"
        self.kinds, self.running = kinds, set[int]()
        self.wake = threading.Event()
        for _ in range(threads):
            threading.Thread(target=self._look, daemon=True).start()
        threading.Thread(target=self._beat, daemon=True).start()

    def _look(self) -> None:
        while True:
            if not self._next():
                self.wake.wait(_LOOK_EVERY_S)
                self.wake.clear()

    def _next(self) -> bool:
        """Do one piece of work; False where none waits."""
        from django.db import DatabaseError, connection

        try:
            row = book.work.claim(self.name, _silent_s())
            if row is None:
                return False
            self._do(_work(row))
            return True
        except DatabaseError:
            # The book is locked or was moved for a moment: looked at again.
            connection.close()
            return False

    def at_once(self, wanted: Wanted, *, wait_s: float, stays: bool = False) -> Work:
        """Do work here and now, in a thread of its own, and wait so long for it to end.

        What ends within a moment leaves no row in the book, unless it ``stays``; what lasts longer is found in the tray
        like all other work, with its progress and a stop, and taken up anew where this process dies. Raises
        OverwoodError as the work does, where it ends in the time.
        """
        from django.db import DatabaseError

        piece = _Piece(_asked_for(wanted.kind, wanted.title, {**wanted.asked, "here": True}, wanted.total))
        if stays:
            self._put_down(piece, stays=True)
        around = contextvars.copy_context()
        threading.Thread(target=around.run, args=(self._do_here, piece, wanted.doing), daemon=True).start()
        if not piece.over.wait(min(wait_s, moment_s())):
            try:
                self._put_down(piece, stays=False)
            except DatabaseError:
                # It holds the book itself, for longer than another may wait: then it is waited for.
                wait_s = _FOR_THE_BOOK_S
            piece.over.wait(wait_s - moment_s())
        if piece.fault is not None:
            raise piece.fault
        return piece.work

    def _put_down(self, piece: _Piece, *, stays: bool) -> None:
        with piece.lock:
            if not (piece.number or piece.over.is_set()):
                book.work.forget_old(piece.asked_for["who"], _MOST_KEPT)
                if not stays:
                    book.work.forget_like(piece.asked_for)
                piece.number = book.work.add({**piece.asked_for, "done": piece.done, "note": piece.note}, self.name)
                self.running.add(piece.number)

    def _do_here(self, piece: _Piece, doing: Doing) -> None:
        from django.db import connection

        step, fault = self._step_of(lambda: piece.number, piece.asked_for["total"]), ""

        def go_on(done: int, note: str = "") -> bool:
            piece.done, piece.note = done, note
            return not piece.number or step(done, note)

        try:
            piece.result = _done(piece.work, go_on, doing)
        except OverwoodError as wrong:
            piece.fault, fault = wrong, str(wrong)
        except Exception as wrong:
            fault = f"a fault of the program: {wrong}"
            piece.fault = OverwoodError(fault)
            raise
        finally:
            try:
                with piece.lock:
                    self.running.discard(piece.number)
                    if piece.number:
                        book.work.end(piece.number, self.name, result=piece.result, fault=fault)
                    piece.over.set()
            finally:
                piece.over.set()
                connection.close()

    def _step_of(self, number: Callable[[], int], total: int) -> Step:
        """Says how far a piece of work is, not oftener than is of use, but always its last step."""
        from django.db import DatabaseError

        written = 0.0

        def step(done: int, note: str = "") -> bool:
            nonlocal written
            now = time.monotonic()
            if now - written < _WRITE_EVERY_S and done < total - 1:
                return True
            written = now
            try:
                return book.work.step(number(), self.name, done, note)
            except DatabaseError:
                # Another holds the book for long: the work goes on and is told the next time.
                return True

        return step

    def _do(self, work: Work) -> None:
        step = self._step_of(lambda: work.number, work.total)
        self.running.add(work.number)
        try:
            person = office.person(work.who) if work.who else office.ALONE
            if person is None:
                raise Misuse(f"the account {work.who} is closed.")
            with office.acting_as(person):
                result = _done(work, step, self.kinds[work.kind])
            book.work.end(work.number, self.name, result=result)
        except OverwoodError as fault:
            book.work.end(work.number, self.name, fault=str(fault))
        except Exception as fault:
            book.work.end(work.number, self.name, fault=f"a fault of the program: {fault}")
            raise
        finally:
            self.running.discard(work.number)

    def _beat(self) -> None:
        from django.db import DatabaseError, connection

        while True:
            time.sleep(min(_BEAT_S, _silent_s() / 4))
            if not self.running:
                continue
            try:
                book.work.beat(list(self.running), self.name)
            except DatabaseError:
                connection.close()


@dataclass(frozen=True)
class Draft:
    """What a person has on the table: its content, what it was made for, and a stamp that each change moves on."""

    content: dict[str, Any]
    made_for: str
    stamp: int


def draft(kind: str, stand: str, who: str | None = None) -> Draft | None:
    """The draft of who acts now, or of ``who``; "" is what all have on one table."""
    row = book.work.draft(office.acting() if who is None else who, kind, stand)
    return Draft(row["content"], row["made_for"], row["stamp"]) if row else None


def keep_draft(
    kind: str, stand: str, made_for: str, content: dict[str, Any], stamp: int | None, who: str | None = None
) -> int | None:
    """Lay a draft of who acts now, or of ``who``, down; returns its new stamp, or None where another change came
    between (``stamp`` is no longer the last)."""
    return book.work.keep_draft(office.acting() if who is None else who, kind, stand, made_for, content, stamp)


def drop_draft(kind: str, stand: str) -> None:
    """Take the draft of who acts now off the table."""
    book.work.drop_draft(office.acting(), kind, stand)
