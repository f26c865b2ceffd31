"""The pool of young oaks year by year under work that was done, or under none: what later counts are set beside."""

from __future__ import annotations

import numba
import numpy as np

from overwood.science.regeneration.processes import floor_light
from overwood.science.regeneration.shapes import CANOPY_ROW, WHITE
from overwood.science.regeneration.year import burn, crop_of, fell_over, grow, light_now, new_floor, seed_in

HISTORY = ("ba_ft2_ac", "midstory", "since_opened_yr", "ba_before_ft2_ac", "midstory_before", "work")
NO_WORK, BURNED, CUT = 0, 1, 2


@numba.njit(cache=True)
def _set_canopy(canopy, history, year, white, p):  # type: ignore[no-untyped-def]
    """Canopy of a year as the records tell it."""
    ba, midstory, since, ba_before, midstory_before, _ = history[year]
    share = ba / canopy["whole_ba"][0] if canopy["whole_ba"][0] > 0 else 0.0
    canopy["white"][0], canopy["red"][0], canopy["other"][0] = (
        canopy["whole_oak"][0] * white * share,
        canopy["whole_oak"][0] * (1 - white) * share,
        0.0,
    )
    canopy["ba"][0], canopy["opened"][0] = ba, year - since
    canopy["shade"][0] = p["midstory_multiplier"] if midstory > 0 else 1.0
    full = floor_light(ba, canopy["shade"][0], p["curve_b0"], p["curve_b1"])
    before = floor_light(ba_before, p["midstory_multiplier"] if midstory_before > 0 else 1.0, p["curve_b0"], p["curve_b1"])
    canopy["before"][0] = max(before, p["light_kept_share"] * full if ba < ba_before else 0.0)


@numba.njit(cache=True)
def pool_years(counted, which, oaks, history, p, stand, luck, seed):  # type: ignore[no-untyped-def]
    """The pool of one future year by year.

    Parameters
    ----------
    counted : Counted
        The plots as they were counted.
    which : array of int, shape (plots,)
        Plots this future starts from.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    history : array, shape (years, 6)
        For each year the numbers by HISTORY; work is 0 none, 1 burn, 2 cut.
    p, stand : record
        Parameters and stand, by PARAMETERS and STAND.
    luck : array, shape (years, 4)
        Chances of each year, by LUCK.
    seed : int
        Seed of everything else.

    Returns
    -------
    array, shape (years + 1, 3)
        Oaks an acre of 1, 3 and 4.5 ft and more, at the start and after each year.

    Examples
    --------
    >>> from overwood.science.regeneration.shapes import OAK, PARAMETERS, SLOTS, STAND, Counted, rows
    >>> tall = np.full((2, SLOTS), 4.0)
    >>> counted = Counted(tall, tall, np.zeros((2, SLOTS), dtype=np.int64), np.zeros(2), np.zeros(2))
    >>> p, stand = (rows(np.full(len(names), 0.5), names)[0] for names in (PARAMETERS, STAND))
    >>> oaks = rows(np.array([[0.0, 60.0, 5.0]]), OAK)
    >>> pool_years(counted, np.arange(2), oaks, np.zeros((0, 6)), p, stand, np.zeros((0, 4)), 1).tolist()
    [[10.0, 10.0, 0.0]]
    """
    np.random.seed(seed)
    floor, canopy = new_floor(counted, which, oaks, p), np.zeros(1, CANOPY_ROW)
    white = 0.0
    for species in range(len(oaks)):
        canopy["whole_oak"][0] += oaks[species]["ba_ft2_ac"]
        white += oaks[species]["ba_ft2_ac"] if oaks[species]["group"] == WHITE else 0.0
    canopy["whole_ba"][0] = canopy["whole_oak"][0] + stand["other_ba_ft2_ac"]
    white = white / canopy["whole_oak"][0] if canopy["whole_oak"][0] > 0 else 1.0
    good, past = np.zeros(2, dtype=np.bool_), np.zeros((2, 2), dtype=np.bool_)
    found = np.zeros((len(history) + 1, 3))
    for year in range(len(history) + 1):
        for at, height in enumerate((1.0, 3.0, 4.5)):
            found[year, at] = (floor.oak >= height).sum() / (len(floor.oak) * stand["plot_ac"])
        if year == len(history):
            break
        if history[year, 5] == BURNED:
            burn(floor, p)
        elif history[year, 5] == CUT:
            fell_over(floor, p["seed_cut_loss"] * p["logging_loss_share"])
        _set_canopy(canopy, history, year, white, p)
        crop_of(good, past, p, luck[year])
        grow(floor, light_now(canopy, p, year), p)
        seed_in(floor, canopy, oaks, good, stand["plot_ac"], p)
    return found


@numba.njit(parallel=True, cache=True)
def many_pools(counted, drawn, oaks, history, parameters, stand, luck, seeds):  # type: ignore[no-untyped-def]
    """The pool of many futures; the same whatever the number of threads.

    Parameters
    ----------
    counted : Counted
        The plots as they were counted.
    drawn : array of int, shape (futures, plots)
        Which counted plots each future starts from.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    history : array, shape (years, 6)
        As :func:`pool_years` takes it.
    parameters : array of records, shape (futures,)
        Parameters.
    stand : array of records, shape (1,)
        The stand, by STAND.
    luck : array, shape (futures, years, 4)
        Chances of each year, by LUCK.
    seeds : array of int, shape (futures,)
        Seeds.

    Returns
    -------
    array, shape (futures, years + 1, 3)
        Oaks an acre of 1, 3 and 4.5 ft and more.
    """
    found = np.zeros((len(drawn), len(history) + 1, 3))
    for future in numba.prange(len(drawn)):
        found[future] = pool_years(counted, drawn[future], oaks, history, parameters[future], stand[0], luck[future], seeds[future])
    return found
