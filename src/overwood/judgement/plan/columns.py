"""What a stand can do in a plan: a course begun in a year, with what its futures say of oak, money, days, and the year
of every work."""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.course.steps import ONE_ENTRY
from overwood.judgement.futures.cash import LAST_MARKING, Money, sums_of, uncut_usd_ac, value_within
from overwood.judgement.futures.courses import Course, of_stand
from overwood.judgement.futures.draws import draw_parameters
from overwood.judgement.futures.setting import Setting
from overwood.judgement.futures.start import Start, drawn_spaces
from overwood.judgement.money.choices import square_fence_ft
from overwood.judgement.plan.kinds import Traits
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
Years = NDArray[np.int64]
INJECTION, BURN, PREPARATORY, SEED_CUT, REMOVAL, _, PLANTING, FENCE, CROP_TREES = OPERATIONS = (
    "injection", "burn", "preparatory cut", "seed cut", "removal cut", ONE_ENTRY, "planting", "fence",
    "crop-tree release",
)  # fmt: skip
LEAVE_ALONE = "leave alone"
# Which cost of the price list a work asks for; cuts but the first are sold as they stand.
COST_ENTRIES = {
    INJECTION: "injection", BURN: "burn", SEED_CUT: "marking", REMOVAL: "marking", ONE_ENTRY: "marking",
    PLANTING: "planting", FENCE: "fence", CROP_TREES: "weeding",
}  # fmt: skip
_RESULT = {name: at for at, name in enumerate(science.RESULTS)}
# Futures run for forty years; a course that begins later would not be seen to its end.
LATEST_START_YR = 15
# Years of a future in which a work can fall; beyond the plan they are counted as later.
_NEVER = -1


@dataclass(frozen=True, kw_only=True)
class Asked:
    """How many draws, from which seed, over how many years."""

    years: int
    draws: int
    seed: int


@dataclass(frozen=True)
class Workload:
    """What work takes on a stand: crew days of each kind of work, and whole burn days of one burn."""

    crew_days: dict[str, float]
    burn_days: float


@dataclass(frozen=True)
class Plot:
    """A stand ready to be planned: its start, area, workload, money, the age of its overwood, where it is known, and
    what tells it from other kinds of stand (None where each is its own)."""

    stand: str
    area_ac: float
    start: Start
    work: Workload
    money: Money | None
    age_yr: float | None = None
    traits: Traits | None = None


@dataclass(frozen=True)
class Column:
    """One course of one stand, begun in one year: means over the draws, and the year of the opening in each draw.

    ``chances`` are of shape (operations, years); days and sums of (years,), of the whole stand; ``opened`` and ``sold``
    (the last cut, and the first sale) of (draws,), with -1 where they never come within the plan. ``works`` is how many
    works are expected, whenever; ``age_yr`` the age of the overwood as the plan begins, less than any where it is not
    known.
    """

    stand: str
    course: str
    start_yr: int
    area_ac: float
    oak_chance: float
    oak_error: float
    value_usd: float
    chances: Array = field(repr=False)
    crew_days: Array = field(repr=False)
    burn_days: Array = field(repr=False)
    spent_usd: Array = field(repr=False)
    earned_usd: Array = field(repr=False)
    uncut: Array = field(repr=False)
    works: float
    opened: Years = field(repr=False)
    sold: Years = field(repr=False)
    as_course: Course | None = field(repr=False, default=None)
    age_yr: float = -math.inf

    @property
    def is_idle(self) -> bool:
        """Whether it is no work at all."""
        return self.course == LEAVE_ALONE

    @property
    def oak_ac(self) -> float:
        """Expected acres of oak stand."""
        return self.area_ac * self.oak_chance


@dataclass(frozen=True)
class Paths:
    """One course of one stand, begun in one year, draw by draw: is it an oak stand, and its loads, of shape (draws,
    years).

    ``first_usd`` is what each operation costs where it falls in the first year.
    """

    oak: NDArray[np.bool_]
    value_usd: Array
    fell: dict[str, Years]
    crew_days: Array
    burn_days: Array
    spent_usd: Array
    earned_usd: Array
    first_usd: dict[str, float]


def workload_of(area_ac: float, injection_days: float | None, rules: Rules) -> Workload:
    """Days of work on a stand; injection by its own order where that says them, the rest by the assumptions named
    ``plan_...``."""
    burn_days = float(math.ceil(area_ac / rules.number("plan_burn_ac_day")))
    marking = area_ac / rules.number("plan_marking_ac_day")
    days = {
        INJECTION: area_ac / rules.number("plan_injection_ac_day") if injection_days is None else injection_days,
        BURN: burn_days * rules.number("plan_burn_crew_days"),
        PREPARATORY: marking,
        SEED_CUT: marking,
        FENCE: square_fence_ft(area_ac) / rules.number("plan_fence_ft_day"),
        # By tree; turned to days where a course says how many.
        PLANTING: area_ac / rules.number("plan_planting_trees_day"),
        CROP_TREES: area_ac / rules.number("plan_crop_trees_ac_day"),
    }
    return Workload(days, burn_days)


def begun(courses: Sequence[Course], starts: Sequence[int]) -> tuple[Course, ...]:
    """Every course at every start; one with a cut in a fixed year, as it stands, and none that cuts nothing."""
    worked = [course for course in courses if not _is_idle(course)]
    moved = []
    for course in worked:
        fixed = course.numbers["cut_year"] > 0
        moved += [
            replace(course, numbers={**course.numbers, "start_yr": float(year)}) for year in ((0,) if fixed else starts)
        ]
    return tuple(moved)


def countable(course: Course) -> bool:
    """Whether the year of every burn is known: results tell that of the last one only."""
    return course.numbers["burns"] + (course.numbers["burn_after_yr"] > 0) <= 1


def _is_idle(course: Course) -> bool:
    numbers = course.numbers
    return numbers["cut_year"] < 0 and numbers["residual_ft2_ac"] == 0 and numbers["one_cut"] == 0


def simulated(plot: Plot, courses: tuple[Course, ...], rules: Rules, *, draws: int, seed: int) -> NDArray[np.float64]:
    """Results of every course (already begun) over the draws, of shape (courses, draws, numbers).

    The same seed gives every stand of a property the same crops, burn weather, growing seasons and assumptions, draw by
    draw; the rest of the luck, and the plots the count is drawn from, are the stand's own.
    """
    rng = np.random.default_rng(seed)
    parameters = draw_parameters(rules, plot.start.oak_share, draws, rng)
    seeds = rng.integers(0, 2**science.STAND_BIT - 1, size=draws)
    number = stand_number(plot.stand)
    spaces = drawn_spaces(plot.start, draws, np.random.default_rng([seed, number]))
    return Setting(plot.start, rules, courses).simulate(parameters, spaces, seeds + (number << science.STAND_BIT))


def stand_number(stand: str) -> int:
    """A number of a stand that hangs on its name alone, 1 to 2^30."""
    return 1 + (zlib.crc32(stand.encode()) >> 2)


def paths_of(plot: Plot, course: Course, came: Array, rules: Rules, years: int) -> Paths:
    """What one course of one stand comes to in every draw."""
    fell = fell_in(course, came, rules, is_opened=_is_opened(plot))
    days = dict(plot.work.crew_days)
    days[PLANTING] = days[PLANTING] * course.numbers["planted_ac"]
    crew = sum(
        (days.get(name, 0.0) * _in_years(when, years) for name, when in fell.items()), np.zeros((len(came), years))
    )
    spent, earned = _money_by_year(plot, course, came, years)
    value = np.zeros(len(came))
    if plot.money is not None:
        value = plot.area_ac * value_within(course, came, plot.money, years)
    oak = came[:, _RESULT["dominant_oaks_ac"]] >= rules.number("future_oak_stand_ac")
    return Paths(
        oak,
        value,
        fell,
        crew,
        plot.work.burn_days * _in_years(fell[BURN], years),
        spent,
        earned,
        _first_usd(plot, course, came),
    )


def _first_usd(plot: Plot, course: Course, came: Array) -> dict[str, float]:
    """What each operation costs on the whole stand where it falls in the first year; a sale costs its marking."""
    if plot.money is None:
        return {}
    listed = [(sums, sums.years == 0) for sums in sums_of(course, came, plot.money)]
    marked = {"marking": SEED_CUT, LAST_MARKING: _last_cut(course, is_opened=_is_opened(plot))}
    return {
        marked.get(sums.kind, sums.kind): -plot.area_ac * float(sums.usd_ac[now].mean())
        for sums, now in listed
        if now.any() and sums.usd_ac[now].max() < 0
    }


def _is_opened(plot: Plot) -> bool:
    """Whether it was cut before the plan."""
    return plot.start.stand["opened_yr"] >= 0


def _last_cut(course: Course, *, is_opened: bool) -> str:
    """What the cut that takes the overwood off is called: where it is the first, as the advice calls it."""
    is_first = course.numbers["residual_ft2_ac"] == 0 and course.numbers["one_cut"] == 0 and not is_opened
    return ONE_ENTRY if is_first else REMOVAL


def fell_in(course: Course, came: Array, rules: Rules, *, is_opened: bool) -> dict[str, Years]:
    """The year in which each operation falls in every draw, -1 for never; a seed cut of before the plan (the stand
    ``is_opened``) is none of it."""
    year = {name: came[:, _RESULT[name]].astype(np.int64) for name in science.RESULTS if name.endswith("_year")}
    numbers, never = course.numbers, np.full(len(came), _NEVER)
    released = year["release_year"]
    last = _last_cut(course, is_opened=is_opened)
    begin = np.full(len(came), int(numbers["start_yr"]))
    weeded_yr = int(rules.number("crop_tree_age_yr"))
    return {
        INJECTION: year["inject_year"],
        BURN: np.where(came[:, _RESULT["burns"]] > 0, year["burn_year"], _NEVER),
        PREPARATORY: year["prep_year"],
        SEED_CUT: np.maximum(year["cut_year"], _NEVER),
        REMOVAL: released if last == REMOVAL else never,
        ONE_ENTRY: released if last == ONE_ENTRY else never,
        PLANTING: year["plant_year"],
        FENCE: begin if numbers["fence"] else never,
        CROP_TREES: np.where(released >= 0, released + weeded_yr, _NEVER) if numbers["crop_trees"] else never,
    }


def _in_years(when: Years, years: int) -> Array:
    """One where a work falls, of shape (draws, years)."""
    return np.asarray(when[:, None] == np.arange(years), dtype=float)


def _money_by_year(plot: Plot, course: Course, came: Array, years: int) -> tuple[Array, Array]:
    """Spent on work and earned by sales, of the whole stand, of shape (draws, years); nothing without prices."""
    spent, earned = np.zeros((len(came), years)), np.zeros((len(came), years))
    if plot.money is None:
        return spent, earned
    for sums in sums_of(course, came, plot.money):
        usd = plot.area_ac * sums.usd_ac[:, None] * _in_years(sums.years.astype(np.int64), years)
        earned += np.maximum(usd, 0.0)
        spent -= np.minimum(usd, 0.0)
    return spent, earned


def column_of(plot: Plot, course: Course, paths: Paths, years: int) -> Column:
    """The means of some paths."""
    draws = len(paths.oak)
    chance = float(paths.oak.mean())
    opened = np.maximum(paths.fell[REMOVAL], paths.fell[ONE_ENTRY])
    sold = _first(paths.fell[PREPARATORY], paths.fell[SEED_CUT], opened)
    cut_before = _is_opened(plot)
    felled = _first(paths.fell[SEED_CUT], opened)
    uncut = np.array([0.0 if cut_before else float(((felled < 0) | (felled > year)).mean()) for year in range(years)])
    return Column(
        stand=plot.stand,
        course=course.name,
        # A course that cuts in a year of its own begins in it: until then it only waits.
        start_yr=int(max(course.numbers["start_yr"], course.numbers["cut_year"])),
        area_ac=plot.area_ac,
        oak_chance=chance,
        oak_error=(chance * (1 - chance) / draws) ** 0.5,
        value_usd=float(paths.value_usd.mean()),
        chances=np.array([_in_years(paths.fell[name], years).mean(axis=0) for name in OPERATIONS]),
        crew_days=paths.crew_days.mean(axis=0),
        burn_days=paths.burn_days.mean(axis=0),
        spent_usd=paths.spent_usd.mean(axis=0),
        earned_usd=paths.earned_usd.mean(axis=0),
        uncut=uncut,
        works=float(sum((when >= 0).mean() for when in paths.fell.values())),
        opened=np.where(opened < years, opened, _NEVER),
        sold=np.where(sold < years, sold, _NEVER),
        as_course=course,
        age_yr=_age_yr(plot),
    )


def _first(*when: Years) -> Years:
    """The earliest of some years, -1 where none comes."""
    late = np.iinfo(np.int64).max
    first = np.min([np.where(one >= 0, one, late) for one in when], axis=0)
    return np.asarray(np.where(first == late, _NEVER, first))


def alone(plot: Plot, draws: int, years: int) -> Column:
    """No work while the plan runs; no oak stand comes of it, and its trees are worth what they bring at its end."""
    none, never = np.zeros(years), np.full(draws, _NEVER)
    return Column(
        stand=plot.stand, course=LEAVE_ALONE, start_yr=0, area_ac=plot.area_ac, oak_chance=0.0, oak_error=0.0,
        value_usd=0.0 if plot.money is None else plot.area_ac * uncut_usd_ac(plot.money, years),
        chances=np.zeros((len(OPERATIONS), years)), crew_days=none, burn_days=none, spent_usd=none, earned_usd=none,
        uncut=np.full(years, float(plot.start.stand["opened_yr"] < 0)), works=0.0, opened=never, sold=never,
        age_yr=_age_yr(plot),
    )  # fmt: skip


def _age_yr(plot: Plot) -> float:
    return -math.inf if plot.age_yr is None else plot.age_yr


@dataclass(frozen=True)
class Futures:
    """Courses begun in their years, and what they come to in every draw, of shape (courses, draws, numbers)."""

    courses: tuple[Course, ...]
    came: Array


def futures_of(plot: Plot, courses: tuple[Course, ...], starts: Sequence[int], rules: Rules, ask: Asked) -> Futures:
    """The futures of a stand: each course that can be counted at each start."""
    here, _ = of_stand(courses, plot.start, rules.number("future_no_cut_above_times"))
    started = begun([course for course in here if countable(course)], starts)
    return Futures(started, simulated(plot, started, rules, draws=ask.draws, seed=ask.seed))


def columns_of(plot: Plot, futures: Futures, rules: Rules, ask: Asked) -> tuple[Column, ...]:
    """Everything a stand can do by some futures, its own or those of its kind, and nothing. Equal ones stand once, the
    first."""
    columns = [alone(plot, ask.draws, ask.years)]
    seen: set[bytes] = set()
    for course, results in zip(futures.courses, futures.came, strict=True):
        mark = _mark(course, results)
        if mark not in seen:
            seen.add(mark)
            columns.append(column_of(plot, course, paths_of(plot, course, results, rules, ask.years), ask.years))
    return tuple(columns)


def _mark(course: Course, results: Array) -> bytes:
    """What tells two columns of a stand apart: results, and what of the course costs money; a fence costs in the year
    it begins."""
    fenced = course.numbers["fence"] > 0
    numbers = [value for name, value in sorted(course.numbers.items()) if fenced or name != "start_yr"]
    return np.array(numbers).tobytes() + results.tobytes()
