"""The light field below mapped crowns: every crown's shadow is added straight to a raster, direction by direction.

Two paths give the same answer: compiled (numba) for use, plain numpy (``plain``) to check it. Trees are put in one
order and directions in fixed blocks, so that neither the order of the list nor the number of threads changes a bit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from overwood.science.light.crowns import Crowns
from overwood.science.light.raster import Raster
from overwood.science.light.shadow import (
    LEVEL,
    beside,
    depth_at,
    kernel,
    laid_in,
    pieces,
    row_of,
    seen,
    shadow_of,
    wrapped,
)
from overwood.science.light.sky import Directions

Array = NDArray[np.float64]
_BLOCKS = 16
# Cells of a plane beyond each side of the block.
_MARGIN = 16
# A deeper shadow than this lets less than 1e-27 pass.
_BLACK = 64.0


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
    everything = np.ones(len(crowns.x), dtype=np.bool_)
    return light_fields(crowns, [(everything, directions)], raster, edge=edge, gradient=gradient)[0]


def light_fields(
    crowns: Crowns,
    states: Sequence[tuple[NDArray[np.bool_], Directions]],
    raster: Raster,
    *,
    edge: str,
    gradient: tuple[float, float] = LEVEL,
) -> list[Array]:
    """The same for several states of a block, each holding the one before it: a shadow is laid once for all.

    Parameters
    ----------
    crowns : Crowns
        Every crown of the block.
    states : sequence of (mask, Directions)
        Which crowns stand, and the light they stand in; the directions differ in nothing but their weights.
    raster : Raster
        The cells of the block.
    edge : str
        As for ``light_field``.
    gradient : tuple of float
        Rise of the ground towards east and north [m/m].

    Returns
    -------
    list of array
        The field of each state, shape (rows, columns).
    """
    tables, before = [], np.zeros(len(crowns.x), dtype=np.bool_)
    for standing, _ in states:
        tables.append(pieces(crowns.taken(standing & ~before).ordered())[0])
        before = standing
    stops = np.cumsum([len(table) for table in tables])
    ways = [seen(directions, gradient) for _, directions in states]
    weights = np.column_stack([way[:, 3] for way in ways])
    ends = np.linspace(0, len(weights), _BLOCKS + 1).astype(np.int64)
    table, floor = np.concatenate(tables), raster.floor(edge)

    def laid(block: int) -> Array:
        part, some = np.zeros((len(states), *raster.shape)), slice(ends[block], ends[block + 1])
        _block(part, table, stops, ways[0][some], weights[some], floor, *gradient)
        return part

    light = np.zeros((len(states), *raster.shape))
    with ThreadPoolExecutor() as pool:
        for part in pool.map(laid, range(_BLOCKS)):
            light += part
    return list(light)


@beside
def _block(part, crowns, stops, ways, weights, floor, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Light of one block of directions, one plane of optical depth at a time, after the crowns of each state.

    The plane has a margin, so that a shadow that leaves the block a little needs no thought cell by cell.
    """
    plane = np.zeros((floor.rows + 2 * _MARGIN, floor.columns + 2 * _MARGIN))
    for d in range(len(ways)):
        plane[:, :] = 0.0
        for state in range(len(stops)):
            for t in range(stops[state - 1] if state else 0, stops[state]):
                _shade(plane, crowns[t], ways[d], floor, gx, gy)
            _fold(plane, floor)
            weight = weights[d, state]
            for i in range(floor.rows):
                depths, light = plane[i + _MARGIN, _MARGIN:], part[state, i]
                for j in range(floor.columns):
                    light[j] += weight * _passing(depths[j])


# The library's exponential is called cell by cell; this one is laid into the loop, several cells at a time.
@laid_in
def _passing(depth):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """exp(-depth) as the 256th power of nine terms of its series at a 256th of the depth; off by less than 1e-13."""
    x = -min(depth, _BLACK) / 256
    series = 1 + x * (1 / 9)
    series = 1 + x * series * (1 / 8)
    series = 1 + x * series * (1 / 7)
    series = 1 + x * series * (1 / 6)
    series = 1 + x * series * (1 / 5)
    series = 1 + x * series * (1 / 4)
    series = 1 + x * series * (1 / 3)
    series = 1 + x * series * (1 / 2)
    series = 1 + x * series
    power = series * series
    power = power * power
    power = power * power
    power = power * power
    power = power * power
    power = power * power
    power = power * power
    return power * power


# Laid into the loop over crowns, where what is the same for all of them is worked out once.
@laid_in
def _shade(plane, piece, way, floor, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Add one piece's optical depth in one direction.

    A whole crown is laid as rows of one length, those at its tips with cells that get nothing: cheaper than the ends
    of each row.
    """
    shadow = shadow_of(piece, way, floor, gx, gy)
    inverse_a = 1 / shadow.a
    half = math.sqrt(inverse_a)
    side = abs(shadow.lean) * max(shadow.row - shadow.first, shadow.last - shadow.row) + half + 1
    rows_fit = shadow.first >= -_MARGIN and shadow.last < floor.rows + _MARGIN
    columns_fit = shadow.column - side >= -_MARGIN and shadow.column + side < floor.columns + _MARGIN
    if piece[7] > 0 or piece[8] != 0 or not (rows_fit and columns_fit):
        _shade_any(plane, shadow, piece, way, floor, gx, gy)
        return
    length = int(2 * half) + 1
    scale = piece[6] * shadow.chord_m * math.sqrt(shadow.a)
    for row in range(shadow.first, shadow.last + 1):
        v = row - shadow.row
        middle, h = shadow.column + shadow.lean * v, max(1 - shadow.d * v * v, 0.0) * inverse_a
        first = math.ceil(middle - half)
        for column in range(first, first + length):
            e = column - middle
            plane[row + _MARGIN, column + _MARGIN] += scale * math.sqrt(max(h - e * e, 0.0))


@kernel
def _shade_any(plane, shadow, piece, way, floor, gx, gy):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Add the optical depth of a piece of any kind, however far its shadow reaches."""
    for row in range(shadow.first, shadow.last + 1):
        line, v = plane[wrapped(row, floor.rows) + _MARGIN], row - shadow.row
        middle, h, first, last = row_of(shadow, row, floor)
        for column in range(first, last + 1):
            e = column - middle
            q = h - shadow.a * e * e
            if q > 0:
                line[wrapped(column, floor.columns) + _MARGIN] += depth_at(
                    shadow, piece, way, column - shadow.column, v, q, gx, gy, floor
                )


@kernel
def _fold(plane, floor):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Where the block repeats, bring what fell on the margin back into it, once; from the outer end inward, so that a
    block smaller than the margin is crossed as often as it must be."""
    if floor.wrap_x:
        for line in plane:
            for k in range(_MARGIN):
                line[k + floor.columns] += line[k]
                line[k] = 0.0
            for k in range(_MARGIN - 1, -1, -1):
                line[k + _MARGIN] += line[k + _MARGIN + floor.columns]
                line[k + _MARGIN + floor.columns] = 0.0
    if floor.wrap_y:
        # Cell by cell: a row added at once brings the compiler's check of shapes, two CPU seconds of its time.
        for k in range(_MARGIN):
            _bring(plane[k], plane[k + floor.rows])
        for k in range(_MARGIN - 1, -1, -1):
            _bring(plane[k + _MARGIN + floor.rows], plane[k + _MARGIN])


@kernel
def _bring(line, other):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Add a row to another and empty it."""
    for cell in range(len(line)):
        other[cell] += line[cell]
        line[cell] = 0.0


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
