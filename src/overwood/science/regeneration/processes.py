"""The processes of a forest floor one by one: light, survival, growth, seed, and who stands at the end.

Compiled, so that plots can call them; heights in feet, light as a share of full sun.
"""

from __future__ import annotations

import math

import numpy as np

from overwood.science.regeneration.compiling import compiled, within


@compiled
def floor_light(ba_ft2_ac, midstory, p):  # type: ignore[no-untyped-def]
    """Light on the floor below a main canopy and what is left of a midstory, the planning curve.

    Parameters
    ----------
    ba_ft2_ac : float
        Basal area of the main canopy [ft2/ac].
    midstory : float
        Part of a whole midstory that stands, 0 to 1.
    p : record
        Parameters: the curve, how far this stand lies above or below it, and what a whole midstory lets through.

    Returns
    -------
    float
        Share of full sun, 0 to 1; full sun without a canopy.

    Notes
    -----
    ``cunningham2011``, the curve of ``light.curve``.

    Examples
    --------
    >>> p = {"curve_b0": -0.2213, "curve_b1": -0.01524, "light_times": 1.0, "midstory_multiplier": 0.64}
    >>> round(floor_light.py_func(70.1, 0.0, p), 3), round(floor_light.py_func(70.1, 1.0, p), 3)
    (0.275, 0.176)
    """
    through = 1.0 - midstory * (1.0 - p["midstory_multiplier"])
    if ba_ft2_ac <= 0:
        return through
    return min(through * p["light_times"] * math.exp(p["curve_b0"] + p["curve_b1"] * ba_ft2_ac), through)


@within
def lit_share(light, dark, lit):  # type: ignore[no-untyped-def]
    """How far light is from dense shade toward enough, 0 to 1.

    Parameters
    ----------
    light, dark, lit : float
        Share of full sun: what there is, up to which shade is dense, and from which more does not matter.

    Returns
    -------
    float
        Share, 0 to 1; straight between, an assumption.

    Examples
    --------
    >>> round(lit_share(0.165, 0.03, 0.3), 3)
    0.5
    """
    return min(max((light - dark) / (lit - dark), 0.0), 1.0)


@within
def carbon_share(light, dark, half):  # type: ignore[no-untyped-def]
    """How much of the good that light can do for survival a floor gives, 0 to 1: steep in deep shade, then flat.

    ``light``, ``dark`` and ``half`` are shares of full sun: what there is, up to which shade is dense, and how much
    more gives half of the good.

    Notes
    -----
    A rectangular hyperbola, as carbon gain and growth follow light (from memory of Pacala and others 1996), and deaths
    follow growth (from memory of Kobe and others 1995).

    Examples
    --------
    >>> [round(carbon_share(light, 0.03, 0.03), 3) for light in (0.02, 0.06, 0.3)]
    [0.0, 0.5, 0.9]
    """
    more = max(light - dark, 0.0)
    return more / (more + half)


@compiled
def yearly_survival(height_ft, light, browse, bears_shade, p):  # type: ignore[no-untyped-def]
    """Chance that an oak lives through a year.

    Parameters
    ----------
    height_ft : float
        Greatest height its root has carried [ft].
    light : float
        Share of full sun, 0 to 1.
    browse : float
        Share of stems that deer browse, 0 to 1; 0 in a fence.
    bears_shade : float
        1 for a species whose established stems bear shade (chestnut oak), else 0.
    p : record
        Parameters: yearly survival of a stem of one foot in dense shade and in all the light it can use, what a foot's
        log (up to the height from which taller ones live no better), the stand, deer and shade-bearing add on the
        logit scale.

    Returns
    -------
    float
        Chance, 0 to 1.

    Notes
    -----
    A logit between the two ends by light (``lorimer1994``, ``brose2011``, ``johnson1984``), with size (deaths fall on
    thin stems: ``spetich2013``, ``spetich2020``) and deer (``brose2011``: unfenced in dense shade 0.61 a year, fenced or lit 0.85). That these add
    on the logit scale is an assumption.

    Examples
    --------
    >>> from overwood.science.regeneration.shapes import PARAMETERS
    >>> p = dict.fromkeys(PARAMETERS, 0.0) | {"survival_dark": 0.8, "survival_lit": 0.96, "light_dark": 0.03, "light_half": 0.04, "survival_size_ft": 1.25, "browse_line_ft": 4.5}
    >>> round(yearly_survival.py_func(1.0, 0.03, 0.0, 0.0, p), 2), round(yearly_survival.py_func(1.0, 0.5, 0.0, 0.0, p), 2)
    (0.8, 0.95)
    """  # noqa: E501
    lit = carbon_share(light, p["light_dark"], p["light_half"])
    dark = math.log(p["survival_dark"] / (1 - p["survival_dark"]))
    logit = dark + lit * (math.log(p["survival_lit"] / (1 - p["survival_lit"])) - dark) + p["survival_stand_logit"]
    logit += p["survival_size_logit"] * math.log(min(max(height_ft, 0.2), p["survival_size_ft"]))
    if height_ft >= 1.0:
        logit += p["chestnut_shade_logit"] * bears_shade * (1 - lit)
    if height_ft < p["browse_line_ft"]:
        logit -= p["browse_survival_logit"] * browse * (1 - lit / 2)
    return 1 / (1 + math.exp(-logit))


@within
def growth_share(light, none, full):  # type: ignore[no-untyped-def]
    """Height growth as a share of that in full sun; under none at light of no gain.

    Parameters
    ----------
    light, none, full : float
        Share of full sun: what there is, that of no growth, and from which growth is whole.

    Returns
    -------
    float
        Share, up to 1; negative in deeper shade, where shoots die back.

    Notes
    -----
    Straight, an assumption; full sun gives twice the growth of a third (the Missouri trial, ``johnson1984``).

    Examples
    --------
    >>> growth_share(0.05, 0.05, 0.65), growth_share(0.65, 0.05, 0.65), growth_share(0.0, 0.05, 0.65)
    (0.0, 1.0, -1.0)
    """
    if light < none:
        return (light - none) / none
    return min((light - none) / (full - none), 1.0)


@within
def open_gain_ft(carried_ft, site_index_ft, p):  # type: ignore[no-untyped-def]
    """Height an oak gains in a year of full sun.

    Parameters
    ----------
    carried_ft : float
        Greatest height its root has carried [ft]: larger roots push longer shoots.
    site_index_ft : float
        Oak site index [ft].
    p : record
        Parameters: gain of a stem of one foot at site index 70 [ft/yr], its power of size, the most there is, its power
        of site.

    Returns
    -------
    float
        Gain [ft/yr].

    Notes
    -----
    One-foot stems by the Missouri clearcut (``johnson1984``), the most by dominant oaks of young clearcuts
    (``hoosier_clearcuts``).
    """
    gain = min(p["growth_open_ft_yr"] * max(carried_ft, 0.2) ** p["growth_size_power"], p["growth_most_ft_yr"])
    return gain * (site_index_ft / 70.0) ** p["growth_site_power"]


@compiled
def oak_gain_ft(height_ft, carried_ft, open_ft, light, browse, p):  # type: ignore[no-untyped-def]
    """Height an oak gains or loses in a year, without its space's and the year's luck.

    Parameters
    ----------
    height_ft, carried_ft : float
        Height, and the greatest its root has carried [ft]; under it the stem is a sprout after a cut or a burn.
    open_ft : float
        Gain in full sun by its root and the site [ft/yr], as :func:`open_gain_ft` gives it.
    light : float
        Share of full sun, 0 to 1.
    browse : float
        Share of stems that deer browse, 0 to 1.
    p : record
        Parameters.

    Returns
    -------
    float
        Gain [ft]; a loss in dense shade.

    Notes
    -----
    Deer by ``long2012``; sprouts and dieback are assumptions.
    """
    share = growth_share(light, p["light_no_gain"], p["light_full"])
    if share < 0:
        return share * p["dieback_share"] * height_ft
    gain = open_ft * share
    if height_ft < 0.999 * carried_ft:
        gain *= p["growth_sprout_times"]
    return gain * (1 - (1 - p["browse_growth"]) * browse) if height_ft < p["browse_line_ft"] else gain


@compiled
def tolerant_gain_ft(light, site_index_ft, p):  # type: ignore[no-untyped-def]
    """Height the tallest tolerant rival gains in a year.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    site_index_ft : float
        Oak site index [ft].
    p : record
        Parameters: growth in shade and in full sun at site index 70 [ft/yr], the light from which it gains, its power
        of site.

    Returns
    -------
    float
        Gain [ft]; straight between shade and full sun, an assumption.

    Notes
    -----
    Full sun by the tallest rivals of 13 Pennsylvania stands (``gould_competitors``).
    """
    start = p["tolerant_light"]
    more = max(light - start, 0.0) / (1 - start)
    gain = p["tolerant_shade_ft_yr"] + (p["tolerant_full_ft_yr"] - p["tolerant_shade_ft_yr"]) * more
    return gain * (site_index_ft / 70.0) ** p["rival_site_power"]


@compiled
def pioneer_gain_ft(light, site_index_ft, p):  # type: ignore[no-untyped-def]
    """Height the tallest pioneer rival gains in a year.

    Parameters
    ----------
    light : float
        Share of full sun, 0 to 1.
    site_index_ft : float
        Oak site index [ft].
    p : record
        Parameters: growth in full sun at site index 70 [ft/yr], the light below which it gains nothing, its power of
        site.

    Returns
    -------
    float
        Gain [ft]; straight between, an assumption.
    """
    start = p["pioneer_light"]
    return p["pioneer_ft_yr"] * max(light - start, 0.0) / (1 - start) * (site_index_ft / 70.0) ** p["rival_site_power"]


@within
def shaded_by_rival(height_ft, rival_ft):  # type: ignore[no-untyped-def]
    """How far a rival stands over an oak: 0 where it is no taller, 1 from twice the height.

    Parameters
    ----------
    height_ft, rival_ft : float
        Heights [ft].

    Returns
    -------
    float
        Share, 0 to 1; straight between, an assumption.

    Examples
    --------
    >>> shaded_by_rival(2.0, 1.0), shaded_by_rival(2.0, 3.0), shaded_by_rival(2.0, 9.0)
    (0.0, 0.5, 1.0)
    """
    return min(max(rival_ft / height_ft - 1.0, 0.0), 1.0)


@compiled
def collar_in(height_ft, stout, p):  # type: ignore[no-untyped-def]
    """Diameter at the root collar.

    Parameters
    ----------
    height_ft : float
        Greatest height the root has carried [ft].
    stout : float
        The collar measured against that expected of the height; 1 where it was not measured.
    p : record
        Parameters: collar of a stem of one foot [in], and its power of height.

    Returns
    -------
    float
        Collar [in].

    Notes
    -----
    A power through the two points of ``long2012`` (0.36 in. at 1.05 ft, 0.26 in. at 0.56 ft); beyond a foot an
    assumption.

    Examples
    --------
    >>> p = {"collar_in_at_1ft": 0.35, "collar_power": 0.51}
    >>> [round(collar_in.py_func(height, 1.0, p), 2) for height in (0.56, 1.05, 4.5)]
    [0.26, 0.36, 0.75]
    """
    return stout * p["collar_in_at_1ft"] * max(height_ft, 0.05) ** p["collar_power"]


def crop_years(years: int, good_share: float, seed: int) -> list[int]:
    """Years of a run in which the crop is good.

    Parameters
    ----------
    years : int
        Length of the run.
    good_share : float
        Chance of a good crop in a year, 0 to 1.
    seed : int
        Seed.

    Returns
    -------
    list of int
        Years, the first being 1.

    Notes
    -----
    Years are independent; one good crop in three to four (``johnson1994``).

    Examples
    --------
    >>> len(crop_years(1000, 0.3, 1)) in range(250, 350)
    True
    """
    return [int(year) + 1 for year in np.flatnonzero(np.random.default_rng(seed).random(years) < good_share)]


@within
def crop_chance(chance, after_good, was_good):  # type: ignore[no-untyped-def]
    """Chance of a good crop in a year of which nothing was seen: less after a good one.

    Parameters
    ----------
    chance : float
        Share of good years in the long run, 0 to 1.
    after_good : float
        Chance after a good crop as a part of that after another, 0 to 1.
    was_good : bool
        Whether the crop before was good: the year before for white oaks, two years before for red oaks, whose acorns
        take two.

    Returns
    -------
    float
        Chance, 0 to 1.

    Notes
    -----
    The chance after a poor crop is set so that the share of good years in the long run is the published one
    (``johnson1994``); that a good crop empties the trees is common knowledge, its size an assumption.

    Examples
    --------
    >>> round(crop_chance(0.3, 1.0, True), 3), round(crop_chance(0.3, 0.5, True), 3)
    (0.3, 0.176)
    """
    return chance / (1 - chance + after_good * chance) * (after_good if was_good else 1.0)


@within
def crop_chance_seen(chance, bearing, looked, p):  # type: ignore[no-untyped-def]
    """Chance of a good crop once so many trees were looked at (Bayes' rule, each tree by itself).

    Parameters
    ----------
    chance : float
        Chance before anybody looked, 0 to 1.
    bearing, looked : float
        Trees seen bearing, and trees looked at; 0 of 0 changes nothing.
    p : record
        Parameters: shares of trees that are seen bearing in a good and in another year.

    Returns
    -------
    float
        Chance, 0 to 1.

    Examples
    --------
    >>> p = {"bearing_good": 0.75, "bearing_poor": 0.25}
    >>> [round(crop_chance_seen.py_func(0.3, bearing, 10.0, p), 3) for bearing in (3.0, 5.0, 7.0)]
    [0.005, 0.3, 0.972]
    """
    if looked <= 0:
        return chance
    good, other = p["bearing_good"], p["bearing_poor"]
    log_odds = bearing * math.log(good / other) + (looked - bearing) * math.log((1 - good) / (1 - other))
    return chance / (chance + (1 - chance) * math.exp(-log_odds))


@within
def germinants_ac(acorns_ac, insect_share, buried_share, overwinter_buried, overwinter_unburied):  # type: ignore[no-untyped-def]
    """Germinants of a crop.

    Parameters
    ----------
    acorns_ac : float
        Acorns that fall [1/ac].
    insect_share, buried_share : float
        Shares spoiled by insects, and of the sound ones buried, 0 to 1.
    overwinter_buried, overwinter_unburied : float
        Shares of buried and of unburied sound acorns alive in spring, 0 to 1.

    Returns
    -------
    float
        Germinants [1/ac].

    Notes
    -----
    Source: ``brose2011``.

    Examples
    --------
    >>> round(germinants_ac(210000.0, 0.05, 0.0, 0.8, 0.2))
    39900
    """
    return (
        acorns_ac * (1 - insect_share) * (overwinter_buried * buried_share + overwinter_unburied * (1 - buried_share))
    )


@compiled
def success_chance(collar, rival_times, weeded, site_index_ft, p):  # type: ignore[no-untyped-def]
    """Chance that an advance oak which outlived the felling is dominant or codominant at 20.

    Parameters
    ----------
    collar : float
        Diameter at the root collar [in].
    rival_times : float
        Height of the tallest rival over the oak's some years after the overwood went, both grown in the open.
    weeded : float
        1 where rivals are weeded or the oak is a released crop tree, else 0.
    site_index_ft : float
        Oak site index [ft].
    p : record
        Parameters: coefficients of the stand-in model of ``reproduction.advance_success``, and what a rival twice as
        tall and weeding do.

    Returns
    -------
    float
        Chance, 0 to 1.

    Notes
    -----
    The stand-in is set so that a stem of 4.5 ft at site index 65 with rivals of its own height wins 0.51 with felling
    losses in it (``sander1976``), and that its ends meet the contrast of ``spetich2002``.
    """
    logit = (
        p["dominance_b0"]
        + p["dominance_ln_diameter"] * math.log(max(collar, 0.02))
        + p["dominance_site_10ft"] * (site_index_ft - 65) / 10
    )
    logit += p["dominance_weeded"] * weeded - p["dominance_rival"] * math.log(
        min(max(rival_times, 0.5), 4.0)
    ) / math.log(2.0)
    return 1 / (1 + math.exp(-logit))
