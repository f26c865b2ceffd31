"""The pool of young oaks year by year under work that was done, or under none: what later counts are set beside."""

from __future__ import annotations

import numpy as np

from overwood.science.regeneration.canopy import (
    crop_of,
    crops_before,
    light_now,
    new_canopy,
    open_to,
    sprouting_ac,
    take_midstory,
)
from overwood.science.regeneration.compiling import compiled, within
from overwood.science.regeneration.floor import burn, fell_over, inject_tall, new_floor, plant
from overwood.science.regeneration.forester import oak_gate
from overwood.science.regeneration.processes import collar_in
from overwood.science.regeneration.race import winners
from overwood.science.regeneration.shapes import (
    BORE_RED,
    BORE_WHITE,
    BROWSE,
    CARRIED_FT,
    GAINED,
    MID,
    NAME,
    NUMBER,
    OAK_FT,
    PIONEER_FT,
    RED_BA,
    SEEN,
    SLOTS,
    STOUT,
    TOLERANT_FT,
    WHITE_BA,
    YOUNG_YEARS,
)
from overwood.science.regeneration.year import gain_table, pass_year

# Work of a year as records tell it: basal area after a cut (-1 for none), injection, burn (1 dormant, 2 at leaf-out),
# fence, oaks planted.
HISTORY = ("cut_to_ft2_ac", "inject", "burn", "fence", "planted_ac")
_SEEN = len(SEEN)
# Names under this are stems of the first count; planted and risen ones have their own.
_FIRST = 900


@within
def _work(floor, canopy, history, p, stand, seed, year):  # type: ignore[no-untyped-def]
    """The work of a year, by the same functions as the courses."""
    cut_to, injects, burns = history[year, 0], history[year, 1], history[year, 2]
    fence, planted = history[year, 3], history[year, 4]
    canopy[BROWSE] = 0.0 if fence > 0 else stand["browse_share"]
    if injects > 0:
        take_midstory(canopy, p, year)
        inject_tall(floor, p, seed)
    if cut_to >= 0:
        last = cut_to == 0
        open_to(canopy, p, year, cut_to)
        fell_over(floor, p["logging_loss_share"] * (1.0 if last else p["seed_cut_loss"]), p, seed, year)
    if burns > 0:
        burn(floor, canopy, 1.0 if burns > 1 else 0.0, p, seed, year)
    if planted > 0:
        plant(floor, stand["space_ac"], planted, p, seed)


@within
def _look(floor, canopy, stand, gate, sprouts, p, begun, seed, year, row):  # type: ignore[no-untyped-def]
    """What is seen of the floor, by SEEN."""
    spaces = len(floor.ground)
    acres, first, height, collar, stocked = spaces * stand["space_ac"], 0.0, 0.0, 0.0, 0.0
    for space in range(spaces):
        has = 0.0
        for slot in range(SLOTS):
            number, tall = floor.stems[space, slot, NUMBER], floor.stems[space, slot, OAK_FT]
            if number <= 0:
                continue
            row[3] += number / acres
            for at, least in enumerate((1.0, 3.0, 4.5)):
                row[at] += number / acres if tall >= least else 0.0
            has = 1.0 if tall >= 1.0 else has
            if floor.stems[space, slot, NAME] < _FIRST:
                row[15] += number * (tall < floor.stems[space, slot, CARRIED_FT])
                first, height = first + number, height + number * tall
                collar += number * collar_in(floor.stems[space, slot, CARRIED_FT], floor.stems[space, slot, STOUT], p)
        stocked += has
        row[6] += max(floor.ground[space, TOLERANT_FT], floor.ground[space, PIONEER_FT]) / spaces
        row[11] += (floor.ground[space, TOLERANT_FT] > 0) / spaces
        row[12] += (floor.ground[space, PIONEER_FT] > 0) / spaces
        row[13] += floor.ground[space, PIONEER_FT] / spaces
    for species in range(len(floor.small) + GAINED):
        for age in range(YOUNG_YEARS):
            row[3] += floor.small[species, age] / stand["space_ac"]
    row[4], row[5] = first / begun if begun > 0 else 0.0, height / first if first > 0 else 0.0
    row[7], row[8], row[9] = light_now(canopy, p, year), canopy[MID], stocked / spaces
    row[10] = oak_gate(floor, stand["space_ac"], sprouts, gate, seed, year)[0]
    row[14], row[15] = (collar / first, row[15] / first) if first > 0 else (0.0, 0.0)


@within
def _standing(floor):  # type: ignore[no-untyped-def]
    """Stems on the floor."""
    total = 0.0
    for space in range(len(floor.ground)):
        for slot in range(SLOTS):
            total += floor.stems[space, slot, NUMBER]
    return total


@within
def pool_years(counted, which, oaks, history, p, stand, gate, seed):  # type: ignore[no-untyped-def]
    """The pool of one future year by year.

    Parameters
    ----------
    counted : Counted
        The spaces as they were counted.
    which : array of int, shape (spaces,)
        Spaces this future starts from.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    history : array, shape (years, 5)
        Work of each year, by HISTORY.
    p, stand, gate : record
        Parameters, stand and the forester's gates, by PARAMETERS, STAND and GATE.
    seed : int
        Seed of all luck.

    Returns
    -------
    array, shape (years + 1, len(SEEN))
        What is seen at the start and after each year, by SEEN.

    Examples
    --------
    >>> from overwood.science.regeneration.shapes import GATE, OAK, PARAMETERS, SLOTS, STAND, counted_of, rows
    >>> one, tall = np.zeros((2, SLOTS)), np.full((2, SLOTS), 4.0)
    >>> one[:, :5] = 1.0
    >>> counted = counted_of(one, tall, np.ones((2, SLOTS)), np.zeros((2, SLOTS)), np.zeros((2, 2)))
    >>> p, stand, gate = (rows(np.full(len(names), 0.5), names)[0] for names in (PARAMETERS, STAND, GATE))
    >>> oaks = rows(np.array([[0.0, 60.0, 5.0, 0.0]]), OAK)
    >>> pool_years(counted, np.arange(2), oaks, np.zeros((0, 5)), p, stand, gate, 1)[0, :3].tolist()
    [10.0, 10.0, 0.0]
    """
    floor, canopy = new_floor(counted, which, oaks, p, seed), new_canopy(oaks, stand, p)
    good, past = np.zeros(2), crops_before(stand, p, seed)
    gains, sprouts, begun = (
        gain_table(stand["site_index_ft"], p),
        sprouting_ac(oaks),
        _standing(floor),
    )
    seen = np.zeros((len(history) + 1, _SEEN))
    for year in range(len(history) + 1):
        _look(floor, canopy, stand, gate, sprouts, p, begun, seed, year, seen[year])
        if year < len(history):
            crop_of(good, counted.crops, past, p, seed, year)
            canopy[BORE_WHITE], canopy[BORE_RED] = canopy[WHITE_BA], canopy[RED_BA]
            _work(floor, canopy, history, p, stand, seed, year)
            pass_year(floor, canopy, oaks, good, stand, gains, p, seed, year)
    won = winners(floor, stand, 0.0, gains, p, seed, len(history))
    for kind in range(len(oaks) + 1):
        seen[-1, 16] += won[kind]
    seen[-1, 17], seen[-1, 18] = won[len(oaks) + 1], won[len(oaks) + 2]
    return seen


@compiled
def many_pools(counted, drawn, oaks, history, parameters, stand, gate, seeds):  # type: ignore[no-untyped-def]
    """The pool of many futures; it lets other threads run beside it.

    Parameters
    ----------
    counted : Counted
        The spaces as they were counted.
    drawn : array of int, shape (futures, spaces)
        Which counted spaces each future starts from.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    history : array, shape (years, 5)
        As :func:`pool_years` takes it.
    parameters : array of records, shape (futures,)
        Parameters.
    stand, gate : array of records, shape (1,)
        The stand and the forester's gates.
    seeds : array of int, shape (futures,)
        Seeds.

    Returns
    -------
    array, shape (futures, years + 1, len(SEEN))
        As :func:`pool_years` gives it.
    """
    seen = np.zeros((len(drawn), len(history) + 1, _SEEN))
    for future in range(len(drawn)):
        one = pool_years(counted, drawn[future], oaks, history, parameters[future], stand[0], gate[0], seeds[future])
        for year in range(len(one)):
            for number in range(_SEEN):
                seen[future, year, number] = one[year, number]
    return seen
