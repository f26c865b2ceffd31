"""The light field kept direction by direction, so that one tree more or less costs only its own shadows."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overwood.science.light.crowns import Crowns
from overwood.science.light.raster import Raster
from overwood.science.light.shadow import (
    LEVEL,
    Array,
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

# Optical depth is kept in whole steps of a unit: sums of them are exact, and what passes is looked up. Light is off by
# less than a hundredth of a percent point. The darkest crown lets a ten-millionth pass.
_STEPS, _DARKEST, _DEPTHS = 256, 16, 2**16
# A tree that takes less than this of a cell's open light hardly dims it.
_HARDLY = 0.005
# Parts of the sky by azimuth; each is kept from low to high. With six a crown over a place takes the fewest pieces of
# memory, 1.75 in place of 2.4.
_SECTORS = 6


class Shadows(NamedTuple):
    """Each crown's shadows, tree by tree and cell by cell: where a tree's cells begin, where those it hardly dims begin
    among them, and where its entries begin; of each cell how many entries; of each entry its way (upper sixteen bits)
    and its optical depth in steps (lower); and of each way its weight, of each depth what passes.
    """

    over: NDArray[np.int64]
    strong: NDArray[np.int64]
    first: NDArray[np.int64]
    touched: NDArray[np.unsignedinteger]
    counts: NDArray[np.uint16]
    entries: NDArray[np.uint32]
    weight: Array
    passes: NDArray[np.float32]


class Ledger:
    """The field with every direction kept, so that taking or giving back one tree costs only its own shadows.

    Notes
    -----
    Each crown's shadows are worked out once, as whole steps of optical depth by cell and direction. Setting a tree adds
    its depths, taking it subtracts them, so the same trees give the same depths however they came to stand; the light
    changes by the difference of what passes, and ``settle`` sums it anew. All that is kept of a cell lies together.

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
        self.weight, self._order = ways[:, 3].copy(), _neighbors_together(ways)
        self.standing = np.ones(len(crowns.x), dtype=np.bool_)
        shadows = _shadows(crowns, ways[self._order], raster.floor(edge), *gradient)
        self.shadows, self.depth = _fitted(shadows, raster)
        self.light = np.zeros(raster.shape)
        self.settle()

    def flip(self, tree: int) -> None:
        """Cut a standing tree, or put a cut one back."""
        turn(self.shadows, self.depth, self.light.ravel(), tree, self.standing[tree])
        self.standing[tree] = not self.standing[tree]

    def weighed(self, weight: Array) -> Array:
        """The light [share of the open] by other weights of the same directions, shape (directions,)."""
        return _weighed(self.depth, weight[self._order], self.shadows.passes).reshape(self.light.shape)

    def settle(self) -> None:
        """Sum the light anew, so that changes of rounding do not pile up."""
        self.light[:] = self.weighed(self.weight)


def _neighbors_together(ways: Array) -> NDArray[np.intp]:
    """An order of directions in which those that a crown hides from a place lie near each other in memory."""
    sector = np.floor(_SECTORS * (np.arctan2(ways[:, 1], ways[:, 0]) / math.tau % 1))
    return np.lexsort((ways[:, 2], sector))


def _shadows(crowns, ways, floor, gx, gy):  # type: ignore[no-untyped-def]
    """Each crown's shadows. Counted first, so that nothing is held twice."""
    table, owner = pieces(crowns)
    trees, cells = len(crowns.x), floor.rows * floor.columns
    begin = np.searchsorted(owner, np.arange(trees + 1))
    entries, touched = np.zeros((2, trees), np.int64)
    _count(table, begin, ways, floor, gx, gy, entries, touched, np.full(cells, -1, np.int64))
    first, over = (np.concatenate(([0], np.cumsum(part))) for part in (entries, touched))
    kind = np.uint16 if cells <= np.iinfo(np.uint16).max else np.uint32
    shadows = Shadows(
        over, np.zeros(trees, np.int64), first, np.empty(over[-1], kind), np.empty(over[-1], np.uint16),
        np.empty(first[-1], np.uint32), ways[:, 3].copy(), _passes(_STEPS),
    )  # fmt: skip
    room = np.empty((3, entries.max(initial=0)), np.int64), np.zeros((2, cells), np.int64), np.zeros(cells)
    most = len(ways) * int(np.diff(begin).max(initial=0)) + 1
    _fill(table, begin, ways, floor, gx, gy, shadows, *room, np.zeros((2, 2 * most), np.int64))
    return shadows


def _passes(steps: int) -> NDArray[np.float32]:
    """What passes of each depth in steps, so many to a unit."""
    return np.exp(-np.arange(_DEPTHS) / steps).astype(np.float32)


def _fitted(shadows: Shadows, raster: Raster) -> tuple[Shadows, NDArray[np.uint16]]:
    """Shadows, and the depth of each cell and way with every tree standing; in wider steps where crowns stand so thick
    that a sum would not fit."""
    summed = np.zeros((raster.rows * raster.columns, len(shadows.weight)), np.uint32)
    _add(shadows, summed)
    wider = max(0, int(summed.max(initial=0)).bit_length() - (_DEPTHS - 1).bit_length())
    if not wider:
        return shadows, summed.astype(np.uint16)
    ways, depths = shadows.entries & ~np.uint32(_DEPTHS - 1), shadows.entries & np.uint32(_DEPTHS - 1)
    coarse = shadows._replace(entries=(ways | depths >> wider).astype(np.uint32), passes=_passes(_STEPS >> wider))
    summed[:] = 0
    _add(coarse, summed)
    return coarse, summed.astype(np.uint16)


@kernel
def _count(table, begin, ways, floor, gx, gy, entries, touched, seen_by):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Entries and cells of each tree; ``seen_by`` is the last tree seen at each cell."""
    for tree in range(len(entries)):
        for d in range(len(ways)):
            for at in range(begin[tree], begin[tree + 1]):
                shadow = shadow_of(table[at], ways[d], floor, gx, gy)
                for row in range(shadow.first, shadow.last + 1):
                    _, _, start, stop = row_of(shadow, row, floor)
                    line = wrapped(row, floor.rows) * floor.columns
                    for column in range(start, stop + 1):
                        cell = line + wrapped(column, floor.columns)
                        entries[tree] += 1
                        if seen_by[cell] != tree:
                            seen_by[cell] = tree
                            touched[tree] += 1


@kernel
def _fill(table, begin, ways, floor, gx, gy, shadows, room, hits, dims, heaps):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Write what ``_count`` counted: each tree's entries way by way into ``room``, and from there cell by cell."""
    for tree in range(len(shadows.strong)):
        entries = 0
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
                        room[0, entries], room[1, entries] = cell, d
                        room[2, entries] = round(_STEPS * min(depth, _DARKEST))
                        hits[0, cell] += 1
                        dims[cell] += ways[d, 3] * (1 - math.exp(-depth))
                        entries += 1
        _sort(shadows, tree, room[:, :entries], hits, dims, heaps)


@kernel
def _sort(shadows, tree, room, hits, dims, heaps):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """One tree's entries cell by cell: cells that it hardly dims last, and among both those of like many entries
    together, for a loop of the same length as the one before is foreseen by the machine."""
    count, most = hits[0], heaps.shape[1] // 2
    heaps[:] = 0
    for at in range(room.shape[1]):
        cell = room[0, at]
        if hits[1, cell] != -1:
            heap = count[cell] + (most if dims[cell] < _HARDLY else 0)
            heaps[0, heap] += 1
            heaps[1, heap] += count[cell]
            hits[1, cell] = -1
    over, entry = shadows.over[tree], shadows.first[tree]
    for heap in range(heaps.shape[1]):
        if heap == most:
            shadows.strong[tree] = over
        cells, inside = heaps[0, heap], heaps[1, heap]
        heaps[0, heap], heaps[1, heap] = over, entry
        over, entry = over + cells, entry + inside
    for at in range(room.shape[1]):
        cell = room[0, at]
        if hits[1, cell] == -1:
            heap = count[cell] + (most if dims[cell] < _HARDLY else 0)
            shadows.touched[heaps[0, heap]], shadows.counts[heaps[0, heap]] = cell, count[cell]
            hits[1, cell] = heaps[1, heap]
            heaps[0, heap] += 1
            heaps[1, heap] += count[cell]
        place = hits[1, cell]
        shadows.entries[place] = _DEPTHS * room[1, at] + room[2, at]
        hits[1, cell] += 1
    for at in range(room.shape[1]):
        cell = room[0, at]
        hits[0, cell], hits[1, cell], dims[cell] = 0, 0, 0.0


@kernel
def turn(shadows, depth, light, tree, standing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Take a standing tree's depths out of the sums, or add them; the light changes by the difference."""
    entry = shadows.first[tree]
    for at in range(shadows.over[tree], shadows.over[tree + 1]):
        cell, count = shadows.touched[at], shadows.counts[at]
        light[cell] += change(shadows, depth[cell], entry, count, standing)
        entry += count


# Laid into the loops over cells: called, it would cost four times as much.
@laid_in
def change(shadows, depth, entry, count, standing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """What the light of one cell changes by as a tree's entries there are taken out or added."""
    changed, start = 0.0, np.uint64(entry)
    # No place is below nought, and none is looked at for being so: a third less time.
    for at in range(start, start + np.uint64(count)):
        packed = shadows.entries[at]
        way, steps = packed >> np.uint32(16), np.uint16(packed)
        before = depth[way]
        after = np.uint16(before - steps) if standing else np.uint16(before + steps)
        depth[way] = after
        changed += shadows.weight[way] * (np.float64(shadows.passes[after]) - np.float64(shadows.passes[before]))
    return changed


@kernel
def _add(shadows, summed):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Depths of every tree, summed by cell and way."""
    entry = 0
    for at in range(len(shadows.touched)):
        row = summed[shadows.touched[at]]
        for _ in range(shadows.counts[at]):
            row[shadows.entries[entry] >> 16] += shadows.entries[entry] & (_DEPTHS - 1)
            entry += 1


@kernel
def _weighed(depth, weight, passes):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Light of each cell by its depths and the weights of the ways."""
    light = np.zeros(len(depth))
    for cell in range(len(depth)):
        for way in range(len(weight)):
            light[cell] += weight[way] * passes[depth[cell, way]]
    return light
