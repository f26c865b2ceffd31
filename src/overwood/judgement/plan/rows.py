"""Rows of the plan's model: which limit each holds, and of which columns."""

from __future__ import annotations

from dataclasses import dataclass

from overwood.ground.errors import OverwoodError

# Kinds of limits, in the order in which a clash names them.
ONE, CREW, BURN, MONEY, APART, LARGEST, OLD, TOGETHER, PIN, ALONE, VALUE = KINDS = (
    "one course a stand", "crew days", "burn days", "money", "openings apart", "largest opening", "old trees",
    "begin together", "pin", "left alone", "value",
)  # fmt: skip


class NoPlan(OverwoodError):
    """No plan keeps every limit, or none was found in the time given."""


@dataclass(frozen=True)
class Key:
    """Which limit a row holds: its kind, the stands it names, and the first year of its period (from 0; -1 where it
    names none)."""

    kind: str
    subject: str = ""
    year: int = -1


@dataclass(frozen=True)
class Row:
    """Sum of weights of chosen columns, between two ends."""

    key: Key
    places: tuple[int, ...]
    weights: tuple[float, ...]
    low: float
    high: float
