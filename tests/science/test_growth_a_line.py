"""Projected growth beside the A line, which comes from normal upland-oak stands (Gingrich 1967, from the stands of Schnur 1937).

No yield table could be read, so this line, the published upper end of stocking, is the check outside the project: a fully
stocked stand must stay near it for thirty years, whatever the size of its trees.
"""

from __future__ import annotations

import numpy as np
import pytest

from overwood.judgement.evidence.growing import response
from overwood.judgement.rules import load
from overwood.science import density, growth


def stocking_after(qmd_in: float, years: int) -> float:
    dbh = np.clip(np.random.default_rng(1).normal(qmd_in, 0.2 * qmd_in, 200), 3, None)
    per_ac = np.full(200, 100 / density.tree_area_pct(dbh).sum())
    grown, trees = growth.project(np.full(200, 802), dbh, per_ac, years, response=response(load()))
    return float((density.tree_area_pct(grown) * trees).sum())


@pytest.mark.parametrize("qmd_in", [6, 8, 10, 12, 14])
@pytest.mark.parametrize("years", [10, 20, 30])
def test_a_full_stand_stays_near_the_a_line(qmd_in, years):
    assert 85 <= stocking_after(qmd_in, years) <= 117
