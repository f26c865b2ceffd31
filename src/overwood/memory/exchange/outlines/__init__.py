"""Outlines in and out as geodata: GeoPackage, zipped shapefile, GeoJSON, KML, KMZ, GPX track, well-known text.

Outlines come out of here as polygons in longitude and latitude (WGS 84), each with what the file says beside it. Which
stand each one is belongs to the desk.
"""

from __future__ import annotations

from pathlib import Path

from overwood.memory.exchange.outlines.placing import on_the_earth
from overwood.memory.exchange.outlines.reading import ENDINGS, EVERY_LAYER, READERS
from overwood.memory.exchange.outlines.shapes import DEGREES, MOST_BYTES, MOST_SHAPES, OutlineFile, Shape, unreadable
from overwood.memory.exchange.outlines.writing import KINDS_OUT, write

# What of a file is read: outlines alone, or every shape.
AREAS, ANY = "areas", "any"

__all__ = ["ANY", "DEGREES", "ENDINGS", "KINDS_OUT", "OutlineFile", "Shape", "read", "write"]


def read(name: str, content: bytes, *, system: str = "", layer: str = "", shapes: str = AREAS) -> OutlineFile:
    """The outlines of a file, or with ``shapes`` "any" its points, lines and areas as they are.

    ``system`` is the coordinate system where the file names none, such as EPSG:26917; ``layer`` chooses one of several,
    which with "any" are all read where none is named.

    Raises BadRecords when the file as a whole cannot be read; Misuse when it must be said which layer or which
    coordinate system is meant.
    """
    ending = Path(name).suffix.lower()
    if ending not in ENDINGS:
        raise unreadable(name, f"{ending or 'a file without an ending'} is not read", f"one of {', '.join(ENDINGS)}")
    if len(content) > MOST_BYTES:
        raise unreadable(name, f"it has {len(content) / 2**20:.0f} MB", f"at most {MOST_BYTES // 2**20} MB")
    layers = READERS[ending](name, content, layer or (EVERY_LAYER if shapes == ANY else ""))
    rows = [row for one in layers for row in one.rows]
    if not rows:
        raise unreadable(name, "there is no outline in it", "a polygon, or a closed track, for each stand")
    if len(rows) > MOST_SHAPES:
        raise unreadable(
            name, f"it holds more than {MOST_SHAPES:,} shapes", f"at most {MOST_SHAPES:,}", "Send it in parts."
        )
    named = system or next((one.system for one in layers if one.system), "")
    return on_the_earth(name, rows, named, areas=shapes != ANY)
