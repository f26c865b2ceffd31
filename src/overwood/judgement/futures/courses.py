"""Courses of treatment as data: read from a small file, checked, and turned into the numbers a simulation takes."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import BadRule, NotFound
from overwood.science.regeneration import PLAN

_BUILT_IN = Path(__file__).with_name("courses.toml")
# Least and greatest of each number of a course.
_SPANS: dict[str, tuple[float, float]] = {
    "cut_year": (-1, 60), "inject": (0, 1), "burns": (0, 6), "crop_wait_yr": (0, 40), "residual_ft2_ac": (0, 150), "count_from_yr": (0, 40),
    "release_wait_yr": (0, 60), "release_anyway": (0, 1), "planted_ac": (0, 2000), "prep_ft2_ac": (0, 150), "kept_ft2_ac": (0, 80),
}  # fmt: skip


@dataclass(frozen=True)
class Course:
    """One course with its numbers by PLAN."""

    name: str
    numbers: dict[str, float]

    @property
    def row(self) -> NDArray[np.float64]:
        return np.array([self.numbers[name] for name in PLAN])


def load(path: Path | None = None) -> tuple[Course, ...]:
    """The built-in courses, or those of a file.

    Raises
    ------
    NotFound
        when the file cannot be read.
    BadRule
        naming the course and the number that cannot be used.
    """
    file = path or _BUILT_IN
    try:
        plain = tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError as fault:
        raise NotFound(f"the courses {file} cannot be read: {fault.strerror}.") from fault
    except tomllib.TOMLDecodeError as fault:
        raise BadRule(f"{file.name} is not readable TOML: {fault}.") from fault
    found = tuple(_course(entry, number, file.name) for number, entry in enumerate(plain.get("course", []), start=1))
    if not found:
        raise BadRule(f"{file.name} holds no course.", remedy="Begin each with [[course]] and a name.")
    names = [course.name for course in found]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise BadRule(f"{file.name} holds two courses named {twice!r}.")
    return found


def _course(entry: dict[str, Any], number: int, file: str) -> Course:
    where = f"{file}: course {number}"
    name = str(entry.get("name", "")).strip()
    if not name:
        raise BadRule(f"{where} has no name.")
    unknown = set(entry) - {"name", *_SPANS}
    if unknown:
        raise BadRule(f"{where} ({name}) has {sorted(unknown)[0]!r}.", remedy=f"It may have {', '.join(_SPANS)}.")
    numbers = {
        key: float(entry.get(key, -1 if key == "cut_year" else 0))
        if _is_number(entry.get(key, 0))
        else _wrong(where, name, key, entry[key])
        for key in _SPANS
    }
    for key, value in numbers.items():
        low, high = _SPANS[key]
        if not low <= value <= high:
            raise BadRule(f"{where} ({name}): {key} is {value:g}.", remedy=f"Expected {low:g} to {high:g}.")
    if numbers["residual_ft2_ac"] and numbers["cut_year"] >= 0:
        raise BadRule(f"{where} ({name}) has both a seed cut and a cut_year.", remedy="Leave one of them out.")
    return Course(name, numbers)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float)


def _wrong(where: str, name: str, key: str, value: Any) -> float:
    raise BadRule(f"{where} ({name}): {key} is {value!r}.", remedy="A number, or true or false.")
