"""What a year does to a floor of plots: burn, fell, plant, grow, die, seed in; light as the canopy closes again; the crop."""

from __future__ import annotations

import math

import numba
import numpy as np

from overwood.science.regeneration.processes import (
    crop_is_good,
    floor_light,
    germinants_ac,
    oak_gain_ft,
    poplar_gain_ft,
    tolerant_gain_ft,
    yearly_survival,
)
from overwood.science.regeneration.shapes import RED, SLOTS, WHITE, YOUNG_YEARS, Floor


@numba.njit(cache=True)
def new_floor(counted, which, oaks, p):  # type: ignore[no-untyped-def]
    """The floor of one future from drawn plots.

    Parameters
    ----------
    counted : Counted
        The plots as they were counted.
    which : array of int, shape (plots,)
        Which counted plot each of these is.
    oaks : array of records, shape (species,)
        The stand's oak species, by OAK.
    p : record
        Parameters.

    Returns
    -------
    Floor
        Its own copy, with a lasting vigour drawn for each plot.
    """
    plots = len(which)
    young = np.zeros((len(oaks), YOUNG_YEARS))
    vigour = np.exp(np.random.normal(0.0, p["plot_spread_ln"], plots))
    return Floor(
        counted.oak[which], counted.root[which], counted.kind[which], young, counted.tolerant[which], counted.pioneer[which], vigour
    )


@numba.njit(cache=True)
def light_now(canopy, p, year):  # type: ignore[no-untyped-def]
    """Light on the floor, fading from what an opening gave toward what was before.

    Parameters
    ----------
    canopy : array of one record
        Basal area, midstory, light before the last opening and its year.
    p : record
        Parameters.
    year : int
        Year of the run.

    Returns
    -------
    float
        Share of full sun, 0 to 1.
    """
    full = floor_light(canopy["ba"][0], canopy["shade"][0], p["curve_b0"], p["curve_b1"])
    return canopy["before"][0] + (full - canopy["before"][0]) * 0.5 ** ((year - canopy["opened"][0]) / p["light_lasts_yr"])


@numba.njit(cache=True)
def inject(canopy, p, year):  # type: ignore[no-untyped-def]
    """Take the midstory out; its light fades again.

    Parameters
    ----------
    canopy : array of one record
        Changed in place.
    p : record
        Parameters.
    year : int
        Year of the run.
    """
    canopy["before"][0] = floor_light(canopy["ba"][0], canopy["shade"][0], p["curve_b0"], p["curve_b1"])
    canopy["shade"][0], canopy["opened"][0] = 1.0, year


@numba.njit(cache=True)
def open_to(canopy, p, year, ba_ft2_ac):  # type: ignore[no-untyped-def]
    """Cut the canopy to a basal area, other species before oaks; light fades to no less than a part of what the cut gave.

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
    """
    old = floor_light(canopy["ba"][0], canopy["shade"][0], p["curve_b0"], p["curve_b1"])
    take = max(canopy["ba"][0] - ba_ft2_ac, 0.0)
    others = min(take, canopy["other"][0])
    oaks = canopy["white"][0] + canopy["red"][0]
    left = (oaks - (take - others)) / oaks if oaks > 0 else 0.0
    canopy["other"][0] -= others
    canopy["white"][0], canopy["red"][0] = canopy["white"][0] * left, canopy["red"][0] * left
    canopy["ba"][0], canopy["opened"][0], canopy["was_cut"][0] = canopy["white"][0] + canopy["red"][0] + canopy["other"][0], year, 1.0
    new = floor_light(canopy["ba"][0], canopy["shade"][0], p["curve_b0"], p["curve_b1"])
    canopy["before"][0] = max(old, p["light_kept_share"] * new)


@numba.njit(cache=True)
def age_canopy(canopy, p):  # type: ignore[no-untyped-def]
    """A year of growth and death of the canopy's three classes; full ground is not overgrown.

    Parameters
    ----------
    canopy : array of one record
        Changed in place.
    p : record
        Parameters: growth of basal area a year, how many times more after a cut, and deaths by class.

    Notes
    -----
    Deaths by group are published for uncut oak stands; growth of basal area is an assumption, and a canopy that was never cut keeps what it has
    at the most, since uncut mature stands stand near a balance.
    """
    growth = p["canopy_growth"] * (p["canopy_release"] if canopy["was_cut"][0] > 0 else 1.0)
    canopy["white"][0] *= 1 + growth - p["death_white"]
    canopy["red"][0] *= 1 + growth - p["death_red"]
    canopy["other"][0] *= 1 + growth - p["death_other"]
    total = canopy["white"][0] + canopy["red"][0] + canopy["other"][0]
    shrink = min(1.0, canopy["whole_ba"][0] / total) if total > 0 else 1.0
    canopy["white"][0], canopy["red"][0], canopy["other"][0] = (
        canopy["white"][0] * shrink,
        canopy["red"][0] * shrink,
        canopy["other"][0] * shrink,
    )
    canopy["ba"][0] = total * shrink


@numba.njit(cache=True)
def crop_of(good, past, p, luck):  # type: ignore[no-untyped-def]
    """Whether the white and the red oaks bear well this year.

    Parameters
    ----------
    good : array of bool, shape (2,)
        Set in place, by group.
    past : array of bool, shape (2, 2)
        Good crops one and two years back, by group; moved on in place.
    p : record
        Parameters.
    luck : array
        Chances of the year, by LUCK.

    Examples
    --------
    >>> from overwood.science.regeneration.shapes import PARAMETERS, rows
    >>> good, past = np.zeros(2, dtype=np.bool_), np.zeros((2, 2), dtype=np.bool_)
    >>> crop_of(good, past, rows(np.full(len(PARAMETERS), 0.5), PARAMETERS)[0], np.array([0.1, 0.9, 0.9, 0.5]))
    >>> good.tolist()
    [True, False]
    """
    shared = luck[0] if luck[2] < p["crop_together"] else luck[1]
    good[WHITE] = crop_is_good(p["good_crop_chance"], p["crop_after_good"], past[WHITE, 0], luck[0])
    good[RED] = crop_is_good(p["good_crop_chance"], p["crop_after_good"], past[RED, 1], shared)
    for group in range(2):
        past[group, 1], past[group, 0] = past[group, 0], good[group]


@numba.njit(cache=True)
def _settle(floor, plot, height, kind):  # type: ignore[no-untyped-def]
    """Give a new stem a place on a plot: a free one, or that of the smallest."""
    least = 0
    for slot in range(SLOTS):
        if floor.oak[plot, slot] < floor.oak[plot, least]:
            least = slot
    if floor.oak[plot, least] < height:
        floor.oak[plot, least], floor.root[plot, least], floor.kind[plot, least] = height, height, kind


@numba.njit(cache=True)
def plant(floor, plot_ac, stems_ac, p):  # type: ignore[no-untyped-def]
    """Planted oaks, at random over the plots.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    plot_ac : float
        Plot size [ac].
    stems_ac : float
        Oaks planted [1/ac].
    p : record
        Parameters.
    """
    for plot in range(len(floor.oak)):
        for _ in range(min(np.random.poisson(stems_ac * plot_ac), SLOTS)):
            _settle(floor, plot, p["planted_ft"], len(floor.young))


@numba.njit(cache=True)
def burn(floor, p):  # type: ignore[no-untyped-def]
    """One dormant burn: what lives is topkilled and sprouts from the root it had.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    p : record
        Parameters.
    """
    floor.young[:] *= p["burn_young"] * p["burn_oak_small"]
    for plot in range(len(floor.oak)):
        for slot in range(SLOTS):
            if floor.oak[plot, slot] > 0:
                lives = p["burn_oak_large"] if floor.root[plot, slot] >= p["burn_large_ft"] else p["burn_oak_small"]
                if np.random.random() > lives:
                    floor.oak[plot, slot], floor.root[plot, slot] = 0.0, 0.0
                else:
                    floor.oak[plot, slot] = min(floor.oak[plot, slot], p["topkill_ft"])
        floor.tolerant[plot] = min(floor.tolerant[plot], p["topkill_ft"]) if np.random.random() < p["burn_rivals"] else 0.0
        floor.pioneer[plot] = min(floor.pioneer[plot], p["topkill_ft"]) if np.random.random() < p["burn_rivals"] else 0.0


@numba.njit(cache=True)
def fell_over(floor, share):  # type: ignore[no-untyped-def]
    """Stems that felling and skidding destroy.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    share : float
        Share of the oaks lost, 0 to 1.
    """
    for plot in range(len(floor.oak)):
        for slot in range(SLOTS):
            if floor.oak[plot, slot] > 0 and np.random.random() < share:
                floor.oak[plot, slot], floor.root[plot, slot] = 0.0, 0.0


@numba.njit(cache=True)
def grow(floor, light, p):  # type: ignore[no-untyped-def]
    """A year of living, dying and growing on every plot.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    light : float
        Share of full sun, 0 to 1.
    p : record
        Parameters.
    """
    year = math.exp(np.random.normal(0.0, p["year_spread_ln"]))
    seedling = yearly_survival(
        light, p["seedling_survival8_dark"] ** 0.125, p["seedling_survival8_lit"] ** 0.125, p["light_dark"], p["light_lit"]
    )
    established = yearly_survival(light, p["established_survival_dark"], p["established_survival_lit"], p["light_dark"], p["light_lit"])
    for plot in range(len(floor.oak)):
        _grow_oaks(floor, plot, light, year, seedling, established, p)
        _grow_rivals(floor, plot, light, year, p)
    _rise(floor, seedling, p)


@numba.njit(cache=True)
def _grow_oaks(floor, plot, light, year, seedling, established, p):  # type: ignore[no-untyped-def]
    for slot in range(SLOTS):
        height, root = floor.oak[plot, slot], floor.root[plot, slot]
        if height <= 0:
            continue
        if np.random.random() > (established if root >= p["established_ft"] else seedling):
            floor.oak[plot, slot], floor.root[plot, slot] = 0.0, 0.0
            continue
        gain = oak_gain_ft(height, root, light, p) * floor.vigour[plot] * year
        height += gain * (p["browse_growth"] if height < p["browse_line_ft"] else 1.0)
        floor.oak[plot, slot], floor.root[plot, slot] = height, max(root, height)


@numba.njit(cache=True)
def _rise(floor, seedling, p):  # type: ignore[no-untyped-def]
    """Seedlings of the last age take their place among the oaks; the others grow a year older.

    Germinants fall at random and each lives by the same chance, so the survivors of a plot stay Poisson about the expected number: only
    those that rise need drawing.
    """
    for species in range(len(floor.young)):
        mean = floor.young[species, YOUNG_YEARS - 1] * seedling
        for plot in range(len(floor.oak)):
            for _ in range(min(np.random.poisson(mean), SLOTS)):
                _settle(floor, plot, p["new_stem_ft"], species)
        for age in range(YOUNG_YEARS - 1, 0, -1):
            floor.young[species, age] = floor.young[species, age - 1] * seedling
        floor.young[species, 0] = 0.0


@numba.njit(cache=True)
def _grow_rivals(floor, plot, light, year, p):  # type: ignore[no-untyped-def]
    if floor.tolerant[plot] > 0:
        floor.tolerant[plot] += tolerant_gain_ft(light, p) * year
    elif np.random.random() < p["tolerant_arrival"]:
        floor.tolerant[plot] = p["new_stem_ft"]
    dark = p["pioneer_survival_dark"]
    if floor.pioneer[plot] > 0:
        lives = np.random.random() < dark + (1 - dark) * min(light / p["pioneer_full_light"], 1.0)
        floor.pioneer[plot] = floor.pioneer[plot] + poplar_gain_ft(light, p) * year if lives else 0.0
    elif light >= p["pioneer_full_light"] and np.random.random() < p["pioneer_arrival"]:
        floor.pioneer[plot] = p["new_stem_ft"]


@numba.njit(cache=True)
def seed_in(floor, canopy, oaks, good, plot_ac, p):  # type: ignore[no-untyped-def]
    """Germinants of both groups' crops, as many as are expected on a plot.

    Parameters
    ----------
    floor : Floor
        Changed in place.
    canopy : array of one record
        The canopy that bears; a thinner one bears less.
    oaks : array of records, shape (species,)
        The stand's oak species; each bears by its part of its group.
    good : array of bool, shape (2,)
        Whether each group's crop is good.
    plot_ac : float
        Plot size [ac].
    p : record
        Parameters.
    """
    bearing = canopy["white"][0] + canopy["red"][0]
    whole = p["crop_mean_ac"] * (bearing / canopy["whole_oak"][0]) ** p["acorns_by_ba_power"] if bearing > 0 else 0.0
    in_group = np.zeros(2)
    for species in range(len(oaks)):
        in_group[int(oaks[species]["group"])] += oaks[species]["ba_ft2_ac"]
    for species in range(len(oaks)):
        group = int(oaks[species]["group"])
        part = (canopy["white"][0] if group == WHITE else canopy["red"][0]) / bearing if bearing > 0 else 0.0
        share = oaks[species]["ba_ft2_ac"] / in_group[group] if in_group[group] > 0 else 0.0
        acorns = whole * part * share * (p["crop_good_times"] if good[group] else p["crop_poor_times"])
        floor.young[species, 0] = plot_ac * germinants_ac(
            acorns, p["insect_share"], p["buried_share"], p["overwinter_buried"], p["overwinter_unburied"]
        )
