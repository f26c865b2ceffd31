"""Our sampling functions beside scipy's."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy

from overwood.science import acorns, overstory, sample_size, survey


@pytest.mark.parametrize(("hits", "n"), [(0, 40), (1, 40), (5, 40), (24, 60), (42, 60), (60, 60)])
@pytest.mark.parametrize("level", [0.8, 0.9, 0.95])
def test_intervals_of_a_share(hits, n, level):
    wilson = scipy.stats.binomtest(hits, n).proportion_ci(level, method="wilson")
    exact = scipy.stats.binomtest(hits, n).proportion_ci(level, method="exact")

    assert survey.wilson_interval(hits, n, level=level) == (pytest.approx(wilson.low, abs=1e-9), pytest.approx(wilson.high, abs=1e-9))
    assert survey.exact_interval(hits, n, level=level) == (pytest.approx(exact.low, abs=1e-9), pytest.approx(exact.high, abs=1e-9))


def test_the_t_interval_of_a_mean():
    values = np.random.default_rng(1).gamma(3, 30, size=17)

    ours = survey.sample_mean(values, level=0.9)
    low, high = scipy.stats.t.interval(0.9, 16, loc=values.mean(), scale=scipy.stats.sem(values))

    assert (ours.low, ours.high) == (pytest.approx(low), pytest.approx(high))


def test_satterthwaite_equals_the_unequal_variance_t_test():
    rng = np.random.default_rng(2)
    one, two = rng.normal(10, 2, 9), rng.normal(14, 5, 14)

    ours = survey.stratified_mean([one.mean(), two.mean()], [one.var(ddof=1), two.var(ddof=1)], [9, 14], [1, 1], level=0.9)
    peer = scipy.stats.ttest_ind(one, two, equal_var=False)

    assert ours.df == pytest.approx(peer.df)


def test_wilson_covers_the_truth_about_as_often_as_it_says():
    # Chosen over the plain normal interval for this: mean coverage over many shares within 2 points of the level.
    n, level, covered = 40, 0.9, []
    counts = np.arange(n + 1)
    low, high = survey.wilson_interval(counts, np.full(n + 1, n), level=level)
    for share in np.linspace(0.02, 0.98, 97):
        covered.append(scipy.stats.binom.pmf(counts, n, share)[(low <= share) & (share <= high)].sum())
    assert np.mean(covered) == pytest.approx(level, abs=0.02)


def test_clumping_and_stocking_by_the_negative_binomial():
    k, mean = 0.6, 0.55
    law = scipy.stats.nbinom(k, k / (k + mean))
    counts = law.rvs(size=200_000, random_state=3)

    assert sample_size.clumping_k(counts) == pytest.approx(k, rel=0.05)


def test_the_t_interval_of_clumped_counts_covers_nearly_as_often_as_it_says():
    # 40 small plots of the clumping of a real count; the verdict's one-sided bounds must not be far too bold.
    rng, law = np.random.default_rng(4), scipy.stats.nbinom(0.6, 0.6 / (0.6 + 0.55))
    draws = law.rvs(size=(4000, 40), random_state=rng)
    mean, half = draws.mean(axis=1), scipy.stats.t(39).ppf(0.9) * draws.std(axis=1, ddof=1) / 40**0.5
    upper, lower = (mean + half >= 0.55).mean(), (mean - half <= 0.55).mean()
    # Counts are skewed: the upper bound falls short of 90 % and the lower exceeds it; docs say so.
    assert 0.80 < upper < 0.90
    assert lower > 0.90


def test_random_crown_cover_by_simulation():
    rng, radius, crowns = np.random.default_rng(5), 0.05, 60

    def covered():
        gaps = (rng.random((3_000, 1, 2)) - rng.random((1, crowns, 2)) + 0.5) % 1 - 0.5
        return ((gaps**2).sum(axis=2) < radius**2).any(axis=1).mean()

    expected = float(overstory.cover_from_crown_area_pct(100 * crowns * math.pi * radius**2))

    # One pattern of crowns lies some 3 points off; the mean of sixty within half a point.
    assert 100 * np.mean([covered() for _ in range(60)]) == pytest.approx(expected, abs=1.5)


def test_shrunken_bearers_are_nearer_the_truth_than_plain_means():
    rng = np.random.default_rng(6)
    truth = rng.normal(0, 0.7, size=200)
    counts = np.exp(3 + truth[:, None] + rng.normal(0, 1.2, size=(200, 3)))

    ranked = acorns.rank_bearers(counts)

    assert ((ranked.shrunken - truth) ** 2).mean() < ((ranked.mean - truth) ** 2).mean()
    assert scipy.stats.spearmanr(ranked.shrunken, truth).statistic > 0.5


def test_point_sampling_is_unbiased_on_a_made_stem_map():
    # Random prism points in a torus of known basal area: the mean must come back within its own error.
    rng = np.random.default_rng(7)
    side, trees = 660.0, 800
    place, dbh = rng.random((trees, 2)) * side, rng.gamma(9, 1.6, size=trees) + 4
    true_ba = float(overstory.basal_area_ft2(dbh).sum()) / (side**2 / 43_560)
    points = rng.random((400, 2)) * side
    gap = (place[None] - points[:, None] + side / 2) % side - side / 2
    tallied = np.hypot(gap[..., 0], gap[..., 1]) < survey.limiting_distance_ft(10, dbh)[None]

    estimate = survey.sample_mean(10.0 * tallied.sum(axis=1), level=0.99)

    assert estimate.low < true_ba < estimate.high
