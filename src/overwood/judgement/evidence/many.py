"""Density and stocking of many stands in one pass, with the same estimators as for one stand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.science import intervals, overstory, survey, timber

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ManyStands:
    """One value a stand; ends of the interval are NaN where a stand has fewer than two points."""

    ba_ft2_ac: Array
    ba_low_ft2_ac: Array
    ba_high_ft2_ac: Array
    trees_ac: Array
    qmd_in: Array
    stocking_pct: Array
    stocking_low_pct: Array
    stocking_high_pct: Array
    points: Array


def overstory_of_many(
    *,
    point: NDArray[np.int64],
    dbh_in: Array,
    per_ac: Array,
    stand_of_point: NDArray[np.int64],
    stands: int,
    level: float,
) -> ManyStands:
    """Basal area, trees, mean diameter and stocking of each stand from tally arrays.

    ``point`` numbers the points of all stands together; ``stand_of_point`` says which stand each belongs to.
    """
    points = len(stand_of_point)

    def by_stand(amount: Array) -> tuple[Array, Array, Array]:
        return survey.grouped_means(survey.point_totals(point, amount * per_ac, points), stand_of_point, stands)

    ba, ba_se, n = by_stand(overstory.basal_area_ft2(dbh_in))
    trees, _, _ = by_stand(np.ones_like(dbh_in))
    stocking, stocking_se, _ = by_stand(overstory.tree_area_pct(dbh_in))
    t = survey.t_quantile(level, np.maximum(n - 1, 1))
    ba_low, ba_high = intervals.skewed_ends(ba, ba_se, t)
    stocking_low, stocking_high = intervals.skewed_ends(stocking, stocking_se, t)
    return ManyStands(
        ba_ft2_ac=ba,
        ba_low_ft2_ac=ba_low,
        ba_high_ft2_ac=ba_high,
        trees_ac=trees,
        qmd_in=overstory.quadratic_mean_diameter_in(ba, trees),
        stocking_pct=stocking,
        stocking_low_pct=stocking_low,
        stocking_high_pct=stocking_high,
        points=n,
    )


@dataclass(frozen=True)
class ManyTimber:
    """Board feet and value an acre of each stand, with the ends of the interval."""

    bf_ac: Array
    bf_low_ac: Array
    bf_high_ac: Array
    value_usd_ac: Array
    value_low_usd_ac: Array
    value_high_usd_ac: Array


def timber_of_many(
    *,
    rule: str,
    point: NDArray[np.int64],
    dbh_in: Array,
    logs: Array,
    form_class_pct: Array,
    usd_per_mbf: Array,
    per_ac: Array,
    stand_of_point: NDArray[np.int64],
    stands: int,
    level: float,
) -> ManyTimber:
    """Volume and value of many stands in one pass, every tree by its logs, form class and price."""
    volume = timber.tree_bf(rule, dbh_in, logs, form_class_pct)
    points = len(stand_of_point)

    def by_stand(amount: Array) -> tuple[Array, Array, Array]:
        totals = survey.point_totals(point, amount * per_ac, points)
        mean, se, n = survey.grouped_means(totals, stand_of_point, stands)
        return mean, *intervals.skewed_ends(mean, se, survey.t_quantile(level, np.maximum(n - 1, 1)))

    return ManyTimber(*by_stand(volume), *by_stand(volume * usd_per_mbf / 1000))
