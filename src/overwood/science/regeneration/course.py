"""One stand's floor year by year under a course of treatment, and who stands at the end.

Pure functions of numbers and a seed. The simulated forester judges samples by the very gates of the advice (``science.decisions``), compiled here.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from overwood.science import decisions
from overwood.science.regeneration.processes import floor_light, success_chance
from overwood.science.regeneration.shapes import CANOPY_ROW, SLOTS, WHITE
from overwood.science.regeneration.year import (
    age_canopy,
    burn,
    crop_of,
    fell_over,
    grow,
    inject,
    light_now,
    new_floor,
    open_to,
    plant,
    seed_in,
)

_share_ends: Any = numba.njit(decisions.share_ends, cache=True)
_count_ends: Any = numba.njit(decisions.count_ends, cache=True)
_side: Any = numba.njit(decisions.side, cache=True)
_density_side: Any = numba.njit(decisions.density_side, cache=True)
_is_clumped: Any = numba.njit(decisions.is_clumped, cache=True)
_oak_side: Any = numba.njit(decisions.oak_side, cache=True)
_fire_spares: Any = numba.njit(decisions.fire_spares, cache=True)
WORK_ROW = np.dtype([(name, np.float64) for name in ("injected", "burns", "cut", "prepared", "planted", "missed", "good_ago")])


@numba.njit(cache=True)
def oak_gate(floor, plot_ac, sprouts_ac, gate):  # type: ignore[no-untyped-def]
    """The advice's question whether there is enough oak, asked of a count of part of the plots.

    Parameters
    ----------
    floor : Floor
        The truth, of which a sample is seen.
    plot_ac : float
        Plot size [ac].
    sprouts_ac : float
        Oak stumps expected to sprout [1/ac].
    gate : record
        Thresholds and quantiles, by GATE.

    Returns
    -------
    tuple
        Side (1, 0 or -1), and the tallest oak seen [ft].
    """
    n, waist, stocked, tall, tallest = 0, 0.0, 0, 0, 0.0
    for plot in range(len(floor.oak)):
        if np.random.random() >= gate["sampled_share"]:
            continue
        here, highest = 0, 0.0
        for slot in range(SLOTS):
            here += floor.oak[plot, slot] >= gate["waist_ft"]
            highest = max(highest, floor.oak[plot, slot])
        n, waist, tallest = n + 1, waist + here, max(tallest, highest)
        stocked, tall = stocked + (here > 0), tall + (highest >= gate["tall_ft"])
    if n < 2:
        return 0, tallest
    low, high = _share_ends(float(tall), float(n), gate["verdict_z"], gate["share_step"])
    needed = max(0.0, gate["advance_needed_ac"] - sprouts_ac) / gate["plots_per_acre"]
    least, most = _count_ends(waist, float(n), gate["verdict_z"], gate["clumping_k"])
    by_density = _density_side(waist / n / plot_ac, least / plot_ac, most / plot_ac, gate["needed_ac"], gate["least_ac"])
    clumped = _is_clumped(stocked / n, gate["needed_ac"], plot_ac, gate["clumped_ratio"])
    follows = abs(plot_ac * gate["plots_per_acre"] - 1) < 0.05
    return _oak_side(_side(low, high, needed), by_density, follows, clumped), tallest


@numba.njit(cache=True)
def crop_gate(good, white_share, gate, p):  # type: ignore[no-untyped-def]
    """The advice's question whether the crop is good enough, asked of so many trees of each group.

    Parameters
    ----------
    good : array of bool, shape (2,)
        The truth, by group.
    white_share : float
        White oaks' part of the oak canopy, 0 to 1; a group that is a small part is not looked at.
    gate : record
        Thresholds and quantiles, by GATE.
    p : record
        Parameters: shares of trees bearing.

    Returns
    -------
    tuple
        Side of the better group, and whether either seemed to bear by the share alone.
    """
    best, bears = -1, False
    for group in range(2):
        if (white_share if group == WHITE else 1 - white_share) < gate["group_share"]:
            continue
        trees = int(gate["crop_trees"])
        seen = np.random.binomial(trees, p["bearing_good"] if good[group] else p["bearing_poor"])
        low, high = _share_ends(float(seen), float(trees), gate["crop_z"], gate["share_step"])
        best = max(best, _side(low, high, gate["crop_bearing_share"]))
        bears = bears or seen / trees >= gate["crop_bearing_share"]
    return best, bears


@numba.njit(cache=True)
def _dominants(floor, stand, p):  # type: ignore[no-untyped-def]
    """Oaks an acre among dominants at 20 by kind: at most one on each growing space."""
    won = np.zeros(len(floor.young) + 1)
    chances = np.zeros(SLOTS)
    for plot in range(len(floor.oak)):
        rival, lost = max(floor.tolerant[plot], floor.pioneer[plot]), 1.0
        for slot in range(SLOTS):
            chances[slot] = 0.0
            if floor.oak[plot, slot] > 0:
                over = rival > floor.oak[plot, slot] * p["overtopped_times"]
                chances[slot] = success_chance(floor.root[plot, slot], over, stand["site_index_ft"], p)
            lost *= 1 - chances[slot]
        if np.random.random() > lost:
            pick, slot = np.random.random() * chances.sum(), 0
            while slot < SLOTS - 1 and pick > chances[slot]:
                pick, slot = pick - chances[slot], slot + 1
            won[floor.kind[plot, slot]] += 1
    return won / len(floor.oak)


@numba.njit(cache=True)
def _start(canopy, work, oaks, plan, p, stand):  # type: ignore[no-untyped-def]
    """Set canopy and work done; True where a seed cut as deep as the course's is done. A stand cut before fades already."""
    canopy["other"][0] = stand["other_ba_ft2_ac"]
    for species in range(len(oaks)):
        if oaks[species]["group"] == WHITE:
            canopy["white"][0] += oaks[species]["ba_ft2_ac"]
        else:
            canopy["red"][0] += oaks[species]["ba_ft2_ac"]
    canopy["whole_oak"][0] = canopy["white"][0] + canopy["red"][0]
    canopy["ba"][0] = canopy["whole_oak"][0] + canopy["other"][0]
    canopy["whole_ba"][0] = max(canopy["ba"][0], stand["ba_before_ft2_ac"])
    canopy["shade"][0] = p["midstory_multiplier"] if stand["midstory"] > 0 else 1.0
    canopy["before"][0] = floor_light(canopy["ba"][0], canopy["shade"][0], p["curve_b0"], p["curve_b1"])
    work["injected"][0], work["cut"][0], work["prepared"][0], work["good_ago"][0] = -1.0, -1.0, -1.0, stand["good_crop_ago_yr"]
    if stand["opened_yr"] >= 0:
        canopy["opened"][0], canopy["was_cut"][0] = -stand["opened_yr"], 1.0
        whole = floor_light(stand["ba_before_ft2_ac"], p["midstory_multiplier"], p["curve_b0"], p["curve_b1"])
        canopy["before"][0] = max(whole, p["light_kept_share"] * canopy["before"][0])
        if plan["residual_ft2_ac"] > 0 and canopy["ba"][0] <= p["no_cut_above_times"] * plan["residual_ft2_ac"]:
            work["cut"][0] = -max(1.0, np.floor(stand["opened_yr"]))
            return True
    return False


@numba.njit(cache=True)
def _prepare(floor, canopy, work, plan, p, gate, year, bears, is_cut, luck):  # type: ignore[no-untyped-def]
    """Injection, burns and preparatory cut of a year; True once all of them are done."""
    clear = plan["inject"] == 0 or canopy["shade"][0] == 1.0
    if not clear:
        inject(canopy, p, year)
        work["injected"][0] = year
        return False
    wanted, burn_day = work["burns"][0] < plan["burns"] and not is_cut, luck[3] < p["burn_chance"]
    if wanted and burn_day and _fire_spares(bears, work["good_ago"][0], gate["burn_wait_yr"]):
        burn(floor, p)
        work["burns"][0] += 1
    if work["burns"][0] < plan["burns"]:
        return False
    if plan["prep_ft2_ac"] > 0 and work["prepared"][0] < 0:
        open_to(canopy, p, year, plan["prep_ft2_ac"])
        work["prepared"][0] = year
    return plan["prep_ft2_ac"] == 0 or year - work["prepared"][0] >= p["prep_yr"]


@numba.njit(cache=True)
def _seed_cut(floor, canopy, work, plan, p, plot_ac, year):  # type: ignore[no-untyped-def]
    open_to(canopy, p, year, plan["residual_ft2_ac"])
    fell_over(floor, p["seed_cut_loss"] * p["logging_loss_share"])
    work["cut"][0] = year
    if plan["planted_ac"] > 0:
        plant(floor, plot_ac, plan["planted_ac"], p)
        work["planted"][0] = 1.0


@numba.njit(cache=True)
def _released(floor, canopy, oaks, plan, p, stand, gate, year, is_cut, found):  # type: ignore[no-untyped-def]
    """The last cut: what was there, what felling leaves, and who stands at the age asked for."""
    for plot in range(len(floor.oak)):
        for slot in range(SLOTS):
            found[2] += floor.oak[plot, slot] >= gate["waist_ft"]
    found[2] /= len(floor.oak) * stand["plot_ac"]
    fell_over(floor, p["logging_loss_share"])
    kept = plan["kept_ft2_ac"] / canopy["whole_ba"][0] if canopy["whole_ba"][0] > 0 else 0.0
    spaces = min(gate["plots_per_acre"], 1 / stand["plot_ac"])
    # Who leads at 20 by the model; later some of them are lost, as was seen in unreleased young stands.
    open_share = (1 - p["kept_shade"] * kept) * (1 - p["dominant_loss_10yr"]) ** (max(gate["age_yr"] - 20.0, 0.0) / 10.0)
    won = _dominants(floor, stand, p) * spaces
    sprouting = (p["sprout_shade"] if is_cut else 1.0) * (1 - kept) * p["sprout_to_dominance"]
    found[8] = won[len(oaks)] * open_share
    for species in range(len(oaks)):
        found[9 + species] = (won[species] + oaks[species]["sprouts_ac"] * sprouting) * open_share
    found[0], found[1] = year, found[8:].sum()


@numba.njit(cache=True)
def one_future(counted, which, oaks, plan, p, stand, gate, luck, seed):  # type: ignore[no-untyped-def]
    """One future of one course.

    Parameters
    ----------
    counted : Counted
        The plots as they were counted.
    which : array of int, shape (plots,)
        Plots this future starts from.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    plan, p, stand, gate : record
        Course, parameters, stand and the forester's gates, by PLAN, PARAMETERS, STAND and GATE.
    luck : array, shape (years, 4)
        Chances of each year by LUCK, the same for every course.
    seed : int
        Seed of everything else.

    Returns
    -------
    array
        Numbers by RESULTS, then the dominants of each species; release year -1 where the overwood never went.

    Notes
    -----
    A year: the crop is looked at; midstory, burns and preparatory cut come first; the seed cut waits for the crop gate and no longer than the
    course says; the overwood goes when the oak gate opens, or when waiting ends; then stems live, grow and seed in.

    Examples
    --------
    >>> from overwood.science.regeneration.shapes import GATE, OAK, PARAMETERS, PLAN, STAND, Counted, rows
    >>> oaks = rows(np.array([[0.0, 60.0, 5.0], [1.0, 40.0, 5.0]]), OAK)
    >>> bare = np.zeros((2, SLOTS))
    >>> counted = Counted(bare, bare, bare.astype(np.int64), np.zeros(2), np.zeros(2))
    >>> stand, gate = rows(np.full(len(STAND), 0.5), STAND)[0], rows(np.ones(len(GATE)), GATE)[0]
    >>> p = rows(np.linspace(0.1, 0.9, len(PARAMETERS)), PARAMETERS)[0]
    >>> nothing = rows(np.array([-1.0] + [0.0] * 10), PLAN)[0]
    >>> one_future(counted, np.arange(2), oaks, nothing, p, stand, gate, np.full((3, 4), 0.5), 1)[:2].tolist()
    [-1.0, 0.0]
    """
    np.random.seed(seed)
    floor = new_floor(counted, which, oaks, p)
    canopy, work = np.zeros(1, CANOPY_ROW), np.zeros(1, WORK_ROW)
    is_cut = _start(canopy, work, oaks, plan, p, stand)
    good, past = np.zeros(2, dtype=np.bool_), np.zeros((2, 2), dtype=np.bool_)
    sprouts = 0.0
    for species in range(len(oaks)):
        sprouts += oaks[species]["sprouts_ac"]
    found = np.zeros(9 + len(oaks))
    found[0] = -1.0
    for year in range(len(luck)):
        light = light_now(canopy, p, year)
        crop_of(good, past, p, luck[year])
        bearing = canopy["white"][0] + canopy["red"][0]
        crop, bears = crop_gate(good, canopy["white"][0] / bearing if bearing > 0 else 1.0, gate, p)
        work["good_ago"][0] = 0.0 if bears else work["good_ago"][0] + 1
        ready = _prepare(floor, canopy, work, plan, p, gate, year, bears, is_cut, luck[year])
        if plan["residual_ft2_ac"] > 0 and not is_cut:
            waited = year >= plan["crop_wait_yr"] and work["injected"][0] != year
            if (ready and crop == 1) or waited:
                _seed_cut(floor, canopy, work, plan, p, stand["plot_ac"], year)
                is_cut = True
            elif ready:
                work["missed"][0] += 1
        release = plan["residual_ft2_ac"] == 0 and plan["cut_year"] >= 0 and year >= plan["cut_year"]
        if plan["residual_ft2_ac"] > 0 and is_cut and year - work["cut"][0] >= plan["count_from_yr"]:
            side, tallest = oak_gate(floor, stand["plot_ac"], sprouts * p["sprout_shade"], gate)
            late = year - work["cut"][0] >= plan["release_wait_yr"] or tallest > gate["too_tall_ft"]
            release = side == 1 or (late and plan["release_anyway"] > 0)
        if release:
            _released(floor, canopy, oaks, plan, p, stand, gate, year, is_cut, found)
            break
        grow(floor, light, p)
        seed_in(floor, canopy, oaks, good, stand["plot_ac"], p)
        age_canopy(canopy, p)
    found[3], found[4], found[5] = work["missed"][0], work["injected"][0], work["burns"][0]
    found[6], found[7] = work["cut"][0], work["planted"][0]
    return found


@numba.njit(parallel=True, cache=True)
def many_futures(counted, drawn, oaks, plans, parameters, stand, gate, luck, seeds):  # type: ignore[no-untyped-def]
    """Every future of every course; the same whatever the number of threads.

    Parameters
    ----------
    counted : Counted
        The plots as they were counted.
    drawn : array of int, shape (futures, plots)
        Which counted plots each future starts from, drawn with replacement.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    plans : array of records, shape (courses,)
        Courses.
    parameters : array of records, shape (futures,)
        Parameters.
    stand, gate : array of records, shape (1,)
        What :func:`one_future` takes as records.
    luck : array, shape (futures, years, 4)
        Chances, common to all courses.
    seeds : array of int, shape (futures,)
        Seeds, common to all courses.

    Returns
    -------
    array, shape (courses, futures, len(RESULTS) + species)
        Results.
    """
    courses, futures = len(plans), len(drawn)
    found = np.zeros((courses, futures, 9 + len(oaks)))
    for future in numba.prange(futures):
        for course in range(courses):
            found[course, future] = one_future(
                counted, drawn[future], oaks, plans[course], parameters[future], stand[0], gate[0], luck[future], seeds[future]
            )
    return found
