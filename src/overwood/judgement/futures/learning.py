"""Counts against the forecast, and what they teach: draws of the assumptions weighed by how well they gave the later counts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import CUT_KINDS, StandFile, Visit
from overwood.ground.species import by_code
from overwood.judgement.evidence import all_figures
from overwood.judgement.evidence.reproduction import HEIGHTS_FT, count_of, height_ft
from overwood.judgement.futures import pooling
from overwood.judgement.futures.start import SOURCES, Start, draw_parameters, start_of
from overwood.judgement.gates import years_since
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
LEARNED = (
    "growth_seedling_ft_yr",
    "growth_established_ft_yr",
    "growth_sprout_ft_yr",
    "seedling_survival8_lit",
    "established_survival_dark",
    "established_survival_lit",
    "crop_mean_ac",
    "browse_growth",
)
_DAYS_A_YEAR = 365.25
_HALVINGS = 40
# Middle, tenth and nine tenths.
_SHOWN = (1 / 2, 1 / 10, 9 / 10)
_LESS = 4 / 5


@dataclass(frozen=True)
class Seen:
    """A later count: oaks an acre by height with their standard errors, so many years after the first."""

    visit: str
    on: dt.date
    years: int
    oaks_ac: tuple[float, ...]
    se_ac: tuple[float, ...]


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
    """Oaks of waist height an acre in a coming year, before and after learning, and the chance that the release gate opens."""

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
    trusted: float
    other_stands: tuple[str, ...]
    pooled: tuple[pooling.Pooled, ...]
    advice: tuple[str, ...]


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
    """The counts of a stand as a case to learn from.

    Raises
    ------
    NotFound
        when the stand has fewer than two counts in different years.
    """
    visits = [visit for visit in file.visits_of("reproduction") if count_of(file, visit) is not None]
    years = {visit.visited_on.year for visit in visits}
    if len(years) < 2:
        raise NotFound(f"{file.stand.stand} has not been counted twice.", remedy="Count the same plots again a year or two on.")
    first = visits[0]
    then = file.as_of(first.visited_on)
    start = start_of(then, all_figures(then, rules, first.visited_on), rules)
    later = [visit for visit in visits if _years(first.visited_on, visit.visited_on) >= 1]
    seen = tuple(_seen(file, visit, first.visited_on, rules) for visit in later)
    horizon = max(row.years for row in seen)
    return Case(file, start, first.visited_on, history_of(file, start, first.visited_on, horizon), seen)


def _years(first: dt.date, later: dt.date) -> int:
    return round(years_since(first, later))


def _seen(file: StandFile, visit: Visit, first_on: dt.date, rules: Rules) -> Seen:
    count = count_of(file, visit)
    assert count is not None
    means, errors = [], []
    for least in HEIGHTS_FT:
        stems = [line for line in count.lines if by_code(line.species).is_oak and height_ft(line, rules) >= least]
        each = count.per_plot(stems) / count.plot_ac
        means.append(float(each.mean()))
        errors.append(float(each.std(ddof=1) / np.sqrt(len(each))) if len(each) > 1 else float("nan"))
    return Seen(visit.visit, visit.visited_on, _years(first_on, visit.visited_on), tuple(means), tuple(errors))


def history_of(file: StandFile, start: Start, first_on: dt.date, years: int) -> Array:
    """Canopy and work of each year since a count, as the simulation takes them."""
    ba, midstory = start.ba_ft2_ac, start.stand["midstory"]
    before_ba, before_midstory, opened = ba, midstory, 0
    rows = []
    for year in range(years):
        begin, end = (first_on + dt.timedelta(days=_DAYS_A_YEAR * (year + part)) for part in (0, 1))
        done = [row for row in file.done(*CUT_KINDS, "burn", "injection") if begin <= row.started_on < end]
        work = 0.0
        for row in done:
            if row.kind == "burn":
                work = 1.0
                continue
            before_ba, before_midstory, opened = ba, midstory, year
            if row.kind == "injection":
                midstory = 0.0
            else:
                ba, work = (row.ba_after_ft2_ac if row.ba_after_ft2_ac is not None else ba), 2.0
        rows.append((ba, midstory, year - opened, before_ba, before_midstory, work))
    return np.array(rows, dtype=np.float64).reshape(years, 6)


def simulated(start: Start, history: Array, parameters: Array, seed: int) -> Array:
    """Pools of many draws from a count, of shape (draws, years + 1, heights)."""
    rng, draws = np.random.default_rng(seed), len(parameters)
    drawn = rng.integers(0, start.plots, size=(draws, start.plots))
    luck, seeds = rng.random((draws, max(len(history), 1), len(science.LUCK))), rng.integers(0, 2**31 - 1, size=draws)
    records = science.rows(parameters, science.PARAMETERS)
    return np.asarray(science.many_pools(start.counted, drawn, start.oaks, history, records, start.row, luck, seeds))


def log_fit(pools: Array, seen: Sequence[Seen], rules: Rules) -> Array:
    """How well each draw gave the later counts: log likelihood with the sampling error and the model's own."""
    share, total = rules.number("learn_model_error_share"), np.zeros(len(pools))
    for row in seen:
        for at in range(len(HEIGHTS_FT)):
            gave, wanted = pools[:, row.years, at], row.oaks_ac[at]
            error = row.se_ac[at] if np.isfinite(row.se_ac[at]) else wanted
            spread = np.sqrt(error**2 + (share * np.maximum(gave, wanted)) ** 2 + 1.0)
            total += -((gave - wanted) ** 2) / (2 * spread**2) - np.log(spread)
    return total


def weights_of(fit: Array, fewest: float) -> tuple[Array, float]:
    """Weights of the draws, and how far the counts are trusted: less than wholly where too few draws would carry the answer."""
    trusted = 1.0
    for _ in range(_HALVINGS):
        weight = np.exp(trusted * (fit - fit.max()))
        weight /= weight.sum()
        if 1 / float((weight**2).sum()) >= min(fewest, len(fit)):
            break
        trusted *= _LESS
    return weight, trusted


def watch(file: StandFile, others: Sequence[StandFile], rules: Rules, *, draws: int, ahead: int, seed: int) -> Watched:
    """Score the forecast made at the first count, learn from the later ones, and look ahead from the last.

    Raises
    ------
    NotFound
        when the stand has not been counted twice.
    """
    case = case_of(file, rules)
    parameters = draw_parameters(rules, case.start, draws, np.random.default_rng(seed))
    pools = simulated(case.start, case.history, parameters, seed + 1)
    taught, used = [], []
    for number, other in enumerate(others):
        try:
            near = case_of(other, rules)
        except NotFound:
            continue
        used.append(other.stand.stand)
        near_fit = log_fit(simulated(near.start, near.history, parameters, seed + 10 + number), near.seen, rules)
        taught.append(weights_of(near_fit, rules.number("learn_fewest_effective"))[0])
    added, said = pooling.log_prior(LEARNED, parameters, taught, rules)
    weight, trusted = weights_of(log_fit(pools, case.seen, rules) + added, rules.number("learn_fewest_effective"))
    scored = tuple(_scored(pools, row, at) for row in case.seen for at in (1, 2))
    coming = _ahead(file, parameters, weight, rules, ahead, seed + 5)
    return Watched(
        stand=file.stand.stand,
        first=case.start.visit,
        scored=scored,
        learned=tuple(_learned(name, parameters, weight) for name in LEARNED if np.ptp(parameters[:, science.PARAMETERS.index(name)]) > 0),
        ahead=coming,
        effective_draws=1 / float((weight**2).sum()),
        trusted=trusted,
        other_stands=tuple(used),
        pooled=said,
        advice=_advice(scored, coming, all_figures(file, rules, case.seen[-1].on), rules),
    )


def _scored(pools: Array, row: Seen, at: int) -> Scored:
    """A count beside the band that nine in ten futures fall in, with the count's own error in it."""
    rng = np.random.default_rng(row.years)
    error = row.se_ac[at] if np.isfinite(row.se_ac[at]) else 0.0
    counted = pools[:, row.years, at] + rng.normal(0, error, len(pools))
    low, middle, high = np.percentile(counted, [5, 50, 95])
    seen = row.oaks_ac[at]
    verdict = "behind" if seen < low else "ahead" if seen > high else "on course"
    return Scored(row, HEIGHTS_FT[at], max(0.0, float(low)), float(middle), float(high), verdict)


def _learned(name: str, parameters: Array, weight: Array) -> Learned:
    values = parameters[:, science.PARAMETERS.index(name)]
    return Learned(SOURCES[name], weighted(values, np.full(len(values), 1 / len(values))), weighted(values, weight))


def weighted(values: Array, weight: Array) -> tuple[float, float, float]:
    """Middle, tenth and nine tenths of weighed values."""
    order = np.argsort(values)
    share = np.cumsum(weight[order]) - weight[order] / 2
    middle, low, high = np.interp(_SHOWN, share, values[order])
    return float(middle), float(low), float(high)


def _ahead(file: StandFile, parameters: Array, weight: Array, rules: Rules, years: int, seed: int) -> tuple[Ahead, ...]:
    """Oaks of waist height in the years after the last count if nothing more is done."""
    last = file.latest("reproduction")
    assert last is not None
    start = start_of(file, all_figures(file, rules, last.visited_on), rules)
    opened = file.done(*CUT_KINDS, "injection")
    since = years_since(opened[-1].started_on, last.visited_on) if opened else 0.0
    ba, midstory = start.ba_ft2_ac, start.stand["midstory"]
    # Before the cut the midstory stood, as the simulation of the courses takes it.
    ba_before, midstory_before = (start.stand["ba_before_ft2_ac"], 1.0) if start.stand["opened_yr"] >= 0 else (ba, midstory)
    history = np.array([(ba, midstory, since + year, ba_before, midstory_before, 0.0) for year in range(years)], dtype=np.float64)
    pools = simulated(start, history, parameters, seed)[:, 1:, 1]
    even, wanted = np.full(len(pools), 1 / len(pools)), rules.number("several_hundred_ac")
    return tuple(
        Ahead(
            year=last.visited_on.year + at + 1,
            before_ac=weighted(pools[:, at], even),
            after_ac=weighted(pools[:, at], weight),
            gate_before=float((pools[:, at] >= wanted).mean()),
            gate_after=float(weight[pools[:, at] >= wanted].sum()),
        )
        for at in range(years)
    )


def _advice(scored: Sequence[Scored], coming: Sequence[Ahead], figures: dict[str, Figure], rules: Rules) -> tuple[str, ...]:
    """What the last count asks for."""
    found, last = [], [row for row in scored if row.seen is scored[-1].seen]
    wanted, tall = rules.number("several_hundred_ac"), figures["tallest_oak_ft"]
    waist = next(row for row in last if row.height_ft == HEIGHTS_FT[1])
    sure = waist.seen.oaks_ac[1] - 1.0 * waist.seen.se_ac[1]
    if sure >= wanted:
        found.append(
            f"{waist.seen.oaks_ac[1]:.0f} oaks an acre stand waist high and {wanted:g} are wanted: the release gate is open; cut on firm or frozen ground"
        )
    if tall.measured and tall.number > rules.number("latest_release_height_ft"):
        found.append(f"the tallest oak is {tall.number:.0f} ft: felling over it breaks it; release now or keep two ages")
    if any(row.verdict == "behind" for row in last):
        found.append(
            "behind the forecast: look why (deer, shade, rivals), then burn again, weed around the best oaks, fence, plant, or accept a mixed stand"
        )
    elif all(row.verdict == "on course" for row in last):
        found.append("on course: count again next year on the same plots")
    opens = next((row.year for row in coming if row.gate_after >= 0.5), None)
    found.append(
        f"the gate is more likely open than not from {opens}"
        if opens
        else f"within {len(coming)} years the gate stays more likely shut than open: change the course"
    )
    return tuple(found)


def past_scored(file: StandFile, kept: Sequence[dict[str, Any]], rules: Rules) -> tuple[Past, ...]:
    """Kept forecasts of waist-high oaks beside the counts of the years they spoke of."""
    found = []
    for row in kept:
        ahead = {one["year"]: one["after_ac"] for one in row["result"]["ahead"]}
        for visit in file.visits_of("reproduction"):
            if visit.visited_on <= row["made_on"] or visit.visited_on.year not in ahead or count_of(file, visit) is None:
                continue
            middle, low, high = ahead[visit.visited_on.year]
            oaks = _seen(file, visit, row["made_on"], rules).oaks_ac[1]
            verdict = "fewer" if oaks < low else "more" if oaks > high else "within"
            found.append(Past(row["id"], row["made_on"], row["rules_version"], visit.visited_on, oaks, middle, low, high, verdict))
    return tuple(found)
