"""Stands of many parts as vector tiles and as one page: where they lie, in the colors of their work, without a network."""

from __future__ import annotations

import base64
import io
import math
import re

import numpy as np
import polars as pl
import pytest
import shapely
from PIL import Image
from pmtiles.reader import MmapSource, Reader
from pmtiles.tile import TileType

from overwood.desk import backgrounds, part_advice, part_maps
from overwood.faces.papers import region_maps

WEST, EAST = shapely.box(-50, 36, -49.99, 36.01), shapely.box(-49.98, 36, -49.97, 36.01)


@pytest.fixture
def laid(tmp_path):
    """Four stands: two with an outline, one with its property's place alone, one with neither; and their results."""
    part = tmp_path / part_advice.PARTS / "a"
    part.mkdir(parents=True)
    stands = {"stand": list("wedn"), "property": ["P", "P", "Q", "R"], "boundary_wkt": [WEST.wkt, EAST.wkt, None, None]}
    pl.DataFrame(stands).write_parquet(part / "stands.parquet")
    places = {"property": list("PQR"), "longitude_deg": [None, -49.985, None], "latitude_deg": [None, 36.005, None]}
    pl.DataFrame(places).write_parquet(part / "properties.parquet")
    gates = {f"gate_{name.replace(' ', '_')}": ["yes", "no", "unsure", None] for name in part_maps.GATES}
    told = {"stand": list("wedn"), "name": ["West", "<East>", "dot", "none"], "property": ["P", "P", "Q", "R"]}
    steps = {"area_ac": [200.0, 210.0, None, 4.0], "step": ["inject", "seed_cut", "count", None], "work": ["treat", "cut", "look", None]}
    results = tmp_path / "screen"
    results.mkdir()
    pl.DataFrame({**told, **steps, **gates}).write_parquet(results / "a.parquet")
    return part_maps.drawn(tmp_path, results), results


def _page(laid):
    found, results = laid
    rows = (
        part_advice.StepCount("inject", 1, 200.0, 0),
        part_advice.StepCount("seed_cut", 1, 210.0, 0),
        part_advice.StepCount("not judged", 1, 4.0, 0),
    )
    standing = part_advice.PartsStanding(str(results), 4, 1, 1, rows, (), ())
    region_maps.write(found, standing, "words", results / "maps.html")
    return (results / "maps.html").read_text(encoding="utf-8")


def test_the_tiles_hold_the_stands_where_they_lie_in_the_colors_of_their_work(laid):
    """Read by the archive's own reader, and by GDAL's."""
    import pyogrio.raw

    found, results = laid
    assert found.without_place == 1
    target = results / part_maps.TILES
    part_maps.write_tiles(found, region_maps.WORK_COLORS, target)
    with target.open("rb") as stream:
        reader = Reader(MmapSource(stream))
        header = reader.header()
        assert (header["tile_type"], header["min_zoom"], header["max_zoom"]) == (TileType.MVT, 8, 13)
        ends = [header[name] / 1e7 for name in ("min_lon_e7", "min_lat_e7", "max_lon_e7", "max_lat_e7")]
        assert ends == pytest.approx([-50, 36, -49.97, 36.01], abs=1e-3)
        # The tile of zoom 13 that holds the middle of the west stand, by the formula of web maps.
        row = (1 - math.asinh(math.tan(math.radians(36.005))) / math.pi) / 2 * 2**13
        assert reader.get(13, int((180 - 49.995) / 360 * 2**13), int(row))
    fields, _, shapes, values = pyogrio.raw.read(target)
    told = {row[0]: row for row in zip(*(values[list(fields["fields"]).index(name)] for name in ("stand", "work", "color")), strict=True)}
    assert told == {
        "w": ("w", "treat", region_maps.WORK_COLORS["treat"]),
        "e": ("e", "cut", region_maps.WORK_COLORS["cut"]),
        "d": ("d", "look", region_maps.WORK_COLORS["look"]),
    }
    assert {shapely.get_type_id(one) for one in shapely.from_wkb(shapes)} >= {0}
    assert backgrounds.look(target).kind == "vector"
    again = results / "again.pmtiles"
    part_maps.write_tiles(found, region_maps.WORK_COLORS, again)
    assert again.read_bytes() == target.read_bytes()


def test_nothing_to_draw_leaves_no_tiles(laid):
    found, results = laid
    none = part_maps.Drawn(found.stands.clear(), found.shapes[:0], 4)
    (results / part_maps.TILES).write_bytes(b"old")
    part_maps.write_tiles(none, region_maps.WORK_COLORS, results / part_maps.TILES)
    assert not (results / part_maps.TILES).exists()
    assert "4 stands have neither" in _page((none, results))


def test_the_page_draws_each_stand_on_five_maps_and_asks_no_network_for_anything(laid):
    page = _page(laid)
    assert page.count("<svg viewBox") == 1 + len(part_maps.GATES)
    assert [page.count(f'href="#s{number}"') for number in range(4)] == [5, 5, 5, 0]
    assert not re.search(r"https?://|url\(|<script|@import", page)
    assert "&lt;East&gt;" in page and "<East>" not in page
    assert "in doubt" not in page
    assert "1 stand has neither an outline nor a place and is on no map" in page and "<td>Inject the midstory</td>" in page
    assert "<td>Make the seed cut, if firm</td>" in page and "decided on its full advice" in page
    # East of the other, and as wide; the dot between them.
    west, east = (float(x) for x in re.findall(r'id="s\d" fill-rule="evenodd" d="M([\d.]+),', page))
    dot = float(re.search(r'cx="([\d.]+)"', page)[1])
    assert sorted((west, dot, east))[1] == dot


def test_many_stands_are_cells_in_the_same_places_and_colors(laid, monkeypatch):
    found, _ = laid
    monkeypatch.setattr(region_maps, "_MOST_SHAPES", 2)
    image = Image.open(io.BytesIO(base64.b64decode(re.search(r"base64,([^\"]+)", _page(laid))[1])))
    pixels = np.asarray(image.convert("RGB"))
    across, down = image.size[0] / 3, image.size[1] // 2
    order = [tuple(pixels[down, int(across * (place + 0.5))]) for place in (0, 1, 2)]
    works = dict(found.stands.select("stand", "work").iter_rows())
    wanted = [tuple(bytes.fromhex(region_maps.WORK_COLORS[works[name]][1:])) for name in "wde"]
    assert order == wanted
    assert np.asarray(image.convert("RGBA"))[down, int(across * 1.3), 3] == 0


def test_a_cut_in_doubt_is_said_to_be_drawn_as_a_look(laid):
    found, results = laid
    doubted = found.stands.with_columns(pl.when(pl.col("stand") == "e").then(pl.lit("look")).otherwise("work").alias("work"))

    assert "in doubt are drawn as looks: 1 here" in _page((part_maps.Drawn(doubted, found.shapes, 1), results))
