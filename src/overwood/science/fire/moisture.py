"""Moisture of dead fuel and the drought of the soil, from the weather."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables

Array = NDArray[np.float64]
REFERENCE = "science/tables/fuel_moisture_reference.csv"
CORRECTIONS = "science/tables/fuel_moisture_corrections.csv"
FIRST_HOUR, LAST_HOUR = 8, 20
_ASPECTS = ("N", "E", "S", "W")
# Day maxima at or under this dry nothing (root of the drying term).
_DRY_FREE_F = 44.2


def equilibrium_pct(temp_f: ArrayLike, rh_pct: ArrayLike) -> Array:
    """Moisture that fine dead fuel comes to in still air.

    Parameters
    ----------
    temp_f : float or array
        Air temperature [F].
    rh_pct : float or array
        Relative humidity [%].

    Returns
    -------
    float or array
        Moisture [% of dry weight].

    Notes
    -----
    ``simard1968``; the small jump at 50% is in the source.

    Examples
    --------
    >>> round(float(equilibrium_pct(60, 50)), 3)
    9.763
    """
    t, h = np.asarray(temp_f, dtype=float), np.asarray(rh_pct, dtype=float)
    dry = 0.03229 + 0.281073 * h - 0.000578 * h * t
    middle = 2.22749 + 0.160107 * h - 0.01478 * t
    wet = 21.0606 + 0.005565 * h**2 - 0.00035 * h * t - 0.483199 * h
    return np.where(h < 10, dry, np.where(h < 50, middle, wet))


def lagged_pct(equilibrium: ArrayLike, start_pct: float, lag_h: float) -> Array:
    """Moisture of fuel that follows the air with a time lag, hour by hour.

    Parameters
    ----------
    equilibrium : array, shape (hours,)
        Equilibrium moisture of each hour [%].
    start_pct : float
        Moisture before the first hour [%].
    lag_h : float
        Time lag [h]; 63% of a gap is closed in this time.

    Returns
    -------
    array, shape (hours,)
        Moisture at the end of each hour [%].

    Notes
    -----
    M = Me + (M - Me) exp(-1 / lag) (``byram1963``), from memory. Hours without an equilibrium keep the last moisture.

    Examples
    --------
    >>> round(float(lagged_pct(np.full(5, 7.0), 15.0, 10.0)[-1]), 3)
    11.852
    """
    from overwood.science.fire.moisture_hours import lagged

    return np.asarray(lagged(np.asarray(equilibrium, dtype=float), start_pct, float(np.exp(-1 / lag_h))))


@functools.cache
def _reference() -> tuple[Array, Array, Array]:
    """Lower ends of the temperature and humidity classes, and the moisture table."""
    rows = tables.rows(REFERENCE)
    temps, humid = (sorted({float(row[name]) for row in rows}) for name in ("temp_from_f", "rh_from_pct"))
    grid = np.zeros((len(temps), len(humid)))
    for row in rows:
        grid[temps.index(float(row["temp_from_f"])), humid.index(float(row["rh_from_pct"]))] = float(
            row["moisture_pct"]
        )
    return np.array(temps), np.array(humid), grid


@functools.cache
def _corrections() -> NDArray[np.float64]:
    """Correction by month (1 to 12), shaded or not, aspect, steep or not, and two-hour class from 8."""
    corrections = np.zeros((13, 2, 4, 2, 6))
    for row in tables.rows(CORRECTIONS):
        steep = (0, 1) if row["steep"] == "-1" else (int(row["steep"]),)
        for month in row["months"].split():
            for slope in steep:
                place = (
                    int(month),
                    int(row["shading"] == "shaded"),
                    _ASPECTS.index(row["aspect"]),
                    slope,
                    (int(row["hour_from"]) - 8) // 2,
                )
                corrections[place] = float(row["level_pct"])
    return corrections


def table_pct(
    temp_f: ArrayLike,
    rh_pct: ArrayLike,
    month: ArrayLike,
    hour: ArrayLike,
    *,
    shaded: bool,
    slope_pct: float,
    aspect_deg: float,
) -> Array:
    """Fine dead fuel moisture by the published day tables, for a site level with the station.

    Parameters
    ----------
    temp_f, rh_pct : float or array
        Air temperature [F] and relative humidity [%].
    month, hour : int or array
        Month, and hour of the day by local standard time; the tables hold from 8 to 20.
    shaded : bool
        Half or more of the ground shaded.
    slope_pct : float
        Slope [%]; over 30 is steep.
    aspect_deg : float
        Downhill direction [deg].

    Returns
    -------
    float or array
        Moisture [% of dry weight]; NaN outside the hours of the tables or where the weather is not known.

    Notes
    -----
    ``rothermel1983``, after the fine-fuel procedure of its tables A to D; from memory.

    Examples
    --------
    >>> float(table_pct(55, 42, 3, 13, shaded=True, slope_pct=0, aspect_deg=0))
    10.0
    """
    t, h, m, o = np.broadcast_arrays(*(np.asarray(value, dtype=float) for value in (temp_f, rh_pct, month, hour)))
    known = ~(np.isnan(t) | np.isnan(h)) & (o >= FIRST_HOUR) & (o < LAST_HOUR)
    temps, humid, grid = _reference()
    row = np.clip(np.searchsorted(temps, np.where(known, t, 0.0), side="right") - 1, 0, len(temps) - 1)
    column = np.clip(np.searchsorted(humid, np.where(known, np.floor(h), 0.0), side="right") - 1, 0, len(humid) - 1)
    aspect = int(((aspect_deg + 45) % 360) // 90)
    two_hours = np.where(known, (o - FIRST_HOUR) // 2, 0).astype(np.int64)
    correction = _corrections()[
        np.where(known, m, 1).astype(np.int64), int(shaded), aspect, int(slope_pct > 30), two_hours
    ]
    return np.where(known, grid[row, column] + correction, np.nan)


def litter_pct(
    temp_f: ArrayLike, rh_pct: ArrayLike, wind_mi_h: ArrayLike, rain_in: ArrayLike, start_pct: float
) -> Array:
    """Litter moisture with rain, hour by hour.

    Parameters
    ----------
    temp_f, rh_pct, wind_mi_h, rain_in : array, shape (hours,)
        Air temperature [F], relative humidity [%], wind at 10 m [mi/h], rain [in] of each hour.
    start_pct : float
        Moisture before the first hour [%].

    Returns
    -------
    array, shape (hours,)
        Moisture at the end of each hour [%].

    Notes
    -----
    ``vanwagner1977`` with the rain of ``vanwagner1987``, from memory; made for pine needles, it dries slowly in cold
    and reads wet in February. Hours without weather keep the last moisture.

    Examples
    --------
    >>> one = [np.array([v]) for v in (50.0, 40.0, 10 / 1.609344, 0.0)]
    >>> round(float(litter_pct(*one, start_pct=20.0)[0]), 2)
    19.35
    """
    t, h, w, r = (np.asarray(value, dtype=float) for value in (temp_f, rh_pct, wind_mi_h, rain_in))
    from overwood.science.fire.moisture_hours import litter

    return np.asarray(litter((t - 32) / 1.8, h, w * 1.609344, np.nan_to_num(r) * 25.4, start_pct))


def drought_step(previous: float, max_temp_f: float, net_rain_in: float, annual_rain_in: float) -> float:
    """One day of the drought index.

    Parameters
    ----------
    previous : float
        Index of the day before [hundredths of an inch of water lacking], 0 to 800.
    max_temp_f : float
        Highest temperature of the day [F].
    net_rain_in : float
        Rain that reaches the soil [in], after the first 0.20 in of a wet spell.
    annual_rain_in : float
        Mean rain of a year [in].

    Returns
    -------
    float
        Index of the day, 0 to 800.

    Notes
    -----
    ``keetch1968``, rain taken off first, no drying below about 44 F; from memory.

    Examples
    --------
    >>> round(drought_step(100, 70, 0.50, 45), 2)
    56.24
    """
    left = max(0.0, previous - 100 * net_rain_in)
    drying = (
        (800 - left)
        * (0.968 * np.exp(0.0486 * max_temp_f) - 8.30)
        * 0.001
        / (1 + 10.88 * np.exp(-0.0441 * annual_rain_in))
    )
    return float(min(800.0, left + max(0.0, float(drying))))


def drought_index(max_temp_f: ArrayLike, rain_in: ArrayLike, annual_rain_in: float, *, start: float) -> Array:
    """The drought index over many days.

    Parameters
    ----------
    max_temp_f, rain_in : array, shape (days,)
        Highest temperature [F] and rain [in] of each day.
    annual_rain_in : float
        Mean rain of a year [in].
    start : float
        Index before the first day.

    Returns
    -------
    array, shape (days,)
        Index at the end of each day.

    Notes
    -----
    ``keetch1968``: of a spell of wet days the first 0.20 in wet leaves only. Days without a temperature dry nothing.
    """
    temp, rain = np.asarray(max_temp_f, dtype=float), np.nan_to_num(np.asarray(rain_in, dtype=float))
    drought_index, index, spell = np.empty(len(temp)), float(start), 0.0
    for day in range(len(temp)):
        before = max(0.0, spell - 0.20)
        spell = spell + rain[day] if rain[day] > 0 else 0.0
        net = max(0.0, spell - 0.20) - before if rain[day] > 0 else 0.0
        warm = temp[day] if not np.isnan(temp[day]) else _DRY_FREE_F
        index = drought_step(index, warm, net, annual_rain_in)
        drought_index[day] = index
    return drought_index
