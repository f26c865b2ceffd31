"""Where light comes from: overcast skies as equal-weight directions, and the height of the sun."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
SKIES = ("uniform", "overcast")
_GOLDEN = 0.6180339887498949


@dataclass(frozen=True)
class Directions:
    """Unit vectors towards the sky, x east and y north, and the share of the light each stands for."""

    x: Array
    y: Array
    z: Array
    weight: Array


def share_below(elevation_deg: ArrayLike, sky: str) -> Array:
    """Share of the diffuse light on level ground that comes from below an elevation.

    Parameters
    ----------
    elevation_deg : float or array
        Elevation above the horizon [deg].
    sky : str
        uniform (radiance alike everywhere) or overcast (zenith three times the horizon).

    Returns
    -------
    float or array
        Share, 0 to 1.

    Notes
    -----
    sin^2, and (3 sin^2 + 4 sin^3) / 7 for the standard overcast sky (``moon1942``).

    Examples
    --------
    >>> round(float(share_below(30, "overcast")), 4)
    0.1786
    """
    sine = np.sin(np.radians(np.asarray(elevation_deg, dtype=float)))
    return sine**2 if sky == "uniform" else (3 * sine**2 + 4 * sine**3) / 7


def sky_directions(count: int, sky: str) -> Directions:
    """Directions of equal weight over an overcast sky.

    Parameters
    ----------
    count : int
        How many.
    sky : str
        uniform or overcast.

    Returns
    -------
    Directions
        Weights add up to one.

    Notes
    -----
    Equal shares of the light on level ground (``moon1942``), azimuths by the golden angle.

    Examples
    --------
    >>> float(sky_directions(100, "uniform").weight.sum().round(12))
    1.0
    """
    share = (np.arange(count) + 0.5) / count
    sine = np.sqrt(share) if sky == "uniform" else _overcast_sine(share)
    azimuth = 2 * np.pi * np.mod(_GOLDEN * np.arange(count), 1.0)
    level = np.sqrt(1 - sine**2)
    return Directions(level * np.sin(azimuth), level * np.cos(azimuth), sine, np.full(count, 1 / count))


def _overcast_sine(share: Array) -> Array:
    """Solve (3 s^2 + 4 s^3) / 7 = share by bisection."""
    low, high = np.zeros_like(share), np.ones_like(share)
    for _ in range(60):
        middle = (low + high) / 2
        below = (3 * middle**2 + 4 * middle**3) / 7 < share
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return (low + high) / 2


def sun_elevation_deg(latitude_deg: float, days_since_2000: float, solar_hour: ArrayLike) -> Array:
    """Height of the sun above the horizon, without refraction.

    Parameters
    ----------
    latitude_deg : float
        Latitude [deg], north above zero.
    days_since_2000 : float
        Days since noon of 1 January 2000 [d].
    solar_hour : float or array
        True solar time [h]; 12 is when the sun stands highest.

    Returns
    -------
    float or array
        Elevation [deg].

    Notes
    -----
    Low-precision solar coordinates (``almanac``), good to a few hundredths of a degree for decades about 2000.

    Examples
    --------
    >>> round(float(sun_elevation_deg(38, 8571.2, 12)), 1)
    75.4
    """
    anomaly = np.radians(357.528 + 0.9856003 * days_since_2000)
    longitude = np.radians(280.460 + 0.9856474 * days_since_2000 + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    tilt = np.radians(23.439 - 0.0000004 * days_since_2000)
    declination = np.arcsin(np.sin(tilt) * np.sin(longitude))
    hour = np.radians(15 * (np.asarray(solar_hour, dtype=float) - 12))
    latitude = np.radians(latitude_deg)
    sine = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour)
    return np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
