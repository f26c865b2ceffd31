"""Outlines through every kind of file: areas hold, other coordinate systems are shifted rightly, damaged files are plain faults.

Areas are checked by pyproj's geodesic and by the plane area in a projected system; places by pyproj's own transformer.
"""

from __future__ import annotations

import io
import json
import math
import random
import zipfile

import numpy as np
import pyogrio.raw
import pyproj
import pytest
import shapely

from overwood.ground.errors import BadRecords, Misuse
from overwood.memory.exchange import outlines

GEOD = pyproj.Geod(ellps="WGS84")


def wavy(seed, east, north, holes=0):
    """An outline with many corners around a place, some 40 acres; ``holes`` of a few acres."""
    chance = random.Random(seed)
    around = [(360 * k / 60, 200 * (1 + 0.2 * chance.random())) for k in range(60)]
    shell = [GEOD.fwd(east, north, azimuth, far)[:2] for azimuth, far in around]
    rings = []
    for k in range(holes):
        middle = GEOD.fwd(east, north, 180 * k, 90)[:2]
        rings.append([GEOD.fwd(*middle, azimuth, 30)[:2] for azimuth in range(0, 360, 30)])
    return shapely.Polygon(shell, rings)


STANDS = {
    "K1": wavy(1, -82.30, 37.80),
    "K 2, upper": wavy(2, -82.31, 37.81, holes=2),
    "Dé": shapely.MultiPolygon([wavy(3, -82.32, 37.82), wavy(4, -82.34, 37.82)]),
}


def area_m2(shape):
    """Ring by ring, so that no turn of a ring matters: shells less their holes."""

    def ring(one):
        return abs(GEOD.polygon_area_perimeter(*one.xy)[0])

    return sum(ring(part.exterior) - sum(map(ring, part.interiors)) for part in getattr(shape, "geoms", [shape]))


def rows():
    return [({"stand": name, "property": "millrun", "area_ac": area_m2(shape) / 4046.8564224}, shape) for name, shape in STANDS.items()]


def named(found):
    return {next(value for value in one.values.values() if value in STANDS): one.polygon for one in found.shapes}


@pytest.mark.parametrize("kind", outlines.KINDS_OUT)
def test_an_outline_goes_out_and_comes_back_the_same(kind):
    found = outlines.read(f"woods.{kind}", outlines.write("stands", rows(), kind))

    assert not found.problems
    back = named(found)
    assert set(back) == set(STANDS)
    for name, shape in STANDS.items():
        assert area_m2(back[name]) == pytest.approx(area_m2(shape), rel=1e-6)
        assert back[name].symmetric_difference(shape).area / shape.area < 1e-6


@pytest.mark.parametrize("kind", ["gpkg", "zip"])
@pytest.mark.parametrize("system", ["EPSG:26917", "EPSG:32617", "EPSG:2205", "EPSG:3857", "EPSG:5070"])
def test_other_coordinate_systems_come_back_to_the_same_ground(kind, system):
    found = outlines.read(f"woods.{kind}", outlines.write("stands", rows(), kind, system))

    for name, shape in named(found).items():
        assert area_m2(shape) == pytest.approx(area_m2(STANDS[name]), rel=1e-4)
        assert shape.hausdorff_distance(STANDS[name]) < 1e-7


def shapefile(shape, system, **more):
    """A zipped shapefile written by the library itself, without the program."""
    import tempfile
    from pathlib import Path

    with tempfile.TemporaryDirectory() as folder:
        pyogrio.raw.write(
            Path(folder) / "parcel.shp", shapely.to_wkb(np.array([shape], dtype=object)), [np.array(["K1"], dtype=object)], ["STAND_NO"],
            driver="ESRI Shapefile", geometry_type="Polygon", crs=system,
        )  # fmt: skip
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w") as archive:
            for file in sorted(Path(folder).iterdir()):
                if file.suffix not in more.get("without", ()):
                    archive.write(file, f"from the county/{file.name}")
    return packed.getvalue()


def test_a_shapefile_in_utm_feet_on_the_ground_is_the_plane_area():
    """A square of 1,320 ft in UTM holds 40 acres of map; the ground differs by the square of the scale, within 0.1%."""
    side = 1320 * 0.3048
    square = shapely.box(385_000, 4_184_000, 385_000 + side, 4_184_000 + side)
    (shape,) = outlines.read("parcel.zip", shapefile(square, "EPSG:26917")).shapes

    scale = pyproj.Proj("EPSG:26917").get_factors(shape.polygon.centroid.x, shape.polygon.centroid.y).areal_scale
    assert shape.values == {"STAND_NO": "K1"}
    assert area_m2(shape.polygon) / 4046.8564224 == pytest.approx(40 / scale, rel=1e-5)
    assert area_m2(shape.polygon) / 4046.8564224 == pytest.approx(40, rel=1e-3)


def test_a_shapefile_of_1927_is_shifted_and_its_doubt_is_said():
    """NAD 27 lies tens of meters from WGS 84 here; taken for WGS 84 it would be on the neighbor's land."""
    placed = shapely.transform(STANDS["K1"], pyproj.Transformer.from_crs(4326, 26717, always_xy=True).transform, interleaved=False)
    found = outlines.read("old.zip", shapefile(placed, "EPSG:26717"))

    assert area_m2(found.shapes[0].polygon) == pytest.approx(area_m2(STANDS["K1"]), rel=1e-3)
    middle, true = found.shapes[0].polygon.centroid, STANDS["K1"].centroid
    assert GEOD.inv(middle.x, middle.y, true.x, true.y)[2] < 30
    assert any("NAD27" in note and "shifted to WGS 84" in note and "grid" in note for note in found.notes)
    degrees = shapely.transform(STANDS["K1"], pyproj.Transformer.from_crs(4326, 4267, always_xy=True).transform, interleaved=False)
    assert any("NAD27" in note for note in outlines.read("old.zip", shapefile(degrees, "EPSG:4267")).notes)


def test_a_system_of_today_needs_no_such_note():
    for system in ("EPSG:26917", "EPSG:4269", "EPSG:32617"):
        assert outlines.read("woods.gpkg", outlines.write("stands", rows(), "gpkg", system)).notes == ()


def test_a_shapefile_without_its_system_is_asked_about():
    placed = shapely.transform(STANDS["K1"], pyproj.Transformer.from_crs(4326, 26917, always_xy=True).transform, interleaved=False)
    content = shapefile(placed, "EPSG:26917", without=(".prj",))

    with pytest.raises(Misuse, match="no degrees"):
        outlines.read("parcel.zip", content)
    told = outlines.read("parcel.zip", content, system="EPSG:26917")
    assert area_m2(told.shapes[0].polygon) == pytest.approx(area_m2(STANDS["K1"]), rel=1e-4)
    with pytest.raises(Misuse, match="no known coordinate system"):
        outlines.read("parcel.zip", content, system="EPSG:1")


TRACK = """<?xml version="1.0"?><gpx version="1.1" creator="a receiver" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="37.8" lon="-82.3"><name>gate</name></wpt><trk><name>K1</name><trkseg>{}</trkseg></trk></gpx>"""


def track(points):
    return TRACK.format("".join(f'<trkpt lat="{y}" lon="{x}"/>' for x, y in points)).encode()


def test_a_walked_track_is_closed_over_a_small_gap_and_it_is_said():
    corners = list(STANDS["K1"].exterior.coords)[:-1]
    (shape,) = outlines.read("walk.gpx", track(corners)).shapes

    assert area_m2(shape.polygon) == pytest.approx(area_m2(STANDS["K1"]), rel=1e-6)
    assert "closed over a gap" in shape.notes[0]


def test_a_track_that_does_not_come_back_is_refused():
    found = outlines.read("walk.gpx", track(list(STANDS["K1"].exterior.coords)[:30]))

    assert not found.shapes
    assert "does not come back" in found.problems[0].what


def test_well_known_text_with_a_system_of_its_own():
    placed = shapely.transform(STANDS["K1"], pyproj.Transformer.from_crs(4326, 26917, always_xy=True).transform, interleaved=False)
    (shape,) = outlines.read("k.wkt", f"K1; SRID=26917; {placed.wkt}".encode()).shapes

    assert shape.values == {"name": "K1"}
    assert area_m2(shape.polygon) == pytest.approx(area_m2(STANDS["K1"]), rel=1e-4)


def collection(*shapes, **more):
    features = [
        {"type": "Feature", "properties": {"id": n}, "geometry": json.loads(shapely.to_geojson(s)) if s else None}
        for n, s in enumerate(shapes)
    ]
    return json.dumps({"type": "FeatureCollection", "features": features, **more}).encode()


def test_a_shape_that_is_no_outline_stops_itself_and_no_other():
    bow_tie = shapely.Polygon([(-82, 37), (-81.9, 37.1), (-81.9, 37), (-82, 37.1)])
    found = outlines.read("w.geojson", collection(STANDS["K1"], bow_tie, shapely.Point(-82, 37), None, STANDS["K1"]))

    assert [one.number for one in found.shapes] == [1, 5]
    assert [(problem.row, problem.what.split(":")[0].rstrip(".")) for problem in found.problems] == [
        (2, "The outline crosses itself"), (3, "The entry is a point, not an area"), (4, "The entry has no shape"),
    ]  # fmt: skip


def test_a_doubled_corner_and_a_spike_are_no_reason_to_refuse():
    corners = list(STANDS["K1"].exterior.coords)
    spiked = shapely.Polygon([*corners[:10], corners[9], (corners[9][0] + 0.001, corners[9][1]), corners[9], *corners[10:]])
    (shape,) = outlines.read("w.geojson", collection(spiked)).shapes

    assert area_m2(shape.polygon) == pytest.approx(area_m2(STANDS["K1"]), rel=1e-6)
    assert "mended" in shape.notes[0]


def bent(content, seed):
    """A file with some of its bytes changed or its end gone."""
    chance = random.Random(seed)
    spoiled = bytearray(content)
    for _ in range(chance.randint(1, 40)):
        spoiled[chance.randrange(len(spoiled))] = chance.randrange(256)
    return bytes(spoiled[: chance.randrange(1, len(spoiled))] if seed % 2 else spoiled)


@pytest.mark.parametrize("kind", outlines.KINDS_OUT)
def test_a_damaged_file_is_a_plain_fault_or_still_sound(kind):
    content = outlines.write("stands", rows(), kind)
    for seed in range(60):
        try:
            found = outlines.read(f"woods.{kind}", bent(content, seed))
        except (BadRecords, Misuse) as fault:
            assert str(fault)
            continue
        assert all(one.polygon.is_valid and math.isfinite(one.polygon.area) for one in found.shapes)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("w.dxf", b"x", "is not read"),
        ("w", b"x", "without an ending"),
        ("w.gpkg", b"<OGRVRTDataSource/>", "no GeoPackage"),
        ("w.kml", b"<OGRVRTDataSource></OGRVRTDataSource>", "first element is"),
        ("w.gpx", b"not xml", "no XML"),
        ("w.geojson", b"[1, 2]", "no GeoJSON"),
        ("w.geojson", b'{"type": "FeatureCollection", "features": []}', "no outline in it"),
        ("w.json", b"{" * 100_000, "no JSON"),
        ("w.zip", b"PK\x03\x04broken", "damaged"),
        ("w.wkt", b"K1; CIRCLE (1 2)", "is no outline"),
        ("w.wkt", b"K1; POLYGON ((1 2, 3", "cannot be read"),
    ],
)
def test_what_is_no_file_of_outlines_is_said(name, content, words):
    with pytest.raises(BadRecords) as caught:
        outlines.read(name, content)
    assert words in " ".join(str(problem) for problem in caught.value.problems)


@pytest.mark.slow
def test_a_file_with_too_many_shapes_or_one_that_unpacks_to_too_much_is_refused():
    many = collection(*[shapely.box(-82, 37, -81.9, 37.1)] * 5_001)
    with pytest.raises(BadRecords) as caught:
        outlines.read("w.geojson", many)
    assert "more than 5,000 shapes" in str(caught.value.problems[0])
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", b" " * 300_000_000)
    with pytest.raises(BadRecords) as caught:
        outlines.read("bomb.kmz", packed.getvalue())
    assert "unpacks to too much" in str(caught.value.problems[0])


def test_a_file_cannot_make_the_reader_open_another():
    """A list of other files dressed up as a document of outlines is not followed."""
    inside = (
        b'<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/hostname">]><kml><Document><name>&x;</name></Document></kml>'
    )
    with pytest.raises(BadRecords):
        outlines.read("w.kml", inside)


def test_several_layers_of_areas_are_asked_about(tmp_path):
    for layer in ("stands", "roads buffer"):
        pyogrio.raw.write(
            tmp_path / "two.gpkg", shapely.to_wkb(np.array([STANDS["K1"]], dtype=object)), [np.array(["K1"], dtype=object)], ["stand"],
            layer=layer, driver="GPKG", geometry_type="Polygon", crs="EPSG:4326", append=layer != "stands",
        )  # fmt: skip
    content = (tmp_path / "two.gpkg").read_bytes()

    with pytest.raises(Misuse, match="2 layers of areas"):
        outlines.read("two.gpkg", content)
    assert len(outlines.read("two.gpkg", content, layer="stands").shapes) == 1


EMPTY = b'{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": null, "geometry": {"type": "Polygon", "coordinates": []}}]}'


@pytest.mark.parametrize(
    ("name", "content"),
    [("w.geojson", EMPTY), ("w.wkt", b"POLYGON EMPTY"), ("w.geojson", b'{"type":"Polygon","coordinates":[[[NaN,1],[1,1],[2,2],[NaN,1]]]}')],
)
def test_a_file_of_nothing_but_an_empty_shape_says_so(name, content):
    found = outlines.read(name, content)

    assert not found.shapes
    assert found.problems[0].what in ("The entry has no shape.", "The outline has coordinates that are nowhere on the earth.")


def test_numbers_that_are_no_degrees_are_told_with_their_range():
    with pytest.raises(Misuse, match=r"from 1, 1 to 1e\+308, 1e\+308, which are no degrees"):
        outlines.read("w.geojson", b'{"type":"Polygon","coordinates":[[[1e308,1e308],[1,1],[2,2],[1e308,1e308]]]}')


def test_words_that_unfold_into_millions_are_refused():
    words = "".join(f'<!ENTITY a{k} "{f"&a{k - 1};" * 10}">' for k in range(1, 10))
    for root in ("kml", "gpx"):
        text = f'<?xml version="1.0"?><!DOCTYPE {root} [<!ENTITY a0 "lol">{words}]><{root}><name>&a9;</name></{root}>'
        with pytest.raises(BadRecords):
            outlines.read(f"w.{root}", text.encode())
