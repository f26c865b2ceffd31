"""A file of canopy heights as plain data from the process that read it, and back."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Mapping
from typing import Any

import numpy as np

from overwood.ground import plausible
from overwood.ground.errors import Misuse
from overwood.memory.exchange import apart
from overwood.memory.exchange.canopy.cells import HeightGrid

ENDINGS = (".tif", ".tiff", ".las", ".laz")
_TIFF = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_LAS = b"LASF"
# A county's tile of a meter has some hundred megabytes: our own limit.
_MOST_BYTES = 1_500_000_000
_LIMITS = apart.Limits(memory=6_000_000_000, cpu_seconds=300)


def read(
    file: str, content: bytes, *, own: Mapping[str, float] | None = None, **said: Any
) -> tuple[dict[str, Any], bytes]:
    """The heights of a file, or of the pieces of one, around an outline (well-known text, degrees), checked; ``height``
    is the unit a person named, or blank, ``pieces`` the names and sizes of the pieces in ``content``.

    ``own`` are the office's limits of plausibility, where it has some.

    Raises Misuse when it is neither kind of file, or what it says cannot be the height of a canopy.
    """
    from overwood.memory.exchange.canopy import checks, cloud, raster

    plausible.use(own or {})
    pieces, ends = {}, itertools.accumulate(size for _, size in said["pieces"])
    for (name, size), end in zip(said["pieces"], ends, strict=True):
        pieces[name] = content[end - size : end]
    if all(piece[:4] in _TIFF for piece in pieces.values()):
        cut = raster.read(pieces, said["outline"])
    elif all(piece[:4] == _LAS for piece in pieces.values()):
        cut = cloud.read(pieces, said["outline"])
    else:
        remedy = (
            "Give a GeoTIFF of canopy heights, or a point cloud (LAS, LAZ); several of one kind where it is in pieces."
        )
        raise Misuse(f"{file} is neither a GeoTIFF nor a point cloud.", remedy=remedy)
    grid = checks.checked(file, cut, said.get("height", ""))
    plain = {
        one.name: getattr(grid, one.name) for one in dataclasses.fields(grid) if one.name not in ("heights_m", "inside")
    }
    body = np.ascontiguousarray(grid.heights_m, dtype="<f4").tobytes() + np.packbits(grid.inside).tobytes()
    return plain | {"shape": grid.heights_m.shape}, body


def read_apart(pieces: Mapping[str, bytes], outline_wkt: str, height: str = "") -> HeightGrid:
    """The same of files by their names, in a process of its own, with limits of memory and time."""
    file, content = ", ".join(pieces), b"".join(pieces.values())
    if len(content) > _MOST_BYTES:
        remedy = "Cut it to the property first."
        raise Misuse(f"{file} has {len(content) / 1e9:.1f} GB; {_MOST_BYTES / 1e9:.1f} GB can be read.", remedy=remedy)
    sizes = [(name, len(piece)) for name, piece in pieces.items()]
    said = {"outline": outline_wkt, "height": height, "own": plausible.own(), "pieces": sizes}
    plain, body = apart.answer("canopy", file, content, said, limits=_LIMITS)
    rows, columns = plain.pop("shape")
    cells = rows * columns
    heights = np.frombuffer(body, dtype="<f4", count=cells).reshape(rows, columns)
    bits = np.unpackbits(np.frombuffer(body, dtype=np.uint8, offset=4 * cells), count=cells)
    west, north = plain.pop("corner")
    inside, notes = bits.astype(bool).reshape(rows, columns), tuple(plain.pop("notes"))
    return HeightGrid(heights_m=heights, inside=inside, corner=(west, north), notes=notes, **plain)
