"""Where a person's work lies on the disk."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

_SERVER = "DATABASE_URL"


@dataclass(frozen=True, kw_only=True)
class Place:
    """A file or folder that belongs to a person's work; ``size_bytes`` is None where it is not there (yet)."""

    what: str
    path: str
    about: str
    size_bytes: int | None


def places(book: Path | None) -> list[Place]:
    """The book, what lies beside it, and the program's own folders; nothing is opened or made."""
    from platformdirs import user_log_path

    program = Path(__file__).resolve().parents[1]
    return [
        *_book_places(book),
        _place("log", user_log_path("overwood"), "Faults of the program are written down here."),
        _place("program", program, "Code and the invented demo; nothing of yours lies in it."),
    ]


def _book_places(book: Path | None) -> list[Place]:
    from overwood.desk import session
    from overwood.memory.book import setup

    server = os.environ.get(_SERVER, "") if book is None else ""
    if server:
        shown = f"the database that {_SERVER} names"
        return [Place(what="book", path=shown, about="Copied and moved by the database's own tools.", size_bytes=None)]
    file = (book or setup.default_path()).absolute()
    return [
        _place(
            "book",
            file,
            "One file. Copy it with `overwood backup`: beside a running desk the file alone lacks the newest entries.",
        ),
        _place(
            "copies", file.parent / "backups", "Made by `overwood backup` and before each change of the book's shape."
        ),
        _place("rulebook", session.rules_beside(book).absolute(), "Only where rules were changed on a page."),
        _place(
            "price list", session.prices_beside(book).absolute(), "Only where prices and costs were typed on a page."
        ),
        _place("law", session.law_beside(book).absolute(), "Only where the law for burning was typed on a page."),
        _place(
            "office",
            session.office_folder(book).absolute(),
            "Only where `overwood serve --office` ran: its key and its certificate.",
        ),
    ]


def _place(what: str, path: Path, about: str) -> Place:
    return Place(what=what, path=str(path), about=about, size_bytes=_size(path))


def _size(path: Path) -> int | None:
    if not path.exists():
        return None
    if path.is_file():
        return path.stat().st_size
    return sum(part.stat().st_size for part in path.rglob("*") if part.is_file())
