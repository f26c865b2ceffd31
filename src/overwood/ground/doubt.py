"""A doubt: a short code with its values. The sentence is made at the end, from a table that a region may word anew."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from string import Formatter
from typing import Any, ClassVar

from overwood.ground import measures, tables

TABLE = "ground/tables/doubts.csv"


@dataclass(frozen=True)
class Worded:
    """A short code with its values; the words are made at the end, in the units in force.

    Raises
    ------
    KeyError
        of ``words``, when the table has no such code or the values lack a name.
    """

    code: str
    values: Mapping[str, Any] = field(default_factory=dict)

    DERIVED: ClassVar = ("words",)
    TABLES: ClassVar[tuple[str, ...]] = ()

    def __str__(self) -> str:
        return self.words

    @property
    def words(self) -> str:
        return measures.prose(_Words().vformat(_rows(self.TABLES)[self.code]["text"], (), self.values))


@dataclass(frozen=True)
class Doubt(Worded):
    """What speaks against a figure or a step."""

    TABLES: ClassVar = (TABLE,)

    @property
    def gate(self) -> str:
        """The gate whose own reason tells this doubt already; "" where none does."""
        return _rows(self.TABLES)[self.code]["gate"]


def joined(doubts: tuple[Doubt, ...]) -> str:
    """Doubts as one note."""
    return "; ".join(doubt.words for doubt in doubts)


@functools.cache
def _rows(trades: tuple[str, ...]) -> dict[str, dict[str, str]]:
    return {row["code"]: row for table in trades for row in tables.rows(table)}


class _Words(Formatter):
    """Beside the formats of Python: ``{n:|plot}`` is a count with its noun, '1 plot' or '3 plots'; ``{p:|%}`` a share
    in hundredths; ``{h:@ft}`` an amount with its unit in the system in force, ``{h:#ft}`` its number alone, either
    with the form of the US number behind a bar: ``{h:@ft|g}``."""

    def format_field(self, value: Any, format_spec: str) -> Any:
        if format_spec == "|%":
            return f"{100 * value:.0f}"
        if format_spec[:1] in ("@", "#"):
            unit, _, form = format_spec[1:].partition("|")
            return (measures.amount if format_spec[0] == "@" else measures.digits)(value, unit, form or ".0f")
        if format_spec.startswith("|"):
            return f"{value:.0f} {format_spec[1:]}{'' if value == 1 else 's'}"
        return super().format_field(value, format_spec)
