"""Courses of treatment as data: read from a small file, checked, and turned into the numbers a simulation takes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.ground.errors import BadRule
from overwood.judgement.futures.start import Start
from overwood.judgement.reason import Reason
from overwood.judgement.rules import toml_file
from overwood.science import reproduction
from overwood.science.regeneration import PLAN

_BUILT_IN = Path(__file__).with_name("courses.toml")
# Least and greatest of each number of a course.
_SPANS: dict[str, tuple[float, float]] = {
    "cut_year": (-1, 60), "inject": (0, 1), "burns": (0, 6), "burn_after_yr": (0, 20), "crop_wait_yr": (0, 40),
    "residual_ft2_ac": (0, 150),
    "count_from_yr": (0, 40), "release_wait_yr": (0, 60), "release_anyway": (0, 1), "planted_ac": (0, 2000),
    "prep_ft2_ac": (0, 150),
    "kept_ft2_ac": (0, 80), "fence": (0, 1), "crop_trees": (0, 400), "one_cut": (0, 1), "start_yr": (0, 20),
}  # fmt: skip
# A seed cut as deep as the site asks for; what that is hangs on the stand.
_BY_SITE = "site"
# How the name of a course begins that injects; on a stand where it does not, it is called by the rest.
_INJECTS = "inject, "
_NAMES = ("last_cut_name", "prepared_name")


@dataclass(frozen=True)
class Course:
    """One course with its numbers by PLAN; ``by_site`` where the seed cut leaves what the site index asks for; and
    what it is called where only the last cut, or the seed cut and the last, is left of it. ``listed`` are the names by
    which the file of courses knows what it is on this stand."""

    name: str
    numbers: dict[str, float]
    by_site: bool = False
    last_cut_name: str = ""
    prepared_name: str = ""
    listed: tuple[str, ...] = field(default=(), compare=False, metadata={"inner": True})

    @property
    def row(self) -> NDArray[np.float64]:
        return np.array([self.numbers[name] for name in PLAN])


def load(path: Path | None = None) -> tuple[Course, ...]:
    """The built-in courses, or those of a file. Raises BadRule when the file cannot be read, or naming the course and
    the number that cannot be used."""
    file = path or tables.region_file("judgement/futures/courses.toml") or _BUILT_IN
    toml = toml_file.read(file, what="list of courses")
    toml.known_keys(toml.plain, ("course",))
    courses = tuple(_course(entry, number, file.name) for number, entry in enumerate(toml.tables("course"), start=1))
    if not courses:
        raise BadRule(f"{file.name} holds no course.", remedy="Begin each with [[course]] and a name.")
    names = [course.name for course in courses]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise BadRule(f"{file.name} holds two courses named {twice!r}.")
    return courses


def _course(entry: dict[str, Any], number: int, file: str) -> Course:
    where = f"{file}: course {number}"
    name = str(entry.get("name", "")).strip()
    if not name:
        raise BadRule(f"{where} has no name.")
    unknown = set(entry) - {"name", *_NAMES, *_SPANS}
    if unknown:
        may = ", ".join((*_NAMES, *_SPANS))
        raise BadRule(f"{where} ({name}) has {sorted(unknown)[0]!r}.", remedy=f"It may have {may}.")
    by_site = entry.get("residual_ft2_ac") == _BY_SITE
    # Until the stand is known, the depth of a cut by site is that of a middling one.
    entry = entry | ({"residual_ft2_ac": 60.0} if by_site else {})
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
    last_cut_name, prepared_name = (str(entry.get(key, "")).strip() for key in _NAMES)
    return Course(name, numbers, by_site, last_cut_name, prepared_name)


def of_stand(
    courses: tuple[Course, ...], start: Start, no_cut_times: float
) -> tuple[tuple[Course, ...], tuple[Reason, ...]]:
    """The courses as they are on a stand, with the steps already done left out, and what was dropped because it is
    another's equal.

    A canopy up to ``no_cut_times`` the residual of a course needs no seed cut any more.
    """
    by_row: dict[tuple[float, ...], Course] = {}
    notes = [Reason("midstory_gone")] if start.stand["midstory"] == 0 else []
    taken, first_is_made = (
        {course.name for course in courses},
        any(_is_cut(one, start, no_cut_times) for one in courses),
    )
    again: list[tuple[str, tuple[float, ...]]] = []
    listed: dict[tuple[float, ...], list[str]] = {}
    for course in courses:
        if course.numbers["one_cut"] and first_is_made:
            notes.append(Reason("first_cut_made", {"course": course.name}))
            continue
        here = _here(course, start, no_cut_times)
        short = course.name.removeprefix(_INJECTS)
        if not here.numbers["inject"] and short not in taken:
            here = _without_injection(here)
        row = tuple(here.row)
        listed.setdefault(row, []).append(course.name)
        if by_row.setdefault(row, here) is not here:
            again.append((course.name, row))
    named = dict(zip(by_row, _without_cuts_made(tuple(by_row.values()), start, no_cut_times), strict=True))
    notes += [Reason("same_course", {"course": name, "other": named[row].name}) for name, row in again]
    # Where a name of the file is another course's here, it is that one's.
    here_named = {course.name for course in named.values()}
    return tuple(
        replace(one, listed=tuple(name for name in listed[row] if name not in here_named)) for row, one in named.items()
    ), tuple(notes)


def _is_cut(course: Course, start: Start, no_cut_times: float) -> bool:
    """Whether a stand was opened, and as deep as a course's seed cut would open it."""
    residual_ft2_ac = _by_site(course, start)
    return start.stand["opened_yr"] >= 0 and 0 < start.ba_ft2_ac <= no_cut_times * residual_ft2_ac


def _without_injection(course: Course) -> Course:
    return replace(course, **{key: getattr(course, key).removeprefix(_INJECTS) for key in ("name", *_NAMES)})


def _without_cuts_made(courses: tuple[Course, ...], start: Start, no_cut_times: float) -> tuple[Course, ...]:
    """The courses, their names without the cuts that are made already."""
    named: dict[str, Course] = {}
    for course in courses:
        name = ""
        if _is_cut(course, start, no_cut_times):
            name = course.last_cut_name
        elif start.stand["opened_yr"] >= 0 and not course.numbers["prep_ft2_ac"]:
            name = course.prepared_name
        name = name or course.name
        named[course.name if name in named else name] = course
    return tuple(replace(course, name=name) for name, course in named.items())


def _here(course: Course, start: Start, no_cut_times: float) -> Course:
    """A course with its seed cut by site, and without what would change nothing."""
    numbers, stand = dict(course.numbers), start.stand
    numbers["residual_ft2_ac"] = _by_site(course, start)
    if stand["midstory"] == 0:
        numbers["inject"] = 0.0
    if stand["browse_share"] == 0:
        numbers["fence"] = 0.0
    if _is_cut(course, start, no_cut_times):
        # Whatever a seed cut would leave: it is made, and courses that differ in it alone are one.
        numbers |= {"burns": 0.0, "prep_ft2_ac": 0.0, "crop_wait_yr": 0.0, "residual_ft2_ac": round(start.ba_ft2_ac, 1)}
    if numbers["prep_ft2_ac"] >= start.ba_ft2_ac:
        numbers["prep_ft2_ac"] = 0.0
    return replace(course, numbers=numbers)


def _by_site(course: Course, start: Start) -> float:
    """What a course's seed cut leaves [ft2/ac]; a middling one on a stand that was opened from nobody knows how
    much."""
    before = start.stand["ba_before_ft2_ac"]
    unknown = start.stand["opened_yr"] >= 0 and round(before) <= round(start.ba_ft2_ac)
    if not course.by_site or unknown:
        return course.numbers["residual_ft2_ac"]
    whole = max(start.ba_ft2_ac, before)
    return round(whole * residual_share(start.stand["site_index_ft"]), 1)


def residual_share(site_index_ft: float) -> float:
    """Part of the basal area that the first cut leaves by oak site index: more on good sites, so that pioneers cannot
    start.

    0.60, 0.65 and 0.70 at site index 70, 80 and 90 (``loftis1990``); straight beyond, but within 0.5 and 0.75.
    """
    table = tables.constants(reproduction.TABLE)
    share = table["first_cut_share_at_70"] + table["first_cut_share_per_ft"] * (site_index_ft - 70)
    return min(max(share, table["first_cut_share_least"]), table["first_cut_share_most"])


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float)


def _wrong(where: str, name: str, key: str, value: Any) -> float:
    raise BadRule(f"{where} ({name}): {key} is {value!r}.", remedy="A number, or true or false.")
