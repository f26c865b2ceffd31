"""Stem injection: cuts and solution for the stems of a midstory."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.ground.species import by_code

PRODUCTS = "science/tables/injection_products.csv"
HARD = "science/tables/injection_hard.csv"
Array = NDArray[np.float64]


def dose(dbh_in: ArrayLike, tpa: ArrayLike, inches_per_cut: float, ml_per_cut: float) -> tuple[float, float]:
    """Cuts and solution an acre at an even spacing of cuts.

    Parameters
    ----------
    dbh_in : array, shape (classes,)
        Diameters [in].
    tpa : array, shape (classes,)
        Trees per acre of each.
    inches_per_cut : float
        Inches of dbh for each cut.
    ml_per_cut : float
        Solution in each cut [ml].

    Returns
    -------
    tuple of float
        Cuts [1/ac], solution [ml/ac].

    Raises
    ------
    ValueError
        when the lists differ in length.

    Notes
    -----
    Spacings: ``pennstate_inject``, ``kochenderfer2001``, ``moorhead2003``. The label governs.

    Examples
    --------
    >>> [round(value, 2) for value in dose([3.3], [275], 1, 1.5)]
    [907.5, 1361.25]
    """
    dbh, stems = np.asarray(dbh_in, dtype=float), np.asarray(tpa, dtype=float)
    if dbh.shape != stems.shape:
        raise ValueError("dbh_in and tpa differ in length")
    cuts = float((stems * dbh / inches_per_cut).sum())
    return cuts, cuts * ml_per_cut


def whole_cuts(dbh_in: ArrayLike, inches_per_cut: float, least: int) -> Array:
    """Cuts a crew makes on a stem.

    Parameters
    ----------
    dbh_in : float or array
        Diameter at breast height [in].
    inches_per_cut : float
        Inches of dbh for each cut.
    least : int
        Fewest cuts on any stem.

    Returns
    -------
    float or array
        Whole cuts.

    Notes
    -----
    One an inch and at least two (``pennstate_inject``); one for three inches with a concentrate (``moorhead2003``).

    Examples
    --------
    >>> whole_cuts([1.2, 3.3, 5.0], 1, 2).tolist()
    [2.0, 4.0, 5.0]
    """
    return np.maximum(least, np.ceil(np.asarray(dbh_in, dtype=float) / inches_per_cut - 1e-9))


@dataclass(frozen=True)
class Tested:
    """A solution that was tested in print: product of this strength, its share of the solution, spacing of cuts and
    solution in each."""

    active: str
    strength_pct: float
    share: float
    inches_per_cut: float
    ml_per_cut: float
    source: str


@functools.cache
def tested() -> dict[str, Tested]:
    """Solutions tested in print, by active ingredient.

    Returns
    -------
    dict of Tested
        Each with its source. The label on site governs.

    Examples
    --------
    >>> tested()["glyphosate"].share
    0.5
    """
    return {row["active"]: _tested(row) for row in tables.rows(PRODUCTS)}


def _tested(row: dict[str, str]) -> Tested:
    return Tested(
        active=row["active"],
        strength_pct=float(row["strength_pct"]),
        share=float(row["share"]),
        inches_per_cut=float(row["inches_per_cut"]),
        ml_per_cut=float(row["ml_per_cut"]),
        source=row["source"],
    )


@functools.cache
def is_hard_to_kill(spcd: int) -> bool:
    """Whether a species asks for more cuts.

    Parameters
    ----------
    spcd : int
        FIA species code.

    Returns
    -------
    bool
        True for hickories, blackgum and dogwood (``moorhead2003``; which species is from memory).

    Examples
    --------
    >>> [is_hard_to_kill(code) for code in (403, 316)]
    [True, False]
    """
    name = by_code(spcd).scientific_name
    return any(name.startswith(row["name"]) for row in tables.rows(HARD))
