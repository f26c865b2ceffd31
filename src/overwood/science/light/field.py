"""The light field below mapped crowns: every crown's shadow is added straight to a raster, direction by direction.

Two paths give the same answer: compiled (numba) for use, plain numpy to check it. Trees are put in one order and
directions in fixed blocks, so that neither the order of the list nor the number of threads changes a bit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from overwood.science.light.sky import Directions

Array = NDArray[np.float64]
EDGES = ("torus", "open")
_BLOCKS = 16


@dataclass(frozen=True)
class Crowns:
    """Ellipsoid crowns: place, height of the centre, semi-axes east, north and up, extinction; all of shape (n,), metres."""

    x: Array
    y: Array
    centre: Array
    a: Array
    b: Array
    c: Array
    k: Array

    def ordered(self) -> Crowns:
        """The same crowns in one order, whatever order they came in."""
        columns = (self.x, self.y, self.centre, self.a, self.b, self.c, self.k)
        order = np.lexsort(columns[::-1])
        return Crowns(*(column[order] for column in columns))


def light_field(crowns: Crowns, directions: Directions, *, width_m: float, height_m: float, spacing_m: float, edge: str) -> Array:
    """Share of open light at the middle of each cell of a raster on level ground.

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
        torus (the plot repeats for ever) or open (no trees outside).

    Returns
    -------
    array, shape (rows, columns)
        Share, 0 to 1; row 0 is the south edge.

    Notes
    -----
    Optical depth is extinction times the length of the ray in each crown (``geometry``).

    Examples
    --------
    >>> from overwood.science.light.sky import sky_directions
    >>> none = Crowns(*(np.zeros(0) for _ in range(7)))
    >>> float(light_field(none, sky_directions(50, "uniform"), width_m=4, height_m=4, spacing_m=2, edge="torus").mean().round(9))
    1.0
    """
    rows, columns = _shape(width_m, height_m, spacing_m)
    t = crowns.ordered()
    blocks = np.linspace(0, len(directions.z), _BLOCKS + 1).astype(np.int64)
    parts = _splat_blocks(
        t.x, t.y, t.centre, t.a, t.b, t.c, t.k,
        directions.x, directions.y, directions.z, directions.weight, blocks, rows, columns, spacing_m, edge == "torus",
    )  # fmt: skip
    light = np.zeros((rows, columns))
    for block in range(_BLOCKS):
        light += parts[block]
    return light


def _shape(width_m: float, height_m: float, spacing_m: float) -> tuple[int, int]:
    return max(1, round(height_m / spacing_m)), max(1, round(width_m / spacing_m))


@numba.njit(parallel=True, cache=True, fastmath=False)
def _splat_blocks(  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    x, y, centre, a, b, c, k, dx, dy, dz, weight, blocks, rows, columns, spacing, torus
):
    count = len(blocks) - 1
    parts = np.zeros((count, rows, columns))
    for block in numba.prange(count):
        tau = np.zeros((rows, columns))
        for d in range(blocks[block], blocks[block + 1]):
            tau[:, :] = 0.0
            for tree in range(len(x)):
                _splat(tau, x[tree], y[tree], centre[tree], a[tree], b[tree], c[tree], k[tree], dx[d], dy[d], dz[d], spacing, torus)
            for i in range(rows):
                for j in range(columns):
                    parts[block, i, j] += weight[d] * math.exp(-tau[i, j])
    return parts


@numba.njit(cache=True)
def _splat(tau, x, y, centre, a, b, c, k, dx, dy, dz, spacing, torus):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Add one crown's optical depth in one direction; each raster row has its ends in closed form."""
    rows, columns = tau.shape
    step = centre / dz
    sx, sy = x - step * dx, y - step * dy
    vx, vy, vz = dx / a, dy / b, dz / c
    vv = vx * vx + vy * vy + vz * vz
    # The quadratic form of the shadow: 1 - |u|^2 + (u.v)^2 / |v|^2 with u = (ox / a, oy / b, 0).
    pxx = (1 - vx * vx / vv) / (a * a)
    pyy = (1 - vy * vy / vv) / (b * b)
    pxy = -vx * vy / vv / (a * b)
    reach = math.sqrt(pxx / (pxx * pyy - pxy * pxy))
    first, last = math.ceil((sy - reach) / spacing - 0.5), math.floor((sy + reach) / spacing - 0.5)
    for row in range(first, last + 1):
        if not torus and (row < 0 or row >= rows):
            continue
        oy = (row + 0.5) * spacing - sy
        middle = -pxy * oy / pxx
        inside = middle * middle - (pyy * oy * oy - 1) / pxx
        if inside <= 0:
            continue
        half = math.sqrt(inside)
        start = math.ceil((sx + middle - half) / spacing - 0.5)
        stop = math.floor((sx + middle + half) / spacing - 0.5)
        for column in range(start, stop + 1):
            if not torus and (column < 0 or column >= columns):
                continue
            ox = (column + 0.5) * spacing - sx
            q = 1 - pxx * ox * ox - 2 * pxy * ox * oy - pyy * oy * oy
            if q > 0:
                tau[row % rows, column % columns] += 2 * k * math.sqrt(q / vv)


def light_field_plain(crowns: Crowns, directions: Directions, *, width_m: float, height_m: float, spacing_m: float, edge: str) -> Array:
    """The same field by plain numpy, crown by crown and ray by ray: slow, and independent of the compiled path.

    Parameters
    ----------
    crowns : Crowns
        The crowns.
    directions : Directions
        Where light comes from.
    width_m, height_m : float
        Size of the plot [m].
    spacing_m : float
        Size of a cell [m].
    edge : str
        torus or open.

    Returns
    -------
    array, shape (rows, columns)
        Share, 0 to 1.

    Notes
    -----
    Chord of a line through an ellipsoid (``geometry``); the torus is made of copies of the plot.

    Examples
    --------
    >>> from overwood.science.light.sky import sky_directions
    >>> one = Crowns(*(np.array([v]) for v in (5.0, 5.0, 10.0, 2.0, 2.0, 3.0, 0.4)))
    >>> ways = sky_directions(40, "overcast")
    >>> size = dict(width_m=10, height_m=10, spacing_m=2, edge="torus")
    >>> bool(np.allclose(light_field(one, ways, **size), light_field_plain(one, ways, **size)))
    True
    """
    rows, columns = _shape(width_m, height_m, spacing_m)
    px = (np.arange(columns, dtype=np.float64) + 0.5)[None, :] * spacing_m
    py = (np.arange(rows, dtype=np.float64) + 0.5)[:, None] * spacing_m
    light = np.zeros((rows, columns))
    for dx, dy, dz, weight in zip(directions.x, directions.y, directions.z, directions.weight, strict=True):
        tau = np.zeros((rows, columns))
        for tree in range(len(crowns.x)):
            for east, north in _copies(crowns, tree, dx, dy, dz, width_m, height_m, edge):
                tau += _chord(crowns, tree, px - east, py - north, dx, dy, dz) * crowns.k[tree]
        light += weight * np.exp(-tau)
    return light


def _copies(
    crowns: Crowns, tree: int, dx: float, dy: float, dz: float, width: float, height: float, edge: str
) -> list[tuple[float, float]]:
    """Where copies of a crown stand whose shadow can reach the plot."""
    x, y = float(crowns.x[tree]), float(crowns.y[tree])
    if edge == "open":
        return [(x, y)]
    top = crowns.centre[tree] + crowns.c[tree]
    reach = top / dz * math.hypot(dx, dy) + max(crowns.a[tree], crowns.b[tree]) + crowns.c[tree] / dz
    across, up = math.ceil(reach / width) + 1, math.ceil(reach / height) + 1
    return [(x + i * width, y + j * height) for i in range(-across, across + 1) for j in range(-up, up + 1)]


def _chord(crowns: Crowns, tree: int, ox: NDArray[Any], oy: NDArray[Any], dx: float, dy: float, dz: float) -> Array:
    """Length of the ray from each point inside the crown; offsets are point minus crown place."""
    a, b, c = crowns.a[tree], crowns.b[tree], crowns.c[tree]
    sx, sy, sz = ox / a, oy / b, -crowns.centre[tree] / c
    vx, vy, vz = dx / a, dy / b, dz / c
    vv = vx**2 + vy**2 + vz**2
    along = sx * vx + sy * vy + sz * vz
    inside = along**2 - vv * (sx**2 + sy**2 + sz**2 - 1)
    return np.where(inside > 0, 2 * np.sqrt(np.maximum(inside, 0.0)) / vv, 0.0)


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
