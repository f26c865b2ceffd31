"""Crowns as the light field takes them, and closed forms of what one crown and one gap do to the light, which check
it."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.science.light.sky import share_below, sky_directions

Array = NDArray[np.float64]
_RINGS = 20_000
_NONE = np.zeros(0)


@dataclass(frozen=True)
class Crowns:
    """Crowns: place, height of the widest point, semi-axes east, north and up, extinction; all of shape (n,), metres.

    ``low`` is the semi-axis downward, where the lower half is longer or shorter than the upper. ``fixed`` is an optical
    depth that each ray through the crown meets whatever its path; 0 where the path counts. Such crowns are whole
    ellipsoids.
    """

    x: Array
    y: Array
    centre: Array
    a: Array
    b: Array
    c: Array
    k: Array
    low: Array = field(default_factory=lambda: _NONE)
    fixed: Array = field(default_factory=lambda: _NONE)

    def __post_init__(self) -> None:
        if len(self.low) != len(self.c):
            object.__setattr__(self, "low", self.c)
        if len(self.fixed) != len(self.c):
            object.__setattr__(self, "fixed", np.zeros(len(self.c)))
        if ((self.fixed > 0) & (self.low != self.c)).any():
            raise ValueError("a crown of one openness must be a whole ellipsoid")

    @property
    def columns(self) -> tuple[Array, ...]:
        return tuple(getattr(self, column.name) for column in fields(self))

    def ordered(self) -> Crowns:
        """The same crowns in one order, whatever order they came in."""
        return self.taken(np.lexsort(self.columns[::-1]))

    def taken(self, which: NDArray[Any]) -> Crowns:
        """Some of the crowns, by place or by mask."""
        return Crowns(*(column[which] for column in self.columns))


def mean_crown_openness(extinction_per_m: ArrayLike, longest_chord_m: ArrayLike) -> Array:
    """Mean share of light through an ellipsoid crown over its whole shadow.

    Parameters
    ----------
    extinction_per_m : float or array
        Extinction along a path in the crown [1/m].
    longest_chord_m : float or array
        Longest path through the crown in the direction looked at [m].

    Returns
    -------
    float or array
        Share, 0 to 1.

    Notes
    -----
    2 (1 - (1 + q) exp(-q)) / q^2 with q = extinction times chord (``geometry``).

    Examples
    --------
    >>> round(float(mean_crown_openness(1.0, 2.0)), 5)
    0.297
    """
    q = np.asarray(extinction_per_m, dtype=float) * np.asarray(longest_chord_m, dtype=float)
    small = q < 1e-4
    safe = np.where(small, 1.0, q)
    return np.where(small, 1 - 2 * q / 3, 2 * (1 - (1 + safe) * np.exp(-safe)) / safe**2)


def sphere_blocked_share(
    radius_m: float, height_m: float, *, offset_m: float, extinction_per_m: float | None, sky: str
) -> float:
    """Share of the diffuse light that a spherical crown takes from a point on level ground.

    Parameters
    ----------
    radius_m : float
        Radius of the sphere [m].
    height_m : float
        Height of its centre above the point, more than the radius [m].
    offset_m : float
        Level distance from the point to below the centre [m].
    extinction_per_m : float or None
        Extinction along a path [1/m]; None for an opaque sphere.
    sky : str
        uniform or overcast.

    Returns
    -------
    float
        Share blocked, 0 to 1.

    Notes
    -----
    Straight above and opaque: (R / H)^2 and, overcast, (3/7) s^2 + (4/7) (1 - c^3) with s = R / H (``geometry``); else
    summed over rings of directions.

    Examples
    --------
    >>> round(sphere_blocked_share(5, 20, offset_m=0, extinction_per_m=None, sky="uniform"), 4)
    0.0625
    """
    sky_dirs = sky_directions(_RINGS, sky)
    along = offset_m * sky_dirs.x + height_m * sky_dirs.z
    nearest_square = offset_m**2 + height_m**2 - along**2
    inside = np.maximum(radius_m**2 - nearest_square, 0.0)
    if extinction_per_m is None:
        if offset_m == 0:
            return _opaque_overhead(radius_m / height_m, sky)
        return float(sky_dirs.weight[inside > 0].sum())
    return float((sky_dirs.weight * (1 - np.exp(-extinction_per_m * 2 * np.sqrt(inside)))).sum())


def _opaque_overhead(ratio: float, sky: str) -> float:
    if sky == "uniform":
        return ratio**2
    return 3 / 7 * ratio**2 + 4 / 7 * (1 - (1 - ratio**2) ** 1.5)


def gap_light_share(radius_m: float, height_m: float, sky: str) -> float:
    """Diffuse light at the middle of a round gap with an opaque wall.

    Parameters
    ----------
    radius_m : float
        Radius of the gap [m].
    height_m : float
        Height of the wall [m].
    sky : str
        uniform or overcast.

    Returns
    -------
    float
        Share of open light, 0 to 1.

    Notes
    -----
    R^2 / (R^2 + H^2) for the uniform sky, 1 less the share below the wall's top in general (``geometry``).

    Examples
    --------
    >>> round(gap_light_share(1, 2, "overcast"), 5)
    0.24826
    """
    return float(1 - share_below(np.degrees(np.arctan2(height_m, radius_m)), sky))
