"""The arithmetic of ``decisions`` on whole columns: many stands, or one stand in many draws, at once.

Each function says of every element what its namesake in ``decisions`` says of one; a test holds them equal.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Sides = NDArray[np.int64]
Mask = NDArray[np.bool_]


def sides(low: ArrayLike, high: ArrayLike, needed: ArrayLike) -> Sides:
    """On which side of a threshold intervals lie.

    Parameters
    ----------
    low, high, needed : array
        Bounds and thresholds, of one shape or alike for all.

    Returns
    -------
    array of int
        As ``decisions.side``: 1 at or above, -1 below, 0 across.

    Examples
    --------
    >>> sides([3, 1, 2], [5, 2, 4], 3).tolist()
    [1, -1, 0]
    """
    return np.where(np.greater_equal(low, needed), 1, np.where(np.less(high, needed), -1, 0))


def share_ends(hits: ArrayLike, n: ArrayLike, z: ArrayLike, step: float) -> tuple[Array, Array]:
    """Bounds of shares by the score test with a continuity step; exact where none or all have it.

    Parameters
    ----------
    hits, n : array
        Plots that have it, and those looked at, over 0.
    z : array
        Normal quantile of each side.
    step : float
        Continuity step [plots].

    Returns
    -------
    tuple of array
        Low and high share, 0 to 1, as ``decisions.share_ends``.

    Examples
    --------
    >>> low, high = share_ends([42.0, 0.0], [60.0, 40.0], 1.2815515655446004, 0.25)
    >>> low.round(3).tolist(), high.round(3).tolist()
    ([0.615, 0.0], [0.773, 0.056])
    """
    from scipy.special import erfc

    hits, n, z = np.asarray(hits, dtype=float), np.asarray(n, dtype=float), np.asarray(z, dtype=float)
    tail, c = 0.5 * erfc(z / np.sqrt(2.0)), z * z / n
    alike = tail ** (1 / n)
    less, more = np.maximum(hits - step, 0.0) / n, np.minimum((hits + step) / n, 1.0)
    low = np.maximum((less + c / 2 - np.sqrt(c * less * (1 - less) + c * c / 4)) / (1 + c), 0.0)
    high = np.minimum((more + c / 2 + np.sqrt(c * more * (1 - more) + c * c / 4)) / (1 + c), 1.0)
    low = np.where(hits >= n, alike, np.where(hits > 0, low, 0.0))
    return low, np.where(hits <= 0, 1 - alike, np.where(hits < n, high, 1.0))


def count_ends(total: ArrayLike, n: ArrayLike, z: ArrayLike, clumping_k: float) -> tuple[Array, Array]:
    """Bounds of stems a plot by the number counted, with the clumping taken as known.

    Parameters
    ----------
    total, n : array
        Stems counted on all plots, and plots.
    z : array
        Normal quantile of each side.
    clumping_k : float
        Clumping of the negative binomial.

    Returns
    -------
    tuple of array
        Low and high, as ``decisions.count_ends``.

    Examples
    --------
    >>> low, high = count_ends([22.0], [40.0], 1.2815515655446004, 0.6)
    >>> round(735 * float(low[0])), round(735 * float(high[0]))
    (285, 615)
    """
    from scipy.special import erfc

    total, n, z = np.asarray(total, dtype=float), np.asarray(n, dtype=float), np.asarray(z, dtype=float)
    none = -np.log(0.5 * erfc(z / np.sqrt(2.0))) / n
    mean, c = total / n, z * z / n
    middle, shrink = 2 * mean + c, 1 - c / clumping_k
    root = np.sqrt(np.maximum(middle * middle - 4 * shrink * mean * mean, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        high = np.where(shrink > 0, (middle + root) / (2 * shrink), np.inf)
    low = 2 * mean * mean / (middle + root)
    return np.where(total <= 0, 0.0, low), np.where(total <= 0, none, np.maximum(high, none))


def density_sides(mean: ArrayLike, low: ArrayLike, high: ArrayLike, needed: ArrayLike, least: ArrayLike) -> Sides:
    """Whether stems an acre are enough by the trade's several-hundred rule.

    Parameters
    ----------
    mean, low, high : array
        Stems an acre and their one-sided bounds.
    needed, least : array
        Stems wanted, and what the lower bound must reach.

    Returns
    -------
    array of int
        As ``decisions.density_side``.

    Examples
    --------
    >>> density_sides([450, 450, 200], [320, 280, 120], [580, 620, 280], 400, 300).tolist()
    [1, 0, -1]
    """
    enough = np.greater_equal(mean, needed) & np.greater_equal(low, least)
    return np.where(np.less(high, needed), -1, np.where(enough, 1, 0))


def are_clumped(stocked_share: ArrayLike, needed_ac: ArrayLike, plot_ac: ArrayLike, ratio: ArrayLike) -> Mask:
    """Whether stems stand on too few plots to be the number wanted, well spread.

    Parameters
    ----------
    stocked_share, needed_ac : array
        Share of plots with a stem, and stems wanted an acre.
    plot_ac : array
        Plot size [ac].
    ratio : array
        Share of the plots that many stems at random would stock.

    Returns
    -------
    array of bool
        As ``decisions.is_clumped``.

    Examples
    --------
    >>> are_clumped([0.2, 0.35], 400, 1 / 735, 0.75).tolist()
    [True, False]
    """
    return np.less(stocked_share, np.asarray(ratio) * (1 - np.exp(-np.asarray(needed_ac) * plot_ac)))


def oak_sides(by_plots: Sides, by_density: Sides, follows_rule: ArrayLike, clumped: Mask) -> Sides:
    """Whether the oak is enough by either rule.

    Parameters
    ----------
    by_plots, by_density : array of int
        Sides by the stocked-plot rule and by stems an acre.
    follows_rule : array of bool
        Whether the plots have the size the stocked-plot rule was made for.
    clumped : array of bool
        Clumped stems do not pass by their number alone.

    Returns
    -------
    array of int
        As ``decisions.oak_side``.

    Examples
    --------
    >>> import numpy as np
    >>> oak_sides(np.array([1, 1, -1]), np.array([-1, -1, 1]), [True, False, True], np.array([False, False, True])).tolist()
    [1, -1, 0]
    """  # noqa: E501
    passes = ((by_density == 1) & ~clumped) | (np.asarray(follows_rule) & (by_plots == 1))
    fails = (by_density == -1) & (~np.asarray(follows_rule) | (by_plots == -1))
    return np.where(passes, 1, np.where(fails, -1, 0))
