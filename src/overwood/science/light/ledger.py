"""The light field kept direction by direction, so that one tree more or less costs only its own shadows."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overwood.science.light.crowns import Crowns
from overwood.science.light.raster import Raster
from overwood.science.light.shadow import LEVEL, Array, depth_at, kernel, pieces, row_of, seen, shadow_of, wrapped
from overwood.science.light.sky import Directions

# Through the darkest crown this much passes: enough to be dark, and to divide by.
_DARKEST = 1e-12


class Shadows(NamedTuple):
    """Each crown's shadows: where a tree's entries begin, how many each way has of them, cell and factor of each; and
    the cells that a tree ever dims, each once."""

    first: NDArray[np.int64]
    counts: NDArray[np.uint16]
    cell: NDArray[np.unsignedinteger | np.signedinteger]
    factor: NDArray[np.float32]
    over: NDArray[np.int64]
    touched: NDArray[np.unsignedinteger | np.signedinteger]


class Ledger:
    """The field with every direction kept, so that taking or giving back one tree costs only its own shadows.

    Notes
    -----
    Each crown's shadows are worked out once, as the factor by which it dims a direction at a cell. Setting a tree
    multiplies what passes by its factors, taking it divides; ``settle`` multiplies all anew in one order, so that the
    same trees give the same light to the bit however they came to stand.

    Examples
    --------
    >>> from overwood.science.light.sky import sky_directions
    >>> one = Crowns(*(np.array([v]) for v in (5.0, 5.0, 10.0, 2.0, 2.0, 3.0, 0.4)))
    >>> book = Ledger(one, sky_directions(40, "overcast"), Raster.near(10, 10, 2), edge="torus")
    >>> book.flip(0)
    >>> float(book.light.mean().round(9))
    1.0
    """

    def __init__(
        self,
        crowns: Crowns,
        directions: Directions,
        raster: Raster,
        *,
        edge: str,
        gradient: tuple[float, float] = LEVEL,
    ) -> None:
        ways = seen(directions, gradient)
        self.weight = ways[:, 3].copy()
        self.shadows = _shadows(crowns, ways, raster.floor(edge), *gradient)
        self.passing = np.empty((len(ways), raster.rows * raster.columns))
        self.standing = np.ones(len(crowns.x), dtype=np.bool_)
        self.light = np.zeros(raster.shape)
        self.settle()

    def flip(self, tree: int) -> None:
        """Cut a standing tree, or put a cut one back."""
        turn(self.shadows, self.passing, self.light.ravel(), tree, self.standing[tree])
        self.standing[tree] = not self.standing[tree]

    def weighed(self, weight: Array) -> Array:
        """The light [share of the open] by other weights of the same directions, shape (directions,)."""
        return np.asarray((weight / self.weight) @ self.passing).reshape(self.light.shape)

    def settle(self) -> None:
        """Multiply the light anew from the trees that stand, in their order, so that changes of rounding do not pile
        up."""
        _anew(self.shadows, self.passing, self.light.ravel(), self.weight, self.standing)


def _shadows(crowns, ways, floor, gx, gy):  # type: ignore[no-untyped-def]
    """Each crown's shadows, tree by tree and way by way. Counted first, so that nothing is held twice."""
    table, owner = pieces(crowns)
    trees, cells = len(crowns.x), floor.rows * floor.columns
    begin = np.searchsorted(owner, np.arange(trees + 1))
    kind = np.uint16 if cells <= np.iinfo(np.uint16).max else np.int32
    counts = np.zeros((trees, len(ways)), np.uint16)
    touched = np.zeros(trees, np.int64)
    _count(table, begin, ways, floor, gx, gy, counts, touched, np.full(cells, -1, np.int64))
    first, over = (np.concatenate(([0], np.cumsum(part))) for part in (counts.sum(axis=1, dtype=np.int64), touched))
    found = Shadows(
        first, counts, np.empty(first[-1], kind), np.empty(first[-1], np.float32), over, np.empty(over[-1], kind)
    )
    _fill(table, begin, ways, floor, gx, gy, found, np.full(cells, -1, np.int64))
    return found


@kernel
def _count(table, begin, ways, floor, gx, gy, counts, touched, seen_by):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Entries of each tree and way, and cells that a tree ever dims; ``seen_by`` is the last tree seen at each cell."""
    for tree in range(len(counts)):
        for d in range(len(ways)):
            for at in range(begin[tree], begin[tree + 1]):
                shadow = shadow_of(table[at], ways[d], floor, gx, gy)
                for row in range(shadow.first, shadow.last + 1):
                    _, _, start, stop = row_of(shadow, row, floor)
                    line = wrapped(row, floor.rows) * floor.columns
                    for column in range(start, stop + 1):
                        cell = line + wrapped(column, floor.columns)
                        counts[tree, d] += 1
                        if seen_by[cell] != tree:
                            seen_by[cell] = tree
                            touched[tree] += 1


@kernel
def _fill(table, begin, ways, floor, gx, gy, found, seen_by):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Write what ``_count`` counted, in the same order."""
    entry, over = 0, 0
    for tree in range(len(found.counts)):
        for d in range(len(ways)):
            for at in range(begin[tree], begin[tree + 1]):
                shadow = shadow_of(table[at], ways[d], floor, gx, gy)
                for row in range(shadow.first, shadow.last + 1):
                    middle, h, start, stop = row_of(shadow, row, floor)
                    line, v = wrapped(row, floor.rows) * floor.columns, row - shadow.row
                    for column in range(start, stop + 1):
                        e, cell = column - middle, line + wrapped(column, floor.columns)
                        q, depth = h - shadow.a * e * e, 0.0
                        if q > 0:
                            depth = depth_at(shadow, table[at], ways[d], column - shadow.column, v, q, gx, gy, floor)
                        found.cell[entry], found.factor[entry] = cell, max(math.exp(-depth), _DARKEST)
                        entry += 1
                        if seen_by[cell] != tree:
                            seen_by[cell] = tree
                            found.touched[over] = cell
                            over += 1


@kernel
def turn(shadows, passing, light, tree, standing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Take a standing tree's factors out of what passes, or multiply them in; the light changes by the difference."""
    cells, factors, entry = shadows.cell, shadows.factor, shadows.first[tree]
    for d in range(len(passing)):
        way, count = passing[d], np.int64(shadows.counts[tree, d])
        # Counted from nought, so that no place is looked at for being negative: a third less time.
        for at in range(count):
            cell, factor = cells[entry + at], np.float64(factors[entry + at])
            before = way[cell]
            after = before / factor if standing else before * factor
            way[cell] = after
            light[cell] += after - before
        entry += count


@kernel
def _anew(shadows, passing, light, weight, standing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """What passes, and the light, from the trees that stand."""
    light[:] = 0.0
    for d in range(len(passing)):
        passing[d, :] = weight[d]
    for tree in range(len(standing)):
        if standing[tree]:
            entry = shadows.first[tree]
            for d in range(len(passing)):
                stop = entry + shadows.counts[tree, d]
                for at in range(entry, stop):
                    passing[d, shadows.cell[at]] *= shadows.factor[at]
                entry = stop
    for d in range(len(passing)):
        light += passing[d]
