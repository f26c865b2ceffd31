"""Limits of what a field sheet can hold are data: each with its source, and a region may set its own."""

from __future__ import annotations

import pytest

from foreign_files import PLACE, proposed
from overwood.ground import plausible, tables
from overwood.ground.sources import all_sources


def test_every_limit_lies_in_its_range_and_names_its_source():
    for row in tables.rows(plausible.TABLE):
        assert row["source"] in all_sources() and row["status"] in tables.STATUSES and row["note"], row
        assert not row["low"] or float(row["low"]) <= float(row["value"]) <= float(row["high"]), row


def test_a_column_no_limit_names_is_without_bounds():
    assert plausible.span("trees", "songs") == (0.0, float("inf"))
    assert plausible.span("trees", "dbh_in") == (0.5, 60.0)


@pytest.mark.parametrize("most,is_asked", [(250, True), (400, False)])
def test_a_region_may_set_its_own_limit_of_basal_area(monkeypatch, most, is_asked):
    limits = {**tables.constants(plausible.TABLE), "ba_doubted_ft2_ac": most}
    monkeypatch.setattr(tables, "constants", lambda name: limits)
    rows = "".join(f"{point},{tree},WO,30\n" for point in (1, 2) for tree in range(6))

    found = proposed("Plot,Tree,Sp,DBH (in)\n" + rows, settings={**PLACE, "plot_area_ac": "1/10"})

    assert any(one.key == "basal_area" for one in found.questions) == is_asked
