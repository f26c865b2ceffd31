"""Two counts set beside each other: the same plots twice, or two sets of plots."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from overwood.science.decisions import wilson_ends
from overwood.science.survey import Estimate, sample_mean, t_quantile, z_quantile


def paired_difference(before: ArrayLike, after: ArrayLike, *, level: float) -> Estimate:
    """Mean change of the same plots.

    Parameters
    ----------
    before, after : array, shape (n,)
        Values plot by plot, in the same order.
    level : float
        Two-sided confidence, 0 to 1.

    Returns
    -------
    Estimate
        After less before; NaN errors where n < 2.

    Notes
    -----
    Source: ``freese1962``: plots kept the same take the difference between plots out of the error.

    Examples
    --------
    >>> round(paired_difference([1, 2, 3, 4], [2, 3, 5, 6], level=0.9).mean, 2)
    1.5
    """
    return sample_mean(np.asarray(after, dtype=float) - np.asarray(before, dtype=float), level=level)


def independent_difference(before: ArrayLike, after: ArrayLike, *, level: float) -> Estimate:
    """Difference between the means of two sets of plots.

    Parameters
    ----------
    before : array, shape (n,)
        Values of one set.
    after : array, shape (m,)
        Values of the other.
    level : float
        Two-sided confidence, 0 to 1.

    Returns
    -------
    Estimate
        After less before, with unequal variances; NaN errors where either set has fewer than two plots.

    Notes
    -----
    Source: ``welch1947``, for the degrees of freedom.

    Examples
    --------
    >>> round(independent_difference([1, 2, 3], [4, 6, 8, 6], level=0.9).mean, 2)
    4.0
    """
    first, second = np.asarray(before, dtype=float), np.asarray(after, dtype=float)
    mean, n = float(second.mean() - first.mean()), first.size + second.size
    if min(first.size, second.size) < 2:
        return Estimate(mean, float("nan"), float("nan"), float("nan"), n, 0)
    parts = np.array([first.var(ddof=1) / first.size, second.var(ddof=1) / second.size])
    if parts.sum() == 0:
        return Estimate(mean, 0.0, mean, mean, n, n - 2)
    df = float(parts.sum() ** 2 / (parts**2 / (np.array([first.size, second.size]) - 1)).sum())
    se = float(parts.sum() ** 0.5)
    half = float(t_quantile(level, df)) * se
    return Estimate(mean, se, mean - half, mean + half, n, df)


def share_difference(hits: int, n: int, other_hits: int, m: int, *, level: float) -> tuple[float, float, float]:
    """Difference between two shares.

    Parameters
    ----------
    hits, n : int
        Those that have it and those looked at, in one group.
    other_hits, m : int
        The same of the other group.
    level : float
        Two-sided confidence, 0 to 1.

    Returns
    -------
    tuple
        Other share less the first, and its low and high bound, -1 to 1.

    Notes
    -----
    Source: ``newcombe1998``, the method built from the two score intervals.

    Examples
    --------
    >>> [round(value, 4) for value in share_difference(48, 80, 56, 70, level=0.95)]
    [0.2, 0.0524, 0.3339]
    """
    z = z_quantile(level)
    p, q = hits / n, other_hits / m
    (low_p, high_p), (low_q, high_q) = wilson_ends(hits, n, z), wilson_ends(other_hits, m, z)
    below = ((q - low_q) ** 2 + (high_p - p) ** 2) ** 0.5
    above = ((high_q - q) ** 2 + (p - low_p) ** 2) ** 0.5
    return q - p, q - p - below, q - p + above
