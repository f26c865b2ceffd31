"""How standing trees grow and die: yearly diameter increment and survival, by equations fitted to one open data set.

The published models (Teck and Hilt, Shifley) could not be read, so these fits stand in and say so.
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.ground.species import stand_in
from overwood.ground.units import FT2_PER_IN2_OF_DBH

Array = NDArray[np.float64]
GROWTH_TABLE = "science/tables/diameter_growth.csv"
MORTALITY_TABLE = "science/tables/mortality.csv"


@functools.cache
def _growth() -> dict[int, tuple[float, ...]]:
    return {int(r["spcd"]): tuple(float(r[k]) for k in ("b1", "b2", "b3", "b4", "rse_in_yr")) for r in tables.rows(GROWTH_TABLE)}


def growth_species(spcd: int) -> int:
    """The species whose increment equation serves for ``spcd``.

    Parameters
    ----------
    spcd : int
        FIA species code.

    Returns
    -------
    int
        Itself; pignut hickory for a hickory, white oak for white oaks, black oak for red oaks, red maple otherwise.
    """
    return stand_in(spcd, _growth(), hickory=403, white_oak=802, red_oak=837, other=316)


def diameter_growth_in_yr(spcd: int, dbh_in: ArrayLike, ba_larger_ft2_ac: ArrayLike) -> Array:
    """Yearly increment of diameter.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].
    ba_larger_ft2_ac : float or array
        Basal area in larger trees [ft2/ac].

    Returns
    -------
    float or array
        Increment [in/yr].

    Notes
    -----
    b1 dbh^b2 exp(-b3 dbh) exp(-b4 larger); own fits to ``scbi`` (an assumption): one unmanaged site of about 147 ft2/ac.
    Single trees vary by 0.04 to 0.10 in. a year; nothing there was thinned.

    Examples
    --------
    >>> round(float(diameter_growth_in_yr(802, 16, 30)), 3)
    0.131
    """
    b1, b2, b3, b4, _ = _growth()[growth_species(spcd)]
    dbh, larger = np.asarray(dbh_in, dtype=float), np.asarray(ba_larger_ft2_ac, dtype=float)
    return b1 * dbh**b2 * np.exp(-b3 * dbh - b4 * larger)


def growth_error_in_yr(spcd: int) -> float:
    """Scatter of single trees about the increment equation.

    Parameters
    ----------
    spcd : int
        FIA species code.

    Returns
    -------
    float
        Residual standard error [in/yr].
    """
    return _growth()[growth_species(spcd)][4]


@functools.cache
def _mortality() -> dict[int, tuple[tuple[float, float], ...]]:
    found: dict[int, list[tuple[float, float]]] = {}
    for row in tables.rows(MORTALITY_TABLE):
        found.setdefault(int(row["spcd"]), []).append((float(row["high_in"]), float(row["rate_yr"])))
    return {spcd: tuple(sorted(classes)) for spcd, classes in found.items()}


def mortality_yr(spcd: int, dbh_in: ArrayLike) -> Array:
    """Chance that a tree dies in a year.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].

    Returns
    -------
    float or array
        Chance a year, 0 to 1.

    Notes
    -----
    Dead over tree-years of two censuses of ``scbi`` (an assumption), by species and size; a species without a row
    borrows that of :func:`growth_species`. Declining stands lose more (``fan2011``).

    Examples
    --------
    >>> 0 < float(mortality_yr(802, 18)) < 0.02
    True
    """
    source = spcd if spcd in _mortality() else growth_species(spcd)
    classes = _mortality().get(source, _mortality()[316])
    highs, rates = np.array([high for high, _ in classes]), np.array([rate for _, rate in classes])
    return rates[np.clip(np.searchsorted(highs, np.asarray(dbh_in, dtype=float), side="right"), 0, len(rates) - 1)]


def larger_basal_area(dbh_in: Array, ba_ft2_ac: Array) -> Array:
    """Basal area in trees larger than each tree of a list.

    Parameters
    ----------
    dbh_in : array, shape (n,)
        Diameters [in].
    ba_ft2_ac : array, shape (n,)
        What each stands for [ft2/ac].

    Returns
    -------
    array, shape (n,)
        Basal area of larger trees [ft2/ac]; trees of equal size do not count.

    Examples
    --------
    >>> larger_basal_area(np.array([10.0, 20.0, 20.0]), np.array([1.0, 2.0, 3.0])).tolist()
    [5.0, 0.0, 0.0]
    """
    order = np.argsort(dbh_in, kind="stable")
    sizes, cumulative = dbh_in[order], np.concatenate([[0.0], np.cumsum(ba_ft2_ac[order])])
    return cumulative[-1] - cumulative[np.searchsorted(sizes, dbh_in, side="right")]


def project(spcd: NDArray[np.int64], dbh_in: Array, per_ac: Array, years: int, *, release: Array) -> tuple[Array, Array]:
    """Grow a tree list year by year.

    Parameters
    ----------
    spcd : array of int, shape (n,)
        Species.
    dbh_in : array, shape (n,)
        Diameters [in].
    per_ac : array, shape (n,)
        Trees per acre each stands for.
    years : int
        How long.
    release : array, shape (years,)
        Multiplier of the increment in each year (an assumption; 1 for none).

    Returns
    -------
    tuple of array, each of shape (n,)
        Diameters [in] and trees per acre after the years; no ingrowth.

    Notes
    -----
    Competition is taken from the list itself each year (``geometry``); increment and survival as in this room.
    """
    dbh, trees = dbh_in.astype(float).copy(), per_ac.astype(float).copy()
    for year in range(years):
        larger = larger_basal_area(dbh, FT2_PER_IN2_OF_DBH * dbh**2 * trees)
        grown, dying = np.zeros_like(dbh), np.zeros_like(dbh)
        for code in np.unique(spcd):
            mine = spcd == code
            grown[mine] = diameter_growth_in_yr(int(code), dbh[mine], larger[mine]) * release[year]
            dying[mine] = mortality_yr(int(code), dbh[mine])
        dbh, trees = dbh + grown, trees * (1 - dying)
    return dbh, trees
