"""The standings of many cases at once: one stand in many draws, or many stands; and the step of each.

What the gates, the maturity and the margin of a count say of one case is said here of columns, from numbers alone. A
column has a place for each case, or is one number for all. Tests hold both ways equal, gate by gate.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground.copies import with_fields
from overwood.judgement import gates as g
from overwood.judgement.course.branch import Standing, branch_of
from overwood.judgement.course.stage import STAGES
from overwood.judgement.gates import maturity as m
from overwood.judgement.rules import Rules
from overwood.science import intervals, verdicts
from overwood.science import reproduction as science

# A number for each case, or one for all of them.
Column = Any
Codes = NDArray[np.int64]
YES, NO, UNSURE, NOT_LOOKED, TOO_OLD = range(len(g.ANSWERS))
MATURITIES = ("regenerate", "thin", "wait")
# What is true, false, or not known.
_KNOWN = (False, True, None)
_ANSWER_OF_SIDE = np.array([UNSURE, YES, NO])


def _at(column: Column, places: NDArray[np.int64]) -> Column:
    return column if np.ndim(column) == 0 or len(column) == 1 else column[places]


@dataclass(frozen=True)
class Limits:
    """The rules, some with a value for each case."""

    rules: Rules
    values: Mapping[str, Column] = field(default_factory=dict)

    def number(self, name: str) -> Column:
        """The value of a rule for each case, or one for all."""
        return self.values[name] if name in self.values else self.rules.number(name)

    def at(self, places: NDArray[np.int64]) -> Limits:
        """The limits of some cases."""
        return Limits(self.rules, {name: _at(column, places) for name, column in self.values.items()})

    def least(self, name: str) -> Column:
        """The low end of a rule, or its value where it has none."""
        low = self.rules[name].low
        return self.number(name) if low is None else low


@dataclass(frozen=True)
class Spans:
    """A figure of each case with the ends of its interval; NaN where it is unmeasured."""

    value: Column
    low: Column
    high: Column


@dataclass(frozen=True, kw_only=True)
class Tallies:
    """What the verdict on the oak reads off the counts (``oak_verdict.Tally``), with sprouts credited [stumps/ac]."""

    plots: Column
    plot_ac: Column
    stocked_tall: Column
    stocked_waist: Column
    stems_waist: Column
    places: Column
    sprouts_ac: Column
    follows_rule: Column

    def at(self, places: NDArray[np.int64]) -> Tallies:
        """The counts of some cases."""
        return with_fields(self, **{name: _at(column, places) for name, column in vars(self).items()})

    def shifted(self, plots: Column) -> Tallies:
        """The same counts with so many plots more (or fewer) that hold an oak."""
        each = np.divide(
            self.stems_waist, self.stocked_waist, out=np.ones(np.shape(self.stems_waist)), where=self.stocked_waist != 0
        )
        return with_fields(
            self,
            stocked_tall=np.clip(self.stocked_tall + plots, 0, self.plots),
            stocked_waist=np.clip(self.stocked_waist + plots, 0, self.plots),
            stems_waist=np.maximum(self.stems_waist + plots * each, 0.0),
        )


@dataclass(frozen=True, kw_only=True)
class Cases:
    """The numbers that the next step hangs on, of each case; years are NaN where there was no such visit."""

    stage: Column
    cruise_yr: Column
    overwood_ba_ft2_ac: Column
    c_line_ba_ft2_ac: Column
    stocking_pct: Column
    large_share: Column
    middle_share: Column
    declining_share: Column
    age_yr: Column
    midstory_yr: Column
    midstory_stems_ac: Spans
    midstory_ba_ft2_ac: Spans
    injected: Column
    injected_since: Column
    crop: Spans
    crop_trees: Column
    crop_doubted: Column
    count_yr: Column
    is_judged: Column
    free_oaks_ac: Column
    # Whether a course of the kept forecast reaches its goal: 0, 1, or 2 where none was run.
    reaches: Column
    tallies: Tallies | None
    # Overwood by species, and the rotation age of each where it is not the one its rule names.
    weights: Mapping[int, Column]
    rotation_yr: Mapping[int, Column] | None = None


def cruise_fresh(cases: Cases, limits: Limits) -> Codes:
    """Answers of the gate of that name."""
    is_old = cases.cruise_yr > limits.number("fresh_overstory_yr")
    seen = np.where(np.isnan(cases.overwood_ba_ft2_ac), NOT_LOOKED, YES)
    return np.where(np.isnan(cases.cruise_yr), NOT_LOOKED, np.where(is_old, TOO_OLD, seen))


def midstory_shades(cases: Cases, limits: Limits) -> Codes:
    """Answers of the gate of that name."""
    stems, ba = cases.midstory_stems_ac, cases.midstory_ba_ft2_ac
    by_stems = verdicts.sides(stems.low, stems.high, limits.number("midstory_stems_ac"))
    by_ba = verdicts.sides(ba.low, ba.high, limits.number("midstory_ba_ft2_ac"))
    shades, is_clear = (by_stems == 1) | (by_ba == 1), (by_stems == -1) & (by_ba == -1)
    is_old = cases.injected_since | (cases.midstory_yr > limits.number("fresh_midstory_yr"))
    seen = np.where(is_old, TOO_OLD, np.where(shades, YES, np.where(is_clear, NO, UNSURE)))
    return np.where(np.isnan(cases.midstory_yr) | np.isnan(stems.value), NOT_LOOKED, seen)


def crop_good(cases: Cases, limits: Limits) -> Codes:
    """Answers of the gate of that name."""
    crop, few = cases.crop, cases.crop_trees < np.trunc(limits.number("crop_fewest_trees"))
    answer = _ANSWER_OF_SIDE[verdicts.sides(crop.low, crop.high, limits.number("crop_bearing_share"))]
    return np.where(np.isnan(crop.value), NOT_LOOKED, np.where(cases.crop_doubted | few, UNSURE, answer))


def oak_enough(cases: Cases, limits: Limits, sides: Codes) -> Codes:
    """Answers of the gate of that name, by the sides of the verdict."""
    is_old = cases.count_yr > limits.number("fresh_reproduction_yr")
    seen = np.where(is_old, TOO_OLD, _ANSWER_OF_SIDE[sides])
    return np.where(np.isnan(cases.count_yr) | ~np.asarray(cases.is_judged), NOT_LOOKED, seen)


def oak_sides(tallies: Tallies, limits: Limits) -> Codes:
    """Both rules on the oak applied to each tally, as ``oak_verdict.judge``; 1 enough, 0 unsure, -1 too little."""
    from scipy.special import ndtri

    plots, stems = tallies.plots, tallies.stems_waist
    worth = 1 / (1 + (plots / tallies.places - 1) * limits.number("verdict_alike"))
    # The quantile of an interval at 2 level - 1, which is one-sided at the level.
    z = ndtri(0.5 + (2 * np.asarray(limits.number("verdict_level")) - 1) / 2)
    low, high = verdicts.share_ends(tallies.stocked_tall * worth, plots * worth, z, intervals.share_step())
    by_plots = verdicts.sides(low, high, science.needed_stocked_shares(tallies.sprouts_ac))
    ends = verdicts.count_ends(stems * worth, plots * worth, z, limits.number("verdict_clumping_k"))
    wanted = limits.number("several_hundred_ac")
    by_density = verdicts.density_sides(
        stems / plots / tallies.plot_ac,
        ends[0] / tallies.plot_ac,
        ends[1] / tallies.plot_ac,
        wanted,
        limits.least("several_hundred_ac"),
    )
    clumped = verdicts.are_clumped(
        tallies.stocked_waist / plots, wanted, tallies.plot_ac, limits.number("clumped_ratio")
    )
    return verdicts.oak_sides(by_plots, by_density, tallies.follows_rule, clumped)


def too_few_plots(tallies: Tallies, limits: Limits, sides: Codes) -> NDArray[np.bool_]:
    """Where so few plots the other way would turn the verdict that a cut should wait, as
    ``branch.Margin.is_too_thin``."""
    allowed = np.asarray(limits.number("irreversible_plots"))
    plots = np.arange(1, min(int(limits.number("narrow_plots")), int(allowed.max())) + 1)[:, np.newaxis]
    # Fewer plots and more of them in one go, a row for each number.
    turned = oak_sides(tallies.shifted(np.concatenate([plots, -plots])), limits) != sides
    mask: NDArray[np.bool_] = (turned & (np.concatenate([plots, plots]) <= allowed)).any(axis=0)
    return mask


def maturities(cases: Cases, limits: Limits) -> Codes:
    """The verdict of ``maturity.judge`` on each case, as a place in :data:`MATURITIES`."""
    age, past, rotation = cases.age_yr, *_rotations(cases, limits)
    is_grown = (
        (age > limits.number("mature_age_yr"))
        & (cases.large_share >= limits.number("mature_large_share"))
        & (cases.middle_share <= limits.number("mature_middle_share"))
    )
    is_past = ~np.isnan(age) & (past >= limits.number("past_rotation_share"))
    declines = cases.declining_share > limits.number("decline_share")
    regenerates = is_past | is_grown | declines | (cases.overwood_ba_ft2_ac < cases.c_line_ba_ft2_ac)
    is_young = age < limits.number("thin_youngest_yr")
    is_late = age > rotation - limits.number("thin_years_before_rotation")
    thins = (cases.stocking_pct >= limits.number("thin_above_pct")) & ~is_young & ~is_late
    return np.where(regenerates, 0, np.where(thins, 1, 2))


def _rotations(cases: Cases, limits: Limits) -> tuple[Column, Column]:
    """Share of the overwood past its own rotation age, and the rotation of its main species [yr], as
    ``maturity.rotation_of``."""
    if not cases.weights:
        return 0.0, limits.number("rotation_other_yr")
    weights = _rows(cases.weights.values())
    own = cases.rotation_yr or {code: limits.number(m.rotation_name(code)) for code in cases.weights}
    years = _rows(own.values())
    total = np.maximum(weights.sum(axis=0), np.finfo(float).tiny)
    shares = (weights / total).round(m.SHARE_DIGITS)
    heaviest = shares.max(axis=0)
    main = np.where((shares == heaviest) & (heaviest > 0), years, math.inf).min(axis=0)
    past = np.where(cases.age_yr >= years, weights, 0.0).sum(axis=0)
    return past / total, np.where(heaviest > 0, main, limits.number("rotation_other_yr"))


def _rows(columns: Iterable[Column]) -> NDArray[np.float64]:
    """Columns below each other, each with a place for each case or one for all."""
    held = [np.atleast_1d(column) for column in columns]
    return np.stack(np.broadcast_arrays(*held) if len({len(column) for column in held}) > 1 else held)


@dataclass(frozen=True)
class Standings:
    """The answers of the gates that decide, the maturity and the branch of each case."""

    cruise: Codes
    midstory: Codes
    crop: Codes
    oak: Codes
    maturity: Codes
    branch: NDArray[np.object_]


def standings_of(cases: Cases, limits: Limits) -> Standings:
    """The standing of each case, and the branch it stands on."""
    tallies = cases.tallies
    sides = oak_sides(tallies, limits) if tallies is not None else np.zeros(1, dtype=np.int64)
    oak = oak_enough(cases, limits, sides)
    thin: NDArray[np.bool_] = np.zeros(1, dtype=bool)
    if tallies is not None and (oak == YES).any():
        # Only where there is enough is it asked how nearly.
        yes = np.flatnonzero(np.broadcast_to(oak == YES, np.shape(tallies.plots)))
        thin = np.zeros(len(tallies.plots), dtype=bool)
        thin[yes] = too_few_plots(tallies.at(yes), limits.at(yes), np.broadcast_to(sides, len(thin))[yes])
    cruise, midstory, crop = cruise_fresh(cases, limits), midstory_shades(cases, limits), crop_good(cases, limits)
    maturity = maturities(cases, limits)
    free = cases.free_oaks_ac
    is_short = np.where(np.isnan(free), 2, free < limits.number("dominants_component_ac"))
    columns = np.broadcast_arrays(
        cases.stage, maturity, cruise, oak, midstory, crop, thin, cases.injected, cases.reaches, is_short
    )
    return Standings(*np.broadcast_arrays(cruise, midstory, crop, oak, maturity, _branches(columns)))


def _branches(columns: list[NDArray[Any]] | tuple[NDArray[Any], ...]) -> NDArray[np.object_]:
    """The branch of each case: each standing that occurs is asked once."""
    sizes = (len(STAGES), len(MATURITIES), *(len(g.ANSWERS),) * 4, 2, 2, 3, 3)
    packed = np.ravel_multi_index(tuple(np.atleast_1d(each).astype(np.int64) for each in columns), sizes)
    known, place = np.unique(packed, return_inverse=True)
    branches = [_branch(tuple(int(part) for part in np.unravel_index(one, sizes))) for one in known]
    return np.array(branches, dtype=object)[place]


@functools.lru_cache(maxsize=4096)
def _branch(codes: tuple[int, ...]) -> str:
    stage, maturity, cruise, oak, midstory, crop, thin, injected, reaches, short = codes
    return branch_of(
        Standing(
            stage=STAGES[stage],
            maturity=MATURITIES[maturity],
            cruise=g.ANSWERS[cruise],
            oak=g.ANSWERS[oak],
            midstory=g.ANSWERS[midstory],
            crop=g.ANSWERS[crop],
            by_too_few_plots=bool(thin),
            injected=bool(injected),
            reaches=_KNOWN[reaches],
            free_oaks_short=_KNOWN[short],
        )
    )
