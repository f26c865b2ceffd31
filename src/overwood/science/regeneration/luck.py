"""Luck that hangs on what it is for: a chance is a function of the seed, the process, the year, the space and the stem.

So two courses over the same future share every stroke of luck that both meet, whatever else differs between them.
"""

from __future__ import annotations

import math

import numpy as np

from overwood.science.regeneration.compiling import compiled, within

# The processes that draw luck.
CROP, TOGETHER, BURN_DAY, YEAR, VIGOR_LUCK, LIVE, RISE, BURN, RIVAL_BURN = 1, 2, 3, 4, 5, 6, 7, 8, 9
FELL, TOLERANT, PIONEER, PIONEER_LIVES, PLANT, SAMPLE, ACORN_LOOK, INJECT = 10, 11, 12, 13, 14, 15, 16, 17
_GOLDEN, _FIRST, _SECOND = np.uint64(0x9E3779B97F4A7C15), np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)
_YEAR, _PLACE, _STEM = np.uint64(0xD6E8FEB86659FD93), np.uint64(0xA0761D6478BD642F), np.uint64(0xE7037ED1A0B428DB)
_S30, _S27, _S31, _S11 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(11)
_UNIT = 2.0**-53
# Crops, burn weather and the growing season are one over a whole property; the rest is each stand's own.
_LAST_REGIONAL = YEAR
# A seed holds the luck of the property below this bit, and the stand's number above it (0 where one stand is looked at
# alone).
STAND_BIT = 31
_REGIONAL = (1 << STAND_BIT) - 1
# More stems than so many of one crop never rise on a space in one year, and up to so many are followed one by one.
_MANY, _FEW = 400.0, 6


@within
def _mixed(x):  # type: ignore[no-untyped-def]
    """The finalizer of SplitMix64 (Steele, Lea and Flood 2014)."""
    x = (x ^ (x >> _S30)) * _FIRST
    x = (x ^ (x >> _S27)) * _SECOND
    return x ^ (x >> _S31)


@compiled
def chance(seed, process, year, place, stem):  # type: ignore[no-untyped-def]
    """A number between 0 and 1 that depends on nothing but its arguments.

    Parameters
    ----------
    seed : int
        Seed of the future; of it crops, burn days and the year's growth read what lies below ``STAND_BIT`` only.
    process, year, place, stem : int
        What the luck is for.

    Returns
    -------
    float
        Chance, 0 to 1 (1 left out).

    Notes
    -----
    SplitMix64 over a weighed sum of the arguments, mixed twice: ``steele2014``.

    Examples
    --------
    >>> chance(1, 2, 3, 4, 5) == chance(1, 2, 3, 4, 5) != chance(1, 2, 3, 4, 6)
    True
    """
    own = seed & _REGIONAL if process <= _LAST_REGIONAL else seed
    x = _mixed(np.uint64(own) * _GOLDEN + np.uint64(process) * _YEAR + np.uint64(year) * _PLACE)
    x = _mixed(x + np.uint64(place) * _STEM + np.uint64(stem) * _GOLDEN)
    return np.float64(x >> _S11) * _UNIT


@compiled
def normal(seed, process, year, place):  # type: ignore[no-untyped-def]
    """A standard normal number that depends on nothing but its arguments (Box and Muller 1958)."""
    radius = math.sqrt(-2.0 * math.log(1.0 - chance(seed, process, year, place, 0)))
    return radius * math.cos(2.0 * math.pi * chance(seed, process, year, place, 1))


@compiled
def poisson_count(mean, u):  # type: ignore[no-untyped-def]
    """The count of a Poisson number at a chance; more of the mean never gives fewer.

    Parameters
    ----------
    mean : float
        Mean, 0 or more.
    u : float
        Chance, 0 to 1.

    Returns
    -------
    int
        Count.

    Examples
    --------
    >>> poisson_count(2.0, 0.1), poisson_count(2.0, 0.5), poisson_count(0.0, 0.99)
    (0, 2, 0)
    """
    part = math.exp(-min(mean, _MANY))
    total, count = part, 0
    while u > total and count < 2 * _MANY:
        count += 1
        part *= min(mean, _MANY) / count
        total += part
    return count


@compiled
def living(number, share, seed, process, year, place, stem):  # type: ignore[no-untyped-def]
    """How many of like stems live; a greater share never leaves fewer.

    Parameters
    ----------
    number : float
        Stems.
    share : float
        Chance that each lives, 0 to 1.
    seed, process, year, place, stem : int
        What the luck is for.

    Returns
    -------
    float
        Stems alive.
    """
    if number <= _FEW:
        left = 0.0
        for one in range(int(number)):
            left += chance(seed, process, year, place, stem + 7919 * one) < share
        return left
    z = normal(seed, process, year, place + 104729 * stem)
    return min(max(math.floor(number * share + z * math.sqrt(number * share * (1.0 - share)) + 0.5), 0.0), number)
