"""What a file of outlines holds: raw shapes as they are read, and outlines in degrees; and how a file is refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from overwood.ground.errors import BadRecords, Problem

DEGREES = "EPSG:4326"
# A property of thousands of stands is some megabytes: our own limits.
MOST_BYTES, MOST_UNPACKED, MOST_SHAPES, MOST_CORNERS = 64 * 2**20, 256 * 2**20, 5_000, 1_000_000


@dataclass(frozen=True, kw_only=True)
class Shape:
    """One outline of a file: its number in it, its words by column, and its polygon in degrees."""

    number: int
    values: Mapping[str, str]
    polygon: Any
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class OutlineFile:
    """What a file of outlines holds."""

    file: str
    system: str
    shapes: tuple[Shape, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Raw:
    """One shape as the file has it, before it is set on the earth."""

    values: Mapping[str, str]
    shape: Any


@dataclass(frozen=True, kw_only=True)
class Layer:
    system: str
    rows: tuple[Raw, ...]


def unreadable(name: str, what: str, expected: str = "", remedy: str = "") -> BadRecords:
    problem = Problem(what=f"{what[0].upper()}{what[1:]}.", file=name, expected=expected, remedy=remedy)
    return BadRecords(f"{name} cannot be read as outlines.", (problem,))
