"""The processes of a forest floor one by one: light, survival, growth, seed, and who stands at the end.

Compiled, so that plots can call them; heights in feet, light as a share of full sun.
"""

from __future__ import annotations

import math

import numba
import numpy as np


@numba.njit(cache=True)
def floor_light(ba_ft2_ac, midstory_multiplier, curve_b0, curve_b1):  # type: ignore[no-untyped-def]
    """Light below a main canopy, the planning curve.

    Parameters
    ----------
    ba_ft2_ac : float
        Basal area of the main canopy [ft2/ac].
    midstory_multiplier : float
        1 with the midstory gone, less where it stands.
    curve_b0, curve_b1 : float
        Planning curve: log of the share at no basal area, and its slope.

    Returns
    -------
    float
        Share of full sun, 0 to 1; full sun without a canopy.

    Notes
    -----
    ``cunningham2011``, the curve of ``light.curve``.

    Examples
    --------
    >>> round(floor_light(70.1, 1.0, -0.2213, -0.01524), 3)
    0.275
    """
    if ba_ft2_ac <= 0:
        return 1.0
    return midstory_multiplier * math.exp(curve_b0 + curve_b1 * ba_ft2_ac)


@numba.njit(cache=True)
def yearly_survival(light, dark, lit, light_dark, light_lit):  # type: ignore[no-untyped-def]
    """Chance that a stem lives through a year.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    dark, lit : float
        Yearly survival in dense shade and in part sun.
    light_dark, light_lit : float
        Light up to which shade is dense, and from which sun is enough, 0 to 1.

    Returns
    -------
    float
        Chance, 0 to 1.

    Notes
    -----
    Straight between the two (an assumption); ends from eight-year survival of ``brose2011`` as the eighth root.

    Examples
    --------
    >>> round(yearly_survival(0.2, 0.02 ** (1 / 8), 0.26 ** (1 / 8), 0.05, 0.2) ** 8, 2)
    0.26
    """
    share = min(max((light - light_dark) / (light_lit - light_dark), 0.0), 1.0)
    return dark + (lit - dark) * share


@numba.njit(cache=True)
def growth_share(light, none, full):  # type: ignore[no-untyped-def]
    """Height growth as a share of that in enough light.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    none, full : float
        Light of no growth, and from which growth is whole.

    Returns
    -------
    float
        Share, 0 to 1.

    Notes
    -----
    Straight between the two, an assumption.

    Examples
    --------
    >>> growth_share(0.03, 0.03, 0.3), growth_share(0.3, 0.03, 0.3)
    (0.0, 1.0)
    """
    return min(max((light - none) / (full - none), 0.0), 1.0)


@numba.njit(cache=True)
def oak_gain_ft(height_ft, root_ft, light, p):  # type: ignore[no-untyped-def]
    """Height an oak gains in a year, without its plot's and the year's luck.

    Parameters
    ----------
    height_ft, root_ft : float
        Height, and the greatest its root has carried [ft]; below it the stem is a sprout.
    light : float
        Share of full sun, 0 to 1.
    p : record
        Parameters: growth in light enough of stems under ``established_ft``, of taller ones and of sprouts [ft/yr], and the light each wants.

    Returns
    -------
    float
        Gain [ft].

    Notes
    -----
    Seedlings by ``long2012``; the others are assumptions.
    """
    none = p["light_no_gain"]
    if height_ft < root_ft:
        return p["growth_sprout_ft_yr"] * growth_share(light, none, p["light_sprout"])
    if height_ft >= p["established_ft"]:
        return p["growth_established_ft_yr"] * growth_share(light, none, p["light_established"])
    return p["growth_seedling_ft_yr"] * growth_share(light, none, p["light_seedling"])


@numba.njit(cache=True)
def tolerant_gain_ft(light, p):  # type: ignore[no-untyped-def]
    """Height a tolerant rival gains in a year.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    p : record
        Parameters: growth in shade and in full sun [ft/yr], and the light from which it gains.

    Returns
    -------
    float
        Gain [ft]; straight between shade and full sun, an assumption.
    """
    start = p["tolerant_light"]
    more = max(light - start, 0.0) / (1 - start)
    return p["growth_tolerant_ft_yr"] + (p["tolerant_full_ft_yr"] - p["growth_tolerant_ft_yr"]) * more


@numba.njit(cache=True)
def poplar_gain_ft(light, p):  # type: ignore[no-untyped-def]
    """Height a pioneer rival gains in a year.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    p : record
        Parameters: growth in full sun [ft/yr], and the light below which it gains nothing.

    Returns
    -------
    float
        Gain [ft]; straight between, an assumption.
    """
    start = p["pioneer_light"]
    return p["growth_poplar_ft_yr"] * max(light - start, 0.0) / (1 - start)


def crop_years(years: int, good_share: float, seed: int) -> list[int]:
    """Years of a run in which the crop is good.

    Parameters
    ----------
    years : int
        Length of the run.
    good_share : float
        Chance of a good crop in a year, 0 to 1.
    seed : int
        Seed.

    Returns
    -------
    list of int
        Years, the first being 1.

    Notes
    -----
    Years are independent; one good crop in three to four (``johnson1994``).

    Examples
    --------
    >>> len(crop_years(1000, 0.3, 1)) in range(250, 350)
    True
    """
    return [int(year) + 1 for year in np.flatnonzero(np.random.default_rng(seed).random(years) < good_share)]


@numba.njit(cache=True)
def crop_is_good(chance, after_good, was_good, u):  # type: ignore[no-untyped-def]
    """Whether a crop is good, less often after a good one.

    Parameters
    ----------
    chance : float
        Share of good years in the long run, 0 to 1.
    after_good : float
        Chance after a good crop as a part of that after another, 0 to 1.
    was_good : bool
        Whether the crop before was good: the year before for white oaks, two years before for red oaks, whose acorns take two.
    u : float
        Chance of the year, 0 to 1.

    Returns
    -------
    bool
        True for a good crop.

    Notes
    -----
    The chance after a poor crop is set so that the share of good years in the long run is the published one (``johnson1994``);
    that a good crop empties the trees is common knowledge, its size an assumption.

    Examples
    --------
    >>> crop_is_good(0.3, 1.0, True, 0.29), crop_is_good(0.3, 0.5, True, 0.29)
    (True, False)
    """
    base = chance / (1 - chance + after_good * chance)
    return u < base * (after_good if was_good else 1.0)


@numba.njit(cache=True)
def germinants_ac(acorns_ac, insect_share, buried_share, overwinter_buried, overwinter_unburied):  # type: ignore[no-untyped-def]
    """Germinants of a crop.

    Parameters
    ----------
    acorns_ac : float
        Acorns that fall [1/ac].
    insect_share, buried_share : float
        Shares spoiled by insects, and of the sound ones buried, 0 to 1.
    overwinter_buried, overwinter_unburied : float
        Shares of buried and of unburied sound acorns alive in spring, 0 to 1.

    Returns
    -------
    float
        Germinants [1/ac].

    Notes
    -----
    Source: ``brose2011``.

    Examples
    --------
    >>> round(germinants_ac(210000.0, 0.05, 0.0, 0.8, 0.2))
    39900
    """
    return acorns_ac * (1 - insect_share) * (overwinter_buried * buried_share + overwinter_unburied * (1 - buried_share))


@numba.njit(cache=True)
def success_chance(height_ft, overtopped, site_index_ft, p):  # type: ignore[no-untyped-def]
    """Chance that an advance oak is dominant or codominant at 20.

    Parameters
    ----------
    height_ft : float
        Height its root has carried [ft].
    overtopped : bool
        Whether a rival stands so many times taller.
    site_index_ft : float
        Oak site index [ft].
    p : record
        Parameters: coefficients of the stand-in model of ``reproduction.advance_success``, and the collar of a stem of 4.5 ft [in].

    Returns
    -------
    float
        Chance, 0 to 1.
    """
    diameter = max(p["collar_in_at_4_5ft"] * height_ft / 4.5, 0.02)
    logit = p["dominance_b0"] + p["dominance_ln_diameter"] * math.log(diameter) + p["dominance_site_10ft"] * (site_index_ft - 65) / 10
    if overtopped:
        logit += p["dominance_overtopped"]
    return 1 / (1 + math.exp(-logit))
