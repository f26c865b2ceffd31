"""One stand's floor year by year under a course of treatment, and who stands at the end. Pure functions of numbers and
a seed."""

from __future__ import annotations

import math

import numpy as np

from overwood.science.regeneration.canopy import crop_of, crops_before, new_canopy, open_to, sprouting_ac, take_midstory
from overwood.science.regeneration.compiling import compiled, within
from overwood.science.regeneration.floor import burn, fell_over, inject_tall, new_floor, plant
from overwood.science.regeneration.forester import collar_gate, crop_gate, fire_spares, oak_gate
from overwood.science.regeneration.luck import BURN_DAY, chance
from overwood.science.regeneration.race import winners
from overwood.science.regeneration.shapes import NUMBER, OAK_FT, RESULTS, SLOTS
from overwood.science.regeneration.year import gain_table, pass_year

_WORK = (
    "injected",
    "burns",
    "burned_after",
    "cut",
    "prepared",
    "planted",
    "missed",
    "waited",
    "good_ago",
    "burn_year",
    "plant_year",
)
WORK_ROW = np.dtype([(name, np.float64) for name in _WORK])
_RESULTS = len(RESULTS)
# After a burn behind the first cut so many years may be tried for a day.
_BURN_TRIES = 3


@compiled
def _start(canopy, work, plan, p, stand):  # type: ignore[no-untyped-def]
    """Set the work done; True where a seed cut as deep as the course's is done."""
    work["injected"][0], work["cut"][0], work["prepared"][0], work["burned_after"][0] = -1.0, -1.0, -1.0, -1.0
    work["good_ago"][0] = stand["good_crop_ago_yr"] - 1 if stand["good_crop_ago_yr"] >= 0 else 99.0
    work["burn_year"][0], work["plant_year"][0] = -1.0, -1.0
    done = plan["residual_ft2_ac"] > 0 and canopy["ba"][0] <= p["no_cut_above_times"] * plan["residual_ft2_ac"]
    if stand["opened_yr"] >= 0 and done:
        work["cut"][0] = -max(1.0, math.floor(stand["opened_yr"]))
        return True
    return False


@compiled
def _try_burn(floor, canopy, work, gate, p, leaf_out, bears, seed, year):  # type: ignore[no-untyped-def]
    """A burn where a burn day comes, no wanted seedling is too young, and most tall oaks have a stout root; whether it
    burned."""
    day = chance(seed, BURN_DAY, year, 0, 0) < p["burn_chance"]
    spares = fire_spares(bears, work["good_ago"][0], gate["burn_wait_yr"])
    if day and spares and collar_gate(floor, gate, p, seed, year):
        burn(floor, canopy, leaf_out, p, seed, year)
        work["burns"][0] += 1
        work["burn_year"][0] = year
        return True
    return False


@compiled
def _prepare(floor, canopy, work, plan, p, gate, year, bears, is_cut, seed):  # type: ignore[no-untyped-def]
    """Injection, burns and preparatory cut of a year; True once all of them are done or were tried long enough."""
    if plan["inject"] > 0 and work["injected"][0] < 0:
        take_midstory(canopy, p, year)
        inject_tall(floor, p, seed)
        work["injected"][0] = year
        return False
    if work["burns"][0] < plan["burns"] and not is_cut:
        burned = _try_burn(floor, canopy, work, gate, p, 0.0, bears, seed, year)
        if burned or year - plan["start_yr"] < p["burn_patience_yr"] * plan["burns"]:
            return False
    if plan["prep_ft2_ac"] > 0 and work["prepared"][0] < 0 and not is_cut:
        open_to(canopy, p, year, plan["prep_ft2_ac"])
        fell_over(floor, p["seed_cut_loss"] * p["logging_loss_share"] / 2, p, seed, year)
        work["prepared"][0] = year
    return plan["prep_ft2_ac"] == 0 or is_cut or year - work["prepared"][0] >= p["prep_yr"]


@compiled
def _seed_cut(floor, canopy, work, plan, p, stand, seed, year):  # type: ignore[no-untyped-def]
    open_to(canopy, p, year, plan["residual_ft2_ac"])
    fell_over(floor, p["seed_cut_loss"] * p["logging_loss_share"], p, seed, year)
    work["cut"][0] = year
    _plant(floor, work, plan, p, stand, seed, year)


@compiled
def _plant(floor, work, plan, p, stand, seed, year):  # type: ignore[no-untyped-def]
    """Oaks planted once, where the course plants any."""
    if plan["planted_ac"] > 0 and work["planted"][0] == 0:
        plant(floor, stand["space_ac"], plan["planted_ac"], p, seed)
        work["planted"][0], work["plant_year"][0] = 1.0, year


@compiled
def _after_cut(floor, canopy, work, plan, p, gate, year, bears, seed):  # type: ignore[no-untyped-def]
    """The burn behind the first cut; True once it is done, missed, or not wanted."""
    since = year - work["cut"][0]
    if plan["burn_after_yr"] == 0 or work["burned_after"][0] >= 0 or since >= plan["burn_after_yr"] + _BURN_TRIES:
        return True
    if since >= plan["burn_after_yr"] and _try_burn(floor, canopy, work, gate, p, 1.0, bears, seed, year):
        work["burned_after"][0] = year
    return False


@compiled
def _released(floor, canopy, oaks, plan, p, stand, gate, gains, year, seed, result):  # type: ignore[no-untyped-def]
    """The last cut: what was there, and who stands at the age asked for."""
    for space in range(len(floor.ground)):
        for slot in range(SLOTS):
            result[2] += (
                floor.stems[space, slot, NUMBER] if floor.stems[space, slot, OAK_FT] >= gate["waist_ft"] else 0.0
            )
    result[2] /= len(floor.ground) * stand["space_ac"]
    kept = plan["kept_ft2_ac"] / canopy["whole_ba"][0] if canopy["whole_ba"][0] > 0 else 0.0
    won = winners(floor, stand, plan["crop_trees"], gains, p, seed, year) / stand["space_ac"]
    leads = 0.0
    for kind in range(len(oaks) + 1):
        leads += won[kind]
    # Who leads at 20 by the model; later some of them are lost, as was seen in unreleased young stands; crop trees are
    # not.
    lost = p["dominant_loss_10yr"] * (max(1 - plan["crop_trees"] / leads, 0.0) if leads > 0 else 1.0)
    open_share = (1 - p["kept_shade"] * kept) * (1 - lost) ** (max(gate["age_yr"] - 20.0, 0.0) / 10.0)
    # Stumps of the first cut sprout in shade, those of the last in the open; trees kept leave no stump.
    first, last = canopy["felled_first"][0], max(1 - canopy["felled_first"][0] - kept, 0.0)
    sprouting = (p["sprout_shade"] * first + last) * p["sprout_to_dominance"]
    result[_RESULTS - 1] = won[len(oaks)] * open_share
    for species in range(len(oaks)):
        result[_RESULTS + species] = (won[species] + oaks[species]["sprouts_ac"] * sprouting) * open_share
    result[0] = year
    for kind in range(_RESULTS - 1, len(result)):
        result[1] += result[kind]
    result[9], result[10] = won[len(oaks) + 1], won[len(oaks) + 2]


@compiled
def _goes(floor, work, plan, p, stand, gate, sprouts, ready, seed, year):  # type: ignore[no-untyped-def]
    """Whether the overwood goes this year: a clearcut in its year, else when the oak gate opens, oaks grow too tall, or
    waiting ends."""
    if plan["residual_ft2_ac"] == 0 and plan["one_cut"] == 0:
        return plan["cut_year"] >= 0 and year >= plan["cut_year"]
    begun = work["cut"][0] if plan["one_cut"] == 0 else max(work["injected"][0], plan["start_yr"] - 1)
    if (plan["one_cut"] == 0 and work["cut"][0] == -1.0) or not ready:
        return False
    if year - begun < plan["count_from_yr"]:
        return False
    side, tallest = oak_gate(floor, stand["space_ac"], sprouts, gate, seed, year)
    late = year - begun >= plan["release_wait_yr"] or tallest > gate["too_tall_ft"]
    return side == 1 or (late and plan["release_anyway"] > 0)


@within
def one_future(counted, which, oaks, plan, p, stand, gate, years, seed):  # type: ignore[no-untyped-def]
    """One future of one course.

    Parameters
    ----------
    counted : Counted
        The spaces as they were counted.
    which : array of int, shape (spaces,)
        Spaces this future starts from.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    plan, p, stand, gate : record
        Course, parameters, stand and the forester's gates, by PLAN, PARAMETERS, STAND and GATE.
    years : int
        Years to run.
    seed : int
        Seed of all luck, the same for every course.

    Returns
    -------
    array
        Numbers by RESULTS, then the dominants of each species; release year -1 where the overwood never went.

    Notes
    -----
    A year: the crop is looked at in autumn; midstory, burns and preparatory cut come first; the seed cut waits for the
    crop gate and no longer than the course says; the overwood goes when the oak gate opens, or when waiting ends; then
    stems live, grow and seed in. The crop that lets a cut go is borne by the trees that stood. Before ``start_yr`` no
    work is done, and all waiting is counted from it.

    Examples
    --------
    >>> from overwood.science.regeneration.shapes import GATE, OAK, PARAMETERS, PLAN, STAND, counted_of, rows
    >>> oaks = rows(np.array([[0.0, 60.0, 5.0, 0.0], [1.0, 40.0, 5.0, 0.0]]), OAK)
    >>> bare = np.zeros((2, SLOTS))
    >>> counted = counted_of(bare, bare, bare + 1, bare, np.zeros((2, 2)))
    >>> stand, gate = rows(np.full(len(STAND), 0.5), STAND)[0], rows(np.ones(len(GATE)), GATE)[0]
    >>> p = rows(np.linspace(0.1, 0.9, len(PARAMETERS)), PARAMETERS)[0]
    >>> nothing = rows(np.array([-1.0] + [0.0] * 15), PLAN)[0]
    >>> one_future(counted, np.arange(2), oaks, nothing, p, stand, gate, 3, 1)[:2].tolist()
    [-1.0, 0.0]
    """
    floor, canopy, work = new_floor(counted, which, oaks, p, seed), new_canopy(oaks, stand, p), np.zeros(1, WORK_ROW)
    is_cut = _start(canopy, work, plan, p, stand)
    good, past = np.zeros(2, dtype=np.bool_), crops_before(stand, p, seed)
    gains, sprouts = gain_table(stand["site_index_ft"], p), sprouting_ac(oaks)
    result = np.zeros(_RESULTS + len(oaks))
    result[0] = -1.0
    for year in range(years):
        crop_of(good, counted.crops, past, p, seed, year)
        canopy["bore_white"][0], canopy["bore_red"][0] = canopy["white"][0], canopy["red"][0]
        bearing = canopy["white"][0] + canopy["red"][0]
        white_share = canopy["white"][0] / bearing if bearing > 0 else 1.0
        crop, bears = crop_gate(good, counted.crops, white_share, gate, p, seed, year)
        work["good_ago"][0] = 0.0 if bears else work["good_ago"][0] + 1
        if year < plan["start_yr"]:
            pass_year(floor, canopy, oaks, good, stand, gains, p, seed, year)
            continue
        if plan["fence"] > 0:
            canopy["browse"][0] = 0.0
        if is_cut:
            # Behind a seed cut that was there before: planted as the course begins.
            _plant(floor, work, plan, p, stand, seed, year)
        ready = _prepare(floor, canopy, work, plan, p, gate, year, bears, is_cut, seed)
        if plan["residual_ft2_ac"] > 0 and not is_cut and work["injected"][0] != year:
            waited = year - plan["start_yr"] >= plan["crop_wait_yr"]
            if (ready and crop == 1) or waited:
                _seed_cut(floor, canopy, work, plan, p, stand, seed, year)
                is_cut = True
            elif ready:
                work["waited"][0] += 1
                work["missed"][0] += good[0] or good[1]
        elif is_cut:
            ready = _after_cut(floor, canopy, work, plan, p, gate, year, bears, seed)
        shaded = sprouts * (p["sprout_shade"] * canopy["felled_first"][0] + 1 - canopy["felled_first"][0])
        if _goes(floor, work, plan, p, stand, gate, shaded, ready, seed, year):
            _released(floor, canopy, oaks, plan, p, stand, gate, gains, year, seed, result)
            break
        pass_year(floor, canopy, oaks, good, stand, gains, p, seed, year)
    result[3], result[4], result[5] = work["missed"][0], work["injected"][0], work["burns"][0]
    result[6], result[7], result[8] = work["cut"][0], work["planted"][0], work["waited"][0]
    result[11], result[12], result[13] = work["burn_year"][0], work["prepared"][0], work["plant_year"][0]
    return result


@compiled
def many_futures(counted, drawn, oaks, plans, parameters, stand, gate, years, seeds):  # type: ignore[no-untyped-def]
    """Every future of every course; it lets other threads run beside it.

    Parameters
    ----------
    counted : Counted
        The spaces as they were counted.
    drawn : array of int, shape (futures, spaces)
        Which counted spaces each future starts from.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    plans : array of records, shape (courses,)
        Courses.
    parameters : array of records, shape (futures,)
        Parameters.
    stand, gate : array of records, shape (1,)
        What :func:`one_future` takes as records.
    years : int
        Years to run.
    seeds : array of int, shape (futures,)
        Seeds, common to all courses.

    Returns
    -------
    array, shape (courses, futures, len(RESULTS) + species)
        Results.
    """
    courses, futures = len(plans), len(drawn)
    results = np.zeros((courses, futures, _RESULTS + len(oaks)))
    for future in range(futures):
        for course in range(courses):
            result = one_future(
                counted, drawn[future], oaks, plans[course], parameters[future], stand[0], gate[0], years, seeds[future]
            )
            for number in range(len(result)):
                results[course, future, number] = result[number]
    return results
