"""What other stands teach is as wide as they differ: against cases worked by hand and against simulated stands."""

from __future__ import annotations

import numpy as np
import pytest

from overwood.judgement.futures.pooling import Estimate, estimate, pooled


def test_stands_that_are_one_stand_are_averaged():
    # Without scatter the pooled middle is the mean weighed by precision, and its variance one over the sum of precisions.
    middle, variance, between = pooled([Estimate(1.0, 4.0), Estimate(0.0, 12.0)], 0.0)
    assert (middle, variance, between) == pytest.approx((0.25, 1 / 16, 0.0))


def test_a_stand_that_says_nothing_changes_nothing():
    assert pooled([Estimate(0.0, 0.0)], 0.5)[1] == float("inf")
    assert pooled([Estimate(1.0, 5.0), Estimate(0.0, 0.0)], 0.5) == pooled([Estimate(1.0, 5.0)], 0.5)


def test_stands_that_differ_teach_less():
    alike = pooled([Estimate(value, 400.0) for value in (0.1, 0.0, -0.1, 0.05)], 0.5)
    apart = pooled([Estimate(value, 400.0) for value in (1.2, -0.9, 0.4, -1.1)], 0.5)
    assert apart[1] > 10 * alike[1]
    assert apart[2] > 3 * alike[2]


def test_an_estimate_is_the_posterior_over_the_prior():
    # Normal prior 0, 1 and one observation 2 with variance 0.25: likelihood mean 2, precision 4.
    values = np.random.default_rng(1).normal(size=200_000)
    weight = np.exp(-((values - 2.0) ** 2) / (2 * 0.25))
    found = estimate(values, weight / weight.sum())
    assert found.mean == pytest.approx(2.0, abs=0.05)
    assert found.precision == pytest.approx(4.0, abs=0.25)


def test_intervals_for_a_new_stand_cover_as_often_as_they_say():
    # Scatter drawn from its prior, five stands about a common value each seen with error 0.2: is a sixth within the ninety percent interval?
    rng, hits, runs = np.random.default_rng(7), 0, 1_500
    for _ in range(runs):
        truths = rng.normal(0.0, 1.0) + rng.normal(0.0, abs(rng.normal(0.0, 0.5)), 6)
        seen = truths[:5] + rng.normal(0.0, 0.2, 5)
        middle, variance, _ = pooled([Estimate(value, 25.0) for value in seen], 0.5)
        hits += abs(truths[5] - middle) <= 1.645 * variance**0.5
    assert 0.87 <= hits / runs <= 0.93
