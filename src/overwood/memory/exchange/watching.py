"""How far the reading of a file is, told to who waits for it: by rows, in the passes that every row goes through."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator
from contextvars import ContextVar
from typing import TypeVar

T = TypeVar("T")
# Told the pass and how many rows went through it since; may raise to end the reading.
Tell = Callable[[str, int], None]
LAID_OUT, UNDERSTOOD, PUT_IN_FORM = "laid out", "understood", "put in form"
PASSES = (LAID_OUT, UNDERSTOOD, PUT_IN_FORM)
# Told once before the passes with all rows, and once behind them: from then on the book is written.
COUNTED, WRITTEN = "counted", "written"
_EVERY_ROWS = 500
_TELL: ContextVar[Tell | None] = ContextVar("tell", default=None)


@contextlib.contextmanager
def telling(tell: Tell) -> Iterator[None]:
    """Tell how far the reading within is."""
    mark = _TELL.set(tell)
    try:
        yield
    finally:
        _TELL.reset(mark)


def tell(what: str, count: int) -> None:
    """Tell what goes by no rows."""
    if (held := _TELL.get()) is not None:
        held(what, count)


def each(rows: Iterable[T], what: str) -> Iterable[T]:
    """The rows as they go through a pass."""
    tell = _TELL.get()
    return rows if tell is None else _told(rows, what, tell)


def _told(rows: Iterable[T], what: str, tell: Tell) -> Iterator[T]:
    count = 0
    for count, row in enumerate(rows, 1):
        yield row
        if count % _EVERY_ROWS == 0:
            tell(what, _EVERY_ROWS)
    tell(what, count % _EVERY_ROWS)
