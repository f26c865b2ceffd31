"""One stand's floor year by year under a course of treatment: seed, light, growth, death, fire, cut, and who stands at the end.

Pure functions of numbers and a seed; nothing here decides what is wise. Heights in feet, light as a share of full sun.
"""

from __future__ import annotations

import math

import numba
import numpy as np
from numpy.typing import NDArray

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
_P = {name: place for place, name in enumerate(PARAMETERS)}
(
    _S8D, _S8L, _ED, _EL, _GS, _GE, _GSP, _GT, _GP, _CM, _CG, _CGT, _CPT, _IN, _BU, _LL, _MM, _LO, _BR, _B0, _BD, _BS, _BO, _SD, _SS, _FS, _FL, _FR, _FC,
) = range(len(PARAMETERS))  # fmt: skip
_CUT, _INJECT, _BURNS, _CROP, _RESIDUAL, _COUNT, _WAIT, _ANYWAY, _PLANTED, _PREP, _KEPT = range(len(PLAN))
# Years between a preparatory and a seed cut at the least.
_PREP_YEARS = 3
# What the simulated forester's gate needs: stems an acre wanted, the height they must have, and the height that is too tall.
GATE = ("needed_ac", "needed_ft", "too_tall_ft", "sampled_share")
RESULTS = ("release_year", "dominant_oaks_ac", "oaks_at_release_ac", "crops_missed", "inject_year", "burns", "cut_year", "planted")
_PLOTS_PER_AC = 735.0
_DARK, _LIT = 0.05, 0.20
_NO_GAIN, _SEEDLING_FULL, _ESTABLISHED_FULL, _SPROUT_FULL = 0.03, 0.20, 0.30, 0.60


@numba.njit(cache=True)
def floor_light(ba_ft2_ac, midstory_multiplier):  # type: ignore[no-untyped-def]
    """Light below a main canopy, the planning curve.

    Parameters
    ----------
    ba_ft2_ac : float
        Basal area of the main canopy [ft2/ac].
    midstory_multiplier : float
        1 with the midstory gone, less where it stands.

    Returns
    -------
    float
        Share of full sun, 0 to 1; full sun without a canopy.

    Notes
    -----
    ``cunningham2011``, the curve of ``light.curve``.

    Examples
    --------
    >>> round(floor_light(70.1, 1.0), 3)
    0.275
    """
    if ba_ft2_ac <= 0:
        return 1.0
    return midstory_multiplier * math.exp(-0.2213 - 0.01524 * ba_ft2_ac)


@numba.njit(cache=True)
def yearly_survival(light, dark, lit):  # type: ignore[no-untyped-def]
    """Chance that a stem lives through a year.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    dark, lit : float
        Yearly survival in dense shade (5 % and less) and in part sun (20 % and more).

    Returns
    -------
    float
        Chance, 0 to 1.

    Notes
    -----
    Straight between the two (an assumption); ends from eight-year survival of ``brose2011`` as the eighth root.

    Examples
    --------
    >>> round(yearly_survival(0.2, 0.02 ** (1 / 8), 0.26 ** (1 / 8)) ** 8, 2)
    0.26
    """
    share = min(max((light - _DARK) / (_LIT - _DARK), 0.0), 1.0)
    return dark + (lit - dark) * share


@numba.njit(cache=True)
def growth_share(light, full):  # type: ignore[no-untyped-def]
    """Height growth as a share of that in enough light.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    full : float
        Light from which growth is whole.

    Returns
    -------
    float
        Share, 0 to 1.

    Notes
    -----
    None at 3 % (compensation 2 to 5 %), whole at the light wanted; straight between, an assumption.

    Examples
    --------
    >>> growth_share(0.03, 0.3), growth_share(0.3, 0.3)
    (0.0, 1.0)
    """
    return min(max((light - _NO_GAIN) / (full - _NO_GAIN), 0.0), 1.0)


@numba.njit(cache=True)
def germinants_ac(acorns_ac, insect_share, buried_share):  # type: ignore[no-untyped-def]
    """Germinants of a crop.

    Parameters
    ----------
    acorns_ac : float
        Acorns that fall [1/ac].
    insect_share, buried_share : float
        Shares spoiled by insects, and of the sound ones buried, 0 to 1.

    Returns
    -------
    float
        Germinants [1/ac].

    Notes
    -----
    Of the sound ones 80 % live when buried and 20 % when not (``brose2011``).

    Examples
    --------
    >>> round(germinants_ac(210000.0, 0.05, 0.0))
    39900
    """
    return acorns_ac * (1 - insect_share) * (0.8 * buried_share + 0.2 * (1 - buried_share))


@numba.njit(cache=True)
def success_chance(height_ft, overtopped, site_index_ft, b0, b_ln_diameter, b_site_10ft, k_overtopped):  # type: ignore[no-untyped-def]
    """Chance that an advance oak is dominant or codominant at 20.

    Parameters
    ----------
    height_ft : float
        Height its root has carried [ft]; 4.5 ft is taken as 0.6 in. at the ground.
    overtopped : bool
        Whether a rival stands more than a quarter taller.
    site_index_ft : float
        Oak site index [ft].
    b0, b_ln_diameter, b_site_10ft, k_overtopped : float
        Coefficients of the stand-in model of ``reproduction.advance_success``.

    Returns
    -------
    float
        Chance, 0 to 1.

    Examples
    --------
    >>> round(success_chance(4.5, False, 65.0, 1.18, 2.24, -0.8, -1.0), 2)
    0.51
    """
    diameter = max(0.6 * height_ft / 4.5, 0.02)
    logit = b0 + b_ln_diameter * math.log(diameter) + b_site_10ft * (site_index_ft - 65) / 10
    if overtopped:
        logit += k_overtopped
    return 1 / (1 + math.exp(-logit))


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
            if height < root[plot, slot]:
                gain = p[_GSP] * growth_share(light, _SPROUT_FULL)
            elif height >= 1.0:
                gain = p[_GE] * growth_share(light, _ESTABLISHED_FULL)
            else:
                gain = p[_GS] * growth_share(light, _SEEDLING_FULL)
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
            tolerant[plot] += (p[_GT] + (2.0 - p[_GT]) * max(light - 0.1, 0.0)) * year
        elif np.random.random() < 0.1:
            tolerant[plot] = 0.5
        if poplar[plot] > 0:
            poplar[plot] = (
                poplar[plot] + p[_GP] * max(light - 0.2, 0.0) / 0.8 * year
                if np.random.random() < 0.7 + 0.3 * min(light / 0.3, 1.0)
                else 0.0
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
    stand : array, shape (5,)
        Plot size [ac], basal area of the main canopy [ft2/ac], whether a midstory stands, oak stumps that would sprout [1/ac], site index [ft].
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
    """
    np.random.seed(seed)
    oak, tolerant, poplar = oak.copy(), tolerant.copy(), poplar.copy()
    root, young = oak.copy(), np.zeros((oak.shape[0], YOUNG_YEARS), dtype=np.int64)
    effect = np.exp(np.random.normal(0.0, 0.5, oak.shape[0]))
    plot_ac, ba, shade, sprouts, site = stand[0], stand[1], (p[_MM] if stand[2] > 0 else 1.0), stand[3], stand[4]
    whole_ba, before = ba, floor_light(ba, p[_MM] if stand[2] > 0 else 1.0)
    opened, missed, burns, cut, injected, planted, prepared = 0, 0, 0, -1, -1, 0, -1
    found = np.array([-1.0, 0.0, 0.0, 0.0, -1.0, 0.0, -1.0, 0.0])
    for year in range(len(crop_u)):
        open_light = floor_light(ba, shade)
        light = before + (open_light - before) * 0.5 ** ((year - opened) / p[_LL])
        good = crop_u[year] < p[_CG]
        crop = p[_CM] * (p[_CGT] if good else p[_CPT]) * (ba / whole_ba) ** 0.4
        # What the course does this year.
        if plan[_INJECT] > 0 and injected < 0:
            injected, shade, opened = year, 1.0, year
        elif plan[_BURNS] > burns and cut < 0 and not good and burn_u[year] < p[_FC] and (injected >= 0 or plan[_INJECT] == 0):
            _burn(oak, root, young, tolerant, poplar, p)
            burns += 1
        ready = burns >= plan[_BURNS] and (injected >= 0 or plan[_INJECT] == 0)
        if plan[_PREP] > 0 and ready and prepared < 0:
            before, ba, prepared, opened = (
                max(floor_light(ba, shade), 0.6 * floor_light(min(ba, plan[_PREP]), shade)),
                min(ba, plan[_PREP]),
                year,
                year,
            )
        ready = ready and (plan[_PREP] == 0 or (prepared >= 0 and year - prepared >= _PREP_YEARS))
        if plan[_RESIDUAL] > 0 and cut < 0 and (year > 0 or plan[_INJECT] == 0):
            waited = year >= plan[_CROP]
            if (ready and (good or plan[_CROP] == 0)) or waited:
                before, ba, cut, opened = floor_light(ba, shade), min(ba, plan[_RESIDUAL]), year, year
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
        if plan[_RESIDUAL] > 0 and cut >= 0 and year - cut >= plan[_COUNT]:
            stems, tallest = _counted_ac(oak, plot_ac, gate[1], gate[3])
            late = year - cut >= plan[_WAIT] or tallest > gate[2]
            release = stems >= gate[0] or (late and plan[_ANYWAY] > 0)
        if release:
            found[2] = _counted_ac(oak, plot_ac, gate[1], 1.1)[0]
            _log(oak, root, p[_LO])
            shaded = p[_SS] if cut >= 0 else 1.0
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
    stand : array, shape (5,)
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
