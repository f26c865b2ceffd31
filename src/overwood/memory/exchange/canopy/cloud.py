"""A point cloud (LAS, LAZ): the highest return over each cell, less the ground drawn through the returns that are
called ground.

Classes are those of the open LAS standard (ASPRS, LAS 1.4, table 17, from memory): 2 ground, 7 and 18 noise.
"""

from __future__ import annotations

import io
import itertools
import math
import struct
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import Misuse, OverwoodError
from overwood.ground.plausible import limit
from overwood.memory.exchange.canopy.cells import Cut
from overwood.memory.exchange.canopy.place import MARGIN_M, cell_m_at, mask, reached_share, shape_in, unit_of_heights

_GROUND, _NOISE = 2, (7, 18)
_CELL_M, _GROUND_CELL_M = 1.0, 4.0
_CHUNK = 2_000_000
# An empty cell takes the mean of its neighbors where this many of the eight were seen.
_NEIGHBORS = 4
# Head of the standard's first and fourth version [bytes]; records of a head, and how far points are packed, at most:
# our own limits.
_HEAD_BYTES, _HEAD_BYTES_1_4, _MOST_RECORDS, _PACKED = 227, 375, 2_000, 60
_MOST_CELLS = 120_000_000
INSTALL = 'Install the extra part: pip install "overwood[cloud]".'


def read(pieces: Mapping[str, bytes], outline_wkt: str) -> Cut:
    """Heights above the ground on cells of a meter around an outline, in the cloud's own unit of height, of one cloud
    or of the pieces of one. Raises Misuse when the part that reads clouds is missing, or a piece says not where it
    lies, or they have no ground, or are too thin."""
    files = ", ".join(pieces)
    try:
        import laspy
    except ImportError as fault:
        raise Misuse(f"{files} is a point cloud, and the part that reads them is missing.", remedy=INSTALL) from fault
    for file, content in pieces.items():
        _must_hold_what_it_says(file, content)
    try:
        with ExitStack() as opened:
            sources = [opened.enter_context(laspy.open(io.BytesIO(content))) for content in pieces.values()]
            return _cut(files, sources, outline_wkt)
    except OverwoodError:
        raise
    except Exception as fault:  # what the library raises of a damaged file has no common name
        remedy = 'Write it anew, or install the extra part: pip install "overwood[cloud]".'
        raise Misuse(f"{files} cannot be read as a point cloud: {fault}.", remedy=remedy) from fault


def _must_hold_what_it_says(file: str, content: bytes) -> None:
    """A head that names more records or points than the file has room for is damaged: its reader would go on for hours.

    Places in the head are those of the open standard (ASPRS, LAS 1.4, table 3, from memory).
    """
    if len(content) < _HEAD_BYTES:
        raise _damaged(file)
    minor, first = content[25], struct.unpack_from("<I", content, 96)[0]
    records, length, points = (
        struct.unpack_from(kind, content, at)[0] for kind, at in (("<I", 100), ("<H", 105), ("<I", 107))
    )
    if minor >= 4 and len(content) >= _HEAD_BYTES_1_4:
        records += struct.unpack_from("<I", content, 243)[0]
        points = struct.unpack_from("<Q", content, 247)[0]
    room = len(content) * (_PACKED if content[104] & 0x80 else 1)
    if first > len(content) or records > _MOST_RECORDS or points * length > room:
        raise _damaged(file)


def _damaged(file: str) -> Misuse:
    return Misuse(f"{file} is damaged: its head names more than it holds.", remedy="Copy it anew from where it came.")


def _cut(file: str, sources: Sequence[Any], outline_wkt: str) -> Cut:
    wkt = _system_of(file, sources)
    shape = shape_in(outline_wkt, wkt)
    step = cell_m_at(wkt, shape.centroid, 1.0, 1.0)
    side, strip = _CELL_M / math.sqrt(step[0] * step[1]), MARGIN_M / math.sqrt(step[0] * step[1])
    west, south, east, north = shape.bounds
    corner = west - strip, north + strip
    size = math.ceil((north - south + 2 * strip) / side), math.ceil((east - west + 2 * strip) / side)
    if size[0] * size[1] > _MOST_CELLS:
        raise Misuse(
            f"{file} has {size[0] * size[1] / 1e6:.0f} million cells of a meter on this stand.",
            remedy="Check its coordinate system.",
        )
    top, ground, returns = _gathered(sources, corner, size, side)
    inside = mask(shape, size, corner, side)
    _must_be_enough(file, ground, float(returns[inside].sum()) / max(float(inside.sum()), 1.0))
    heights = _filled(top - _ground_surface(ground, size))
    return Cut(
        heights=heights.astype(np.float32), inside=inside, cell_m=_CELL_M, system=wkt, corner=corner, side=side,
        unit=unit_of_heights(wkt), kind="point cloud", reached_share=reached_share(shape, size, corner, side),
        notes=("heights are the highest return over the ground drawn through the returns called ground",),
    )  # fmt: skip


def _system_of(file: str, sources: Sequence[Any]) -> str:
    """The coordinate system that all pieces have."""
    systems = [source.header.parse_crs() for source in sources]
    if any(system is None for system in systems):
        remedy = "Write it anew with its coordinate system."
        raise Misuse(f"{file} has no coordinate system: it does not say where on the earth it lies.", remedy=remedy)
    if any(system != systems[0] for system in systems):
        raise Misuse(f"{file} have several coordinate systems.", remedy="Write them in one.")
    return str(systems[0].to_wkt())


def _gathered(
    sources: Sequence[Any], corner: tuple[float, float], size: tuple[int, int], side: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Highest return of each cell, sums of ground returns on coarser cells (count, sum), and returns counted, chunk by
    chunk."""
    times = round(_GROUND_CELL_M / _CELL_M)
    rough = math.ceil(size[0] / times), math.ceil(size[1] / times)
    top, ground = np.full(size, -np.inf), np.zeros((2, *rough))
    returns = np.zeros(size, dtype=np.int64)
    for points in itertools.chain.from_iterable(source.chunk_iterator(_CHUNK) for source in sources):
        column = np.floor((np.asarray(points.x) - corner[0]) / side).astype(np.int64)
        row = np.floor((corner[1] - np.asarray(points.y)) / side).astype(np.int64)
        near = (row >= 0) & (row < size[0]) & (column >= 0) & (column < size[1])
        near &= ~np.isin(np.asarray(points.classification), _NOISE)
        row, column, level = row[near], column[near], np.asarray(points.z)[near]
        np.maximum.at(top, (row, column), level)
        np.add.at(returns, (row, column), 1)
        bare = np.asarray(points.classification)[near] == _GROUND
        np.add.at(ground[0], (row[bare] // times, column[bare] // times), 1)
        np.add.at(ground[1], (row[bare] // times, column[bare] // times), level[bare])
    return np.where(np.isneginf(top), np.nan, top), ground, returns


def _must_be_enough(file: str, ground: NDArray[np.float64], density: float) -> None:
    if density == 0:
        raise Misuse(
            f"{file} does not reach the stand.", remedy="Give the cloud of this place, or correct the outline."
        )
    if not ground[0].any():
        remedy = "Have its ground returns classified (class 2), or give a raster of canopy heights."
        raise Misuse(f"{file} has no returns called ground, so that nothing tells height above it.", remedy=remedy)
    if density < limit("canopy_least_returns_m2"):
        remedy = "Give a denser one, or a raster of canopy heights made from it by somebody who knows it."
        raise Misuse(
            f"{file} has {density:.1f} returns a square meter on the stand: too thin for crowns.", remedy=remedy
        )


def _ground_surface(ground: NDArray[np.float64], size: tuple[int, int]) -> NDArray[np.float64]:
    """Ground level at each cell: straight lines between the cells that have ground returns, beyond them the nearest
    one's."""
    from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

    times = round(_GROUND_CELL_M / _CELL_M)
    rows, columns = np.nonzero(ground[0])
    places, level = np.column_stack([rows, columns]).astype(float), ground[1][rows, columns] / ground[0][rows, columns]
    at = [(np.arange(cells) + 0.5) / times - 0.5 for cells in size]
    row, column = np.meshgrid(*at, indexing="ij")
    nearest = NearestNDInterpolator(places, level)(row, column)
    if len({*rows}) < 2 or len({*columns}) < 2:
        return np.asarray(nearest)
    plane = LinearNDInterpolator(places, level)(row, column)
    return np.where(np.isnan(plane), nearest, plane)


def _filled(heights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Single empty cells take the mean of their neighbors; larger holes stay unseen."""
    from scipy import ndimage

    seen = ~np.isnan(heights)
    around = np.ones((3, 3))
    count = ndimage.convolve(seen.astype(float), around, mode="constant")
    total = ndimage.convolve(np.where(seen, heights, 0.0), around, mode="constant")
    return np.where(~seen & (count >= _NEIGHBORS), total / np.maximum(count, 1), heights)
