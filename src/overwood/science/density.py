"""Stocking of the standing trees by the area each of them holds. Nothing here needs arrays, but all takes them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeVar

from overwood.ground import tables

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

TABLE = "science/tables/overstory.csv"
STOCKING_CHART_QMD_IN = (3.0, 15.0)
Sizes = TypeVar("Sizes", float, "NDArray[np.float64]")


def tree_area_pct(dbh_in: Sizes) -> Sizes:
    """Share of an acre one tree of an upland oak-hickory stand holds at full stocking.

    Parameters
    ----------
    dbh_in : float or array
        Diameter at breast height [in].

    Returns
    -------
    float or array
        Percent of full stocking given by one tree an acre [%].

    Notes
    -----
    Source: ``gingrich1967``, published; the chart covers mean diameters of 3 to 15 in.

    Examples
    --------
    >>> round(float(tree_area_pct(12)), 4)
    0.6552
    """
    c = tables.constants(TABLE)
    return c["treearea_b0"] + c["treearea_b1"] * dbh_in + c["treearea_b2"] * dbh_in**2


def open_crown_area_pct(dbh_in: Sizes) -> Sizes:
    """Crown area of an open-grown oak or hickory as percent of an acre.

    Parameters
    ----------
    dbh_in : float or array
        Diameter at breast height [in].

    Returns
    -------
    float or array
        Percent of an acre [%]. Their sum over a stand is the crown competition factor; 100 is the B-level.

    Notes
    -----
    Source: ``krajicek1961``, from memory.

    Examples
    --------
    >>> round(float(open_crown_area_pct(3.05)), 4)
    0.1358
    """
    c = tables.constants(TABLE)
    return c["crownarea_b0"] + c["crownarea_b1"] * dbh_in + c["crownarea_b2"] * dbh_in**2


def stocking_pct(dbh_in: Sequence[float], tpa: Sequence[float]) -> float:
    """Stocking of a stand from its diameters.

    Parameters
    ----------
    dbh_in : array, shape (classes,)
        Diameters [in].
    tpa : array, shape (classes,)
        Trees per acre of each.

    Returns
    -------
    float
        Percent of full stocking [%].

    Notes
    -----
    Source: ``gingrich1967``.

    Examples
    --------
    >>> round(stocking_pct([12], [100]), 1)
    65.5
    """
    return sum(tree_area_pct(dbh) * trees for dbh, trees in zip(dbh_in, tpa, strict=True))


def b_line_pct(dbh_in: Sequence[float], tpa: Sequence[float]) -> float:
    """Stocking at which these diameters would just close their open-grown crowns, the B-line.

    Parameters
    ----------
    dbh_in : array, shape (classes,)
        Diameters [in].
    tpa : array, shape (classes,)
        Trees per acre of each; only the proportions matter.

    Returns
    -------
    float
        B-line [% of full stocking]; about 58 for mean diameters of 5 to 16 in.

    Notes
    -----
    Sources: ``gingrich1967``, ``krajicek1961``.

    Examples
    --------
    >>> round(b_line_pct([10], [1]), 1)
    58.6
    """
    crown_competition = sum(open_crown_area_pct(dbh) * trees for dbh, trees in zip(dbh_in, tpa, strict=True))
    return 100 * stocking_pct(dbh_in, tpa) / crown_competition
