"""Large crowns in a raster of canopy heights: tops that are highest within a reach that grows with height, and the
cells below each.

Cells are taken from the highest down. One that has a higher neighbour joins its neighbour's crown; one that has none is
a top, unless something higher stands within its reach. A raster of any size is done in tiles that overlap: a crown
belongs to the tile its top lies in, so none is counted twice and none is lost at a seam.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import tables
from overwood.science.canopy.tops import NO_CROWN, labelled

Array = NDArray[np.float64]
Heights = NDArray[np.float32]
TABLE = "science/tables/canopy.csv"
# A Gaussian is cut off at this many standard deviations.
_CUT = 4.0


@dataclass(frozen=True, kw_only=True)
class Settings:
    """How crowns are parted: lengths in metres, shares 0 to 1.

    ``smooth_m`` is the standard deviation of the smoothing; ``reach_share`` the share of the crown radius expected at a
    height within which a top must be the highest; ``crown_share`` the share of a top's height below which a cell is no
    part of its crown.
    """

    cell_m: float
    smooth_m: float
    least_height_m: float
    reach_share: float
    crown_share: float
    widest_radius_m: float

    @property
    def margin(self) -> int:
        """Cells around a tile that its crowns can depend on."""
        return math.ceil((2 * self.widest_radius_m + (_CUT + 1) * self.smooth_m) / self.cell_m) + 2


@dataclass(frozen=True)
class Crowns:
    """Crowns as arrays of shape (n,): the top's cell, the middle of the crown in cells, height [m] and area seen
    [m2]."""

    top_row: NDArray[np.int64]
    top_column: NDArray[np.int64]
    row: Array
    column: Array
    height_m: Array
    area_m2: Array

    def __len__(self) -> int:
        return len(self.height_m)

    def taken(self, which: NDArray[Any]) -> Crowns:
        """Some of the crowns, by place or by mask."""
        return Crowns(*(getattr(self, one.name)[which] for one in fields(self)))


def crown_width_m(height_m: ArrayLike) -> Array:
    """Crown width expected of a deciduous tree of a height.

    Parameters
    ----------
    height_m : float or array
        Total height [m].

    Returns
    -------
    float or array
        Crown width [m].

    Notes
    -----
    b0 + b1 height^2 (``popescu2004``, from memory); it only sets how near two tops may stand.

    Examples
    --------
    >>> round(float(crown_width_m(25.0)), 1)
    8.7
    """
    known = tables.constants(TABLE)
    return known["crown_width_at_zero_m"] + known["crown_width_per_height2"] * np.asarray(height_m, dtype=float) ** 2


def crowns_of(height_m: Heights, settings: Settings) -> Crowns:
    """Crowns of a raster of canopy heights, done as one piece.

    Parameters
    ----------
    height_m : array, shape (rows, columns)
        Height of the canopy above the ground [m]; NaN where it was not seen.
    settings : Settings
        How crowns are parted.

    Returns
    -------
    Crowns
        From the north-west on, row by row of their tops.

    Examples
    --------
    >>> ground = np.zeros((40, 40), dtype=np.float32)
    >>> ground[18:23, 18:23] = 20.0
    >>> one = crowns_of(ground, Settings(cell_m=1, smooth_m=0.7, least_height_m=5, reach_share=0.6, crown_share=0.5, widest_radius_m=10))
    >>> len(one), round(float(one.row[0])), round(float(one.column[0]))
    (1, 20, 20)
    """  # noqa: E501
    smooth = _smoothed(height_m, settings.smooth_m / settings.cell_m)
    flat = np.where(np.isnan(smooth), -np.inf, smooth).ravel()
    order = np.argsort(-flat, kind="stable")
    reach = settings.reach_share * crown_width_m(np.maximum(smooth, 0.0)) / 2 / settings.cell_m
    label, tops = labelled(
        smooth,
        order,
        np.nan_to_num(reach),
        settings.least_height_m,
        settings.crown_share,
        settings.widest_radius_m / settings.cell_m,
    )
    return _measured(height_m, label, tops, settings.cell_m)


def _smoothed(height_m: Heights, sigma: float) -> Heights:
    """Gaussian smoothing that leaves unseen cells unseen and lets none of them pull its neighbours down."""
    from scipy import ndimage

    seen = ~np.isnan(height_m)
    if sigma <= 0 or not seen.any():
        return height_m
    weight = ndimage.gaussian_filter(seen.astype(np.float32), sigma, truncate=_CUT, mode="constant")
    total = ndimage.gaussian_filter(np.where(seen, height_m, np.float32(0)), sigma, truncate=_CUT, mode="constant")
    # Places are compared between tiles, so that sums are rounded alike wherever a tile begins.
    return np.where(seen, np.round(total / np.where(seen, weight, 1), 4), np.float32(np.nan)).astype(np.float32)


def _measured(height_m: Heights, label: NDArray[np.int32], tops: NDArray[np.int64], cell_m: float) -> Crowns:
    """Middle, height (the highest cell as it was measured) and area of each crown, in the order of their tops."""
    rows, columns = np.nonzero(label > NO_CROWN)
    of, count = label[rows, columns].astype(np.int64) - 1, len(tops)
    cells = np.bincount(of, minlength=count).astype(np.float64)
    highest = np.zeros(count)
    np.maximum.at(highest, of, height_m[rows, columns].astype(np.float64))
    middle = [np.bincount(of, weights=along, minlength=count) / np.maximum(cells, 1) for along in (rows, columns)]
    top_row, top_column = np.divmod(tops, label.shape[1])
    crowns = Crowns(top_row, top_column, middle[0], middle[1], highest, cells * float(cell_m) ** 2)
    return crowns.taken(np.argsort(tops, kind="stable"))


def tiles(shape: tuple[int, int], side: int, margin: int) -> Iterator[tuple[tuple[slice, slice], tuple[slice, slice]]]:
    """The tiles of a raster: the cells each must see, and those whose tops are its own.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns of the raster.
    side : int
        Cells on the side of a tile.
    margin : int
        Cells around it that its crowns can depend on.

    Returns
    -------
    iterator of pairs of slices
        Seen rows and columns, own rows and columns.

    Examples
    --------
    >>> [own for _, own in tiles((3, 5), 3, 1)]
    [(slice(0, 3, None), slice(0, 3, None)), (slice(0, 3, None), slice(3, 5, None))]
    """
    rows, columns = shape
    for top in range(0, rows, side):
        for left in range(0, columns, side):
            own = slice(top, min(top + side, rows)), slice(left, min(left + side, columns))
            seen = (
                slice(max(own[0].start - margin, 0), min(own[0].stop + margin, rows)),
                slice(max(own[1].start - margin, 0), min(own[1].stop + margin, columns)),
            )
            yield seen, own


def by_tiles(height_m: Heights, settings: Settings, side: int) -> Crowns:
    """Crowns of a raster of any size, tile by tile; no crown is counted twice or lost at a seam.

    Parameters
    ----------
    height_m : array, shape (rows, columns)
        Height of the canopy above the ground [m]; NaN where it was not seen. It may lie on the disk (a memory map).
    settings : Settings
        How crowns are parted.
    side : int
        Cells on the side of a tile.

    Returns
    -------
    Crowns
        From the north-west on, row by row of their tops.
    """
    parts = []
    for seen, own in tiles((height_m.shape[0], height_m.shape[1]), side, settings.margin):
        part = crowns_of(np.asarray(height_m[seen], dtype=np.float32), settings)
        rows, columns = part.top_row + seen[0].start, part.top_column + seen[1].start
        mine = (rows >= own[0].start) & (rows < own[0].stop) & (columns >= own[1].start) & (columns < own[1].stop)
        moved = Crowns(
            rows, columns, part.row + seen[0].start, part.column + seen[1].start, part.height_m, part.area_m2
        )
        parts.append(moved.taken(mine))
    whole = Crowns(*(np.concatenate([getattr(part, one.name) for part in parts]) for one in fields(Crowns)))
    return whole.taken(np.lexsort((whole.top_column, whole.top_row)))
