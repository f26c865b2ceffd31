"""The floor of growing spaces and what is done on it: stems find places, fire, felling, injection of tall rivals,
planting."""

from __future__ import annotations

import math

import numpy as np

from overwood.science.regeneration.compiling import compiled, within
from overwood.science.regeneration.luck import (
    BURN,
    FELL,
    INJECT,
    PLANT,
    RIVAL_BURN,
    VIGOR_LUCK,
    chance,
    living,
    normal,
    poisson_count,
)
from overwood.science.regeneration.processes import collar_in
from overwood.science.regeneration.shapes import (
    CARRIED_FT,
    GAINED,
    KIND,
    MID,
    NAME,
    NUMBER,
    OAK_FT,
    PIONEER_FT,
    SLOTS,
    STOUT,
    TOLERANT_FT,
    VIGOR,
    YOUNG_YEARS,
    Floor,
)

# Names of places, on which the luck of their stems hangs: counted stems first, then what rose in a year, then planted
# ones.
_RISEN, _PLANTED = 1_000, 900


@compiled
def new_floor(counted, which, oaks, p, seed):  # type: ignore[no-untyped-def]
    """The floor of one future from drawn growing spaces.

    Parameters
    ----------
    counted : Counted
        The spaces as they were counted.
    which : array of int, shape (spaces,)
        Which counted space each of these is.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    p : record
        Parameters.
    seed : int
        Seed of the future.

    Returns
    -------
    Floor
        Its own copy, with a lasting vigor drawn for each space, about a mean of one.
    """
    # Loops, not array expressions: those take the compiler many times as long.
    stems = np.empty((len(which), SLOTS, counted.stems.shape[2]))
    ground = np.empty((len(which), counted.ground.shape[1]))
    for space in range(len(which)):
        for slot in range(SLOTS):
            for column in range(stems.shape[2]):
                stems[space, slot, column] = counted.stems[which[space], slot, column]
        for column in range(ground.shape[1]):
            ground[space, column] = counted.ground[which[space], column]
        ground[space, VIGOR] = math.exp(
            p["plot_spread_ln"] * (normal(seed, VIGOR_LUCK, 0, space) - p["plot_spread_ln"] / 2)
        )
    return Floor(stems, ground, np.zeros((len(oaks) + 2, YOUNG_YEARS)))


@compiled
def settle(floor, space, number, height, stout, kind, name):  # type: ignore[no-untyped-def]
    """Give new stems a place on a space: a free one, or that of the stems nearest in height; none is left out.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    space : int
        The growing space.
    number, height, stout : float
        Stems, their height [ft] and their collar against that expected of it.
    kind, name : int
        Species, and the name that their luck hangs on.
    """
    nearest, least = 0, 1e9
    for slot in range(SLOTS):
        if floor.stems[space, slot, NUMBER] <= 0:
            floor.stems[space, slot, NUMBER], floor.stems[space, slot, OAK_FT], floor.stems[space, slot, CARRIED_FT] = (
                number,
                height,
                height,
            )
            floor.stems[space, slot, STOUT], floor.stems[space, slot, KIND], floor.stems[space, slot, NAME] = (
                stout,
                kind,
                name,
            )
            return
        apart = abs(floor.stems[space, slot, OAK_FT] - height) + (
            0.0 if floor.stems[space, slot, KIND] == kind else 100.0
        )
        if apart < least:
            nearest, least = slot, apart
    floor.stems[space, nearest, NUMBER] += number


@within
def rise(floor, space, species, year, age, number, height):  # type: ignore[no-untyped-def]
    """Seedlings that are established now take a place of their own; their luck hangs on species and year of birth."""
    settle(floor, space, number, height, 1.0, species, _RISEN + 64 * (year - age + 100) + species)


@compiled
def plant(floor, space_ac, stems_ac, p, seed):  # type: ignore[no-untyped-def]
    """Planted oaks, at random over the spaces.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    space_ac, stems_ac : float
        Size of a space [ac] and oaks planted [1/ac].
    p : record
        Parameters: height and collar of a planted oak.
    seed : int
        Seed of the future.
    """
    stout = p["planted_collar_in"] / collar_in(p["planted_ft"], 1.0, p)
    for space in range(len(floor.ground)):
        number = poisson_count(stems_ac * space_ac, chance(seed, PLANT, 0, space, 0))
        if number > 0:
            settle(floor, space, float(number), p["planted_ft"], stout, len(floor.small) - 2, _PLANTED)


@compiled
def burn(floor, canopy, leaf_out, p, seed, year):  # type: ignore[no-untyped-def]
    """One burn: stems are topkilled and sprout from the root they had, small roots die, saplings and midstory thin.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    canopy : array, shape (CANOPY,)
        Its midstory is thinned in place.
    leaf_out : float
        1 at leaf-out and later, when rivals' roots die more often; oaks' hardly do (``brose1998``); else 0.
    p : record
        Parameters.
    seed, year : int
        Seed of the future and year of the run.
    """
    for age in range(YOUNG_YEARS):
        for species in range(len(floor.small) + GAINED):
            floor.small[species, age] *= p["burn_young"]
        floor.small[GAINED, age] = 0.0
    times = p["burn_growing_times"] if leaf_out > 0 else 1.0
    tolerant, pioneer = max(1 - times * (1 - p["burn_tolerant"]), 0.0), max(1 - times * (1 - p["burn_pioneer"]), 0.0)
    canopy[MID] *= 1 - p["burn_midstory"]
    for space in range(len(floor.ground)):
        _burn_oaks(floor, space, p["burn_growing_oak_times"] if leaf_out > 0 else 1.0, p, seed, year)
        if floor.ground[space, TOLERANT_FT] < p["burn_escape_ft"]:
            lives = chance(seed, RIVAL_BURN, year, space, 0) < tolerant
            floor.ground[space, TOLERANT_FT] = min(floor.ground[space, TOLERANT_FT], p["topkill_ft"]) if lives else 0.0
        if floor.ground[space, PIONEER_FT] < p["burn_escape_ft"]:
            lives = chance(seed, RIVAL_BURN, year, space, 1) < pioneer
            floor.ground[space, PIONEER_FT] = min(floor.ground[space, PIONEER_FT], p["topkill_ft"]) if lives else 0.0


@compiled
def _burn_oaks(floor, space, times, p, seed, year):  # type: ignore[no-untyped-def]
    stems = floor.stems
    for slot in range(SLOTS):
        if stems[space, slot, NUMBER] > 0 and stems[space, slot, OAK_FT] < p["burn_escape_ft"]:
            collar = collar_in(stems[space, slot, CARRIED_FT], stems[space, slot, STOUT], p)
            deaths = times * (1 - burn_survival(collar, p))
            stems[space, slot, NUMBER] = living(
                stems[space, slot, NUMBER], 1 - deaths, seed, BURN, year, space, int(stems[space, slot, NAME])
            )
            stems[space, slot, OAK_FT] = min(stems[space, slot, OAK_FT] * p["topkill_share"], p["topkill_ft"])


@within
def burn_survival(collar, p):  # type: ignore[no-untyped-def]
    """Chance that an oak's root outlives a burn, against no burn.

    Parameters
    ----------
    collar : float
        Diameter at the root collar [in].
    p : record
        Parameters: survival of the smallest roots and of stout ones, and the collar from which a root is stout.

    Returns
    -------
    float
        Chance, 0 to 1; straight in the collar, an assumption.

    Notes
    -----
    Small ones by ``alexander2008``; deaths fall on stems under 0.47 in. (``spetich2013``).

    Examples
    --------
    >>> p = {"burn_oak_small": 0.6, "burn_oak_large": 0.95, "burn_collar_in": 0.5}
    >>> round(burn_survival.py_func(0.25, p), 3), burn_survival.py_func(1.0, p)
    (0.775, 0.95)
    """
    return p["burn_oak_small"] + (p["burn_oak_large"] - p["burn_oak_small"]) * min(collar / p["burn_collar_in"], 1.0)


@compiled
def fell_over(floor, share, p, seed, year):  # type: ignore[no-untyped-def]
    """Ground that tops and skidding cover: its oaks are lost, its rivals are broken to the ground and sprout.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    share : float
        Share of the ground, 0 to 1.
    p : record
        Parameters.
    seed, year : int
        Seed of the future and year of the run.
    """
    for space in range(len(floor.ground)):
        if chance(seed, FELL, year, space, 0) < share:
            for slot in range(SLOTS):
                floor.stems[space, slot, NUMBER] = 0.0
            floor.ground[space, TOLERANT_FT] = min(floor.ground[space, TOLERANT_FT], p["topkill_ft"])
            floor.ground[space, PIONEER_FT] = min(floor.ground[space, PIONEER_FT], p["topkill_ft"])


@compiled
def inject_tall(floor, p, seed):  # type: ignore[no-untyped-def]
    """Injection takes tall tolerant stems of the floor too.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    p : record
        Parameters: height from which stems are injected, and the part that is found.
    seed : int
        Seed of the future.
    """
    for space in range(len(floor.ground)):
        if (
            floor.ground[space, TOLERANT_FT] >= p["inject_from_ft"]
            and chance(seed, INJECT, 0, space, 0) < p["inject_share"]
        ):
            floor.ground[space, TOLERANT_FT] = 0.0
