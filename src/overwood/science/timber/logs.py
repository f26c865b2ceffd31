"""Volume of logs by the log rules of the trade, board feet and cubic feet."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.ground.units import FT2_PER_IN2_OF_DBH

Array = NDArray[np.float64]
TABLE = "science/tables/timber.csv"
DECIMAL_C_TABLE = "science/tables/scribner_decimal_c.csv"


def doyle_bf(diameter_in: ArrayLike, length_ft: ArrayLike) -> Array:
    """Board feet of a log by the Doyle rule.

    Parameters
    ----------
    diameter_in : float or array
        Small-end diameter inside bark [in].
    length_ft : float or array
        Length [ft].

    Returns
    -------
    float or array
        Volume [bd ft]; zero at 4 in. and less.

    Notes
    -----
    Source: ``doyle1825``.

    Examples
    --------
    >>> float(doyle_bf(16, 16))
    144.0
    """
    slab = tables.constants(TABLE)["doyle_slab_in"]
    square = np.maximum(np.asarray(diameter_in, dtype=float) - slab, 0.0) / 4
    return square**2 * np.asarray(length_ft, dtype=float)


def scribner_bf(diameter_in: ArrayLike, length_ft: ArrayLike) -> Array:
    """Board feet of a log by the formula fitted to the Scribner diagrams.

    Parameters
    ----------
    diameter_in : float or array
        Small-end diameter inside bark [in].
    length_ft : float or array
        Length [ft].

    Returns
    -------
    float or array
        Volume [bd ft], never below zero.

    Notes
    -----
    Source: ``bruce1950``; 6 to 44 in., 10 to 24 ft.

    Examples
    --------
    >>> float(scribner_bf(10, 16))
    55.0
    """
    c, d = tables.constants(TABLE), np.asarray(diameter_in, dtype=float)
    whole = c["scribner_b2"] * d**2 + c["scribner_b1"] * d + c["scribner_b0"]
    return np.maximum(whole, 0.0) * np.asarray(length_ft, dtype=float) / c["log_ft"]


@functools.cache
def _decimal_c() -> dict[int, float]:
    return {int(float(row["dib_in"])): float(row["volume_bf"]) for row in tables.rows(DECIMAL_C_TABLE)}


def scribner_decimal_c_bf(diameter_in: float, length_ft: float) -> float:
    """Board feet of a log by the Scribner decimal C table.

    Parameters
    ----------
    diameter_in : float
        Small-end diameter inside bark [in]; the fraction of an inch is dropped.
    length_ft : float
        Length [ft].

    Returns
    -------
    float
        Volume [bd ft], to the nearest ten.

    Raises
    ------
    KeyError
        for a diameter outside the table.

    Notes
    -----
    Source: ``scaling_handbook``, the 16-ft column from memory; other lengths in proportion, rounded to tens.

    Examples
    --------
    >>> scribner_decimal_c_bf(30, 16)
    660.0
    """
    whole = int(diameter_in)
    if whole not in _decimal_c():
        low, high = min(_decimal_c()), max(_decimal_c())
        raise KeyError(f"the decimal C table covers {low} to {high} in.")
    return float(np.floor(_decimal_c()[whole] * length_ft / 16 / 10 + 0.5) * 10)


def international_eighth_bf(diameter_in: ArrayLike, length_ft: ArrayLike) -> Array:
    """Board feet of a log by the International rule with a kerf of 1/8 inch.

    Parameters
    ----------
    diameter_in : float or array
        Small-end diameter inside bark [in].
    length_ft : float or array
        Length [ft]; a rest shorter than a 4-ft section counts in proportion.

    Returns
    -------
    float or array
        Volume [bd ft], never below zero.

    Notes
    -----
    Source: ``clark1906``: 4-ft sections that grow half an inch each.

    Examples
    --------
    >>> round(float(international_eighth_bf(10, 16)), 2)
    71.44
    """
    c = tables.constants(TABLE)
    diameter, length = np.broadcast_arrays(np.asarray(diameter_in, dtype=float), np.asarray(length_ft, dtype=float))
    total, section = np.zeros(length.shape), 0
    while True:
        left = np.clip(length / c["international_section_ft"] - section, 0.0, 1.0)
        if not (left > 0).any():
            return np.maximum(total, 0.0)
        d = diameter + section * c["international_section_taper_in"]
        total = total + left * (c["international_b2"] * d**2 + c["international_b1"] * d)
        section += 1


def international_quarter_bf(diameter_in: ArrayLike, length_ft: ArrayLike) -> Array:
    """Board feet of a log by the International 1/4-inch rule.

    Parameters
    ----------
    diameter_in : float or array
        Small-end diameter inside bark [in].
    length_ft : float or array
        Length [ft].

    Returns
    -------
    float or array
        Volume [bd ft]; printed tables round it to the nearest 5.

    Notes
    -----
    Source: ``clark1906`` times 0.905 (memory).

    Examples
    --------
    >>> round(float(international_quarter_bf(12, 12)), 1)
    69.3
    """
    return tables.constants(TABLE)["international_quarter"] * international_eighth_bf(diameter_in, length_ft)


def smalian_ft3(small_end_in: ArrayLike, large_end_in: ArrayLike, length_ft: ArrayLike) -> Array:
    """Cubic feet of a log from both ends.

    Parameters
    ----------
    small_end_in, large_end_in : float or array
        Diameters of the ends [in].
    length_ft : float or array
        Length [ft].

    Returns
    -------
    float or array
        Volume [ft3].

    Notes
    -----
    Smalian's formula (``geometry``).

    Examples
    --------
    >>> round(float(smalian_ft3(10, 12, 16)), 3)
    10.647
    """
    ends = np.asarray(small_end_in, dtype=float) ** 2 + np.asarray(large_end_in, dtype=float) ** 2
    return FT2_PER_IN2_OF_DBH * ends / 2 * np.asarray(length_ft, dtype=float)


def huber_ft3(middle_in: ArrayLike, length_ft: ArrayLike) -> Array:
    """Cubic feet of a log from its middle.

    Parameters
    ----------
    middle_in : float or array
        Diameter half way [in].
    length_ft : float or array
        Length [ft].

    Returns
    -------
    float or array
        Volume [ft3].

    Notes
    -----
    Huber's formula (``geometry``).

    Examples
    --------
    >>> round(float(huber_ft3(11, 16)), 3)
    10.559
    """
    return FT2_PER_IN2_OF_DBH * np.asarray(middle_in, dtype=float) ** 2 * np.asarray(length_ft, dtype=float)


BOARD_RULES = {
    "doyle": doyle_bf,
    "scribner": scribner_bf,
    "international-1/4": international_quarter_bf,
    "international-1/8": international_eighth_bf,
}
