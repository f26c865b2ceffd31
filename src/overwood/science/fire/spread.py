"""Surface fire spread, flame and intensity by the published equation set, for the published fuel models."""

from __future__ import annotations

import difflib
import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables

Array = NDArray[np.float64]
TABLE = "science/tables/fuel_models.csv"
TECHNIQUES = ("backing", "flanking", "head")
LB_FT2_PER_T_AC = 2000 / 43_560
FT_PER_MIN_PER_MI_H = 88.0
KW_M_PER_BTU_FT_S = 3.4615
_PARTICLE_LB_FT3 = 32.0
_SAV_10H, _SAV_100H = 109.0, 30.0
_MINERAL, _MINERAL_EFFECTIVE = 0.0555, 0.010
# Ends of the size classes over which net load is shared, surface to volume [1/ft].
_SIZE_ENDS = (16, 48, 96, 192, 1200)


@dataclass(frozen=True)
class FuelModel:
    """One published fuel bed: loads [t/ac], surface to volume [1/ft], depth [ft], moisture of extinction [%], heat
    [Btu/lb]."""

    code: str
    description: str
    dynamic: bool
    loads: tuple[float, float, float, float, float]
    sav: tuple[float, float, float, float, float]
    depth_ft: float
    extinction_pct: float
    heat_btu_lb: float


@dataclass(frozen=True)
class SurfaceFire:
    """Fire at one or many hours; arrays of one shape."""

    spread_ch_h: Array
    flame_ft: Array
    intensity_btu_ft_s: Array
    heat_btu_ft2: Array
    residence_min: float
    no_wind_ch_h: Array
    effective_wind_mi_h: Array

    def by(self, technique: str) -> SurfaceFire:
        """The same fire run against the wind, across it, or with it."""
        share = spread_share(self.effective_wind_mi_h, technique)
        return self._slowed(self.spread_ch_h * share)

    def _slowed(self, spread_ch_h: Array) -> SurfaceFire:
        intensity = self.heat_btu_ft2 * _ft_per_min(spread_ch_h) / 60
        return SurfaceFire(
            spread_ch_h, flame_length_ft(intensity), intensity, self.heat_btu_ft2, self.residence_min,
            self.no_wind_ch_h,
            self.effective_wind_mi_h,
        )  # fmt: skip


def _ft_per_min(spread_ch_h: Array) -> Array:
    return spread_ch_h * 66 / 60


@functools.cache
def fuel_models() -> dict[str, FuelModel]:
    """The published fuel models by code.

    Returns
    -------
    dict of str to FuelModel
        13 of ``anderson1982`` (FM1 to FM13) and 40 of ``scott2005``.
    """
    models = {}
    for row in tables.rows(TABLE):
        one, ten, hundred, herb, woody = (
            float(row[f"load_{part}_t_ac"]) for part in ("1h", "10h", "100h", "live_herb", "live_woody")
        )
        sav = (
            float(row["sav_1h_per_ft"]),
            _SAV_10H,
            _SAV_100H,
            float(row["sav_herb_per_ft"]),
            float(row["sav_woody_per_ft"]),
        )
        models[row["code"]] = FuelModel(
            row["code"], row["description"], row["kind"] == "dynamic", (one, ten, hundred, herb, woody), sav,
            float(row["depth_ft"]), float(row["mx_dead_pct"]), float(row["heat_btu_lb"]),
        )  # fmt: skip
    return models


def fuel_model(code: str) -> FuelModel:
    """One fuel model.

    Parameters
    ----------
    code : str
        Such as FM9 or TL6; a bare number from 1 to 13 is one of the 13 of ``anderson1982``, which were numbered so.

    Returns
    -------
    FuelModel
        The model.

    Raises
    ------
    KeyError
        naming the nearest code.
    """
    written = code.strip().upper()
    model = fuel_models().get(f"FM{int(written)}" if written.isdecimal() else written)
    if model is None:
        # A number that is no model has no near one: TU4 is not like 14.
        near = [] if written.isdecimal() else difflib.get_close_matches(written, fuel_models(), n=1, cutoff=0.3)
        hint = f"; the nearest is {near[0]}" if near else ""
        raise KeyError(f"there is no fuel model {code!r}{hint}")
    return model


@dataclass(frozen=True)
class _Bed:
    """A fuel bed as categories of particles: load [lb/ft2] and surface to volume [1/ft], dead then live."""

    dead_load: Array
    dead_sav: Array
    live_load: Array
    live_sav: Array
    depth_ft: float


def herb_cured_share(herb_moisture_pct: float) -> float:
    """Share of a live herb load that counts as dead.

    Parameters
    ----------
    herb_moisture_pct : float
        Moisture of the herbs [% of dry weight].

    Returns
    -------
    float
        Share, 0 to 1.

    Notes
    -----
    1.33 - 1.11 M between 30 and 120% (``scott2005``, ``andrews2018``), from memory.

    Examples
    --------
    >>> round(herb_cured_share(75), 4)
    0.4975
    """
    return float(np.clip(1.33 - 1.11 * herb_moisture_pct / 100, 0.0, 1.0))


def _bed(model: FuelModel, herb_pct: float) -> _Bed:
    loads, sav = np.array(model.loads) * LB_FT2_PER_T_AC, np.array(model.sav)
    cured = herb_cured_share(herb_pct) if model.dynamic else 0.0
    dead_load = np.append(loads[:3], cured * loads[3])
    live_load = np.array([(1 - cured) * loads[3], loads[4]])
    return _Bed(dead_load, np.append(sav[:3], sav[3]), live_load, sav[3:], model.depth_ft)


def _shares(load: Array, sav: Array) -> tuple[Array, float]:
    """Surface area of each class as a share of its category, and the category's whole."""
    area = sav * load / _PARTICLE_LB_FT3
    whole = float(area.sum())
    return (area / whole if whole > 0 else np.zeros_like(area)), whole


def _net_load(load: Array, sav: Array, share: Array) -> float:
    """Net load of a category, each class counted by the surface of all classes of its size (``albini1976``)."""
    size = np.searchsorted(_SIZE_ENDS, sav, side="right")
    weight = np.array([share[size == kind].sum() if kind > 0 else 0.0 for kind in size])
    return float((weight * load * (1 - _MINERAL)).sum())


def _damping(moisture: Array, extinction: ArrayLike) -> Array:
    ratio = np.minimum(1.0, moisture / np.asarray(extinction, dtype=float))
    return np.asarray(1 - 2.59 * ratio + 5.11 * ratio**2 - 3.52 * ratio**3)


def _live_extinction(bed: _Bed, dead_moisture: list[Array], dead_extinction: float) -> Array:
    fine = bed.dead_load * _burns(bed.dead_sav, 138)
    live = float((bed.live_load * _burns(bed.live_sav, 500)).sum())
    wet = (
        sum((part * m for part, m in zip(fine, dead_moisture, strict=True)), np.zeros_like(dead_moisture[0]))
        / fine.sum()
    )
    return np.maximum(dead_extinction, 2.9 * fine.sum() / live * (1 - wet / dead_extinction) - 0.226)


def _burns(sav: Array, by: float) -> Array:
    """exp(-by / sav); 0 for a class that is not there."""
    safe = np.where(sav > 0, sav, 1.0)
    return np.where(sav > 0, np.exp(-by / safe), 0.0)


def surface_fire(
    code: str,
    *,
    moisture_1h_pct: ArrayLike,
    moisture_10h_pct: ArrayLike,
    moisture_100h_pct: ArrayLike,
    live_herb_pct: float,
    live_woody_pct: float,
    midflame_mi_h: ArrayLike,
    slope_pct: float,
    wind_from_upslope_deg: ArrayLike = 0.0,
) -> SurfaceFire:
    """A steady head fire in one fuel model.

    Parameters
    ----------
    code : str
        Fuel model.
    moisture_1h_pct, moisture_10h_pct, moisture_100h_pct : float or array
        Moisture of dead fuel by size [% of dry weight].
    live_herb_pct, live_woody_pct : float
        Moisture of live fuel [% of dry weight].
    midflame_mi_h : float or array
        Wind at the middle of the flame [mi/h].
    slope_pct : float
        Slope [%].
    wind_from_upslope_deg : float or array
        Angle between where the wind blows to and straight upslope [deg]; 0 when it blows upslope.

    Returns
    -------
    SurfaceFire
        Spread [ch/h], flame length [ft], intensity [Btu/ft/s], heat [Btu/ft2], residence time of the flame [min].

    Raises
    ------
    KeyError
        when there is no such fuel model.

    Notes
    -----
    ``rothermel1972`` with the net loads and exponent of ``albini1976``, set out in ``andrews2018``; no wind limit
    (``andrews2013``); flame length of ``byram1959``; residence 384 / sigma of ``anderson1969``. All from memory, held
    in place by published spread values. Steady fire in even fuel: no spotting, no slash at stems, no strips that meet.

    Examples
    --------
    >>> found = surface_fire("FM9", moisture_1h_pct=8, moisture_10h_pct=8, moisture_100h_pct=8, live_herb_pct=100,
    ...                      live_woody_pct=100, midflame_mi_h=5, slope_pct=0)
    >>> round(float(found.spread_ch_h), 2), round(float(found.flame_ft), 2)
    (7.61, 2.67)
    """
    model = fuel_model(code)
    bed = _bed(model, live_herb_pct)
    dead = [np.asarray(m, dtype=float) / 100 for m in (moisture_1h_pct, moisture_10h_pct, moisture_100h_pct)]
    dead = list(np.broadcast_arrays(*dead, dead[0]))
    live = [np.full(dead[0].shape, m / 100) for m in (live_herb_pct, live_woody_pct)]
    share_dead, area_dead = _shares(bed.dead_load, bed.dead_sav)
    share_live, area_live = _shares(bed.live_load, bed.live_sav)
    part_dead, part_live = (area / (area_dead + area_live) for area in (area_dead, area_live))
    sigma = float(part_dead * (share_dead * bed.dead_sav).sum() + part_live * (share_live * bed.live_sav).sum())
    bulk = float((bed.dead_load.sum() + bed.live_load.sum()) / bed.depth_ft)
    packing, best = bulk / _PARTICLE_LB_FT3, 3.348 * sigma**-0.8189
    reaction = _reaction(model, bed, (dead, live), (share_dead, share_live), (sigma, packing / best))
    sink = _heat_sink(bed, (dead, live), (share_dead, share_live), (part_dead, part_live)) * bulk
    flux = np.exp((0.792 + 0.681 * np.sqrt(sigma)) * (packing + 0.1)) / (192 + 0.2595 * sigma)
    still = reaction * flux / sink
    wind, slope = _wind_factor(sigma, packing / best, midflame_mi_h), 5.275 * packing**-0.3 * (slope_pct / 100) ** 2
    push = _pushed(wind, slope, wind_from_upslope_deg)
    spread, residence = still * (1 + push), 384 / sigma
    heat = reaction * residence
    intensity = heat * spread / 60
    return SurfaceFire(
        spread_ch_h=np.asarray(spread * 60 / 66),
        flame_ft=flame_length_ft(intensity),
        intensity_btu_ft_s=np.asarray(intensity),
        heat_btu_ft2=np.asarray(heat),
        residence_min=residence,
        no_wind_ch_h=np.asarray(still * 60 / 66 + 0.0 * push),
        effective_wind_mi_h=_effective_wind(sigma, packing / best, push),
    )


def _reaction(
    model: FuelModel,
    bed: _Bed,
    moisture: tuple[list[Array], list[Array]],
    share: tuple[Array, Array],
    of: tuple[float, float],
) -> Array:
    """Reaction intensity [Btu/ft2/min]."""
    sigma, relative = of
    fastest = sigma**1.5 / (495 + 0.0594 * sigma**1.5)
    exponent = 133 * sigma**-0.7913
    velocity = fastest * relative**exponent * np.exp(exponent * (1 - relative))
    mineral = min(1.0, 0.174 * _MINERAL_EFFECTIVE**-0.19)
    dead, live = moisture
    extinction = model.extinction_pct / 100
    burnt = _net_load(bed.dead_load, bed.dead_sav, share[0]) * _damping(_mean(share[0], dead), extinction)
    if bed.live_load.sum() > 0:
        limit = _live_extinction(bed, dead, extinction)
        burnt = burnt + _net_load(bed.live_load, bed.live_sav, share[1]) * _damping(_mean(share[1], live), limit)
    return np.asarray(velocity * model.heat_btu_lb * mineral * burnt)


def _mean(share: Array, moisture: list[Array]) -> Array:
    return np.asarray(sum((part * m for part, m in zip(share, moisture, strict=True)), np.zeros_like(moisture[0])))


def _heat_sink(
    bed: _Bed, moisture: tuple[list[Array], list[Array]], share: tuple[Array, Array], part: tuple[float, float]
) -> Array:
    """Heat that fuel takes before it burns, by pound of fuel [Btu/lb]."""
    total = np.zeros_like(moisture[0][0])
    for of_category, sav, shares, wet in zip(part, (bed.dead_sav, bed.live_sav), share, moisture, strict=True):
        for fraction, surface, m in zip(shares, _burns(sav, 138), wet, strict=True):
            total = total + of_category * fraction * surface * (250 + 1116 * m)
    return total


def _wind_constants(sigma: float) -> tuple[float, float, float]:
    return 7.47 * float(np.exp(-0.133 * sigma**0.55)), 0.02526 * sigma**0.54, 0.715 * float(np.exp(-0.000359 * sigma))


def _wind_factor(sigma: float, relative: float, midflame_mi_h: ArrayLike) -> Array:
    c, b, e = _wind_constants(sigma)
    speed = np.asarray(midflame_mi_h, dtype=float) * FT_PER_MIN_PER_MI_H
    return np.asarray(c * speed**b * relative**-e)


def _effective_wind(sigma: float, relative: float, push: Array) -> Array:
    """Wind that alone would push the fire as wind and slope do [mi/h]."""
    c, b, e = _wind_constants(sigma)
    return np.asarray((push * relative**e / c) ** (1 / b) / FT_PER_MIN_PER_MI_H)


def _pushed(wind: Array, slope: float, angle_deg: ArrayLike) -> Array:
    """Wind and slope added as arrows (``andrews2018``)."""
    angle = np.radians(np.asarray(angle_deg, dtype=float))
    return np.hypot(slope + wind * np.cos(angle), wind * np.sin(angle))


def flame_length_ft(intensity_btu_ft_s: ArrayLike) -> Array:
    """Flame length from fireline intensity.

    Parameters
    ----------
    intensity_btu_ft_s : float or array
        Fireline intensity [Btu/ft/s].

    Returns
    -------
    float or array
        Flame length [ft].

    Notes
    -----
    0.45 I^0.46 (``byram1959``), from memory.

    Examples
    --------
    >>> round(float(flame_length_ft(47.984)), 2)
    2.67
    """
    return np.asarray(0.45 * np.asarray(intensity_btu_ft_s, dtype=float) ** 0.46)


def spread_share(effective_wind_mi_h: ArrayLike, technique: str) -> Array:
    """Spread of a backing, flanking or head fire as a share of the head's.

    Parameters
    ----------
    effective_wind_mi_h : float or array
        Wind that stands for wind and slope [mi/h].
    technique : str
        One of TECHNIQUES.

    Returns
    -------
    float or array
        Share, 0 to 1.

    Notes
    -----
    An ellipse of length to width 1 + 0.25 U (``andrews2018``), seen from the point of ignition; from memory. Backing
    fires in southern litter were seen to run faster than this (``wade1989``).

    Examples
    --------
    >>> round(float(spread_share(0, "backing")), 3)
    1.0
    """
    ratio = 1 + 0.25 * np.asarray(effective_wind_mi_h, dtype=float)
    eccentric = np.sqrt(ratio**2 - 1) / ratio
    if technique == "head":
        return np.ones_like(ratio)
    return np.asarray((1 - eccentric) / (1 + eccentric) if technique == "backing" else 1 - eccentric)


def wind_factor_open(fuel_depth_ft: float) -> float:
    """Wind at the flame over wind at 20 ft, where no trees shelter.

    Parameters
    ----------
    fuel_depth_ft : float
        Depth of the fuel bed [ft].

    Returns
    -------
    float
        Factor.

    Notes
    -----
    ``albini1979``, ``andrews2012``; from memory.

    Examples
    --------
    >>> round(wind_factor_open(6), 4)
    0.5468
    """
    return float(1.83 / np.log((20 + 0.36 * fuel_depth_ft) / (0.13 * fuel_depth_ft)))


def wind_factor_table(shelter: str) -> float:
    """Wind at the flame over wind at 20 ft by a word for the shelter.

    Parameters
    ----------
    shelter : str
        partial or full.

    Returns
    -------
    float
        Factor.

    Notes
    -----
    ``rothermel1983``: 0.3 half sheltered, 0.1 below a dense stand; from memory.

    Examples
    --------
    >>> wind_factor_table("full")
    0.1
    """
    return {"partial": 0.3, "full": 0.1}[shelter]


def wind_factor_sheltered(canopy_cover_pct: float, canopy_height_ft: float, crown_ratio: float) -> float:
    """Wind at the flame over wind at 20 ft above the canopy, under trees.

    Parameters
    ----------
    canopy_cover_pct : float
        Ground below crowns [%].
    canopy_height_ft : float
        Height of the canopy [ft].
    crown_ratio : float
        Live crown as a share of height, 0 to 1.

    Returns
    -------
    float
        Factor.

    Notes
    -----
    ``albini1979``, ``andrews2012``, for crowns that fill more than 5% of the space; from memory.

    Examples
    --------
    >>> round(wind_factor_sheltered(80, 80, 0.4), 4)
    0.1229
    """
    filled = crown_ratio * canopy_cover_pct / 100 / 3
    return float(
        0.555
        / (np.sqrt(filled * canopy_height_ft) * np.log((20 + 0.36 * canopy_height_ft) / (0.13 * canopy_height_ft)))
    )
