"""Intervals that hold for what is met in the woods: clumped counts, plots in groups, shares, and counts of nothing.

The estimates themselves are those of ``survey``; only the ends of the intervals are made here. How often each interval
covers the truth is simulated in docs/interval_coverage.py, which writes docs/coverage.md.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.ground.copies import with_fields
from overwood.science import decisions
from overwood.science.survey import Estimate, sample_mean, t_quantile, z_quantile

Array = NDArray[np.float64]
TABLE = "science/tables/survey.csv"
# Variance of what is rounded to whole units, 1 / 12.
_WHOLE_STEM = 12


def share_step() -> float:
    """Continuity step of the interval of a share, in plots.

    Returns
    -------
    float
        Step [plots].
    """
    return tables.constants(TABLE)["share_step"]


def skewed_ends(mean: ArrayLike, se: ArrayLike, t: ArrayLike) -> tuple[Array, Array]:
    """Bounds of a mean whose error grows with the mean, as that of counts does.

    Parameters
    ----------
    mean, se : float or array
        Mean, over 0, and its standard error.
    t : float or array
        Student quantile of each side.

    Returns
    -------
    tuple of array
        Low, over 0, and high.

    Notes
    -----
    A score interval: the means whose own error reaches to the one seen. The error's variance at another mean is taken
    to grow partly with the mean and partly with its square (``count_variance_growth``, less of it where the error is
    large beside the mean). Source: ``mccullagh1989``, for
    the score of a variance that depends on the mean.

    Examples
    --------
    >>> low, high = skewed_ends(404.0, 118.0, 1.304)
    >>> round(float(low)), round(float(high))
    (287, 625)
    """
    share, centre = tables.constants(TABLE)["count_variance_growth"], np.asarray(mean, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        c = (np.asarray(t) * np.asarray(se) / centre) ** 2
        share = share / (1 + c)
        reach = 2 + (1 - share) * c + np.sqrt(4 * c + ((1 - share) * c) ** 2)
        low, high = 2 * centre / reach, centre * reach / (2 * (1 - share * c))
    return low, high


def none_seen_high(level: float, looks: float) -> float:
    """Upper bound of a count an acre (or a plot) where none was seen.

    Parameters
    ----------
    level : float
        Two-sided confidence, 0 to 1; the bound is one-sided at 0.5 + level / 2.
    looks : float
        What was looked at: acres for stems an acre, plots for stems a plot.

    Returns
    -------
    float
        The count at which none would be seen with a chance of 0.5 - level / 2.

    Notes
    -----
    Source: ``garwood1936``: exact for the Poisson distribution.

    Examples
    --------
    >>> round(none_seen_high(0.9, 40 / 735), 1)
    55.0
    """
    return -math.log(0.5 - level / 2) / looks


def tally_mean(
    values: ArrayLike, *, level: float, one: float = 0.0, group: NDArray[np.int64] | None = None
) -> Estimate:
    """Mean of plots or points with an interval that allows for clumped stems and for plots in groups.

    Parameters
    ----------
    values : array, shape (n,)
        One total a plot; plots with nothing on them are zeros.
    level : float
        Two-sided confidence, 0 to 1.
    one : float
        What one more stem on one plot would add to that plot's total; 0 where that is not known.
    group : array of int, shape (n,), optional
        The place each plot stands at; plots of one place are one draw.

    Returns
    -------
    Estimate
        ``n`` counts plots, ``df`` the draws less one. Where nothing was seen ``high`` is the exact bound of a Poisson
        count; NaN ends where one plot alone allows none.

    Notes
    -----
    Sources: ``cochran1977`` (means of groups of unequal size), ``mccullagh1989``, ``garwood1936``.

    Examples
    --------
    >>> estimate = tally_mean([0, 0, 735, 0, 1470, 735, 0, 0, 735, 735], level=0.9, one=735)
    >>> round(estimate.mean), round(estimate.low), round(estimate.high)
    (441, 244, 1019)
    """
    y = np.asarray(values, dtype=float)
    plain = sample_mean(y, level=level) if group is None else group_mean(y, group)
    return with_skewed_ends(plain, level=level, one=one / max(plain.n, 1))


def with_skewed_ends(estimate: Estimate, *, level: float, one: float) -> Estimate:
    """The same estimate with the interval of a tally.

    Parameters
    ----------
    estimate : Estimate
        A mean with its error.
    level : float
        Two-sided confidence, 0 to 1.
    one : float
        What one more stem would add to the mean; 0 where that is not known.

    Returns
    -------
    Estimate
        With ends as :func:`tally_mean` makes them.

    Examples
    --------
    >>> with_skewed_ends(sample_mean([0.0, 0.0], level=0.9), level=0.9, one=0.5).high.__round__(2)
    1.5
    """
    none = one * none_seen_high(level, 1.0) if one else math.nan
    if estimate.n == 0:
        return estimate
    if estimate.mean == 0:
        return with_fields(estimate, se=0.0, low=0.0, high=none)
    if math.isnan(estimate.se):
        return estimate
    # Plots that all hold the same number are not without error: a count is known to the whole stem.
    se = estimate.se or one * math.sqrt(estimate.n / _WHOLE_STEM)
    # The spread is not estimated from a lone stem: its error is that of a count of one, and costs no degrees of
    # freedom.
    is_lone = estimate.mean <= one * (1 + 1e-9)
    t = z_quantile(level) if is_lone else float(t_quantile(level, estimate.df))
    low, high = (float(end) for end in skewed_ends(estimate.mean, se, t))
    return with_fields(estimate, se=se, low=low, high=max(high, none) if one else high)


def tally_ends(mean: ArrayLike, se: ArrayLike, n: ArrayLike, one: ArrayLike, *, level: float) -> tuple[Array, Array]:
    """The ends that :func:`tally_mean` makes, for many samples of plots that stand alone.

    Parameters
    ----------
    mean, se : array
        Mean over plots, and its standard error; NaN where one plot alone allows none.
    n : array
        Plots of each sample.
    one : array
        What one more stem on one plot would add to that plot's total.
    level : float
        Two-sided confidence, 0 to 1.

    Returns
    -------
    tuple of array
        Low and high; NaN where there is none.

    Examples
    --------
    >>> low, high = tally_ends([441.0], [161.0295], [10], [735.0], level=0.9)
    >>> low.round().tolist(), high.round().tolist()
    ([244.0], [1019.0])
    """
    mean, se, n = (np.asarray(each, dtype=float) for each in (mean, se, n))
    with np.errstate(divide="ignore", invalid="ignore"):
        each = np.asarray(one, dtype=float) / n
        none = each * none_seen_high(level, 1.0)
        error = np.where(se == 0, each * np.sqrt(n / _WHOLE_STEM), se)
        t = np.where(mean <= each * (1 + 1e-9), z_quantile(level), t_quantile(level, n - 1))
        low, high = skewed_ends(mean, error, t)
    is_none = mean == 0
    return np.where(is_none, 0.0, low), np.where(is_none, none, np.maximum(high, none))


def group_mean(values: ArrayLike, group: NDArray[np.int64]) -> Estimate:
    """Mean of plots that stand in groups, with its standard error.

    Parameters
    ----------
    values : array, shape (n,)
        One total a plot.
    group : array of int, shape (n,)
        The place each plot stands at.

    Returns
    -------
    Estimate
        ``n`` plots, ``df`` places less one; NaN errors with one place.

    Notes
    -----
    Source: ``cochran1977`` (chapter 6): places of unequal size by the ratio of totals.

    Examples
    --------
    >>> import numpy as np
    >>> estimate = group_mean([1.0, 3.0, 5.0, 7.0], np.array([0, 0, 1, 1]))
    >>> estimate.mean, round(estimate.se, 3), estimate.df
    (4.0, 2.0, 1)
    """
    y = np.asarray(values, dtype=float)
    _, place = np.unique(group, return_inverse=True)
    totals, sizes = np.bincount(place, weights=y), np.bincount(place).astype(float)
    mean, draws = float(y.mean()), sizes.size
    if draws < 2:
        return Estimate(mean, math.nan, math.nan, math.nan, y.size, 0)
    spread = float(((totals - mean * sizes) ** 2).sum())
    se = math.sqrt(draws / (draws - 1) * spread) / y.size
    return Estimate(mean, se, math.nan, math.nan, y.size, draws - 1)


def share_interval(hits: ArrayLike, sizes: ArrayLike, *, level: float) -> tuple[float, float]:
    """Interval of a share where what was looked at stands in places: stems on plots, plots at points, trees in groups.

    Parameters
    ----------
    hits : array, shape (places,)
        How many of each place have it.
    sizes : array, shape (places,)
        How many were looked at there, over 0.
    level : float
        Two-sided confidence, 0 to 1.

    Returns
    -------
    tuple of float
        Low and high share, 0 to 1.

    Notes
    -----
    Sources: ``korn1998`` (the number of independent looks that would have the error seen between places, and its
    degrees of freedom), ``wilson1927`` with a continuity step (``newcombe1998one``), ``clopper1934`` where none or all
    have it. Never narrower than if every look stood alone.

    Examples
    --------
    >>> [round(end, 3) for end in share_interval([5, 0, 4, 1, 5], [5, 5, 5, 5, 5], level=0.9)]
    [0.176, 0.922]
    >>> [round(end, 3) for end in share_interval([0] * 40, [1] * 40, level=0.9)]
    [0.0, 0.072]
    """
    looks = independent_looks(hits, sizes, level=level)
    share = float(np.sum(hits)) / float(np.sum(sizes))
    return decisions.share_ends(share * looks, looks, z_quantile(level), share_step())


def none_or_all(is_all: bool, looks: float, places: float, *, level: float) -> tuple[float, float]:
    """Interval of a share where none or all of what was looked at have it.

    Parameters
    ----------
    is_all : bool
        Whether all have it, or none.
    looks, places : float
        Looks taken, and places they were taken at.
    level : float
        Two-sided confidence, 0 to 1.

    Returns
    -------
    tuple of float
        Low and high share, 0 to 1.

    Notes
    -----
    Source: ``clopper1934``, with the looks of one place alike.

    Examples
    --------
    >>> round(none_or_all(True, 60, 6, level=0.9)[0], 2)
    0.91
    """
    worth = looks_of_alike(looks, places)
    return decisions.share_ends(worth if is_all else 0.0, worth, z_quantile(level), share_step())


def independent_looks(hits: ArrayLike, sizes: ArrayLike, *, level: float) -> float:
    """How many independent looks have the error of the looks taken in places.

    Parameters
    ----------
    hits, sizes : array, shape (places,)
        As :func:`share_interval` takes them.
    level : float
        Two-sided confidence, 0 to 1: few places also cost degrees of freedom.

    Returns
    -------
    float
        Looks, at most the sum of sizes, and 1 with a single place of several; where none or all have it, so that the
        places show no spread, looks of one place are taken to be alike by ``alike_within_place``.

    Notes
    -----
    Source: ``korn1998``.

    Examples
    --------
    >>> independent_looks([1, 0, 1], [1, 1, 1], level=0.9)
    3.0
    """
    y, m = np.asarray(hits, dtype=float), np.asarray(sizes, dtype=float)
    total, places = float(m.sum()), y.size
    if (m == 1).all():
        return total
    if places < 2:
        return 1.0
    share = float(y.sum()) / total
    variance = places / (places - 1) * float(((y - share * m) ** 2).sum()) / total**2
    if share in (0, 1):
        return looks_of_alike(total, places)
    spent = (z_quantile(level) / float(t_quantile(level, places - 1))) ** 2
    return float(min(share * (1 - share) / variance * spent, total)) if variance > 0 else total


def looks_of_alike(looks: float, places: float) -> float:
    """How many independent looks so many in places are worth, where they are alike by an assumed correlation.

    Parameters
    ----------
    looks, places : float
        Looks taken, and places they were taken at.

    Returns
    -------
    float
        Looks over 1 + (looks a place - 1) ``alike_within_place``.

    Notes
    -----
    Source: ``cochran1977`` (chapter 9, the effect of the design).

    Examples
    --------
    >>> round(looks_of_alike(60, 6), 1)
    31.6
    """
    return looks / (1 + (looks / places - 1) * tables.constants(TABLE)["alike_within_place"])
