"""The cells of a block's floor: whole cells that fill it from side to side, so that a repeating block closes at its own
side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

EDGES = ("torus", "open", "torus east-west", "torus north-south")


def wraps(edge: str) -> tuple[bool, bool]:
    """Whether a block repeats east-west and north-south.

    Parameters
    ----------
    edge : str
        One of EDGES.

    Returns
    -------
    tuple of bool
        East-west, north-south.
    """
    return edge in ("torus", "torus east-west"), edge in ("torus", "torus north-south")


class Floor(NamedTuple):
    """A raster with its cells' sizes and whether it repeats, as the compiled kernels take it."""

    rows: int
    columns: int
    east_m: float
    north_m: float
    wrap_x: bool
    wrap_y: bool


@dataclass(frozen=True)
class Raster:
    """Cells of a block: how many rows and columns fill its height and width [m]; row 0 is the south edge."""

    width_m: float
    height_m: float
    rows: int
    columns: int

    @classmethod
    def near(cls, width_m: float, height_m: float, spacing_m: float) -> Raster:
        """The raster whose cells come nearest to a size.

        Parameters
        ----------
        width_m, height_m : float
            Size of the block, east and north [m].
        spacing_m : float
            Size wanted of a cell [m]; the cells are as near to it as whole rows and columns allow.

        Returns
        -------
        Raster
            One row and one column at least.

        Examples
        --------
        >>> Raster.near(33.9, 40.0, 4.0).shape
        (10, 8)
        """
        return cls(width_m, height_m, max(1, round(height_m / spacing_m)), max(1, round(width_m / spacing_m)))

    @property
    def shape(self) -> tuple[int, int]:
        return self.rows, self.columns

    @property
    def east_m(self) -> float:
        """Width of a cell [m]."""
        return self.width_m / self.columns

    @property
    def north_m(self) -> float:
        """Height of a cell [m]."""
        return self.height_m / self.rows

    def floor(self, edge: str) -> Floor:
        """The cells as the compiled kernels take them."""
        return Floor(self.rows, self.columns, self.east_m, self.north_m, *wraps(edge))

    def middles(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Middles of the columns, from the west, and of the rows, from the south [m]."""
        columns, rows = (np.arange(count, dtype=np.float64) + 0.5 for count in (self.columns, self.rows))
        return columns * self.east_m, rows * self.north_m

    def cell(self, x_m: float, y_m: float) -> tuple[int, int]:
        """Row and column of a place; places on the far edges belong to the last."""
        return min(int(y_m / self.north_m), self.rows - 1), min(int(x_m / self.east_m), self.columns - 1)
