"""What a field of a record may hold: one object checks, prints itself in messages and makes the contract."""

from __future__ import annotations

import dataclasses
import functools
from dataclasses import dataclass
from typing import Any

from overwood.ground import measures


@dataclass(frozen=True, kw_only=True)
class Column:
    """What one field of a record may hold; the same object checks, prints itself in messages and makes the contract."""

    kind: str
    about: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    required: bool = False

    @property
    def expected(self) -> str:
        """The allowed range in words."""
        if self.choices:
            return "one of " + ", ".join(self.choices)
        words = {
            "number": "a number",
            "integer": "a whole number",
            "date": "a date as year-month-day",
            "boolean": "yes or no",
            "outline": (
                "POLYGON or MULTIPOLYGON as well-known text in degrees, longitude then latitude, that does not "
                "cross itself"
            ),
            "shape": "a point, line or area as well-known text in degrees, longitude then latitude",
            "fuel": "a published fuel model, such as FM9 or TL6",
            "species": "a species by FIA code, PLANTS symbol or common name",
        }.get(self.kind, "text")
        low, high = (None if end is None else measures.digits(end, self.unit, "g") for end in (self.low, self.high))
        if low is not None:
            words += f" of at least {low}" if high is None else f" from {low} to {high}"
        return measures.with_unit(words, measures.unit_word(self.unit))

    @property
    def words(self) -> str:
        """What it is, in the units in force."""
        return measures.prose(self.about)


def column(default: Any = None, /, **spec: Any) -> Any:
    return dataclasses.field(default=default, metadata={"column": Column(**spec)})


def key(about: str) -> Any:
    return column("", kind="text", about=about, required=True)


def text(about: str, choices: tuple[str, ...] = (), required: bool = False) -> Any:
    return column("", kind="text", about=about, choices=choices, required=required)


def number(about: str, unit: str = "", low: float | None = None, high: float | None = None, **more: Any) -> Any:
    return column(kind="number", about=about, unit=unit, low=low, high=high, **more)


def whole(about: str, low: float | None = None, high: float | None = None, default: int | None = None) -> Any:
    return column(default, kind="integer", about=about, low=low, high=high)


def date(about: str, required: bool = False) -> Any:
    return column(kind="date", about=about, required=required)


def species(about: str = "species", required: bool = True) -> Any:
    return column(None, kind="species", about=about, required=required)


def yes_no(about: str) -> Any:
    return column(kind="boolean", about=about)


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table of the contract: its name, its record, and the fields that make two rows the same row."""

    name: str
    record: type[Any]
    key: tuple[str, ...]
    about: str

    @functools.cached_property
    def columns(self) -> dict[str, Column]:
        return {f.name: f.metadata["column"] for f in dataclasses.fields(self.record) if "column" in f.metadata}
