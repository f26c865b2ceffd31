"""An answer as plain data: its dataclass is the contract, for the command line, the API and the book alike.

A field whose metadata say ``inner`` stays inside; properties that ``DERIVED`` of the class names go along. Numbers that
JSON cannot carry become null, days and paths text.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any


def plain(value: Any) -> Any:
    """A value as JSON carries it."""
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {name: plain(getattr(value, name)) for name in names(type(value))}
    if isinstance(value, Mapping):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(entry) for entry in value]
    return _scalar(value)


def _scalar(value: Any) -> Any:
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Path):
        return str(value)
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    return str(value)


@functools.cache
def names(answer: type) -> tuple[str, ...]:
    """Names of what an answer says: its fields, then its derived properties."""
    fields = [field.name for field in dataclasses.fields(answer) if not field.metadata.get("inner")]
    return (*fields, *getattr(answer, "DERIVED", ()))
