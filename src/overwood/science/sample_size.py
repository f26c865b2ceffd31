"""How many plots an answer wants: for a mean, a share, a density of clumped stems."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from overwood.science.survey import t_quantile, z_quantile

_MAX_PLOTS = 10_000_000


def plots_needed(cv_pct: float, error_pct: float, *, level: float, population: float | None = None) -> int:
    """Plots for a wanted error of a mean, with Student's t found by iteration.

    Parameters
    ----------
    cv_pct : float
        Coefficient of variation between plots [%].
    error_pct : float
        Wanted half-width of the interval [% of the mean].
    level : float
        Two-sided confidence, 0 to 1.
    population : float, optional
        Plots that would fill the whole area.

    Returns
    -------
    int
        Number of plots.

    Notes
    -----
    Source: ``freese1962``; n = (t CV / E)^2, or 1 / ((E / t CV)^2 + 1 / N).

    Examples
    --------
    >>> plots_needed(45, 10, level=0.9)
    57
    """

    def enough(n: int) -> bool:
        wanted = (float(t_quantile(level, n - 1)) * cv_pct / error_pct) ** 2
        if population:
            wanted = 1 / (1 / wanted + 1 / population) if wanted else 0.0
        return n >= wanted

    return first_true(enough, 2)


def first_true(enough: Callable[[int], bool], start: int) -> int:
    """The smallest whole number from ``start`` on for which a rising condition holds, by doubling and halving."""
    low, high = start, start
    while not enough(high):
        low, high = high + 1, high * 2
        if high > _MAX_PLOTS:
            return _MAX_PLOTS
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle + 1, high)
    return low


def plots_for_proportion(share: float, margin: float, *, level: float) -> int:
    """Plots for a wanted margin of a share.

    Parameters
    ----------
    share : float
        Share expected, 0 to 1.
    margin : float
        Wanted half-width, 0 to 1.
    level : float
        Two-sided confidence, 0 to 1.

    Returns
    -------
    int
        Number of plots, by the normal approximation.

    Examples
    --------
    >>> plots_for_proportion(0.59, 0.10, level=0.9)
    66
    """
    return int(np.ceil(z_quantile(level) ** 2 * share * (1 - share) / margin**2 - 1e-9))


def clumping_k(counts: ArrayLike) -> float:
    """Clumping of counts on equal plots, by moments; infinity when no more clumped than chance.

    Parameters
    ----------
    counts : array, shape (n,)
        Stems per plot.

    Returns
    -------
    float
        k of the negative binomial; NaN where the counts carry no information (fewer than two plots, or all empty).

    Examples
    --------
    >>> round(clumping_k([0, 0, 5, 1, 0, 3, 0, 0]), 2)
    0.52
    """
    y = np.asarray(counts, dtype=float)
    if y.size < 2 or y.sum() == 0:
        return float("nan")
    mean, variance = float(y.mean()), float(y.var(ddof=1))
    return mean**2 / (variance - mean) if variance > mean else float("inf")
