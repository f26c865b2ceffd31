"""Headings that can mislead: what they are taken as, judged by the counts and diameters that come of them."""

from __future__ import annotations

import collections
import csv
import io
from pathlib import Path

import openpyxl
import pytest

from foreign_files import FLOOR, PLACE, PRISM, counts, fates, proposed, question, read, rows
from overwood.ground.records import TABLES
from overwood.memory.exchange import headings

PLOTS = {**PLACE, "plot_area_ac": "0.1"}


def stems(applied, table, *columns):
    """Stems by the columns named."""
    found = collections.Counter()
    for row in rows(applied, table):
        found[tuple(row[name] for name in columns)] += int(row.get("stems") or 1)
    return found


def workbook(lines, *merged):
    book = openpyxl.Workbook()
    for line in lines:
        book.active.append([None if cell == "" else cell for cell in line])
    for area in merged:
        book.active.merge_cells(area)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("heading", "column"),
    [("Ht (logs)", "logs"), ("Height (16' logs)", "logs"), ("Ht (ft)", "height_ft"), ("Ht (8 ft logs)", "logs")],
)
def test_a_height_in_logs_is_a_count_of_logs_of_a_usual_length(heading, column):
    assert column in headings.exact_columns("trees", [heading])


def test_every_table_knows_words_for_the_column_that_tells_its_records_apart():
    for table in headings.tables():
        own = set(TABLES[table].key) - {"visit", "property", "ring"}
        assert own <= set(headings.columns_of(table)), table


def test_each_table_stands_in_one_run_of_the_list_of_headings():
    path = Path(headings.__file__).with_name("column_words.csv")
    listed = [(row["table"], row["column"]) for row in csv.DictReader(path.read_text(encoding="utf-8").splitlines())]

    assert len(set(listed)) == len(listed)
    assert [table for table, _ in listed] == sorted((table for table, _ in listed), key=headings.tables().index)


def test_the_tags_of_an_acorn_check_are_kept():
    applied = read("Tag,Species,DBH (in),Acorns\nA101,WO,18,0\nA205,BO,20,12\n", settings={"stand": "K1", "visited_on": "2025-09-05"})

    assert [(row["tree"], row["acorns"]) for row in rows(applied, "acorn_trees")] == [("A101", "0"), ("A205", "12")]


def test_inch_classes_below_one_merged_heading_are_no_diameters_of_single_trees():
    grid = [["", "", "DBH class (in)", "", ""], ["Plot", "Species", 6, 8, 10], [1, "WO", 1, "", 2], [1, "RM", 3, 1, ""]]

    applied = read(workbook(grid, "C1:E1"), "classes.xlsx", settings=PLOTS)

    assert stems(applied, "trees", "species", "dbh_in") == {("802", "6"): 1, ("802", "10"): 2, ("316", "6"): 3, ("316", "8"): 1}


def test_plots_in_columns_are_plots_and_one_without_a_count_is_empty():
    text = "Species,Ht class,Plot 1,Plot 2,Plot 3,Total\nWO,1-3,2,,1,3\nRM,<0.5,5,,,5\nBO,3-4.5,0,0,0,0\nTotal,,7,0,1,8\n"

    applied = read(text, settings=FLOOR)

    found = {("1", "802", "1-3"): 2, ("3", "802", "1-3"): 1, ("1", "316", "<0.5"): 5}
    assert stems(applied, "seedlings", "point", "species", "height_class") == found
    assert {row["point"] for row in rows(applied, "points")} == {"1", "2", "3"}
    assert counts(applied) == {"heading": 1, "tally": 2, "note": 1, "total": 1}


def test_plots_in_columns_without_sizes_are_no_inch_classes():
    asked = proposed("Species,Plot 1,Plot 2,Plot 7\nWO,1,,2\nRM,3,1,\n")

    assert "dbh_in" not in {use.column for use in asked.sheets[0].headings}
    assert "stems of 7" in {use.column for use in asked.sheets[0].headings}


@pytest.mark.parametrize("heading", ["No.", "#", "N"])
def test_numbers_that_come_again_within_a_plot_are_counts(heading):
    applied = read(f"Plot,Sp,DBH (in),{heading}\n1,WO,14,2\n1,BO,16,2\n2,WO,18,3\n", settings=PLOTS)

    assert stems(applied, "trees", "species") == {("802",): 5, ("837",): 2}


@pytest.mark.parametrize("numbers", [(1, 2, 1, 2), (1, 2, 3, 4), (11, 12, 30, 31)])
def test_numbers_that_run_on_are_those_of_trees(numbers):
    lines = "".join(f"{plot},{number},WO,14\n" for plot, number in zip((1, 1, 2, 2), numbers, strict=True))

    assert stems(read(f"Plot,No.,Sp,DBH (in)\n{lines}", settings=PLOTS), "trees", "species") == {("802",): 4}


def test_numbers_that_may_be_counts_or_trees_are_asked_about():
    text = "Plot,Sp,DBH (in),No.\n1,WO,14,2\n2,BO,16,1\n3,WO,18,3\n"

    assert "--map HEADING=stems" in question(proposed(text, settings=PLOTS), "stems").text
    assert stems(read(text, settings=PLOTS, columns={"No.": "stems"}), "trees", "species") == {("802",): 5, ("837",): 1}
    assert stems(read(text, settings=PLOTS, columns={"No.": "tree"}), "trees", "species") == {("802",): 2, ("837",): 1}


def test_a_column_that_may_count_stems_and_is_not_read_is_asked_about():
    text = "Plot,Sp,DBH (in),{}\n1,WO,14,2\n1,BO,16,1\n"

    assert question(proposed(text.format("Trees in plot"), settings=PLOTS), "stems").needed
    assert "stems" not in {one.key for one in proposed(text.format("Slope"), settings=PLOTS).questions}


def test_a_factor_in_metric_units_is_no_amount_an_acre():
    asked = proposed("Point,BAF (m2/ha),Sp,DBH (cm)\n1,4,WO,40\n2,4,WO,30\n", settings=PLACE)

    assert "stems" not in {one.key for one in asked.questions}


def test_classes_in_a_column_headed_height_are_height_classes():
    applied = read("Plot,Spp,Ht,Count\n1,WO,1-3,4\n1,RM,<6in,1\n2,BO,3-4.5,7\n", settings=FLOOR)

    assert stems(applied, "seedlings", "species", "height_class") == {("802", "1-3"): 4, ("316", "<0.5"): 1, ("837", "3-4.5"): 7}


def test_a_size_class_of_a_count_of_regeneration_is_no_diameter():
    text = "Regeneration survey\nPlot,Species,Size class,Count\n1,WO,2,4\n2,BO,3,1\n"

    applied = read(text, settings=FLOOR, codes={"height_class.2": "1-3", "height_class.3": "3-4.5"})

    assert stems(applied, "seedlings", "species", "height_class") == {("802", "1-3"): 4, ("837", "3-4.5"): 1}


def test_species_and_class_in_one_heading_are_read_apart_though_written_as_one():
    text = "Plot,WO<0.5ft,WO1-3ft,RM<0.5ft,RM_3-4.5ft\n1,1,2,5,1\n2,0,0,0,0\n"

    applied = read(text, settings=FLOOR)

    found = {("802", "<0.5"): 1, ("802", "1-3"): 2, ("316", "<0.5"): 5, ("316", "3-4.5"): 1}
    assert stems(applied, "seedlings", "species", "height_class") == found
    assert {row["point"] for row in rows(applied, "points")} == {"1", "2"}


def test_words_merged_over_several_rows_stand_in_each_of_them():
    grid = [["Plot", "Species", "DBH (in)", "Count"], [1, "WO", 15, 4], ["", "", 17, ""], ["", "RM", 6, 1], [2, "BO", 20, 2]]

    applied = read(workbook(grid, "A2:A4", "B2:B3", "D2:D3"), "merged.xlsx", settings={**PRISM, "blank_count": "0"})

    assert stems(applied, "trees", "point", "species") == {("1", "802"): 4, ("1", "316"): 1, ("2", "837"): 2}


def test_a_heading_merged_over_two_rows_is_one_heading():
    grid = [["Plot", "Species", "Seedlings", ""], ["", "", "1-3 ft", "3-4.5 ft"], [1, "WO", 4, 1], [2, "BO", "", 2]]

    applied = read(workbook(grid, "A1:A2", "B1:B2", "C1:D1"), "merged.xlsx", settings=FLOOR)

    assert stems(applied, "seedlings", "species", "height_class") == {("802", "1-3"): 4, ("802", "3-4.5"): 1, ("837", "3-4.5"): 2}


def test_lines_without_a_species_are_said_where_none_was_asked_for():
    asked = proposed("Plot,Sp,DBH (in)\n1,WO,18\n1,,14\n", settings=PRISM)

    assert any("kept as unknown: row 3" in note for note in asked.sheets[0].notes)


@pytest.mark.parametrize("row", ["Plot 1 total,,,3", "K1 totals,,,3", ",,Mean,3", ",,Total,3"])
def test_a_row_whose_words_end_in_total_is_one(row):
    applied = read(f"Plot,Sp,DBH (in),Count\n1,WO,14,2\n1,BO,18,1\n{row}\n", settings=PLOTS)

    assert fates(applied)[4] == "total"
    assert sum(stems(applied, "trees", "species").values()) == 3


def test_a_row_of_number_signs_and_units_below_the_headings_is_one_of_headings():
    applied = read("Plot,Tree,Species,DBH,Total Ht\n#,#,code,(in),(ft)\n1,1,802,14.2,72\n2,1,833,18.1,\n", settings=PRISM)

    assert fates(applied) == {1: "heading", 2: "heading", 3: "tally", 4: "tally"}
    assert [row["dbh_in"] for row in rows(applied, "trees")] == ["14.2", "18.1"]


def test_a_column_for_each_crown_class_counts_its_stems():
    applied = read("Plot,Species,DBH (in),Dom,Codom,Int,Sup\n1,WO,14,1,2,0,0\n1,RM,6,0,0,1,3\n", settings=PLOTS)

    found = {("14", "dominant"): 1, ("14", "codominant"): 2, ("6", "intermediate"): 1, ("6", "overtopped"): 3}
    assert stems(applied, "trees", "dbh_in", "crown_class") == found


def test_columns_of_live_and_dead_that_hold_numbers_count_them():
    applied = read("Plot,Species,DBH (in),Live,Dead\n1,WO,14,3,1\n1,RM,6,2,0\n2,BO,16,1,2\n", settings=PLOTS)

    found = {("802", "live"): 3, ("802", "dead"): 1, ("316", "live"): 2, ("837", "live"): 1, ("837", "dead"): 2}
    assert stems(applied, "trees", "species", "status") == found


def test_classes_below_and_above_may_be_written_lt_and_gt():
    applied = read("Plot,Species,lt 0.5,1 to 3,3 to 4.5,gt 10\n1,WO,2,3,1,4\n", settings=FLOOR)

    assert stems(applied, "seedlings", "height_class") == {("<0.5",): 2, ("1-3",): 3, ("3-4.5",): 1, ("10+",): 4}


def test_a_percentage_of_browsed_stems_is_no_count_of_them():
    applied = read("Plot,Species,Ht class,Count,% browsed\n1,WO,1-3,40,25\n", settings=FLOOR)

    assert [row.get("browsed", "") for row in rows(applied, "seedlings")] == [""]


def test_a_sheet_of_one_plot_that_says_none_is_an_empty_plot():
    applied = read("Species,DBH (in),Count\nnone,,\n", settings={**PLOTS, "point": "3"})

    assert [row["point"] for row in rows(applied, "points")] == ["3"]
    assert counts(applied) == {"heading": 1, "empty": 1}


@pytest.mark.parametrize("outer", ["Strip", "Transect", "Line No.", "Stratum"])
def test_plots_numbered_anew_on_each_line_stay_apart(outer):
    applied = read(f"{outer},Plot,Sp,DBH (in)\n1,1,WO,14\n1,2,BO,15\n2,1,WO,18\n2,1,WO,12\n2,2,RM,8\n", settings=PRISM)

    assert {row["point"] for row in rows(applied, "points")} == {"1-1", "1-2", "2-1", "2-2"}
    assert stems(applied, "trees", "point") == {("1-1",): 1, ("1-2",): 1, ("2-1",): 2, ("2-2",): 1}


def test_young_stems_on_plots_of_lines_stay_apart_and_an_empty_plot_is_one():
    text = "Line,Plot,Species,Ht class,Count\nA,1,WO,1-3,2\nA,2,RM,1-3,1\nB,1,WO,<0.5,4\nB,2,none,,\n"

    assert {row["point"] for row in rows(read(text, settings=FLOOR), "points")} == {"A-1", "A-2", "B-1", "B-2"}


def test_numbers_of_lines_of_a_tally_are_no_transects():
    applied = read("Plot,Line,Species,Ht class,Count\n1,1,WO,1-3,2\n1,2,RM,1-3,1\n2,1,WO,<0.5,4\n2,2,BO,1-3,1\n", settings=FLOOR)

    assert {row["point"] for row in rows(applied, "points")} == {"1", "2"}


def test_a_line_whose_plots_run_on_leaves_the_plots_their_names():
    applied = read("Strip,Plot,Sp,DBH (in)\n1,1,WO,14\n1,2,BO,15\n2,3,WO,18\n2,4,RM,8\n", settings=PRISM)

    assert {row["point"] for row in rows(applied, "points")} == {"1", "2", "3", "4"}


def test_the_stand_above_the_first_headings_holds_for_the_rows_below_as_those_further_down_do():
    text = "Stand K1\nPlot,Sp,DBH (in)\n1,WO,14\n2,BO,15\nStand K2\nPlot,Sp,DBH (in)\n1,RM,8\n2,WO,12\n"
    applied = read(text, settings={"visited_on": "2025-05-14", "baf_ft2_ac": "10"})

    assert {(row["stand"]) for row in rows(applied, "visits")} == {"K1", "K2"}
    assert len(rows(applied, "trees")) == 4


def test_a_second_column_of_counts_is_asked_about_before_its_stems_are_lost():
    text = "Plot,Species,Ht class,Seedlings,Sprouts\n1,WO,1-3,3,2\n1,RM,1-3,0,8\n"

    asked = question(proposed(text, settings=FLOOR), "other_counts")

    assert asked.needed
    assert "'Sprouts'" in asked.text
    assert not question(proposed(text, settings={**FLOOR, "other_counts": "left out"}), "other_counts").is_open
    assert "other_counts" not in {one.key for one in proposed(text, settings=FLOOR, columns={"Sprouts": "-"}).questions}


def test_a_total_beside_the_counts_is_not_asked_about():
    asked = proposed("Plot,Species,Ht class,Count,Total stems\n1,WO,1-3,3,3\n", settings=FLOOR)

    assert "other_counts" not in {one.key for one in asked.questions}


def test_several_columns_of_whole_numbers_that_are_not_read_may_count():
    assert question(proposed("Plot,Species,DBH (in),AGS,UGS\n1,WO,14,2,1\n2,BO,18,1,0\n", settings=PLOTS), "stems").needed


def test_height_classes_of_trees_make_no_count_of_young_stems():
    asked = proposed("Plot,Sp,DBH (in),Height class\n1,WO,14,60-70\n2,BO,18,70-80\n", settings=PRISM)

    assert asked.sheets[0].table == "trees"


def test_a_workbook_with_a_sheet_for_each_plot_is_one_cruise_of_one_ring():
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, size in (("Plot 1", 14), ("Plot 2", 18)):
        for line in (("Species", "DBH (in)", "Count"), ("WO", size, 2)):
            (book[name] if name in book.sheetnames else book.create_sheet(name)).append(line)
    stream = io.BytesIO()
    book.save(stream)
    said = {f"Plot {n}.{name}": value for n in (1, 2) for name, value in {**PLOTS, "point": str(n)}.items()}

    applied = read(stream.getvalue(), "plots.xlsx", settings=said)

    assert len(rows(applied, "rings")) == 1
    assert stems(applied, "trees", "point", "dbh_in") == {("1", "14"): 2, ("2", "18"): 2}


def test_points_that_two_crews_numbered_alike_are_doubted():
    text = "Crew,Point,Sp,DBH (in)\nA,1,WO,14\nA,2,BO,15\nB,1,WO,18\nB,2,RM,8\n"

    assert any(
        "Points 1, 2 were each tallied by several people" in one for one in question(proposed(text, settings=PRISM), "plot_names").evidence
    )
    assert not proposed(text.replace("B,1", "B,3").replace("B,2", "B,4"), settings=PRISM).open_questions
