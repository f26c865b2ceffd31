"""The pool on the ground: stocked plots, stump sprouts, and what advance stems may become.

Stems are judged by the plots they hold, not by their number alone: a crowd in one corner regenerates one corner.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.ground.species import serving
from overwood.science import decisions, intervals, survey

Array = NDArray[np.float64]
TABLE = "science/tables/reproduction.csv"
SPROUT_TABLE = "science/tables/stump_sprouting.csv"
# What each side of a threshold is called.
SIDES = {decisions.OPEN: "adequate", decisions.UNSURE: "unsure", decisions.SHUT: "inadequate"}


def same_plot_size(one_ac: float, other_ac: float) -> bool:
    """Whether plots are near enough in size to count as of one.

    Parameters
    ----------
    one_ac, other_ac : float
        Sizes of two plots [ac].

    Returns
    -------
    bool
        Whether they differ by less than ``same_plot_share`` of the other; False where a size is not known.

    Notes
    -----
    The share is an assumption, with its range in the table.

    Examples
    --------
    >>> same_plot_size(1 / 730, 1 / 735), same_plot_size(1 / 1000, 1 / 735)
    (True, False)
    """
    return bool(abs(one_ac / other_ac - 1) < tables.constants(TABLE)["same_plot_share"])


def random_stocking(stems_ac: ArrayLike, plots_per_acre: float) -> Array:
    """Share of plots that would hold a stem if stems fell at random.

    Parameters
    ----------
    stems_ac : float or array
        Stems per acre [stems/ac].
    plots_per_acre : float
        How many plots make an acre.

    Returns
    -------
    float or array
        Share of plots, 0 to 1.

    Examples
    --------
    >>> round(float(random_stocking(433, 735)), 3)
    0.445
    """
    return 1 - np.exp(-np.asarray(stems_ac, dtype=float) / plots_per_acre)


@functools.cache
def _sprout_classes() -> dict[int, tuple[tuple[float, float, float], ...]]:
    by_number: dict[int, list[tuple[float, float, float]]] = {}
    for row in tables.rows(SPROUT_TABLE):
        by_number.setdefault(int(row["spcd"]), []).append(
            (float(row["low_in"]), float(row["high_in"]), float(row["share"]))
        )
    return {spcd: tuple(sorted(classes)) for spcd, classes in by_number.items()}


def stump_sprout_share(spcd: int, dbh_in: ArrayLike, *, shade_multiplier: float) -> Array:
    """Share of cut stumps expected to sprout, from the published table of classes.

    Parameters
    ----------
    spcd : int
        FIA species code of an oak.
    dbh_in : float or array
        Diameter of the parent tree [in]; classes 2-5, 6-11, 12-16 and 17 and up hold whole inches, so it is rounded.
    shade_multiplier : float
        1 for a full cut; less where stumps will stand in shade (an assumption).

    Returns
    -------
    float or array
        Share, 0 to 1.

    Notes
    -----
    Source: ``sander1977``, from memory. Below 1.5 in. the smallest class is used.

    Examples
    --------
    >>> float(stump_sprout_share(802, 14, shade_multiplier=1))
    0.15
    """
    classes = _sprout_classes()[serving(SPROUT_TABLE, spcd)]
    whole_inch = np.floor(np.asarray(dbh_in, dtype=float) + 0.5)
    uppers = np.array([high for _, high, _ in classes])
    shares = np.array([share for _, _, share in classes])
    return shares[np.clip(np.searchsorted(uppers, whole_inch), 0, len(shares) - 1)] * shade_multiplier


def needed_stocked_share(sprouts_ac: float) -> float:
    """Share of plots that must hold a tall advance oak, once stumps that will sprout are credited one for one.

    Parameters
    ----------
    sprouts_ac : float
        Oak stumps expected to sprout [stumps/ac].

    Returns
    -------
    float
        Share of plots, 0 to 1.

    Notes
    -----
    Source: ``sander1976``, from memory: 433 stems an acre, a plot of 1/735 acre.

    Examples
    --------
    >>> round(needed_stocked_share(19.3), 4)
    0.5629
    """
    return float(needed_stocked_shares(sprouts_ac))


def needed_stocked_shares(sprouts_ac: ArrayLike) -> Array:
    """As :func:`needed_stocked_share`, of many counts.

    Parameters
    ----------
    sprouts_ac : float or array
        Oak stumps expected to sprout [stumps/ac].

    Returns
    -------
    float or array
        Share of plots, 0 to 1.

    Examples
    --------
    >>> needed_stocked_shares([0.0, 433.0, 500.0]).round(3).tolist()
    [0.589, 0.0, 0.0]
    """
    c = tables.constants(TABLE)
    return np.maximum(0.0, c["advance_needed_ac"] - np.asarray(sprouts_ac, dtype=float)) / c["plots_per_acre"]


def success_per_stocked_plot() -> float:
    """Chance that a stocked plot ends in a dominant oak, as the published rule implies it.

    Returns
    -------
    float
        220.5 / 433, about 0.51.

    Notes
    -----
    Source: inferred from ``sander1976``.
    """
    c = tables.constants(TABLE)
    return c["dominant_share_wanted"] * c["plots_per_acre"] / c["advance_needed_ac"]


@dataclass(frozen=True)
class Verdict:
    """Whether the oak on the ground is enough, by the stocked-plot rule."""

    stocked_share: float
    low: float
    high: float
    needed_share: float
    side: int
    dominants_at_20_ac: float

    @property
    def verdict(self) -> str:
        """The side in a word: adequate, inadequate or unsure."""
        return SIDES[self.side]


def share_bounds(hits: float, n: float, *, level: float) -> tuple[float, float]:
    """One-sided bounds of a share of plots, as every verdict uses them.

    Parameters
    ----------
    hits, n : float
        Plots that have it, and plots looked at.
    level : float
        One-sided confidence of each bound, 0 to 1.

    Returns
    -------
    tuple of float
        Low and high share, 0 to 1.

    Notes
    -----
    Source: as ``decisions.share_ends``.

    Examples
    --------
    >>> low, high = share_bounds(42, 60, level=0.9)
    >>> round(low, 3), round(high, 3)
    (0.615, 0.773)
    """
    return decisions.share_ends(hits, n, survey.z_quantile(2 * level - 1), intervals.share_step())


def stocked_plot_verdict(plots: float, stocked: float, sprouts_ac: float, *, level: float) -> Verdict:
    """Judge advance reproduction by the published stocked-plot rule.

    Parameters
    ----------
    plots, stocked : int
        Plots of 1/735 acre looked at, and those with an oak at least 4.5 ft tall.
    sprouts_ac : float
        Oak stumps expected to sprout [stumps/ac].
    level : float
        One-sided confidence, 0 to 1.

    Returns
    -------
    Verdict
        Bounds are one-sided at ``level``.

    Notes
    -----
    Sources: ``sander1976`` (rule), ``wilson1927`` and ``newcombe1998one`` (bounds).

    Examples
    --------
    >>> stocked_plot_verdict(60, 24, 19.3, level=0.9).verdict
    'inadequate'
    """
    share = stocked / plots
    low, high = share_bounds(stocked, plots, level=level)
    needed = needed_stocked_share(sprouts_ac)
    c = tables.constants(TABLE)
    dominants = success_per_stocked_plot() * (share * c["plots_per_acre"] + sprouts_ac)
    return Verdict(share, low, high, needed, decisions.side(low, high, needed), dominants)


def advance_success(
    basal_diameter_in: ArrayLike,
    site_index_ft: ArrayLike,
    *,
    b0: float,
    b_ln_diameter: float,
    b_site_10ft: float,
    k: float,
) -> Array:
    """Chance that an advance oak is dominant or codominant after the overwood is gone.

    Parameters
    ----------
    basal_diameter_in : float or array
        Diameter at the ground line [in].
    site_index_ft : float or array
        Oak site index [ft].
    b0, b_ln_diameter, b_site_10ft : float
        Intercept, slope on ln(basal diameter) and slope per 10 ft of site index above 65.
    k : float
        Competition: 0 without weed control, more with it, less in heavy shade.

    Returns
    -------
    float or array
        Chance, 0 to 1.

    Notes
    -----
    An assumption: a logistic stand-in calibrated to ``sander1976`` and ``spetich2002``; the published coefficient
    tables were not seen.

    Examples
    --------
    >>> round(float(advance_success(0.5, 65, b0=1.18, b_ln_diameter=2.24, b_site_10ft=-0.8, k=0)), 3)
    0.408
    """
    site = (np.asarray(site_index_ft, dtype=float) - 65) / 10
    logit = b0 + b_ln_diameter * np.log(np.asarray(basal_diameter_in, dtype=float)) + b_site_10ft * site + k
    return 1 / (1 + np.exp(-logit))
