"""The light field by brute force, compiled: every ray against every crown, with no thought of where a shadow can fall."""

from __future__ import annotations

import math

import numba
import numpy as np

from overwood.science.light import annealing
from overwood.science.light.ledger import turn
from overwood.science.light.shadow import LEVEL, depth_at, pieces, row_of, seen, shadow_of


@numba.njit(cache=True, error_model="numpy", fastmath={"contract"})
def _light(crowns, ways, floor):
    light = np.zeros((floor.rows, floor.columns))
    for d in range(len(ways)):
        shadows = [shadow_of(piece, ways[d], floor, 0.0, 0.0) for piece in crowns]
        for i in range(floor.rows):
            for j in range(floor.columns):
                depth = 0.0
                for t in range(len(crowns)):
                    s = shadows[t]
                    v = i - s.row
                    e = j - s.column - s.lean * v
                    q = 1 - s.d * v * v - s.a * e * e
                    if q > 0:
                        depth += depth_at(s, crowns[t], ways[d], j - s.column, v, q, 0.0, 0.0, floor)
                light[i, j] += ways[d, 3] * math.exp(-depth)
    return light


def light(crowns, ways, raster):
    """Share of open light of a block with open edges on level ground."""
    return _light(pieces(crowns.ordered())[0], seen(ways, LEVEL), raster.floor("open"))


@numba.njit(error_model="numpy", fastmath={"contract"})
def outlines(table, ways, floor):
    """Cells of every crown's shadow in every direction, counted from the outlines alone: what the field does beside its cells."""
    cells = 0
    for d in range(len(ways)):
        for piece in table:
            shadow = shadow_of(piece, ways[d], floor, 0.0, 0.0)
            for row in range(shadow.first, shadow.last + 1):
                _, _, first, last = row_of(shadow, row, floor)
                cells += max(last - first + 1, 0)
    return cells


@numba.njit(error_model="numpy", fastmath={"contract"})
def flip_by_depth(pieces_of_tree, ways, floor, depth, light, sign):
    """One tree more or less with nothing kept of its shadows: every outline and chord anew, an exponential before and after."""
    for d in range(len(ways)):
        for piece in pieces_of_tree:
            shadow = shadow_of(piece, ways[d], floor, 0.0, 0.0)
            for row in range(shadow.first, shadow.last + 1):
                middle, h, first, last = row_of(shadow, row, floor)
                i, v = row % floor.rows, row - shadow.row
                for column in range(first, last + 1):
                    j, e = column % floor.columns, column - middle
                    q = h - shadow.a * e * e
                    if q > 0:
                        before = math.exp(-depth[d, i, j] * 1e-9)
                        depth[d, i, j] += sign * round(
                            1e9 * depth_at(shadow, piece, ways[d], column - shadow.column, v, q, 0.0, 0.0, floor)
                        )
                        light[i, j] += ways[d, 3] * (math.exp(-depth[d, i, j] * 1e-9) - before)


@numba.njit
def turn_all(shadows, depth, light, trees):
    """Each tree's light out and in again, as the search's own loop does it."""
    for out in (True, False):
        for tree in trees:
            turn(shadows, depth, light, tree, out)


@numba.njit
def flip_all(terms, now, trees):
    """The same with every sum that the search judges by."""
    for _ in range(2):
        for tree in trees:
            annealing.flip(terms, now, tree)
