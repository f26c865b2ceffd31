"""The light field by plain numpy, crown by crown and ray by ray: slow, and independent of the compiled path."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.science.light.crowns import Crowns
from overwood.science.light.raster import Raster, wraps
from overwood.science.light.shadow import HIDDEN, LEVEL, Array
from overwood.science.light.sky import Directions


def light_field_plain(crowns: Crowns, directions: Directions, raster: Raster, *, edge: str, gradient: tuple[float, float] = LEVEL) -> Array:
    """The same field by plain numpy, crown by crown and ray by ray: slow, and independent of the compiled path.

    Parameters
    ----------
    crowns : Crowns
        The crowns.
    directions : Directions
        Where light comes from.
    raster : Raster
        The cells of the block.
    edge : str
        One of EDGES.
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
    >>> from overwood.science.light.field import light_field
    >>> from overwood.science.light.sky import sky_directions
    >>> one = Crowns(*(np.array([v]) for v in (5.0, 5.0, 10.0, 2.0, 2.0, 3.0, 0.4)))
    >>> ways = sky_directions(40, "overcast")
    >>> cells = Raster.near(10, 9, 2)
    >>> bool(np.allclose(light_field(one, ways, cells, edge="torus"), light_field_plain(one, ways, cells, edge="torus")))
    True
    """
    px, py = raster.middles()
    light = np.zeros(raster.shape)
    for dx, dy, dz, weight in zip(directions.x, directions.y, directions.z, directions.weight, strict=True):
        clear = dz - gradient[0] * dx - gradient[1] * dy
        if clear <= HIDDEN:
            continue
        tau = np.zeros(raster.shape)
        for tree in range(len(crowns.x)):
            for east, north in _copies(crowns, tree, (dx, dy, clear), raster.width_m, raster.height_m, edge):
                tau += _depth(crowns, tree, px[None, :] - east, py[:, None] - north, (dx, dy, dz), gradient)
        light += weight * np.exp(-tau)
    return light


def _copies(
    crowns: Crowns, tree: int, way: tuple[float, float, float], width: float, height: float, edge: str
) -> list[tuple[float, float]]:
    """Where copies of a crown stand whose shadow can reach the plot; the way's last part is its rise above the ground."""
    x, y = float(crowns.x[tree]), float(crowns.y[tree])
    dx, dy, clear = way
    top = crowns.centre[tree] + 2 * max(crowns.c[tree], crowns.low[tree], crowns.a[tree], crowns.b[tree])
    reach = top / clear * math.hypot(dx, dy) + 2 * max(crowns.a[tree], crowns.b[tree])
    across, up = (math.ceil(reach / size) + 1 if wrapped else 0 for size, wrapped in zip((width, height), wraps(edge), strict=True))
    return [(x + i * width, y + j * height) for i in range(-across, across + 1) for j in range(-up, up + 1)]


def _depth(
    crowns: Crowns, tree: int, ox: NDArray[Any], oy: NDArray[Any], way: tuple[float, float, float], gradient: tuple[float, float]
) -> Array:
    """Optical depth of the ray from each point in a crown; offsets are point minus crown place, level."""
    above = gradient[0] * ox + gradient[1] * oy - crowns.centre[tree]
    level = -above / way[2]
    first, last = _ends(crowns, tree, crowns.c[tree], (ox, oy, above), way)
    upper = np.maximum(last - np.maximum(first, level), 0.0)
    first, last = _ends(crowns, tree, crowns.low[tree], (ox, oy, above), way)
    path = upper + np.maximum(np.minimum(last, level) - first, 0.0)
    if crowns.fixed[tree] > 0:
        return np.where(path > 0, crowns.fixed[tree], 0.0)
    return np.asarray(path * crowns.k[tree])


def _ends(
    crowns: Crowns, tree: int, c: float, offset: tuple[NDArray[Any], NDArray[Any], NDArray[Any]], way: tuple[float, float, float]
) -> tuple[Array, Array]:
    """How far along the ray an ellipsoid begins and ends; alike where the ray misses it."""
    axes = (crowns.a[tree], crowns.b[tree], c)
    sx, sy, sz = (part / axis for part, axis in zip(offset, axes, strict=True))
    vx, vy, vz = (part / axis for part, axis in zip(way, axes, strict=True))
    vv = vx**2 + vy**2 + vz**2
    along = sx * vx + sy * vy + sz * vz
    half = np.sqrt(np.maximum(along**2 - vv * (sx**2 + sy**2 + sz**2 - 1), 0.0))
    return (-along - half) / vv, (-along + half) / vv
