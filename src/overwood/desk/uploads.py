"""Files a browser sent that are not finished: kept in the book with the answers so far, so that a reload or a restart
loses nothing."""

from __future__ import annotations

from typing import Any

from overwood.desk import book
from overwood.desk.importing import FileSent
from overwood.ground.errors import NotFound

# The kind of work that a look at a file is.
LOOK = "look"
# Files a person may leave unfinished; the oldest go first.
_MOST = 8


def keep(sent: FileSent) -> int:
    """Keep a file until it is written or put away; returns its number."""
    return book.store.keep_upload(sent.name, sent.content, _MOST)


def one(number: int) -> tuple[FileSent, dict[str, Any]]:
    """An unfinished file of the same person, with the answers given so far. Raises NotFound when there is none of this
    number."""
    row = book.store.upload(number)
    if row is None:
        raise NotFound(f"no file {number} is unfinished.", remedy="Send the file again on the page Import.")
    name, content, answers = row
    return FileSent(name=name, content=content), answers


def unfinished() -> list[dict[str, Any]]:
    """Files of the same person that are neither written nor put away, the newest first."""
    return book.store.uploads()


def answer(number: int, answers: dict[str, Any]) -> None:
    """Keep the answers given so far."""
    book.store.answer_upload(number, answers)


def drop(number: int) -> None:
    """Put a file away with the looks at it: it was written, or is not wanted."""
    book.store.drop_upload(number)
    book.work.forget_looks(LOOK, book.store.WHO.get(), number)
