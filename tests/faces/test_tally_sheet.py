"""Blank tally sheets and maps: what stands on them, tagged, on two pages at most."""

from __future__ import annotations

import math

import pytest

import pdf_text
from conftest import DEMO_DAY
from overwood.desk import legs, walks
from overwood.desk.tally_forms import FORMS
from overwood.faces.papers import press, tally_sheet
from overwood.faces.papers.tally_sheet import drawing
from overwood.ground.errors import Misuse
from tags import faults


def plan_of(ask, kind, stand="S3", **design):
    return walks.plan(stand, kind, ask, walks.design(ask.rules, **design))


def read(path):
    pages = pdf_text.pages(path)
    return len(pages), faults(path.read_bytes()) == [], " ".join(pages)


def test_a_sheet_of_every_kind_is_tagged_and_has_two_pages_at_most(demo_book, ask, tmp_path):
    for kind in FORMS:
        tally_sheet.write(plan_of(ask, kind), kind, DEMO_DAY, tmp_path / "sheet.pdf")
        pages, tagged, text = read(tmp_path / "sheet.pdf")
        assert (pages <= 2, tagged) == (True, True), f"{kind}: {pages} pages"
        assert f"stand S3: {kind}" in text and "Cautions" in text


@pytest.mark.parametrize("stand", ["S1", "S2", "S4", "S5", "S6", "S7", "S8"])
def test_a_count_sheet_lists_the_points_and_rings_of_each_stand(demo_book, ask, tmp_path, stand):
    plan = plan_of(ask, "reproduction", stand)
    tally_sheet.write(plan, "reproduction", DEMO_DAY, tmp_path / "sheet.pdf")
    pages, tagged, text = read(tmp_path / "sheet.pdf")
    assert pages <= 2 and tagged
    assert all(f"\u25a1 {one['point']}" in text.replace("\u00a0", " ") for one in plan["visits"][0]["points"])
    assert "radius" in text and "0.5-1, 1-3, 3-4.5" in text and "Plots looked at" in text


def test_a_sheet_of_many_points_keeps_to_two_pages_and_more_are_refused(demo_book, ask, tmp_path):
    plan = plan_of(ask, "cruise", points=100, anew=True)
    plan["visits"][0]["points"] = [{"point": str(n), "lon": None, "lat": None} for n in range(1, 151)]
    tally_sheet.write(plan, "cruise", DEMO_DAY, tmp_path / "sheet.pdf")
    assert read(tmp_path / "sheet.pdf")[0] == 2
    plan["visits"][0]["points"].append({"point": "151", "lon": None, "lat": None})
    with pytest.raises(Misuse, match="150 points at most"):
        tally_sheet.content(plan, "cruise", DEMO_DAY)


def test_a_map_has_scale_north_and_every_leg_on_two_pages(demo_book, ask, tmp_path):
    plan = plan_of(ask, "cruise", points=60, anew=True)
    tally_sheet.write_map(plan, DEMO_DAY, tmp_path / "map.pdf")
    pages, tagged, text = read(tmp_path / "map.pdf")
    assert pages == 2 and tagged
    assert "true north" in text and "The bar is" in text
    assert all(f"{one['lat']:.6f}" in text for one in plan["visits"][0]["points"])


def test_a_map_of_a_stand_without_any_place_is_refused(demo_book, ask):
    plan = plan_of(ask, "cruise")
    plan["outline"], plan["visits"][0]["points"] = [], []
    with pytest.raises(Exception, match="have a place"):
        tally_sheet.map_content(plan, DEMO_DAY)


@pytest.mark.parametrize(("most", "length"), [(99, 50), (100, 100), (199, 100), (200, 200), (4_999, 2_000), (5_000, 5_000)])
def test_a_scale_bar_is_a_round_number_of_feet(most, length):
    assert drawing.bar_ft(most) == length


def test_a_leg_north_and_a_leg_east_have_the_bearing_and_length_of_the_ground():
    """Radius of curvature of the meridian: Snyder 1987, USGS professional paper 1395, eq. 4-18 (from memory of it); WGS84 constants."""
    points = [("1", -91.0, 37.5), ("2", -91.0, 37.5 + 1 / 60), ("3", -91.0 + 1 / 60, 37.5 + 1 / 60)]
    ground = legs.ground_map([], [{"point": name, "lon": lon, "lat": lat} for name, lon, lat in points])
    _, north, east = ground.legs
    radius_m = 6_378_137 * (1 - 0.00669437999) / (1 - 0.00669437999 * math.sin(math.radians(37.508)) ** 2) ** 1.5
    assert north.distance_ft == pytest.approx(radius_m * math.radians(1 / 60) / 0.3048, rel=1e-5)
    assert north.bearing_deg == pytest.approx(0, abs=0.01) and east.bearing_deg == pytest.approx(90, abs=0.01)
    assert math.hypot(east.east_ft - north.east_ft, east.north_ft - north.north_ft) == pytest.approx(east.distance_ft, rel=1e-4)


def test_labels_are_read_back_from_the_print_and_more_than_two_pages_go_on(demo_book, ask, tmp_path):
    import numpy as np
    import zxingcpp
    from PIL import Image

    plan = plan_of(ask, "cruise", points=70, anew=True)
    points = plan["visits"][0]["points"]
    tally_sheet.write_labels(plan, DEMO_DAY, tmp_path / "labels.pdf")
    assert read(tmp_path / "labels.pdf")[:2] == (2, True)
    press.set_png("tally_sheet/labels.typ", tally_sheet.label_content(plan, DEMO_DAY, first=65), tmp_path / "labels.png", ppi=200)
    codes = zxingcpp.read_barcodes(np.array(Image.open(tmp_path / "labels.png").convert("L")))
    wanted = {f"stand S3, point {one['point']}, {one['lat']:.6f}, {one['lon']:.6f}" for one in points[64:]}
    assert {one.text for one in codes} == wanted
    with pytest.raises(Misuse, match="no label"):
        tally_sheet.label_content(plan, DEMO_DAY, first=len(points) + 1)
