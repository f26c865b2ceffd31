"""The one reader of the constant tables that stand beside the code as CSV.

Every table has a ``source`` and a ``status`` column, so a constant never travels without where it came from. A region
is a folder of files under the same paths: its rows take the place of those with the same first column, and others are
added.
"""

from __future__ import annotations

import csv
import functools
import tomllib
from pathlib import Path
from typing import Any

_PACKAGE = Path(__file__).resolve().parent.parent
# The folder of the region in force, if another than the program's own is; set once, before anything is read.
_REGION: list[Path] = []

# published: seen in print; memory: recalled from a publication; practice: the trade's habit;
# assumption: nobody published it.
STATUSES = ("published", "memory", "practice", "assumption")


def use_region(folder: Path) -> None:
    """Read the files of a region over the program's own from now on. Raises RuntimeError when something was read
    already, so that two regions would be mixed."""
    if [folder] == _REGION:
        return
    if rows.cache_info().currsize or words.cache_info().currsize:
        raise RuntimeError("a region is set before anything is read")
    _REGION[:] = [folder]


def region_file(name: str) -> Path | None:
    """A file of the region in force by its path below the package; None where it has none."""
    path = _REGION[0] / name if _REGION else None
    return path if path is not None and path.is_file() else None


@functools.cache
def rows(name: str, keys: int = 1) -> tuple[dict[str, str], ...]:
    """All rows of the table ``name``, a path below the package such as ``science/tables/stocking.csv``; a region's row
    takes the place of those with the same first ``keys`` columns."""
    own, regional = _read(_PACKAGE / name), region_file(name)
    if regional is None:
        return own
    names, added = list(own[0])[:keys], _read(regional)
    replaced = {tuple(row[key] for key in names) for row in added}
    rest = (row for row in own if tuple(row[key] for key in names) not in replaced)
    return (*rest, *({**dict.fromkeys(own[0], ""), **row} for row in added))


@functools.cache
def words(name: str) -> dict[str, Any]:
    """The entries of a TOML file by its path below the package; a region's stand over the program's, key by key."""
    own, regional = tomllib.loads((_PACKAGE / name).read_text(encoding="utf-8")), region_file(name)
    return own if regional is None else _over(own, tomllib.loads(regional.read_text(encoding="utf-8")))


def _over(own: dict[str, Any], regional: dict[str, Any]) -> dict[str, Any]:
    both = {name: _over(own[name], regional[name]) for name in own if isinstance(regional.get(name), dict)}
    return {**own, **regional, **both}


def _read(path: Path) -> tuple[dict[str, str], ...]:
    with path.open(encoding="utf-8", newline="") as stream:
        return tuple(csv.DictReader(stream))


@functools.cache
def constants(name: str) -> dict[str, float]:
    """The ``name`` and ``value`` columns of a table of single constants."""
    return {row["name"]: float(row["value"]) for row in rows(name)}


def table_names() -> tuple[str, ...]:
    """Every table of the package, as paths that :func:`rows` takes."""
    return tuple(sorted(path.relative_to(_PACKAGE).as_posix() for path in _PACKAGE.rglob("tables/*.csv")))
