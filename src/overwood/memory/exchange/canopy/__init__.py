"""A canopy's heights from a raster or a point cloud, cut to a stand: read in a process of its own, in meters above the
ground."""

from overwood.memory.exchange.canopy.cells import HeightGrid
from overwood.memory.exchange.canopy.grid import ENDINGS, read_apart

__all__ = ["ENDINGS", "HeightGrid", "read_apart"]
