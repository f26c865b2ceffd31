"""Stands judged one by one: a stand that cannot be judged is named with its reason and keeps no other from it."""

from __future__ import annotations

import base64
import datetime as dt
import functools
import json
import logging
import zlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from overwood.ground.errors import OverwoodError
from overwood.judgement.course import Advice
from overwood.judgement.course.due import Due
from overwood.judgement.gates.windows import Window
from overwood.judgement.reason import Reason

T = TypeVar("T")


@dataclass(frozen=True)
class Judged:
    """A stand's advice and what is due there."""

    advice: Advice
    due: tuple[Due, ...]


@dataclass(frozen=True)
class Unjudged:
    """A stand that could not be judged, and why."""

    stand: str
    reason: str


@dataclass(frozen=True)
class PropertyStanding:
    """Every stand of the book: judged, or named with what kept it from being."""

    judged: tuple[Judged, ...]
    unjudged: tuple[Unjudged, ...]


def judged_or_not(stand: str, judge: Callable[[], tuple[Advice, Iterable[Due]]]) -> Judged | Unjudged:
    """What ``judge`` says of a stand, or why it cannot."""
    outcome = tried(stand, judge)
    return outcome if isinstance(outcome, Unjudged) else Judged(outcome[0], tuple(outcome[1]))


def tried(stand: str, work: Callable[[], T]) -> T | Unjudged:
    """What a work on a stand comes to, or why it cannot: records that make one stand fail leave the others judged."""
    try:
        return work()
    except OverwoodError as fault:
        return Unjudged(stand, str(fault))
    except Exception as fault:
        logging.getLogger("overwood").exception("stand %s", stand)
        return Unjudged(
            stand,
            f"a fault of the program ({type(fault).__name__}); its records are kept, the other stands are judged.",
        )


def standing_of(judged: Iterable[Judged | Unjudged]) -> PropertyStanding:
    """What was judged and what was not, apart."""
    every = list(judged)
    return PropertyStanding(
        tuple(one for one in every if isinstance(one, Judged)), tuple(one for one in every if isinstance(one, Unjudged))
    )


def calendar_of(standing: PropertyStanding, on: dt.date, until: dt.date) -> list[Due]:
    """What is due until a day, in the order of the calendar; a stand that could not be judged stands in it today."""
    entries = [entry for one in standing.judged for entry in one.due]
    entries += [
        Due(stand=one.stand, what="Could not be judged", window=Window(on, on), why=one.reason)
        for one in standing.unjudged
    ]
    return sorted(
        (entry for entry in entries if entry.window.start <= until), key=lambda entry: (entry.window, entry.stand)
    )


def packed(judged: Mapping[str, tuple[str, Judged]]) -> str:
    """Stands judged, each with the mark of its records, as text that a book keeps; one that its text would not give
    back as it is stays out."""
    texts = {name: [mark, _adapter().dump_json(one).decode()] for name, (mark, one) in judged.items()}
    exact = {name: text for name, text in texts.items() if _read(text[1]) == judged[name][1]}
    return base64.b85encode(zlib.compress(json.dumps(exact).encode())).decode()


def unpacked(text: str) -> dict[str, tuple[str, Judged]]:
    """The stands of a kept text, each with the mark of the records it was judged by."""
    texts = json.loads(zlib.decompress(base64.b85decode(text)))
    return {name: (mark, _read(told)) for name, (mark, told) in texts.items()}


def _read(text: str) -> Judged:
    judged: Judged = _adapter().validate_python(json.loads(text, object_hook=_with_days))
    return judged


def _with_days(told: dict[str, Any]) -> dict[str, Any]:
    """The values of a doubt or reason with their day as a day, and a reason among them as one."""
    values = told.get("values")
    if isinstance(values, dict):
        if isinstance(values.get("on"), str):
            values["on"] = dt.date.fromisoformat(values["on"])
        inner = {name: Reason(**value) for name, value in values.items() if isinstance(value, dict)}
        told["values"] = values | inner
    return told


@functools.cache
def _adapter() -> Any:
    from pydantic import TypeAdapter

    return TypeAdapter(Judged)
