"""The same points visited again: the change of each figure point by point, which takes the spread between points out of
the error."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overwood.ground.records import StandFile, Visit
from overwood.judgement.evidence import layers
from overwood.judgement.evidence.counting import HEIGHTS_FT, Count, count_of, low_height_ft, tall_oaks, tall_rivals
from overwood.judgement.evidence.tally import Array, cruise_of
from overwood.judgement.rules import Rules
from overwood.science import density
from overwood.science import overstory as science
from overwood.science.comparison import independent_difference, paired_difference
from overwood.science.survey import Estimate


@dataclass(frozen=True)
class PointTotals:
    """Figures of one visit by point: the points' names, and an amount an acre at each."""

    points: tuple[str, ...]
    totals: Mapping[str, Array]

    def of(self, name: str, points: list[str]) -> Array:
        place = {point: at for at, point in enumerate(self.points)}
        return self.totals[name][[place[point] for point in points]]


def changes_by_point(file: StandFile, before: Visit, now: Visit, rules: Rules) -> tuple[dict[str, Estimate], int]:
    """The change of each figure that both visits have by point, and how many points they share.

    Of other points it is that of two counts taken apart, as a recount tells it; nothing of two cruises, whose strata
    such a change would lose.
    """
    first, later = (_totals(file, visit, rules) for visit in (before, now))
    shared = [point for point in first.points if point in set(later.points)]
    fewest, level = min(len(first.points), len(later.points)), rules.number("interval_level")
    names = [name for name in first.totals if name in later.totals]
    if len(shared) < 2 or len(shared) < rules.number("same_plots_share") * fewest:
        if now.kind == "cruise":
            return {}, 0
        gaps = {name: independent_difference(first.totals[name], later.totals[name], level=level) for name in names}
        return {name: gap for name, gap in gaps.items() if np.isfinite(gap.se)}, 0
    return {
        name: paired_difference(first.of(name, shared), later.of(name, shared), level=level) for name in names
    }, len(shared)


def _totals(file: StandFile, visit: Visit, rules: Rules) -> PointTotals:
    if visit.kind == "cruise":
        return _of_cruise(file, visit, rules)
    count = count_of(file, visit)
    return PointTotals((), {}) if count is None else _of_count(count)


def _of_cruise(file: StandFile, visit: Visit, rules: Rules) -> PointTotals:
    cruise = cruise_of(file, visit)
    each, one = science.basal_area_ft2(cruise.dbh_in), np.ones(len(cruise.trees))
    upper, lower = layers.overwood_mask(cruise, rules), layers.midstory_mask(cruise, rules)
    totals = {
        "ba_ft2_ac": cruise.totals(each),
        "overwood_ba_ft2_ac": cruise.totals(np.where(upper, each, 0.0)),
        "overwood_stocking_pct": cruise.totals(np.where(upper, density.tree_area_pct(cruise.dbh_in), 0.0)),
        "midstory_stems_ac": cruise.totals(np.where(lower, one, 0.0)),
    }
    return PointTotals(tuple(point.point for point in cruise.points), totals)


def _of_count(count: Count) -> PointTotals:
    small = [line for line in tall_oaks(count, 0.0) if low_height_ft(line) < 1.0]
    lines = {"oak_stems_under_1ft_ac": small, "competitor_stems_3ft_ac": tall_rivals(count)}
    lines |= {f"oak_stems_{height:g}ft_ac".replace(".", "_"): tall_oaks(count, height) for height in HEIGHTS_FT}
    # Plots of another size hold other counts by chance, but the acre they stand for is the same.
    totals = {name: count.per_plot(chosen) / count.plot_ac for name, chosen in lines.items()}
    return PointTotals(tuple(point.point for point in count.points), totals)
