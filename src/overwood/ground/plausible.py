"""What a number of a field sheet can hardly be: the limits beyond which the import asks or doubts, as data with their
source.

An office may have limits of its own: they hold for the work under way, as whoever began it said with :func:`use`.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextvars import ContextVar

from overwood.ground import tables

TABLE = "ground/tables/plausible.csv"
_OWN: ContextVar[Mapping[str, float] | None] = ContextVar("plausible", default=None)


def use(own: Mapping[str, float]) -> None:
    """Let these limits go before those of the table, in this thread or task; none of them takes the table's back."""
    _OWN.set(dict(own))


def own() -> dict[str, float]:
    """The limits in use that are not the table's, to be handed to another process."""
    return dict(_OWN.get() or {})


def limit(name: str) -> float:
    """A limit by its name in the table."""
    return (_OWN.get() or {}).get(name, tables.constants(TABLE)[name])


def span(table: str, column: str) -> tuple[float, float]:
    """The plausible values of a column in the record's unit; without bounds where the table names none."""
    limits = {**tables.constants(TABLE), **(_OWN.get() or {})}
    return limits.get(f"{table}.{column}.least", 0.0), limits.get(f"{table}.{column}.most", float("inf"))
