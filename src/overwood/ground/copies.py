"""Copies of records with some fields changed, for where the same record is asked again thousands of times."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeVar

Record = TypeVar("Record")


def with_fields(record: Record, **fields: Any) -> Record:
    """A frozen dataclass with some fields changed, as ``dataclasses.replace`` makes it but ten times quicker.

    The record's own check on making does not run again and a field that does not exist is not noticed: for plain rows
    only.
    """
    made = object.__new__(type(record))
    made.__dict__.update(record.__dict__)
    made.__dict__.update(fields)
    return made


def made(record: type[Record], fields: Iterable[tuple[str, Any]]) -> Record:
    """A frozen dataclass of its fields, as calling it makes it but several times quicker: for plain rows that are
    checked already, with a field left out where it has its default."""
    row = object.__new__(record)
    row.__dict__.update(fields)
    return row
