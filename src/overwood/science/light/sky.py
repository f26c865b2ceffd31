"""Where light comes from: overcast skies as equal-weight directions, and the height of the sun."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
# How much brighter the zenith is than the horizon, less one.
SKIES = {"uniform": 0.0, "overcast": 2.0}
_GOLDEN = 0.6180339887498949


@dataclass(frozen=True)
class Directions:
    """Unit vectors towards the sky, x east and y north, and the share of the light each stands for."""

    x: Array
    y: Array
    z: Array
    weight: Array


def brightening(sky: str | float) -> float:
    """How much brighter than the horizon the zenith of a sky is, less one.

    Parameters
    ----------
    sky : str or float
        uniform, overcast, or that number itself.

    Returns
    -------
    float
        b of radiance (1 + b sin e) / (1 + b): 0, 2 (``moon1942``); 3 to 4 were measured (``gendron2006``).
    """
    return SKIES[sky] if isinstance(sky, str) else float(sky)


def share_below(elevation_deg: ArrayLike, sky: str | float) -> Array:
    """Share of the diffuse light on level ground that comes from below an elevation.

    Parameters
    ----------
    elevation_deg : float or array
        Elevation above the horizon [deg].
    sky : str or float
        uniform (radiance alike everywhere), overcast (zenith three times the horizon), or how much brighter the zenith
        is, less one.

    Returns
    -------
    float or array
        Share, 0 to 1.

    Notes
    -----
    (3 sin^2 + 2 b sin^3) / (3 + 2 b); b is 2 for the standard overcast sky (``moon1942``).

    Examples
    --------
    >>> round(float(share_below(30, "overcast")), 4)
    0.1786
    """
    return np.asarray(_below(np.sin(np.radians(np.asarray(elevation_deg, dtype=float))), brightening(sky)))


def _below(sine: Array, b: float) -> Array:
    return np.asarray((3 * sine**2 + 2 * b * sine**3) / (3 + 2 * b))


def sky_directions(count: int, sky: str | float) -> Directions:
    """Directions of equal weight over an overcast sky.

    Parameters
    ----------
    count : int
        How many.
    sky : str or float
        uniform, overcast, or how much brighter the zenith is than the horizon, less one.

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
    b = brightening(sky)
    return _spread(np.sqrt(share) if b == 0 else _solved(share, b))


def view_directions(count: int, zenith_deg: float) -> Directions:
    """Directions that each stand for the same piece of the sky's dome, as an eye or a lens sees it.

    Parameters
    ----------
    count : int
        How many.
    zenith_deg : float
        How far from the zenith the view reaches [deg]; 90 for the whole dome.

    Returns
    -------
    Directions
        Weights add up to one.

    Notes
    -----
    Equal solid angles: the sine of the elevation is spread evenly (``geometry``).

    Examples
    --------
    >>> round(float(view_directions(100, 90).z.mean()), 9)
    0.5
    """
    lowest = np.cos(np.radians(zenith_deg))
    return _spread(lowest + (1 - lowest) * (np.arange(count) + 0.5) / count)


def _spread(sine: Array) -> Directions:
    """Directions at given elevations, turned by the golden angle from one to the next."""
    count = len(sine)
    azimuth = 2 * np.pi * np.mod(_GOLDEN * np.arange(count), 1.0)
    level = np.sqrt(1 - sine**2)
    return Directions(level * np.sin(azimuth), level * np.cos(azimuth), sine, np.full(count, 1 / count))


def _solved(share: Array, b: float) -> Array:
    """Sine of the elevation below which a share of the light comes, by bisection."""
    low, high = np.zeros_like(share), np.ones_like(share)
    for _ in range(60):
        middle = (low + high) / 2
        below = _below(middle, b) < share
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
    hour = np.radians(15 * (np.asarray(solar_hour, dtype=float) - 12))
    latitude, declination = np.radians(latitude_deg), _declination(np.asarray(days_since_2000))
    sine = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour)
    return np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))


def _declination(days_since_2000: Array) -> Array:
    """Declination of the sun [rad]."""
    anomaly = np.radians(357.528 + 0.9856003 * days_since_2000)
    longitude = np.radians(
        280.460 + 0.9856474 * days_since_2000 + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly)
    )
    tilt = np.radians(23.439 - 0.0000004 * days_since_2000)
    return np.asarray(np.arcsin(np.sin(tilt) * np.sin(longitude)))


def sun_directions(
    latitude_deg: float,
    first_day: int,
    last_day: int,
    transmissivity: float,
    *,
    declinations: int,
    hours: int,
    low_deg: float,
) -> Directions:
    """Where the sun's beam comes from over a season, as directions of equal energy on level ground.

    Parameters
    ----------
    latitude_deg : float
        Latitude [deg], north above zero.
    first_day, last_day : int
        First and last day of the season, days since 1 January 2000; both included.
    transmissivity : float
        Share of the beam that passes the clear air overhead, 0 to 1.
    declinations, hours : int
        Into how many classes of declination and of hour of the day the season is cut; empty classes are left out.
    low_deg : float
        Elevation under which the sun stands in classes of its own [deg], so that low light is neither lost nor lifted.

    Returns
    -------
    Directions
        Weights add up to one.

    Notes
    -----
    Sun every ten minutes (``almanac``); energy is transmissivity to the power of the air mass, taken as 1 / sine of the
    elevation, times that sine (``monteith2013``). Within a class the mean direction stands for all; a class that low
    sun would share with higher sun is two.

    Examples
    --------
    >>> ways = sun_directions(38, 8643, 8795, 0.65, declinations=10, hours=20, low_deg=20)
    >>> len(ways.z), round(float(ways.weight.sum()), 9), round(float(ways.weight[ways.z < 0.342].sum()), 3)
    (223, 1.0, 0.068)
    """
    day, hour = np.meshgrid(
        np.arange(first_day, last_day + 1, dtype=float), np.radians(15 * (np.arange(0, 24, 1 / 6) - 12))
    )
    declination, latitude = _declination(day), np.radians(latitude_deg)
    east = -np.cos(declination) * np.sin(hour)
    north = np.sin(declination) * np.cos(latitude) - np.cos(declination) * np.sin(latitude) * np.cos(hour)
    up = np.sin(declination) * np.sin(latitude) + np.cos(declination) * np.cos(latitude) * np.cos(hour)
    energy = np.where(up > 0, transmissivity ** (1 / np.maximum(up, 1e-3)) * up, 0.0)
    kind = _equal_classes(energy, (declination, hour), (declinations, hours))
    kind = 2 * kind + (up.ravel() < np.sin(np.radians(low_deg)))
    return _mean_directions(kind, energy, (east, north, up), 2 * declinations * hours)


def _equal_classes(energy: Array, by: tuple[Array, Array], counts: tuple[int, int]) -> NDArray[np.int64]:
    """Class of each sun position: first by one quantity, then within each class by the other, with equal energy."""
    first = _classes(energy.ravel(), by[0].ravel(), counts[0])
    kind = np.zeros(len(first), dtype=np.int64)
    for group in range(counts[0]):
        inside = np.flatnonzero(first == group)
        kind[inside] = group * counts[1] + _classes(energy.ravel()[inside], by[1].ravel()[inside], counts[1])
    return kind


def _classes(energy: Array, value: Array, count: int) -> NDArray[np.int64]:
    order = np.argsort(value, kind="stable")
    total = np.cumsum(energy[order])
    classes = np.empty(len(value), dtype=np.int64)
    classes[order] = np.minimum(((total - energy[order] / 2) / total[-1] * count).astype(np.int64), count - 1)
    return classes


def _mean_directions(
    kind: NDArray[np.int64], energy: Array, vector: tuple[Array, Array, Array], count: int
) -> Directions:
    share = np.bincount(kind, weights=energy.ravel(), minlength=count)
    x, y, z = (np.bincount(kind, weights=energy.ravel() * part.ravel(), minlength=count) for part in vector)
    filled = share > 0
    share, x, y, z = share[filled], x[filled], y[filled], z[filled]
    length = np.sqrt(x**2 + y**2 + z**2)
    return Directions(x / length, y / length, z / length, share / share.sum())


def season_directions(sky: Directions, sun: Directions, beam_share: float) -> Directions:
    """Sky and sun as one set of directions.

    Parameters
    ----------
    sky, sun : Directions
        The two, each with weights that add up to one.
    beam_share : float
        Share of the season's light that comes as beam, 0 to 1.

    Returns
    -------
    Directions
        Weights add up to one.

    Notes
    -----
    The gap light index adds both in this way (``canham1988``).

    Examples
    --------
    >>> both = season_directions(sky_directions(5, "uniform"), sun_directions(38, 8643, 8795, 0.65, declinations=1, hours=2, low_deg=0), 0.4)
    >>> len(both.z), round(float(both.weight[5:].sum()), 9)
    (7, 0.4)
    """  # noqa: E501
    parts = ((1 - beam_share) * sky.weight, beam_share * sun.weight)
    x, y, z = (np.concatenate((getattr(sky, axis), getattr(sun, axis))) for axis in "xyz")
    return Directions(x, y, z, np.concatenate(parts))


def past_boles(ways: Directions, bole_area_index: float) -> Directions:
    """The same directions, dimmed by boles that stand at random.

    Parameters
    ----------
    ways : Directions
        Where light comes from.
    bole_area_index : float
        Sum of diameter times height to the crown of the boles, by ground area [m2/m2].

    Returns
    -------
    Directions
        Each weight times exp(-index x cotangent of the elevation).

    Notes
    -----
    Mean field of random upright boles (``geometry``); that boles stand at random is an assumption.

    Examples
    --------
    >>> ways = sky_directions(50, "uniform")
    >>> bool((past_boles(ways, 0.1).weight < ways.weight).all())
    True
    """
    cotangent = np.sqrt(1 - ways.z**2) / ways.z
    return Directions(ways.x, ways.y, ways.z, ways.weight * np.exp(-bole_area_index * cotangent))
