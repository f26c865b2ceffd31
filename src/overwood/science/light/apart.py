"""Predicted crowns pushed apart, because neighbours avoid each other."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from overwood.science.compiling import kernel
from overwood.science.light.raster import wraps

Array = NDArray[np.float64]


def relaxed(
    x: Array,
    y: Array,
    radius: Array,
    centre: Array,
    half_depth: Array,
    *,
    width_m: float,
    height_m: float,
    edge: str,
    rounds: int,
    share: float,
    most: float,
) -> tuple[Array, Array]:
    """Push crown centres apart where crowns of one height overlap, each by at most a share of its radius.

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
    edge : str
        One of EDGES of ``raster``.
    rounds : int
        How many times each pair is looked at.
    share : float
        How much of an overlap is taken away at each look.
    most : float
        How far a crown may be pushed in all, as a share of its radius.

    Returns
    -------
    tuple of array, each of shape (n,)
        Places of the crown centres [m].

    Notes
    -----
    Crowns of neighbours avoid each other (``piboule2005``); for predicted radii only.

    Examples
    --------
    >>> places = (np.array([10.0, 12.0]), np.array([10.0, 10.0]))
    >>> size = dict(width_m=30, height_m=30, edge="open", rounds=30, share=0.3, most=0.5)
    >>> x, _ = relaxed(*places, np.array([2.0, 2.0]), np.array([9.0, 9.0]), np.array([3.0, 3.0]), **size)
    >>> bool(3.5 < x[1] - x[0] <= 4)
    True
    """
    pairs = _pairs(x, y, radius, (width_m, height_m), edge, most)
    moved = _relaxed(x, y, radius, centre, half_depth, pairs, width_m, height_m, *wraps(edge), rounds, share, most)
    return x + moved[:, 0], y + moved[:, 1]


def _pairs(x: Array, y: Array, radius: Array, size: tuple[float, float], edge: str, most: float) -> NDArray[np.int64]:
    """Crowns near enough to touch however far they are pushed, so that work grows with the trees and not with their
    square."""
    from scipy.spatial import cKDTree

    if len(x) < 2:
        return np.zeros((0, 2), dtype=np.int64)
    around = [side if wrapped else 0.0 for side, wrapped in zip(size, wraps(edge), strict=True)]
    places = np.column_stack([along % side if side else along for along, side in zip((x, y), around, strict=True)])
    pairs = cKDTree(places, boxsize=around).query_pairs(2 * float(radius.max()) * (1 + most), output_type="ndarray")
    return np.asarray(pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))], dtype=np.int64)


@kernel("light")
def _relaxed(x, y, radius, centre, depth, pairs, width, height, wrap_x, wrap_y, rounds, share, most):  # type: ignore[no-untyped-def]  # pragma: no cover
    n = len(x)
    moved = np.zeros((n, 2))
    for _ in range(rounds):
        push = np.zeros((n, 2))
        for i, j in pairs:
            if abs(centre[i] - centre[j]) > depth[i] + depth[j]:
                continue
            gx = x[j] + moved[j, 0] - x[i] - moved[i, 0]
            gy = y[j] + moved[j, 1] - y[i] - moved[i, 1]
            if wrap_x:
                gx -= width * math.floor(gx / width + 0.5)
            if wrap_y:
                gy -= height * math.floor(gy / height + 0.5)
            gap = math.sqrt(gx * gx + gy * gy)
            over = radius[i] + radius[j] - gap
            if over <= 0 or gap == 0:
                continue
            mine = radius[j] / (radius[i] + radius[j])
            for axis, part in ((0, gx / gap), (1, gy / gap)):
                push[i, axis] -= share * over * mine * part
                push[j, axis] += share * over * (1 - mine) * part
        for i in range(n):
            moved[i, 0] += push[i, 0]
            moved[i, 1] += push[i, 1]
            length = math.sqrt(moved[i, 0] ** 2 + moved[i, 1] ** 2)
            if length > radius[i] * most:
                moved[i, 0] *= radius[i] * most / length
                moved[i, 1] *= radius[i] * most / length
    return moved
