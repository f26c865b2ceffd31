"""What other stands teach is as wide as they differ: against cases worked by hand and against simulated stands."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from overwood.judgement.futures.pooling import Estimate, estimate, pooled


def test_stands_that_are_one_stand_are_averaged_with_the_range():
    # Precisions add up: 1 of the range, 4 and 12 of the stands.
    mixture = pooled([Estimate(1.0, 4.0), Estimate(0.0, 12.0)], 0.0)
    assert (*mixture.moments, mixture.between) == pytest.approx((4 / 17, 1 / 17, 0.0))


def test_stands_with_nothing_in_common_leave_the_range():
    assert pooled([Estimate(1.0, 4.0)], 1.0).moments == pytest.approx((0.0, 1.0))
    assert pooled([Estimate(1.0, 4.0)], 1.0).log_ratio(np.array([-2.0, 0.0, 1.0])) == pytest.approx(0.0, abs=1e-12)


def test_a_stand_that_says_nothing_changes_nothing():
    assert pooled([Estimate(1.0, 5.0), Estimate(0.0, 0.0)], 0.5).moments == pooled([Estimate(1.0, 5.0)], 0.5).moments


def test_the_weights_are_those_of_the_joint_normal_density():
    # The estimates of three stands are jointly normal; scipy gives the density for each share.
    seen, precision = np.array([0.9, -0.4, 0.3]), 4.0
    mixture = pooled([Estimate(value, precision) for value in seen], 0.5)
    density = [multivariate_normal.pdf(seen, np.zeros(3), (1 - share) + np.eye(3) * (share + 1 / precision)) for share in mixture.share]
    assert mixture.weight == pytest.approx(np.array(density) / np.sum(density))


def test_stands_that_differ_teach_less():
    alike = pooled([Estimate(value, 400.0) for value in (0.1, 0.0, -0.1, 0.05)], 0.5)
    apart = pooled([Estimate(value, 400.0) for value in (1.2, -0.9, 0.4, -1.1)], 0.5)
    assert apart.moments[1] > 5 * alike.moments[1]
    assert apart.between > 2 * alike.between


def test_an_estimate_is_the_posterior_over_the_prior():
    # Normal prior 0, 1 and one observation 2 with variance 0.25: likelihood mean 2, precision 4.
    values = np.random.default_rng(1).normal(size=200_000)
    weight = np.exp(-((values - 2.0) ** 2) / (2 * 0.25))
    found = estimate(values, weight / weight.sum())
    assert found.mean == pytest.approx(2.0, abs=0.05)
    assert found.precision == pytest.approx(4.0, abs=0.25)


LINE = np.linspace(-5, 5, 401)


def covered(own, rng):
    """Whether a fifth stand lies within its eighty and ninety percent intervals, by four others and its own counts."""
    truths = rng.normal() * (1 - own) ** 0.5 + rng.normal(size=5) * own**0.5
    others = truths[:4] + 0.5 * rng.normal(size=4)
    counted = truths[4] + 0.7 * rng.normal()
    mixture = pooled([Estimate(value, 4.0) for value in others], 0.5)
    below = np.cumsum(np.exp(mixture.log_ratio(LINE) - LINE**2 / 2 - (LINE - counted) ** 2 / (2 * 0.7**2)))
    rank = np.interp(truths[4], LINE, below / below[-1])
    return 0.1 < rank < 0.9, 0.05 < rank < 0.95


@pytest.mark.parametrize("own_sd", [0.0, 0.25, 0.5, 0.8, 1.0])
def test_intervals_for_a_new_stand_hold_however_far_stands_differ(own_sd):
    rng = np.random.default_rng(7)
    eighty, ninety = np.mean([covered(own_sd**2, rng) for _ in range(1_000)], axis=0)
    # Four stands cannot show that stands are alike, so there the intervals are wider than they need be.
    assert 0.72 <= eighty <= 0.94
    assert 0.86 <= ninety <= (0.94 if own_sd > 0.4 else 0.98)


def test_over_all_shares_intervals_cover_as_often_as_they_say():
    rng = np.random.default_rng(8)
    eighty, ninety = np.mean([covered(rng.random(), rng) for _ in range(2_000)], axis=0)
    assert (eighty, ninety) == pytest.approx((0.8, 0.9), abs=0.025)
