"""Papers name the answer they print: it is kept in the book, and its number and digest stand at their foot."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from overwood.desk import kept, session
from overwood.desk.question import Question
from overwood.desk.telling import plain
from overwood.faces.papers import press


@contextmanager
def printed(stand: str, kind: str, ask: Question, answer: Any, **settings: Any) -> Iterator[None]:
    """Papers written within print this answer; in a book that may only be read it is not kept, and its digest alone is named."""
    result = plain(answer)
    if session.is_read_only():
        words = f"Not kept ({kind}), digest {kept.digest_of(result)}, rulebook {ask.rules.version}."
    else:
        words = kept.keep(stand, kind, ask, settings, result).words
    with press.printed_from(words):
        yield
