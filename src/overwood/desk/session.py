"""Opening, copying and emptying a book, and the sheets to fill."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from overwood.desk import book
from overwood.ground.errors import NotFound, OverwoodError
from overwood.ground.records import TABLES, GroundFeature, Property, Stand

if TYPE_CHECKING:
    from overwood.memory.book.drill import Drill


def open_book(path: Path | None, *, create: bool = False, web: dict[str, Any] | None = None) -> None:
    """Make the book ready for the functions of the desk; ``web`` holds the settings of the pages, where they are
    served."""
    book.setup.open_book(path, create=create, web=web)


def invented() -> Path:
    """The folder of the invented data: inside an installed program, or beside the sources of a checkout."""
    inside = Path(str(files("overwood"))) / "demo"
    return inside if inside.is_dir() else inside.parents[2] / "demo"


def backup(target: Path | None) -> Path:
    """Copy the book; returns where the copy lies."""
    return book.setup.backup(target)


def restore(source: Path) -> Path:
    """Put a backup in the book's place; returns where the book as it was is kept."""
    return book.setup.restore(source)


def is_read_only() -> bool:
    """Whether the open book may be read and not written."""
    return book.setup.is_read_only()


def check_sound() -> None:
    """Refuse to go on with a damaged book."""
    book.setup.check_live()


def drill(source: Path | None) -> Drill:
    """Prove that a copy, or one made now, opens and holds the rows of the book."""
    return book.drill.drill(source)


def export(target: Path) -> dict[str, int]:
    """Write the current view of everything as a data package; returns rows by table."""
    from overwood.memory.exchange import package

    if target.exists() and (target.is_file() or any(target.iterdir())):
        raise OverwoodError(f"{target} is already there.", remedy="Name a new folder or zip file.")
    tables = {name: [row[1:] for row in sorted(book.store.raw_rows(name))] for name in TABLES}
    package.write_package(target, {name: rows for name, rows in tables.items()})
    return {name: len(rows) for name, rows in tables.items() if rows}


def template(target: Path) -> list[str]:
    """Write empty sheets: a workbook where the name ends in .xlsx, else a folder of csv files with their descriptor."""
    from overwood.memory.exchange import contract

    if target.exists():
        raise OverwoodError(f"{target} is already there.", remedy="Name another file or folder.")
    if target.suffix.lower() == ".xlsx":
        target.write_bytes(contract.template_workbook())
        return [target.name]
    target.mkdir(parents=True)
    files = contract.template_files()
    for name, content in files.items():
        (target / name).write_bytes(content)
    return sorted(files)


def template_workbook() -> bytes:
    """Empty sheets with their headings, as an xlsx workbook."""
    from overwood.memory.exchange import contract

    return contract.template_workbook()


def entries() -> list[dict[str, Any]]:
    """What was brought in, newest first."""
    return book.store.batches()


def newest_records(table: str, text: str, most: int) -> list[Any]:
    """Records of a table, the newest first; ``text`` is looked for in their key."""
    return book.store.newest(table, text, most)


def record_history(table: str, row_id: str) -> list[dict[str, Any]]:
    """A record and those it replaced, newest first."""
    return book.store.history(table, row_id)


def stands() -> list[Stand]:
    """Every stand of the book that is listed, by name; those merged into another are not."""
    stands: list[Stand] = book.store.records("stands", merged_into="")
    return sorted(stands, key=lambda stand: stand.stand)


def ground_features() -> list[GroundFeature]:
    """Streams, roads and sites of every stand."""
    features: list[GroundFeature] = book.store.records("ground_features")
    return features


def stand_marks(only: str | None = None) -> dict[str, str]:
    """For each stand, or ``only`` one, a mark that changes when what can change its advice does: its records, its
    property's acorn checks."""
    return book.store.stand_marks(only)


def data_version() -> str:
    """Changes whenever what the book says changes."""
    return book.store.data_version()


def close() -> None:
    """Let go of the book's connections, before a process divides."""
    from django.db import connections

    connections.close_all()


def owner() -> Property | None:
    """The first property of the book."""
    rows: list[Property] = book.store.records("properties")
    return rows[0] if rows else None


def place_words(stand: str) -> str:
    """The property and the stand of a page, "" for the stand on pages of none: 'Vesperlick Tract, stand S2 Kiln
    Spur'."""
    rows: list[Stand] = book.store.records("stands", stand=stand) if stand else []
    named: list[Property] = book.store.records("properties")
    of = [one for one in named if one.property == rows[0].property] if rows else named[:1]
    words = ", ".join(one.name or one.property for one in of)
    return f"{words}, stand {rows[0].stand} {rows[0].name or ''}".strip(" ,") if rows else words


def rules_beside(book: Path | None) -> Path:
    """Where the overlay of the rulebook lies that pages write: beside the book."""
    return _beside(book, "rules.toml")


def prices_beside(book: Path | None) -> Path:
    """Where the price list lies that pages write: beside the book."""
    return _beside(book, "prices.toml")


def law_beside(book: Path | None) -> Path:
    """Where that lies which pages write of the law for burning: beside the book."""
    return _beside(book, "law.toml")


def where_kept(path: Path) -> Path | None:
    """The place of a list that pages write; None where none was kept."""
    return path if path.exists() else None


def _beside(book: Path | None, ending: str) -> Path:
    from overwood.memory.book import setup

    place = book or setup.default_path()
    return place.with_name(f"{place.stem}.{ending}")


def office_folder(book: Path | None) -> Path:
    """Where an office keeps what signs its sessions and its certificate: beside the book."""
    return _beside(book, "office")


@dataclass(frozen=True, kw_only=True)
class Printed:
    """What is kept of a document beside its pages."""

    which: str
    title: str
    own_words: str
    made_on: dt.date
    rules_version: str


def keep_paper(stand: str, printed: Printed, content: bytes) -> int:
    """Keep a document as it was printed, with the versions it was made from; returns its number."""
    return book.outputs.keep_paper(stand, content, **vars(printed))


def kept_papers(stand: str) -> list[dict[str, Any]]:
    """Kept documents of a stand, newest first."""
    return book.outputs.papers(stand)


def kept_paper(stand: str, number: int) -> bytes:
    """A kept document as it was printed. Raises NotFound when there is none of this number."""
    content = book.outputs.paper_content(stand, number)
    if content is None:
        raise NotFound(f"{stand} has no kept paper {number}.")
    return content
