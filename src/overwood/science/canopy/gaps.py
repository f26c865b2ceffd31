"""Gaps in a raster of canopy heights: joined cells lower than a height."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Gaps:
    """Gaps as arrays of shape (n,), the largest first: middle in cells, area [m2]."""

    row: NDArray[np.float64]
    column: NDArray[np.float64]
    area_m2: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.area_m2)


def gaps_of(
    height_m: NDArray[np.float32], inside: NDArray[np.bool_], *, cell_m: float, below_m: float, least_m2: float
) -> Gaps:
    """Joined ground of a stand whose canopy is lower than a height.

    Parameters
    ----------
    height_m : array, shape (rows, columns)
        Height of the canopy above the ground [m]; NaN where it was not seen, which is no gap.
    inside : array of bool, shape (rows, columns)
        The stand's own cells.
    cell_m : float
        Side of a cell [m].
    below_m : float
        Height that all of a gap stays under [m].
    least_m2 : float
        Smaller ones are left out [m2].

    Returns
    -------
    Gaps
        The largest first. Cells that touch at a side are joined.

    Examples
    --------
    >>> canopy = np.full((9, 9), 20.0, dtype=np.float32)
    >>> canopy[2:5, 2:6] = 1.0
    >>> gaps_of(canopy, np.ones((9, 9), dtype=bool), cell_m=2.0, below_m=3.0, least_m2=10.0).area_m2.tolist()
    [48.0]
    """
    from scipy import ndimage

    label, count = ndimage.label((height_m < below_m) & inside)
    rows, columns = np.nonzero(label)
    of = label[rows, columns] - 1
    cells = np.bincount(of, minlength=count).astype(np.float64)
    middle = [np.bincount(of, weights=along, minlength=count) / np.maximum(cells, 1) for along in (rows, columns)]
    area = cells * float(cell_m) ** 2
    patches = np.flatnonzero(area >= least_m2)
    order = patches[np.argsort(-area[patches], kind="stable")]
    return Gaps(middle[0][order], middle[1][order], area[order])
