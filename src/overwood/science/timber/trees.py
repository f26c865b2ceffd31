"""Volume and height of trees: tables rebuilt from form class and taper, cubic feet, heights from dbh."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.ground.species import serving
from overwood.science.timber.logs import BOARD_RULES, TABLE

Array = NDArray[np.float64]
TAPER_TABLE = "science/tables/taper.csv"
HEIGHT_TABLE = "science/tables/height_curve.csv"
TREE_DBH_IN = (10.0, 40.0)
MOST_LOGS = 4.0


@functools.cache
def _taper() -> dict[int, tuple[Array, Array]]:
    """For each number of logs in a tree: table diameters, and taper of each upper log at them."""
    values: dict[int, dict[float, list[float]]] = {}
    for row in tables.rows(TAPER_TABLE):
        values.setdefault(int(row["logs"]), {}).setdefault(float(row["dbh_in"]), []).append(float(row["taper_in"]))
    return {n: (np.array(sorted(by)), np.array([by[dbh] for dbh in sorted(by)])) for n, by in values.items()}


def upper_tapers_in(dbh_in: ArrayLike, logs: int) -> Array:
    """Taper of each 16-ft log above the butt log.

    Parameters
    ----------
    dbh_in : float or array, shape (n,)
        Diameter at breast height [in]; between table diameters interpolated, beyond them held.
    logs : int
        Whole 16-ft logs in the tree, 1 to 4.

    Returns
    -------
    array, shape (n, logs - 1)
        Taper [in].

    Raises
    ------
    KeyError
        above 4 logs.

    Notes
    -----
    Source: ``mesavage1946``, from memory, five entries moved by 0.1 in. to meet the printed volumes.
    """
    dbh = np.atleast_1d(np.asarray(dbh_in, dtype=float))
    if logs < 2:
        return np.zeros((dbh.size, 0))
    if logs > MOST_LOGS:
        raise KeyError(f"the taper table ends at {MOST_LOGS:g} logs")
    sizes, taper = _taper()[logs]
    return np.stack([np.interp(dbh, sizes, taper[:, position]) for position in range(logs - 1)], axis=1)


def tree_bf(rule: str, dbh_in: ArrayLike, logs: ArrayLike, form_class_pct: ArrayLike) -> Array:
    """Board feet of a tree by its merchantable 16-ft logs and form class.

    Parameters
    ----------
    rule : str
        A key of ``BOARD_RULES``.
    dbh_in : float or array, shape (n,)
        Diameter at breast height [in].
    logs : float or array, shape (n,)
        Merchantable 16-ft logs up to 4, in halves; half logs are the mean of the two whole-log volumes.
    form_class_pct : float or array, shape (n,)
        Diameter inside bark at the top of the first log, as percent of dbh [%].

    Returns
    -------
    float or array, shape (n,)
        Volume [bd ft]; zero without logs.

    Notes
    -----
    Sources: ``mesavage1946``, ``girard1933``. Against the printed tables: see docs; 10 to 40 in.

    Examples
    --------
    >>> round(float(tree_bf("international-1/4", 20, 3, 80)))
    427
    """
    dbh, count, form = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (dbh_in, logs, form_class_pct)))
    flat_dbh, flat_count, flat_form = dbh.ravel(), count.ravel(), form.ravel()
    volume = np.zeros(flat_dbh.shape)
    low = np.floor(flat_count).astype(int)
    for whole in np.unique(np.concatenate([low, np.ceil(flat_count).astype(int)])):
        if whole < 1:
            continue
        share = np.where(low == whole, 1 - (flat_count - low), np.where(low + 1 == whole, flat_count - low, 0.0))
        used = share > 0
        if used.any():
            volume[used] += share[used] * _whole_logs_bf(rule, flat_dbh[used], int(whole), flat_form[used])
    return volume.reshape(dbh.shape)


def _whole_logs_bf(rule: str, dbh: Array, logs: int, form_class_pct: Array) -> Array:
    scale, tapers = BOARD_RULES[rule], upper_tapers_in(dbh, logs)
    diameter = np.floor(form_class_pct / 100 * dbh * 10 + 0.5) / 10
    total = scale(diameter, 16.0)
    for position in range(logs - 1):
        diameter = diameter - tapers[:, position]
        total = total + scale(np.maximum(diameter, 0.0), 16.0)
    return total


def tree_cubic_ft3(dbh_in: ArrayLike, merchantable_height_ft: ArrayLike) -> Array:
    """Cubic feet inside bark of the merchantable stem of a hardwood.

    Parameters
    ----------
    dbh_in : float or array
        Diameter at breast height [in].
    merchantable_height_ft : float or array
        Height to the merchantable top [ft].

    Returns
    -------
    float or array
        Volume [ft3].

    Notes
    -----
    Source: ``beers1964`` (composite hardwood volume). Under half a log the equation turns up again (its 32 / h), so
    there the volume falls in proportion to height (an assumption).

    Examples
    --------
    >>> [round(float(tree_cubic_ft3(12, h)), 1) for h in (40, 8, 2)]
    [17.9, 5.3, 1.3]
    """
    return 76 * tree_cords(dbh_in, merchantable_height_ft)


def merchantable_height_ft(dbh_in: ArrayLike, height_ft: ArrayLike, *, top_in: float) -> Array:
    """Height to a top diameter, as if the stem were a cone from breast height's diameter.

    Parameters
    ----------
    dbh_in : float or array
        Diameter at breast height [in].
    height_ft : float or array
        Total height [ft].
    top_in : float
        Diameter of the top [in].

    Returns
    -------
    float or array
        Height [ft].

    Notes
    -----
    The habit of the trade (``practice``) where merchantable height was not measured.

    Examples
    --------
    >>> round(float(merchantable_height_ft(12, 75, top_in=4)), 1)
    50.0
    """
    dbh = np.asarray(dbh_in, dtype=float)
    return np.asarray(height_ft, dtype=float) * np.maximum(1 - top_in / dbh, 0.0)


def tree_cords(dbh_in: ArrayLike, merchantable_height_ft: ArrayLike) -> Array:
    """Cords of the merchantable stem of a hardwood.

    Parameters
    ----------
    dbh_in : float or array
        Diameter at breast height [in].
    merchantable_height_ft : float or array
        Height to the merchantable top [ft].

    Returns
    -------
    float or array
        Cords.

    Notes
    -----
    Source: ``beers1964``.
    """
    d, h = np.asarray(dbh_in, dtype=float), np.asarray(merchantable_height_ft, dtype=float)
    constants = tables.constants(TABLE)
    by_diameter = d**2 * (d + constants["beers_d"]) / 100_000
    whole = np.maximum(h, constants["beers_least_ft"])
    return by_diameter * (whole * (168 - whole) / 64 + 32 / whole) / 100 * np.maximum(h, 0.0) / whole


@functools.cache
def _height_curves() -> dict[int, tuple[float, float, float, float]]:
    return {
        int(r["spcd"]): (float(r["a"]), float(r["b"]), float(r["c"]), float(r["rmse_ft"]))
        for r in tables.rows(HEIGHT_TABLE)
    }


def height_ft(spcd: int, dbh_in: ArrayLike, *, scale: float) -> Array:
    """Total height from dbh.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].
    scale : float
        Multiplies the curve to meet the stand's own measured heights; 1 takes the curve as it is.

    Returns
    -------
    float or array
        Height [ft].

    Notes
    -----
    4.5 + a (1 - exp(-b dbh))^c; own fits to ``scbi`` (an assumption), single trees vary by 10 to 14 ft.

    Examples
    --------
    >>> round(float(height_ft(802, 18, scale=1)))
    90
    """
    a, b, c, _ = _height_curves()[serving(HEIGHT_TABLE, spcd)]
    return 4.5 + scale * a * (1 - np.exp(-b * np.asarray(dbh_in, dtype=float))) ** c


def height_scale(spcd: NDArray[np.int64], dbh_in: Array, measured_ft: Array) -> float:
    """The multiplier that makes the curves meet a stand's own heights.

    Parameters
    ----------
    spcd : array of int, shape (n,)
        Species of the measured trees.
    dbh_in : array, shape (n,)
        Their diameters [in].
    measured_ft : array, shape (n,)
        Their heights [ft].

    Returns
    -------
    float
        Ratio of the sums above breast height; 1 where nothing was measured.
    """
    if len(measured_ft) == 0:
        return 1.0
    curve = sum(float(height_ft(int(code), dbh, scale=1.0)) - 4.5 for code, dbh in zip(spcd, dbh_in, strict=True))
    return float((measured_ft - 4.5).sum() / curve)
