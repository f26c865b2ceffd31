"""The compiled part of parting crowns: which cell is a top, and which crown each cell belongs to."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from overwood.science import compiling

NO_CROWN = 0
kernel = compiling.kernel("canopy", error_model="numpy")


def labelled(
    height: NDArray[np.float32],
    order: NDArray[np.int64],
    reach: NDArray[np.float64],
    least: float,
    share: float,
    widest: float,
) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """The crown of each cell and the cell of each crown's top.

    Parameters
    ----------
    height : array, shape (rows, columns)
        Smoothed height [m]; NaN where it was not seen.
    order : array of int, shape (cells,)
        Cells from the highest down, of equal ones the more northern and western first.
    reach : array, shape (rows, columns)
        Cells within which a top must be the highest.
    least : float
        Height from which a cell can belong to a crown [m].
    share : float
        Share of its top's height below which a cell is no part of a crown, 0 to 1.
    widest : float
        Largest distance of a cell from its top [cells].

    Returns
    -------
    tuple of arrays
        Labels of shape (rows, columns), 0 for none and 1 for the first of the tops; tops as places in the raster, from
        the highest down.

    Examples
    --------
    >>> row = np.array([[6.0, 9.0, 7.0, 8.0, 1.0]], dtype=np.float32)
    >>> label, tops = labelled(row, np.array([1, 3, 2, 0, 4]), np.full((1, 5), 1.0), 2.0, 0.5, 3.0)
    >>> label.tolist(), tops.tolist()
    ([[1, 1, 1, 2, 0]], [1, 3])
    """
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return _labels(height, order, rank.reshape(height.shape), reach, least, share, widest)


@kernel
def _higher_neighbour(rank, row, column):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """The highest of the eight cells around one that are higher; itself where none is."""
    best, at = rank[row, column], (row, column)
    for i in range(max(row - 1, 0), min(row + 2, rank.shape[0])):
        for j in range(max(column - 1, 0), min(column + 2, rank.shape[1])):
            if rank[i, j] < best:
                best, at = rank[i, j], (i, j)
    return at


@kernel
def _highest_within(rank, row, column, reach):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """The highest cell within a reach; itself where none is higher."""
    best, at, cells = rank[row, column], (row, column), math.ceil(reach)
    for i in range(max(row - cells, 0), min(row + cells + 1, rank.shape[0])):
        for j in range(max(column - cells, 0), min(column + cells + 1, rank.shape[1])):
            if rank[i, j] < best and (i - row) ** 2 + (j - column) ** 2 <= reach * reach:
                best, at = rank[i, j], (i, j)
    return at


@kernel
def _labels(height, order, rank, reach, least, share, widest):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    rows, columns = height.shape
    label, tops, count = np.zeros((rows, columns), dtype=np.int32), np.empty(len(order), dtype=np.int64), 0
    for cell in order:
        row, column = cell // columns, cell % columns
        if not height[row, column] >= least:
            break
        above = _higher_neighbour(rank, row, column)
        if above == (row, column):
            above = _highest_within(rank, row, column, reach[row, column])
            if above == (row, column):
                tops[count] = cell
                count += 1
                label[row, column] = count
                continue
        crown = label[above[0], above[1]]
        if crown > 0:
            top = tops[crown - 1]
            away = (row - top // columns) ** 2 + (column - top % columns) ** 2
            if away <= widest * widest and height[row, column] >= share * height[top // columns, top % columns]:
                label[row, column] = crown
    return label, tops[:count].copy()
