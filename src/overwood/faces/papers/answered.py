"""Papers name the answer they print: it is kept in the book, and its number and digest stand at their foot."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from overwood.desk import kept, session
from overwood.desk.question import Question
from overwood.desk.telling import plain
from overwood.faces.papers import press
from overwood.ground import measures

# Names of the answers that were kept in US units, while the same paper is printed in metric ones.
_NAMED: ContextVar[dict[tuple[str, str], str] | None] = ContextVar("answers kept", default=None)


def in_asked_units(write: Callable[[], None]) -> None:
    """Write a paper in the units in force.

    An answer is kept in US units whatever is asked for: for a metric paper it is made and kept so first, then printed.
    """
    if not measures.is_metric():
        write()
        return
    token = _NAMED.set({})
    try:
        with measures.in_units(measures.US):
            write()
        write()
    finally:
        _NAMED.reset(token)


@contextmanager
def printed(stand: str, kind: str, ask: Question, answer: Any, **settings: Any) -> Iterator[None]:
    """Papers written within print this answer; in a book that may only be read it is not kept, and its digest alone is
    named."""
    named = _NAMED.get()
    if named is not None and measures.is_metric():
        with press.printed_from(named[stand, kind]):
            yield
        return
    result = plain(answer)
    if session.is_read_only():
        words = f"Not kept ({kind}), digest {kept.digest_of(result)}, rulebook {ask.rules.version}."
    else:
        words = kept.keep(stand, kind, ask, settings, result).words
    if named is not None:
        named[stand, kind] = words
    with press.printed_from(words):
        yield
