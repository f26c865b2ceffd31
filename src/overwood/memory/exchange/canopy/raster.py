"""A GeoTIFF of canopy heights: its cells around an outline."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import Misuse, OverwoodError
from overwood.memory.exchange.canopy.cells import Cut
from overwood.memory.exchange.canopy.place import (
    MARGIN_M,
    cell_m_at,
    mask,
    reached_share,
    shape_in,
    unit_named,
    unit_of_heights,
)

# Cells coarser than this hold several crowns each; much finer ones are put together: our own limits.
_COARSEST_M, _FINEST_M = 2.05, 0.45
_MOST_CELLS = 120_000_000
_SQUARE = 0.01


def read(file: str, content: bytes, outline_wkt: str) -> Cut:
    """The raster's cells around an outline, in its own unit of height. Raises Misuse naming what keeps it from being a
    raster of canopy heights over the outline."""
    from rasterio.io import MemoryFile

    try:
        # No other driver: some read files that a file only names.
        with MemoryFile(content) as memory, memory.open(driver="GTiff") as source:
            return _cut(file, source, outline_wkt)
    except OverwoodError:
        raise
    except Exception as fault:  # what the library raises of a damaged file has no common name
        raise Misuse(f"{file} cannot be read as GeoTIFF: {fault}.", remedy="Export it again.") from fault


def _cut(file: str, source: Any, outline_wkt: str) -> Cut:
    _must_be_heights(file, source)
    shape = shape_in(outline_wkt, source.crs.to_wkt())
    cell_m = _cell_m(file, source, shape)
    heights, corner = _window(file, source, shape, MARGIN_M / cell_m)
    side = float(source.transform.a)
    times = 1 if cell_m >= _FINEST_M else math.ceil(_FINEST_M / cell_m)
    notes = []
    if times > 1:
        heights = _coarser(heights, times)
        notes.append(f"cells of {cell_m:.2f} m are put together {times} by {times}, the highest of each counts")
    inside = mask(shape, heights.shape, corner, side * times)
    return Cut(
        heights=heights, inside=inside, cell_m=cell_m * times, system=source.crs.to_wkt(), corner=corner,
        side=side * times,
        unit=unit_named(str(source.units[0] or "")) or unit_of_heights(source.crs.to_wkt()), kind="raster",
        reached_share=reached_share(shape, heights.shape, corner, side * times), notes=tuple(notes),
    )  # fmt: skip


def _must_be_heights(file: str, source: Any) -> None:
    """It says where it lies, has one band of numbers, and its rows run from north to south."""
    if source.crs is None:
        remedy = "Export it as a GeoTIFF with its coordinate system."
        raise Misuse(f"{file} has no coordinate system: it does not say where on the earth it lies.", remedy=remedy)
    if source.count != 1:
        remedy = "Give the one band with heights above the ground."
        raise Misuse(f"{file} has {source.count} bands: it looks like a picture, not like heights.", remedy=remedy)
    if source.colorinterp[0].name == "palette" or np.dtype(source.dtypes[0]).kind not in "iuf":
        raise Misuse(f"{file} holds classes or colors, not heights.", remedy="Give a raster of canopy heights.")
    grid = source.transform
    if grid.b or grid.d or grid.a <= 0 or grid.e >= 0:
        raise Misuse(f"{file} is turned or upside down on the ground.", remedy="Export it north up.")


def _cell_m(file: str, source: Any, shape: Any) -> float:
    """True side of a cell where the stand lies, by geodesy: web maps and degrees say otherwise than the ground."""
    east_m, north_m = cell_m_at(
        source.crs.to_wkt(), shape.centroid, float(source.transform.a), float(-source.transform.e)
    )
    if abs(east_m / north_m - 1) > _SQUARE:
        remedy = "Export it with square cells, in UTM or state plane coordinates."
        raise Misuse(f"{file} has cells of {east_m:.2f} by {north_m:.2f} m on the ground.", remedy=remedy)
    if east_m > _COARSEST_M:
        remedy = "Give one of 1 m or finer."
        raise Misuse(f"{file} has cells of {east_m:.1f} m: too coarse to tell one crown from the next.", remedy=remedy)
    return math.sqrt(east_m * north_m)


def _window(file: str, source: Any, shape: Any, margin: float) -> tuple[NDArray[np.float32], tuple[float, float]]:
    """Heights around the outline, NaN where the file has no data, and the upper left corner."""
    west, south, east, north = shape.bounds
    grid = source.transform
    columns = math.floor((west - grid.c) / grid.a - margin), math.ceil((east - grid.c) / grid.a + margin)
    rows = math.floor((north - grid.f) / grid.e - margin), math.ceil((south - grid.f) / grid.e + margin)
    (left, right), (top, bottom) = _within(columns, source.width), _within(rows, source.height)
    if left >= right or top >= bottom:
        remedy = "Give the raster of this place, or correct the outline or the coordinate system."
        raise Misuse(f"{file} does not reach the stand.", remedy=remedy)
    if (right - left) * (bottom - top) > _MOST_CELLS:
        raise Misuse(
            f"{file} has {(right - left) * (bottom - top) / 1e6:.0f} million cells on this stand.",
            remedy="Give one of 0.5 m or 1 m.",
        )
    cells = source.read(1, window=((top, bottom), (left, right)), masked=True)
    heights = np.ma.filled(cells.astype(np.float32), np.nan) * np.float32(source.scales[0]) + np.float32(
        source.offsets[0]
    )
    heights[~np.isfinite(heights)] = np.nan
    return heights, (grid.c + left * grid.a, grid.f + top * grid.e)


def _within(span: tuple[int, int], cells: int) -> tuple[int, int]:
    return max(span[0], 0), min(span[1], cells)


def _coarser(heights: NDArray[np.float32], times: int) -> NDArray[np.float32]:
    """The highest of each square of cells; NaN where none of them was seen."""
    rows, columns = (size // times * times for size in heights.shape)
    blocks = heights[:rows, :columns].reshape(rows // times, times, columns // times, times)
    most = np.where(np.isnan(blocks), -np.inf, blocks).max(axis=(1, 3))
    return np.where(np.isneginf(most), np.nan, most).astype(np.float32)
