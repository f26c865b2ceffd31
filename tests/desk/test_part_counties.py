"""Counts by county and step: acres of stands that are all there, and shares of the land with their error where plots are a sample."""

from __future__ import annotations

import math

import polars as pl
import pytest

from overwood.desk import part_counties
from overwood.ground.errors import BadRecords

RESULTS = pl.DataFrame(
    {"stand": list("abcd"), "property": ["P", "P", "Q", "R"], "area_ac": [10.0, 5.5, None, 8.0], "step": ["wait", "count", "wait", "wait"]}
)
# Student's t of 3 degrees of freedom, two-sided at 80% (Freese 1962, table 2: 1.638).
_T3 = 1.638


def counted(folder, places, areas="", level=0.8):
    (folder / part_counties.PLACES).write_text(places, encoding="utf-8")
    if areas:
        (folder / part_counties.AREAS).write_text(areas, encoding="utf-8")
    return {(row.county, row.step): row for row in part_counties.counted(folder, RESULTS, level)}


def test_stands_that_are_all_there_are_summed_without_an_error(tmp_path):
    rows = counted(tmp_path, "county,property\n01,P\n02,Q\n")
    assert {key: (row.stands, row.area_ac, row.without_area) for key, row in rows.items()} == {
        ("01", "count"): (1, 5.5, 0),
        ("01", "wait"): (1, 10.0, 0),
        ("02", "wait"): (1, None, 1),
        (part_counties.NOT_NOTED, "wait"): (1, 8.0, 0),
    }
    assert all(row.share_pct is None and row.plots is None for row in rows.values())


def test_a_sample_tells_shares_of_the_land_with_the_error_of_a_ratio(tmp_path):
    """Cochran 1977, chapter 6, worked by hand: four plots, of one of which six tenths were sampled."""
    places = "county,plot,stand,share\n01,1,a,1\n01,2,b,0.5\n01,2,,0.5\n01,3,c,0.6\n01,4,,1\n"
    rows = counted(tmp_path, places, "county,area_ac\n01,1000\n")
    y, x = [1, 0, 0.6, 0], [1, 1, 0.6, 1]
    share = 1.6 / 3.6
    se = math.sqrt(sum((b - share * a) ** 2 for a, b in zip(x, y, strict=True)) / 3 / 4) / 0.9
    row = rows["01", "wait"]
    assert (row.plots, row.stands) == (4, 2)
    assert row.share_pct == pytest.approx(100 * share, abs=0.01)
    assert row.low_pct == pytest.approx(max(0, 100 * (share - _T3 * se)), abs=0.05)
    assert row.high_pct == pytest.approx(100 * (share + _T3 * se), abs=0.05)
    assert row.land_ac == pytest.approx(1000 * share, abs=0.01)
    assert sum(row.share_pct for key, row in rows.items() if key[0] == "01") == pytest.approx(100, abs=0.02)
    assert rows["01", part_counties.NO_STAND].share_pct == pytest.approx(100 * 1.5 / 3.6, abs=0.01)


def test_one_plot_allows_no_error_and_a_stand_without_a_result_is_not_judged(tmp_path):
    rows = counted(tmp_path, "county,plot,stand,share\n01,1,z,1\n")
    assert (rows["01", part_counties.NOT_JUDGED].share_pct, rows["01", part_counties.NOT_JUDGED].low_pct) == (100.0, None)


@pytest.mark.parametrize(
    ("places", "areas", "words"),
    [
        ("stand,place\na,1\n", "", "lacks a column"),
        ("county,stand,share\n1,a,1\n", "", "lacks a column"),
        ("county,stand\n1,a\n2,a\n", "", "names stand 'a' twice"),
        ("county,plot,stand,share\n1,1,a,all\n", "", "a share that is none"),
        ("county,plot,stand,share\n1,1,a,1\n", "county,area_ac\n1,-3\n", "an area that is none"),
        ("county,plot,stand,share\n1,1,a,1\n", "name,area_ac\n1,3\n", "lacks a column"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused(tmp_path, places, areas, words):
    with pytest.raises(BadRecords, match=words):
        counted(tmp_path, places, areas)


def test_without_the_file_nothing_is_written(tmp_path):
    part_counties.write(part_counties.counted(tmp_path, RESULTS, 0.8), tmp_path / "c.csv")
    assert list(tmp_path.iterdir()) == []
