"""The arithmetic of the gates: intervals, and on which side of a threshold they lie.

Plain arithmetic on numbers, so that the advice calls these functions as they stand and the simulated forester calls the
same ones compiled. Sides are 1 (open), 0 (unsure) and -1 (shut).
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


def share_ends(hits: float, n: float, z: float, step: float) -> tuple[float, float]:
    """Bounds of a share by the score test with a continuity step; exact where none or all have it.

    Parameters
    ----------
    hits, n : float
        Plots (or trees) that have it, and those looked at; fractions where places stand for looks.
    z : float
        Normal quantile of each side.
    step : float
        How far the hits are moved outward before each bound is taken [plots].

    Returns
    -------
    tuple
        Low and high share, 0 to 1. Neither falls when a plot more has it.

    Notes
    -----
    Sources: ``wilson1927``, ``newcombe1998one`` (the step), ``clopper1934`` (none or all).

    Examples
    --------
    >>> low, high = share_ends(42, 60, 1.2815515655446004, 0.25)
    >>> round(low, 3), round(high, 3)
    (0.615, 0.773)
    >>> low, high = share_ends(0, 40, 1.2815515655446004, 0.25)
    >>> round(low, 3), round(high, 3)
    (0.0, 0.056)
    """
    # Written out, for a compiled function calls no plain one.
    tail, c = 0.5 * math.erfc(z / math.sqrt(2.0)), z * z / n
    low, high = 0.0, 1.0
    if hits >= n:
        low = tail ** (1 / n)
    elif hits > 0:
        share = max(hits - step, 0.0) / n
        low = max((share + c / 2 - math.sqrt(c * share * (1 - share) + c * c / 4)) / (1 + c), 0.0)
    if hits <= 0:
        high = 1 - tail ** (1 / n)
    elif hits < n:
        share = min((hits + step) / n, 1.0)
        high = min((share + c / 2 + math.sqrt(c * share * (1 - share) + c * c / 4)) / (1 + c), 1.0)
    return low, high


def count_ends(total: float, n: float, z: float, clumping_k: float) -> tuple[float, float]:
    """Bounds of stems a plot by the number counted, with the clumping taken as known.

    Parameters
    ----------
    total, n : float
        Stems counted on all plots, and plots.
    z : float
        Normal quantile of each side.
    clumping_k : float
        Clumping of the negative binomial.

    Returns
    -------
    tuple
        Low and high; high is infinite where so few plots set no bound. Neither falls when a stem more is counted.

    Notes
    -----
    The score interval of a negative binomial mean, variance m + m2 / k (``mccullagh1989``), and the exact Poisson bound
    where that is wider (``garwood1936``). A clumping measured on the same plots would move with every stem, so that one
    oak more could count against the oak.

    Examples
    --------
    >>> low, high = count_ends(22, 40, 1.2815515655446004, 0.6)
    >>> round(735 * low), round(735 * high)
    (285, 615)
    >>> count_ends(0, 40, 1.2815515655446004, 0.6)[1] * 735 > 42
    True
    """
    tail = 0.5 * math.erfc(z / math.sqrt(2.0))
    none = -math.log(tail) / n
    if total <= 0:
        return 0.0, none
    mean, c = total / n, z * z / n
    middle, shrink = 2 * mean + c, 1 - c / clumping_k
    root = math.sqrt(max(middle * middle - 4 * shrink * mean * mean, 0.0))
    high = (middle + root) / (2 * shrink) if shrink > 0 else math.inf
    return 2 * mean * mean / (middle + root), max(high, none)


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
    >>> density_side(400, 300, 580, 400, 300), density_side(450, 280, 620, 400, 300), density_side(200, 120, 280, 400, 300)
    (1, 0, -1)
    """  # noqa: E501
    if high < needed:
        return -1
    return 1 if mean >= needed and low >= least else 0


def stocked_by(stems_ac: float, plot_ac: float) -> float:
    """Share of plots that so many stems an acre would stock if they stood at random.

    Parameters
    ----------
    stems_ac : float
        Stems an acre.
    plot_ac : float
        Plot size [ac].

    Returns
    -------
    float
        Share, 0 to 1.

    Examples
    --------
    >>> round(stocked_by(400, 1 / 735), 2)
    0.42
    """
    return 1 - math.exp(-stems_ac * plot_ac)


def is_clumped(stocked_share: float, needed_ac: float, plot_ac: float, ratio: float) -> bool:
    """Whether stems stand in clumps: they stock too few plots to be the number wanted, well spread.

    Parameters
    ----------
    stocked_share : float
        Share of plots with a stem, 0 to 1.
    needed_ac : float
        Stems wanted an acre; not the stems seen, so that a stem more never counts against the stand.
    plot_ac : float
        Plot size [ac].
    ratio : float
        Share of the plots which that many stems at random would stock.

    Returns
    -------
    bool
        True where fewer plots are stocked.

    Examples
    --------
    >>> is_clumped(0.2, 400, 1 / 735, 0.75), is_clumped(0.35, 400, 1 / 735, 0.75)
    (True, False)
    """
    return stocked_share < ratio * (1 - math.exp(-needed_ac * plot_ac))


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
    >>> oak_side(0, -1, True, False), oak_side(-1, -1, True, False)
    (0, -1)
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
