"""A fisheye photo looked at as a sky with leaves before it: threshold, openness, light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.science.light.sky import Directions, brightening

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
LENSES = ("equidistant", "equisolid", "orthographic", "stereographic")
_LEVELS = 256


@dataclass(frozen=True)
class Lens:
    """Where the picture of the sky lies: pixel of the zenith, radius of the horizon, projection, bearing of the
    picture's top [deg]."""

    column: float
    row: float
    radius_px: float
    projection: str
    top_bearing_deg: float = 0.0


def otsu_threshold(grey: NDArray[np.uint8]) -> int:
    """Grey level that parts dark from bright best: between-class variance is greatest.

    Parameters
    ----------
    grey : array of uint8
        Grey levels, any shape.

    Returns
    -------
    int
        Levels above this one are sky.

    Notes
    -----
    ``otsu1979``.

    Examples
    --------
    >>> otsu_threshold(np.array([10, 12, 11, 200, 210, 205], dtype=np.uint8)) in range(12, 200)
    True
    """
    count = np.bincount(grey.ravel(), minlength=_LEVELS).astype(float)
    below, levels = np.cumsum(count), np.arange(_LEVELS)
    summed = np.cumsum(count * levels)
    above = below[-1] - below
    with np.errstate(invalid="ignore", divide="ignore"):
        between = below * above * (summed / below - (summed[-1] - summed) / above) ** 2
    between = np.nan_to_num(between)
    # Empty levels between the two classes are alike; their middle is as far from both as can be.
    best = np.flatnonzero(between >= between.max() * (1 - 1e-12))
    return int(best[len(best) // 2])


def zenith_deg(distance_share: Array, projection: str) -> Array:
    """Angle from the zenith of a point of the picture.

    Parameters
    ----------
    distance_share : array
        Distance from the picture of the zenith, as a share of that of the horizon, 0 to 1.
    projection : str
        One of LENSES.

    Returns
    -------
    array
        Angle from the zenith [deg].

    Notes
    -----
    Equidistant: the angle itself; equisolid 2 sin(angle / 2), orthographic sin, stereographic tan(angle / 2), each over
    its value at the horizon (``geometry``).

    Examples
    --------
    >>> zenith_deg(np.array([0.5]), "equidistant").tolist()
    [45.0]
    """
    share = np.clip(np.asarray(distance_share, dtype=float), 0.0, 1.0)
    if projection == "equidistant":
        return 90 * share
    if projection == "equisolid":
        return np.asarray(2 * np.degrees(np.arcsin(share * np.sin(np.pi / 4))))
    if projection == "orthographic":
        return np.asarray(np.degrees(np.arcsin(share)))
    return np.asarray(2 * np.degrees(np.arctan(share)))


def sky_of_pixels(shape: tuple[int, int], lens: Lens) -> tuple[Array, Array, Array]:
    """Where in the sky each pixel looks, and how much of the dome it stands for.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns of the picture.
    lens : Lens
        Where the sky lies on it.

    Returns
    -------
    tuple of array, each of shape (rows, columns)
        Angle from the zenith [deg], bearing [deg], solid angle [sr]; solid angle is 0 outside the sky's circle.

    Notes
    -----
    Pixels of one distance share the solid angle of their ring (``geometry``). Looking up, east is left of north.
    """
    rows, columns = np.mgrid[0 : shape[0], 0 : shape[1]]
    right, up = columns - lens.column, lens.row - rows
    share = np.hypot(right, up) / lens.radius_px
    angle = zenith_deg(share, lens.projection)
    bearing = (lens.top_bearing_deg - np.degrees(np.arctan2(right, up))) % 360
    return angle, bearing, np.where(share <= 1, _solid_angle(share, lens), 0.0)


def _solid_angle(share: Array, lens: Lens) -> Array:
    """Solid angle of a pixel: that of the thin ring about it, shared by area; a fixed small step does for the slope."""
    step, share = 1e-4, np.minimum(share, 1.0)
    inner, outer = np.clip(share - step, 0.0, 1.0), np.clip(share + step, 0.0, 1.0)
    ring = np.cos(np.radians(zenith_deg(inner, lens.projection))) - np.cos(
        np.radians(zenith_deg(outer, lens.projection))
    )
    return np.asarray(2 * np.pi * ring / (np.pi * (outer**2 - inner**2) * lens.radius_px**2))


def openness(sky: Mask, angle_deg: Array, solid: Array, *, zenith_limit_deg: float) -> float:
    """Share of the dome within an angle of the zenith that is sky.

    Parameters
    ----------
    sky : array of bool
        Which pixels are sky.
    angle_deg, solid : array
        Angle from the zenith [deg] and solid angle [sr] of each pixel.
    zenith_limit_deg : float
        How far from the zenith counts [deg].

    Returns
    -------
    float
        Share, 0 to 1.
    """
    weight = np.where(angle_deg <= zenith_limit_deg, solid, 0.0)
    return float(weight[sky].sum() / weight.sum())


def diffuse_share(sky: Mask, angle_deg: Array, solid: Array, brightness: str | float) -> float:
    """Share of an overcast sky's light on level ground that comes through.

    Parameters
    ----------
    sky : array of bool
        Which pixels are sky.
    angle_deg, solid : array
        Angle from the zenith [deg] and solid angle [sr] of each pixel.
    brightness : str or float
        uniform, overcast, or how much brighter the zenith is than the horizon, less one.

    Returns
    -------
    float
        Share, 0 to 1.

    Notes
    -----
    Radiance (1 + b sin e) / (1 + b) times the sine of the elevation (``moon1942``).
    """
    sine = np.cos(np.radians(angle_deg))
    weight = solid * sine * (1 + brightening(brightness) * sine)
    return float(weight[sky].sum() / weight.sum())


def share_along(
    sky: Mask, angle_deg: Array, bearing_deg: Array, solid: Array, ways: Directions, *, rings: int, sectors: int
) -> float:
    """Share of the light of given directions that comes through, each dimmed as its piece of the sky is covered.

    Parameters
    ----------
    sky : array of bool
        Which pixels are sky.
    angle_deg, bearing_deg, solid : array
        Angle from the zenith [deg], bearing [deg] and solid angle [sr] of each pixel.
    ways : Directions
        Where the light comes from.
    rings, sectors : int
        Into how many rings of equal angle and sectors the sky is cut.

    Returns
    -------
    float
        Share, 0 to 1.

    Notes
    -----
    The gap light index (``canham1988``) with the gap share of each piece; a piece with no pixel is dark.
    """
    ring = np.minimum((angle_deg / 90 * rings).astype(np.int64), rings - 1)
    piece = ring * sectors + np.minimum((bearing_deg / 360 * sectors).astype(np.int64), sectors - 1)
    whole = np.bincount(piece.ravel(), weights=solid.ravel(), minlength=rings * sectors)
    clear = np.bincount(piece.ravel(), weights=(solid * sky).ravel(), minlength=rings * sectors)
    gap = np.divide(clear, whole, out=np.zeros_like(clear), where=whole > 0)
    way_angle = np.degrees(np.arccos(np.clip(ways.z, -1.0, 1.0)))
    way_bearing = np.degrees(np.arctan2(ways.x, ways.y)) % 360
    way_ring = np.minimum((way_angle / 90 * rings).astype(np.int64), rings - 1)
    way_piece = way_ring * sectors + np.minimum((way_bearing / 360 * sectors).astype(np.int64), sectors - 1)
    return float((ways.weight * gap[way_piece]).sum() / ways.weight.sum())
