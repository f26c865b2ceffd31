"""Futures of a stand: its own count as the start, parameters from their ranges, chance within each, and what comes of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import CUT_KINDS, Seedling, StandFile
from overwood.ground.species import by_code
from overwood.judgement.evidence.reproduction import Count, count_of, height_ft
from overwood.judgement.futures.courses import Course
from overwood.judgement.futures.worth import Looking, gain
from overwood.judgement.gates import years_since
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
_YEARS = 40
# Futures run between two looks at the progress.
_BLOCK = 2_000
_PIONEERS = (621, 372, 371, 741, 742, 743, 746)
# Which entry of the assumptions each parameter is drawn from.
SOURCES = {
    "seedling_survival8_dark": "future_seedling_survival8_dark",
    "seedling_survival8_lit": "future_seedling_survival8_lit",
    "established_survival_dark": "future_established_survival_dark",
    "established_survival_lit": "future_established_survival_lit",
    "growth_seedling_ft_yr": "future_growth_seedling_ft_yr",
    "growth_established_ft_yr": "growth_established_ft_yr",
    "growth_sprout_ft_yr": "future_growth_sprout_ft_yr",
    "growth_tolerant_ft_yr": "future_growth_tolerant_ft_yr",
    "growth_poplar_ft_yr": "future_growth_poplar_ft_yr",
    "crop_mean_ac": "future_crop_ac",
    "good_crop_chance": "good_crop_chance",
    "crop_good_times": "future_crop_good_times",
    "crop_poor_times": "future_crop_poor_times",
    "insect_share": "insect_loss_share",
    "buried_share": "buried_share",
    "light_lasts_yr": "injection_light_lasts_yr",
    "midstory_multiplier": "light_midstory_multiplier",
    "logging_loss_share": "logging_loss_share",
    "browse_growth": "future_browse_growth",
    "dominance_b0": "dominance_b0",
    "dominance_ln_diameter": "dominance_ln_diameter",
    "dominance_site_10ft": "dominance_site_10ft",
    "dominance_overtopped": "dominance_overtopped",
    "sprout_to_dominance": "future_sprout_to_dominance",
    "sprout_shade": "sprout_shade_multiplier",
    "burn_oak_small": "future_burn_oak_small",
    "burn_oak_large": "future_burn_oak_large",
    "burn_rivals": "future_burn_rivals",
    "burn_chance": "future_burn_chance",
}


@dataclass(frozen=True)
class Start:
    """The stand as the simulation takes it."""

    visit: str
    oak: Array
    tolerant: Array
    poplar: Array
    stand: Array
    oak_share: float
    browsed: bool
    notes: tuple[str, ...]


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
    outcomes: tuple[Outcome, ...]
    against_best: tuple[Difference, ...]
    looking: Looking
    notes: tuple[str, ...]


def start_of(file: StandFile, figures: dict[str, Figure], rules: Rules) -> Start:
    """The stand's own count, canopy and sprouts as the start.

    Raises
    ------
    NotFound
        when the stand has no reproduction count or no cruise.
    """
    visit = file.latest("reproduction")
    count = count_of(file, visit) if visit else None
    if count is None or visit is None:
        raise NotFound(f"{file.stand.stand} has no reproduction count.", remedy="Count 30 or more plots of 1/735 acre first.")
    ba = figures["overwood_ba_ft2_ac"]
    if not ba.measured or ba.number <= 0:
        raise NotFound(
            f"{file.stand.stand} has no overwood by its last cruise.",
            remedy="Cruise it first; a stand without overwood is past these courses.",
        )
    oak, tolerant, poplar = _plots(count, rules)
    site, stems = figures["site_index_ft"], figures["midstory_stems_ac"]
    sprouts, browse, share = figures["oak_sprouts_ac"], figures["browse_share"], figures["oak_share"]
    notes = []
    if not site.measured:
        notes.append(f"no site index is noted: {_FLAT_SITE_FT} ft is taken")
    browsed = browse.measured and browse.number > rules.number("browse_share")
    if browsed:
        notes.append(f"browse is {browse.number:.0%}: growth under 4.5 ft is slowed (future_browse_growth)")
    if file.done(*CUT_KINDS):
        notes.append("this stand was opened before: its light has been fading since, and a seed cut as deep as a course's counts as done")
    midstory = stems.measured and stems.number > rules.number("midstory_stems_ac")
    stand = np.array(
        [
            count.plot_ac,
            ba.number,
            float(midstory),
            sprouts.number if sprouts.measured else 0.0,
            site.number if site.measured else _FLAT_SITE_FT,
            *_opened(file, ba.number, visit.visited_on),
        ]
    )
    return Start(visit.visit, oak, tolerant, poplar, stand, share.number if share.measured else 1.0, browsed, tuple(notes))


_FLAT_SITE_FT = 70


def _opened(file: StandFile, ba_ft2_ac: float, on: dt.date) -> tuple[float, float]:
    """Years since the canopy was last cut, -1 for never, and its basal area before."""
    cuts = [row for row in file.done(*CUT_KINDS) if row.started_on <= on]
    if not cuts:
        return -1.0, ba_ft2_ac
    before = cuts[-1].ba_before_ft2_ac
    return years_since(cuts[-1].started_on, on), max(ba_ft2_ac, before or ba_ft2_ac)


def _plots(count: Count, rules: Rules) -> tuple[Array, Array, Array]:
    """Tallest oaks of each plot, and the tallest tolerant and pioneer rival; counted stems are taken one by one."""
    place = {point.point: index for index, point in enumerate(count.points)}
    oaks: list[list[float]] = [[] for _ in count.points]
    rivals = np.zeros((2, count.n))
    for line in count.lines:
        if line.stems <= 0:
            continue
        height, at = height_ft(line, rules), place[line.point]
        if by_code(line.species).is_oak:
            oaks[at].extend([height] * min(line.stems, science.SLOTS))
        else:
            kind = int(line.species in _PIONEERS or _is_pioneer(line))
            rivals[kind, at] = max(rivals[kind, at], height)
    found = np.zeros((count.n, science.SLOTS))
    for at, heights in enumerate(oaks):
        tallest = sorted(heights, reverse=True)[: science.SLOTS]
        found[at, : len(tallest)] = tallest
    return found, rivals[0], rivals[1]


def _is_pioneer(line: Seedling) -> bool:
    return "birch" in by_code(line.species).common_name


def draw_parameters(rules: Rules, start: Start, sets: int, rng: np.random.Generator) -> Array:
    """So many draws of every parameter from its range, most often near its value; of shape (sets, parameters)."""
    found = np.empty((sets, len(science.PARAMETERS)))
    for place, name in enumerate(science.PARAMETERS):
        low, likely, high = rules[SOURCES[name]].span
        found[:, place] = rng.triangular(low, min(max(likely, low), high), high, sets) if low < high else likely
    at = science.PARAMETERS.index
    found[:, at("crop_mean_ac")] *= start.oak_share
    if not start.browsed:
        found[:, at("browse_growth")] = 1.0
    return found


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
    drawn = rng.integers(0, len(start.oak), size=(total, len(start.oak)))
    crop_u, burn_u = rng.random((total, _YEARS)), rng.random((total, _YEARS))
    seeds = rng.integers(0, 2**31 - 1, size=total)
    gate = np.array(
        [rules.number(name) for name in ("several_hundred_ac", "waist_high_ft", "latest_release_height_ft", "future_sampled_share")]
    )
    plans = np.array([course.row for course in courses])
    # Whole sets of parameters last, so that a stopped run still holds every set.
    order = np.arange(total).reshape(sets, each).T.ravel()
    parts, done = [], 0
    for begin in range(0, total, _BLOCK):
        some = order[begin : begin + _BLOCK]
        parts.append(
            science.many_futures(
                start.oak,
                start.tolerant,
                start.poplar,
                drawn[some],
                plans,
                parameters[some],
                start.stand,
                gate,
                crop_u[some],
                burn_u[some],
                seeds[some],
            )
        )
        done += len(some)
        if progress is not None and not progress(done):
            break
    results = np.concatenate(parts, axis=1)
    which_set = order[:done] // each
    some = order[:done]
    look = _looking(start, results, drawn[some], parameters[some], crop_u[some], seeds[some], rules)
    return _summed(file, start, rules, courses, results, parameters[order[:done]], which_set, (sets, seed), money, look)


def _looking(
    start: Start, results: Array, drawn: NDArray[np.int64], parameters: Array, crop_u: Array, seeds: NDArray[np.int64], rules: Rules
) -> Looking:
    """What a count a year on, more plots now, or knowing every parameter would add to the choice."""
    ba, midstory, plot_ac = float(start.stand[1]), float(start.stand[2]), float(start.stand[0])
    untouched = np.array([(ba, midstory, 0.0, ba, midstory, 0.0)])
    pools = science.many_pools(start.oak, start.tolerant, start.poplar, drawn, untouched, parameters, plot_ac, ba, crop_u[:, :1], seeds)
    outcomes, plots = results[:, :, 1], len(start.oak)
    added = int(rules.number("future_plots_added"))
    # Twenty more plots take away the part of the count's error that they hold of all plots.
    more = gain(outcomes, pools[:, 0, :]) * added / (plots + added)
    return Looking(
        gain(outcomes, np.column_stack((pools[:, 1, :], pools[:, 0, :]))),
        more,
        added,
        gain(outcomes, parameters[:, parameters.std(axis=0) > 0]),
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
    years = found[released, 0]
    return Outcome(
        course=course,
        oak_stand_chance=float(stand.mean()),
        oak_stand_span=_ends(by_set),
        oak_part_chance=float((dominants >= rules.number("future_oak_part_ac")).mean()),
        adequate_chance=float((released & (found[:, 2] >= rules.number("several_hundred_ac"))).mean()),
        released_chance=float(released.mean()),
        years_to_release=_three(years) if len(years) else None,
        dominant_oaks_ac=_three(dominants),
        crops_missed=float(found[:, 3].mean()),
        npv_usd_ac=None if money is None else _three(npv(course, found, float(start.stand[1]), money)),
        not_known_share=_between(dominants, which_set),
        drivers=_drivers(dominants, parameters, which_set),
    )


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
    for place, name in enumerate(science.PARAMETERS):
        drawn = parameters[first, place]
        if drawn.std() > 0 and means.std() > 0:
            found.append((SOURCES[name], float(stats.spearmanr(drawn, means).statistic) ** 2))
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
