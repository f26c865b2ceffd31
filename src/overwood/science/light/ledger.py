"""The light field kept direction by direction, so that one tree more or less costs only its own shadows."""

from __future__ import annotations

import math

import numpy as np

from overwood.science.light.crowns import Crowns
from overwood.science.light.raster import Raster
from overwood.science.light.shadow import LEVEL, Array, depth_at, kernel, pieces, row_of, seen, shadow_of, wrapped
from overwood.science.light.sky import Directions

# Through the darkest crown this much passes: enough to be dark, and to divide by.
_DARKEST = 1e-12


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
        table, owner = pieces(crowns)
        self.weight = ways[:, 3].copy()
        self.first, self.place, self.factor = _entries(table, owner, len(crowns.x), ways, raster.floor(edge), *gradient)
        self.passing = np.empty((raster.rows * raster.columns, len(ways)))
        self.standing = np.ones(len(crowns.x), dtype=np.bool_)
        self.light = np.zeros(raster.shape)
        self.settle()

    def flip(self, tree: int) -> None:
        """Cut a standing tree, or put a cut one back."""
        span = slice(self.first[tree], self.first[tree + 1])
        _turn(
            self.passing.ravel(),
            self.light.ravel(),
            self.place[span],
            self.factor[span],
            self.standing[tree],
            len(self.weight),
        )
        self.standing[tree] = not self.standing[tree]

    def weighed(self, weight: Array) -> Array:
        """The light [share of the open] by other weights of the same directions, shape (directions,)."""
        return np.asarray(self.passing @ (weight / self.weight)).reshape(self.light.shape)

    def settle(self) -> None:
        """Multiply the light anew from the trees that stand, in their order, so that changes of rounding do not pile
        up."""
        _anew(self.passing, self.light.ravel(), self.weight, self.first, self.place, self.factor, self.standing)


def _entries(table, owner, trees, ways, floor, gx, gy):  # type: ignore[no-untyped-def]
    """Each crown's shadows: where a tree's entries begin, cell times ways plus way of each, and the factor of each.

    Entries of a tree go cell by cell, because what passes is laid out so. Counted first, so that nothing is held twice.
    """
    begin = np.searchsorted(owner, np.arange(trees + 1))
    cells, nothing = floor.rows * floor.columns, (np.empty(0, np.int32), np.empty(0, np.float32))
    first = np.zeros(trees + 1, dtype=np.int64)
    _list(table, begin, ways, floor, gx, gy, first, *nothing, np.zeros(cells, np.int64), False)
    first = np.cumsum(first)
    place, factor = np.empty(first[-1], np.int32), np.empty(first[-1], np.float32)
    _list(table, begin, ways, floor, gx, gy, first, place, factor, np.zeros(cells, np.int64), True)
    return first, place, factor


@kernel
def _list(table, begin, ways, floor, gx, gy, first, place, factor, room, fill):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Count each tree's entries into ``first``, or fill them in, sorted by cell; ``room`` is all zeros before and
    after."""
    for tree in range(len(begin) - 1):
        crown = table[begin[tree] : begin[tree + 1]]
        touched = np.sort(_walk(crown, ways, floor, gx, gy, place, factor, room, False))
        if not fill:
            first[tree + 1] = room[touched].sum()
        else:
            at = first[tree]
            for cell in touched:
                at, room[cell] = at + room[cell], at
            _walk(crown, ways, floor, gx, gy, place, factor, room, True)
        room[touched] = 0


@kernel
def _walk(crown, ways, floor, gx, gy, place, factor, room, fill):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Count a crown's entries by cell and return the cells, or write each entry where its cell has room."""
    touched, count = np.empty(256, np.int64), 0
    for d in range(len(ways)):
        for piece in crown:
            shadow = shadow_of(piece, ways[d], floor, gx, gy)
            for row in range(shadow.first, shadow.last + 1):
                middle, h, start, stop = row_of(shadow, row, floor)
                for column in range(start, stop + 1):
                    cell = wrapped(row, floor.rows) * floor.columns + wrapped(column, floor.columns)
                    if fill:
                        e = column - middle
                        q, v = h - shadow.a * e * e, row - shadow.row
                        depth = (
                            depth_at(shadow, piece, ways[d], column - shadow.column, v, q, gx, gy, floor)
                            if q > 0
                            else 0.0
                        )
                        place[room[cell]] = cell * len(ways) + d
                        factor[room[cell]] = max(math.exp(-depth), _DARKEST)
                    elif room[cell] == 0:
                        if count == len(touched):
                            touched = np.concatenate((touched, np.empty(count, np.int64)))
                        touched[count] = cell
                        count += 1
                    room[cell] += 1
    return touched[:count]


@kernel
def _turn(passing, light, place, factor, standing, ways):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Take a standing tree's factors out of what passes, or multiply them in; the light changes by the difference."""
    cell, stop, change = -1, 0, 0.0
    for entry in range(len(place)):
        at = place[entry]
        if at >= stop:
            if cell >= 0:
                light[cell] += change
            cell, change = at // ways, 0.0
            stop = (cell + 1) * ways
        before = passing[at]
        after = before / factor[entry] if standing else before * factor[entry]
        passing[at] = after
        change += after - before
    if cell >= 0:
        light[cell] += change


@kernel
def _anew(passing, light, weight, first, place, factor, standing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """What passes, and the light, from the trees that stand."""
    passing[:, :] = weight
    flat = passing.ravel()
    for tree in range(len(standing)):
        if standing[tree]:
            for entry in range(first[tree], first[tree + 1]):
                flat[place[entry]] *= factor[entry]
    for cell in range(len(passing)):
        light[cell] = passing[cell].sum()
