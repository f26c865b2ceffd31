"""What comes in, what a row says of itself, and what came of it: the shapes that entering, reviewing and the faces
share."""

from __future__ import annotations

import uuid
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from overwood.desk.as_read import TallyRead
from overwood.desk.review import Review
from overwood.ground.errors import Problem
from overwood.ground.records import Table
from overwood.memory.exchange import checking
from overwood.memory.exchange.proposal import Part, RowFate
from overwood.memory.exchange.reading import Sheet

# Columns nobody types: the identifier a record keeps for ever, where it was made, and the record it corrects.
ORIGIN = ("record_id", "record_device", "record_replaces")
CLEAR = "clear"


@dataclass(frozen=True, kw_only=True)
class Incoming:
    """What comes in: sheets in the program's own form, and parts of foreign sheets with the fate of every row."""

    name: str
    digest: str
    sheets: tuple[Sheet, ...] = ()
    parts: tuple[Part, ...] = ()
    fates: tuple[RowFate, ...] = ()
    problems: tuple[Problem, ...] = ()
    # Typed at the desk or on a phone by who sees the visit, not a file of its own.
    is_typed: bool = False


@dataclass(frozen=True, kw_only=True)
class Clash:
    """A record that cannot simply go in: the one of the book and the one that came, as texts by column."""

    table: str
    key: str
    row: str
    stored: dict[str, str]
    came: dict[str, str]

    @property
    def lines(self) -> list[tuple[str, str, str]]:
        """Each field in which they differ: its column, what is stored, what came."""
        return [
            (name, self.stored.get(name, ""), value)
            for name, value in self.came.items()
            if self.stored.get(name, "") != value
        ]


@dataclass
class Report:
    """What came of bringing records in. ``needs_consent`` names what would be replaced: then nothing was stored."""

    file: str
    batch: int | None = None
    new: dict[str, int] = field(default_factory=dict)
    same: int = 0
    corrected: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    quarantine: int | None = None
    mapping: str = ""
    already: bool = False
    review: Review | None = None
    needs_consent: tuple[str, ...] = ()
    clashes: list[Clash] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    # How the tallies of foreign sheets were read, to be held against what is written in them.
    reading: tuple[TallyRead, ...] = ()

    @property
    def faults(self) -> list[Problem]:
        return [problem for problem in self.problems if problem.severity == "error"]

    @property
    def warnings(self) -> list[Problem]:
        return [problem for problem in self.problems if problem.severity == "warning"]

    def nothing_stored(self) -> None:
        """The transaction was rolled back."""
        self.batch, self.new, self.corrected, self.ids = None, {}, [], []


@dataclass(frozen=True)
class Origin:
    """What a row says of itself: its identifier, its device, the record it corrects, and the columns it empties."""

    id: str = ""
    device: str = ""
    replaces: str = ""
    clears: frozenset[str] = frozenset()


def origins_of(frame: Any) -> tuple[dict[int, Origin], list[tuple[int, str]]]:
    """What rows say of themselves, by row number; and rows with something that is no identifier."""
    named = [name for name in ORIGIN if name in frame.columns]
    origins: dict[int, Origin] = {}
    wrong = []
    for row, *cells in frame.select(checking.ROW, *named).iter_rows() if named else ():
        texts = {name: (cell or "").strip() for name, cell in zip(named, cells, strict=True)}
        try:
            origin = _origin(texts)
        except ValueError:
            wrong.append((row, texts.get("record_id") or texts["record_replaces"]))
            continue
        if any(texts.values()):
            origins[row] = origin
    return origins, wrong


def _origin(texts: dict[str, str]) -> Origin:
    row, old = (
        uuid.UUID(text).hex if (text := texts.get(name, "")) else "" for name in ("record_id", "record_replaces")
    )
    return Origin(id=row, device=texts.get("record_device", ""), replaces=old)


def clears_of(table: Table, frame: Any) -> dict[int, set[str]]:
    """Columns that a row empties by the word clear."""
    clears: dict[int, set[str]] = defaultdict(set)
    for name, column in table.columns.items():
        if column.required or name in table.key or name not in frame.columns:
            continue
        said = frame.filter(pl.col(name).str.strip_chars().str.to_lowercase() == CLEAR)
        for row in said[checking.ROW].to_list():
            clears[row].add(name)
    return clears


def without_clears(frame: Any, columns: set[str]) -> Any:
    """The frame with a blank where the word clear stands."""
    blank = [
        pl.when(pl.col(name).str.strip_chars().str.to_lowercase() == CLEAR)
        .then(None)
        .otherwise(pl.col(name))
        .alias(name)
        for name in sorted(columns)
    ]
    return frame.with_columns(blank)
