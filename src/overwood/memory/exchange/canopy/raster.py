"""A GeoTIFF of canopy heights: its cells around an outline."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
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


def read(pieces: Mapping[str, bytes], outline_wkt: str) -> Cut:
    """The cells around an outline of one raster, or of the pieces of one, in its own unit of height. Raises Misuse
    naming what keeps a piece from being a raster of canopy heights, or the pieces from lying on one grid, or that none
    reaches the outline."""
    files = ", ".join(pieces)
    windows = [_read(file, content, outline_wkt) for file, content in pieces.items()]
    there = [window for window in windows if window.heights.size]
    if not there:
        remedy = "Give the raster of this place, or correct the outline or the coordinate system."
        raise Misuse(f"{files} does not reach the stand.", remedy=remedy)
    return _cut(files, _joined(files, there), shape_in(outline_wkt, there[0].system))


@dataclass(frozen=True)
class _Window:
    """The cells of one file around an outline, with the upper left corner, the side in its coordinates and on the
    ground, and what they are measured in."""

    heights: NDArray[np.float32]
    corner: tuple[float, float]
    side: float
    cell_m: float
    system: str
    unit: str


def _read(file: str, content: bytes, outline_wkt: str) -> _Window:
    from rasterio.io import MemoryFile

    try:
        # No other driver: some read files that a file only names.
        with MemoryFile(content) as memory, memory.open(driver="GTiff") as source:
            return _window(file, source, outline_wkt)
    except OverwoodError:
        raise
    except Exception as fault:  # what the library raises of a damaged file has no common name
        raise Misuse(f"{file} cannot be read as GeoTIFF: {fault}.", remedy="Export it again.") from fault


def _joined(files: str, windows: list[_Window]) -> _Window:
    """Pieces laid on the grid of the first, so that no seam parts a crown; where two overlap the higher cell counts.
    Raises Misuse when they do not share that grid."""
    first = windows[0]
    if len(windows) == 1:
        return first
    ends = [(_place(files, first, one), one) for one in windows]
    top, left = (min(at[axis] for at, _ in ends) for axis in (0, 1))
    rows, columns = (max(at[axis] + one.heights.shape[axis] for at, one in ends) for axis in (0, 1))
    _must_be_few(files, (rows - top) * (columns - left))
    whole = np.full((rows - top, columns - left), np.nan, dtype=np.float32)
    for (row, column), one in ends:
        size = one.heights.shape
        part = whole[row - top : row - top + size[0], column - left : column - left + size[1]]
        part[:] = np.fmax(part, one.heights)
    corner = first.corner[0] + left * first.side, first.corner[1] - top * first.side
    return replace(first, heights=whole, corner=corner)


def _place(files: str, first: _Window, one: _Window) -> tuple[int, int]:
    """Rows and columns from the corner of the first piece to that of another."""
    away = (first.corner[1] - one.corner[1]) / first.side, (one.corner[0] - first.corner[0]) / first.side
    is_like = (one.system, one.unit) == (first.system, first.unit) and math.isclose(one.side, first.side, rel_tol=1e-6)
    if not is_like or any(abs(steps - round(steps)) > _SQUARE for steps in away):
        remedy = "Export them in one coordinate system, unit and grid, or join them to one raster."
        raise Misuse(f"{files} do not lie on one grid.", remedy=remedy)
    return round(away[0]), round(away[1])


def _cut(files: str, window: _Window, shape: Any) -> Cut:
    heights, times = window.heights, 1 if window.cell_m >= _FINEST_M else math.ceil(_FINEST_M / window.cell_m)
    notes = []
    if times > 1:
        heights = _coarser(heights, times)
        notes.append(f"cells of {window.cell_m:.2f} m are put together {times} by {times}, the highest of each counts")
    side = window.side * times
    return Cut(
        heights=heights, inside=mask(shape, heights.shape, window.corner, side), cell_m=window.cell_m * times,
        system=window.system, corner=window.corner, side=side, unit=window.unit, kind="raster",
        reached_share=reached_share(shape, heights.shape, window.corner, side), notes=tuple(notes),
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


def _window(file: str, source: Any, outline_wkt: str) -> _Window:
    """Heights around the outline, NaN where the file has no data; no cells where it does not reach there."""
    _must_be_heights(file, source)
    system = source.crs.to_wkt()
    shape = shape_in(outline_wkt, system)
    cell_m = _cell_m(file, source, shape)
    west, south, east, north = shape.bounds
    grid, margin = source.transform, MARGIN_M / cell_m
    columns = math.floor((west - grid.c) / grid.a - margin), math.ceil((east - grid.c) / grid.a + margin)
    rows = math.floor((north - grid.f) / grid.e - margin), math.ceil((south - grid.f) / grid.e + margin)
    (left, right), (top, bottom) = _within(columns, source.width), _within(rows, source.height)
    right, bottom = max(left, right), max(top, bottom)
    _must_be_few(file, (right - left) * (bottom - top))
    if left == right or top == bottom:
        heights = np.empty((0, 0), dtype=np.float32)
    else:
        cells = source.read(1, window=((top, bottom), (left, right)), masked=True)
        heights = np.ma.filled(cells.astype(np.float32), np.nan)
        heights = heights * np.float32(source.scales[0]) + np.float32(source.offsets[0])
        heights[~np.isfinite(heights)] = np.nan
    unit = unit_named(str(source.units[0] or "")) or unit_of_heights(system)
    corner = grid.c + left * grid.a, grid.f + top * grid.e
    return _Window(heights, corner, float(grid.a), cell_m, system, unit)


def _must_be_few(file: str, cells: int) -> None:
    if cells > _MOST_CELLS:
        raise Misuse(f"{file} has {cells / 1e6:.0f} million cells on this stand.", remedy="Give one of 0.5 m or 1 m.")


def _within(span: tuple[int, int], cells: int) -> tuple[int, int]:
    return max(span[0], 0), min(span[1], cells)


def _coarser(heights: NDArray[np.float32], times: int) -> NDArray[np.float32]:
    """The highest of each square of cells; NaN where none of them was seen."""
    rows, columns = (size // times * times for size in heights.shape)
    blocks = heights[:rows, :columns].reshape(rows // times, times, columns // times, times)
    most = np.where(np.isnan(blocks), -np.inf, blocks).max(axis=(1, 3))
    return np.where(np.isneginf(most), np.nan, most).astype(np.float32)
