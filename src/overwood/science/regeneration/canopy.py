"""The canopy over a floor: what stands of it, the light below it as it closes again, its crop, and what a cut or an
injection changes."""

from __future__ import annotations

import numpy as np

from overwood.science.regeneration.compiling import compiled
from overwood.science.regeneration.luck import CROP, TOGETHER, chance
from overwood.science.regeneration.processes import crop_chance, crop_chance_seen, floor_light
from overwood.science.regeneration.shapes import (
    BA,
    BEFORE,
    BROWSE,
    CANOPY,
    FELLED_FIRST,
    MID,
    OPENED,
    OTHER_BA,
    RED,
    RED_BA,
    WAS_CUT,
    WHITE,
    WHITE_BA,
    WHOLE_BA,
    WHOLE_OAK,
)


@compiled
def new_canopy(oaks, stand, p):  # type: ignore[no-untyped-def]
    """The canopy at the start, closing already where the stand was opened before.

    Parameters
    ----------
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    stand, p : record
        The stand and parameters, by STAND and PARAMETERS.

    Returns
    -------
    array, shape (CANOPY,)
        Places as ``shapes`` names them.
    """
    canopy = np.zeros(CANOPY)
    canopy[OTHER_BA], canopy[MID], canopy[BROWSE] = (
        stand["other_ba_ft2_ac"],
        stand["midstory"],
        stand["browse_share"],
    )
    for species in range(len(oaks)):
        if oaks[species]["group"] == WHITE:
            canopy[WHITE_BA] += oaks[species]["ba_ft2_ac"]
        else:
            canopy[RED_BA] += oaks[species]["ba_ft2_ac"]
    _sum_up(canopy)
    oak = canopy[WHITE_BA] + canopy[RED_BA]
    canopy[WHOLE_OAK], canopy[WHOLE_BA] = oak, max(canopy[BA], stand["ba_before_ft2_ac"])
    canopy[BEFORE] = light_full(canopy, p)
    if stand["opened_yr"] >= 0:
        # The oaks that were cut bore acorns before: the canopy is a part of what stood.
        canopy[WHOLE_OAK] = oak * canopy[WHOLE_BA] / canopy[BA] if canopy[BA] > 0 else oak
        canopy[OPENED], canopy[WAS_CUT] = -stand["opened_yr"], 1.0
        whole = floor_light(canopy[WHOLE_BA], stand["midstory_before"], p)
        canopy[BEFORE] = max(whole, p["light_kept_share"] * light_full(canopy, p))
    return canopy


@compiled
def sprouting_ac(oaks):  # type: ignore[no-untyped-def]
    """Oak stumps of all species that are expected to sprout [1/ac]; ``oaks`` are records by OAK."""
    total = 0.0
    for species in range(len(oaks)):
        total += oaks[species]["sprouts_ac"]
    return total


@compiled
def _sum_up(canopy):  # type: ignore[no-untyped-def]
    canopy[BA] = canopy[WHITE_BA] + canopy[RED_BA] + canopy[OTHER_BA]


@compiled
def light_full(canopy, p):  # type: ignore[no-untyped-def]
    """Light on the floor with no crown closed since the last opening, 0 to 1; canopy and parameters as above."""
    return floor_light(canopy[BA], canopy[MID], p)


@compiled
def light_now(canopy, p, year):  # type: ignore[no-untyped-def]
    """Light on the floor, fading from what an opening gave toward what was before.

    Parameters
    ----------
    canopy : array, shape (CANOPY,)
        The canopy.
    p : record
        Parameters.
    year : int
        Year of the run; that of an opening has its whole light.

    Returns
    -------
    float
        Share of full sun, 0 to 1.
    """
    full = light_full(canopy, p)
    # Without a canopy nothing closes over the floor but its own young stems.
    if full <= canopy[BEFORE] or canopy[BA] <= 0:
        return full
    return canopy[BEFORE] + (full - canopy[BEFORE]) * 0.5 ** ((year - canopy[OPENED]) / p["light_lasts_yr"])


@compiled
def take_midstory(canopy, p, year):  # type: ignore[no-untyped-def]
    """Injection takes its part of the midstory; the light gained fades again.

    Parameters
    ----------
    canopy : array, shape (CANOPY,)
        Changed in place.
    p : record
        Parameters: part of the midstory's shade that injection takes.
    year : int
        Year of the run.
    """
    canopy[BEFORE] = light_now(canopy, p, year)
    canopy[MID] *= 1 - p["inject_share"]
    canopy[OPENED] = year


@compiled
def open_to(canopy, p, year, ba_ft2_ac):  # type: ignore[no-untyped-def]
    """Cut the canopy to a basal area, other species before oaks; felling breaks part of the midstory.

    Parameters
    ----------
    canopy : array, shape (CANOPY,)
        Changed in place.
    p : record
        Parameters.
    year : int
        Year of the run.
    ba_ft2_ac : float
        Basal area after; a canopy that is lower already stays.

    Notes
    -----
    Light fades to no less than a part of what the cut gave, and to no less than there was.
    """
    old, stood = light_now(canopy, p, year), canopy[BA]
    take = max(stood - ba_ft2_ac, 0.0)
    others = min(take, canopy[OTHER_BA])
    oaks = canopy[WHITE_BA] + canopy[RED_BA]
    left = (oaks - (take - others)) / oaks if oaks > 0 else 0.0
    canopy[FELLED_FIRST] = 1 - (1 - canopy[FELLED_FIRST]) * left
    canopy[OTHER_BA] -= others
    canopy[WHITE_BA], canopy[RED_BA] = canopy[WHITE_BA] * left, canopy[RED_BA] * left
    _sum_up(canopy)
    if stood > 0:
        canopy[MID] *= 1 - p["midstory_broken"] * take / stood
    canopy[OPENED], canopy[WAS_CUT] = year, 1.0
    canopy[BEFORE] = max(old, p["light_kept_share"] * light_full(canopy, p))


@compiled
def age_canopy(canopy, p):  # type: ignore[no-untyped-def]
    """A year of growth and death of the canopy's three classes; full ground is not overgrown, and a midstory in the
    open fades.

    Parameters
    ----------
    canopy : array, shape (CANOPY,)
        Changed in place.
    p : record
        Parameters: growth of basal area a year, how many times more after a cut, deaths by class, and fading of the
        midstory.

    Notes
    -----
    Deaths by group are published for uncut oak stands; growth of basal area is an assumption, and a canopy that was
    never cut keeps what it has at the most, since uncut mature stands stand near a balance.
    """
    growth = p["canopy_growth"] * (p["canopy_release"] if canopy[WAS_CUT] > 0 else 1.0)
    canopy[WHITE_BA] *= 1 + growth - p["death_white"]
    canopy[RED_BA] *= 1 + growth - p["death_red"]
    canopy[OTHER_BA] *= 1 + growth - p["death_other"]
    total = canopy[WHITE_BA] + canopy[RED_BA] + canopy[OTHER_BA]
    shrink = min(1.0, canopy[WHOLE_BA] / total) if total > 0 else 1.0
    canopy[WHITE_BA] *= shrink
    canopy[RED_BA] *= shrink
    canopy[OTHER_BA] *= shrink
    _sum_up(canopy)
    if canopy[WAS_CUT] > 0:
        canopy[MID] *= 1 - p["midstory_fade"]


@compiled
def crops_before(stand, p, seed):  # type: ignore[no-untyped-def]
    """Good crops one and two years back by group: as known, or by luck where nothing is on record.

    Parameters
    ----------
    stand, p : record
        The stand and parameters.
    seed : int
        Seed of the future.

    Returns
    -------
    array of 0 or 1, shape (2, 2)
        By group and years back.
    """
    past = np.zeros((2, 2))
    for group in range(2):
        for back in range(2):
            known = stand["good_crop_ago_yr"]
            past[group, back] = (
                known == back + 1 if known >= 0 else chance(seed, CROP, -1 - back, group, 1) < p["good_crop_chance"]
            )
    return past


@compiled
def crop_of(good, crops, past, p, seed, year):  # type: ignore[no-untyped-def]
    """Whether the white and the red oaks bear well this year: by luck, weighed by what was seen of the crop.

    Parameters
    ----------
    good : array of 0 or 1, shape (2,)
        Set in place, by group.
    crops : array, shape (autumns, 2, 3)
        What was seen of the first autumns' crops by group: trees bearing, trees looked at, side of the crop gate.
    past : array of 0 or 1, shape (2, 2)
        Good crops one and two years back, by group; moved on in place.
    p : record
        Parameters.
    seed, year : int
        Seed of the future and year of the run.
    """
    white, red = chance(seed, CROP, year, WHITE, 0), chance(seed, CROP, year, RED, 0)
    shared = white if chance(seed, TOGETHER, year, 0, 0) < p["crop_together"] else red
    for group in range(2):
        # White oaks look back one year, red oaks two.
        before = crop_chance(p["good_crop_chance"], p["crop_after_good"], past[group, group])
        bearing, looked = (crops[year, group, 0], crops[year, group, 1]) if year < len(crops) else (0.0, 0.0)
        good[group] = (white if group == WHITE else shared) < crop_chance_seen(before, bearing, looked, p)
        past[group, 1], past[group, 0] = past[group, 0], good[group]
