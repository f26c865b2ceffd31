"""The light field below mapped crowns: every crown's shadow is added straight to a raster, direction by direction.

Two paths give the same answer: compiled (numba) for use, plain numpy (``plain``) to check it. Trees are put in one order
and directions in fixed blocks, so that neither the order of the list nor the number of threads changes a bit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from overwood.science.light.sky import Directions

Array = NDArray[np.float64]
EDGES = ("torus", "open", "torus east-west", "torus north-south")
LEVEL = (0.0, 0.0)
_BLOCKS = 16
# A direction this near to the slope, or behind it, brings no light.
HIDDEN = 1e-6
_NONE = np.zeros(0)


def wraps(edge: str) -> tuple[bool, bool]:
    """Whether a block repeats east-west and north-south.

    Parameters
    ----------
    edge : str
        One of EDGES.

    Returns
    -------
    tuple of bool
        East-west, north-south.
    """
    return edge in ("torus", "torus east-west"), edge in ("torus", "torus north-south")


@dataclass(frozen=True)
class Crowns:
    """Crowns: place, height of the widest point, semi-axes east, north and up, extinction; all of shape (n,), metres.

    ``low`` is the semi-axis downward, where the lower half is longer or shorter than the upper. ``fixed`` is an optical
    depth that each ray through the crown meets whatever its path; 0 where the path counts. Such crowns are whole ellipsoids.
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


def light_field(
    crowns: Crowns,
    directions: Directions,
    *,
    width_m: float,
    height_m: float,
    spacing_m: float,
    edge: str,
    gradient: tuple[float, float] = LEVEL,
) -> Array:
    """Share of the light of open level ground at the middle of each cell of a raster.

    Parameters
    ----------
    crowns : Crowns
        The crowns, each wholly above the ground.
    directions : Directions
        Where light comes from, with weights.
    width_m, height_m : float
        Size of the plot, east and north [m].
    spacing_m : float
        Size of a cell [m].
    edge : str
        torus (the plot repeats for ever), open (no trees outside), or a torus in one direction only.
    gradient : tuple of float
        Rise of the ground towards east and north [m/m]; distances are horizontal and crown heights above the ground
        at the stem.

    Returns
    -------
    array, shape (rows, columns)
        Share, 0 to 1; row 0 is the south edge.

    Notes
    -----
    Optical depth is extinction times the length of the ray in each crown (``geometry``), halves clipped at the level of the
    widest point; or one depth per crown (``canham1999``). Directions that the slope itself hides are dark.

    Examples
    --------
    >>> from overwood.science.light.sky import sky_directions
    >>> none = Crowns(*(np.zeros(0) for _ in range(7)))
    >>> float(light_field(none, sky_directions(50, "uniform"), width_m=4, height_m=4, spacing_m=2, edge="torus").mean().round(9))
    1.0
    """
    rows, columns = raster_shape(width_m, height_m, spacing_m)
    t = crowns.ordered()
    blocks = np.linspace(0, len(directions.z), _BLOCKS + 1).astype(np.int64)
    parts = _splat_blocks(
        *t.columns, directions.x, directions.y, directions.z, directions.weight, blocks, rows, columns, spacing_m, *wraps(edge), *gradient,  # type: ignore[call-arg]
    )  # fmt: skip
    light = np.zeros((rows, columns))
    for block in range(_BLOCKS):
        light += parts[block]
    return light


def raster_shape(width_m: float, height_m: float, spacing_m: float) -> tuple[int, int]:
    """Rows and columns of the raster of a plot.

    Parameters
    ----------
    width_m, height_m : float
        Size of the plot, east and north [m].
    spacing_m : float
        Size of a cell [m].

    Returns
    -------
    tuple of int
        Rows, columns; one at least.
    """
    return max(1, round(height_m / spacing_m)), max(1, round(width_m / spacing_m))


@numba.njit(parallel=True, cache=True, fastmath=False)
def _splat_blocks(  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    x, y, centre, a, b, c, k, low, fixed, dx, dy, dz, weight, blocks, rows, columns, spacing, wrap_x, wrap_y, gx, gy
):
    count = len(blocks) - 1
    parts = np.zeros((count, rows, columns))
    for block in numba.prange(count):
        tau = np.zeros((rows, columns))
        for d in range(blocks[block], blocks[block + 1]):
            if dz[d] - gx * dx[d] - gy * dy[d] <= HIDDEN:
                continue
            tau[:, :] = 0.0
            for t in range(len(x)):
                whole = low[t] == c[t]
                _splat(tau, x[t], y[t], centre[t], a[t], b[t], c[t], k[t], fixed[t], 0 if whole else 1,
                       dx[d], dy[d], dz[d], spacing, wrap_x, wrap_y, gx, gy)  # fmt: skip
                if not whole:
                    _splat(tau, x[t], y[t], centre[t], a[t], b[t], low[t], k[t], fixed[t], -1,
                           dx[d], dy[d], dz[d], spacing, wrap_x, wrap_y, gx, gy)  # fmt: skip
            for i in range(rows):
                for j in range(columns):
                    parts[block, i, j] += weight[d] * math.exp(-tau[i, j])
    return parts


@numba.njit(cache=True)
def shadow(x, y, centre, a, b, c, dx, dy, dz, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Middle of an ellipsoid's shadow, the form 1 - P(o, o) positive inside it, |v|^2, w (u.v = w.o), and its reach north and south."""
    step = centre / (dz - gx * dx - gy * dy)
    vx, vy, vz = dx / a, dy / b, dz / c
    vv = vx * vx + vy * vy + vz * vz
    wx, wy = vx / a + vz * gx / c, vy / b + vz * gy / c
    pxx = 1 / (a * a) + gx * gx / (c * c) - wx * wx / vv
    pyy = 1 / (b * b) + gy * gy / (c * c) - wy * wy / vv
    pxy = gx * gy / (c * c) - wx * wy / vv
    return x - step * dx, y - step * dy, pxx, pyy, pxy, vv, wx, wy, math.sqrt(pxx / (pxx * pyy - pxy * pxy))


@numba.njit(cache=True)
def row_ends(oy, sx, pxx, pyy, pxy, spacing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """First and last raster column of a shadow on one row; the first is beyond the last where the row misses it."""
    middle = -pxy * oy / pxx
    inside = middle * middle - (pyy * oy * oy - 1) / pxx
    if inside <= 0:
        return 0, -1
    half = math.sqrt(inside)
    return math.ceil((sx + middle - half) / spacing - 0.5), math.floor((sx + middle + half) / spacing - 0.5)


@numba.njit(cache=True)
def chord(q, vv, uv, plane, part):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Length of a ray in a whole ellipsoid (part 0), in its upper half (1) or lower half (-1), cut where the ray meets the plane."""
    half = math.sqrt(q / vv)
    if part == 0:
        return 2 * half
    middle = -uv / vv
    if part > 0:
        return max(0.0, middle + half - max(plane, middle - half))
    return max(0.0, min(plane, middle + half) - (middle - half))


@numba.njit(cache=True)
def _splat(tau, x, y, centre, a, b, c, k, fixed, part, dx, dy, dz, spacing, wrap_x, wrap_y, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover
    """Add one ellipsoid's optical depth, or that of half of it, in one direction; each raster row has its ends in closed form."""
    rows, columns = tau.shape
    sx, sy, pxx, pyy, pxy, vv, wx, wy, reach = shadow(x, y, centre, a, b, c, dx, dy, dz, gx, gy)
    for row in range(math.ceil((sy - reach) / spacing - 0.5), math.floor((sy + reach) / spacing - 0.5) + 1):
        if not wrap_y and (row < 0 or row >= rows):
            continue
        oy = (row + 0.5) * spacing - sy
        start, stop = row_ends(oy, sx, pxx, pyy, pxy, spacing)
        for column in range(start, stop + 1):
            if not wrap_x and (column < 0 or column >= columns):
                continue
            ox = (column + 0.5) * spacing - sx
            q = 1 - pxx * ox * ox - 2 * pxy * ox * oy - pyy * oy * oy
            if q > 0:
                depth = fixed if fixed > 0 else k * chord(q, vv, wx * ox + wy * oy, -(gx * ox + gy * oy) / dz, part)
                tau[row % rows, column % columns] += depth


def share_in_band(light: Array, low: float, high: float) -> float:
    """Share of the area whose light lies in a band.

    Parameters
    ----------
    light : array
        Share of open light at each cell, 0 to 1.
    low, high : float
        The band, both ends included.

    Returns
    -------
    float
        Share of the area, 0 to 1.
    """
    return float(((light >= low) & (light <= high)).mean())
