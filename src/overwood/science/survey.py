"""From plots and points to per-acre numbers with their error.

Designs: fixed-radius plots, prism points, nested rings by size class and strips all become an expansion (stems per
acre that one tallied stem stands for); points, not trees, are the sample. No species and no rules live here.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground.units import FT2_PER_ACRE, FT2_PER_IN2_OF_DBH

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Estimate:
    """A mean with its sampling error. ``se``, ``low`` and ``high`` are NaN where too few points allow no error."""

    mean: float
    se: float
    low: float
    high: float
    n: int
    df: float

    @property
    def cv_pct(self) -> float:
        """Coefficient of variation between points [%]."""
        return 100 * self.se * self.n**0.5 / self.mean if self.mean else float("nan")


def plot_radius_ft(area_ac: ArrayLike) -> Array:
    """Radius of a circular plot.

    Parameters
    ----------
    area_ac : float or array
        Plot area [ac].

    Returns
    -------
    float or array
        Radius [ft].

    Notes
    -----
    Geometry (source key ``geometry``).

    Examples
    --------
    >>> round(float(plot_radius_ft(1 / 735)), 2)
    4.34
    """
    return np.sqrt(np.asarray(area_ac, dtype=float) * FT2_PER_ACRE / np.pi)


def limiting_distance_ft(baf_ft2_ac: ArrayLike, dbh_in: ArrayLike) -> Array:
    """How far away a tree is still in, at a prism point, level distance to its centre.

    Parameters
    ----------
    baf_ft2_ac : float or array
        Basal area factor, the count factor of the prism [ft2/ac].
    dbh_in : float or array
        Diameter at breast height [in].

    Returns
    -------
    float or array
        Distance [ft].

    Notes
    -----
    Source: ``grosenbaugh1952``. A factor of 10 gives 2.75 ft for each inch.

    Examples
    --------
    >>> round(float(limiting_distance_ft(10, 12)), 1)
    33.0
    """
    dbh = np.asarray(dbh_in, dtype=float)
    return dbh * np.sqrt(FT2_PER_ACRE / np.asarray(baf_ft2_ac, dtype=float)) / 24


def trees_per_acre_prism(baf_ft2_ac: ArrayLike, dbh_in: ArrayLike) -> Array:
    """Trees per acre that one tree tallied with a prism stands for.

    Parameters
    ----------
    baf_ft2_ac : float or array
        Basal area factor [ft2/ac].
    dbh_in : float or array
        Diameter at breast height [in].

    Returns
    -------
    float or array
        Trees per acre [trees/ac].

    Notes
    -----
    Source: ``grosenbaugh1952``.

    Examples
    --------
    >>> round(float(trees_per_acre_prism(20, 12)), 2)
    25.46
    """
    dbh = np.asarray(dbh_in, dtype=float)
    return np.asarray(baf_ft2_ac, dtype=float) / (FT2_PER_IN2_OF_DBH * dbh**2)


def strip_area_ac(width_ft: ArrayLike, length_ft: ArrayLike) -> Array:
    """Area of a strip walked and tallied on its full width.

    Parameters
    ----------
    width_ft, length_ft : float or array
        Full width and length [ft].

    Returns
    -------
    float or array
        Area [ac].

    Examples
    --------
    >>> round(float(strip_area_ac(66, 660)), 2)
    1.0
    """
    return np.asarray(width_ft, dtype=float) * np.asarray(length_ft, dtype=float) / FT2_PER_ACRE


def t_quantile(level: float, df: ArrayLike) -> Array:
    """Student's t that a two-sided interval at ``level`` reaches to.

    Parameters
    ----------
    level : float
        Two-sided confidence, 0 to 1.
    df : float or array
        Degrees of freedom.

    Returns
    -------
    float or array
        The quantile.
    """
    quantile = _t_quantile if isinstance(df, int | float) else _t_quantile.__wrapped__
    return quantile(level, df)


@functools.lru_cache(maxsize=4096)
def _t_quantile(level: float, df: float) -> Any:
    from scipy.special import stdtrit

    return stdtrit(df, 0.5 + level / 2)


@functools.lru_cache(maxsize=4096)
def z_quantile(level: float) -> float:
    """The normal quantile of a two-sided interval at ``level``.

    Parameters
    ----------
    level : float
        Two-sided confidence, 0 to 1.

    Returns
    -------
    float
        The quantile.
    """
    from scipy.special import ndtri

    return float(ndtri(0.5 + level / 2))


def sample_mean(values: ArrayLike, *, level: float, population: float | None = None) -> Estimate:
    """Mean of equally likely plots with its standard error and t-interval.

    Parameters
    ----------
    values : array, shape (n,)
        One total per plot or point; plots with nothing on them are zeros.
    level : float
        Two-sided confidence, 0 to 1.
    population : float, optional
        How many plots would fill the whole area; given, the finite-population correction is taken.

    Returns
    -------
    Estimate
        With NaN errors where n < 2.

    Notes
    -----
    Sources: ``freese1962``, ``cochran1977``.

    Examples
    --------
    >>> estimate = sample_mean([8, 11, 9, 12], level=0.9)
    >>> round(estimate.mean, 2), round(estimate.se, 3)
    (10.0, 0.913)
    """
    y = np.asarray(values, dtype=float)
    n = y.size
    if n == 0:
        return Estimate(float("nan"), float("nan"), float("nan"), float("nan"), 0, 0)
    # As y.mean() and y.var(ddof=1), without their cost of looking at what they were handed.
    mean = float(np.add.reduce(y) / n)
    if n < 2:
        return Estimate(mean, float("nan"), float("nan"), float("nan"), n, 0)
    fraction_left = 1 - n / population if population else 1.0
    se = float(np.sqrt(max(fraction_left, 0.0) * np.add.reduce((y - mean) ** 2) / (n - 1) / n))
    half = float(t_quantile(level, n - 1)) * se
    return Estimate(mean, se, mean - half, mean + half, n, n - 1)


def stratified_mean(
    means: ArrayLike,
    variances: ArrayLike,
    counts: ArrayLike,
    areas: ArrayLike,
    *,
    level: float,
    populations: ArrayLike | None = None,
) -> Estimate:
    """Area-weighted mean of strata with Satterthwaite's degrees of freedom.

    Parameters
    ----------
    means, variances : array, shape (strata,)
        Mean and variance between plots of each stratum.
    counts : array, shape (strata,)
        Plots in each stratum; a stratum with one plot gives no error and makes the whole error NaN.
    areas : array, shape (strata,)
        Area of each stratum, any one unit.
    level : float
        Two-sided confidence, 0 to 1.
    populations : array, shape (strata,), optional
        Plots that would fill each stratum, for the finite-population correction.

    Returns
    -------
    Estimate
        The stratified mean.

    Notes
    -----
    Source: ``cochran1977`` (chapter 5).

    Examples
    --------
    >>> round(stratified_mean([10, 20], [4, 9], [5, 5], [30, 10], level=0.9).mean, 2)
    12.5
    """
    mean, variance = np.asarray(means, dtype=float), np.asarray(variances, dtype=float)
    n, area = np.asarray(counts, dtype=float), np.asarray(areas, dtype=float)
    weight = area / area.sum()
    total = int(n.sum())
    centre = float((weight * mean).sum())
    if (n < 2).any():
        return Estimate(centre, float("nan"), float("nan"), float("nan"), total, 0)
    left = 1 - n / np.asarray(populations, dtype=float) if populations is not None else np.ones_like(n)
    parts = weight**2 * variance * left / n
    se = float(np.sqrt(parts.sum()))
    df = float(parts.sum() ** 2 / (parts**2 / (n - 1)).sum()) if se > 0 else float(total - n.size)
    half = float(t_quantile(level, df)) * se
    return Estimate(centre, se, centre - half, centre + half, total, df)


def ratio_of_means(y: ArrayLike, x: ArrayLike) -> tuple[float, float]:
    """Ratio of two totals measured on the same plots, and its standard error.

    Parameters
    ----------
    y, x : array, shape (n,)
        Totals per plot; x is the measure divided by.

    Returns
    -------
    tuple of float
        Ratio and its standard error.

    Notes
    -----
    Source: ``cochran1977`` (chapter 6).

    Examples
    --------
    >>> ratio, se = ratio_of_means([910, 470, 800], [14, 8, 12])
    >>> round(ratio, 2)
    64.12
    """
    top, bottom = np.asarray(y, dtype=float), np.asarray(x, dtype=float)
    n = top.size
    ratio = float(top.sum() / bottom.sum())
    residual = top - ratio * bottom
    return ratio, float(np.sqrt((residual**2).sum() / ((n - 1) * n)) / bottom.mean())


def wilson_interval(hits: ArrayLike, n: ArrayLike, *, level: float) -> tuple[Array, Array]:
    """Interval of a share by inverting the score test.

    Parameters
    ----------
    hits, n : int or array
        Plots (or trees) that have it, and plots looked at.
    level : float
        Two-sided confidence, 0 to 1; a one-sided bound at 90% is the bound of the 80% interval.

    Returns
    -------
    tuple
        Low and high share, 0 to 1.

    Notes
    -----
    Source: ``wilson1927``. Chosen as the default because its coverage is near the stated level on average also for
    a few dozen plots and for shares near 0 or 1, where the plain normal interval fails; the exact interval of
    :func:`exact_interval` never covers less but is wider than stated.

    Examples
    --------
    >>> low, high = wilson_interval(42, 60, level=0.8)
    >>> round(float(low), 3), round(float(high), 3)
    (0.62, 0.77)
    """
    z = z_quantile(level)
    count, size = np.asarray(hits, dtype=float), np.asarray(n, dtype=float)
    share = count / size
    centre = (share + z**2 / (2 * size)) / (1 + z**2 / size)
    half = z * np.sqrt(share * (1 - share) / size + z**2 / (4 * size**2)) / (1 + z**2 / size)
    return np.clip(centre - half, 0, 1), np.clip(centre + half, 0, 1)


def exact_interval(hits: int, n: int, *, level: float) -> tuple[float, float]:
    """Interval of a share from the binomial distribution itself, never covering less than stated.

    Parameters
    ----------
    hits, n : int
        Plots that have it, and plots looked at.
    level : float
        Two-sided confidence, 0 to 1.

    Returns
    -------
    tuple of float
        Low and high share, 0 to 1.

    Notes
    -----
    Source: ``clopper1934``.

    Examples
    --------
    >>> low, high = exact_interval(0, 40, level=0.8)
    >>> round(high, 3)
    0.056
    """
    from scipy.special import betaincinv

    tail = (1 - level) / 2
    low = 0.0 if hits == 0 else float(betaincinv(hits, n - hits + 1, tail))
    high = 1.0 if hits == n else float(betaincinv(hits + 1, n - hits, 1 - tail))
    return low, high


def point_totals(point: NDArray[np.int64], amount: ArrayLike, points: int) -> Array:
    """Sum what the stems of each point stand for; a point without stems is a zero, not a gap.

    Parameters
    ----------
    point : array of int, shape (stems,)
        Which point each stem was tallied at, 0 to points - 1.
    amount : array, shape (stems,)
        What the stem stands for per acre.
    points : int
        Number of points.

    Returns
    -------
    array, shape (points,)
        Per-acre totals.
    """
    return np.bincount(point, weights=np.asarray(amount, dtype=float), minlength=points).astype(float)
