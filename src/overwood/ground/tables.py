"""The one reader of the constant tables that stand beside the code as CSV.

Every table has a ``source`` and a ``status`` column, so a constant never travels without where it came from.
"""

from __future__ import annotations

import csv
import functools
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent

# published: seen in print; memory: recalled from a publication; practice: the trade's habit;
# assumption: nobody published it.
STATUSES = ("published", "memory", "practice", "assumption")


@functools.cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """All rows of the table ``name``, a path below the package such as ``science/tables/stocking.csv``."""
    with (_PACKAGE / name).open(encoding="utf-8", newline="") as stream:
        return tuple(csv.DictReader(stream))


@functools.cache
def constants(name: str) -> dict[str, float]:
    """The ``name`` and ``value`` columns of a table of single constants."""
    return {row["name"]: float(row["value"]) for row in rows(name)}


def table_names() -> tuple[str, ...]:
    """Every table of the package, as paths that :func:`rows` takes."""
    return tuple(sorted(path.relative_to(_PACKAGE).as_posix() for path in _PACKAGE.rglob("tables/*.csv")))


def weakest(statuses: list[str] | tuple[str, ...]) -> str:
    """The least certain of several statuses; an empty list counts as published (nothing but arithmetic)."""
    return max(statuses, key=STATUSES.index, default="published")
