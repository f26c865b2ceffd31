"""Every stand judged beside the pages: the property shows at once what is known, and the rest as it comes.

A stand is judged anew only when its own records change, or the acorn checks of its property, the day or the rules.
"""

from __future__ import annotations

import dataclasses
import threading
from dataclasses import dataclass
from typing import Any

from overwood.desk import answers, session
from overwood.desk.answers import Question
from overwood.ground.errors import OverwoodError
from overwood.ground.records import Stand
from overwood.judgement.course import Advice
from overwood.judgement.course.due import Due


@dataclass(frozen=True)
class Judged:
    """A stand's advice without its figures, and what is due there."""

    advice: Advice
    due: tuple[Due, ...]


@dataclass(frozen=True)
class Standing:
    """The stands of the book, what is known of each, and how many are still to be judged."""

    stands: tuple[Stand, ...]
    known: dict[str, Judged]
    left: int


_LOCK = threading.Condition()
_KNOWN: dict[str, tuple[Any, Judged | None]] = {}
_DONE_FOR: list[Any] = [None]
_WORKER: list[threading.Thread] = []


def standing(ask: Question, wait_s: float) -> Standing:
    """What is known by now; waits a moment, so that a small property comes whole."""
    version = (session.data_version(), ask.on, ask.rules.version)
    stands = tuple(session.stands())
    with _LOCK:
        if _DONE_FOR[0] != version and not (_WORKER and _WORKER[0].is_alive()):
            _WORKER[:] = [threading.Thread(target=_judge_all, args=(ask, version), daemon=True)]
            _WORKER[0].start()
        _LOCK.wait_for(lambda: _DONE_FOR[0] == version, timeout=wait_s)
        known = {stand.stand: found for stand in stands if (found := _KNOWN.get(stand.stand, (None, None))[1]) is not None}
        left = 0 if _DONE_FOR[0] == version else max(1, len(stands) - len(known))
    return Standing(stands, known, left)


def _judge_all(ask: Question, version: Any) -> None:
    from django.db import connection

    try:
        marks = session.stand_marks()
        for name, mark in marks.items():
            key = (mark, ask.on, ask.rules.version)
            if _KNOWN.get(name, (None, None))[0] == key:
                continue
            found = _judged(name, ask)
            with _LOCK:
                _KNOWN[name] = (key, found)
        with _LOCK:
            _DONE_FOR[0] = version
            _LOCK.notify_all()
    finally:
        connection.close()


def _judged(name: str, ask: Question) -> Judged | None:
    try:
        advice, due = answers.judge(name, ask)
    except OverwoodError:
        return None
    return Judged(dataclasses.replace(advice, figures={}), tuple(due))
