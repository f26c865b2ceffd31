"""Streams, roads and sites from geodata: the acres they take, the trees they keep, what the papers say of them."""

from __future__ import annotations

import datetime as dt
import json
import math

import pytest
import shapely

from overwood.desk import (
    answers,
    ground_features,
    importing,
    marking,
    outline_files,
    outline_matching,
    outlines,
    session,
    timber,
    undoing,
)
from overwood.desk.ground_features import Asked
from overwood.ground.errors import Misuse
from overwood.judgement import stem_map
from overwood.judgement.net_ground import net_ground
from overwood.judgement.rules import defaults
from overwood.memory.exchange.outlines import write as outline_file

TODAY = dt.date(2026, 11, 27)
RULES = defaults()
pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("read_here")]
SQFT_PER_AC = 43_560


def geojson(*features):
    """Features of (kind, name, shape)."""
    plain = [
        {"type": "Feature", "properties": {"kind": kind, "name": name}, "geometry": json.loads(shapely.to_geojson(shape))}
        for kind, name, shape in features
    ]
    return json.dumps({"type": "FeatureCollection", "features": plain}).encode()


def outline(stand):
    return shapely.from_wkt(answers.stand_file(stand).stand.boundary_wkt)


def across(stand):
    """A line through the middle of a stand from west to east, and beyond."""
    west, south, east, north = outline(stand).bounds
    return shapely.LineString([(west - 0.001, (south + north) / 2), (east + 0.001, (south + north) / 2)])


def look(*features, **asked):
    return ground_features.look("ground.geojson", geojson(*features), Asked(**asked), RULES)


def test_a_stream_across_a_stand_takes_twice_its_buffer_by_the_length_in_it(demo_book):
    """By hand: feet a degree of longitude from the radius of the parallel on the WGS 84 ellipsoid (NIMA TR8350.2, 2000)."""
    west, south, east, north = outline("S1").bounds
    latitude = math.radians((south + north) / 2)
    parallel_m = 6_378_137 * math.cos(latitude) / math.sqrt(1 - 0.00669437999 * math.sin(latitude) ** 2)
    length_ft = math.radians(east - west) * parallel_m / 0.3048

    (found,) = look(("stream", "Long Run", across("S1"))).stands

    (zone,) = found.ground.zones
    assert zone.buffer_ft == 50
    assert zone.acres == pytest.approx(2 * 50 * length_ft / SQFT_PER_AC, rel=1e-3)
    area = answers.stand_file("S1").stand.area_ac
    assert found.ground.net_ac == pytest.approx(area - zone.acres, rel=2e-3)
    assert ground_features.standing() == []


def test_ground_under_two_zones_counts_once(demo_book):
    line = across("S1")

    one = look(("stream", "a", line)).stands[0].ground
    two = look(("stream", "a", line), ("road", "b", line)).stands[0].ground

    assert [zone.kind for zone in two.zones] == ["stream", "road"]
    assert two.net_ac == pytest.approx(one.net_ac, rel=1e-9)
    assert two.protected_share == pytest.approx(one.protected_share)


def test_what_is_written_is_one_entry_that_can_be_undone(demo_book):
    from overwood.desk import undoing

    before = ground_features.standing()
    found = look(("stream", "Long Run", across("S1")), ("grave site", "", outline("S2").centroid), buffer_ft=80)
    report = ground_features.write(found, TODAY)

    assert {name: [zone.buffer_ft for zone in ground.zones] for name, ground in ground_features.standing()} == {"S1": [80.0], "S2": [80.0]}
    assert ground_features.write(look(("stream", "Long Run", across("S1")), buffer_ft=80), TODAY).batch is None
    undoing.undo(report.batch)
    assert ground_features.standing() == before == []


def test_what_is_not_understood_is_told_and_what_touches_no_stand_is_not_kept(demo_book):
    far = shapely.affinity.translate(across("S1"), 1, 0)
    found = look(("puddle", "x", across("S1")), ("stream", "far creek", far))

    assert "not said what this shape is" in found.problems[0].what
    assert "far creek" in found.notes[-1]
    with pytest.raises(Misuse, match="touches no stand"):
        ground_features.write(found, TODAY)
    with pytest.raises(Misuse, match="no kind of feature"):
        look(("", "x", across("S1")), kind="puddle")
    with pytest.raises(Misuse, match="no width"):
        look(("", "x", across("S1")), kind="stream", buffer_ft=-1)


def test_a_part_split_off_keeps_the_stream_that_crosses_it(demo_book):
    ground_features.write(look(("stream", "Long Run", across("S1"))), TODAY)
    whole = net_ground(answers.stand_file("S1"))
    west, south, east, north = outline("S1").bounds
    middle = (west + east) / 2
    line = {"type": "LineString", "coordinates": [[middle, south - 0.001], [middle, north + 0.001]]}
    drawing = outlines.Drawing(act="split", stand="S1", other="S1b", shape=line)

    assert "stream Long Run runs into S1b now" in " ".join(outlines.propose(drawing).notes)
    outlines.keep(drawing, TODAY)

    parts = [net_ground(answers.stand_file(name)).zones for name in ("S1", "S1b")]
    assert [len(zones) for zones in parts] == [1, 1]
    assert sum(zones[0].acres for zones in parts) == pytest.approx(whole.zones[0].acres, rel=1e-3)


def test_an_outline_moved_over_a_stream_of_its_neighbor_takes_it_along_once(demo_book):
    """Two streams of one name are two; a file with the same outline again adds nothing."""
    ground_features.write(look(("stream", "Long Run", across("S1")), ("stream", "Long Run", across("S2"))), TODAY)
    both = outline("S1").union(outline("S2"))
    content = outline_file("stands", [({"name": "S1"}, both)], "gpkg")
    asked = outline_matching.OutlineAnswers(area="outline")

    for turn in range(2):
        found = outline_files.look("stands.gpkg", content, asked)
        told = [note for note in found.notes if "Long Run" in note]
        assert len(told) == 1 - turn
        outline_files.write(found, asked, TODAY)
        assert [zone.feature for zone in net_ground(answers.stand_file("S1")).zones] == ["Long Run", "Long Run 2"]


def test_a_sheet_of_stands_with_outlines_takes_the_streams_along_once(demo_book):
    """A sheet, by the contract or with headings of its own, is another way for an outline to come in: the ground is the same."""
    ground_features.write(look(("stream", "Long Run", across("S1"))), TODAY)
    wkt = outline("S1").wkt
    sheet = f'stand,property,area_ac,boundary_wkt\nS77,{answers.stand_file("S1").stand.property},20,"{wkt}"\n'.encode()
    sent = importing.FileSent(name="stands.csv", content=sheet)

    seen = importing.consider(sent, today=TODAY)
    assert "stream Long Run runs into S77 now" in " ".join(one.what for one in seen.report.problems)
    report = importing.bring_in(sent, today=TODAY)
    assert (report.new["stands"], report.new["ground_features"]) == (1, 1)
    assert [zone.feature for zone in net_ground(answers.stand_file("S77")).zones] == ["Long Run"]
    assert report.review.sums.closes
    assert importing.bring_in(sent, today=TODAY).already

    undoing.undo(report.batch)
    assert not [row for row in session.ground_features() if row.stand == "S77"]


@pytest.mark.parametrize("ending", ["gpkg", "zip", "kml"])
def test_areas_come_in_from_every_kind_of_file(demo_book, ending):
    pond = outline("S1").centroid.buffer(0.0005)
    content = outline_file("ponds", [({"name": "mill pond"}, pond)], ending)

    (found,) = ground_features.look(f"ponds.{ending}", content, Asked(kind="pond or wetland", buffer_ft=0), RULES).stands

    (zone,) = found.ground.zones
    assert (found.stand, zone.name) == ("S1", "mill pond")
    # A circle of 0.0005 degrees, drawn as an ellipse of 44.2 by 55.5 m at 37.5 north (length of a degree on the ellipsoid).
    assert zone.acres == pytest.approx(math.pi * 44.2 * 55.5 / 4046.86, rel=0.01)


def test_lines_and_points_come_in_as_well_known_text_and_gpx(demo_book):
    line = across("S1")
    track = "".join(f'<trkpt lat="{y}" lon="{x}"/>' for x, y in line.coords)
    gpx = f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>haul</name><trkseg>{track}</trkseg></trk></gpx>'
    for name, content in (("road.wkt", f"haul; {line.wkt}"), ("road.gpx", gpx)):
        (found,) = ground_features.look(name, content.encode(), Asked(kind="road"), RULES).stands
        assert [(row.feature, row.kind, row.buffer_ft) for row in found.rows] == [("haul", "road", 10.0)]


def test_mapped_trees_beside_a_stream_stay_and_are_not_sold(demo_book, ask):
    """The stream runs along the south side of the demo's mapped block: trees within 50 ft of it, by their own north_ft."""
    file = answers.stand_file("S2")
    (drawn,) = file.stem_maps
    assert drawn.longitude_deg is not None
    stream = shapely.LineString([(drawn.longitude_deg - 0.002, drawn.latitude_deg), (drawn.longitude_deg + 0.004, drawn.latitude_deg)])
    near = {stem.stem for stem in file.stems if stem.north_ft < 49}
    away = {stem.stem for stem in file.stems if stem.north_ft > 51}
    assert near
    ground_features.write(look(("stream", "Long Run", stream)), TODAY)

    block = stem_map.block_of(answers.stand_file("S2"), RULES)

    stays = {stem.stem for stem in block.stems if stem.must == "leave"}
    assert near <= stays
    assert {stem.stem for stem in file.stems if stem.must == "leave"} | near >= stays - {
        s.stem for s in file.stems if 49 <= s.north_ft <= 51
    }
    assert away - stays
    with pytest.raises(Misuse, match="kept out of work"):
        timber.cut_list_of_stems("S2", ask, None, set(sorted(near)[:3]), "a marking")
    assert any("Long Run" in text for text in marking.warnings("S2", ask))


def test_orders_are_for_the_acres_that_are_treated(demo_book, ask):
    from overwood.desk import fire

    before = fire.injection("S1", ask)[0]
    ground_features.write(look(("stream", "Long Run", across("S1"))), TODAY)
    after = fire.injection("S1", ask)[0]

    net = net_ground(answers.stand_file("S1")).net_ac
    assert after.area_ac == pytest.approx(net)
    assert after.area_ac < before.area_ac == answers.stand_file("S1").stand.area_ac
    assert after.cuts_ac == before.cuts_ac


def test_timber_that_is_not_for_sale_is_told(demo_book, ask):
    before = timber.timber("S1", ask, None, "")
    ground_features.write(look(("stream", "Long Run", across("S1")), ("road", "haul", across("S1"))), TODAY)
    after = timber.timber("S1", ask, None, "")

    kept = net_ground(answers.stand_file("S1"))
    assert f"{kept.protected_share * kept.area_ac:.1f} acres lie where no work goes" in after.valued.notes[-1]
    assert set(after.valued.notes) - set(before.valued.notes) == {after.valued.notes[-1]}
    assert after.valued.sawtimber_bf_ac.number == before.valued.sawtimber_bf_ac.number


@pytest.mark.parametrize("tongue", ["en", "es", "both"])
def test_papers_list_the_ground_that_is_kept(demo_book, ask, tongue):
    from overwood.desk import fire, prescription
    from overwood.faces.papers import injection_order
    from overwood.faces.papers import prescription as paper

    ground_features.write(look(("stream", "Long Run", across("S1"))), TODAY)
    said = str(injection_order.content(fire.injection("S1", ask)[0], answers.stand_file("S1"), ask.on, tongue))

    assert "Long Run" in said
    assert ("arroyo" in said) == (tongue != "en")
    if tongue == "en":
        shown = paper.content(prescription.prescription("S1", ask), ask.on)
        assert any("Long Run" in line for line in shown["noted"])
        assert shown["map"].count("<polygon") == 2


def test_the_work_of_the_property_is_summed_over_the_acres_that_are_treated(demo_book, ask):
    ground_features.write(look(("stream", "Long Run", across("S1"))), TODAY)

    told = answers.advice("S1", ask)

    assert told.treated_ac == pytest.approx(net_ground(answers.stand_file("S1")).net_ac)
    assert told.treated_ac < told.area_ac
