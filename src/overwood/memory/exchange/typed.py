"""Whole columns that carry their types, as parquet holds them, checked without turning a cell into text.

What passes here passes ``checking`` with the same values. What does not is said by ``checking``, which names each cell.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import polars as pl

from overwood.ground import species
from overwood.ground.columns import Column
from overwood.ground.records import Table
from overwood.memory.exchange import contract
from overwood.memory.exchange.checking import EARLIEST, SPACES, outline_fault, type_of
from overwood.memory.exchange.row_rules import rules_of


def plain(table: Table, frame: Any, today: dt.date) -> Any | None:
    """The rows of a table with every column of the contract, typed; None where any cell has to be looked at one by
    one."""
    if not all(_is_typed(frame[name], column) for name, column in table.columns.items() if name in frame.columns):
        return None
    # A key of another table is looked at there.
    linked = {column for columns, _ in contract.parents(table.name) for column in columns}
    texts = [
        (frame[name], column)
        for name, column in table.columns.items()
        if name in frame.columns and column.kind == "text" and (column.choices or name not in linked)
    ]
    faults = [_fault(name, column) for name, column in table.columns.items() if name in frame.columns]
    absent = [name for name, column in table.columns.items() if name not in frame.columns]
    if any(table.columns[name].required for name in absent) or any(frame.select(faults).row(0)):
        return None
    if any(_is_misspelled(cells, column) for cells, column in texts):
        return None
    whole = frame.select(_whole(name, column, name in frame.columns) for name, column in table.columns.items())
    rules = [
        rule.wrong.fill_null(False).any().alias(str(place))
        for place, rule in enumerate(rules_of(table.name, today))
        if rule.severity == "error" and (not rule.needs or whole[rule.needs].null_count() < whole.height)
    ]
    if rules and any(whole.select(rules).row(0)):
        return None
    return None if whole.select(pl.struct(table.key).hash().n_unique()).item() < whole.height else whole


def _is_typed(cells: Any, column: Column) -> bool:
    """Whether a column has the type its kind is checked in; a fuel or a species in words is looked at cell by cell."""
    kind = cells.dtype
    if kind == pl.Null or cells.null_count() == len(cells):
        return True
    if column.kind == "species":
        known = species.all_species()
        return bool(kind.is_integer()) and all(
            code in known and code != species.UNKNOWN for code in cells.drop_nulls().unique().to_list()
        )
    if column.kind in ("outline", "shape"):
        return bool(kind == pl.String) and not any(
            cell != cell.strip() or outline_fault(cell, column.kind) for cell in cells.drop_nulls().to_list()
        )
    wanted = {
        "number": kind.is_numeric(),
        "integer": kind.is_integer(),
        "date": kind == pl.Date,
        "boolean": kind == pl.Boolean,
    }
    return bool(wanted.get(column.kind, column.kind == "text" and kind == pl.String))


def _is_misspelled(cells: Any, column: Column) -> bool:
    """Whether any text of a column is none of its choices or stands between spaces; words repeat, and each is looked at
    once."""
    words = cells.drop_nulls().unique().cast(pl.String)
    if column.choices:
        return not words.is_in(["", *column.choices]).all()
    return bool((words.str.strip_chars(SPACES) != words).any())


def _fault(name: str, column: Column) -> Any:
    """An expression: whether any cell of a typed column is at fault, whatever its words."""
    cells = pl.col(name)
    wrong = [cells.is_null().any()] if column.required else []
    wrong += [(cells == "").any()] if column.required and column.kind == "text" else []
    if column.kind in ("number", "integer"):
        number = cells.cast(pl.Float64)
        wrong.append((~number.is_finite()).any())
        wrong += [(number < column.low).any()] if column.low is not None else []
        wrong += (
            [(number > column.high).any()]
            if column.high is not None
            else [(number.abs() >= 2**31).any()] * (column.kind == "integer")
        )
    if column.kind == "date":
        wrong.append((cells.cast(pl.Date).dt.year() < EARLIEST).any())
    return pl.any_horizontal([each.fill_null(False) for each in wrong] or [pl.lit(False)]).alias(name)


def _whole(name: str, column: Column, is_there: bool) -> Any:
    """A column of the contract in its type, blanks of text as "" and of the rest as null."""
    kind = type_of(column)
    cells = pl.col(name).cast(kind) if is_there else pl.lit(None, dtype=kind).alias(name)
    return cells.fill_null("") if kind == pl.String else cells
