"""Stands judged one by one: a stand that cannot be judged is named with its reason and keeps no other from it."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from overwood.ground.errors import OverwoodError
from overwood.judgement.course import Advice
from overwood.judgement.course.due import Due
from overwood.judgement.gates.windows import Window


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
    """What ``judge`` says of a stand, or why it cannot: records that make one stand fail leave the others judged."""
    try:
        advice, due = judge()
    except OverwoodError as fault:
        return Unjudged(stand, str(fault))
    except Exception as fault:
        logging.getLogger("overwood").exception("stand %s", stand)
        return Unjudged(
            stand,
            f"a fault of the program ({type(fault).__name__}); its records are kept, the other stands are judged.",
        )
    return Judged(advice, tuple(due))


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
