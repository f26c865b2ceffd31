"""One crown's shadow on the floor in one direction: compiled kernels that the field and the ledger share.

On the floor a crown's shadow is an ellipse. In cells, with e the column less the middle of the shadow on that row,
1 - (form) = h - a e^2, h = 1 - d v^2 on the row v cells from the shadow's middle: each row has its ends in closed form.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from overwood.science import compiling
from overwood.science.light.crowns import Crowns
from overwood.science.light.sky import Directions

Array = NDArray[np.float64]
LEVEL = (0.0, 0.0)
# A direction this near to the slope, or behind it, brings no light.
HIDDEN = 1e-6
# More effort makes light and search no faster.
_COMPILED: dict[str, Any] = {"effort": 1, "error_model": "numpy", "fastmath": {"contract"}}
kernel = compiling.kernel("light", **_COMPILED)
# Laid into the loop that calls it.
laid_in = compiling.kernel("light", inline="always", **_COMPILED)
# Lets other threads run beside it.
beside = compiling.kernel("light", nogil=True, **_COMPILED)


class Shadow(NamedTuple):
    """A crown's shadow in cells: its middle, the form, its first and last row, and what turns it into optical depth."""

    column: float
    row: float
    a: float
    d: float
    lean: float
    first: int
    last: int
    chord_m: float
    inverse_vv: float
    wx: float
    wy: float


def pieces(crowns: Crowns) -> tuple[Array, NDArray[np.int64]]:
    """Crowns as whole ellipsoids or halves of them, and the crown each piece belongs to.

    Parameters
    ----------
    crowns : Crowns
        The crowns.

    Returns
    -------
    pieces : array, shape (m, 9)
        Place [m], middle [m], inverse semi-axes [1/m], extinction [1/m], fixed depth, and part: 0 whole, 1 upper, -1
        lower half.
    owner : array, shape (m,)
        Place of each piece's crown in the list.

    Examples
    --------
    >>> one = Crowns(*(np.array([v]) for v in (5.0, 5.0, 10.0, 2.0, 2.0, 3.0, 0.4)), low=np.array([2.0]))
    >>> table, owner = pieces(one)
    >>> table[:, 8].tolist(), owner.tolist()
    ([1.0, -1.0], [0, 0])
    """
    halved = crowns.low != crowns.c
    upper = np.column_stack(
        (
            crowns.x,
            crowns.y,
            crowns.centre,
            1 / crowns.a,
            1 / crowns.b,
            1 / crowns.c,
            crowns.k,
            crowns.fixed,
            halved.astype(float),
        )
    )
    lower = upper[halved]
    lower[:, 5], lower[:, 8] = 1 / crowns.low[halved], -1.0
    owner = np.concatenate((np.arange(len(crowns.x)), np.flatnonzero(halved)))
    order = np.argsort(owner, kind="stable")
    return np.vstack((upper, lower))[order], owner[order]


def seen(ways: Directions, gradient: tuple[float, float]) -> Array:
    """The directions that the slope does not hide.

    Parameters
    ----------
    ways : Directions
        Where light comes from.
    gradient : tuple of float
        Rise of the ground towards east and north [m/m].

    Returns
    -------
    array, shape (n, 4)
        East, north, up and weight.
    """
    clear = ways.z - gradient[0] * ways.x - gradient[1] * ways.y > HIDDEN
    return np.column_stack((ways.x, ways.y, ways.z, ways.weight))[clear]


@kernel
def shadow_of(piece, way, floor, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """The shadow of one piece of a crown in one direction on a floor that rises by gx and gy."""
    ia, ib, ic = piece[3], piece[4], piece[5]
    dx, dy, dz = way[0], way[1], way[2]
    step = piece[2] * (1 / (dz - gx * dx - gy * dy))
    vx, vy, vz = dx * ia, dy * ib, dz * ic
    inverse_vv = 1 / (vx * vx + vy * vy + vz * vz)
    hx, hy = gx * ic, gy * ic
    wx, wy = vx * ia + vz * hx, vy * ib + vz * hy
    a = (ia * ia + hx * hx - wx * wx * inverse_vv) * floor.east_m * floor.east_m
    b = (hx * hy - wx * wy * inverse_vv) * floor.east_m * floor.north_m
    c = (ib * ib + hy * hy - wy * wy * inverse_vv) * floor.north_m * floor.north_m
    lean = -b / a
    d = c + b * lean
    # Reciprocals are the same for every crown, and a compiler works them out once.
    column = (piece[0] - step * dx) * (1 / floor.east_m) - 0.5
    row = (piece[1] - step * dy) * (1 / floor.north_m) - 0.5
    if floor.wrap_x:
        column -= floor.columns * np.floor(column * (1 / floor.columns))
    if floor.wrap_y:
        row -= floor.rows * np.floor(row * (1 / floor.rows))
    reach = 1 / math.sqrt(d)
    first, last = math.ceil(row - reach), math.floor(row + reach)
    if not floor.wrap_y:
        first, last = max(first, 0), min(last, floor.rows - 1)
    chord_m = 2 * math.sqrt(inverse_vv)
    return Shadow(column, row, a, d, lean, first, last, chord_m, inverse_vv, wx * floor.east_m, wy * floor.north_m)


@kernel
def row_of(shadow, row, floor):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """On one row: the middle of the shadow, h of the form, and its first and last column; empty where the last is
    before the first."""
    v = row - shadow.row
    h = max(1 - shadow.d * v * v, 0.0)
    middle, half = shadow.column + shadow.lean * v, math.sqrt(h / shadow.a)
    first, last = math.ceil(middle - half), math.floor(middle + half)
    if not floor.wrap_x:
        first, last = max(first, 0), min(last, floor.columns - 1)
    return middle, h, first, last


@kernel
def depth_at(shadow, piece, way, e, v, q, gx, gy, floor):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Optical depth of the ray that meets the floor e columns and v rows from the shadow's middle, where the form is
    q."""
    if piece[7] > 0:
        return piece[7]
    chord = shadow.chord_m * math.sqrt(q)
    if piece[8] == 0:
        return piece[6] * chord
    middle = -(shadow.wx * e + shadow.wy * v) * shadow.inverse_vv
    plane = -(gx * e * floor.east_m + gy * v * floor.north_m) / way[2]
    if piece[8] > 0:
        return piece[6] * max(0.0, middle + chord / 2 - max(plane, middle - chord / 2))
    return piece[6] * max(0.0, min(plane, middle + chord / 2) - (middle - chord / 2))


@kernel
def wrapped(place, size):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """A row or column of the repeating block inside the block."""
    while place < 0:
        place += size
    while place >= size:
        place -= size
    return place
