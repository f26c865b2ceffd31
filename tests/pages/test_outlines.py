"""A file of outlines in the browser: looked at beside what is there, asked about, written, and given out."""

from __future__ import annotations

import html
import json
import re

import pytest
import shapely


def file_of(shapes, name="STAND"):
    features = [
        {"type": "Feature", "properties": {name: label}, "geometry": json.loads(shapely.to_geojson(s))} for label, s in shapes.items()
    ]
    return json.dumps({"type": "FeatureCollection", "features": features}).encode()


def send(here, name="woods.geojson", content=None, **fields):
    files = [("file", name, content)] if content is not None else ()
    status, _, body = here.send("/outlines/", fields, files=files)
    return status, html.unescape(body.decode())


def carried(text):
    return {key: re.search(rf'name="{key}" value="([^"]*)"', text)[1] for key in ("carried", "file_name")}


@pytest.fixture
def property_of_two(fresh):
    assert fresh.send("/records/properties/", {"property": "P", "latitude_deg": "37.5", "longitude_deg": "-82.1"})[0] == 200
    for name in ("A", "B"):
        assert fresh.send("/records/stands/", {"stand": name, "property": "P", "area_ac": "40"})[0] == 200
    return fresh


A, B = shapely.box(-82.104, 37.5, -82.1, 37.504), shapely.box(-82.1, 37.5, -82.096, 37.504)


def test_a_file_is_looked_at_asked_about_and_written_without_sending_it_again(property_of_two):
    here = property_of_two
    status, text = send(here, content=file_of({"A": A, "tract 9": B}))
    assert status == 200
    assert '<path class="coming"' in text and "gives it an outline" in text
    assert "tract 9 is stand" in text
    # 0.004 by 0.004 degrees at 37.5 north are 353.8 by 444.0 m (length of a degree on the ellipsoid), 38.8 acres: 3 % from 40.
    assert "38.8" in text and "Acres that hold" not in text
    status, text = send(here, write="yes", **carried(text))
    assert status == 422 and "not yet said" in text
    status, text = send(here, write="yes", **carried(text), **{"stand.tract 9": "B"})
    assert status == 200 and "2 outlines of woods.geojson are written down as entry" in text
    shapes = {one["id"]: one for one in json.loads(here.ask("/map/stands.json")[2])["stands"]["features"]}
    assert set(shapes) == {"A", "B"}
    assert shapely.from_geojson(json.dumps(shapes["B"]["geometry"])).equals_exact(B, 1e-6)
    status, text = send(here, content=file_of({"A": A, "B": B}))
    assert '<path class="there"' in text


def test_an_outline_with_latitude_first_is_turned_by_a_tick(property_of_two):
    turned = shapely.transform(A, lambda pairs: pairs[:, ::-1])
    status, text = send(property_of_two, content=file_of({"A": turned}))
    assert status == 200 and "With latitude and longitude swapped it lies where it should" in text
    status, text = send(property_of_two, swap="yes", **carried(text))
    assert "gives it an outline" in text


def test_what_cannot_be_read_is_told_and_changes_nothing(property_of_two):
    for name, content, words in (
        ("w.gpkg", b"x", "It is no GeoPackage"),
        ("w.dxf", b"x", "is not read"),
        ("w.wkt", b"A; POLYGON ((400000 4100000, 400100 4100000, 400100 4100100, 400000 4100000))", "which are no degrees"),
        ("w.geojson", b"[" * 2_900_000, "is larger than 2.8 MB"),
    ):
        status, text = send(property_of_two, name, content)
        assert status in (400, 422) and words in text, text[-1500:]
    assert json.loads(property_of_two.ask("/map/stands.json")[2])["stands"]["features"] == []


def test_a_carried_file_that_was_spoiled_is_told(property_of_two):
    for carried_text, words in (("&&&", "is damaged"), ("", "no file was sent")):
        status, text = send(property_of_two, carried=carried_text, file_name="w.geojson")
        assert status == 400 and words in text.lower()


@pytest.mark.parametrize("kind", ["gpkg", "zip", "geojson", "kml", "kmz", "gpx", "wkt"])
def test_outlines_are_taken_away_and_come_back(here, kind):
    status, headers, content = here.ask(f"/outlines/outlines.{kind}")
    assert status == 200 and headers["Content-Disposition"] == f'attachment; filename="outlines.{kind}"'
    status, text = send(here, f"again.{kind}", content, area="record")
    assert status == 200 and text.count("replaces its outline") == 8


def test_a_kind_that_is_not_written_is_told(here):
    status, _, body = here.ask("/outlines/outlines.dxf")
    assert status == 400 and b"not written as" in body
