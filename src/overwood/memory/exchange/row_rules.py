"""Checks that need several cells of a row: each a condition, the column to show, and the words."""

from __future__ import annotations

import datetime as dt
import functools
from dataclasses import dataclass
from typing import Any

import polars as pl

from overwood.ground import tables
from overwood.ground.vocabulary import HEIGHT_CLASSES, MAP_SIDES

# A row a check; what is wrong is an expression of SQL over the columns of its table.
_TABLE = "memory/exchange/row_rules.csv"
# Plans reach no further than the age of an old oak stand: our own choice, against slips of the hand.
_PLANNED_YEARS = 300
# A name is part of addresses, where a slash would end it.
_SLASH = r"[/\\]|^\.+$"


@dataclass(frozen=True)
class RowRule:
    """A check that needs several cells of a row."""

    wrong: Any
    column: str
    what: str
    expected: str
    severity: str = "error"
    # A column without whose value nothing is wrong, where looking for that costs much.
    needs: str = ""


@functools.lru_cache(maxsize=64)
def rules_of(table: str, today: dt.date) -> list[RowRule]:
    """What the rows of a table must hold together."""
    said = _said(today)
    return [
        RowRule(
            pl.sql_expr(row["wrong"].format(**said)), row["column"], row["what"], row["expected"].format(**said),
            row["severity"], row["needs"],
        )
        for row in tables.rows(_TABLE, keys=3)
        if row["table"] == table
    ]  # fmt: skip


def _said(today: dt.date) -> dict[str, str]:
    """What a row of the table names in braces: days, limits of a height class, and the edge of each side of a map."""
    ahead = {"today": 0, "in_a_year": 366, "last": 366 * _PLANNED_YEARS}
    days = {name: f"CAST('{today + dt.timedelta(days=more)}' AS DATE)" for name, more in ahead.items()}
    limits = {name: _limit(side) for side, name in enumerate(("class_low", "class_high"))}
    sides = {name: f"(CASE WHEN edge_{name} = '' THEN edge ELSE edge_{name} END)" for name in MAP_SIDES}
    return {**days, **limits, **sides, "slash": f", '{_SLASH}'", "years": str(_PLANNED_YEARS)}


def _limit(side: int) -> str:
    cases = " ".join(f"WHEN '{name}' THEN {float(pair[side])}" for name, pair in HEIGHT_CLASSES.items())
    return f"(CASE height_class {cases} END)"
