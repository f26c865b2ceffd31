"""What a number of a field sheet can hardly be: the limits beyond which the import asks or doubts, as data with their source."""

from __future__ import annotations

from overwood.ground import tables

TABLE = "ground/tables/plausible.csv"


def limit(name: str) -> float:
    """A limit by its name in the table."""
    return tables.constants(TABLE)[name]


def span(table: str, column: str) -> tuple[float, float]:
    """The plausible values of a column in the record's unit; without bounds where the table names none."""
    limits = tables.constants(TABLE)
    return limits.get(f"{table}.{column}.least", 0.0), limits.get(f"{table}.{column}.most", float("inf"))
