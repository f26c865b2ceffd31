"""A file of outlines: matched to stands, checked against what is known, looked at, written as one entry, and given out again."""

from __future__ import annotations

import json

import numpy as np
import pyproj
import pytest
import shapely

from conftest import TODAY
from overwood.desk import answers, entering, outline_files, outlines, session, undoing
from overwood.desk.outline_matching import OutlineAnswers
from overwood.desk.outlines import Drawing
from overwood.ground.errors import Misuse, NotFound

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("read_here")]
# The demo lies in mid ocean on purpose, at 50 west, 37.5 north.
WEST, NORTH = -50.0, 37.5


def square(west, south, side=0.004):
    return shapely.box(west, south, west + side, south + side)


def file_of(shapes, name="STAND"):
    features = [
        {"type": "Feature", "properties": {name: label}, "geometry": json.loads(shapely.to_geojson(s))} for label, s in shapes.items()
    ]
    return json.dumps({"type": "FeatureCollection", "features": features}).encode()


def look(shapes, **said):
    return outline_files.look("woods.geojson", file_of(shapes), OutlineAnswers(**said))


def shape(name):
    return shapely.from_wkt(answers.stand_file(name).stand.boundary_wkt)


def geodesic_ac(one):
    ring = pyproj.Geod(ellps="WGS84").polygon_area_perimeter(*one.exterior.xy)[0]
    return abs(ring) / 4046.8564224


@pytest.mark.parametrize("kind", ["gpkg", "zip", "geojson", "kml", "kmz", "gpx", "wkt"])
def test_outlines_given_out_come_back_as_they_were(demo_book, kind):
    before = {one.stand: one.area_ac for one in outlines.outlines()}

    found = outline_files.look(f"all.{kind}", outline_files.give_out(kind), OutlineAnswers(area="record"))

    assert {one.stand: one.how for one in found.outlines} == dict.fromkeys(before, "name")
    assert {one.stand: one.area_ac for one in found.outlines} == pytest.approx(before, rel=1e-3)
    assert not (found.questions or found.problems)
    for one in found.outlines:
        old = shape(one.stand)
        assert shapely.from_wkt(one.wkt).symmetric_difference(old).area < 1e-5 * old.area


def test_an_outline_is_matched_by_name_whatever_its_column_and_capitals(demo_book):
    found = look({"s1": shape("S1"), "S3": shape("S3")}, area="record")

    assert [(one.label, one.stand, one.how) for one in found.outlines] == [("s1", "S1", "name"), ("S3", "S3", "name")]
    assert found.name_column == "STAND"


def test_an_outline_is_matched_by_the_full_name_of_a_stand(demo_book):
    full = answers.stand_file("S3").stand.name

    assert [one.stand for one in look({full.upper(): shape("S3")}, area="record").outlines] == ["S3"]


def test_a_shape_without_a_name_of_ours_is_asked_about_with_the_stand_whose_land_it_is(demo_book):
    shapes = {"tract 7": shape("S3")}
    found = look(shapes)

    (question,) = found.questions
    assert (question.option, question.about, question.choices) == ("--stand", "tract 7", ("S3", "-"))
    with pytest.raises(Misuse, match="not yet said"):
        outline_files.write(found, OutlineAnswers(), TODAY)
    assert [one.stand for one in look(shapes, stands={"tract 7": "S3"}, area="record").outlines] == ["S3"]
    left = look(shapes | {"S1": shape("S1")}, stands={"tract 7": "-"}, area="record")
    assert ([one.stand for one in left.outlines], left.left_out) == (["S1"], ("tract 7",))


def test_a_shape_called_as_one_stand_on_the_land_of_another_is_asked_about(demo_book):
    found = look({"S1": shape("S3")})

    assert not found.outlines
    assert found.questions[0].choices == ("S1", "S3", "-")


def test_two_shapes_for_one_stand_are_told(demo_book):
    found = look({"S1": shape("S1"), "b": square(WEST, NORTH)}, stands={"b": "S1"}, area="record")

    assert "S1 and b are both meant for S1" in found.problems[0].what
    assert not found.outlines


def test_parts_of_one_name_make_one_outline(demo_book):
    one, two = square(WEST, NORTH + 0.01), square(WEST + 0.006, NORTH + 0.01)
    features = [{"type": "Feature", "properties": {"STAND": "N1"}, "geometry": json.loads(shapely.to_geojson(part))} for part in (one, two)]
    content = json.dumps({"type": "FeatureCollection", "features": features}).encode()

    (coming,) = outline_files.look("w.geojson", content, OutlineAnswers(new=True)).outlines
    assert coming.area_ac == pytest.approx(geodesic_ac(one) + geodesic_ac(two), rel=1e-6)
    assert "2 shapes of this name" in coming.notes[0]


def test_acres_that_differ_are_asked_about_and_never_changed_unasked(demo_book):
    """The demo's S1 is noted as in its record; half of its outline cannot be it."""
    noted = answers.stand_file("S1").stand.area_ac
    west, south, east, north = shape("S1").bounds
    half = shapely.box(west, south, west + (east - west) / 2, north).intersection(shape("S1"))

    found = look({"S1": half})
    assert found.questions[0].option == "--area"
    assert f"noted {noted:.1f} ac" in found.questions[0].text
    outline_files.write(look({"S1": half}, area="record"), OutlineAnswers(area="record"), TODAY)
    assert answers.stand_file("S1").stand.area_ac == noted
    outline_files.write(look({"S1": half}, area="outline"), OutlineAnswers(area="outline"), TODAY)
    assert answers.stand_file("S1").stand.area_ac == pytest.approx(geodesic_ac(half), abs=0.01)


def test_what_is_written_is_one_entry_that_can_be_undone_and_keeps_everything_else(demo_book):
    before = {name: answers.stand_file(name).stand for name in ("S1", "S3")}
    moved = {name: shapely.affinity.translate(shape(name), 0.0005, 0) for name in before}
    said = OutlineAnswers(area="record")

    report = outline_files.write(look(moved, area="record"), said, TODAY)

    after = {name: answers.stand_file(name).stand for name in before}
    for name, old in before.items():
        assert shapely.from_wkt(after[name].boundary_wkt).equals_exact(moved[name], 1e-7)
        assert (after[name].area_ac, after[name].site_index_ft, after[name].note) == (old.area_ac, old.site_index_ft, old.note)
    undoing.undo(report.batch)
    assert {name: answers.stand_file(name).stand for name in before} == before


def test_new_stands_are_made_only_when_asked(demo_book):
    shapes = {"N1": square(WEST + 0.02, NORTH + 0.02)}
    assert look(shapes).questions and not look(shapes).outlines
    said = OutlineAnswers(new=True)

    outline_files.write(look(shapes, new=True), said, TODAY)

    stand = answers.stand_file("N1").stand
    assert stand.property == "Vesperlick"
    assert stand.area_ac == pytest.approx(geodesic_ac(shapes["N1"]), abs=0.01)


def test_land_in_two_stands_is_said_within_the_file_and_against_the_book(demo_book):
    one, two = square(WEST + 0.02, NORTH + 0.02), square(WEST + 0.022, NORTH + 0.02)
    found = look({"N1": one, "N2": two}, new=True)

    common = geodesic_ac(one.intersection(two))
    assert f"{common:.1f} ac of N1 lie in N2 too." in found.notes
    over = look({"N3": shapely.box(*shape("S1").bounds).buffer(0.004)}, new=True)
    assert any("of N3 lie in S1 too" in note for note in over.notes)


def swapped(one):
    return shapely.transform(one, lambda pairs: pairs[:, ::-1])


def test_an_outline_with_latitude_first_is_refused_and_the_other_order_offered(demo_book):
    wrong = {"S1": swapped(shape("S1"))}

    found = look(wrong)
    assert not found.outlines
    assert "miles from Vesperlick Tract. With latitude and longitude swapped it lies where it should" in found.problems[0].what
    assert "--swap" in found.problems[0].remedy
    (right,) = look(wrong, swap=True, area="record").outlines
    assert right.area_ac == pytest.approx(geodesic_ac(shape("S1")), rel=1e-6)


def test_an_outline_of_other_land_is_refused_and_the_others_come_in(demo_book):
    found = look({"S1": shapely.affinity.translate(shape("S1"), 5, 1), "S3": shape("S3")}, area="record")

    assert [one.stand for one in found.outlines] == ["S3"]
    assert "miles from" in found.problems[0].what and "swapped" not in found.problems[0].what


def test_a_drawn_outline_is_held_to_its_property_too(demo_book):
    """Corners typed latitude first would be land near the pole."""
    drawn = json.loads(shapely.to_geojson(swapped(square(WEST, NORTH + 0.01))))
    with pytest.raises(Misuse, match=r"swapped it lies where it should.*the other way round"):
        outlines.propose(Drawing("draw", "S20", shape=drawn))


def test_beyond_the_polar_circle_grows_no_oak_even_where_no_place_is_known(sqlite_book):
    entering.enter({"properties": [{"property": "P"}], "stands": [{"stand": "A", "property": "P"}]}, today=TODAY, name="typed")
    found = outline_files.look("w.geojson", file_of({"A": swapped(square(-82.1, 37.5))}), OutlineAnswers())

    assert "beyond the polar circle. With latitude and longitude swapped" in found.problems[0].what


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (OutlineAnswers(name_column="nosuch"), "has no column 'nosuch'"),
        (OutlineAnswers(stands={"nosuch": "S1"}), "no shape of the file is called 'nosuch'"),
        (OutlineAnswers(stands={"S1": "S99"}), "there is no stand 'S99'"),
        (OutlineAnswers(area="half"), "--area is 'half'"),
    ],
)
def test_an_answer_to_no_question_is_refused_with_what_there_is(demo_book, said, words):
    with pytest.raises(Misuse) as caught:
        outline_files.look("w.geojson", file_of({"S1": shape("S1")}), said)
    assert words in str(caught.value) and caught.value.remedy


def test_what_is_not_there_is_not_given_out(demo_book):
    with pytest.raises(NotFound):
        outline_files.give_out("gpkg", ("S99",))
    with pytest.raises(Misuse, match="not written as 'dxf'"):
        outline_files.give_out("dxf")
    with pytest.raises(Misuse, match="keeps longitude and latitude"):
        outline_files.give_out("kml", system="EPSG:26917")


def test_given_out_in_another_system_the_plane_area_is_that_of_the_ground(demo_book, tmp_path):
    """UTM zone 22 north holds the demo's longitude; its areal scale is taken from PROJ."""
    import pyogrio.raw

    (tmp_path / "utm.gpkg").write_bytes(outline_files.give_out("gpkg", ("S1",), "EPSG:32622"))
    _, _, found, _ = pyogrio.raw.read(tmp_path / "utm.gpkg")

    middle = shape("S1").centroid
    scale = pyproj.Proj("EPSG:32622").get_factors(middle.x, middle.y).areal_scale
    assert np.sum(shapely.area(shapely.from_wkb(found))) / scale == pytest.approx(geodesic_ac(shape("S1")) * 4046.8564224, rel=1e-5)


def test_nothing_is_written_by_a_look(demo_book):
    before = session.data_version()
    look({"S1": square(WEST, NORTH)}, area="outline")
    assert session.data_version() == before
