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
LEVEL = (0.0, 0.0)
_BLOCKS = 16
# A direction this near to the slope, or behind it, brings no light.
_HIDDEN = 1e-6


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
        return self.taken(np.lexsort((self.k, self.c, self.b, self.a, self.centre, self.y, self.x)))

    def taken(self, which: NDArray[Any]) -> Crowns:
        """Some of the crowns, by place or by mask."""
        columns = (self.x, self.y, self.centre, self.a, self.b, self.c, self.k)
        return Crowns(*(column[which] for column in columns))


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
        torus (the plot repeats for ever) or open (no trees outside).
    gradient : tuple of float
        Rise of the ground towards east and north [m/m]; distances are horizontal and crown heights above the ground
        at the stem.

    Returns
    -------
    array, shape (rows, columns)
        Share, 0 to 1; row 0 is the south edge.

    Notes
    -----
    Optical depth is extinction times the length of the ray in each crown (``geometry``). Directions that the slope itself
    hides are dark.

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
        t.x, t.y, t.centre, t.a, t.b, t.c, t.k,
        directions.x, directions.y, directions.z, directions.weight, blocks, rows, columns, spacing_m, edge == "torus", *gradient,
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
    x, y, centre, a, b, c, k, dx, dy, dz, weight, blocks, rows, columns, spacing, torus, gx, gy
):
    count = len(blocks) - 1
    parts = np.zeros((count, rows, columns))
    for block in numba.prange(count):
        tau = np.zeros((rows, columns))
        for d in range(blocks[block], blocks[block + 1]):
            if dz[d] - gx * dx[d] - gy * dy[d] <= _HIDDEN:
                continue
            tau[:, :] = 0.0
            for tree in range(len(x)):
                _splat(tau, x[tree], y[tree], centre[tree], a[tree], b[tree], c[tree], k[tree], dx[d], dy[d], dz[d], spacing, torus, gx, gy)
            for i in range(rows):
                for j in range(columns):
                    parts[block, i, j] += weight[d] * math.exp(-tau[i, j])
    return parts


@numba.njit(cache=True)
def _shadow(x, y, centre, a, b, c, dx, dy, dz, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Middle of a crown's shadow, the form 1 - P(o, o) that is positive inside it, |v|^2, and its reach north and south."""
    step = centre / (dz - gx * dx - gy * dy)
    vx, vy, vz = dx / a, dy / b, dz / c
    vv = vx * vx + vy * vy + vz * vz
    wx, wy = vx / a + vz * gx / c, vy / b + vz * gy / c
    pxx = 1 / (a * a) + gx * gx / (c * c) - wx * wx / vv
    pyy = 1 / (b * b) + gy * gy / (c * c) - wy * wy / vv
    pxy = gx * gy / (c * c) - wx * wy / vv
    return x - step * dx, y - step * dy, pxx, pyy, pxy, vv, math.sqrt(pxx / (pxx * pyy - pxy * pxy))


@numba.njit(cache=True)
def _row_ends(oy, sx, pxx, pyy, pxy, spacing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """First and last raster column of a shadow on one row; the first is beyond the last where the row misses it."""
    middle = -pxy * oy / pxx
    inside = middle * middle - (pyy * oy * oy - 1) / pxx
    if inside <= 0:
        return 0, -1
    half = math.sqrt(inside)
    return math.ceil((sx + middle - half) / spacing - 0.5), math.floor((sx + middle + half) / spacing - 0.5)


@numba.njit(cache=True)
def _splat(tau, x, y, centre, a, b, c, k, dx, dy, dz, spacing, torus, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Add one crown's optical depth in one direction; each raster row has its ends in closed form."""
    rows, columns = tau.shape
    sx, sy, pxx, pyy, pxy, vv, reach = _shadow(x, y, centre, a, b, c, dx, dy, dz, gx, gy)
    for row in range(math.ceil((sy - reach) / spacing - 0.5), math.floor((sy + reach) / spacing - 0.5) + 1):
        if not torus and (row < 0 or row >= rows):
            continue
        oy = (row + 0.5) * spacing - sy
        start, stop = _row_ends(oy, sx, pxx, pyy, pxy, spacing)
        for column in range(start, stop + 1):
            if not torus and (column < 0 or column >= columns):
                continue
            ox = (column + 0.5) * spacing - sx
            q = 1 - pxx * ox * ox - 2 * pxy * ox * oy - pyy * oy * oy
            if q > 0:
                tau[row % rows, column % columns] += 2 * k * math.sqrt(q / vv)


def light_field_plain(
    crowns: Crowns,
    directions: Directions,
    *,
    width_m: float,
    height_m: float,
    spacing_m: float,
    edge: str,
    gradient: tuple[float, float] = LEVEL,
) -> Array:
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
    gradient : tuple of float
        Rise of the ground towards east and north [m/m].

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
    rows, columns = raster_shape(width_m, height_m, spacing_m)
    px = (np.arange(columns, dtype=np.float64) + 0.5)[None, :] * spacing_m
    py = (np.arange(rows, dtype=np.float64) + 0.5)[:, None] * spacing_m
    light = np.zeros((rows, columns))
    for dx, dy, dz, weight in zip(directions.x, directions.y, directions.z, directions.weight, strict=True):
        clear = dz - gradient[0] * dx - gradient[1] * dy
        if clear <= _HIDDEN:
            continue
        tau = np.zeros((rows, columns))
        for tree in range(len(crowns.x)):
            for east, north in _copies(crowns, tree, (dx, dy, clear), width_m, height_m, edge):
                tau += _chord(crowns, tree, px - east, py - north, (dx, dy, dz), gradient) * crowns.k[tree]
        light += weight * np.exp(-tau)
    return light


def _copies(
    crowns: Crowns, tree: int, way: tuple[float, float, float], width: float, height: float, edge: str
) -> list[tuple[float, float]]:
    """Where copies of a crown stand whose shadow can reach the plot; the way's last part is its rise above the ground."""
    x, y = float(crowns.x[tree]), float(crowns.y[tree])
    if edge == "open":
        return [(x, y)]
    dx, dy, clear = way
    top = crowns.centre[tree] + 2 * max(crowns.c[tree], crowns.a[tree], crowns.b[tree])
    reach = top / clear * math.hypot(dx, dy) + 2 * max(crowns.a[tree], crowns.b[tree])
    across, up = math.ceil(reach / width) + 1, math.ceil(reach / height) + 1
    return [(x + i * width, y + j * height) for i in range(-across, across + 1) for j in range(-up, up + 1)]


def _chord(
    crowns: Crowns, tree: int, ox: NDArray[Any], oy: NDArray[Any], way: tuple[float, float, float], gradient: tuple[float, float]
) -> Array:
    """Length of the ray from each point inside the crown; offsets are point minus crown place, level."""
    a, b, c = crowns.a[tree], crowns.b[tree], crowns.c[tree]
    above = gradient[0] * ox + gradient[1] * oy - crowns.centre[tree]
    sx, sy, sz = ox / a, oy / b, above / c
    vx, vy, vz = way[0] / a, way[1] / b, way[2] / c
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


def _seen(ways: Directions, gradient: tuple[float, float]) -> Directions:
    """The directions that the slope does not hide."""
    seen = ways.z - gradient[0] * ways.x - gradient[1] * ways.y > _HIDDEN
    return Directions(ways.x[seen], ways.y[seen], ways.z[seen], ways.weight[seen])


class Ledger:
    """The field with every direction kept, so that taking or giving back one tree costs only its own shadows.

    Notes
    -----
    Optical depth is held as whole numbers of a billionth: sums do not depend on their order, so giving a tree back
    restores the field to the bit.
    """

    def __init__(
        self,
        crowns: Crowns,
        directions: Directions,
        *,
        width_m: float,
        height_m: float,
        spacing_m: float,
        edge: str,
        gradient: tuple[float, float] = LEVEL,
    ) -> None:
        self.crowns, self.directions = crowns, _seen(directions, gradient)
        self.spacing_m, self.torus, self.gradient = spacing_m, edge == "torus", gradient
        rows, columns = raster_shape(width_m, height_m, spacing_m)
        self.tau = np.zeros((len(self.directions.z), rows, columns), dtype=np.int64)
        self.standing = np.zeros(len(crowns.x), dtype=np.bool_)
        self.light = np.full((rows, columns), float(self.directions.weight.sum()))
        for tree in range(len(crowns.x)):
            self._change(tree, 1)
            self.standing[tree] = True
        self.settle()

    def _change(self, tree: int, sign: int) -> None:
        t, d = self.crowns, self.directions
        _shade_all(
            self.tau, self.light, t.x[tree], t.y[tree], t.centre[tree], t.a[tree], t.b[tree], t.c[tree], t.k[tree],
            d.x, d.y, d.z, d.weight, self.spacing_m, self.torus, sign, *self.gradient,
        )  # fmt: skip

    def flip(self, tree: int) -> None:
        """Cut a standing tree, or put a cut one back."""
        self._change(tree, -1 if self.standing[tree] else 1)
        self.standing[tree] = not self.standing[tree]

    def settle(self) -> None:
        """Sum the light anew from the optical depths, so that small changes of rounding do not pile up."""
        self.light = _summed(self.tau, self.directions.weight)


@numba.njit(cache=True)
def _summed(tau, weight):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    ways, rows, columns = tau.shape
    light = np.zeros((rows, columns))
    for d in range(ways):
        for i in range(rows):
            for j in range(columns):
                light[i, j] += weight[d] * math.exp(-tau[d, i, j] * 1e-9)
    return light


@numba.njit(cache=True)
def _shade_all(tau, light, x, y, centre, a, b, c, k, dx, dy, dz, weight, spacing, torus, sign, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover
    """Add or take one crown's optical depth in every direction, and the difference it makes to the light."""
    ways, rows, columns = tau.shape
    for d in range(ways):
        sx, sy, pxx, pyy, pxy, vv, reach = _shadow(x, y, centre, a, b, c, dx[d], dy[d], dz[d], gx, gy)
        for row in range(math.ceil((sy - reach) / spacing - 0.5), math.floor((sy + reach) / spacing - 0.5) + 1):
            if not torus and (row < 0 or row >= rows):
                continue
            oy = (row + 0.5) * spacing - sy
            start, stop = _row_ends(oy, sx, pxx, pyy, pxy, spacing)
            for column in range(start, stop + 1):
                if not torus and (column < 0 or column >= columns):
                    continue
                ox = (column + 0.5) * spacing - sx
                q = 1 - pxx * ox * ox - 2 * pxy * ox * oy - pyy * oy * oy
                if q > 0:
                    i, j = row % rows, column % columns
                    before = math.exp(-tau[d, i, j] * 1e-9)
                    tau[d, i, j] += sign * round(2e9 * k * math.sqrt(q / vv))
                    light[i, j] += weight[d] * (math.exp(-tau[d, i, j] * 1e-9) - before)


def relaxed(
    x: Array, y: Array, radius: Array, centre: Array, half_depth: Array, *, width_m: float, height_m: float, torus: bool, rounds: int
) -> tuple[Array, Array]:
    """Push crown centres apart where crowns of one height overlap, each by at most half its radius.

    Parameters
    ----------
    x, y : array, shape (n,)
        Places of the stems [m].
    radius : array, shape (n,)
        Crown radius [m].
    centre, half_depth : array, shape (n,)
        Height of the crown's middle and half its depth [m].
    width_m, height_m : float
        Size of the block [m].
    torus : bool
        Whether the block repeats.
    rounds : int
        How many times each pair is looked at.

    Returns
    -------
    tuple of array, each of shape (n,)
        Places of the crown centres [m].

    Notes
    -----
    Crowns of neighbours avoid each other (``piboule2005``); for predicted radii only.
    """
    moved = _relaxed(x, y, radius, centre, half_depth, width_m, height_m, torus, rounds)
    return x + moved[:, 0], y + moved[:, 1]


@numba.njit(cache=True)
def _relaxed(x, y, radius, centre, depth, width, height, torus, rounds):  # type: ignore[no-untyped-def]  # pragma: no cover
    n = len(x)
    moved = np.zeros((n, 2))
    for _ in range(rounds):
        push = np.zeros((n, 2))
        for i in range(n):
            for j in range(i + 1, n):
                if abs(centre[i] - centre[j]) > depth[i] + depth[j]:
                    continue
                gx = x[j] + moved[j, 0] - x[i] - moved[i, 0]
                gy = y[j] + moved[j, 1] - y[i] - moved[i, 1]
                if torus:
                    gx -= width * math.floor(gx / width + 0.5)
                    gy -= height * math.floor(gy / height + 0.5)
                gap = math.sqrt(gx * gx + gy * gy)
                over = radius[i] + radius[j] - gap
                if over <= 0 or gap == 0:
                    continue
                share = radius[j] / (radius[i] + radius[j])
                for axis, part in ((0, gx / gap), (1, gy / gap)):
                    push[i, axis] -= 0.3 * over * share * part
                    push[j, axis] += 0.3 * over * (1 - share) * part
        for i in range(n):
            moved[i, 0] += push[i, 0]
            moved[i, 1] += push[i, 1]
            length = math.sqrt(moved[i, 0] ** 2 + moved[i, 1] ** 2)
            if length > radius[i] / 2:
                moved[i, 0] *= radius[i] / 2 / length
                moved[i, 1] *= radius[i] / 2 / length
    return moved
