"""Rasters of canopy heights and point clouds: what is read, and what each kind of unfit file is told."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

import canopy as made
from conftest import missing
from overwood.ground.errors import BadRecords, Misuse
from overwood.memory.exchange.canopy import read_apart

# About 80 by 80 m at the made place.
OUTLINE = shapely.box(-50.0, 37.5, -49.99909, 37.50072)
FT_PER_M = 1 / 0.3048


def _heights(cells=160, top=25.0):
    rng = np.random.default_rng(1)
    return (rng.random((cells, cells)) * top).astype(np.float32)


def _read(path, height="m", outline=OUTLINE):
    return read_apart({path.name: path.read_bytes()}, outline.wkt, height)


def _refused(path, height="m", outline=OUTLINE, kind=Misuse):
    with pytest.raises(kind) as fault:
        _read(path, height, outline)
    return str(fault.value)


def test_a_process_of_its_own_reads_the_cells_around_the_stand(tmp_path):
    heights = _heights()
    grid = _read(made.geotiff(tmp_path / "c.tif", heights))

    # The outline turned into the plane of the raster covers so many cells of a meter.
    assert grid.inside.sum() == pytest.approx(80.4 * 79.9, rel=0.02)
    assert grid.cell_m == pytest.approx(1.0003, abs=0.0002)
    assert grid.seen_share == 1.0
    # A part of the raster as it is: the same cells beside the same neighbors.
    row, column = (int(place[0]) for place in np.nonzero(heights == grid.heights_m[60, 60]))
    assert np.array_equal(grid.heights_m[60:70, 60:70], heights[row : row + 10, column : column + 10])


@pytest.mark.usefixtures("read_here")
class TestRaster:
    def test_a_cell_lies_where_the_raster_says(self, tmp_path):
        heights = np.full((160, 160), 20.0, dtype=np.float32)
        heights[70, 90] = 30.0
        grid = _read(made.geotiff(tmp_path / "c.tif", heights))
        row, column = (float(place[0]) for place in np.nonzero(grid.heights_m == 30.0))
        longitude, latitude = grid.degrees(np.array([row]), np.array([column]))

        from pyproj import Transformer

        west, south = Transformer.from_crs(4326, 32622, always_xy=True).transform(-50.0, 37.5)
        place = Transformer.from_crs(32622, 4326, always_xy=True).transform(west - 40 + 90.5, south - 40 + 160 - 70.5)
        assert (longitude[0], latitude[0]) == pytest.approx(place, abs=1e-7)

    def test_feet_become_meters_and_no_unit_is_guessed(self, tmp_path):
        meters, feet = _heights(), _heights() * FT_PER_M
        grid = _read(made.geotiff(tmp_path / "ft.tif", feet), "ft")
        assert np.nanmax(grid.heights_m) == pytest.approx(np.nanmax(_read(made.geotiff(tmp_path / "m.tif", meters)).heights_m), rel=1e-5)

        assert "does not say whether its heights are meters or feet" in _refused(made.geotiff(tmp_path / "u.tif", meters), "")
        named = made.geotiff(tmp_path / "n.tif", meters, unit="metre")
        assert _read(named, "").unit == "m"
        assert "says that its heights are in m, and you say ft" in _refused(named, "ft")
        assert "These look like feet" in _refused(made.geotiff(tmp_path / "w.tif", feet + 20), "m")

    def test_a_surface_model_is_told_apart(self, tmp_path):
        words = _refused(made.geotiff(tmp_path / "dsm.tif", _heights() + 310))
        assert "heights above the sea, a surface model" in words and "Subtract the ground" in words
        hundredths = made.geotiff(tmp_path / "cm.tif", _heights() * 100)
        assert "look like a smaller unit" in _refused(hundredths)

    @pytest.mark.parametrize(
        ("more", "words"),
        [
            ({"crs": None}, "has no coordinate system"),
            ({"bands": 3, "dtype": "uint8"}, "has 3 bands: it looks like a picture"),
            ({"lon": -49.9}, "does not reach the stand"),
            ({"cell_m": 5.0}, "too coarse to tell one crown from the next"),
            # 0.0006 degrees are 66.6 m, less the strip of 40 m: 27 of 80 m lie south of it.
            ({"lat": 37.5006}, "covers 67% of the stand; 90% are needed"),
        ],
    )
    def test_an_unfit_raster_is_told_why(self, tmp_path, more, words):
        assert words in _refused(made.geotiff(tmp_path / "c.tif", _heights(), **more))

    def test_unseen_cells_stay_unseen_and_numbers_that_stand_for_none_are_named(self, tmp_path):
        heights = _heights()
        heights[80:84, 60:64] = -9999
        declared = _read(made.geotiff(tmp_path / "d.tif", heights, nodata=-9999))
        silent = _read(made.geotiff(tmp_path / "s.tif", heights))

        assert np.isnan(declared.heights_m).sum() == np.isnan(silent.heights_m).sum() == 16
        assert declared.seen_share == pytest.approx(1 - 16 / declared.inside.sum())
        assert any("16 cells below the ground (lowest -9999 m) are read as not seen" in note for note in silent.notes)

    def test_a_raster_of_nothing_is_no_canopy(self, tmp_path):
        assert "shows nothing taller than 16 ft" in _refused(made.geotiff(tmp_path / "z.tif", np.zeros((160, 160))))
        empty = made.geotiff(tmp_path / "e.tif", np.full((160, 160), -9999.0), nodata=-9999)
        assert "shows nothing of the stand" in _refused(empty)

    def test_a_web_map_is_measured_on_the_ground(self, tmp_path):
        # Web Mercator stretches by 1 / cos(latitude): 1.26 at 37.5 degrees.
        grid = _read(made.geotiff(tmp_path / "w.tif", _heights(300), crs="EPSG:3857"))
        assert grid.cell_m == pytest.approx(np.cos(np.radians(37.5)), rel=0.003)

    def test_fine_cells_are_put_together_by_their_highest(self, tmp_path):
        heights = _heights(600)
        grid = _read(made.geotiff(tmp_path / "f.tif", heights, cell_m=0.25))
        assert grid.cell_m == pytest.approx(0.5, abs=0.001)
        assert grid.heights_m.mean() > heights.mean() + 5

    @pytest.mark.parametrize(("cell_m", "overlap"), [(1.0, 0), (1.0, 7), (0.25, 0)])
    def test_pieces_are_read_as_the_raster_they_were_cut_from(self, tmp_path, cell_m, overlap):
        path = made.geotiff(tmp_path / "c.tif", _heights(round(160 / cell_m)), cell_m=cell_m)
        whole = _read(path)
        # Seams at odd cells within the stand, the last column of pieces beyond it.
        cut = made.pieces(path, [round(83 / cell_m) + 1], [round(at / cell_m) for at in (71, 102.3, 155)], overlap)
        grid = read_apart(cut, OUTLINE.wkt, "m")
        assert (grid.corner, grid.side, grid.cell_m, grid.seen_share) == (whole.corner, whole.side, whole.cell_m, 1.0)
        assert np.array_equal(grid.heights_m, whole.heights_m) and np.array_equal(grid.inside, whole.inside)

    def test_pieces_that_do_not_fit_or_leave_a_hole_are_told(self, tmp_path):
        path = made.geotiff(tmp_path / "c.tif", _heights())
        cut = made.pieces(path, [80], [80])
        lacking = {name: content for name, content in cut.items() if name != "80-0.tif"}
        with pytest.raises(Misuse, match="of the stand; 90% are needed"):
            read_apart(lacking, OUTLINE.wkt, "m")
        shifted = made.geotiff(tmp_path / "s.tif", _heights(), strip_m=40.4).read_bytes()
        other = made.geotiff(tmp_path / "o.tif", _heights(), crs="EPSG:26922").read_bytes()
        for strange in (shifted, other):
            with pytest.raises(Misuse, match="do not lie on one grid"):
                read_apart({**cut, "s.tif": strange}, OUTLINE.wkt, "m")
        with pytest.raises(Misuse, match="neither a GeoTIFF nor a point cloud"):
            read_apart({**cut, "c.las": b"LASF"}, OUTLINE.wkt, "m")

    def test_a_broken_or_foreign_file_is_a_sentence(self, tmp_path):
        whole = made.geotiff(tmp_path / "c.tif", _heights()).read_bytes()
        (tmp_path / "cut.tif").write_bytes(whole[: len(whole) // 3])
        (tmp_path / "n.txt").write_text("no raster")
        assert "cannot be read as GeoTIFF" in _refused(tmp_path / "cut.tif")
        assert "neither a GeoTIFF nor a point cloud" in _refused(tmp_path / "n.txt")


def test_a_raster_that_asks_for_all_the_memory_ends_its_own_process_alone(tmp_path):
    import rasterio

    path = tmp_path / "bomb.tif"
    options = {"driver": "GTiff", "count": 1, "dtype": "float32", "crs": "EPSG:32622", "compress": "deflate", "sparse_ok": True}
    with rasterio.open(
        path, "w", width=90_000, height=90_000, transform=rasterio.Affine(0.001, 0, 589_000, 0, -0.001, 4_151_500), **options
    ):
        pass
    assert _refused(path, kind=(Misuse, BadRecords))


@pytest.mark.usefixtures("read_here")
class TestCloud:
    @pytest.fixture(autouse=True)
    def _has_the_extra_part(self):
        try:
            import laspy  # noqa: F401
            import lazrs  # noqa: F401
        except ImportError:
            missing("the extra part cloud (laspy, lazrs)")

    @pytest.mark.parametrize("ending", ["las", "laz"])
    def test_heights_are_above_a_sloping_ground(self, tmp_path, ending):
        heights = np.zeros((160, 160), dtype=np.float32)
        heights[60:90, 60:90] = 22.0
        path = made.cloud(tmp_path / f"c.{ending}", heights, ground_m=lambda east, north: 300 + 0.25 * east + 0.1 * north)
        grid = _read(path)

        assert grid.kind == "point cloud"
        seen = grid.heights_m[grid.inside]
        assert np.nanpercentile(seen[seen > 11], 50) == pytest.approx(22.0, abs=0.3)
        assert np.nanpercentile(np.abs(seen[seen < 11]), 90) < 0.6

    def test_pieces_of_a_cloud_are_read_as_the_cloud(self, tmp_path):
        import laspy

        path = made.cloud(tmp_path / "c.las", _heights())
        points = laspy.read(path)
        is_west = np.asarray(points.x) < np.median(points.x)
        for name, part in (("w.las", is_west), ("e.las", ~is_west)):
            piece = laspy.LasData(points.header)
            piece.points = points.points[part]
            piece.write(tmp_path / name)
        whole = _read(path)
        grid = read_apart({name: (tmp_path / name).read_bytes() for name in ("w.las", "e.las")}, OUTLINE.wkt, "m")
        assert np.array_equal(grid.heights_m, whole.heights_m, equal_nan=True) and np.array_equal(grid.inside, whole.inside)

    def test_an_unfit_cloud_is_told_why(self, tmp_path):
        heights = _heights()
        assert "has no returns called ground" in _refused(made.cloud(tmp_path / "g.las", heights, classes=False))
        assert "does not reach the stand" in _refused(made.cloud(tmp_path / "f.las", heights, lon=-49.9))
        assert "does not say whether its heights are meters or feet" in _refused(made.cloud(tmp_path / "u.las", heights), "")


@pytest.mark.usefixtures("read_here")
@pytest.mark.parametrize(("at", "kind", "number"), [(100, "<I", 4_000_000_000), (247, "<Q", 10**15), (96, "<I", 3_000_000_000)])
def test_a_cloud_whose_head_names_more_than_it_holds_is_given_up_at_once(tmp_path, at, kind, number):
    import struct

    try:
        whole = bytearray(made.cloud(tmp_path / "c.las", _heights(40), per_m2=1).read_bytes())
    except ImportError:
        missing("the extra part cloud (laspy, lazrs)")
    struct.pack_into(kind, whole, at, number)
    (tmp_path / "c.las").write_bytes(whole)
    assert "its head names more than it holds" in _refused(tmp_path / "c.las")


def test_a_cloud_without_its_extra_part_names_it(tmp_path, monkeypatch, read_here):
    import sys

    monkeypatch.setitem(sys.modules, "laspy", None)
    (tmp_path / "c.las").write_bytes(b"LASF" + bytes(400))
    assert 'pip install "overwood[cloud]"' in _refused(tmp_path / "c.las")
