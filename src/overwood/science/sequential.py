"""Stopping early: is a mean inside a span, judged again and again while points come in, without being fooled by looking
often."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from overwood.science import survey

VERDICTS = ("inside", "below", "above", "more points", "undecided")


@dataclass(frozen=True)
class Looked:
    """What the looks say: a verdict of VERDICTS, after how many points, and the interval then."""

    verdict: str
    n: int
    mean: float
    low: float
    high: float
    next_look: int | None


def judge(values: ArrayLike, low: float, high: float, *, error: float, step: int, looks: int) -> Looked:
    """Judge whether the mean lies between two ends, looking after every few points, at most so many times.

    Parameters
    ----------
    values : array, shape (n,)
        One value per point, in the order they were taken.
    low, high : float
        Ends of the span wanted.
    error : float
        Greatest chance of a wrong verdict when the mean sits at an end, over all looks together.
    step : int
        Points between looks.
    looks : int
        How many looks at most.

    Returns
    -------
    Looked
        inside, below or above where a look decided; more points before the last look; undecided after it.

    Notes
    -----
    t-intervals at level 1 - 2 error / looks: each end is judged with error / looks at every look, and the parts add up
    to no more than the error (Bonferroni, ``geometry``).

    Examples
    --------
    >>> judge([60, 58, 62, 59, 61], 50, 70, error=0.1, step=5, looks=8).verdict
    'inside'
    """
    taken, level = np.asarray(values, dtype=float), 1 - 2 * error / looks
    last = min(len(taken) // step, looks)
    for look in range(1, last + 1):
        estimate = survey.sample_mean(taken[: look * step], level=level)
        verdict = _verdict(estimate, low, high)
        if verdict:
            return Looked(verdict, estimate.n, estimate.mean, estimate.low, estimate.high, None)
    estimate = survey.sample_mean(taken[: last * step] if last else taken, level=level)
    if last == looks:
        return Looked("undecided", estimate.n, estimate.mean, estimate.low, estimate.high, None)
    return Looked("more points", estimate.n, estimate.mean, estimate.low, estimate.high, (last + 1) * step)


def t_values(*, error: float, step: int, looks: int) -> list[float]:
    """Student's t of each look of `judge`, so that a device without a statistics library judges alike.

    Parameters
    ----------
    error : float
        Greatest chance of a wrong verdict over all looks together.
    step : int
        Points between looks.
    looks : int
        How many looks at most.

    Returns
    -------
    list of float
        One value a look: the half-width of the interval in standard errors.

    Examples
    --------
    >>> [round(t, 3) for t in t_values(error=0.1, step=5, looks=2)]
    [2.132, 1.833]
    """
    from scipy.special import stdtrit

    return [float(stdtrit(look * step - 1, 1 - error / looks)) for look in range(1, looks + 1)]


def _verdict(estimate: survey.Estimate, low: float, high: float) -> str:
    if estimate.low >= low and estimate.high <= high:
        return "inside"
    if estimate.high < low:
        return "below"
    return "above" if estimate.low > high else ""
