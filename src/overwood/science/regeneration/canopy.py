"""The canopy over a floor: what stands of it, the light below it as it closes again, its crop, and what a cut or an
injection changes."""

from __future__ import annotations

import numpy as np

from overwood.science.regeneration.compiling import compiled
from overwood.science.regeneration.luck import CROP, TOGETHER, chance
from overwood.science.regeneration.processes import crop_chance, crop_chance_seen, floor_light
from overwood.science.regeneration.shapes import CANOPY_ROW, RED, WHITE


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
    array of one record
        By CANOPY.
    """
    canopy = np.zeros(1, CANOPY_ROW)
    canopy["other"][0], canopy["mid"][0], canopy["browse"][0] = (
        stand["other_ba_ft2_ac"],
        stand["midstory"],
        stand["browse_share"],
    )
    for species in range(len(oaks)):
        if oaks[species]["group"] == WHITE:
            canopy["white"][0] += oaks[species]["ba_ft2_ac"]
        else:
            canopy["red"][0] += oaks[species]["ba_ft2_ac"]
    _sum_up(canopy)
    oak = canopy["white"][0] + canopy["red"][0]
    canopy["whole_oak"][0], canopy["whole_ba"][0] = oak, max(canopy["ba"][0], stand["ba_before_ft2_ac"])
    canopy["before"][0] = light_full(canopy, p)
    if stand["opened_yr"] >= 0:
        # The oaks that were cut bore acorns before: the canopy is a part of what stood.
        canopy["whole_oak"][0] = oak * canopy["whole_ba"][0] / canopy["ba"][0] if canopy["ba"][0] > 0 else oak
        canopy["opened"][0], canopy["was_cut"][0] = -stand["opened_yr"], 1.0
        whole = floor_light(canopy["whole_ba"][0], stand["midstory_before"], p)
        canopy["before"][0] = max(whole, p["light_kept_share"] * light_full(canopy, p))
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
    canopy["ba"][0] = canopy["white"][0] + canopy["red"][0] + canopy["other"][0]


@compiled
def light_full(canopy, p):  # type: ignore[no-untyped-def]
    """Light on the floor with no crown closed since the last opening, 0 to 1; canopy and parameters as above."""
    return floor_light(canopy["ba"][0], canopy["mid"][0], p)


@compiled
def light_now(canopy, p, year):  # type: ignore[no-untyped-def]
    """Light on the floor, fading from what an opening gave toward what was before.

    Parameters
    ----------
    canopy : array of one record
        The canopy, by CANOPY.
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
    if full <= canopy["before"][0] or canopy["ba"][0] <= 0:
        return full
    return canopy["before"][0] + (full - canopy["before"][0]) * 0.5 ** (
        (year - canopy["opened"][0]) / p["light_lasts_yr"]
    )


@compiled
def take_midstory(canopy, p, year):  # type: ignore[no-untyped-def]
    """Injection takes its part of the midstory; the light gained fades again.

    Parameters
    ----------
    canopy : array of one record
        Changed in place.
    p : record
        Parameters: part of the midstory's shade that injection takes.
    year : int
        Year of the run.
    """
    canopy["before"][0] = light_now(canopy, p, year)
    canopy["mid"][0] *= 1 - p["inject_share"]
    canopy["opened"][0] = year


@compiled
def open_to(canopy, p, year, ba_ft2_ac):  # type: ignore[no-untyped-def]
    """Cut the canopy to a basal area, other species before oaks; felling breaks part of the midstory.

    Parameters
    ----------
    canopy : array of one record
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
    old, stood = light_now(canopy, p, year), canopy["ba"][0]
    take = max(stood - ba_ft2_ac, 0.0)
    others = min(take, canopy["other"][0])
    oaks = canopy["white"][0] + canopy["red"][0]
    left = (oaks - (take - others)) / oaks if oaks > 0 else 0.0
    canopy["felled_first"][0] = 1 - (1 - canopy["felled_first"][0]) * left
    canopy["other"][0] -= others
    canopy["white"][0], canopy["red"][0] = canopy["white"][0] * left, canopy["red"][0] * left
    _sum_up(canopy)
    if stood > 0:
        canopy["mid"][0] *= 1 - p["midstory_broken"] * take / stood
    canopy["opened"][0], canopy["was_cut"][0] = year, 1.0
    canopy["before"][0] = max(old, p["light_kept_share"] * light_full(canopy, p))


@compiled
def age_canopy(canopy, p):  # type: ignore[no-untyped-def]
    """A year of growth and death of the canopy's three classes; full ground is not overgrown, and a midstory in the
    open fades.

    Parameters
    ----------
    canopy : array of one record
        Changed in place.
    p : record
        Parameters: growth of basal area a year, how many times more after a cut, deaths by class, and fading of the
        midstory.

    Notes
    -----
    Deaths by group are published for uncut oak stands; growth of basal area is an assumption, and a canopy that was
    never cut keeps what it has at the most, since uncut mature stands stand near a balance.
    """
    growth = p["canopy_growth"] * (p["canopy_release"] if canopy["was_cut"][0] > 0 else 1.0)
    canopy["white"][0] *= 1 + growth - p["death_white"]
    canopy["red"][0] *= 1 + growth - p["death_red"]
    canopy["other"][0] *= 1 + growth - p["death_other"]
    total = canopy["white"][0] + canopy["red"][0] + canopy["other"][0]
    shrink = min(1.0, canopy["whole_ba"][0] / total) if total > 0 else 1.0
    canopy["white"][0] *= shrink
    canopy["red"][0] *= shrink
    canopy["other"][0] *= shrink
    _sum_up(canopy)
    if canopy["was_cut"][0] > 0:
        canopy["mid"][0] *= 1 - p["midstory_fade"]


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
