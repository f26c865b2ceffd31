"""Two counts beside each other, against scipy's tests and a published example."""

from __future__ import annotations

import numpy as np
import pytest
import scipy

from overwood.science.comparison import independent_difference, paired_difference, share_difference

RNG = np.random.default_rng(11)
BEFORE, AFTER = RNG.poisson(3.0, 40).astype(float), RNG.poisson(4.0, 40).astype(float)


@pytest.mark.parametrize("level", [0.8, 0.9, 0.95])
def test_paired_differences_have_the_interval_of_the_paired_t_test(level):
    found = paired_difference(BEFORE, AFTER, level=level)
    ends = scipy.stats.ttest_rel(AFTER, BEFORE).confidence_interval(level)
    assert (found.low, found.high) == pytest.approx((ends.low, ends.high))


@pytest.mark.parametrize("level", [0.8, 0.9, 0.95])
def test_differences_of_other_plots_have_the_interval_of_welch(level):
    found = independent_difference(BEFORE[:25], AFTER, level=level)
    test = scipy.stats.ttest_ind(AFTER, BEFORE[:25], equal_var=False)
    ends = test.confidence_interval(level)
    assert (found.low, found.high, found.df) == pytest.approx((ends.low, ends.high, test.df))


def test_plots_without_spread_differ_for_sure():
    found = independent_difference([2.0, 2.0], [3.0, 3.0], level=0.9)
    assert (found.mean, found.low, found.high) == (1.0, 1.0, 1.0)
    assert np.isnan(independent_difference([1.0], [2.0, 3.0], level=0.9).low)


def test_the_difference_of_two_shares_is_that_of_the_published_example():
    # Newcombe 1998, the first contrast of his tables: 56 of 70 less 48 of 80, 0.0524 to 0.3339 (from memory).
    assert share_difference(48, 80, 56, 70, level=0.95) == pytest.approx((0.2, 0.0524, 0.3339), abs=5e-5)
