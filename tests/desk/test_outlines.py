"""Outlines: true areas against a closed form and a second geodesic program, and what drawing, splitting and merging leave in the book."""

from __future__ import annotations

import dataclasses
import json
import math

import numpy as np
import pytest
import shapely

from conftest import TODAY
from overwood.desk import answers, entering, outlines, session, undoing
from overwood.desk.outlines import Drawing
from overwood.ground.errors import Misuse, NotFound

pytestmark = pytest.mark.slow
M2_PER_ACRE = 4046.8564224


def _quadrilateral(west, south, east, north, steps=400):
    """A quadrilateral of meridians and parallels; parallels are no geodesics, so they get many corners."""
    along, back = np.linspace(west, east, steps), np.linspace(east, west, steps)
    corners = [*zip(along, np.full(steps, south), strict=True), *zip(back, np.full(steps, north), strict=True)]
    return shapely.Polygon(corners)


def _snyder_m2(west, south, east, north):
    """Area of a quadrilateral on the ellipsoid, closed form: J. P. Snyder, 1987, USGS Professional Paper 1395, equation 3-12 (from memory of it)."""
    a, f = 6378137.0, 1 / 298.257223563
    e2 = f * (2 - f)
    e = math.sqrt(e2)

    def q(degrees):
        s = math.sin(math.radians(degrees))
        return (1 - e2) * (s / (1 - e2 * s * s) - math.log((1 - e * s) / (1 + e * s)) / (2 * e))

    return a * a * math.radians(east - west) / 2 * (q(north) - q(south))


@pytest.mark.parametrize(
    "box", [(-82.01, 38.3, -82.0, 38.31), (-83.0, 38.0, -82.0, 39.0), (-0.01, -0.01, 0.01, 0.01), (-50.0, 60.0, -49.99, 60.02)]
)
def test_area_is_that_of_the_ellipsoid(box):
    assert outlines.area_ac(_quadrilateral(*box)) == pytest.approx(_snyder_m2(*box) / M2_PER_ACRE, rel=2e-7)


def test_area_does_not_turn_with_the_outline():
    shape = _quadrilateral(-82.01, 38.3, -82.0, 38.31, steps=2)
    assert outlines.area_ac(shape.reverse()) == pytest.approx(outlines.area_ac(shape), rel=1e-12)


def test_area_leaves_holes_out_and_adds_parts_whichever_way_their_rings_turn():
    shell, hole = (-82.01, 38.3, -82.0, 38.31), (-82.007, 38.303, -82.003, 38.307)
    one, two = _quadrilateral(*shell), _quadrilateral(*hole)
    with_hole = _snyder_m2(*shell) - _snyder_m2(*hole)
    for ring in (two.exterior, two.exterior.reverse()):
        assert outlines.area_ac(shapely.Polygon(one.exterior, [ring])) == pytest.approx(with_hole / M2_PER_ACRE, rel=1e-6)
    apart = _quadrilateral(-82.03, 38.3, -82.02, 38.31)
    for other in (apart, apart.reverse()):
        assert outlines.area_ac(shapely.MultiPolygon([one, other])) == pytest.approx(2 * _snyder_m2(*shell) / M2_PER_ACRE, rel=1e-6)


def test_web_mercator_would_be_wrong_by_the_square_of_the_secant():
    """Why areas are not taken from the map: at 38 degrees the map shows 1 / cos(38)^2 of the land (Snyder 1987, section 7)."""
    import pyproj

    shape = _quadrilateral(-82.01, 38.0, -82.0, 38.01)
    flat = shapely.transform(shape, pyproj.Transformer.from_crs(4326, 3857, always_xy=True).transform, interleaved=False)
    assert flat.area / M2_PER_ACRE / outlines.area_ac(shape) == pytest.approx(1 / math.cos(math.radians(38.005)) ** 2, rel=0.01)


def _square(west, south, side=0.004):
    return json.loads(shapely.to_geojson(shapely.box(west, south, west + side, south + side)))


def test_a_new_stand_is_drawn_with_its_area(demo_book):
    drawing = Drawing("draw", "S20", shape=_square(-49.96, 37.5))
    report = outlines.keep(drawing, TODAY)
    stand = answers.stand_file("S20").stand
    assert report.batch
    assert stand.property == "Vesperlick"
    assert stand.area_ac == pytest.approx(_snyder_m2(-49.96, 37.5, -49.956, 37.504) / M2_PER_ACRE, abs=0.01)
    assert outlines.propose(dataclasses.replace(drawing, act="change")).outlines[0].area_ac == pytest.approx(stand.area_ac, abs=0.005)


def test_a_changed_outline_is_a_correction_and_can_be_undone(demo_book):
    before = answers.stand_file("S1").stand
    report = outlines.keep(Drawing("change", "S1", shape=_square(-50.0, 37.5), take_area=False), TODAY)
    after = answers.stand_file("S1").stand
    assert (after.area_ac, after.site_index_ft, after.birth_year) == (before.area_ac, before.site_index_ft, before.birth_year)
    assert after.boundary_wkt != before.boundary_wkt
    assert [row["boundary_wkt"] for row in session.record_history("stands", after.id)][1] == before.boundary_wkt
    undoing.undo(report.batch)
    assert answers.stand_file("S1").stand == before


def test_a_split_parts_the_land_and_keeps_the_records_with_the_larger_part(demo_book):
    whole = next(one for one in outlines.outlines() if one.stand == "S1")
    west, south, east, north = shapely.from_wkt(answers.stand_file("S1").stand.boundary_wkt).bounds
    third = west + (east - west) / 3
    line = {"type": "LineString", "coordinates": [[third, south - 0.001], [third, north + 0.001]]}
    drawing = Drawing("split", "S1", other="S1b", shape=line)
    found = outlines.propose(drawing)
    outlines.keep(drawing, TODAY)
    one, two = answers.stand_file("S1"), answers.stand_file("S1b")
    assert "count there anew" in found.notes[0]
    assert one.stand.area_ac + two.stand.area_ac == pytest.approx(whole.area_ac, abs=0.02)
    assert two.stand.area_ac == pytest.approx(whole.area_ac / 3, rel=0.001)
    assert (two.stand.site_index_ft, two.stand.birth_year) == (one.stand.site_index_ft, one.stand.birth_year)
    assert one.visits and not two.visits


def test_a_merged_stand_is_no_longer_listed_and_its_records_stay(demo_book):
    areas = {one.stand: one.area_ac for one in outlines.outlines()}
    drawing = Drawing("merge", "S1", other="S4")
    found = outlines.propose(drawing)
    report = outlines.keep(drawing, TODAY)
    assert "do not touch" in " ".join(found.notes)
    assert answers.stand_file("S1").stand.area_ac == pytest.approx(areas["S1"] + areas["S4"], abs=0.02)
    assert "S4" not in [stand.stand for stand in session.stands()]
    assert "S4" not in answers.all_files() and "S4" not in session.stand_marks()
    assert answers.stand_file("S4").stand.merged_into == "S1" and answers.stand_file("S4").visits
    undoing.undo(report.batch)
    assert {one.stand: one.area_ac for one in outlines.outlines()} == areas


def test_land_in_two_stands_is_said(demo_book):
    found = outlines.propose(Drawing("draw", "S20", shape=_square(-49.998, 37.501)))
    common = shapely.box(-49.998, 37.501, -49.994, 37.505).intersection(shapely.from_wkt(answers.stand_file("S1").stand.boundary_wkt))
    assert found.notes == (f"{_snyder_m2(*common.bounds) / M2_PER_ACRE:.1f} ac of S20 lie in S1 too.",)


BOW_TIE = {"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]]}
SHORT = {"type": "LineString", "coordinates": [[-49.999, 37.501], [-49.998, 37.502]]}
LINE = {"type": "LineString", "coordinates": [[-49.998, 37.49], [-49.998, 37.51]]}


@pytest.mark.parametrize(
    ("drawing", "words"),
    [
        (Drawing("fell", "S1"), "nothing the map does"),
        (Drawing("draw", " ", shape=_square(0, 0)), "has no name"),
        (Drawing("draw", "S1", shape=_square(0, 0)), "has an outline already"),
        (Drawing("draw", "S20"), "nothing was drawn"),
        (Drawing("draw", "S20", shape={"type": "Polygon", "coordinates": "x"}), "nothing was drawn"),
        (
            Drawing(
                "draw",
                "S20",
                shape={"type": "Polygon", "coordinates": [[[500000, 4200000], [500100, 4200000], [500100, 4200100], [500000, 4200000]]]},
            ),
            "not in degrees",
        ),
        (Drawing("draw", "S20", shape=BOW_TIE), "crosses itself"),
        (Drawing("draw", "S20", shape=LINE), "is an area"),
        (Drawing("split", "S1", other="S1b", shape=SHORT), "into 1, not in two"),
        (Drawing("split", "S1", other="S1b", shape=_square(-49.998, 37.501)), "along a line"),
        (Drawing("split", "S1", other="S2", shape=LINE), "already"),
        (Drawing("split", "S1", shape=LINE), "has no name"),
        (Drawing("merge", "S1", other="S1"), "with itself"),
    ],
)
def test_what_cannot_be_drawn_is_said_and_changes_nothing(demo_book, drawing, words):
    before = session.data_version()
    for work in (outlines.propose, lambda one: outlines.keep(one, TODAY)):
        with pytest.raises(Misuse) as fault:
            work(drawing)
        assert words in str(fault.value)
    assert session.data_version() == before


def test_a_stand_that_is_not_there_is_not_changed(demo_book):
    with pytest.raises(NotFound):
        outlines.keep(Drawing("change", "S77", shape=_square(0, 0)), TODAY)


@pytest.mark.parametrize(
    ("wkt", "words"),
    [
        ("POLYGON ((0 0, 1 1", "cannot be read"),
        ("LINESTRING (0 0, 1 1)", "not an area"),
        ("POLYGON ((500000 4200000, 500100 4200000, 500100 4200100, 500000 4200000))", "not in degrees"),
        ("POLYGON ((0 0, 1 1, 1 0, 0 1, 0 0))", "Self-intersection"),
    ],
)
def test_an_outline_that_cannot_be_is_a_fault_on_import(demo_book, wkt, words):
    report = entering.enter({"stands": [{"stand": "S20", "property": "Vesperlick", "boundary_wkt": wkt}]}, today=TODAY, name="typed")
    assert [(fault.column, words in fault.remedy) for fault in report.faults] == [("boundary_wkt", True)]


NEAR, FAR = "POLYGON ((-82.1 37.5, -82.09 37.5, -82.09 37.51, -82.1 37.5))", "POLYGON ((-80 30, -79.99 30, -79.99 30.01, -80 30))"
TURNED = "POLYGON ((37.5 -82.1, 37.5 -82.09, 37.51 -82.09, 37.5 -82.1))"


def _sheets(*stands):
    land = {"property": "Millrun", "latitude_deg": "37.5", "longitude_deg": "-82.1"}
    rows = [{"stand": name, "property": "Millrun", "boundary_wkt": wkt} for name, wkt in stands]
    visits = [{"visit": f"{name}-1", "stand": name, "kind": "cruise", "visited_on": "2025-05-14"} for name, _ in stands]
    return {"properties": [land], "stands": rows, "visits": visits}


def test_a_sheet_of_stands_is_held_to_where_the_property_lies(sqlite_book):
    report = entering.enter(_sheets(("A", NEAR), ("B", FAR), ("C", TURNED)), today=TODAY, name="typed")

    told = {fault.found: (fault.column, fault.what, fault.remedy) for fault in report.faults if fault.column == "boundary_wkt"}
    assert set(told) == {"B", "C"} and not report.new
    assert "miles from Millrun" in told["B"][1]
    assert told["C"][2] == "Give each corner the other way round."


def test_what_hangs_on_a_stand_that_lies_astray_is_left_out_with_it(sqlite_book):
    from overwood.desk.incoming import Incoming
    from overwood.memory.book import store

    sheets = entering.typed_sheets("made", _sheets(("A", NEAR), ("B", FAR)))
    entering.write(Incoming(name="made", digest="made", sheets=sheets), today=TODAY, leave_out_faulty=True)

    assert [row.stand for row in store.records("stands")] == ["A"]
    assert [row.visit for row in store.records("visits")] == ["A-1"]


def test_a_sheet_of_stands_beyond_the_polar_circle_is_refused_where_no_place_is_known(sqlite_book):
    rows = {"properties": [{"property": "P"}], "stands": [{"stand": "A", "property": "P", "boundary_wkt": TURNED}]}

    (fault,) = entering.enter(rows, today=TODAY, name="typed").faults

    assert "beyond the polar circle" in fault.what and fault.remedy == "Give each corner the other way round."
