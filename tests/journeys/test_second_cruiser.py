"""A user's day with another cruiser's spreadsheet: every trap of the demo is named, and nothing is lost."""

from __future__ import annotations

import pytest

from conftest import DEMO, ROOT, TODAY
from overwood.desk import answers, importing
from overwood.memory.book import store

SHEET = ROOT / "demo" / "second_cruiser.xlsx"
SETTINGS = {"back forty cruise.baf_ft2_ac": "10", "regen.plot_area_ac": "0.00136054", "old_days": "as written"}


@pytest.fixture
def proposal(demo_book):
    look = importing.consider(importing.file_at(SHEET), today=TODAY)
    assert look.report is None and look.proposal is not None
    return {sheet.sheet: sheet for sheet in look.proposal.sheets}


@pytest.fixture
def report(demo_book):
    answered = importing.Answers(settings=SETTINGS, codes={"RO": "833", "HM": "318"})
    return importing.bring_in(SHEET, today=TODAY, answers=answered, accept=True)


def test_both_sheets_are_understood_with_their_units(proposal):
    cruise, floor = proposal["back forty cruise"], proposal["regen"]
    uses = {use.column: use for use in cruise.headings}

    assert (cruise.table, cruise.heading_row) == ("trees", 3)
    assert (uses["dbh_in"].unit, uses["height_ft"].unit) == ("cm", "m")
    assert uses["edge_count"].heading == "Edge"
    assert (floor.table, {use.column: use.unit for use in floor.headings}["height_ft"]) == ("seedlings", "ft")


def test_what_the_sheet_does_not_say_is_asked(proposal):
    asked = {(one.kind, one.key.rpartition(".")[2]) for sheet in proposal.values() for one in sheet.questions if one.is_open}

    assert {("code", "RO"), ("code", "HM"), ("set", "baf_ft2_ac"), ("set", "plot_area_ac"), ("set", "old_days")} <= asked


def test_each_trap_is_named_by_its_row(report):
    faults = {(fault.sheet, fault.row, fault.column): str(fault) for fault in report.faults}

    assert "29 days" in faults["back forty cruise", 11, "visited_on"]
    assert "smallest allowed is 4.5" in faults["back forty cruise", 12, "height_ft"]
    assert any("wahoo" in str(note) for note in report.warnings)
    assert report.batch is None


def test_the_good_rows_are_released_and_nothing_is_lost(report):
    released = importing.release(report.quarantine, today=TODAY)

    cruise = [tree for tree in store.records("trees") if tree.visit == "S3-2025-06-03-cruise"]
    assert [(tree.point, tree.species) for tree in cruise] == [("21", 802), ("21", 837), ("21", 832), ("22", 833), ("22", 318)]
    assert [tree.edge_count for tree in cruise] == [1, 1, 2, 1, 1]
    assert cruise[0].dbh_in == pytest.approx(49.5 / 2.54, abs=1e-3)
    assert {p.point for p in store.records("points", visit="S3-2025-06-03-cruise")} == {"21", "22", "23"}
    assert released.new["trees"] == 7
    assert store.records("trees", species=999)[0].species_written == "wahoo"


def test_a_stem_of_exactly_three_feet_is_three_feet_tall(report, ask):
    importing.release(report.quarantine, today=TODAY)

    seedling = next(s for s in store.records("seedlings", visit="S1-2025-08-26-reproduction") if s.species == 802)
    assert seedling.height_ft == 3.0


def test_the_visit_that_was_there_already_is_pointed_out(report, ask):
    importing.release(report.quarantine, today=TODAY)

    said = answers.changes("S3", ask).same_day
    assert said == ("S3-2025-cruise and S3-2025-06-03-cruise are both cruise of 03 Jun 2025",)


def test_a_corrected_diameter_replaces_and_keeps_the_old(demo_book, tmp_path):
    tree = store.records("trees", visit="S3-2025-cruise")[0]
    text = (DEMO / "trees.csv").read_text(encoding="utf-8").splitlines()
    row = next(line for line in text if line.startswith(f"{tree.visit},{tree.point},{tree.tree},"))
    (tmp_path / "trees.csv").write_text(f"{text[0]}\n{row.replace(f',{tree.dbh_in},', ',12.3,')}\n")

    refused = importing.bring_in(tmp_path / "trees.csv", today=TODAY)
    assert (refused.batch, refused.needs_consent) == (None, ("S3-2025-cruise",))
    report = importing.bring_in(tmp_path / "trees.csv", today=TODAY, replace=frozenset({"S3-2025-cruise"}))

    assert report.corrected == [f"trees {tree.visit} {tree.point} {tree.tree}: dbh_in {tree.dbh_in} -> 12.3"]


def test_plots_of_another_size_are_known_by_their_own_record(demo_book):
    assert {ring.visit: ring.plot_area_ac for ring in store.records("rings", layer="reproduction")}["S4-2020-count"] == 0.001
