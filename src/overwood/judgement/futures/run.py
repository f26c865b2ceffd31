"""Futures of a stand: its own count as the start, parameters from their ranges, luck within each, and what comes of
it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.ground.species import by_code
from overwood.judgement.futures import causes, proof
from overwood.judgement.futures.cash import Money, present_value
from overwood.judgement.futures.causes import Cause
from overwood.judgement.futures.courses import Course, of_stand
from overwood.judgement.futures.draws import SOURCES, draw_parameters, not_told
from overwood.judgement.futures.setting import Setting
from overwood.judgement.futures.start import Start, drawn_spaces, gate_row, start_of
from overwood.judgement.futures.worth import Looking, gain
from overwood.judgement.reason import Reason
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
# Futures run between two looks at the progress.
_BLOCK = 500
# Futures of one draw of the assumptions at the most; more draws tell more than more luck.
_OF_ONE_SET = 2
_RESULT = {name: at for at, name in enumerate(science.RESULTS)}
# What tells two courses apart: when the overwood goes, what stands then and after, and what was burned and planted.
_TELLING = [_RESULT[name] for name in ("release_year", "dominant_oaks_ac", "oaks_at_release_ac", "burns", "planted")]


@dataclass(frozen=True)
class Outcome:
    """What came of one course over all futures."""

    course: Course
    oak_stand_chance: float
    oak_stand_span: tuple[float, float]
    oak_stand_error: float
    oak_part_chance: float
    oak_part_error: float
    adequate_chance: float
    released_chance: float
    years_to_release: tuple[float, float, float] | None
    dominant_oaks_ac: tuple[float, float, float]
    dominants_by_species_ac: dict[str, float]
    planted_per_success: float | None
    cost_per_success_usd: float | None
    crops_missed: float
    years_waited: float
    leaders_share: dict[str, float]
    record: str
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
    """All courses of a stand; ``site_taken_ft`` is the site index that was assumed, where none was noted."""

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
    causes: tuple[Cause, ...]
    seed_error: float
    # Runs kept by older versions hold finished sentences.
    notes: tuple[Reason | str, ...]
    site_taken_ft: float | None = None

    @property
    def best(self) -> Outcome:
        """The course with most oak in the mean of its futures."""
        return self.by_oak[0]

    @property
    def by_oak(self) -> tuple[Outcome, ...]:
        """The courses, that with most oak in the mean of its futures first."""
        behind = {gap.other: gap.mean_ac for gap in self.against_best}
        return tuple(sorted(self.outcomes, key=lambda one: behind.get(one.course.name, 0.0)))

    @property
    def told(self) -> tuple[str, ...]:
        """The notes as they are read, in the units in force; what was kept holds no unit in words."""
        told = tuple(map(str, self.notes))
        if self.site_taken_ft is None:
            return told
        return (str(Reason("site_taken", {"site": measures.amount(self.site_taken_ft, "ft", "g")})), *told)


@dataclass(frozen=True)
class _Ran:
    """What was simulated: results (courses, futures, numbers), and of each future its parameters, their set, spaces and
    seed."""

    results: Array
    parameters: Array
    which_set: NDArray[np.int64]
    drawn: NDArray[np.int64]
    seeds: NDArray[np.int64]

    @staticmethod
    def joined(parts: list[_Ran]) -> _Ran:
        first = np.cumsum([0, *(int(part.which_set.max()) + 1 for part in parts)])
        return _Ran(
            np.concatenate([part.results for part in parts], axis=1),
            np.concatenate([part.parameters for part in parts]),
            np.concatenate([part.which_set + begin for part, begin in zip(parts, first, strict=False)]),
            np.concatenate([part.drawn for part in parts]),
            np.concatenate([part.seeds for part in parts]),
        )


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
    until: float | None = None,
) -> Futures:
    """Simulate every course over the same futures.

    At least ``futures`` are run over at least ``sets`` draws of the parameters, and with ``until`` so many rounds more
    that the seed moves no printed chance by more than that (one standard error). ``progress`` is called with the
    futures done; it stops the run by returning False, and what was done is summed up.

    Raises NotFound when the stand has no count or no overwood.
    """
    start = start_of(file, figures, rules)
    here, dropped = of_stand(courses, start, rules.number("future_no_cut_above_times"))
    setting, rng = Setting(start, rules, here), np.random.default_rng(seed)
    parts: list[_Ran] = []
    stopped, error = False, 1.0
    # It ends by itself: no share over n draws has a standard error above half the root of 1 / (n - 1).
    while not parts or not (stopped or until is None or error <= until):
        part, stopped = _round(setting, futures, sets, rng, progress, sum(len(one.seeds) for one in parts))
        parts.append(part)
        error = seed_error(_Ran.joined(parts), rules)
    setting, ran, same = _apart(setting, _Ran.joined(parts))
    return _summed(file, setting, ran, seed, money, (*dropped, *same))


def _apart(setting: Setting, ran: _Ran) -> tuple[Setting, _Ran, tuple[Reason, ...]]:
    """The courses that come to something of their own, and what the others come to."""
    kept: list[int] = []
    same = []
    for place, course in enumerate(setting.courses):
        alike = next(
            (one for one in kept if np.array_equal(ran.results[one][:, _TELLING], ran.results[place][:, _TELLING])),
            None,
        )
        if alike is None:
            kept.append(place)
        else:
            same.append(Reason("same_outcome", {"course": course.name, "other": setting.courses[alike].name}))
    courses = tuple(setting.courses[place] for place in kept)
    return replace(setting, courses=courses), replace(ran, results=ran.results[kept]), tuple(same)


def _round(
    setting: Setting,
    futures: int,
    sets: int,
    rng: np.random.Generator,
    progress: Callable[[int], bool] | None,
    before: int,
) -> tuple[_Ran, bool]:
    """One round of futures, and whether it was stopped; every block holds whole draws of the assumptions."""
    start = setting.start
    sets = min(max(sets, -(-futures // _OF_ONE_SET)), futures)
    each = max(1, -(-futures // sets))
    parameters = np.repeat(draw_parameters(setting.rules, start.oak_share, sets, rng), each, axis=0)
    total = len(parameters)
    drawn, seeds = drawn_spaces(start, total, rng), rng.integers(0, 2**31 - 1, size=total)
    parts, done = [], 0
    for begin in range(0, total, _BLOCK - _BLOCK % each or each):
        some = slice(begin, min(begin + (_BLOCK - _BLOCK % each or each), total))
        parts.append(setting.simulate(parameters[some], drawn[some], seeds[some]))
        done = some.stop
        if progress is not None and not progress(before + done):
            break
    which = np.arange(total) // each
    return _Ran(
        np.concatenate(parts, axis=1), parameters[:done], which[:done], drawn[:done], seeds[:done]
    ), done < total


def seed_error(ran: _Ran, rules: Rules) -> float:
    """Greatest standard error by the seed of any printed chance, as a share."""
    best = _best(ran)
    chances = [hits for came in ran.results for hits in _chances(came, rules)]
    chances += [ran.results[best][:, 1] > other[:, 1] for other in ran.results]
    return float(_chance_errors(chances, ran).max())


def _chances(came: Array, rules: Rules) -> tuple[NDArray[np.bool_], ...]:
    """In which futures a course makes an oak stand, keeps oak a part, is released, and is released over oak enough."""
    released = came[:, 0] >= 0
    stand, part = (came[:, 1] >= rules.number(name) for name in ("future_oak_stand_ac", "future_oak_part_ac"))
    return stand, part, released, released & (came[:, 2] >= rules.number("several_hundred_ac"))


def _best(ran: _Ran) -> int:
    """Place of the course with the most dominant oaks on average."""
    return int(ran.results[:, :, 1].mean(axis=1).argmax())


def _chance_errors(chances: Sequence[NDArray[np.bool_]], ran: _Ran) -> Array:
    """Standard errors of chances by the seed, the draws of the assumptions being what is sampled evenly; that of half a
    future more where all came to the same, for never seen is not never."""
    means = np.column_stack([_means(hits.astype(float), ran.which_set) for hits in chances])
    if len(means) < 2:
        return np.ones(len(chances))
    half = 0.5 / (len(ran.which_set) + 1)
    spread = not_told(means, _of_sets(ran.parameters, ran.which_set)).std(axis=0, ddof=1)
    moved = np.ptp(means, axis=0) > 0
    return np.asarray(np.where(moved, spread, (half * (1 - half)) ** 0.5) / len(means) ** 0.5)


def _of_sets(parameters: Array, which_set: NDArray[np.int64]) -> Array:
    """The parameters of each set, of shape (sets, parameters)."""
    return parameters[np.unique(which_set, return_index=True)[1]]


def _looking(setting: Setting, ran: _Ran) -> Looking:
    """What a count a year on, more plots now, or knowing every parameter would change in the choice."""
    start, rules = setting.start, setting.rules
    untouched = np.zeros((1, len(science.HISTORY)))
    untouched[:, 0] = -1.0
    pools = science.many_pools(
        start.counted, ran.drawn, start.oaks, untouched, science.rows(ran.parameters, science.PARAMETERS), start.row,
        gate_row(rules), ran.seeds,
    )  # fmt: skip
    outcomes, added = ran.results[:, :, 1], int(rules.number("future_plots_added"))
    rng, truth = np.random.default_rng(1), pools[:, :, :3]
    # The spread of the drawn pools is the error of the count of so many plots; more plots are seen with their own.
    error = truth[:, 0].std(axis=0) * (start.plots / added) ** 0.5
    more = truth[:, 0] + rng.normal(0, 1, truth[:, 0].shape) * error
    again = truth[:, 1] + rng.normal(0, 1, truth[:, 1].shape) * truth[:, 0].std(axis=0)
    known = gain(outcomes, ran.parameters[:, np.ptp(ran.parameters, axis=0) > 0])
    return Looking.of(gain(outcomes, again), gain(outcomes, more), added, known)


def _summed(
    file: StandFile, setting: Setting, ran: _Ran, seed: int, money: Money | None, dropped: tuple[Reason, ...]
) -> Futures:
    courses, rules, start = setting.courses, setting.rules, setting.start
    best = _best(ran)
    likely = _drivers(ran.results[best][:, 1], ran.parameters, ran.which_set, causes.ALONE)
    drives = causes.of_course(setting, best, seed, ran.results.shape[1], [entry for entry, _ in likely])
    outcomes = tuple(
        _outcome(setting, place, ran, money, drives if place == best else ()) for place in range(len(courses))
    )
    against = tuple(
        _difference(
            courses[best],
            courses[place],
            ran.results[best][:, 1] - ran.results[place][:, 1],
            ran.parameters,
            ran.which_set,
            rules,
        )
        for place in range(len(courses))
        if place != best
    )
    return Futures(
        stand=file.stand.stand,
        visit=start.visit,
        futures=ran.results.shape[1],
        parameter_sets=len(np.unique(ran.which_set)),
        seed=seed,
        rules_version=rules.version,
        age_yr=int(rules.number("future_stand_age_yr")),
        outcomes=outcomes,
        against_best=against,
        looking=_looking(setting, ran),
        causes=drives,
        seed_error=seed_error(ran, rules),
        notes=(*start.notes, *dropped),
        site_taken_ft=start.site_taken_ft,
    )


def _outcome(setting: Setting, place: int, ran: _Ran, money: Money | None, drives: tuple[Cause, ...]) -> Outcome:
    course, rules, start, came = setting.courses[place], setting.rules, setting.start, ran.results[place]
    dominants, (stand, part, released, adequate) = came[:, 1], _chances(came, rules)
    years, per_success = came[released, 0], _per_success(course, came)
    stand_error, part_error = _chance_errors((stand, part), ran).tolist()
    return Outcome(
        course=course,
        oak_stand_chance=float(stand.mean()),
        oak_stand_span=span_of_chance(stand, ran.which_set),
        oak_stand_error=stand_error,
        oak_part_chance=float(part.mean()),
        oak_part_error=part_error,
        adequate_chance=float(adequate.mean()),
        released_chance=float(released.mean()),
        years_to_release=_three(years) if len(years) else None,
        dominant_oaks_ac=_three(dominants),
        dominants_by_species_ac={
            **{
                by_code(code).common_name: float(came[:, len(_RESULT) + at].mean())
                for at, code in enumerate(start.species)
            },
            "planted oaks": float(came[:, _RESULT["dominant_planted_ac"]].mean()),
        },
        planted_per_success=per_success,
        cost_per_success_usd=None if per_success is None or money is None else per_success * money.planted_each_usd,
        crops_missed=float(came[:, _RESULT["crops_missed"]].mean()),
        years_waited=float(came[:, _RESULT["years_waited"]].mean()),
        leaders_share=_leaders(came, start),
        record=proof.record_of(course.numbers),
        npv_usd_ac=None if money is None else _three(present_value(course, came, money)),
        not_known_share=_between(dominants, ran.which_set),
        drivers=tuple((cause.entry, cause.total) for cause in drives[:3]),
    )


def _leaders(came: Array, start: Start) -> dict[str, float]:
    """Who leads on the growing spaces at the age asked for, in shares: oak, tolerant rivals, pioneers, and none of
    these."""
    spaces = 1 / start.stand["space_ac"]
    oak = min(float(came[:, 1].mean()) / spaces, 1.0)
    tolerant, pioneer = (
        float(came[:, _RESULT[name]].mean()) / spaces for name in ("tolerant_wins_ac", "pioneer_wins_ac")
    )
    return {"oak": oak, "tolerant": tolerant, "pioneer": pioneer, "none": max(1 - oak - tolerant - pioneer, 0.0)}


def span_of_chance(hits: NDArray[np.bool_], which_set: NDArray[np.int64]) -> tuple[float, float]:
    """Tenth and nine tenths of the chance by what is assumed, with the luck of a few futures taken out of each draw's
    chance.

    The chances of the draws are drawn toward their mean until they vary as much as the assumptions make them.
    """
    means = _means(hits.astype(float), which_set)
    whole = float(means.var())
    if whole == 0:
        return float(means[0]), float(means[0])
    kept = max(whole - _within(hits.astype(float), which_set), 0.0) / whole
    low, high = np.percentile(means.mean() + kept**0.5 * (means - means.mean()), [10, 90])
    return max(float(low), 0.0), min(float(high), 1.0)


def _per_success(course: Course, results: Array) -> float | None:
    """Oaks planted for one that is dominant at 20; None where none is planted or none succeeds."""
    planted, won = (
        float(results[:, _RESULT["planted"]].mean()) * course.numbers["planted_ac"],
        float(results[:, _RESULT["dominant_planted_ac"]].mean()),
    )
    return planted / won if planted > 0 and won > 0 else None


def _three(values: Array) -> tuple[float, float, float]:
    low, middle, high = np.percentile(values, [10, 50, 90])
    return float(low), float(middle), float(high)


def _means(values: Array, which_set: NDArray[np.int64]) -> Array:
    """Mean of each set of parameters."""
    count = np.bincount(which_set)
    total = np.bincount(which_set, weights=values)
    return np.asarray(total[count > 0] / count[count > 0])


def _within(values: Array, which_set: NDArray[np.int64]) -> float:
    """Variance of a draw's mean that is luck within it."""
    count = np.bincount(which_set)
    count = count[count > 0]
    squares = _means(values**2, which_set) - _means(values, which_set) ** 2
    return float((squares / np.maximum(count - 1, 1)).mean())


def _between(values: Array, which_set: NDArray[np.int64]) -> float:
    """Share of the spread that comes from not knowing the parameters; the rest is luck. Luck within the means is taken
    off."""
    whole = float(values.var())
    if whole == 0:
        return 0.0
    between = float(_means(values, which_set).var()) - _within(values, which_set)
    return min(max(between / whole, 0.0), 1.0)


def _drivers(
    values: Array, parameters: Array, which_set: NDArray[np.int64], most: int = 3
) -> tuple[tuple[str, float], ...]:
    """Assumptions whose draws go most with the outcome: squared rank correlation over the sets of parameters."""
    means = _means(values, which_set)
    drawn = _of_sets(parameters, which_set)[:, [science.PARAMETERS.index(name) for name in SOURCES]]
    varies = np.ptp(drawn, axis=0) > 0
    if np.ptp(means) == 0 or not varies.any():
        return ()
    shares = _correlations(np.column_stack([_ranks(column) for column in drawn.T[varies]]), _ranks(means)) ** 2
    sources = [source for source, moved in zip(SOURCES.values(), varies, strict=True) if moved]
    return tuple(sorted(zip(sources, map(float, shares), strict=True), key=lambda pair: -pair[1])[:most])


def _ranks(values: Array) -> Array:
    """Ranks from 1; the like share the mean of theirs."""
    _, place, count = np.unique(values, return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(count) - (count - 1) / 2)[place])


def _correlations(columns: Array, values: Array) -> Array:
    """Of each column with the values."""
    from_mean, off = columns - columns.mean(axis=0), values - values.mean()
    return np.asarray(off @ from_mean / np.sqrt((off**2).sum() * (from_mean**2).sum(axis=0)))


def _difference(
    best: Course, other: Course, gain: Array, parameters: Array, which_set: NDArray[np.int64], rules: Rules
) -> Difference:
    drivers = _drivers(gain, parameters, which_set, most=1)
    return Difference(
        better=best.name,
        other=other.name,
        mean_ac=float(gain.mean()),
        span_ac=(float(np.percentile(gain, 10)), float(np.percentile(gain, 90))),
        better_share=float((gain > 0).mean()),
        driver=causes.words(drivers[0][0], rules) if drivers else "",
    )
