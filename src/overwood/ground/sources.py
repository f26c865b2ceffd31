"""The bibliography as data: every constant names a key of sources.csv and a status."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from overwood.ground import tables

TABLE = "ground/tables/sources.csv"


@dataclass(frozen=True)
class Source:
    """One publication, or one kind of origin that is not a publication."""

    key: str
    author: str
    year: str
    title: str
    where: str

    def cite(self) -> str:
        year = f" ({self.year})" if self.year else ""
        parts = [f"{self.author}{year}".strip(), self.title, self.where]
        return ". ".join(part.rstrip(".") for part in parts if part) + "."


@functools.cache
def all_sources() -> dict[str, Source]:
    return {
        row["key"]: Source(row["key"], row["author"], row["year"], row["title"], row["where"])
        for row in tables.rows(TABLE)
    }


def cite(key: str) -> str:
    """The full citation behind a key; an unknown key is a bug and raises KeyError."""
    return all_sources()[key].cite()
