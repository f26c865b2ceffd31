"""One stand's floor year by year under a course of treatment: seed, light, growth, death, fire, cut, and who stands at the end.

Pure functions of numbers and a seed; nothing here decides what is wise. Heights in feet, light as a share of full sun.
"""

from __future__ import annotations

import math

import numba
import numpy as np
from numpy.typing import NDArray

from overwood.science.regeneration.processes import (
    floor_light,
    germinants_ac,
    oak_gain_ft,
    poplar_gain_ft,
    success_chance,
    tolerant_gain_ft,
    yearly_survival,
)

Array = NDArray[np.float64]
SLOTS = 5
YOUNG_YEARS = 3
# Names of the parameters of one future, in the order the compiled code takes them.
PARAMETERS = (
    "seedling_survival8_dark", "seedling_survival8_lit", "established_survival_dark", "established_survival_lit",
    "growth_seedling_ft_yr", "growth_established_ft_yr", "growth_sprout_ft_yr", "growth_tolerant_ft_yr", "growth_poplar_ft_yr",
    "crop_mean_ac", "good_crop_chance", "crop_good_times", "crop_poor_times", "insect_share", "buried_share",
    "light_lasts_yr", "midstory_multiplier", "logging_loss_share", "browse_growth",
    "dominance_b0", "dominance_ln_diameter", "dominance_site_10ft", "dominance_overtopped",
    "sprout_to_dominance", "sprout_shade", "burn_oak_small", "burn_oak_large", "burn_rivals", "burn_chance",
)  # fmt: skip
# Names of a course's numbers, in the order the compiled code takes them.
PLAN = (
    "cut_year", "inject", "burns", "crop_wait_yr", "residual_ft2_ac", "count_from_yr", "release_wait_yr", "release_anyway",
    "planted_ac", "prep_ft2_ac", "kept_ft2_ac",
)  # fmt: skip
(
    _S8D, _S8L, _ED, _EL, _GS, _GE, _GSP, _GT, _GP, _CM, _CG, _CGT, _CPT, _IN, _BU, _LL, _MM, _LO, _BR, _B0, _BD, _BS, _BO, _SD, _SS, _FS, _FL, _FR, _FC,
) = range(len(PARAMETERS))  # fmt: skip
_CUT, _INJECT, _BURNS, _CROP, _RESIDUAL, _COUNT, _WAIT, _ANYWAY, _PLANTED, _PREP, _KEPT = range(len(PLAN))
# Years between a preparatory and a seed cut at the least.
_PREP_YEARS = 3
# A canopy this little above a course's residual needs no seed cut any more.
_NEAR = 1.15
# What the simulated forester's gate needs: stems an acre wanted, the height they must have, and the height that is too tall.
GATE = ("needed_ac", "needed_ft", "too_tall_ft", "sampled_share")
RESULTS = ("release_year", "dominant_oaks_ac", "oaks_at_release_ac", "crops_missed", "inject_year", "burns", "cut_year", "planted")
_PLOTS_PER_AC = 735.0


@numba.njit(cache=True)
def _settle(oak, root, plot, height):  # type: ignore[no-untyped-def]
    """Give a new stem a place on a plot: a free one, or that of the smallest."""
    least = 0
    for slot in range(oak.shape[1]):
        if oak[plot, slot] < oak[plot, least]:
            least = slot
    if oak[plot, least] < height:
        oak[plot, least], root[plot, least] = height, height


@numba.njit(cache=True)
def _burn(oak, root, young, tolerant, poplar, p):  # type: ignore[no-untyped-def]
    """One dormant burn: what lives is topkilled and sprouts from the root it had."""
    for plot in range(oak.shape[0]):
        for slot in range(oak.shape[1]):
            if oak[plot, slot] > 0:
                lives = p[_FL] if root[plot, slot] >= 3.0 else p[_FS]
                if np.random.random() > lives:
                    oak[plot, slot], root[plot, slot] = 0.0, 0.0
                else:
                    oak[plot, slot] = min(oak[plot, slot], 0.7)
        for age in range(YOUNG_YEARS):
            young[plot, age] = np.random.binomial(young[plot, age], 0.5 * p[_FS])
        tolerant[plot] = min(tolerant[plot], 0.5) if np.random.random() < p[_FR] else 0.0
        poplar[plot] = min(poplar[plot], 0.5) if np.random.random() < p[_FR] else 0.0


@numba.njit(cache=True)
def _grow(oak, root, young, tolerant, poplar, effect, light, p):  # type: ignore[no-untyped-def]
    """A year of living, dying and growing on every plot."""
    year = math.exp(np.random.normal(0.0, 0.2))
    seedling = yearly_survival(light, p[_S8D] ** 0.125, p[_S8L] ** 0.125)
    established = yearly_survival(light, p[_ED], p[_EL])
    for plot in range(oak.shape[0]):
        for slot in range(oak.shape[1]):
            height = oak[plot, slot]
            if height <= 0:
                continue
            if np.random.random() > (established if root[plot, slot] >= 1.0 else seedling):
                oak[plot, slot], root[plot, slot] = 0.0, 0.0
                continue
            gain = oak_gain_ft(height, root[plot, slot], light, p[_GS], p[_GE], p[_GSP])
            gain *= effect[plot] * year * (p[_BR] if height < 4.5 else 1.0)
            oak[plot, slot] = height + gain
            root[plot, slot] = max(root[plot, slot], oak[plot, slot])
        risen = np.random.binomial(young[plot, YOUNG_YEARS - 1], seedling)
        for _ in range(min(risen, SLOTS)):
            _settle(oak, root, plot, 0.5)
        for age in range(YOUNG_YEARS - 1, 0, -1):
            young[plot, age] = np.random.binomial(young[plot, age - 1], seedling)
        young[plot, 0] = 0
        if tolerant[plot] > 0:
            tolerant[plot] += tolerant_gain_ft(light, p[_GT]) * year
        elif np.random.random() < 0.1:
            tolerant[plot] = 0.5
        if poplar[plot] > 0:
            poplar[plot] = (
                poplar[plot] + poplar_gain_ft(light, p[_GP]) * year if np.random.random() < 0.7 + 0.3 * min(light / 0.3, 1.0) else 0.0
            )
        elif light >= 0.3 and np.random.random() < 0.15:
            poplar[plot] = 0.5


@numba.njit(cache=True)
def _counted_ac(oak, plot_ac, height_ft, share):  # type: ignore[no-untyped-def]
    """Oaks of a height an acre as the forester counts them on part of the plots, and the tallest seen."""
    seen, stems, tallest = 0, 0, 0.0
    for plot in range(oak.shape[0]):
        if np.random.random() < share:
            seen += 1
            for slot in range(oak.shape[1]):
                if oak[plot, slot] >= height_ft:
                    stems += 1
                tallest = max(tallest, oak[plot, slot])
    return (stems / (seen * plot_ac) if seen else 0.0), tallest


@numba.njit(cache=True)
def _dominant_ac(oak, root, tolerant, poplar, plot_ac, site, sprouts_ac, p):  # type: ignore[no-untyped-def]
    """Oaks an acre among dominants at 20: at most one on each 1/735 acre, and stump sprouts."""
    won = 0
    for plot in range(oak.shape[0]):
        rival, lost = max(tolerant[plot], poplar[plot]), 1.0
        for slot in range(oak.shape[1]):
            if oak[plot, slot] > 0:
                over = rival * 0.8 > oak[plot, slot]
                lost *= 1 - success_chance(root[plot, slot], over, site, p[_B0], p[_BD], p[_BS], p[_BO])
        if np.random.random() > lost:
            won += 1
    return won / oak.shape[0] * min(_PLOTS_PER_AC, 1 / plot_ac) + sprouts_ac * p[_SD]


@numba.njit(cache=True)
def _log(oak, root, share):  # type: ignore[no-untyped-def]
    """Stems that felling and skidding destroy."""
    for plot in range(oak.shape[0]):
        for slot in range(oak.shape[1]):
            if oak[plot, slot] > 0 and np.random.random() < share:
                oak[plot, slot], root[plot, slot] = 0.0, 0.0


@numba.njit(cache=True)
def one_future(oak, tolerant, poplar, plan, p, stand, gate, crop_u, burn_u, seed):  # type: ignore[no-untyped-def]
    """One future of one course.

    Parameters
    ----------
    oak : array, shape (plots, SLOTS)
        Heights of the tallest oaks of each plot [ft]; 0 for none.
    tolerant, poplar : array, shape (plots,)
        Height of the tallest tolerant and the tallest pioneer rival [ft]; 0 for none.
    plan : array
        Numbers of the course, by PLAN.
    p : array
        Parameters of this future, by PARAMETERS.
    stand : array, shape (7,)
        Plot size [ac], basal area of the main canopy [ft2/ac], whether a midstory stands, oak stumps that would sprout [1/ac], site index [ft],
        years since the canopy was opened (-1 for never) and its basal area before that.
    gate : array
        What the simulated forester wants, by GATE.
    crop_u, burn_u : array, shape (years,)
        Chances of each year, the same for every course.
    seed : int
        Seed of everything else.

    Returns
    -------
    array
        Numbers by RESULTS; release year -1 where the overwood never went.

    Notes
    -----
    The forester sees counts on part of the plots, not the truth. A good crop before a cut opens it; burns come before the
    crop; the overwood goes when enough oaks are tall enough, or when waiting ends.

    Examples
    --------
    >>> none, plan = np.zeros(2), np.zeros(len(PLAN))
    >>> plan[0] = -1
    >>> stand, gate = np.array([1 / 735, 100.0, 1.0, 0.0, 70.0, -1.0, 100.0]), np.array([400.0, 3.0, 12.0, 1.0])
    >>> years = np.full(3, 0.5)
    >>> one_future(np.zeros((2, SLOTS)), none, none, plan, np.full(len(PARAMETERS), 0.5), stand, gate, years, years, 1)[:2].tolist()
    [-1.0, 0.0]
    """
    np.random.seed(seed)
    oak, tolerant, poplar = oak.copy(), tolerant.copy(), poplar.copy()
    root, young = oak.copy(), np.zeros((oak.shape[0], YOUNG_YEARS), dtype=np.int64)
    effect = np.exp(np.random.normal(0.0, 0.5, oak.shape[0]))
    plot_ac, ba, shade, sprouts, site = stand[0], stand[1], (p[_MM] if stand[2] > 0 else 1.0), stand[3], stand[4]
    whole_ba, before = ba, floor_light(ba, shade)
    opened, missed, burns, cut, injected, planted, prepared = 0.0, 0, 0, -1, -1, 0, -1
    floor_clear, is_cut = plan[_INJECT] == 0 or stand[2] == 0, False
    if stand[5] >= 0:
        # The canopy was opened before: what was gained is fading already, and a seed cut as deep as the course's is done.
        opened, before = -stand[5], max(floor_light(stand[6], p[_MM]), 0.6 * before)
        if plan[_RESIDUAL] > 0 and ba <= _NEAR * plan[_RESIDUAL]:
            is_cut, cut = True, -max(1, int(stand[5]))
    found = np.array([-1.0, 0.0, 0.0, 0.0, -1.0, 0.0, -1.0, 0.0])
    for year in range(len(crop_u)):
        open_light = floor_light(ba, shade)
        light = before + (open_light - before) * 0.5 ** ((year - opened) / p[_LL])
        good = crop_u[year] < p[_CG]
        crop = p[_CM] * (p[_CGT] if good else p[_CPT]) * (ba / whole_ba) ** 0.4
        # What the course does this year.
        if not floor_clear and injected < 0:
            injected, shade, before, opened = year, 1.0, floor_light(ba, shade), year
        elif plan[_BURNS] > burns and not is_cut and not good and burn_u[year] < p[_FC] and (injected >= 0 or floor_clear):
            _burn(oak, root, young, tolerant, poplar, p)
            burns += 1
        ready = burns >= plan[_BURNS] and (injected >= 0 or floor_clear)
        if plan[_PREP] > 0 and ready and prepared < 0:
            before, ba, prepared, opened = (
                max(floor_light(ba, shade), 0.6 * floor_light(min(ba, plan[_PREP]), shade)),
                min(ba, plan[_PREP]),
                year,
                year,
            )
        ready = ready and (plan[_PREP] == 0 or (prepared >= 0 and year - prepared >= _PREP_YEARS))
        if plan[_RESIDUAL] > 0 and not is_cut and (year > 0 or floor_clear):
            waited = year >= plan[_CROP]
            if (ready and (good or plan[_CROP] == 0)) or waited:
                before, ba, cut, opened, is_cut = floor_light(ba, shade), min(ba, plan[_RESIDUAL]), year, year, True
                before = max(before, 0.6 * floor_light(ba, shade))
                _log(oak, root, 0.5 * p[_LO])
                if plan[_PLANTED] > 0:
                    planted = 1
                    for plot in range(oak.shape[0]):
                        for _ in range(min(np.random.poisson(plan[_PLANTED] * plot_ac), SLOTS)):
                            _settle(oak, root, plot, 2.0)
            elif ready and not good:
                missed += 1
        release = plan[_RESIDUAL] == 0 and plan[_CUT] >= 0 and year >= plan[_CUT]
        if plan[_RESIDUAL] > 0 and is_cut and year - cut >= plan[_COUNT]:
            stems, tallest = _counted_ac(oak, plot_ac, gate[1], gate[3])
            late = year - cut >= plan[_WAIT] or tallest > gate[2]
            release = stems >= gate[0] or (late and plan[_ANYWAY] > 0)
        if release:
            found[2] = _counted_ac(oak, plot_ac, gate[1], 1.1)[0]
            _log(oak, root, p[_LO])
            shaded = p[_SS] if is_cut else 1.0
            kept = plan[_KEPT] / whole_ba if whole_ba > 0 else 0.0
            found[0] = year
            found[1] = _dominant_ac(oak, root, tolerant, poplar, plot_ac, site, sprouts * shaded * (1 - kept), p) * (1 - 0.5 * kept)
            break
        _grow(oak, root, young, tolerant, poplar, effect, light, p)
        mean = germinants_ac(crop, p[_IN], p[_BU]) * plot_ac
        for plot in range(oak.shape[0]):
            young[plot, 0] = np.random.poisson(mean)
    found[3], found[4], found[5], found[6], found[7] = missed, injected, burns, cut, planted
    return found


@numba.njit(parallel=True, cache=True)
def many_futures(oak, tolerant, poplar, drawn, plans, parameters, stand, gate, crop_u, burn_u, seeds):  # type: ignore[no-untyped-def]
    """Every future of every course; the same whatever the number of threads.

    Parameters
    ----------
    oak : array, shape (plots, SLOTS)
        Heights counted [ft].
    tolerant, poplar : array, shape (plots,)
        Rivals counted [ft].
    drawn : array of int, shape (futures, plots)
        Which counted plots each future starts from, drawn with replacement.
    plans : array, shape (courses, len(PLAN))
        Courses.
    parameters : array, shape (futures, len(PARAMETERS))
        Parameters.
    stand : array, shape (7,)
        As :func:`one_future` takes it.
    gate : array
        As :func:`one_future` takes it.
    crop_u, burn_u : array, shape (futures, years)
        Chances, common to all courses.
    seeds : array of int, shape (futures,)
        Seeds, common to all courses.

    Returns
    -------
    array, shape (courses, futures, len(RESULTS))
        Results.
    """
    courses, futures = len(plans), len(drawn)
    found = np.zeros((courses, futures, 8))
    for future in numba.prange(futures):
        which = drawn[future]
        for course in range(courses):
            found[course, future] = one_future(
                oak[which],
                tolerant[which],
                poplar[which],
                plans[course],
                parameters[future],
                stand,
                gate,
                crop_u[future],
                burn_u[future],
                seeds[future],
            )
    return found


@numba.njit(cache=True)
def pool_years(oak, tolerant, poplar, history, p, plot_ac, whole_ba, crop_u, seed):  # type: ignore[no-untyped-def]
    """The pool of one future year by year under work that was done, or under none.

    Parameters
    ----------
    oak : array, shape (plots, SLOTS)
        Heights of the tallest oaks of each plot [ft]; 0 for none.
    tolerant, poplar : array, shape (plots,)
        Height of the tallest tolerant and the tallest pioneer rival [ft].
    history : array, shape (years, 6)
        For each year: basal area [ft2/ac], whether a midstory stands, years since the canopy was last opened, basal area and
        midstory before that, and the work of the year: 0 none, 1 burn, 2 cut.
    p : array
        Parameters, by PARAMETERS.
    plot_ac : float
        Plot size [ac].
    whole_ba : float
        Basal area that bears the mean crop [ft2/ac].
    crop_u : array, shape (years,)
        Chances of a good crop.
    seed : int
        Seed of everything else.

    Returns
    -------
    array, shape (years + 1, 3)
        Oaks an acre of 1, 3 and 4.5 ft and more, at the start and after each year.
    """
    np.random.seed(seed)
    oak, tolerant, poplar = oak.copy(), tolerant.copy(), poplar.copy()
    root, young = oak.copy(), np.zeros((oak.shape[0], YOUNG_YEARS), dtype=np.int64)
    effect = np.exp(np.random.normal(0.0, 0.5, oak.shape[0]))
    found = np.zeros((len(history) + 1, 3))
    for year in range(len(history) + 1):
        for at, height in enumerate((1.0, 3.0, 4.5)):
            found[year, at] = (oak >= height).sum() / (oak.shape[0] * plot_ac)
        if year == len(history):
            break
        ba, midstory, since, ba_before, midstory_before, work = history[year]
        if work == 1:
            _burn(oak, root, young, tolerant, poplar, p)
        elif work == 2:
            _log(oak, root, 0.5 * p[_LO])
        full = floor_light(ba, p[_MM] if midstory > 0 else 1.0)
        before = max(floor_light(ba_before, p[_MM] if midstory_before > 0 else 1.0), 0.6 * full if ba < ba_before else 0.0)
        light = before + (full - before) * 0.5 ** (since / p[_LL])
        _grow(oak, root, young, tolerant, poplar, effect, light, p)
        crop = p[_CM] * (p[_CGT] if crop_u[year] < p[_CG] else p[_CPT]) * (ba / whole_ba) ** 0.4
        mean = germinants_ac(crop, p[_IN], p[_BU]) * plot_ac
        for plot in range(oak.shape[0]):
            young[plot, 0] = np.random.poisson(mean)
    return found


@numba.njit(parallel=True, cache=True)
def many_pools(oak, tolerant, poplar, drawn, history, parameters, plot_ac, whole_ba, crop_u, seeds):  # type: ignore[no-untyped-def]
    """The pool of many futures; the same whatever the number of threads.

    Parameters
    ----------
    oak, tolerant, poplar : array
        As :func:`pool_years` takes them.
    drawn : array of int, shape (futures, plots)
        Which counted plots each future starts from.
    history : array, shape (years, 6)
        As :func:`pool_years` takes it.
    parameters : array, shape (futures, len(PARAMETERS))
        Parameters.
    plot_ac, whole_ba : float
        As :func:`pool_years` takes them.
    crop_u : array, shape (futures, years)
        Chances of a good crop.
    seeds : array of int, shape (futures,)
        Seeds.

    Returns
    -------
    array, shape (futures, years + 1, 3)
        Oaks an acre of 1, 3 and 4.5 ft and more.
    """
    found = np.zeros((len(drawn), len(history) + 1, 3))
    for future in numba.prange(len(drawn)):
        which = drawn[future]
        found[future] = pool_years(
            oak[which], tolerant[which], poplar[which], history, parameters[future], plot_ac, whole_ba, crop_u[future], seeds[future]
        )
    return found
