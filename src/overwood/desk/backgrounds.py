"""Own maps behind the stands: tiles of a GeoTIFF (warped here) or of a PMTiles archive, for the square grid of web
maps."""

from __future__ import annotations

import threading
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from overwood.ground.errors import Misuse, NotFound, OverwoodError

TILE_PIXELS = 256
# Half the side of the web map's square, metres: pi times the radius of WGS 84 (EPSG:3857).
_HALF_SIDE_M = 20_037_508.342789244
_DEEPEST = 24
# Tiles of the open format are some hundred kilobytes; a block of a picture some megabytes: our own limits.
_MOST_TILE_BYTES, _MOST_BLOCK_BYTES = 16 * 2**20, 256 * 2**20
_LOCK = threading.Lock()


@dataclass(frozen=True)
class Background:
    """What lies behind: ``kind`` is picture or vector; ``extent`` is west, south, east, north in degrees."""

    name: str
    kind: str
    extent: tuple[float, float, float, float]
    deepest: int


@dataclass(frozen=True)
class Tile:
    """One tile as it is sent."""

    content: bytes
    content_type: str


def look(path: Path) -> Background:
    """What a file holds. Raises Misuse when it is no GeoTIFF with a place on the earth, and no PMTiles archive."""
    return _look_pmtiles(path) if _is_pmtiles(path) else _look_geotiff(path)


def tile(path: Path, zoom: int, column: int, row: int) -> Tile | None:
    """One tile, None where the file has nothing there. Raises NotFound when the grid has no such tile; Misuse when the
    file is damaged where the tile lies."""
    if not (0 <= zoom <= _DEEPEST and 0 <= column < 2**zoom and 0 <= row < 2**zoom):
        raise NotFound(f"there is no tile {zoom}/{column}/{row}.")
    with _in_words(
        f"{path.name} is damaged where the tile {zoom}/{column}/{row} lies", "Make it again, and start the desk anew."
    ):
        return _tile_pmtiles(path, zoom, column, row) if _is_pmtiles(path) else _tile_geotiff(path, zoom, column, row)


@contextmanager
def _in_words(what: str, remedy: str) -> Iterator[None]:
    """A damaged map is said to be one: the errors of the libraries that read it have no common name."""
    try:
        yield
    except OverwoodError:
        raise
    except Exception as fault:
        raise Misuse(f"{what}: {fault}.", remedy=remedy) from fault


def _is_pmtiles(path: Path) -> bool:
    with path.open("rb") as stream:
        return stream.read(7) == b"PMTiles"


def _look_geotiff(path: Path) -> Background:
    import rasterio
    from rasterio.warp import transform_bounds

    with (
        _in_words(f"{path.name} cannot be read as GeoTIFF or PMTiles", "Export it again."),
        rasterio.open(path) as source,
    ):
        if source.crs is None:
            where = "Export it as a GeoTIFF with its coordinate system."
            raise Misuse(f"{path.name} does not say where on the earth it lies.", remedy=where)
        _refuse_large_blocks(path, source)
        extent = transform_bounds(source.crs, "EPSG:4326", *source.bounds)
        width_m = transform_bounds(source.crs, "EPSG:3857", *source.bounds)
        pixel_m = (width_m[2] - width_m[0]) / source.width
    return Background(path.name, "picture", extent, _zoom_of(pixel_m))


def _refuse_large_blocks(path: Path, source: Any) -> None:
    """A picture is unpacked block by block; one that is a single block is unpacked whole for every tile."""
    import numpy as np

    pairs = zip(source.block_shapes, source.dtypes, strict=True)
    if max(rows * columns * np.dtype(kind).itemsize for (rows, columns), kind in pairs) > _MOST_BLOCK_BYTES:
        raise Misuse(f"{path.name} is one large block.", remedy="Export it as a tiled GeoTIFF.")


def _zoom_of(pixel_m: float) -> int:
    """The zoom at which a tile's pixel is as fine as the picture's."""
    for zoom in range(_DEEPEST):
        if 2 * _HALF_SIDE_M / TILE_PIXELS / 2**zoom <= pixel_m:
            return zoom
    return _DEEPEST


def _tile_geotiff(path: Path, zoom: int, column: int, row: int) -> Tile | None:
    """The window of one tile, warped; without the picture's own colours a single band is shown in grey from its darkest
    to its lightest."""
    import numpy as np
    import rasterio
    from rasterio.enums import Resampling
    from rasterio.transform import from_bounds
    from rasterio.vrt import WarpedVRT

    side = 2 * _HALF_SIDE_M / 2**zoom
    west, north = column * side - _HALF_SIDE_M, _HALF_SIDE_M - row * side
    frame = from_bounds(west, north - side, west + side, north, TILE_PIXELS, TILE_PIXELS)
    # GDAL's handles are not shared between threads; one at a time also bounds the memory.
    with _LOCK, rasterio.open(path) as source:
        options: dict[str, Any] = {
            "crs": "EPSG:3857",
            "transform": frame,
            "width": TILE_PIXELS,
            "height": TILE_PIXELS,
            "resampling": Resampling.bilinear,
        }
        with WarpedVRT(source, add_alpha=source.nodata is None and source.count in (1, 3), **options) as warped:
            seen = warped.dataset_mask()
            if not seen.any():
                return None
            if source.colorinterp[0].name == "palette":
                colours = np.array(
                    [source.colormap(1).get(value, (0, 0, 0, 255))[:3] for value in range(256)], dtype=np.uint8
                )
                bands = colours[warped.read(1)].transpose(2, 0, 1)
            elif source.count >= 3:
                bands = _as_bytes(warped.read([1, 2, 3]), source, 3)
            else:
                bands = np.repeat(_as_bytes(warped.read([1]), source, 1), 3, axis=0)
    return Tile(_png(bands, seen), "image/png")


def _as_bytes(bands: Any, source: Any, count: int) -> Any:
    """Bytes as they are; other numbers stretched over the picture's own range, taken from a small overview."""
    import numpy as np

    if bands.dtype == np.uint8:
        return bands
    small = source.read(list(range(1, count + 1)), out_shape=(count, 256, 256), masked=True)
    low, high = float(small.min()), float(small.max())
    return np.clip((bands - low) * (255 / max(high - low, 1e-9)), 0, 255).astype(np.uint8)


def _png(bands: Any, seen: Any) -> bytes:
    import io

    import numpy as np
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(np.dstack([*bands, seen])).save(out, "png")
    return out.getvalue()


def _reader(stream: Any) -> Any:
    from pmtiles.reader import Reader

    def part(offset: int, length: int) -> bytes:
        stream.seek(offset)
        part: bytes = stream.read(length)
        return part

    return Reader(part)


def _look_pmtiles(path: Path) -> Background:
    from pmtiles.tile import TileType

    with path.open("rb") as stream, _in_words(f"{path.name} is a broken PMTiles archive", "Make it again."):
        head = _reader(stream).header()
    extent = tuple(head[key] / 1e7 for key in ("min_lon_e7", "min_lat_e7", "max_lon_e7", "max_lat_e7"))
    kind = "vector" if head["tile_type"] == TileType.MVT else "picture"
    return Background(path.name, kind, (extent[0], extent[1], extent[2], extent[3]), head["max_zoom"])


def _tile_pmtiles(path: Path, zoom: int, column: int, row: int) -> Tile | None:
    from pmtiles.tile import Compression, TileType

    types = {
        TileType.MVT: "application/vnd.mapbox-vector-tile",
        TileType.PNG: "image/png",
        TileType.JPEG: "image/jpeg",
        TileType.WEBP: "image/webp",
    }
    with path.open("rb") as stream:
        reader = _reader(stream)
        head, content = reader.header(), reader.get(zoom, column, row)
    if content is None or head["tile_type"] not in types:
        return None
    return Tile(
        _unpacked(content) if head["tile_compression"] == Compression.GZIP else content, types[head["tile_type"]]
    )


def _unpacked(content: bytes) -> bytes:
    """A tile's bytes; a small one can be made to unpack to gigabytes, so it is stopped before."""
    packed = zlib.decompressobj(wbits=31)
    plain = packed.decompress(content, _MOST_TILE_BYTES)
    if not packed.eof:
        raise ValueError("it breaks off, or unpacks to more than a tile holds")
    return plain
