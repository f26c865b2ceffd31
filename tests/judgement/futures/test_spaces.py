"""Growing spaces from counts on plots of any size: one stand, one start."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree

from overwood.judgement.futures import spaces

SQFT_PER_AC, SIDE_FT, SPACE_AC = 43_560.0, 600.0, 1 / 735
# One square meter, 1/735, 1/300 and 1/100 acre, and plots of a count.
PLOTS = {"1 m2": (1 / 4046.856, 300), "1/735 ac": (SPACE_AC, 180), "1/300 ac": (1 / 300, 120), "1/100 ac": (1 / 100, 60)}
STANDS = 10


def counted_on(stems, area_ac, plots, rng):
    """Oaks on round plots thrown over a stand whose edges meet."""
    places, heights = stems
    near = cKDTree(places, boxsize=SIDE_FT).query_ball_point(rng.random((plots, 2)) * SIDE_FT, np.sqrt(area_ac * SQFT_PER_AC / np.pi))
    return [[spaces.Stem(float(heights[one]), 1.0, 0, "oak") for one in plot] for plot in near]


def simulated_stand(rng, radius_ft):
    """Oaks in clumps: 250 clumps an acre of six oaks on average, spread about their middle by a radius."""
    parents = rng.random((rng.poisson(250 * SIDE_FT**2 / SQFT_PER_AC), 2)) * SIDE_FT
    owner = np.repeat(np.arange(len(parents)), rng.poisson(6, len(parents)))
    places = (parents[owner] + rng.normal(0, radius_ft, (len(owner), 2))) % SIDE_FT
    return places, rng.gamma(2.0, 0.8, len(owner))


def told(plots, area_ac, radius_ft):
    """What the spaces made of a count say: oaks an acre, waist-high oaks an acre, share stocked, share stocked waist high."""
    stems = spaces.made(plots, area_ac, SPACE_AC, radius_ft).spaces.stems
    each, waist = stems[:, :, 0].sum(axis=1), np.where(stems[:, :, 1] >= 3, stems[:, :, 0], 0).sum(axis=1)
    return each.mean() / SPACE_AC, waist.mean() / SPACE_AC, (each > 0).mean(), (waist > 0).mean()


@pytest.mark.slow
@pytest.mark.parametrize("radius_ft", [6.0, 12.0])
def test_counts_of_one_stand_on_plots_of_any_size_agree_within_their_sampling_error(radius_ft):
    rows = {name: [] for name in PLOTS}
    for seed in range(STANDS):
        stems = simulated_stand(np.random.default_rng(seed), radius_ft)
        for name, (area_ac, plots) in PLOTS.items():
            rows[name].append(told(counted_on(stems, area_ac, plots, np.random.default_rng((seed, plots))), area_ac, radius_ft))
    whole = np.array(rows.pop("1/735 ac"))
    for name, row in rows.items():
        apart = np.array(row) - whole
        error = apart.std(axis=0, ddof=1) / np.sqrt(STANDS)
        # Within three standard errors of the mean difference, or two points of stocking where plots are many.
        allowed = np.maximum(3 * error, [0, 0, 0.03, 0.02])
        assert (np.abs(apart.mean(axis=0)) <= allowed).all(), (name, apart.mean(axis=0), error)
        # And one count differs from another as far as both sampling errors say, not more.
        assert (np.abs(apart[:, :2]).mean(axis=0) <= 1.2 * np.hypot(np.std(row, axis=0), whole.std(axis=0))[:2]).all(), name


def test_no_oak_is_left_out_of_a_plot_of_the_spaces_own_size():
    plot = [spaces.Stem(0.5 + at / 10, 1.0, 0, "oak") for at in range(40)]
    assert spaces.made([plot, []], SPACE_AC, SPACE_AC, 12.0).spaces.stems[0, :, 0].sum() == 40
