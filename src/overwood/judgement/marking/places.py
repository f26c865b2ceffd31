"""Which ground each tree of a marking can seed, and which trees stand close to each."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from overwood.ground.units import FT_PER_M
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, edge_of
from overwood.science.light.raster import wraps

_GROUND_M = 142


def seed_reach(block: Block, rules: Rules, trees: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Which cells of the floor, counted row by row, lie within reach of the crowns of some stems."""
    crowns, raster, beyond = block.crowns, block.raster(rules), rules.number("seed_tree_reach_ft") / FT_PER_M
    wrap_x, wrap_y = wraps(edge_of(block.map))
    cells = []
    for tree in trees:
        a, b = float(crowns.a[tree]) + beyond, float(crowns.b[tree]) + beyond
        columns, across = _within(float(crowns.x[tree]), a, raster.east_m, raster.columns, wrap_x)
        rows, up = _within(float(crowns.y[tree]), b, raster.north_m, raster.rows, wrap_y)
        inside = across[None, :] ** 2 + up[:, None] ** 2 <= 1
        cells.append(np.unique((rows[:, None] * raster.columns + columns[None, :])[inside]))
    return cells


def _within(
    middle: float, reach: float, cell: float, count: int, wrapped: bool
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Rows or columns near a place, and how far their middles are from it in reaches."""
    places = np.arange(math.floor((middle - reach) / cell), math.ceil((middle + reach) / cell) + 1, dtype=np.int64)
    away = np.asarray(((places + 1 / 2) * cell - middle) / reach, dtype=np.float64)
    if wrapped:
        return places % count, away
    inside = (places >= 0) & (places < count)
    return places[inside], away[inside]


def neighbours(block: Block, trees: NDArray[np.int64], spacing_ft: float) -> list[NDArray[np.int64]]:
    """Which of some trees stand closer to each of them than a spacing, across the edges of a torus too."""
    from scipy.spatial import cKDTree

    if not spacing_ft:
        return [np.zeros(0, dtype=np.int64)] * len(trees)
    wrapped = zip((block.map.width_ft, block.map.height_ft), wraps(edge_of(block.map)), strict=True)
    around = [side if repeats else 0.0 for side, repeats in wrapped]
    places = np.array([(block.stems[tree].east_ft, block.stems[tree].north_ft) for tree in trees])
    places = np.column_stack([along % side if side else along for along, side in zip(places.T, around, strict=True)])
    near = cKDTree(places, boxsize=around).query_ball_point(places, math.nextafter(spacing_ft, 0.0))
    return [np.array([other for other in others if other != at], dtype=np.int64) for at, others in enumerate(near)]


def grounds_of(block: Block) -> NDArray[np.int64]:
    """On which ground each stem stands: squares of about 5 acres that cut up a large block."""
    ground = np.zeros(len(block.stems), np.int64)
    for part in (block.crowns.x, block.crowns.y):
        side = float(np.ptp(part)) + 1e-9
        squares = max(1, round(side / _GROUND_M))
        ground = squares * ground + (squares * (part - part.min()) // side).astype(np.int64)
    return ground
