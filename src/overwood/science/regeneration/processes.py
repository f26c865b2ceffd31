"""The processes of a forest floor one by one: light, survival, growth, seed, and who stands at the end.

Compiled, so that plots can call them; heights in feet, light as a share of full sun.
"""

from __future__ import annotations

import math

import numba
import numpy as np

_DARK, _LIT = 0.05, 0.20
_NO_GAIN, _SEEDLING_FULL, _ESTABLISHED_FULL, _SPROUT_FULL = 0.03, 0.20, 0.30, 0.60


@numba.njit(cache=True)
def floor_light(ba_ft2_ac, midstory_multiplier):  # type: ignore[no-untyped-def]
    """Light below a main canopy, the planning curve.

    Parameters
    ----------
    ba_ft2_ac : float
        Basal area of the main canopy [ft2/ac].
    midstory_multiplier : float
        1 with the midstory gone, less where it stands.

    Returns
    -------
    float
        Share of full sun, 0 to 1; full sun without a canopy.

    Notes
    -----
    ``cunningham2011``, the curve of ``light.curve``.

    Examples
    --------
    >>> round(floor_light(70.1, 1.0), 3)
    0.275
    """
    if ba_ft2_ac <= 0:
        return 1.0
    return midstory_multiplier * math.exp(-0.2213 - 0.01524 * ba_ft2_ac)


@numba.njit(cache=True)
def yearly_survival(light, dark, lit):  # type: ignore[no-untyped-def]
    """Chance that a stem lives through a year.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    dark, lit : float
        Yearly survival in dense shade (5 % and less) and in part sun (20 % and more).

    Returns
    -------
    float
        Chance, 0 to 1.

    Notes
    -----
    Straight between the two (an assumption); ends from eight-year survival of ``brose2011`` as the eighth root.

    Examples
    --------
    >>> round(yearly_survival(0.2, 0.02 ** (1 / 8), 0.26 ** (1 / 8)) ** 8, 2)
    0.26
    """
    share = min(max((light - _DARK) / (_LIT - _DARK), 0.0), 1.0)
    return dark + (lit - dark) * share


@numba.njit(cache=True)
def growth_share(light, full):  # type: ignore[no-untyped-def]
    """Height growth as a share of that in enough light.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    full : float
        Light from which growth is whole.

    Returns
    -------
    float
        Share, 0 to 1.

    Notes
    -----
    None at 3 % (compensation 2 to 5 %), whole at the light wanted; straight between, an assumption.

    Examples
    --------
    >>> growth_share(0.03, 0.3), growth_share(0.3, 0.3)
    (0.0, 1.0)
    """
    return min(max((light - _NO_GAIN) / (full - _NO_GAIN), 0.0), 1.0)


@numba.njit(cache=True)
def oak_gain_ft(height_ft, root_ft, light, seedling_ft_yr, established_ft_yr, sprout_ft_yr):  # type: ignore[no-untyped-def]
    """Height an oak gains in a year, without its plot's and the year's luck.

    Parameters
    ----------
    height_ft, root_ft : float
        Height, and the greatest its root has carried [ft]; below it the stem is a sprout.
    light : float
        Share of full sun, 0 to 1.
    seedling_ft_yr, established_ft_yr, sprout_ft_yr : float
        Growth in light enough of stems under a foot, of taller ones, and of sprouts [ft/yr].

    Returns
    -------
    float
        Gain [ft].

    Notes
    -----
    Seedlings by ``long2012``; the others are assumptions.

    Examples
    --------
    >>> round(oak_gain_ft(0.5, 0.5, 0.25, 0.17, 0.5, 1.5), 2)
    0.17
    """
    if height_ft < root_ft:
        return sprout_ft_yr * growth_share(light, _SPROUT_FULL)
    if height_ft >= 1.0:
        return established_ft_yr * growth_share(light, _ESTABLISHED_FULL)
    return seedling_ft_yr * growth_share(light, _SEEDLING_FULL)


@numba.njit(cache=True)
def tolerant_gain_ft(light, shade_ft_yr):  # type: ignore[no-untyped-def]
    """Height a tolerant rival gains in a year.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    shade_ft_yr : float
        Growth at a tenth of full sun and less [ft/yr].

    Returns
    -------
    float
        Gain [ft]; about two feet in full sun, an assumption.

    Examples
    --------
    >>> tolerant_gain_ft(0.05, 0.3)
    0.3
    """
    return shade_ft_yr + (2.0 - shade_ft_yr) * max(light - 0.1, 0.0)


@numba.njit(cache=True)
def poplar_gain_ft(light, full_ft_yr):  # type: ignore[no-untyped-def]
    """Height a pioneer rival gains in a year.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    full_ft_yr : float
        Growth in full sun [ft/yr].

    Returns
    -------
    float
        Gain [ft]; none at a fifth of full sun and less, an assumption.

    Examples
    --------
    >>> round(poplar_gain_ft(1.0, 3.0), 6)
    3.0
    """
    return full_ft_yr * max(light - 0.2, 0.0) / 0.8


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
def germinants_ac(acorns_ac, insect_share, buried_share):  # type: ignore[no-untyped-def]
    """Germinants of a crop.

    Parameters
    ----------
    acorns_ac : float
        Acorns that fall [1/ac].
    insect_share, buried_share : float
        Shares spoiled by insects, and of the sound ones buried, 0 to 1.

    Returns
    -------
    float
        Germinants [1/ac].

    Notes
    -----
    Of the sound ones 80 % live when buried and 20 % when not (``brose2011``).

    Examples
    --------
    >>> round(germinants_ac(210000.0, 0.05, 0.0))
    39900
    """
    return acorns_ac * (1 - insect_share) * (0.8 * buried_share + 0.2 * (1 - buried_share))


@numba.njit(cache=True)
def success_chance(height_ft, overtopped, site_index_ft, b0, b_ln_diameter, b_site_10ft, k_overtopped):  # type: ignore[no-untyped-def]
    """Chance that an advance oak is dominant or codominant at 20.

    Parameters
    ----------
    height_ft : float
        Height its root has carried [ft]; 4.5 ft is taken as 0.6 in. at the ground.
    overtopped : bool
        Whether a rival stands more than a quarter taller.
    site_index_ft : float
        Oak site index [ft].
    b0, b_ln_diameter, b_site_10ft, k_overtopped : float
        Coefficients of the stand-in model of ``reproduction.advance_success``.

    Returns
    -------
    float
        Chance, 0 to 1.

    Examples
    --------
    >>> round(success_chance(4.5, False, 65.0, 1.18, 2.24, -0.8, -1.0), 2)
    0.51
    """
    diameter = max(0.6 * height_ft / 4.5, 0.02)
    logit = b0 + b_ln_diameter * math.log(diameter) + b_site_10ft * (site_index_ft - 65) / 10
    if overtopped:
        logit += k_overtopped
    return 1 / (1 + math.exp(-logit))
