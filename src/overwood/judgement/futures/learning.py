"""Counts against the forecast, and what they teach: draws of the assumptions weighed by how near they came to the later
counts.

Each draw is simulated with its own luck and, where other plots were counted later, with the error of such a count. The
draws nearest to what was counted carry the answer, moved along a line fitted among them to where they would lie had
they given the very counts (approximate Bayes with regression, ``beaumont2002``).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures
from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile, Visit
from overwood.ground.species import by_code
from overwood.ground.vocabulary import CUT_KINDS
from overwood.judgement.evidence import all_figures
from overwood.judgement.evidence.reproduction import HEIGHTS_FT, count_of, height_ft
from overwood.judgement.futures import pooling
from overwood.judgement.futures.draws import SOURCES, draw_parameters
from overwood.judgement.futures.start import Start, crops_seen, drawn_spaces, gate_row, same_spaces, start_of
from overwood.judgement.gates import years_since
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
LEARNED = (
    "growth_open_ft_yr",
    "light_full",
    "survival_stand_logit",
    "survival_dark",
    "survival_lit",
    "light_times",
    "crop_mean_ac",
    "browse_growth",
)
_DAYS_A_YEAR = 365.25
# Months in which a burn finds leaves out or coming.
_LEAF_OUT = range(4, 11)
# Middle, tenth and nine tenths.
_SHOWN = (1 / 2, 1 / 10, 9 / 10)


@dataclass(frozen=True)
class Seen:
    """A later count: oaks an acre by height with their standard errors, so many years after the first."""

    visit: str
    on: dt.date
    years: int
    oaks_ac: tuple[float, ...]
    se_ac: tuple[float, ...]
    same_plots: bool = False
    one_stem_ac: float = 0.0


@dataclass(frozen=True)
class Scored:
    """One later count beside the forecast made at the first."""

    seen: Seen
    height_ft: float
    low_ac: float
    middle_ac: float
    high_ac: float
    verdict: str


@dataclass(frozen=True)
class Learned:
    """One assumption before and after the counts: middle, tenth and nine tenths."""

    name: str
    before: tuple[float, float, float]
    after: tuple[float, float, float]


@dataclass(frozen=True)
class Ahead:
    """Oaks of waist height an acre in a coming year, before and after learning, and the chance that the release gate
    opens."""

    year: int
    before_ac: tuple[float, float, float]
    after_ac: tuple[float, float, float]
    gate_before: float
    gate_after: float


@dataclass(frozen=True)
class Watched:
    """What the counts of a stand say."""

    stand: str
    first: str
    scored: tuple[Scored, ...]
    learned: tuple[Learned, ...]
    ahead: tuple[Ahead, ...]
    effective_draws: float
    other_stands: tuple[str, ...]
    pooled: tuple[pooling.Pooled, ...]
    advice: tuple[str, ...]

    @property
    def seed_error(self) -> float:
        """Greatest standard error by the seed of any chance ahead, as a share, by the draws that carry the answer."""
        chances = [share for row in self.ahead for share in (row.gate_before, row.gate_after)]
        return max((share * (1 - share) / self.effective_draws) ** 0.5 for share in chances)


@dataclass(frozen=True)
class Past:
    """A kept forecast of waist-high oaks beside the count that came: eight in ten were to fall between low and high."""

    number: int
    made_on: dt.date
    rules_version: str
    counted_on: dt.date
    oaks_ac: float
    middle_ac: float
    low_ac: float
    high_ac: float
    verdict: str


@dataclass(frozen=True)
class Case:
    """One stand's first count, what was done since, and the later counts."""

    file: StandFile
    start: Start
    first_on: dt.date
    history: Array
    seen: tuple[Seen, ...]


def case_of(file: StandFile, rules: Rules) -> Case:
    """The counts of a stand as a case to learn from. Raises NotFound when the stand has fewer than two counts in
    different years."""
    visits = [visit for visit in file.visits_of("reproduction") if count_of(file, visit) is not None]
    years = {visit.visited_on.year for visit in visits}
    if len(years) < 2:
        raise NotFound(
            f"{file.stand.stand} has not been counted twice.", remedy="Count the same plots again a year or two on."
        )
    first = visits[0]
    then = file.as_of(first.visited_on)
    start = start_of(then, all_figures(then, rules, first.visited_on), rules)
    # The crops since are known, as the work is.
    start = replace(start, counted=start.counted._replace(crops=crops_seen(file, rules, first.visited_on)))
    later = [visit for visit in visits if _years(first.visited_on, visit.visited_on) >= 1]
    seen = tuple(_seen(file, visit, first, rules) for visit in later)
    horizon = max(row.years for row in seen)
    return Case(file, start, first.visited_on, history_of(file, first.visited_on, horizon), seen)


def _years(first: dt.date, later: dt.date) -> int:
    return round(years_since(first, later))


def _seen(file: StandFile, visit: Visit, first: Visit, rules: Rules) -> Seen:
    count, before = count_of(file, visit), count_of(file, first)
    assert count is not None
    means, errors = [], []
    for least in HEIGHTS_FT:
        stems = [line for line in count.lines if by_code(line.species).is_oak and height_ft(line, rules) >= least]
        each = count.per_plot(stems) / count.plot_ac
        means.append(float(each.mean()))
        errors.append(float(each.std(ddof=1) / np.sqrt(len(each))) if len(each) > 1 else float("nan"))
    same = before is not None and {point.point for point in before.points} == {point.point for point in count.points}
    years = _years(first.visited_on, visit.visited_on)
    return Seen(visit.visit, visit.visited_on, years, tuple(means), tuple(errors), same, 1 / (count.n * count.plot_ac))


def history_of(file: StandFile, first_on: dt.date, years: int) -> Array:
    """Work of each year since a count, as the simulation takes it."""
    rows = np.zeros((years, len(science.HISTORY)))
    rows[:, 0] = -1.0
    for year in range(years):
        begin, end = (first_on + dt.timedelta(days=_DAYS_A_YEAR * (year + part)) for part in (0, 1))
        for row in file.done(*CUT_KINDS, "burn", "injection"):
            if not begin <= row.started_on < end:
                continue
            if row.kind == "burn":
                rows[year, 2] = 2.0 if row.started_on.month in _LEAF_OUT else 1.0
            elif row.kind == "injection":
                rows[year, 1] = 1.0
            elif row.ba_after_ft2_ac is not None:
                rows[year, 0] = row.ba_after_ft2_ac
    return rows


def simulated(
    start: Start, history: Array, parameters: Array, rules: Rules, seed: int, *, same_plots: bool = False
) -> Array:
    """Pools of many draws from a count, of shape (draws, years + 1, what is seen); of the very plots, or of plots drawn
    from them."""
    rng, draws = np.random.default_rng(seed), len(parameters)
    drawn = (same_spaces if same_plots else drawn_spaces)(start, draws, rng)
    records, gate = science.rows(parameters, science.PARAMETERS), gate_row(rules, seen_share=start.plots / start.spaces)
    seeds = rng.integers(0, 2**31 - 1, size=draws)
    return np.asarray(science.many_pools(start.counted, drawn, start.oaks, history, records, start.row, gate, seeds))


@dataclass(frozen=True)
class Lesson:
    """What later counts say of the draws: how much each weighs, and how far what it gave lies from what was counted, on
    the scale of the fit."""

    weight: Array
    apart: Array

    @property
    def effective(self) -> float:
        """Draws that carry the answer."""
        return float(1 / (self.weight**2).sum())

    def chance(self, happens: NDArray[np.bool_]) -> float:
        """Chance of what happens in some of the draws, had each given the very counts."""
        return float(np.clip(self.weight @ self.moved(happens.astype(float)), 0.0, 1.0))

    def moved(self, values: Array, low: float = -np.inf, high: float = np.inf) -> Array:
        """Values of the draws moved to where they would lie had each given the very counts, within their range."""
        to, back = _stretch(low, high)
        scaled = to(values)
        used = self.weight > 0
        design = np.column_stack([np.ones(int(used.sum())), self.apart[used]])
        root = np.sqrt(self.weight[used])
        slopes = np.linalg.lstsq(design * root[:, None], scaled[used] * root, rcond=None)[0]
        return back(scaled - self.apart @ slopes[1:])


def _stretch(low: float, high: float) -> tuple[Any, Any]:
    """A range stretched over the whole line (a logit), and back; a line without ends stays as it is."""
    if not (np.isfinite(low) and np.isfinite(high)):
        return (lambda values: values), (lambda values: values)
    edge = 1e-4

    def to(values: Array) -> Array:
        share = np.clip((values - low) / (high - low), edge, 1 - edge)
        return np.asarray(np.log(share / (1 - share)))

    return to, lambda scaled: low + (high - low) / (1 + np.exp(-scaled))


def lesson_of(pools: Array, seen: Sequence[Seen], rules: Rules, seed: int, added: Array | None = None) -> Lesson:
    """What later counts teach: the draws that came near them, weighed by nearness and by what other stands say
    (``added``, logarithms).

    What a draw would have shown at a count has the sampling error of that count where other plots were counted, and the
    model's own.
    """
    rng, share = np.random.default_rng(seed), rules.number("learn_model_error_share")
    gave, wanted = [], []
    for row in seen:
        for at in range(len(HEIGHTS_FT)):
            truth = pools[:, row.years, at]
            error = (
                0.0 if row.same_plots else max(row.se_ac[at] if np.isfinite(row.se_ac[at]) else 0.0, row.one_stem_ac)
            )
            # The error of a count goes with the root of what stands there; a count of none has that of one stem.
            least = max(row.one_stem_ac, 1.0)
            scale = np.sqrt(np.maximum(truth, least) / max(row.oaks_ac[at], least))
            shown = truth * np.exp(share * rng.normal(size=len(truth)) - share**2 / 2) + error * scale * rng.normal(
                size=len(truth)
            )
            gave.append(np.sqrt(np.maximum(shown, 0.0)))
            wanted.append(np.sqrt(row.oaks_ac[at]))
    shown_all = np.column_stack(gave) - np.array(wanted)
    spread = shown_all.std(axis=0)
    # What hardly any draw shows must not outweigh the rest: a root's difference under that of a few stems is none.
    apart = shown_all[:, spread > 0] / np.maximum(spread[spread > 0], rules.number("learn_least_spread"))
    far = np.sqrt((apart**2).sum(axis=1))
    reach = np.quantile(
        far, max(rules.number("learn_near_share"), min(1.0, 3 * rules.number("learn_fewest_effective") / len(far)))
    )
    # A little beyond the reach, so that draws that lie alike weigh alike.
    weight = np.maximum(1 - (far / (1.05 * reach + 1e-9)) ** 2, 0.0)
    if added is not None:
        weight = weight * np.exp(added - added[weight > 0].max())
    return Lesson(weight / weight.sum(), apart)


def watch(file: StandFile, others: Sequence[StandFile], rules: Rules, *, draws: int, ahead: int, seed: int) -> Watched:
    """Score the forecast made at the first count, learn from the later ones, and look ahead from the last. Raises
    NotFound when the stand has not been counted twice."""
    case = case_of(file, rules)
    parameters = draw_parameters(rules, case.start.oak_share, draws, np.random.default_rng(seed))
    pools = _pools(case, parameters, rules, seed + 1)
    taught, used = [], []
    for number, other in enumerate(others):
        try:
            near = case_of(other, rules)
        except NotFound:
            continue
        used.append(other.stand.stand)
        lesson = lesson_of(_pools(near, parameters, rules, seed + 10 + number), near.seen, rules, seed + 10 + number)
        taught.append(pooling.Taught(lesson.weight, {name: moved(lesson, name, parameters, rules) for name in LEARNED}))
    added, said = pooling.log_prior(LEARNED, parameters, taught, rules)
    lesson = lesson_of(pools, case.seen, rules, seed + 2, added)
    scored = tuple(_scored(pools, row, at) for row in case.seen for at in (1, 2))
    coming = _ahead(file, parameters, lesson, rules, ahead, seed + 5)
    return Watched(
        stand=file.stand.stand,
        first=case.start.visit,
        scored=scored,
        learned=tuple(
            _learned(name, parameters, lesson, rules)
            for name in LEARNED
            if np.ptp(parameters[:, science.PARAMETERS.index(name)]) > 0
        ),
        ahead=coming,
        effective_draws=lesson.effective,
        other_stands=tuple(used),
        pooled=said,
        advice=_advice(scored, coming, all_figures(file, rules, case.seen[-1].on), rules),
    )


def _pools(case: Case, parameters: Array, rules: Rules, seed: int) -> Array:
    return simulated(
        case.start, case.history, parameters, rules, seed, same_plots=all(row.same_plots for row in case.seen)
    )


def _scored(pools: Array, row: Seen, at: int) -> Scored:
    """A count beside the band that nine in ten futures fall in, with the count's own error in it where other plots were
    counted."""
    rng = np.random.default_rng(row.years)
    error = row.se_ac[at] if np.isfinite(row.se_ac[at]) and not row.same_plots else 0.0
    counted = pools[:, row.years, at] + rng.normal(0, error, len(pools))
    low, middle, high = np.percentile(counted, [5, 50, 95])
    seen = row.oaks_ac[at]
    verdict = "behind" if seen < low else "ahead" if seen > high else "on course"
    return Scored(row, HEIGHTS_FT[at], max(0.0, float(low)), float(middle), float(high), verdict)


def moved(lesson: Lesson, name: str, parameters: Array, rules: Rules) -> Array:
    """Draws of a parameter after the counts, moved within their range."""
    values = parameters[:, science.PARAMETERS.index(name)]
    low, number, high = rules[SOURCES[name]].span
    scale = float(values.mean()) / number if number > 0 and name == "crop_mean_ac" else 1.0
    return lesson.moved(values, low * scale, high * scale)


def _learned(name: str, parameters: Array, lesson: Lesson, rules: Rules) -> Learned:
    values = parameters[:, science.PARAMETERS.index(name)]
    even = np.full(len(values), 1 / len(values))
    return Learned(
        SOURCES[name], weighted(values, even), weighted(moved(lesson, name, parameters, rules), lesson.weight)
    )


def weighted(values: Array, weight: Array) -> tuple[float, float, float]:
    """Middle, tenth and nine tenths of weighed values."""
    order = np.argsort(values)
    share = np.cumsum(weight[order]) - weight[order] / 2
    middle, low, high = np.interp(_SHOWN, share, values[order])
    return float(middle), float(low), float(high)


def _ahead(
    file: StandFile, parameters: Array, lesson: Lesson, rules: Rules, years: int, seed: int
) -> tuple[Ahead, ...]:
    """Oaks of waist height in the years after the last count if nothing more is done, and the gate asked of counts to
    come."""
    last = file.latest("reproduction")
    assert last is not None
    start = start_of(file, all_figures(file, rules, last.visited_on), rules)
    untouched = np.zeros((years, len(science.HISTORY)))
    untouched[:, 0] = -1.0
    pools = simulated(start, untouched, parameters, rules, seed)[:, 1:]
    oaks, opens, even = (
        pools[:, :, 1],
        pools[:, :, science.SEEN.index("gate")] == 1,
        np.full(len(pools), 1 / len(pools)),
    )
    return tuple(
        Ahead(
            year=last.visited_on.year + at + 1,
            before_ac=weighted(oaks[:, at], even),
            after_ac=weighted(np.maximum(lesson.moved(oaks[:, at]), 0.0), lesson.weight),
            gate_before=float(opens[:, at].mean()),
            gate_after=lesson.chance(opens[:, at]),
        )
        for at in range(years)
    )


def _advice(
    scored: Sequence[Scored], coming: Sequence[Ahead], figures: dict[str, Figure], rules: Rules
) -> tuple[str, ...]:
    """What the last count asks for."""
    lines, last = [], [row for row in scored if row.seen is scored[-1].seen]
    wanted, tall = rules.number("several_hundred_ac"), figures["tallest_oak_ft"]
    waist = next(row for row in last if row.height_ft == HEIGHTS_FT[1])
    sure = waist.seen.oaks_ac[1] - 1.0 * waist.seen.se_ac[1]
    if sure >= wanted:
        lines.append(
            f"{measures.amount(waist.seen.oaks_ac[1], 'oaks an acre')} stand waist high and {wanted:g} are "
            "wanted: the release gate is open; cut on firm or frozen ground"
        )
    if tall.measured and tall.number > rules.number("latest_release_height_ft"):
        lines.append(
            f"the tallest oak is {measures.amount(tall.number, 'ft')}: felling over it breaks it; release "
            "now or keep two ages"
        )
    if any(row.verdict == "behind" for row in last):
        lines.append(
            "behind the forecast: look why (deer, shade, rivals), then burn again, release the best "
            "oaks from their rivals, fence, plant, or accept a mixed stand"
        )
    elif all(row.verdict == "on course" for row in last):
        lines.append("on course: count again next year on the same plots")
    opens = next((row.year for row in coming if row.gate_after >= 0.5), None)
    lines.append(
        f"the gate is more likely open than not from {opens}"
        if opens
        else f"within {len(coming)} years the gate stays more likely shut than open: change the course"
    )
    return tuple(lines)


def past_scored(file: StandFile, kept: Sequence[dict[str, Any]], rules: Rules) -> tuple[Past, ...]:
    """Kept forecasts of waist-high oaks beside the counts of the years they spoke of."""
    past = []
    for row in kept:
        ahead = {one["year"]: one["after_ac"] for one in row["result"]["ahead"]}
        for visit in file.visits_of("reproduction"):
            if (
                visit.visited_on <= row["made_on"]
                or visit.visited_on.year not in ahead
                or count_of(file, visit) is None
            ):
                continue
            middle, low, high = ahead[visit.visited_on.year]
            oaks = _seen(file, visit, visit, rules).oaks_ac[1]
            verdict = "fewer" if oaks < low else "more" if oaks > high else "within"
            past.append(
                Past(
                    row["number"],
                    row["made_on"],
                    row["rules_version"],
                    visit.visited_on,
                    oaks,
                    middle,
                    low,
                    high,
                    verdict,
                )
            )
    return tuple(past)
