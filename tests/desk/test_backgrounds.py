"""Own maps behind the stands: a GeoTIFF's tiles lie where a second program puts them, and PMTiles come out as GDAL put them in."""

from __future__ import annotations

import gzip
import io
import math

import numpy as np
import pytest
from PIL import Image

from maps import geotiff, pmtiles
from overwood.desk import backgrounds
from overwood.ground.errors import Misuse, NotFound

pytestmark = pytest.mark.slow
LON, LAT = -49.99, 37.5


def _tile_of(lon, lat, zoom):
    """Column, row and the place within the tile: the usual square grid of web maps (common practice, no published source)."""
    size = 2**zoom
    x = (lon + 180) / 360 * size
    y = (1 - math.asinh(math.tan(math.radians(lat))) / math.pi) / 2 * size
    return int(x), int(y), int(x % 1 * 256), int(y % 1 * 256)


def _pixels(tile):
    return np.asarray(Image.open(io.BytesIO(tile.content)))


@pytest.mark.parametrize("zoom", [12, 14, 16])
def test_a_mark_in_utm_lies_at_its_place_on_the_map(tmp_path, zoom):
    path = geotiff(tmp_path / "air.tif", lon=LON, lat=LAT)
    column, row, x, y = _tile_of(LON, LAT, zoom)
    picture = _pixels(backgrounds.tile(path, zoom, column, row))
    assert picture.shape == (256, 256, 4)
    red = (picture[..., 0].astype(int) > picture[..., 1]) & (picture[..., 3] == 255)
    assert red[y, x]
    # The mark is 40 m wide; a pixel of this zoom at this latitude is 156543 m cos(lat) / 2^zoom.
    pixel_m = 156_543.03 * math.cos(math.radians(LAT)) / 2**zoom
    if zoom > 12:
        xs = np.nonzero(red)[1]
        assert (xs.max() - xs.min() + 1) * pixel_m == pytest.approx(40, abs=2.5 * pixel_m + 10)


def test_outside_its_picture_there_is_nothing_and_at_its_edge_it_is_clear(tmp_path):
    path = geotiff(tmp_path / "air.tif", lon=LON, lat=LAT)
    assert backgrounds.tile(path, 14, *_tile_of(10, 50, 14)[:2]) is None
    column, row, *_ = _tile_of(LON, LAT, 10)
    alpha = _pixels(backgrounds.tile(path, 10, column, row))[..., 3]
    assert {0, 255} <= set(np.unique(alpha))


def test_one_band_of_other_numbers_is_stretched_to_grey(tmp_path):
    path = geotiff(tmp_path / "height.tif", lon=LON, lat=LAT, dtype="float32", bands=1)
    column, row, x, y = _tile_of(LON, LAT, 14)
    picture = _pixels(backgrounds.tile(path, 14, column, row))
    assert (picture[..., 0] == picture[..., 2]).all()
    assert picture[y, x, 0] > 200


def test_a_picture_says_where_it_lies_and_how_fine_it_is(tmp_path):
    look = backgrounds.look(geotiff(tmp_path / "air.tif", lon=LON, lat=LAT))
    west, south, east, north = look.extent
    assert (west < LON < east, south < LAT < north, look.kind) == (True, True, "picture")
    # 10 m on the ground are 12.6 m on the map at 37.5 degrees; zoom 14 has pixels of 9.6 m, zoom 13 of 19.1 m.
    assert look.deepest == 14


def test_vector_tiles_are_handed_over_as_gdal_wrote_them(tmp_path):
    import pyogrio.raw

    path = pmtiles(tmp_path / "roads.pmtiles", lon=LON, lat=LAT)
    look = backgrounds.look(path)
    assert (look.kind, look.deepest) == ("vector", 14)
    column, row, *_ = _tile_of(LON, LAT, 14)
    tile = backgrounds.tile(path, 14, column, row)
    (tmp_path / "t.mvt").write_bytes(tile.content)
    meta, _, _, values = pyogrio.raw.read(str(tmp_path / "t.mvt"))
    assert tile.content_type == "application/vnd.mapbox-vector-tile"
    assert set(values[list(meta["fields"]).index("road")]) == {"east", "north"}
    assert backgrounds.tile(path, 14, 0, 0) is None


@pytest.mark.parametrize("place", [(0, 1, 0), (2, 4, 0), (25, 0, 0), (3, 0, 8)])
def test_a_tile_that_no_grid_has_is_not_looked_for(tmp_path, place):
    with pytest.raises(NotFound):
        backgrounds.tile(geotiff(tmp_path / "air.tif", pixels=20), *place)


@pytest.mark.parametrize(("content", "words"), [(b"no map", "cannot be read"), (b"PMTiles\x03broken", "broken")])
def test_a_file_that_is_no_map_is_said(tmp_path, content, words):
    path = tmp_path / "x.tif"
    path.write_bytes(content)
    with pytest.raises(Misuse, match=words):
        backgrounds.look(path)


def test_a_picture_without_a_place_is_said(tmp_path):
    import warnings

    import rasterio

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.open(tmp_path / "x.tif", "w", driver="GTiff", width=4, height=4, count=1, dtype="uint8") as out:
            out.write(np.zeros((1, 4, 4), dtype="uint8"))
        with pytest.raises(Misuse, match="where on the earth"):
            backgrounds.look(tmp_path / "x.tif")


def test_a_tile_of_a_damaged_map_is_said_to_be_damaged(tmp_path):
    path = pmtiles(tmp_path / "roads.pmtiles", lon=LON, lat=LAT)
    column, row, *_ = _tile_of(LON, LAT, 14)
    whole = path.read_bytes()
    path.write_bytes(whole[:127] + bytes(len(whole) - 127))

    with pytest.raises(Misuse, match="is damaged where the tile 14/"):
        backgrounds.tile(path, 14, column, row)


def test_a_tile_that_would_unpack_to_gigabytes_is_stopped_before():
    packed = gzip.compress(bytes(backgrounds._MOST_TILE_BYTES + 1))

    assert len(packed) < 20_000
    with pytest.raises(ValueError, match="unpacks to more"):
        backgrounds._unpacked(packed)
    assert backgrounds._unpacked(gzip.compress(b"roads")) == b"roads"


def test_a_picture_of_one_large_block_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(backgrounds, "_MOST_BLOCK_BYTES", 1_000)

    with pytest.raises(Misuse, match="one large block"):
        backgrounds.look(geotiff(tmp_path / "air.tif", lon=LON, lat=LAT))
