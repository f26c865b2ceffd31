"""A year on a floor: stems live, die and grow in its light, seedlings rise, rivals come, and the crop falls."""

from __future__ import annotations

import math

import numpy as np

from overwood.science.regeneration.canopy import age_canopy, light_now
from overwood.science.regeneration.compiling import compiled, within
from overwood.science.regeneration.floor import rise
from overwood.science.regeneration.luck import (
    LIVE,
    PIONEER,
    PIONEER_LIVES,
    RISE,
    TOLERANT,
    YEAR,
    chance,
    living,
    normal,
    poisson_count,
)
from overwood.science.regeneration.processes import (
    germinants_ac,
    lit_share,
    oak_gain_ft,
    open_gain_ft,
    pioneer_gain_ft,
    shaded_by_rival,
    tolerant_gain_ft,
    yearly_survival,
)
from overwood.science.regeneration.shapes import (
    BORE_RED,
    BORE_WHITE,
    BROWSE,
    CARRIED_FT,
    GAINED,
    KIND,
    MOST,
    NAME,
    NUMBER,
    OAK_FT,
    PIONEER_FT,
    SLOTS,
    TOLERANT_FT,
    VIGOR,
    WHITE,
    WHOLE_OAK,
    YOUNG_YEARS,
)

# Heights at which survival and growth are worked out once a year; between them they are taken straight.
_STEP_FT, _SURVIVALS, _GAINS = 0.5, 11, 81


@compiled
def gain_table(site_index_ft, p):  # type: ignore[no-untyped-def]
    """Gain in full sun by what a root has carried, in steps of half a foot, of shape (81,) [ft/yr]."""
    table = np.zeros(_GAINS)
    for at in range(_GAINS):
        table[at] = open_gain_ft(at * _STEP_FT, site_index_ft, p)
    return table


@compiled
def between(table, height_ft):  # type: ignore[no-untyped-def]
    """The value of a table of half-foot steps at a height; beyond its end the last.

    Examples
    --------
    >>> between.py_func(np.array([0.0, 1.0, 4.0]), 0.75), between.py_func(np.array([0.0, 1.0, 4.0]), 9.0)
    (np.float64(2.5), np.float64(4.0))
    """
    place = height_ft / _STEP_FT
    at = int(place)
    if at >= len(table) - 1:
        return table[len(table) - 1]
    return table[at] + (table[at + 1] - table[at]) * (place - at)


@compiled
def _survivals(table, oaks, light, browse, p):  # type: ignore[no-untyped-def]
    """Fill survival by kind (bearing shade or not), light (free, under a rival) and height, of shape (2, 2, 11)."""
    bearers = 0
    for species in range(len(oaks)):
        bearers = max(bearers, int(oaks[species]["bears_shade"]))
    for kind in range(bearers + 1):
        for under in range(2):
            here = light * (1 - p["rival_shade"] * under)
            for at in range(_SURVIVALS):
                table[kind, under, at] = yearly_survival(at * _STEP_FT, here, browse, float(kind), p)


@compiled
def pass_year(floor, canopy, oaks, good, stand, gains, p, seed, year):  # type: ignore[no-untyped-def]
    """A whole year after its work is done: growth and death, risen seedlings, rivals, the seed of the crop, and a year
    on the canopy.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    canopy : array, shape (CANOPY,)
        Changed in place.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    good : array of 0 or 1, shape (2,)
        Whether each group's crop is good.
    stand, p : record
        The stand and parameters.
    gains : array, shape (81,)
        As :func:`gain_table` gives it.
    seed, year : int
        Seed of the future and year of the run.
    """
    light = light_now(canopy, p, year)
    grow(floor, oaks, light, canopy[BROWSE], stand, gains, p, seed, year)
    seed_in(floor, canopy, oaks, good, stand["space_ac"], p)
    age_canopy(canopy, p)


@within
def grow(floor, oaks, light, browse, stand, gains, p, seed, year):  # type: ignore[no-untyped-def]
    """Living, dying and growing on every space.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    light, browse : float
        Share of full sun, and share of stems browsed, 0 to 1.
    stand, p : record
        The stand and parameters.
    gains : array, shape (81,)
        As :func:`gain_table` gives it.
    seed, year : int
        Seed of the future and year of the run.
    """
    luck = math.exp(p["year_spread_ln"] * (normal(seed, YEAR, year, 0) - p["year_spread_ln"] / 2))
    table = np.zeros((2, 2, _SURVIVALS))
    _survivals(table, oaks, light, browse, p)
    for space in range(len(floor.ground)):
        _grow_oaks(floor, space, oaks, table, light, browse, luck, gains, p, seed, year)
    _grow_young(floor, table, light, browse, luck, gains, p, seed, year)
    _grow_rivals(floor, light, luck, stand["site_index_ft"], p, seed, year)


@compiled
def _grow_oaks(floor, space, oaks, table, light, browse, luck, gains, p, seed, year):  # type: ignore[no-untyped-def]
    rival, vigor = (
        max(floor.ground[space, TOLERANT_FT], floor.ground[space, PIONEER_FT]),
        floor.ground[space, VIGOR] * luck,
    )
    stems = floor.stems[space]
    for slot in range(SLOTS):
        if stems[slot, NUMBER] <= 0:
            continue
        height, carried, kind = stems[slot, OAK_FT], stems[slot, CARRIED_FT], int(stems[slot, KIND])
        under = shaded_by_rival(height, rival)
        bears = int(oaks[kind]["bears_shade"]) if kind < len(oaks) else 0
        free = between(table[bears, 0], carried)
        lives = free + (between(table[bears, 1], carried) - free) * under
        stems[slot, NUMBER] = living(stems[slot, NUMBER], lives, seed, LIVE, year, space, int(stems[slot, NAME]))
        if stems[slot, NUMBER] > 0:
            here = light * (1 - p["rival_shade"] * under)
            gain = oak_gain_ft(height, carried, between(gains, carried), here, browse, p)
            height = max(height + (gain * vigor if gain > 0 else gain), 0.1)
            stems[slot, OAK_FT], stems[slot, CARRIED_FT] = height, max(carried, height)


@compiled
def _grow_young(floor, table, light, browse, luck, gains, p, seed, year):  # type: ignore[no-untyped-def]
    """Small seedlings live and grow; where they are established they rise among the oaks.

    Germinants fall at random and each lives by the same chance, so the survivors of a space stay Poisson about the
    expected number: only those that rise need drawing.
    """
    last, small = YOUNG_YEARS - 1, floor.small
    for age in range(last, -1, -1):
        height = p["seedling_ft"] + small[GAINED, age]
        gain = oak_gain_ft(height, height, between(gains, height), light, browse, p) * luck if age > 0 else 0.0
        before, after = small[MOST, age], max(small[GAINED, age] + gain, 0.0)
        small[GAINED, age], small[MOST, age] = after, max(before, after)
        lives = between(table[0, 0], height)
        for species in range(len(small) + GAINED):
            small[species, age] *= lives
        _rise(floor, age, before, after, p, seed, year)
    for species in range(len(small) + GAINED):
        small[species, last - 1] += small[species, last]
    small[GAINED, last - 1], small[MOST, last - 1] = (
        max(small[GAINED, last], small[GAINED, last - 1]),
        max(small[MOST, last], small[MOST, last - 1]),
    )
    for row in range(len(small)):
        for age in range(last, 0, -1):
            small[row, age] = small[row, age - 1]
        small[row, 0] = 0.0


@compiled
def _rise(floor, age, before, after, p, seed, year):  # type: ignore[no-untyped-def]
    """Seedlings of an age rise on the spaces where their height passes that of an established stem in this year."""
    wanted = p["established_ft"] - p["seedling_ft"]
    if after <= before:
        return
    for space in range(len(floor.ground)):
        vigor = floor.ground[space, VIGOR]
        if vigor * after >= wanted and vigor * before < wanted:
            for species in range(len(floor.small) - 2):
                number = poisson_count(floor.small[species, age], chance(seed, RISE, year - age, space, species))
                if number > 0:
                    rise(floor, space, species, year, age, float(number), p["established_ft"])


@compiled
def _grow_rivals(floor, light, luck, site_index_ft, p, seed, year):  # type: ignore[no-untyped-def]
    tolerant, pioneer = (
        tolerant_gain_ft(light, site_index_ft, p) * luck,
        pioneer_gain_ft(light, site_index_ft, p) * luck,
    )
    dark = p["pioneer_survival_dark"]
    lives = dark + (1 - dark) * min(light / p["pioneer_full_light"], 1.0)
    comes = pioneer_arrival(light, site_index_ft, p)
    for space in range(len(floor.ground)):
        if floor.ground[space, TOLERANT_FT] > 0:
            floor.ground[space, TOLERANT_FT] += tolerant
        elif chance(seed, TOLERANT, year, space, 0) < p["tolerant_arrival"]:
            floor.ground[space, TOLERANT_FT] = p["new_rival_ft"]
        if floor.ground[space, PIONEER_FT] > 0:
            stays = chance(seed, PIONEER_LIVES, year, space, 0) < lives
            floor.ground[space, PIONEER_FT] = floor.ground[space, PIONEER_FT] + pioneer if stays else 0.0
        elif comes > 0 and chance(seed, PIONEER, year, space, 0) < comes:
            floor.ground[space, PIONEER_FT] = p["new_rival_ft"]


@compiled
def pioneer_arrival(light, site_index_ft, p):  # type: ignore[no-untyped-def]
    """Chance that a space without a pioneer gets one in a year: more with light and on good sites.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    site_index_ft : float
        Oak site index [ft].
    p : record
        Parameters: the chance in full sun at site index 70, the light from which pioneers come and that of the whole
        chance, its power of site.

    Returns
    -------
    float
        Chance, 0 to 1; straight in the light, an assumption (canopy is kept so that yellow-poplar cannot start:
        ``loftis1990``).
    """
    lit = lit_share(light, p["pioneer_light"], max(p["pioneer_full_light"], p["pioneer_light"] + 0.01))
    return min(p["pioneer_arrival"] * lit * (site_index_ft / 70.0) ** p["pioneer_site_power"], 1.0)


@compiled
def seed_in(floor, canopy, oaks, good, space_ac, p):  # type: ignore[no-untyped-def]
    """Germinants of both groups' crops, as many as are expected on a space, borne by the trees that stood in the
    autumn.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    canopy : array, shape (CANOPY,)
        The canopy with the oaks that bore; fewer oaks bear fewer acorns, each of them more.
    oaks : array of records, shape (species,)
        The stand's oak species; each bears by its part of its group.
    good : array of 0 or 1, shape (2,)
        Whether each group's crop is good.
    space_ac : float
        Size of a space [ac].
    p : record
        Parameters. Good and other crops average to the mean crop.
    """
    bearing = canopy[BORE_WHITE] + canopy[BORE_RED]
    if bearing <= 0:
        return
    whole = p["crop_mean_ac"] * (bearing / canopy[WHOLE_OAK]) ** p["acorns_by_ba_power"]
    share = p["good_crop_chance"]
    many = min(p["crop_good_times"], 1 / share)
    few = (1 - share * many) / (1 - share)
    in_group = np.zeros(2)
    for species in range(len(oaks)):
        in_group[int(oaks[species]["group"])] += oaks[species]["ba_ft2_ac"]
    for species in range(len(oaks)):
        group = int(oaks[species]["group"])
        part = canopy[BORE_WHITE] if group == WHITE else canopy[BORE_RED]
        of_group = oaks[species]["ba_ft2_ac"] / in_group[group] if in_group[group] > 0 else 0.0
        acorns = whole * part / bearing * of_group * (many if good[group] else few)
        floor.small[species, 0] = space_ac * germinants_ac(
            acorns, p["insect_share"], p["buried_share"], p["overwinter_buried"], p["overwinter_unburied"]
        )
