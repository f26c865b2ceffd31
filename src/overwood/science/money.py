"""Money over time: present value, yearly equivalent, land value, rate of return. Rates are shares a year, all real or all nominal."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


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


def compounded(amounts: ArrayLike, years: ArrayLike, end_yr: float, rate: float) -> float:
    """A stream carried forward to the end of a rotation.

    Parameters
    ----------
    amounts : array, shape (n,)
        Amounts [US$/ac].
    years : array, shape (n,)
        When each falls [yr].
    end_yr : float
        End of the rotation [yr].
    rate : float
        Rate of return [share a year].

    Returns
    -------
    float
        Value at the end [US$/ac].
    """
    return net_present_value(amounts, years, rate) * (1 + rate) ** end_yr


def rate_of_return(amounts: ArrayLike, years: ArrayLike) -> float:
    """The rate at which a stream is worth nothing now.

    Parameters
    ----------
    amounts : array, shape (n,)
        Amounts with both signs among them [US$].
    years : array, shape (n,)
        When each falls [yr].

    Returns
    -------
    float
        Internal rate of return [share a year]; NaN where there is none between -0.99 and 10, or where the sign of the
        present value changes more than once so that the rate has no single meaning.

    Notes
    -----
    Found by bisection on a grid (``geometry``).

    Examples
    --------
    >>> round(rate_of_return([-200, 330], [0, 10]), 4)
    0.0514
    """
    grid = np.concatenate([np.linspace(-0.99, 1.0, 400), np.linspace(1.01, 10.0, 200)])
    values = np.array([net_present_value(amounts, years, rate) for rate in grid])
    turns = np.flatnonzero(np.sign(values[:-1]) * np.sign(values[1:]) < 0)
    if len(turns) != 1:
        return float("nan")
    low, high = grid[turns[0]], grid[turns[0] + 1]
    falling = values[turns[0]] > 0
    for _ in range(100):
        middle = (low + high) / 2
        above = net_present_value(amounts, years, middle) > 0
        low, high = (middle, high) if above == falling else (low, middle)
    return float((low + high) / 2)


def real_rate(nominal: float, inflation: float) -> float:
    """Real rate behind a nominal one.

    Parameters
    ----------
    nominal, inflation : float
        Rates [share a year].

    Returns
    -------
    float
        Real rate [share a year].

    Examples
    --------
    >>> round(real_rate(0.07, 0.03), 4)
    0.0388
    """
    return (1 + nominal) / (1 + inflation) - 1


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
