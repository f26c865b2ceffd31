"""What the desk answers: decisions, what is due, what changed, whether the file is complete, where plots go."""

from __future__ import annotations

import datetime as dt
import math

import icalendar
import pytest

from conftest import DEMO_DAY, TODAY
from overwood.desk import answers, calendar, importing, layout, session, undoing
from overwood.ground.errors import BadRecords, Misuse, NotFound, OverwoodError
from overwood.ground.records import TABLES
from overwood.memory.book import store
from records import SHEETS, write


@pytest.mark.slow
def test_a_stand_that_is_not_there_names_the_nearest(demo_book, ask):
    with pytest.raises(NotFound, match="nearest is 'S1'"):
        answers.advice("S11", ask)


def test_an_empty_book_says_what_to_do(sqlite_book, ask):
    with pytest.raises(NotFound, match="bring records in"):
        answers.advice("S1", ask)
    assert answers.property_advice(ask) == []


def test_a_decision_that_follows_needs_no_reason(demo_book, ask):
    answers.decide("S1", ask, step="inject", reason="", by="Forester")

    found = answers.stand_file("S1").decisions[0]
    assert (found.overridden, found.rulebook_version, found.advised_step) == (False, ask.rules.version, "Inject the midstory")


def test_a_decision_that_overrides_needs_a_reason(demo_book, ask):
    with pytest.raises(Misuse, match="--because"):
        answers.decide("S1", ask, step="seed_cut", reason=" ", by="Forester")
    assert answers.stand_file("S1").decisions == ()

    answers.decide("S1", ask, step="seed_cut", reason="the owner sells next year", by="Forester")

    assert answers.advice("S1", ask).overridden.endswith("because the owner sells next year")


def test_two_decisions_on_a_day_are_two_records(demo_book, ask):
    names = {answers.decide("S1", ask, step="inject", reason="", by="Forester") for _ in range(2)}

    assert len(names) == 2


def test_what_is_due_is_in_the_order_of_the_calendar(demo_book, ask):
    found = answers.due(ask, dt.date(2027, 10, 15))

    assert [entry.window for entry in found] == sorted(entry.window for entry in found)
    assert {entry.stand for entry in found} == {f"S{n}" for n in range(1, 9)}
    assert ("S2", "Count the reproduction") in {(entry.stand, entry.what) for entry in found}
    assert all(entry.window.end >= DEMO_DAY for entry in found)


def test_the_calendar_file_opens_in_another_reader(demo_book, ask, tmp_path):
    found = answers.due(ask, dt.date(2027, 10, 15))
    calendar.write(tmp_path / "due.ics", found, DEMO_DAY)

    read = icalendar.Calendar.from_ical((tmp_path / "due.ics").read_bytes())

    events = list(read.walk("VEVENT"))
    assert len(events) == len(found)
    assert str(events[0]["SUMMARY"]) == f"{found[0].stand}: {found[0].what}"
    assert events[0]["DTSTART"].dt == found[0].window.start
    assert events[0]["DTEND"].dt == found[0].window.end + dt.timedelta(days=1)
    assert all(len(line) <= 75 for line in (tmp_path / "due.ics").read_bytes().split(b"\r\n"))


def test_what_changed_since_the_last_count(demo_book, ask):
    found = answers.changes("S4", ask)

    assert found.between["reproduction"] == (dt.date(2022, 9, 7), dt.date(2025, 9, 9))
    words = {change.figure: change.word for change in found.figures}
    assert words["oak_stocked_4_5ft_share"] in ("more", "no sure change")
    assert words["tallest_oak_ft"] == "changed"


def test_a_visit_entered_twice_is_pointed_out(sqlite_book, tmp_path, ask):
    twice = {**SHEETS, "visits": SHEETS["visits"] + "A1-c2,A1,cruise,2025-05-01,\n"}
    importing.bring_in(write(tmp_path, twice), today=TODAY)

    assert answers.changes("A1", ask).same_day == ("A1-c and A1-c2 are both cruise of 01 May 2025",)


def test_the_file_of_a_stand_names_what_an_auditor_misses(demo_book, ask):
    items = {item.item: item.state for item in answers.completeness("S2", ask)}

    assert items["owner's aim in writing"] == "present"
    assert items["injection of Oct 2022: check of the kill"] == "present"
    assert items["cultural site look-up"] == "missing"
    assert items["burn of Mar 2024: plan, permit, weather, after-action"] == "missing"
    assert answers.completeness("S8", ask)[6].state == "old"


def test_plots_needed_come_from_the_stands_own_spread(demo_book, ask):
    needs = {need.wanted: need.plots for need in layout.plots_needed("S3", ask)}

    assert needs["a verdict on the oak"] == math.ceil(_plots_by_scipy("S3", ask))
    assert needs["overwood basal area within 10%"] > needs["overwood basal area within 20%"]
    assert needs["the least for a plan"] == 10


def _plots_by_scipy(stand, ask):
    """Plots at which the score bound of a negative binomial mean (McCullagh and Nelder 1989), by scipy, reaches what is wanted."""
    from scipy import optimize, stats

    stems_ac = answers.advice(stand, ask).figures["oak_stems_3ft_ac"].number
    rule = ask.rules["several_hundred_ac"]
    wanted, seen = rule.span[0] / 735, stems_ac / 735
    z, k = stats.norm.ppf(ask.rules.number("verdict_level")), ask.rules.number("verdict_clumping_k")
    return optimize.brentq(lambda plots: seen - wanted - z * ((wanted + wanted**2 / k) / plots) ** 0.5, 1, 10_000)


@pytest.mark.parametrize(("acres", "plots"), [(28, 10), (34, 10), (15, 6), (5, 3), (100, 15), (200, 20)])
def test_the_least_plots_for_a_plan(acres, plots):
    # NRCS Technical Note 190-FOR-01, table 5.
    assert layout.least_for_plan(acres) == plots


def test_plots_lie_inside_the_stand_on_an_even_grid(demo_book, tmp_path):
    import shapely

    laid = layout.grid("S3", 40, 7)
    outline = shapely.from_wkt(answers.stand_file("S3").stand.boundary_wkt)

    assert 40 <= len(laid.points) <= 48
    assert all(shapely.contains_xy(outline, x, y) for x, y in laid.points)
    assert layout.grid("S3", 40, 7) == laid
    assert layout.grid("S3", 40, 8) != laid


def test_waypoints_are_gpx(demo_book, tmp_path):
    from xml.etree import ElementTree

    laid = layout.grid("S3", 12, 1)
    layout.write_gpx(tmp_path / "plots.gpx", "S3", laid)

    root = ElementTree.parse(tmp_path / "plots.gpx").getroot()
    points = root.findall("{http://www.topografix.com/GPX/1/1}wpt")
    assert len(points) == len(laid.points)
    assert float(points[0].get("lat")) == pytest.approx(laid.points[0][1], abs=1e-6)


def test_a_stand_without_an_outline_is_told_what_to_give(sqlite_book, tmp_path):
    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)

    with pytest.raises(NotFound, match="boundary_wkt"):
        layout.grid("A1", 10, 1)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["out", "out.zip"])
def test_everything_out_and_in_again_is_an_equal_book(book, tmp_path, name):
    from conftest import DEMO

    importing.bring_in(DEMO, today=TODAY)
    before = {table: [row[1:] for row in sorted(store.raw_rows(table))] for table in TABLES}
    session.export(tmp_path / name)
    for entry in session.entries():
        undoing.undo(entry["id"])
    assert store.current("trees").count() == 0

    importing.bring_in(tmp_path / name, today=TODAY)

    assert {table: [row[1:] for row in sorted(store.raw_rows(table))] for table in TABLES} == before


def test_an_export_never_writes_over_a_file(demo_book, tmp_path):
    (tmp_path / "out.zip").write_bytes(b"x")

    with pytest.raises(OverwoodError, match="already there"):
        session.export(tmp_path / "out.zip")


def test_bids_that_are_no_text_in_utf_8_are_said_to_be_so(tmp_path):
    from overwood.desk import timber

    file = tmp_path / "bids.csv"
    file.write_bytes("bidder,amount_usd\nMüller,100\n".encode("cp1252"))

    with pytest.raises(BadRecords, match=r"bids\.csv is no csv file in UTF-8"):
        timber.bids(file, answers.rules(None))
