"""Wood and bark of a species: thickness, weight and biomass."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.ground.species import serving
from overwood.ground.units import IN_PER_CM, LB_PER_KG, LB_PER_TON

Array = NDArray[np.float64]
BIOMASS_TABLE = "science/tables/biomass.csv"
WOOD_TABLE = "science/tables/wood.csv"
FOOT_TABLE = "science/tables/bark_at_foot.csv"


@functools.cache
def _wood() -> dict[int, dict[str, str]]:
    return {int(row["spcd"]): row for row in tables.rows(WOOD_TABLE)}


def inside_bark_ratio(spcd: int) -> float:
    """Diameter inside bark over diameter outside, as an average of the stem.

    Parameters
    ----------
    spcd : int
        FIA species code.

    Returns
    -------
    float
        Ratio, 1 / sqrt(1 + bark share of wood volume).

    Notes
    -----
    Source: ``fia_species``; a stem average, thin at breast height for some species.

    Examples
    --------
    >>> round(inside_bark_ratio(802), 4)
    0.9285
    """
    share = float(_wood()[serving(WOOD_TABLE, spcd)]["bark_pct_of_wood"]) / 100
    return float(1 / np.sqrt(1 + share))


def bark_thickness_in(spcd: int, dbh_in: ArrayLike) -> Array:
    """Bark on one side of the stem, as an average of the stem.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].

    Returns
    -------
    float or array
        Thickness [in].

    Notes
    -----
    Source: ``fia_species``. For volume, not for heat.

    Examples
    --------
    >>> round(float(bark_thickness_in(802, 12)), 2)
    0.43
    """
    return np.asarray(dbh_in, dtype=float) * (1 - inside_bark_ratio(spcd)) / 2


@functools.cache
def _foot() -> dict[int, dict[str, str]]:
    return {int(row["spcd"]): row for row in tables.rows(FOOT_TABLE)}


def foot_bark_in(spcd: int, dbh_in: ArrayLike, end: str = "ratio") -> Array:
    """Bark on one side of the stem where a surface fire heats it, from the foot to breast height.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].
    end : str
        ``ratio``, or ``low`` and ``high`` for the ends of its range.

    Returns
    -------
    float or array
        Thickness [in].

    Notes
    -----
    Assumption: ratios of bark to dbh recalled from the trade, each with its range in the table. For heat, not for
    volume.

    Examples
    --------
    >>> [round(float(foot_bark_in(code, 12)), 2) for code in (802, 833, 316)]
    [0.48, 0.36, 0.34]
    """
    return np.asarray(dbh_in, dtype=float) * float(_foot()[serving(FOOT_TABLE, spcd)][end])


def green_lb_ft3(spcd: int) -> float:
    """Weight of green wood.

    Parameters
    ----------
    spcd : int
        FIA species code.

    Returns
    -------
    float
        Weight [lb/ft3].

    Notes
    -----
    Source: ``fia_species``: 62.4 times green specific gravity times 1 + moisture.

    Examples
    --------
    >>> round(green_lb_ft3(802), 1)
    63.0
    """
    row = _wood()[serving(WOOD_TABLE, spcd)]
    return 62.4 * float(row["sg_green"]) * (1 + float(row["moisture_pct"]) / 100)


def green_tons_per_cord(spcd: int) -> float:
    """Weight of a cord as a mill weighs it, bark and all.

    Parameters
    ----------
    spcd : int
        FIA species code.

    Returns
    -------
    float
        Weight [short tons a cord].

    Notes
    -----
    Wood and bark of a cord (``beers1964``) times the weight of green wood (``fia_species``), bark taken as heavy as
    wood.
    Printed state figures are 2.8 tons (``texas_weights``) and 5,600 and 4,200 lb for hard and soft hardwood.

    Examples
    --------
    >>> round(green_tons_per_cord(802), 2)
    2.9
    """
    return tables.constants("science/tables/timber.csv")["beers_outside_ft3"] * green_lb_ft3(spcd) / LB_PER_TON


@functools.cache
def _biomass() -> dict[str, tuple[float, float]]:
    return {row["jenkins_group"]: (float(row["b0"]), float(row["b1"])) for row in tables.rows(BIOMASS_TABLE)}


def biomass_dry_lb(spcd: int, dbh_in: ArrayLike) -> Array:
    """Dry weight above ground of a tree.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].

    Returns
    -------
    float or array
        Dry weight [lb].

    Notes
    -----
    Source: ``jenkins2003``; 1 in. and up.

    Examples
    --------
    >>> round(float(biomass_dry_lb(802, 12)))
    1207
    """
    b0, b1 = _biomass()[_wood()[serving(WOOD_TABLE, spcd)]["jenkins_group"]]
    return LB_PER_KG * np.exp(b0 + b1 * np.log(np.asarray(dbh_in, dtype=float) / IN_PER_CM))
