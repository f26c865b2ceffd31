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
from overwood.science.regeneration.shapes import (
    BA,
    BORE_RED,
    BORE_WHITE,
    BROWSE,
    FELLED_FIRST,
    NUMBER,
    OAK_FT,
    PLAN,
    RED_BA,
    RESULTS,
    SLOTS,
    WHITE_BA,
    WHOLE_BA,
    Floor,
)
from overwood.science.regeneration.year import gain_table, pass_year

# Work done so far, an array: years in which it was done (-1 for never), burns, whether oaks were planted, good crops
# missed and years waited, years since a good crop was seen.
INJECTED, BURNS, BURNED_AFTER, CUT, PREPARED, PLANTED, MISSED, WAITED, GOOD_AGO, BURN_YEAR, PLANT_YEAR = range(11)
_WORK = PLANT_YEAR + 1
_RESULTS = len(RESULTS)
# What of a course is done before its last cut.
_BEFORE_LAST_CUT = tuple(name for name in PLAN if name not in ("kept_ft2_ac", "crop_trees"))
# After a burn behind the first cut so many years may be tried for a day.
_BURN_TRIES = 3


@within
def _start(canopy, work, plan, p, stand):  # type: ignore[no-untyped-def]
    """Set the work done; True where a seed cut as deep as the course's is done."""
    work[INJECTED], work[CUT], work[PREPARED], work[BURNED_AFTER] = -1.0, -1.0, -1.0, -1.0
    work[GOOD_AGO] = stand["good_crop_ago_yr"] - 1 if stand["good_crop_ago_yr"] >= 0 else 99.0
    work[BURN_YEAR], work[PLANT_YEAR] = -1.0, -1.0
    done = plan["residual_ft2_ac"] > 0 and canopy[BA] <= p["no_cut_above_times"] * plan["residual_ft2_ac"]
    if stand["opened_yr"] >= 0 and done:
        work[CUT] = -max(1.0, math.floor(stand["opened_yr"]))
        return True
    return False


@compiled
def _try_burn(floor, canopy, work, gate, p, leaf_out, bears, seed, year):  # type: ignore[no-untyped-def]
    """A burn where a burn day comes, no wanted seedling is too young, and most tall oaks have a stout root; whether it
    burned."""
    day = chance(seed, BURN_DAY, year, 0, 0) < p["burn_chance"]
    spares = fire_spares(bears, work[GOOD_AGO], gate["burn_wait_yr"])
    if day and spares and collar_gate(floor, gate, p, seed, year):
        burn(floor, canopy, leaf_out, p, seed, year)
        work[BURNS] += 1
        work[BURN_YEAR] = year
        return True
    return False


@within
def _inject(floor, canopy, work, plan, p, seed, year):  # type: ignore[no-untyped-def]
    """The injection of a course in its first year; whether it was done this year."""
    if plan["inject"] == 0 or work[INJECTED] >= 0:
        return False
    take_midstory(canopy, p, year)
    inject_tall(floor, p, seed)
    work[INJECTED] = year
    return True


@within
def _burn_wanted(work, plan, is_cut, injected, year):  # type: ignore[no-untyped-def]
    """Whether a burn is tried this year: before the first cut, or some years behind it."""
    if not is_cut:
        return not injected and work[BURNS] < plan["burns"]
    since = year - work[CUT]
    still = plan["burn_after_yr"] <= since < plan["burn_after_yr"] + _BURN_TRIES
    return plan["burn_after_yr"] > 0 and work[BURNED_AFTER] < 0 and still


@within
def _prepared(floor, canopy, work, plan, p, seed, year):  # type: ignore[no-untyped-def]
    """The preparatory cut behind burns; True once it is done long enough ago, or none is wanted."""
    if plan["prep_ft2_ac"] > 0 and work[PREPARED] < 0:
        open_to(canopy, p, year, plan["prep_ft2_ac"])
        fell_over(floor, p["seed_cut_loss"] * p["logging_loss_share"] / 2, p, seed, year)
        work[PREPARED] = year
    return plan["prep_ft2_ac"] == 0 or year - work[PREPARED] >= p["prep_yr"]


@within
def _seed_cut(floor, canopy, work, plan, p, stand, seed, year):  # type: ignore[no-untyped-def]
    open_to(canopy, p, year, plan["residual_ft2_ac"])
    fell_over(floor, p["seed_cut_loss"] * p["logging_loss_share"], p, seed, year)
    work[CUT] = year
    _plant(floor, work, plan, p, stand, seed, year)


@compiled
def _plant(floor, work, plan, p, stand, seed, year):  # type: ignore[no-untyped-def]
    """Oaks planted once, where the course plants any."""
    if plan["planted_ac"] > 0 and work[PLANTED] == 0:
        plant(floor, stand["space_ac"], plan["planted_ac"], p, seed)
        work[PLANTED], work[PLANT_YEAR] = 1.0, year


@within
def _after_cut(work, plan, year):  # type: ignore[no-untyped-def]
    """True once the burn behind the first cut is done, missed, or not wanted; asked before it is tried."""
    past = year - work[CUT] >= plan["burn_after_yr"] + _BURN_TRIES
    return plan["burn_after_yr"] == 0 or work[BURNED_AFTER] >= 0 or past


@within
def _work(floor, canopy, work, plan, p, gate, is_cut, bears, seed, year):  # type: ignore[no-untyped-def]
    """Injection, burn and preparatory cut of a year; True once all of them are done or were tried long enough."""
    after, injected = _after_cut(work, plan, year), _inject(floor, canopy, work, plan, p, seed, year)
    wanted, burned = _burn_wanted(work, plan, is_cut, injected, year), False
    if wanted:
        burned = _try_burn(floor, canopy, work, gate, p, 1.0 if is_cut else 0.0, bears, seed, year)
    if is_cut:
        work[BURNED_AFTER] = year if burned else work[BURNED_AFTER]
        return after
    patient = year - plan["start_yr"] < p["burn_patience_yr"] * plan["burns"]
    if injected or burned or (wanted and patient):
        return False
    return _prepared(floor, canopy, work, plan, p, seed, year)


@compiled
def _released(floor, canopy, oaks, plan, p, stand, gate, gains, year, seed, result):  # type: ignore[no-untyped-def]
    """The last cut: what was there, and who stands at the age asked for."""
    for space in range(len(floor.ground)):
        for slot in range(SLOTS):
            result[2] += (
                floor.stems[space, slot, NUMBER] if floor.stems[space, slot, OAK_FT] >= gate["waist_ft"] else 0.0
            )
    result[2] /= len(floor.ground) * stand["space_ac"]
    kept = plan["kept_ft2_ac"] / canopy[WHOLE_BA] if canopy[WHOLE_BA] > 0 else 0.0
    won = winners(floor, stand, plan["crop_trees"], gains, p, seed, year)
    for who in range(len(won)):
        won[who] /= stand["space_ac"]
    leads = 0.0
    for kind in range(len(oaks) + 1):
        leads += won[kind]
    # Who leads at 20 by the model; later some of them are lost, as was seen in unreleased young stands; crop trees are
    # not.
    lost = p["dominant_loss_10yr"] * (max(1 - plan["crop_trees"] / leads, 0.0) if leads > 0 else 1.0)
    open_share = (1 - p["kept_shade"] * kept) * (1 - lost) ** (max(gate["age_yr"] - 20.0, 0.0) / 10.0)
    # Stumps of the first cut sprout in shade, those of the last in the open; trees kept leave no stump.
    first, last = canopy[FELLED_FIRST], max(1 - canopy[FELLED_FIRST] - kept, 0.0)
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
    begun = work[CUT] if plan["one_cut"] == 0 else max(work[INJECTED], plan["start_yr"] - 1)
    if (plan["one_cut"] == 0 and work[CUT] == -1.0) or not ready:
        return False
    if year - begun < plan["count_from_yr"]:
        return False
    side, tallest = oak_gate(floor, stand["space_ac"], sprouts, gate, seed, year)
    late = year - begun >= plan["release_wait_yr"] or tallest > gate["too_tall_ft"]
    return side == 1 or (late and plan["release_anyway"] > 0)


@compiled
def _autumn(counted, canopy, good, past, gate, p, seed, year):  # type: ignore[no-untyped-def]
    """The crop of a year as it falls and as it is seen: side of the crop gate, and whether the oaks seem to bear."""
    crop_of(good, counted.crops, past, p, seed, year)
    canopy[BORE_WHITE], canopy[BORE_RED] = canopy[WHITE_BA], canopy[RED_BA]
    bearing = canopy[WHITE_BA] + canopy[RED_BA]
    white_share = canopy[WHITE_BA] / bearing if bearing > 0 else 1.0
    return crop_gate(good, counted.crops, white_share, gate, p, seed, year)


@within
def _one_course(begin, floor, canopy, past, work, is_cut, gains, counted, oaks, plan, p, stand, gate, years, seed):  # type: ignore[no-untyped-def]
    """One course in one future from the year it begins to its last cut; floor, canopy, past crops and work are its own.

    Returns the year of the last cut, -1 where the overwood never goes.
    """
    good, sprouts = np.zeros(2), sprouting_ac(oaks)
    for year in range(begin, years):
        crop, bears = _autumn(counted, canopy, good, past, gate, p, seed, year)
        work[GOOD_AGO] = 0.0 if bears else work[GOOD_AGO] + 1
        if plan["fence"] > 0:
            canopy[BROWSE] = 0.0
        if is_cut:
            # Behind a seed cut that was there before: planted as the course begins.
            _plant(floor, work, plan, p, stand, seed, year)
        ready = _work(floor, canopy, work, plan, p, gate, is_cut, bears, seed, year)
        if plan["residual_ft2_ac"] > 0 and not is_cut and work[INJECTED] != year:
            waited = year - plan["start_yr"] >= plan["crop_wait_yr"]
            if (ready and crop == 1) or waited:
                _seed_cut(floor, canopy, work, plan, p, stand, seed, year)
                is_cut = True
            elif ready:
                work[WAITED] += 1
                work[MISSED] += max(good[0], good[1])
        shaded = sprouts * (p["sprout_shade"] * canopy[FELLED_FIRST] + 1 - canopy[FELLED_FIRST])
        if _goes(floor, work, plan, p, stand, gate, shaded, ready, seed, year):
            return year
        pass_year(floor, canopy, oaks, good, stand, gains, p, seed, year)
    return -1


@within
def _tell(result, work):  # type: ignore[no-untyped-def]
    """The work done, among the results."""
    result[3], result[4], result[5] = work[MISSED], work[INJECTED], work[BURNS]
    result[6], result[7], result[8] = work[CUT], work[PLANTED], work[WAITED]
    result[11], result[12], result[13] = work[BURN_YEAR], work[PREPARED], work[PLANT_YEAR]


@within
def _one_future(future, counted, which, oaks, plans, p, stand, gate, years, seed, order, results):  # type: ignore[no-untyped-def]
    """Every course over one future; the years before a course begins are the same for all, and are run once."""
    floor, canopy = new_floor(counted, which, oaks, p, seed), new_canopy(oaks, stand, p)
    good, past = np.zeros(2), crops_before(stand, p, seed)
    gains, works = gain_table(stand["site_index_ft"], p), np.zeros((len(plans), _WORK))
    are_cut, ago = np.zeros(len(plans)), 0.0
    for course in range(len(plans)):
        are_cut[course] = _start(canopy, works[course], plans[course], p, stand)
        ago = works[course, GOOD_AGO]
    last = 0
    for course in range(len(plans)):
        last = max(last, order[1, course])
    for year in range(last + 1):
        for course in range(len(plans)):
            if order[0, course] != course or order[1, course] != year:
                continue
            own = Floor(floor.stems.copy(), floor.ground.copy(), floor.small.copy())
            shade, work = canopy.copy(), works[course]
            work[GOOD_AGO] = ago
            released = _one_course(
                year, own, shade, past.copy(), work, are_cut[course] > 0, gains, counted, oaks, plans[course], p, stand,
                gate, years, seed,
            )  # fmt: skip
            for like in range(course, len(plans)):
                if order[0, like] == course:
                    result = results[like, future]
                    result[0] = -1.0
                    if released >= 0:
                        _released(own, shade, oaks, plans[like], p, stand, gate, gains, released, seed, result)
                    _tell(result, work)
        if year < last:
            _, bears = _autumn(counted, canopy, good, past, gate, p, seed, year)
            ago = 0.0 if bears else ago + 1
            pass_year(floor, canopy, oaks, good, stand, gains, p, seed, year)


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
        Courses, by PLAN.
    parameters : array of records, shape (futures,)
        Parameters, by PARAMETERS.
    stand, gate : array of records, shape (1,)
        The stand and the forester's gates, by STAND and GATE.
    years : int
        Years to run.
    seeds : array of int, shape (futures,)
        Seeds of all luck, common to all courses.

    Returns
    -------
    array, shape (courses, futures, len(RESULTS) + species)
        Numbers by RESULTS, then the dominants of each species; release year -1 where the overwood never went.

    Notes
    -----
    A year: the crop is looked at in autumn; midstory, burns and preparatory cut come first; the seed cut waits for the
    crop gate and no longer than the course says; the overwood goes when the oak gate opens, or when waiting ends; then
    stems live, grow and seed in. The crop that lets a cut go is borne by the trees that stood. Before the year in which
    a course begins no work is done, and all waiting is counted from it; so these years are the same for all courses and
    run once.

    Examples
    --------
    >>> from overwood.science.regeneration.shapes import GATE, OAK, PARAMETERS, PLAN, STAND, counted_of, rows
    >>> oaks = rows(np.array([[0.0, 60.0, 5.0, 0.0], [1.0, 40.0, 5.0, 0.0]]), OAK)
    >>> bare = np.zeros((2, SLOTS))
    >>> counted = counted_of(bare, bare, bare + 1, bare, np.zeros((2, 2)))
    >>> stand, gate = rows(np.full(len(STAND), 0.5), STAND), rows(np.ones(len(GATE)), GATE)
    >>> p = rows(np.linspace(0.1, 0.9, len(PARAMETERS)), PARAMETERS)
    >>> nothing = rows(np.array([-1.0] + [0.0] * 15), PLAN)
    >>> drawn, seeds = np.array([[0, 1]]), np.array([1])
    >>> many_futures(counted, drawn, oaks, nothing, p, stand, gate, 3, seeds)[0, 0, :2].tolist()
    [-1.0, 0.0]
    """
    results = np.zeros((len(plans), len(drawn), _RESULTS + len(oaks)))
    every_future(counted, drawn, oaks, plans, parameters, stand, gate, years, seeds, _order(plans, years), results)
    return results


def _order(plans: np.ndarray, years: int) -> np.ndarray:
    """Of each course the first that is the same up to its last cut, maybe itself, and the year in which it begins (the
    last for one that begins later)."""
    before = [tuple(plan[name] for name in _BEFORE_LAST_CUT) for plan in plans]
    begins = np.clip(np.ceil(plans["start_yr"]), 0, years)
    return np.array([[before.index(one) for one in before], begins]).astype(np.int64)


@compiled
def every_future(counted, drawn, oaks, plans, parameters, stand, gate, years, seeds, order, results):  # type: ignore[no-untyped-def]
    """The compiled part of :func:`many_futures`: fills ``results``, the courses in the order of ``order``."""
    for future in range(len(drawn)):
        _one_future(
            future, counted, drawn[future], oaks, plans, parameters[future], stand[0], gate[0], years, seeds[future],
            order, results,
        )  # fmt: skip
