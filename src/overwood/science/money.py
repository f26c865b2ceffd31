"""Money over time: present value, yearly equivalent, land value, rate of return. Rates are shares a year, all real or
all nominal."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
# The grid of rates looked at for roots, in the logarithm of 1 + rate, and what counts as nothing beside the largest
# amount.
_MOST_LOG_RATE, _LOG_RATES, _ZERO = 12.0, 6_001, 1e-13


def net_present_value(amounts: ArrayLike, years: ArrayLike, rate: float) -> float:
    """Present value of a stream of costs and incomes.

    Parameters
    ----------
    amounts : array, shape (n,)
        Amounts, incomes above zero and costs below [US$ or US$/ac].
    years : array, shape (n,)
        When each falls, years from now [yr].
    rate : float
        Rate of return [share a year].

    Returns
    -------
    float
        Present value [as the amounts].

    Notes
    -----
    Sum of amount / (1 + rate)^year (``geometry``).

    Examples
    --------
    >>> round(net_present_value([-100, 3000], [0, 40], 0.05), 2)
    326.14
    """
    when = np.asarray(years, dtype=float)
    return float((np.asarray(amounts, dtype=float) / (1 + rate) ** when).sum())


def annual_equivalent(npv: float, rate: float, years: float) -> float:
    """The yearly income that is worth as much as a present value over so many years.

    Parameters
    ----------
    npv : float
        Present value [US$].
    rate : float
        Rate of return [share a year].
    years : float
        How long [yr].

    Returns
    -------
    float
        Yearly amount [US$].

    Notes
    -----
    npv rate / (1 - (1 + rate)^-years); npv / years at a rate of zero (``geometry``).

    Examples
    --------
    >>> round(annual_equivalent(1000, 0.04, 20), 2)
    73.58
    """
    return npv / years if rate == 0 else npv * rate / (1 - (1 + rate) ** -years)


def land_expectation_value(net_income: float, rotation_yr: float, rate: float) -> float:
    """Value of bare land that repeats one net income at the end of every rotation, for ever.

    Parameters
    ----------
    net_income : float
        Income less costs, all carried to the end of the rotation [US$/ac].
    rotation_yr : float
        Rotation [yr].
    rate : float
        Rate of return, above zero [share a year].

    Returns
    -------
    float
        Land value [US$/ac].

    Notes
    -----
    Source: ``zobrist``: net income / ((1 + rate)^rotation - 1).

    Examples
    --------
    >>> round(land_expectation_value(-100 * 1.05**40 + 3000, 40, 0.05), 2)
    380.13
    """
    return net_income / ((1 + rate) ** rotation_yr - 1)


def sign_changes(amounts: ArrayLike, years: ArrayLike) -> int:
    """How often a stream, summed year by year, turns from cost to income or back.

    Parameters
    ----------
    amounts : array, shape (n,)
        Amounts [US$].
    years : array, shape (n,)
        When each falls [yr].

    Returns
    -------
    int
        Turns; a stream of one turn has exactly one rate of return, one of none has none.

    Notes
    -----
    Descartes' rule of signs on the stream in time order (``geometry``).

    Examples
    --------
    >>> sign_changes([-100, 230, -132], [0, 1, 2])
    2
    """
    _, sums = _by_year(amounts, years)
    signs = np.sign(sums[sums != 0])
    return int((signs[1:] != signs[:-1]).sum())


def _by_year(amounts: ArrayLike, years: ArrayLike) -> tuple[Array, Array]:
    """Sums of a stream year by year, in order of time."""
    when, place = np.unique(np.asarray(years, dtype=float), return_inverse=True)
    return np.asarray(when, dtype=float), np.asarray(
        np.bincount(place, weights=np.asarray(amounts, dtype=float)), dtype=float
    )


def rates_of_return(amounts: ArrayLike, years: ArrayLike) -> tuple[float, ...]:
    """Every rate at which a stream is worth nothing now.

    Parameters
    ----------
    amounts : array, shape (n,)
        Amounts [US$].
    years : array, shape (n,)
        When each falls [yr].

    Returns
    -------
    tuple of float
        Internal rates of return, lowest first [share a year]; empty where there is none.

    Notes
    -----
    Roots in the logarithm of 1 + rate, from a rate of -99% to one of e^12, found between the points of a grid
    (``geometry``). Two rates closer together than 0.3% of 1 + rate may be missed where the sign turns twice.

    Examples
    --------
    >>> [round(rate, 6) for rate in rates_of_return([-100, 230, -132], [0, 1, 2])]
    [0.1, 0.2]
    >>> [round(rate, 6) for rate in rates_of_return([-1, 100], [0, 1])]
    [99.0]
    """
    from scipy.optimize import brentq

    if sign_changes(amounts, years) == 0:
        return ()
    when, sums = _by_year(amounts, years)
    sums, when = sums / np.abs(sums).max(), when - when[0]

    def worth(log_rate: float | Array) -> Array:
        # Scaled by the largest term: the root is the same and nothing overflows.
        powers = np.multiply.outer(-np.asarray(log_rate), when)
        return np.exp(powers - powers.max(axis=-1, keepdims=True)) @ sums

    grid = np.linspace(np.log(0.01), _MOST_LOG_RATE, _LOG_RATES)
    values = worth(grid)
    values[np.abs(values) < _ZERO] = 0.0
    roots = [float(grid[at]) for at in np.flatnonzero(values == 0)]
    turns = np.flatnonzero(values[:-1] * values[1:] < 0)
    roots += [float(brentq(worth, grid[at], grid[at + 1], xtol=1e-14, rtol=1e-13)) for at in turns]
    return tuple(sorted(float(np.expm1(root)) for root in roots))


def cost_of_waiting(value: float, *, growth: float, rate: float, years: float) -> float:
    """What is lost by taking a value that grows so many years later.

    Parameters
    ----------
    value : float
        Value now [US$/ac].
    growth, rate : float
        Growth of the value and rate of return [share a year].
    years : float
        Delay [yr].

    Returns
    -------
    float
        Loss [US$/ac]; below zero where the value grows faster than the rate.

    Examples
    --------
    >>> round(cost_of_waiting(2600, growth=0.02, rate=0.04, years=3))
    147
    """
    return value * (1 - ((1 + growth) / (1 + rate)) ** years)
