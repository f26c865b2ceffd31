"""Every stand judged beside the pages: the property shows at once what is known, and the rest as it comes.

A stand is judged anew only when its own records change, or the acorn checks of its property, the day or the rules.
"""

from __future__ import annotations

import dataclasses
import logging
import threading
from dataclasses import dataclass
from typing import Any

from overwood.desk import answers, kept, session
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
    faults: dict[str, str]
    left: int


_LOCK = threading.Condition()
_KNOWN: dict[str, tuple[Any, Judged | str]] = {}
_DONE_FOR: list[Any] = [None]
_WORKER: list[threading.Thread] = []


def standing(ask: Question, wait_s: float) -> Standing:
    """What is known by now; waits a moment, so that a small property comes whole."""
    version = (kept.view_version(), ask.on, ask.rules.version)
    stands = tuple(session.stands())
    with _LOCK:
        if _DONE_FOR[0] != version and not (_WORKER and _WORKER[0].is_alive()):
            _WORKER[:] = [threading.Thread(target=_judge_all, args=(ask, version), daemon=True)]
            _WORKER[0].start()
        _LOCK.wait_for(lambda: _DONE_FOR[0] == version, timeout=wait_s)
        found = {stand.stand: _KNOWN[stand.stand][1] for stand in stands if stand.stand in _KNOWN}
        left = 0 if _DONE_FOR[0] == version else max(1, len(stands) - len(found))
    known = {name: one for name, one in found.items() if isinstance(one, Judged)}
    return Standing(stands, known, {name: one for name, one in found.items() if isinstance(one, str)}, left)


def _judge_all(ask: Question, version: Any) -> None:
    from django.db import connection

    try:
        marks, newest = session.stand_marks(), kept.newest_numbers()
        for name, mark in marks.items():
            key = (mark, newest.get(name), ask.on, ask.rules.version)
            if name in _KNOWN and _KNOWN[name][0] == key:
                continue
            found = _judged(name, ask)
            with _LOCK:
                _KNOWN[name] = (key, found)
        with _LOCK:
            _DONE_FOR[0] = version
            _LOCK.notify_all()
    finally:
        connection.close()


def _judged(name: str, ask: Question) -> Judged | str:
    """A stand judged, or what kept it from being: one stand that cannot be judged keeps no other from it."""
    try:
        advice, due = answers.judge(name, ask)
    except OverwoodError as fault:
        return str(fault)
    except Exception as fault:
        logging.getLogger("overwood").exception("stand %s", name)
        return f"a fault of the program ({type(fault).__name__}); its records are kept, the other stands are judged."
    return Judged(dataclasses.replace(advice, figures={}), tuple(due))
