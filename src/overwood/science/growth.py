"""How standing trees grow and die: yearly diameter increment and survival, and how both answer to crowding, thinning
and site.

The published models (Teck and Hilt, Shifley) could not be read, so fits pooled over the sites that could be read stand
in and say so; `docs/growth_refit.py` makes the two tables, `docs/growth.md` prints them beside each site.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.ground.species import by_code, serving
from overwood.ground.units import FT2_PER_IN2_OF_DBH

Array = NDArray[np.float64]
GROWTH_TABLE = "science/tables/diameter_growth.csv"
MORTALITY_TABLE = "science/tables/mortality.csv"
# The row of both tables for every species without one of its own.
# Crowding moves a death rate by no more than this either way: nothing farther was seen.
MOST_CROWDING = 3.0


@dataclass(frozen=True, kw_only=True)
class Response:
    """What growth and death answer to beside species and size; every number is an assumption with a range in the rules.

    ``full_ba_ft2_ac`` is a fully stocked stand [ft2/ac], ``thinned_share`` the share of it at which growth has gained
    ``thinned_gain`` (``ward2002``). ``site_power`` is the power of site index over ``site_reference_ft`` [ft].
    ``death_red`` and ``death_other`` are the gain of ln death rate for each ft2/ac of larger trees. ``growth_z`` and
    ``death_z`` say how fast and how deadly a site is, in standard deviations between sites. ``lag_yr`` holds years from
    a cut to faster growth by species, ``other_lag_yr`` those of the rest.
    """

    full_ba_ft2_ac: float
    thinned_share: float
    thinned_gain: float
    site_reference_ft: float
    site_power: float
    death_red: float
    death_other: float
    growth_z: float = 0.0
    death_z: float = 0.0
    site_index_ft: float | None = None
    lag_yr: Mapping[int, int] = field(default_factory=dict)
    other_lag_yr: int = 0


@dataclass(frozen=True, kw_only=True)
class Equation:
    """Coefficients of the increment of a species, its pooled level, and how far single trees and sites lie apart."""

    b1: float
    b2: float
    b3: float
    b4: float
    rse_in_yr: float
    level: float
    level_spread_ln: float


@functools.cache
def _growth() -> dict[int, Equation]:
    names = ("b1", "b2", "b3", "b4", "rse_in_yr", "level", "level_spread_ln")
    return {int(r["spcd"]): Equation(**{name: float(r[name]) for name in names}) for r in tables.rows(GROWTH_TABLE)}


def diameter_growth_in_yr(spcd: int, dbh_in: ArrayLike, ba_larger_ft2_ac: ArrayLike, *, growth_z: float = 0.0) -> Array:
    """Yearly increment of diameter in a closed stand on a middling site.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].
    ba_larger_ft2_ac : float or array
        Basal area in larger trees [ft2/ac].
    growth_z : float
        How fast the site is, in standard deviations between sites; 0 for the middle of them.

    Returns
    -------
    float or array
        Increment [in/yr].

    Notes
    -----
    level b1 dbh^b2 exp(-b3 dbh) exp(-b4 larger); own fits to ``scbi`` (an assumption), an unmanaged site of about 147
    ft2/ac, with the level of oaks, hickories and red maple pooled with a second forest (``second_map``). Single trees
    vary by 0.04 to 0.10 in. a year, sites by about three in ten.

    Examples
    --------
    >>> round(float(diameter_growth_in_yr(802, 16, 30)), 3)
    0.125
    """
    one = _growth()[serving(GROWTH_TABLE, spcd)]
    dbh, larger = np.asarray(dbh_in, dtype=float), np.asarray(ba_larger_ft2_ac, dtype=float)
    level = one.level * np.exp(growth_z * one.level_spread_ln)
    return level * one.b1 * dbh**one.b2 * np.exp(-one.b3 * dbh - one.b4 * larger)


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
    return _growth()[serving(GROWTH_TABLE, spcd)].rse_in_yr


def thinning_response(ba_ft2_ac: float, response: Response) -> float:
    """How much faster trees grow in a stand that is not full.

    Parameters
    ----------
    ba_ft2_ac : float
        Basal area of the stand [ft2/ac].
    response : Response
        Full stocking and the gain of a thinned stand.

    Returns
    -------
    float
        Ratio to the growth in a full stand, 1 to the gain of the thinned stand; no more, because no more was measured.

    Notes
    -----
    Red oak sawtimber released as crop trees grew 53% more over six years (``ward2002``); oak sawtimber was thinned
    from 104 to about 62% of full stocking (``ward2019``). Between the two the gain is taken as even on the log scale
    (an assumption).
    """
    missing = 1 - min(ba_ft2_ac / response.full_ba_ft2_ac, 1.0)
    return float(response.thinned_gain ** min(missing / (1 - response.thinned_share), 1.0))


def site_response(response: Response) -> float:
    """How much faster trees grow on the stand's site than on the site of reference.

    Parameters
    ----------
    response : Response
        Site index of the stand and of reference, and the power; a stand without site index counts as of reference.

    Returns
    -------
    float
        Ratio.

    Notes
    -----
    Growth in proportion to site index is the form of Teck and Hilt 1991 (from memory, form only); the power is an
    assumption.
    """
    if response.site_index_ft is None:
        return 1.0
    return float((response.site_index_ft / response.site_reference_ft) ** response.site_power)


@dataclass(frozen=True, kw_only=True)
class Deaths:
    """Death rates of a species by size class: upper ends, rates, usual basal area of larger trees, spread between
    sites."""

    high_in: Array
    rate_yr: Array
    larger_ft2_ac: Array
    spread_ln: float


@functools.cache
def _mortality() -> dict[int, Deaths]:
    listed: dict[int, list[dict[str, str]]] = {}
    for row in tables.rows(MORTALITY_TABLE):
        listed.setdefault(int(row["spcd"]), []).append(row)
    return {spcd: _deaths(sorted(rows, key=lambda row: float(row["high_in"]))) for spcd, rows in listed.items()}


def _deaths(rows: list[dict[str, str]]) -> Deaths:
    high, rate, larger = (
        np.array([float(row[name]) for row in rows]) for name in ("high_in", "rate_yr", "larger_ft2_ac")
    )
    return Deaths(high_in=high, rate_yr=rate, larger_ft2_ac=larger, spread_ln=float(rows[0]["spread_ln"]))


def mortality_yr(spcd: int, dbh_in: ArrayLike, *, death_z: float = 0.0) -> Array:
    """Chance that a tree dies in a year, under the crowding usual for its size in a closed stand.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].
    death_z : float
        How deadly the site is, in standard deviations between sites; 0 for the middle of them.

    Returns
    -------
    float or array
        Chance a year, 0 to 1.

    Notes
    -----
    The level of a species is pooled over one to four sites (``scbi``, ``wayne2018``, ``fan2011``, ``second_map``), the
    shape over diameter is that of ``scbi`` alone (an assumption). Sites lie apart by a factor of about two.

    Examples
    --------
    >>> 0 < float(mortality_yr(802, 18)) < 0.01
    True
    """
    one = _mortality()[serving(MORTALITY_TABLE, spcd)]
    chance = one.rate_yr[_size_class(one, dbh_in)] * np.exp(death_z * one.spread_ln)
    return np.clip(chance, 0.0, 1.0)


def _size_class(one: Deaths, dbh_in: ArrayLike) -> NDArray[np.intp]:
    return np.minimum(np.searchsorted(one.high_in, np.asarray(dbh_in, dtype=float), side="right"), len(one.high_in) - 1)


def crowding_response(spcd: int, dbh_in: ArrayLike, ba_larger_ft2_ac: ArrayLike, response: Response) -> Array:
    """How much likelier a tree dies where more, or fewer, larger trees stand about it than is usual for its size.

    Parameters
    ----------
    spcd : int
        FIA species code.
    dbh_in : float or array
        Diameter at breast height [in].
    ba_larger_ft2_ac : float or array
        Basal area in larger trees [ft2/ac].
    response : Response
        Gain of ln death rate for each ft2/ac.

    Returns
    -------
    float or array
        Ratio, 1/3 to 3.

    Notes
    -----
    Intermediate and suppressed red oaks of Missouri died at 4.3% a year, dominant and codominant ones at 1.4
    (``fan_poster``); the step between the classes is taken as 55 ft2/ac of larger trees (an assumption). For other
    species half of it is assumed: in one Ohio study white oaks died more where basal area was lower (``wayne2018``).
    """
    one = _mortality()[serving(MORTALITY_TABLE, spcd)]
    slope = response.death_red if by_code(spcd).oak_group == "red" else response.death_other
    beyond = np.asarray(ba_larger_ft2_ac, dtype=float) - one.larger_ft2_ac[_size_class(one, dbh_in)]
    return np.clip(np.exp(slope * beyond), 1 / MOST_CROWDING, MOST_CROWDING)


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


@dataclass(frozen=True, kw_only=True)
class Cut:
    """A cut of a projected list: the year it falls in, and which trees stay."""

    year: int
    stays: NDArray[np.bool_]


def project(
    spcd: NDArray[np.int64], dbh_in: Array, per_ac: Array, years: int, *, response: Response, cut: Cut | None = None
) -> tuple[Array, Array]:
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
    response : Response
        What growth and death answer to.
    cut : Cut, optional
        Trees taken on the way; those that stay grow faster once the lag of their species is over.

    Returns
    -------
    tuple of array, each of shape (n,)
        Diameters [in] and trees per acre after the years; no ingrowth. Trees that a cut took stand for none.

    Notes
    -----
    Competition is taken from the list itself each year (``geometry``); increment and survival as in this room.
    """
    dbh, trees = dbh_in.astype(float).copy(), per_ac.astype(float).copy()
    closed = 0.0
    for year in range(years):
        each = FT2_PER_IN2_OF_DBH * dbh**2 * trees
        if cut is not None and year <= cut.year:
            closed = float(each.sum())
        if cut is not None and year == cut.year:
            trees, each = np.where(cut.stays, trees, 0.0), np.where(cut.stays, each, 0.0)
        since = None if cut is None else year - cut.year
        dbh, trees = _one_year(
            spcd, dbh, trees, _Crowd(larger_basal_area(dbh, each), float(each.sum()), closed, since), response
        )
    if cut is not None and cut.year >= years:
        trees = np.where(cut.stays, trees, 0.0)
    return dbh, trees


@dataclass(frozen=True)
class _Crowd:
    """Competition in one year: larger trees of each, the stand now and before a cut [ft2/ac], years since the cut."""

    larger_ft2_ac: Array
    ba_ft2_ac: float
    before_ft2_ac: float
    since_cut_yr: int | None

    def felt_by(self, spcd: int, response: Response) -> float:
        """The basal area that growth answers to: that before the cut until the lag of the species is over."""
        lag = response.lag_yr.get(spcd, response.other_lag_yr)
        waiting = self.since_cut_yr is not None and 0 <= self.since_cut_yr < lag
        return max(self.before_ft2_ac, self.ba_ft2_ac) if waiting else self.ba_ft2_ac


def _one_year(
    spcd: NDArray[np.int64], dbh: Array, trees: Array, crowd: _Crowd, response: Response
) -> tuple[Array, Array]:
    grown, dying = np.zeros_like(dbh), np.zeros_like(dbh)
    site = site_response(response)
    for code in map(int, np.unique(spcd)):
        mine = spcd == code
        larger = crowd.larger_ft2_ac[mine]
        faster = site * thinning_response(crowd.felt_by(code, response), response)
        grown[mine] = faster * diameter_growth_in_yr(code, dbh[mine], larger, growth_z=response.growth_z)
        chance = mortality_yr(code, dbh[mine], death_z=response.death_z)
        dying[mine] = np.minimum(chance * crowding_response(code, dbh[mine], larger, response), 1.0)
    return dbh + grown, trees * (1 - dying)
