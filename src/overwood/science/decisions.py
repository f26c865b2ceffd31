"""The arithmetic of the gates: intervals, and on which side of a threshold they lie.

Plain arithmetic on numbers, so that the advice calls these functions as they stand and the simulated forester calls the same
ones compiled. Sides are 1 (open), 0 (unsure) and -1 (shut).
"""

from __future__ import annotations

import math

OPEN, UNSURE, SHUT = 1, 0, -1


def wilson_ends(hits: float, n: float, z: float) -> tuple[float, float]:
    """Bounds of a share by inverting the score test.

    Parameters
    ----------
    hits, n : float
        Plots (or trees) that have it, and those looked at.
    z : float
        Normal quantile of each side.

    Returns
    -------
    tuple
        Low and high share, 0 to 1.

    Notes
    -----
    Source: ``wilson1927``; as ``survey.wilson_interval`` for one share.

    Examples
    --------
    >>> low, high = wilson_ends(42, 60, 1.2815515655446004)
    >>> round(low, 3), round(high, 3)
    (0.62, 0.77)
    """
    share = hits / n
    centre = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return max(centre - half, 0.0), min(centre + half, 1.0)


def mean_ends(total: float, squares: float, n: float, t: float) -> tuple[float, float]:
    """Bounds of a mean of plots.

    Parameters
    ----------
    total, squares : float
        Sum of the plots' values and of their squares.
    n : float
        Plots, two or more.
    t : float
        Student quantile of each side for n - 1 degrees of freedom.

    Returns
    -------
    tuple
        Low (not under 0) and high.

    Notes
    -----
    Source: ``freese1962``; as ``survey.sample_mean``.

    Examples
    --------
    >>> low, high = mean_ends(40.0, 410.0, 4, 2.353)
    >>> round(low, 2), round(high, 2)
    (7.85, 12.15)
    """
    half = t * math.sqrt(max(squares - total * total / n, 0.0) / (n - 1) / n)
    return max(total / n - half, 0.0), total / n + half


def side(low: float, high: float, needed: float) -> int:
    """On which side of a threshold an interval lies.

    Parameters
    ----------
    low, high : float
        Bounds.
    needed : float
        The threshold.

    Returns
    -------
    int
        1 at or above it, -1 below it, 0 across it.

    Examples
    --------
    >>> side(3, 5, 3), side(1, 2, 3), side(2, 4, 3)
    (1, -1, 0)
    """
    if low >= needed:
        return 1
    return -1 if high < needed else 0


def density_side(mean: float, low: float, high: float, needed: float, least: float) -> int:
    """Whether stems an acre are enough by the trade's several-hundred rule.

    Parameters
    ----------
    mean, low, high : float
        Stems an acre and their one-sided bounds.
    needed, least : float
        Stems wanted, and what the lower bound must reach.

    Returns
    -------
    int
        1, 0 or -1.

    Examples
    --------
    >>> density_side(450, 320, 580, 400, 300), density_side(450, 280, 620, 400, 300), density_side(200, 120, 280, 400, 300)
    (1, 0, -1)
    """
    if high < needed:
        return -1
    return 1 if mean >= needed and low >= least else 0


def is_clumped(stocked_share: float, stems_per_plot: float, ratio: float) -> bool:
    """Whether stems stand in clumps: fewer plots hold one than random spread would fill.

    Parameters
    ----------
    stocked_share : float
        Share of plots with a stem, 0 to 1.
    stems_per_plot : float
        Mean count.
    ratio : float
        Share of the random stocking under which stems count as clumped.

    Returns
    -------
    bool
        False without stems.

    Examples
    --------
    >>> is_clumped(0.2, 1.0, 0.75), is_clumped(0.6, 1.0, 0.75)
    (True, False)
    """
    if stems_per_plot <= 0:
        return False
    return stocked_share / (1 - math.exp(-stems_per_plot)) < ratio


def oak_side(by_plots: int, by_density: int, follows_rule: bool, clumped: bool) -> int:
    """Whether the oak is enough by either rule.

    Parameters
    ----------
    by_plots, by_density : int
        Sides by the stocked-plot rule and by stems an acre.
    follows_rule : bool
        Whether the plots have the size the stocked-plot rule was made for.
    clumped : bool
        Clumped stems do not pass by their number alone.

    Returns
    -------
    int
        1 where either passes, -1 where all that apply fail, else 0.

    Examples
    --------
    >>> oak_side(1, -1, True, False), oak_side(1, -1, False, False), oak_side(-1, 1, True, True)
    (1, -1, 0)
    """
    density = 0 if by_density == 1 and clumped else by_density
    if density == 1 or (follows_rule and by_plots == 1):
        return 1
    return -1 if density == -1 and (not follows_rule or by_plots == -1) else 0


def fire_spares(bears: bool, years_since_good: float, wait_yr: float) -> bool:
    """Whether a burn would spare wanted acorns and seedlings.

    Parameters
    ----------
    bears : bool
        Whether wanted acorns lie on the ground.
    years_since_good : float
        Years since the last good crop.
    wait_yr : float
        Age from which seedlings may see fire [yr].

    Returns
    -------
    bool
        True where neither acorns nor young seedlings would burn.

    Examples
    --------
    >>> fire_spares(False, 4, 3), fire_spares(False, 1, 3), fire_spares(True, 9, 3)
    (True, False, False)
    """
    return not bears and years_since_good >= wait_yr
