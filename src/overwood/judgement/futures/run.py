"""Futures of a stand: its own count as the start, parameters from their ranges, chance within each, and what comes of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.ground.species import by_code
from overwood.judgement.futures.courses import Course
from overwood.judgement.futures.start import SOURCES, Start, draw_parameters, gate_row, start_of
from overwood.judgement.futures.worth import Looking, gain
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
_YEARS = 40
# Futures run between two looks at the progress.
_BLOCK = 2_000


@dataclass(frozen=True)
class Money:
    """What standing timber is worth and work costs an acre."""

    value_usd_ac: float
    costs_usd_ac: dict[str, float]
    planted_each_usd: float
    growth_share_yr: float
    rate: float


@dataclass(frozen=True)
class Outcome:
    """What came of one course over all futures."""

    course: Course
    oak_stand_chance: float
    oak_stand_span: tuple[float, float]
    oak_part_chance: float
    adequate_chance: float
    released_chance: float
    years_to_release: tuple[float, float, float] | None
    dominant_oaks_ac: tuple[float, float, float]
    dominants_by_species_ac: dict[str, float]
    planted_per_success: float | None
    cost_per_success_usd: float | None
    crops_missed: float
    npv_usd_ac: tuple[float, float, float] | None
    not_known_share: float
    drivers: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Difference:
    """One course less another over the same futures: dominant oaks an acre, and in how many futures it does better."""

    better: str
    other: str
    mean_ac: float
    span_ac: tuple[float, float]
    better_share: float
    driver: str


@dataclass(frozen=True)
class Futures:
    """All courses of a stand."""

    stand: str
    visit: str
    futures: int
    parameter_sets: int
    seed: int
    rules_version: str
    age_yr: int
    outcomes: tuple[Outcome, ...]
    against_best: tuple[Difference, ...]
    looking: Looking
    notes: tuple[str, ...]


def run(
    file: StandFile,
    figures: dict[str, Figure],
    rules: Rules,
    courses: tuple[Course, ...],
    *,
    futures: int,
    sets: int,
    seed: int,
    progress: Callable[[int], bool] | None = None,
    money: Money | None = None,
) -> Futures:
    """Simulate every course over the same futures.

    ``futures`` is rounded up to a multiple of ``sets``, the draws of the parameters. ``progress`` is called with the
    futures done; it stops the run by returning False, and what was done is summed up.

    Raises
    ------
    NotFound
        when the stand has no count or no overwood.
    """
    start, rng = start_of(file, figures, rules), np.random.default_rng(seed)
    each = max(1, -(-futures // sets))
    parameters = np.repeat(draw_parameters(rules, start, sets, rng), each, axis=0)
    total = len(parameters)
    drawn = rng.integers(0, start.plots, size=(total, start.plots))
    luck = rng.random((total, _YEARS, len(science.LUCK)))
    seeds = rng.integers(0, 2**31 - 1, size=total)
    plans = science.rows(np.array([course.row for course in courses]), science.PLAN)
    records, gate = science.rows(parameters, science.PARAMETERS), gate_row(rules)
    # Whole sets of parameters last, so that a stopped run still holds every set.
    order = np.arange(total).reshape(sets, each).T.ravel()
    parts, done = [], 0
    for begin in range(0, total, _BLOCK):
        some = order[begin : begin + _BLOCK]
        parts.append(
            science.many_futures(start.counted, drawn[some], start.oaks, plans, records[some], start.row, gate, luck[some], seeds[some])
        )
        done += len(some)
        if progress is not None and not progress(done):
            break
    results = np.concatenate(parts, axis=1)
    some = order[:done]
    look = _looking(start, results, drawn[some], parameters[some], luck[some], seeds[some], rules)
    return _summed(file, start, rules, courses, results, parameters[some], some // each, (sets, seed), money, look)


def _looking(
    start: Start, results: Array, drawn: NDArray[np.int64], parameters: Array, luck: Array, seeds: NDArray[np.int64], rules: Rules
) -> Looking:
    """What a count a year on, more plots now, or knowing every parameter would add to the choice."""
    ba, midstory = start.ba_ft2_ac, start.stand["midstory"]
    untouched = np.array([(ba, midstory, 0.0, ba, midstory, 0.0)])
    pools = science.many_pools(
        start.counted, drawn, start.oaks, untouched, science.rows(parameters, science.PARAMETERS), start.row, luck[:, :1], seeds
    )
    outcomes, added = results[:, :, 1], int(rules.number("future_plots_added"))
    # Twenty more plots take away the part of the count's error that they hold of all plots.
    more = gain(outcomes, pools[:, 0, :]) * added / (start.plots + added)
    return Looking(
        gain(outcomes, np.column_stack((pools[:, 1, :], pools[:, 0, :]))),
        more,
        added,
        gain(outcomes, parameters[:, np.ptp(parameters, axis=0) > 0]),
    )


def _summed(
    file: StandFile,
    start: Start,
    rules: Rules,
    courses: tuple[Course, ...],
    results: Array,
    parameters: Array,
    which_set: NDArray[np.int64],
    of: tuple[int, int],
    money: Money | None,
    look: Looking,
) -> Futures:
    outcomes = tuple(_outcome(course, results[place], parameters, which_set, rules, start, money) for place, course in enumerate(courses))
    best = max(range(len(courses)), key=lambda place: float(results[place][:, 1].mean()))
    against = tuple(
        _difference(courses[best], courses[place], results[best][:, 1] - results[place][:, 1], parameters, which_set)
        for place in range(len(courses))
        if place != best
    )
    return Futures(
        stand=file.stand.stand,
        visit=start.visit,
        futures=results.shape[1],
        parameter_sets=of[0],
        seed=of[1],
        rules_version=rules.version,
        age_yr=int(rules.number("future_stand_age_yr")),
        outcomes=outcomes,
        against_best=against,
        looking=look,
        notes=start.notes,
    )


def _outcome(
    course: Course, found: Array, parameters: Array, which_set: NDArray[np.int64], rules: Rules, start: Start, money: Money | None
) -> Outcome:
    dominants, released = found[:, 1], found[:, 0] >= 0
    stand = dominants >= rules.number("future_oak_stand_ac")
    by_set = _means(stand.astype(float), which_set)
    years, per_success = found[released, 0], _per_success(course, found)
    return Outcome(
        course=course,
        oak_stand_chance=float(stand.mean()),
        oak_stand_span=_ends(by_set),
        oak_part_chance=float((dominants >= rules.number("future_oak_part_ac")).mean()),
        adequate_chance=float((released & (found[:, 2] >= rules.number("several_hundred_ac"))).mean()),
        released_chance=float(released.mean()),
        years_to_release=_three(years) if len(years) else None,
        dominant_oaks_ac=_three(dominants),
        dominants_by_species_ac={
            **{by_code(code).common_name: float(found[:, 9 + at].mean()) for at, code in enumerate(start.species)},
            "planted oaks": float(found[:, 8].mean()),
        },
        planted_per_success=per_success,
        cost_per_success_usd=None if per_success is None or money is None else per_success * money.planted_each_usd,
        crops_missed=float(found[:, 3].mean()),
        npv_usd_ac=None if money is None else _three(npv(course, found, start.ba_ft2_ac, money)),
        not_known_share=_between(dominants, which_set),
        drivers=_drivers(dominants, parameters, which_set),
    )


def _per_success(course: Course, found: Array) -> float | None:
    """Oaks planted for one that is dominant at 20; None where none is planted or none succeeds."""
    planted, won = float(found[:, 7].mean()) * course.numbers["planted_ac"], float(found[:, 8].mean())
    return planted / won if planted > 0 and won > 0 else None


def npv(course: Course, found: Array, ba_ft2_ac: float, money: Money) -> Array:
    """Present value an acre of each future: sales of what is cut, less work, at the real rate; trees that stand on count nothing."""
    released, injected, cut = found[:, 0], found[:, 4], found[:, 6]
    discount = 1 + money.rate
    grown = (1 + money.growth_share_yr) / discount
    total = np.where(injected >= 0, -money.costs_usd_ac["injection"] * discount ** -np.maximum(injected, 0.0), 0.0)
    total -= found[:, 5] * money.costs_usd_ac["burn"] * discount ** -np.where(cut >= 0, np.maximum(cut, 0.0), 1.0)
    sold = 1 - min(course.numbers["residual_ft2_ac"] / ba_ft2_ac, 1.0) if course.numbers["residual_ft2_ac"] else 0.0
    kept = min(course.numbers["kept_ft2_ac"] / ba_ft2_ac, 1.0)
    seed_cut = money.value_usd_ac * sold * grown ** np.maximum(cut, 0.0) - money.costs_usd_ac["marking"] * discount ** -np.maximum(cut, 0.0)
    total += np.where(cut >= 0, seed_cut, 0.0)
    total -= found[:, 7] * course.numbers["planted_ac"] * money.planted_each_usd * discount ** -np.maximum(cut, 0.0)
    first = np.where(cut >= 0, sold, 0.0)
    last = money.value_usd_ac * np.maximum(1 - first - kept, 0.0) * grown ** np.maximum(released, 0.0)
    return total + np.where(released >= 0, last, 0.0)


def _three(values: Array) -> tuple[float, float, float]:
    low, middle, high = np.percentile(values, [10, 50, 90])
    return float(low), float(middle), float(high)


def _ends(values: Array) -> tuple[float, float]:
    low, high = np.percentile(values, [10, 90])
    return float(low), float(high)


def _means(values: Array, which_set: NDArray[np.int64]) -> Array:
    """Mean of each set of parameters."""
    count = np.bincount(which_set)
    total = np.bincount(which_set, weights=values)
    return np.asarray(total[count > 0] / count[count > 0])


def _between(values: Array, which_set: NDArray[np.int64]) -> float:
    """Share of the spread that comes from not knowing the parameters; the rest is luck. Luck within the means is taken off."""
    whole = float(values.var())
    if whole == 0:
        return 0.0
    count = np.bincount(which_set)
    count = count[count > 0]
    within = np.array(
        [values[which_set == name].var(ddof=1) if size > 1 else 0.0 for name, size in zip(np.unique(which_set), count, strict=True)]
    )
    between = float(_means(values, which_set).var()) - float((within / count).mean())
    return min(max(between / whole, 0.0), 1.0)


def _drivers(values: Array, parameters: Array, which_set: NDArray[np.int64], most: int = 3) -> tuple[tuple[str, float], ...]:
    """Assumptions whose draws go most with the outcome: squared rank correlation over the sets of parameters."""
    from scipy import stats

    means = _means(values, which_set)
    names = np.unique(which_set)
    first = np.array([int(np.flatnonzero(which_set == name)[0]) for name in names])
    found = []
    for name, source in SOURCES.items():
        drawn = parameters[first, science.PARAMETERS.index(name)]
        if np.ptp(drawn) > 0 and np.ptp(means) > 0:
            found.append((source, float(stats.spearmanr(drawn, means).statistic) ** 2))
    return tuple(sorted(found, key=lambda pair: -pair[1])[:most])


def _difference(best: Course, other: Course, gain: Array, parameters: Array, which_set: NDArray[np.int64]) -> Difference:
    drivers = _drivers(gain, parameters, which_set, most=1)
    return Difference(
        better=best.name,
        other=other.name,
        mean_ac=float(gain.mean()),
        span_ac=_ends(gain),
        better_share=float((gain > 0).mean()),
        driver=drivers[0][0] if drivers else "",
    )
