"""Density and stocking of many stands in one pass, with the same estimators as for one stand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.science import overstory, survey

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ManyStands:
    """One value a stand; half-widths of the interval are NaN where a stand has fewer than two points."""

    ba_ft2_ac: Array
    ba_half_ft2_ac: Array
    trees_ac: Array
    qmd_in: Array
    stocking_pct: Array
    stocking_half_pct: Array
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
    return ManyStands(
        ba_ft2_ac=ba,
        ba_half_ft2_ac=t * ba_se,
        trees_ac=trees,
        qmd_in=overstory.quadratic_mean_diameter_in(ba, trees),
        stocking_pct=stocking,
        stocking_half_pct=t * stocking_se,
        points=n,
    )
