"""The light field below mapped crowns: every crown's shadow is added straight to a raster, direction by direction.

Two paths give the same answer: compiled (numba) for use, plain numpy (``plain``) to check it. Trees are put in one
order and directions in fixed blocks, so that neither the order of the list nor the number of threads changes a bit.
"""

from __future__ import annotations

import math

import numba
import numpy as np
from numpy.typing import NDArray

from overwood.ground.threads import ONE_KERNEL
from overwood.science import compiling
from overwood.science.light.crowns import Crowns
from overwood.science.light.raster import Raster
from overwood.science.light.shadow import LEVEL, depth_at, kernel, pieces, row_of, seen, shadow_of, wrapped
from overwood.science.light.sky import Directions

Array = NDArray[np.float64]
_BLOCKS = 16


def light_field(
    crowns: Crowns, directions: Directions, raster: Raster, *, edge: str, gradient: tuple[float, float] = LEVEL
) -> Array:
    """Share of the light of open level ground at the middle of each cell of a raster.

    Parameters
    ----------
    crowns : Crowns
        The crowns, each wholly above the ground.
    directions : Directions
        Where light comes from, with weights.
    raster : Raster
        The cells of the block.
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
    Optical depth is extinction times the length of the ray in each crown (``geometry``), halves clipped at the level of
    the widest point; or one depth per crown (``canham1999``). Directions that the slope itself hides are dark.

    Examples
    --------
    >>> from overwood.science.light.sky import sky_directions
    >>> none = Crowns(*(np.zeros(0) for _ in range(7)))
    >>> float(light_field(none, sky_directions(50, "uniform"), Raster.near(4, 4, 2), edge="torus").mean().round(9))
    1.0
    """
    ways = seen(directions, gradient)
    ends = np.linspace(0, len(ways), _BLOCKS + 1).astype(np.int64)
    with ONE_KERNEL:
        parts = _blocks(pieces(crowns.ordered())[0], ways, ends, raster.floor(edge), *gradient)
    light = np.zeros(raster.shape)
    for part in parts:
        light += part
    return light


@compiling.kernel("light", parallel=True, error_model="numpy", fastmath={"contract"})
def _blocks(crowns, ways, ends, floor, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Light of each block of directions, one plane of optical depth at a time."""
    count = len(ends) - 1
    parts = np.zeros((count, floor.rows, floor.columns))
    for block in numba.prange(count):
        depth = np.zeros((floor.rows, floor.columns))
        for d in range(ends[block], ends[block + 1]):
            depth[:, :] = 0.0
            for t in range(len(crowns)):
                _shade(depth, crowns[t], ways[d], floor, gx, gy)
            for i in range(floor.rows):
                for j in range(floor.columns):
                    parts[block, i, j] += ways[d, 3] * math.exp(-depth[i, j])
    return parts


@kernel
def _shade(depth, piece, way, floor, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Add one piece's optical depth in one direction."""
    shadow = shadow_of(piece, way, floor, gx, gy)
    for row in range(shadow.first, shadow.last + 1):
        i = wrapped(row, floor.rows)
        middle, h, first, last = row_of(shadow, row, floor)
        for column in range(first, last + 1):
            e = column - middle
            q = h - shadow.a * e * e
            if q > 0:
                v = row - shadow.row
                depth[i, wrapped(column, floor.columns)] += depth_at(
                    shadow, piece, way, column - shadow.column, v, q, gx, gy, floor
                )


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
