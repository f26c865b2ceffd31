"""Density, stocking, crowns and site of the standing trees: one function an equation.

Which species is midstory, and what counts as mature, are rules of judgement and do not live here.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.ground.species import serving
from overwood.ground.units import FT2_PER_ACRE, FT2_PER_IN2_OF_DBH
from overwood.science.density import TABLE

Array = NDArray[np.float64]
CROWN_TABLE = "science/tables/crown_width.csv"
SITE_TABLE = "science/tables/site_index.csv"
SITE_AGES_YR = (10.0, 100.0)
# Ends of a site index, and steps to it: from the lower end eight are exact to the last digits at every age.
_SITES_FT, _NEWTON_STEPS = (5.0, 200.0), 8


def basal_area_ft2(dbh_in: ArrayLike) -> Array:
    """Cross-section of a stem at breast height.

    Parameters
    ----------
    dbh_in : float or array
        Diameter at breast height [in].

    Returns
    -------
    float or array
        Basal area [ft2].

    Examples
    --------
    >>> round(float(basal_area_ft2(12)), 4)
    0.7854
    """
    return FT2_PER_IN2_OF_DBH * np.asarray(dbh_in, dtype=float) ** 2


def quadratic_mean_diameter_in(ba_ft2_ac: ArrayLike, tpa: ArrayLike) -> Array:
    """Diameter of the tree of mean basal area.

    Parameters
    ----------
    ba_ft2_ac : float or array
        Basal area [ft2/ac].
    tpa : float or array
        Trees per acre.

    Returns
    -------
    float or array
        Quadratic mean diameter [in]; NaN where there is no tree.

    Examples
    --------
    >>> round(float(quadratic_mean_diameter_in(90, 220)), 2)
    8.66
    """
    ba, n = np.asarray(ba_ft2_ac, dtype=float), np.asarray(tpa, dtype=float)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.sqrt(ba / n / FT2_PER_IN2_OF_DBH)


def open_crown_width_ft(dbh_in: ArrayLike) -> Array:
    """Crown width of an open-grown oak or hickory.

    Parameters
    ----------
    dbh_in : float or array
        Diameter at breast height [in].

    Returns
    -------
    float or array
        Crown width [ft].

    Notes
    -----
    Source: ``krajicek1961``, from memory.

    Examples
    --------
    >>> round(float(open_crown_width_ft(18)), 2)
    36.04
    """
    c = tables.constants(TABLE)
    return c["opencrown_b0"] + c["opencrown_b1"] * np.asarray(dbh_in, dtype=float)


def mean_diameter_in(qmd_in: ArrayLike) -> Array:
    """Arithmetic mean diameter of an even-aged upland oak stand from its quadratic mean.

    Parameters
    ----------
    qmd_in : float or array
        Quadratic mean diameter [in].

    Returns
    -------
    float or array
        Mean diameter [in].

    Notes
    -----
    Source: ``treearea_page``. Single-cohort stands only: with a midstory it overstates stocking.
    """
    c = tables.constants(TABLE)
    return c["meandiameter_b0"] + c["meandiameter_b1"] * np.asarray(qmd_in, dtype=float)


@dataclass(frozen=True)
class StockingLevels:
    """Basal area and trees per acre of full stocking (A) and of the B-line at one quadratic mean diameter."""

    a_tpa: Any
    a_ba_ft2_ac: Any
    b_tpa: Any
    b_ba_ft2_ac: Any


def stocking_levels(qmd_in: ArrayLike) -> StockingLevels:
    """A and B levels of an even-aged stand.

    Parameters
    ----------
    qmd_in : float or array
        Quadratic mean diameter [in].

    Returns
    -------
    StockingLevels
        Trees per acre and basal area of both lines, as numbers or arrays like the diameter.

    Notes
    -----
    Sources: ``gingrich1967``, ``krajicek1961``, ``treearea_page``.

    Examples
    --------
    >>> levels = stocking_levels(14)
    >>> round(levels.a_ba_ft2_ac, 1), round(levels.b_ba_ft2_ac, 1)
    (126.8, 72.8)
    """
    c, qmd = tables.constants(TABLE), np.asarray(qmd_in, dtype=float)
    mean, square, each = mean_diameter_in(qmd), qmd**2, basal_area_ft2(qmd)
    a_tpa = 100 / (c["treearea_b0"] + c["treearea_b1"] * mean + c["treearea_b2"] * square)
    b_tpa = 100 / (c["crownarea_b0"] + c["crownarea_b1"] * mean + c["crownarea_b2"] * square)
    levels = (a_tpa, a_tpa * each, b_tpa, b_tpa * each)
    return StockingLevels(*(levels if qmd.ndim else map(float, levels)))


def stocking_from_stand_pct(ba_ft2_ac: float, tpa: float) -> tuple[float, float]:
    """Stocking where only basal area and trees per acre are known.

    Parameters
    ----------
    ba_ft2_ac : float
        Basal area [ft2/ac].
    tpa : float
        Trees per acre.

    Returns
    -------
    tuple of float
        Stocking [%] and quadratic mean diameter [in].

    Notes
    -----
    Sources: ``gingrich1967``, ``treearea_page``. The sum over trees (:mod:`density`) is better where they are known.

    Examples
    --------
    >>> tuple(round(value, 1) for value in stocking_from_stand_pct(90, 220))
    (81.7, 8.7)
    """
    qmd = float(quadratic_mean_diameter_in(ba_ft2_ac, tpa))
    return 100 * tpa / stocking_levels(qmd).a_tpa, qmd


@functools.cache
def _crown_coefficients() -> dict[int, tuple[float, ...]]:
    return {
        int(row["spcd"]): tuple(float(row[key]) for key in ("b0", "b1", "b2", "b3", "b4"))
        for row in tables.rows(CROWN_TABLE)
    }


def crown_width_ft(spcd: int, dbh_in: ArrayLike, *, crown_ratio_pct: ArrayLike, hopkins_index: float) -> Array:
    """Crown width of a tree grown in a stand.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].
    crown_ratio_pct : float or array
        Live crown ratio [% of height].
    hopkins_index : float
        Bioclimatic index [days]; 0 stands for the reference point.

    Returns
    -------
    float or array
        Crown width [ft], never wider than an open-grown crown.

    Notes
    -----
    Source: ``bechtold2003``, from memory; the cap is ``krajicek1961``.

    Examples
    --------
    >>> round(float(crown_width_ft(802, 12, crown_ratio_pct=40, hopkins_index=0)), 2)
    23.34
    """
    b0, b1, b2, b3, b4 = _crown_coefficients()[serving(CROWN_TABLE, spcd)]
    dbh = np.asarray(dbh_in, dtype=float)
    width = b0 + b1 * dbh + b2 * dbh**2 + b3 * np.asarray(crown_ratio_pct, dtype=float) + b4 * hopkins_index
    return np.minimum(width, open_crown_width_ft(dbh))


def crown_area_pct_ac(crown_width: ArrayLike) -> Array:
    """Ground one round crown covers, as percent of an acre.

    Parameters
    ----------
    crown_width : float or array
        Crown width [ft].

    Returns
    -------
    float or array
        Percent of an acre [%].
    """
    return 100 * np.pi / 4 * np.asarray(crown_width, dtype=float) ** 2 / FT2_PER_ACRE


def cover_from_crown_area_pct(total_crown_area_pct: ArrayLike) -> Array:
    """Ground covered by crowns that overlap as chance has it.

    Parameters
    ----------
    total_crown_area_pct : float or array
        Sum of crown areas [% of the ground].

    Returns
    -------
    float or array
        Covered ground [%].

    Notes
    -----
    Random overlap (``geometry``); trees that avoid one another cover more.

    Examples
    --------
    >>> round(float(cover_from_crown_area_pct(100)), 1)
    63.2
    """
    return 100 * (1 - np.exp(-np.asarray(total_crown_area_pct, dtype=float) / 100))


@functools.cache
def _site_coefficients() -> dict[int, tuple[float, ...]]:
    return {
        int(row["spcd"]): tuple(float(row[key]) for key in ("b1", "b2", "b3", "b4", "b5"))
        for row in tables.rows(SITE_TABLE)
    }


def dominant_height_ft(spcd: int, age_yr: ArrayLike, site_index_ft: ArrayLike) -> Array:
    """Height of dominant trees from age and site index.

    Parameters
    ----------
    spcd : int
        FIA species code.
    age_yr : float or array
        Total age [yr].
    site_index_ft : float or array
        Site index at base age 50 [ft].

    Returns
    -------
    float or array
        Height [ft].

    Notes
    -----
    Source: ``carmean1989``, from memory; ages 10 to 100, site index 40 to 90.

    Examples
    --------
    >>> round(float(dominant_height_ft(837, 80, 70)), 1)
    87.0
    """
    b1, b2, b3, b4, b5 = _site_coefficients()[serving(SITE_TABLE, spcd)]
    site = np.asarray(site_index_ft, dtype=float)
    return b1 * site**b2 * (1 - np.exp(b3 * np.asarray(age_yr, dtype=float))) ** (b4 * site**b5)


def site_index_ft(spcd: int, age_yr: ArrayLike, height_ft: ArrayLike) -> Array:
    """Site index of a dominant tree, by inverting the height curve.

    Parameters
    ----------
    spcd : int
        FIA species code.
    age_yr : float or array
        Total age [yr].
    height_ft : float or array
        Total height [ft].

    Returns
    -------
    float or array
        Site index at base age 50 [ft], within 5 to 200.

    Notes
    -----
    Source: ``carmean1989``, from memory. Height and index curves were printed as separate fits; inverting the height
    curve keeps both directions equal. Newton's steps on logarithms, where the curve bends one way only.

    Examples
    --------
    >>> round(float(site_index_ft(837, 80, 87.0)), 1)
    70.0
    """
    b1, b2, b3, b4, b5 = _site_coefficients()[serving(SITE_TABLE, spcd)]
    age, height = np.broadcast_arrays(np.asarray(age_yr, dtype=float), np.asarray(height_ft, dtype=float))
    ends = np.log(_SITES_FT)
    grown, tall, log = b4 * np.log(1 - np.exp(b3 * age)), np.log(height / b1), np.full(height.shape, ends[0])
    for _ in range(_NEWTON_STEPS):
        shape = grown * np.exp(b5 * log)
        log = np.clip(log + (tall - b2 * log - shape) / (b2 + b5 * shape), *ends)
    return np.exp(log)
