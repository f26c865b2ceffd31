"""Heights of a canopy on square cells: as a reader cuts them from a file, and as they are used."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

UNITS = ("m", "ft")


@dataclass(frozen=True, kw_only=True)
class Cut:
    """What a reader hands over: heights in the file's own unit, the stand's cells, and where they lie."""

    heights: NDArray[np.float32]
    inside: NDArray[np.bool_]
    cell_m: float
    system: str
    # East and north of the upper left corner, and the side of a cell, in the file's own coordinates.
    corner: tuple[float, float]
    side: float
    unit: str
    kind: str
    # Share of the stand that lies within the file's edges.
    reached_share: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class HeightGrid:
    """Heights above the ground [m], shape (rows, columns), NaN where nothing was seen; row 0 is the north edge.

    ``inside`` are the cells of the stand; around it lies a strip for the crowns at its edge. ``unit`` is that of the
    file.
    """

    heights_m: NDArray[np.float32]
    inside: NDArray[np.bool_]
    cell_m: float
    system: str
    corner: tuple[float, float]
    side: float
    unit: str
    kind: str
    seen_share: float
    notes: tuple[str, ...]

    def degrees(
        self, row: NDArray[np.float64], column: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Longitude and latitude of places counted in cells, the middle of the first cell being 0, 0."""
        from pyproj import Transformer

        east = self.corner[0] + (np.asarray(column) + 0.5) * self.side
        north = self.corner[1] - (np.asarray(row) + 0.5) * self.side
        longitude, latitude = Transformer.from_crs(self.system, 4326, always_xy=True).transform(east, north)
        return np.asarray(longitude), np.asarray(latitude)
