"""Columns that no heading makes plain: what they may change is asked before anything is stored."""

from __future__ import annotations

import collections

import pytest

from foreign_files import FLOOR, LEFT, PLACE, PRISM, proposed, question, read, rows, workbook
from overwood.ground.errors import Misuse

QUARTERS = "Point,{},Sp,DBH (in),Dist (ft)\n" + "".join(
    f"{point},{quarter},{kind},{dbh},{far}\n"
    for point in (1, 2)
    for quarter, kind, dbh, far in (("NE", "WO", 14, 12.3), ("SE", "BO", 11, 20.1), ("SW", "RM", 8, 9), ("NW", "WO", 16, 15.2))
)


@pytest.mark.parametrize("heading", ["Quarter", "Quadrant", "Qtr"])
def test_the_nearest_trees_of_four_quarters_are_taken_by_no_prism(heading):
    asked = question(proposed(QUARTERS.format(heading), settings=PRISM), "nearest_trees")
    told = read(QUARTERS.format(heading), settings=PRISM | {"nearest_trees": "as written"})

    assert asked.is_open
    assert {row["point"] for row in rows(told, "trees")} == {"1", "2"}


@pytest.mark.parametrize(
    ("heading", "marks"), [("Santé", "VMV"), ("Zustand", ("", "dead", "")), ("Vig", "AXA"), ("Box 9", ("ok", "missing", "ok"))]
)
def test_a_column_of_marks_that_is_not_read_is_asked_about(heading, marks):
    text = f"Plot,Sp,DBH (in),{heading}\n" + "".join(f"{at},WO,14,{mark}\n" for at, mark in enumerate(marks, 1))
    asked = question(proposed(text, settings=PRISM), heading)

    assert asked.is_open and asked.kind == "map"
    assert len(rows(read(text, settings=PRISM, columns={heading: "-"}), "trees")) == 3
    assert question(proposed(text, settings=PRISM, columns={heading: "status"}), "stand").answer == "K1"


@pytest.mark.parametrize(("heading", "marks"), [("Product class", "SPS"), ("Side", "NES"), ("Photo", "123"), ("Den", "YNY")])
def test_columns_of_other_matters_are_not_asked_about(heading, marks):
    text = f"Plot,Sp,DBH (in),{heading}\n" + "".join(f"{at},WO,14,{mark}\n" for at, mark in enumerate(marks, 1))

    assert not proposed(text, settings=PRISM).open_questions


@pytest.mark.parametrize("heading", ["Acorns {}", "{} acorn count", "Acorns '{}"])
def test_acorns_of_several_years_are_asked_about_and_one_is_read(heading):
    years = [heading.format(year[2:] if "'" in heading else year) for year in ("2022", "2023", "2024")]
    text = f"Tree,Species,DBH (in),{','.join(years)}\nA1,WO,18,0,45,12\nA2,BO,20,5,0,30\n"
    asked = question(proposed(text, settings=PLACE), "acorns_read")

    assert asked.is_open and [one.value for one in asked.choices] == years[::-1]
    told = read(text, settings=PLACE | {"acorns_read": years[1]})
    assert [row["acorns"] for row in rows(told, "acorn_trees")] == ["45", "0"]


def test_amounts_an_acre_below_species_are_no_stems():
    text = "DBH class,White oak TPA,Black oak TPA,Red maple TPA\n6,12,4,30\n8,10,6,20\n10,8,5,9\n"
    asked = proposed(text, settings=PRISM)

    assert not asked.understood
    assert "amounts an acre" in asked.sheets[0].why_not


def test_a_sheet_in_spanish_is_read_and_its_dead_are_dead():
    text = "Parcela,Especie,DAP (cm),Altura (m),Estado\n1,WO,32,18,vivo\n1,RM,18,12,muerto\n2,BO,41,22,vivo\n"
    told = read(text, settings=PRISM)

    assert [(row["point"], row["species"], row["status"]) for row in rows(told, "trees")] == [
        ("1", "802", "live"), ("1", "316", "dead"), ("2", "837", "live"),
    ]  # fmt: skip


TALLY = "Plot,Sp,DBH (in),Count\n1,WO,14,2\n1,BO,12,1\n{}2,RM,8,3\n{}"


@pytest.mark.parametrize(
    ("first", "last", "right"),
    [
        ("", "Total,,,6\n", True),
        ("", "Total,,,7\n", False),
        ("Plot 1 total,,,3\n", "Plot 2 total,,,3\nGrand total,,,6\n", True),
        ("Plot 1 total,,,3\n", "Plot 2 total,,,4\nGrand total,,,7\n", False),
        ("", "Mean,,,3\n", True),
        ("", "Trees: 6,,,\n", True),
        ("", "Trees tallied: 5,,,\n", False),
        # Six trees on two points by a factor of 10 are 30 ft2/ac.
        ("", "BA/ac = 30,,,\n", True),
        ("", "BA/ac,45,,\n", False),
    ],
)
def test_sums_that_the_sheet_writes_itself_are_held_against_its_lines(first, last, right):
    asked = proposed(TALLY.format(first, last), settings=PRISM)

    assert [one.key for one in asked.open_questions] == ([] if right else ["own_sums"])
    told = read(TALLY.format(first, last), settings=PRISM | {"own_sums": "as written"})
    assert sum(int(row["stems"]) for row in rows(told, "trees")) == 6


def test_a_column_of_totals_shows_that_a_column_of_counts_is_not_read():
    text = "Plot,DBH (in),WO,BO,Lodgepole,Total\n1,8,3,2,0,5\n1,10,1,0,2,3\n2,8,1,1,0,2\n"
    asked = question(proposed(text, settings=PRISM), "own_sums")

    assert asked.evidence == ("row 3: Total 3; the columns that are read come to 1",)


@pytest.mark.parametrize(("factors", "right"), [((9.35, 12.7, 28.6), True), ((9.35, 12.7, 100), False), ((4.68, 6.37, 14.3), True)])
def test_what_a_tree_stands_for_by_the_sheet_is_held_against_the_prism(factors, right):
    """A factor of 10 over 0.005454 times the square of 14, 12 and 8 in. is 9.35, 12.7 and 28.6; a half on two points."""
    lines = ["1,WO,14", "1,BO,12", "2,RM,8"]
    text = "Plot,Sp,DBH (in),TPA\n" + "".join(f"{line},{factor}\n" for line, factor in zip(lines, factors, strict=True))

    asked = proposed(text, settings=PRISM | {"stems": "1"})
    assert [one.key for one in asked.open_questions] == ([] if right else ["own_sums"])


@pytest.mark.parametrize(
    ("remark", "asks"), [("1/100 ac plot", True), ("BAF 20", True), ("x2", True), ("two stems", True), ("BAF 10", False), ("forked", False)]
)
def test_remarks_that_change_what_a_line_stands_for_are_asked_about(remark, asks):
    text = f"Plot,Sp,DBH (in),Notes\n1,WO,14,\n1,RM,3,{remark}\n"

    assert [one.key for one in proposed(text, settings=PRISM).open_questions] == (["remarks"] if asks else [])
    assert len(rows(read(text, settings=PRISM | {"remarks": "as written"}), "trees")) == 2


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (("1-5", "1-5", "6-10"), "1-5, 6-10 may be ranges"),
        (("5", "5 redo", "6"), "5 and 5 redo"),
        (("1", "01", "2"), "1 and 01"),
        (("1-1", "1-2", "2-1"), ""),
        (("5", "5-2", "6"), ""),
    ],
)
def test_names_of_plots_that_may_hide_others_are_asked_about(names, said):
    text = "Plot,Sp,DBH (in)\n" + "".join(f"{name},WO,14\n" for name in names)
    asked = [one for one in proposed(text, settings=PRISM).open_questions if one.key == "plot_names"]

    assert [said in one.evidence[0] for one in asked] == ([True] if said else [])
    assert len(rows(read(text, settings=PRISM | {"plot_names": "as written"}), "trees")) == 3


@pytest.mark.parametrize("heading", ["Count (x10)", "Stems in tens", "No. x 5"])
def test_counts_whose_heading_names_a_factor_are_asked_about(heading):
    asked = proposed(f"Plot,Species,Height,{heading}\n1,WO,1-3 ft,4\n", settings=FLOOR, columns={heading: "stems"})

    assert [one.key for one in asked.open_questions] == ["remarks"]


def test_codes_are_read_as_their_heading_explains_them():
    text = 'Plot,Species,"{}",Count\n1,WO,1,12\n1,WO,2,3\n2,RM,3,2\n'
    told = read(text.format("Ht (1=1-3 ft, 2=3-4.5 ft, 3=4.5-10 ft)"), settings=FLOOR)
    other = proposed(text.format("Ht (1=1-3 ft, 2=3-4.5 ft)"), settings=FLOOR)

    assert [row["height_class"] for row in rows(told, "seedlings")] == ["1-3", "3-4.5", "4.5-10"]
    assert "'3' (1 line)" in question(other, "height_class.3").text


def test_sides_of_a_tree_are_no_count_of_its_stems():
    text = "Tree,Species,DBH (in),N,E,S,W\nA1,WO,18,5,3,8,2\nA2,BO,20,0,0,1,0\n"

    assert "stems" not in {one.column for one in proposed(text, settings=PLACE).sheets[0].headings}


def test_a_heading_is_no_slip_of_another_word():
    text = "Plot,Sp,DBH (in),Regen species,Regen count,Regen ht\n1,WO,14,RM,12,1-3 ft\n1,BO,12,WO,3,1-3 ft\n"

    assert question(proposed(text, settings=PRISM), "stems").is_open
    assert len(rows(read(text, settings=PRISM | LEFT | {"stems": "1"}), "trees")) == 2
    misspelt = "Plot numbr,Sp,DBH (in),Crown clas\n1,WO,14,D\n"
    assert [one.column for one in proposed(misspelt, settings=PRISM).sheets[0].headings] == ["point", "species", "dbh_in", "crown_class"]


@pytest.mark.parametrize("remark", ["half plot", "plot was split at the road", "1/4 plot (edge)"])
def test_parts_of_plots_are_asked_about(remark):
    text = f"Plot,Sp,Height,Count,{{}}\n1,WO,1-3 ft,4,\n2,RM,1-3 ft,7,{remark}\n"

    for heading in ("Remarks", "Words"):
        asked = question(proposed(text.format(heading), settings=FLOOR), "remarks")
        assert asked.is_open and "row 3" in asked.evidence[0]


def test_labels_and_values_in_cells_of_their_own_head_the_rows_below():
    text = "Plot,1,BAF,10\nSpecies,DBH (in),Logs,Grade\nWO,14,2,1\nBO,12,1.5,2\nPlot,2,BAF,20\nSpecies,DBH (in),Logs,Grade\nRM,8,0,\n"
    told = read(text, settings=PLACE)

    assert [(row["point"], row["dbh_in"]) for row in rows(told, "trees")] == [("1", "14"), ("1", "12"), ("2", "8")]
    assert [row["baf_ft2_ac"] for row in rows(told, "points")] == ["10", "20"]


def test_an_agency_file_of_two_plot_sizes_is_not_read_as_one():
    """A 6.8-ft radius is 1/300 ac, 24 ft is 1/24 ac: a tree of 3.2 in. stands for 75 trees an acre, not for 6."""
    text = "UNIT,PLOT,SUBP,TREE,SPCD,DIA,TPA_UNADJ\nK1,1,1,1,802,14.1,6.018\nK1,1,1,2,316,3.2,74.965\nK1,1,2,1,837,12,6.018\n"
    asked = proposed(text, settings={"visited_on": "2025-05-14", "plot_area_ac": "1/24"}, units={"dbh_in": "in"})

    assert "TPA_UNADJ" in question(asked, "own_sums").evidence[0]


@pytest.mark.parametrize(
    "text",
    [
        "Point,Sp,DBH (in),,Point,Sp,DBH (in)\nSaw BAF 20,,,,Poles BAF 10,,\n1,WO,18,,1,RM,8\n2,WO,22,,2,BO,10\n",
        "Saw BAF 20,,,,Poles BAF 10,,\nPoint,Sp,DBH (in),,Point,Sp,DBH (in)\n1,WO,18,,1,RM,8\n2,WO,22,,2,BO,10\n",
    ],
)
def test_tables_of_two_factors_side_by_side_are_asked_about(text):
    assert question(proposed(text, settings=PRISM), "other_factor").is_open


def test_corners_of_a_plot_are_plots_of_their_own():
    told = read("Plot,Corner,Species,Height,Count\n1,NE,WO,1-3 ft,2\n1,SW,RM,1-3 ft,5\n2,NE,none,,\n", settings=FLOOR)

    assert {row["point"] for row in rows(told, "points")} == {"1-NE", "1-SW", "2-NE"}


def test_a_sheet_that_is_named_as_another_stand_is_asked_about():
    told = PRISM | {"K2.layer": "overstory", "K1.layer": "overstory", "low_dbh_in": "4"}
    tallies = {name: [["Plot", "Sp", "DBH (in)"], [1, "WO", 14]] for name in ("K1", "K2")}
    asked = proposed(workbook(tallies), "book.xlsx", settings=told)

    assert "K2.stand" in [one.key for one in asked.open_questions]
    assert not question(proposed(workbook(tallies), "book.xlsx", settings=told | {"K2.stand": "K1"}), "K2.stand").is_open


@pytest.mark.parametrize(
    ("title", "asks"),
    [("SNAGS", True), ("Cut trees (marked)", True), ("Site trees", True), ("Pre-harvest cruise", False), ("K1 cruise", False)],
)
def test_labels_of_dead_or_cut_trees_are_asked_about(title, asks):
    above = f"{title},,\nPlot,Sp,DBH (in)\n1,WO,14\n"
    below = f"Plot,Sp,DBH (in)\n1,RM,8\n{title},,\nPlot,Sp,DBH (in)\n1,WO,14\n"

    for text in (above, below):
        assert [one.key for one in proposed(text, settings=PRISM).open_questions] == (["remarks"] if asks else [])


def test_a_plot_inside_and_outside_a_fence_is_asked_about():
    text = "Plot,Fenced,Species,Height,Count\n1,In,WO,1-3 ft,4\n1,Out,WO,1-3 ft,1\n"
    codes = {"fenced.In": "yes", "fenced.Out": "no"}

    assert "inside and outside a fence" in question(proposed(text, settings=FLOOR, codes=codes), "plot_names").evidence[0]


@pytest.mark.parametrize(("oaks", "asks"), [((7, 3), ["genus_beside"]), ((7, 1), []), ((1, 2), [])])
def test_a_genus_that_may_hold_its_species_is_asked_about(oaks, asks):
    text = "Plot,Height,Oak,WO,Maple\n" + "".join(
        f"{at},1-3 ft,{count},{white},5\n" for at, count, white in ((1, oaks[0], 4), (2, oaks[1], 2))
    )

    assert [one.key for one in proposed(text, settings=FLOOR).open_questions] == asks


def test_a_column_of_one_mark_is_not_kept_as_left_out_before_it_was_asked_about():
    text = "Plot,Sp,DBH (in),Vig\n1,WO,14,{}\n2,BO,12,{}\n"
    first = proposed(text.format("V", "V"), settings=PRISM)
    kept = {one.signature: one for one in first.mappings}
    later = text.format("V", "M")

    assert [one.key for one in first.open_questions] == ["columns_left"]
    assert question(proposed(later, settings=PRISM, remembered=kept), "Vig").is_open
    answered = {one.signature: one for one in proposed(later, settings=PRISM, columns={"Vig": "-"}).mappings}
    assert not proposed(later, settings=PRISM, remembered=answered).open_questions


FILE_OF_WORDS = "Plot,Sp,DBH (in),Lage,{}\n1,WO,14,{},\n1,BO,12,,{}\n2,RM,9,,\n"


@pytest.mark.parametrize(("heading", "cells"), [("Xq", ("7.5", "2.1")), ("", ("wind", "a b")), ("Weg", ("tot", "tot"))])
def test_columns_of_which_nothing_is_read_are_asked_about_with_what_they_hold(heading, cells):
    text = FILE_OF_WORDS.format(heading, *cells)
    asked = question(proposed(text, settings=PRISM), "columns_left")

    assert asked.is_open and len(asked.evidence) == 2 and repr(cells[1])[1:-1] in asked.evidence[1]
    told = proposed(text, settings=PRISM | LEFT)
    assert not told.open_questions
    kept = {one.signature: one for one in told.mappings}
    assert bool(proposed(text, settings=PRISM, remembered=kept).open_questions) == (not heading)


def test_what_was_left_out_before_is_asked_about_again_where_it_holds_the_dead():
    kept = {one.signature: one for one in proposed(FILE_OF_WORDS.format("Xq", "a", "b"), settings=PRISM | LEFT).mappings}
    later = FILE_OF_WORDS.format("Xq", "", "dead")

    assert question(proposed(later, settings=PRISM, remembered=kept), "Xq").is_open
    assert not proposed(later, settings=PRISM, remembered=kept, columns={"Xq": "-"}).open_questions


@pytest.mark.parametrize(
    ("dbh", "area", "asks"), [("30.5", "0.785", False), ("12", "0.0730", False), ("30", "7.9", True), ("11", "0.8", True)]
)
def test_sizes_beside_a_diameter_are_held_against_it(dbh, area, asks):
    """A tree of 12 in. has 30.5 cm, and 0.785 ft2 or 0.0730 m2 of basal area."""
    asked = proposed(f"Plot,Sp,DBH (in),DBH (cm),BA\n1,WO,12,{dbh},{area}\n", settings=PRISM)

    assert [one.key for one in asked.open_questions] == ["own_sums"] * asks


@pytest.mark.parametrize(
    ("title", "asks"),
    [
        ("Ridge stand, 14 May 2025, T12N R4W, 42 acres, crew of JD", False),
        ("Stand 12; page 2 of 3; BAF 10; plots 1-12", False),
        ("Every 4th tree", True),
        ("10% cruise", True),
        ("multiply by 2.47", True),
        ("training cruise", True),
        ("DRAFT", True),
        ("counts are means of the two", True),
    ],
)
def test_titles_that_hold_a_number_or_a_word_which_nothing_reads_are_asked_about(title, asks):
    text = f'"{title}",,\nPlot,Sp,DBH (in)\n1,WO,12\n2,WO,10\n'

    assert ("remarks" in [one.key for one in proposed(text, settings=PRISM).open_questions]) == asks
    assert ("remarks" in [one.key for one in proposed(f'Plot,Sp,DBH (in)\n1,WO,12\n"{title}",,\n', settings=PRISM).open_questions]) == asks


def test_plots_numbered_anew_below_a_column_that_is_not_read_are_asked_about():
    text = "Sample,Plot,Sp,DBH (in)\n1,1,WO,14\n1,2,BO,12\n2,1,RM,8\n2,2,RM,8\n"
    asked = question(proposed(text, settings=PRISM), "plot_names")

    assert "several of 'Sample'" in asked.evidence[0]
    assert not proposed(text.replace("Sample", "Page").replace("2,1,RM", "2,3,RM"), settings=PRISM).open_questions


@pytest.mark.parametrize(("told", "asks"), [((2, 1), []), ((8, 6), ["own_sums"])])
def test_the_trees_of_a_point_by_the_sheet_are_held_against_its_lines(told, asks):
    text = f"Point,Trees at point,Sp,DBH (in)\n1,{told[0]},WO,14\n1,,BO,12\n2,{told[1]},RM,8\n"

    assert [one.key for one in proposed(text, settings=PRISM | {"stems": "1"}).open_questions] == asks


@pytest.mark.parametrize(
    ("title", "asks"),
    [("Trees >= 5 in. dbh", True), ("Trees 5 inches and up", True), ("Trees >= 3 in. dbh", False), ("Trees per acre", True),
     ("every 3rd tree measured", True), ("measured by two people", False)],
)  # fmt: skip
def test_titles_that_say_what_was_taken_in_are_held_against_the_lines(title, asks):
    text = f"{title},,\nPlot,Sp,DBH (in)\n1,WO,14\n1,RM,3\n"

    assert [one.key for one in proposed(text, settings=PRISM).open_questions] == (["remarks"] if asks else [])


def test_counts_of_a_species_that_are_not_read_are_asked_about():
    text = 'Plot,Oak <6"",Oak 1-3\',Maple all\n1,10,3,22\n2,0,1,14\n'.replace('""', '"')

    assert "Maple all" in question(proposed(text, settings=FLOOR), "other_counts").text


def test_counts_of_two_people_are_not_taken_for_one():
    text = "Tree,Species,DBH (in),Acorns A,Acorns B\n1,WO,18,12,14\n2,BO,20,0,1\n"

    assert proposed(text, settings=PLACE).open_questions


def test_milacres_that_are_numbered_anew_on_each_transect_are_plots_of_their_own():
    text = "Transect,Milacre,Species,Height,Count\n1,1,WO,1-3 ft,3\n1,2,RM,1-3 ft,4\n2,1,WO,1-3 ft,1\n2,2,none,,\n"

    assert {row["point"] for row in rows(read(text, settings=FLOOR), "points")} == {"1-1", "1-2", "2-1", "2-2"}


@pytest.mark.parametrize(
    ("text", "said", "trees"),
    [
        ("Plot,Sp,DBH (in),Remarks\n1,WO,14,\n1,RM,9,ignore\n2,BO,12,\n", {"remarks": "leave out"}, [("1", "802", ""), ("2", "837", "")]),
        (
            "Plot,Sp,DBH (in)\n1,WO,14\n2,BO,12\nSnags,,\n1,RM,9\n",
            {"remarks": "dead"},
            [("1", "802", ""), ("2", "837", ""), ("1", "316", "dead")],
        ),
        ("Plot,Sp,DBH (in)\n1,WO,14\n01,BO,12\n2,RM,9\n", {"plot_names": "joined"}, [("1", "802", ""), ("1", "837", ""), ("2", "316", "")]),
        ("Plot,Sp,DBH (in)\n1,WO,14\nBAF 20,,\n2,BO,12\n", {"other_factor": "leave out"}, [("1", "802", "")]),
        (
            "Sample,Plot,Sp,DBH (in)\nA1,1,WO,14\nA1,2,BO,12\nB1,1,RM,8\nB1,2,RM,8\n",
            {"plot_names": "apart"},
            [("1 A1", "802", ""), ("2 A1", "837", ""), ("1 B1", "316", ""), ("2 B1", "316", "")],
        ),
        ("Plot,Quad,Sp,DBH (in)\nA,NE,WO,14\nA,SW,BO,12\n", {"plot_parts": "whole"}, [("A", "802", ""), ("A", "837", "")]),
        ("Plot,Quad,Sp,DBH (in)\nA,NE,WO,14\nA,SW,BO,12\n", {"plot_parts": "each"}, [("A-NE", "802", ""), ("A-SW", "837", "")]),
    ],
)
def test_questions_of_what_a_sheet_says_take_real_answers(text, said, trees):
    (key,) = said
    assert question(proposed(text, settings=PRISM), key).is_open
    told = read(text, settings=PRISM | LEFT | said)

    assert [(row["point"], row["species"], row.get("status") or "") for row in rows(told, "trees")] == trees
    assert told.sums.closes and told.sums.stored == len(trees)


@pytest.mark.parametrize(("answer", "heights"), [("as written", ["70", "8"]), ("unmeasured", ["70", ""]), ("leave out", ["70"])])
def test_heights_that_hardly_belong_to_their_diameters_are_asked_about(answer, heights):
    text = "Plot,Sp,DBH (in),Height (ft)\n1,WO,14,70\n1,RM,12,8\n"

    assert question(proposed(text, settings=PRISM), "slender").is_open
    told = read(text, settings=PRISM | {"slender": answer})
    assert [row["height_ft"] or "" for row in rows(told, "trees")] == heights


@pytest.mark.parametrize(
    ("title", "asks"), [("12 plots", True), ("Cruise of 9 prism points in May", True), ("3 plots", False), ("50 ft plots", False)]
)
def test_plots_that_a_title_counts_in_passing_are_held_against_those_with_lines(title, asks):
    asked = proposed(f"{title},,\nPlot,Sp,DBH (in)\n1,WO,14\n2,RM,9\n3,BO,12\n", settings=PRISM).open_questions

    assert ("empty_plots" in [one.key for one in asked]) == asks


def test_sheets_of_plots_of_the_same_names_may_be_other_plots():
    head = ["Plot", "Species", "Ht class", "Count"]
    book = workbook({"Fenced": [head, [1, "WO", "1-3", 8]], "Unfenced": [head, [1, "WO", "1-3", 1], [2, "RM", "1-3", 5]]})

    assert question(proposed(book, "f.xlsx", settings=FLOOR), "Unfenced.same_plots").is_open
    points = {
        told: {row["point"] for row in rows(read(book, "f.xlsx", settings=FLOOR | {"same_plots": told}), "seedlings")}
        for told in ("same", "other")
    }
    assert points == {"same": {"1", "2"}, "other": {"1", "1 Unfenced", "2 Unfenced"}}


@pytest.mark.parametrize(("amounts", "asks"), [(("1470", "735"), False), (("600", "300"), True)])
def test_stems_an_acre_by_the_sheet_are_held_against_its_plots(amounts, asks):
    """Two stems on a plot of 1/735 acre are 1,470 an acre."""
    text = f"Plot,Species,Ht class,Count,Per ac\n1,WO,1-3,2,{amounts[0]}\n2,RM,1-3,1,{amounts[1]}\n"

    asked = proposed(text, settings=FLOOR | {"plot_area_ac": "1/735"}).open_questions
    assert [one.key for one in asked] == ["own_sums"] * asks


def test_a_plot_named_by_a_sign_is_that_above_or_asked_about():
    text = "Plot,Sp,DBH (in)\n1,WO,14\n{},RM,9\n2,BO,12\n"

    assert [row["point"] for row in rows(read(text.format("\u2193"), settings=PRISM), "trees")] == ["1", "1", "2"]
    assert question(proposed(text.format("~"), settings=PRISM), "plot_names").is_open


def test_plots_that_a_title_names_are_held_against_those_with_lines():
    asked = proposed("Plots 1-5,,\nPlot,Sp,DBH (in)\n1,WO,14\n3,RM,9\n5,BO,12\n", settings=PRISM)

    assert "(2, 4)" in question(asked, "empty_plots").text


CLASS_ANSWERS = {"height_class.<1ft": "0.5-1", "height_class.1-4.5ft": "1-3", "height_class.>4.5ft": "4.5-10"}


def stems_of(applied):
    """The stems of each species."""
    found = collections.Counter()
    for row in rows(applied, "seedlings"):
        found[row["species"]] += int(row["stems"])
    return dict(found)


def test_a_count_beside_counts_by_class_never_takes_their_place():
    """17 stems of oak and 37 others: the others are counted once, in the class that is answered."""
    text = "Plot,White oak <1ft,White oak 1-4.5ft,White oak >4.5ft,Other\n1,3,2,1,9\n2,4,1,0,12\n3,2,3,1,16\n"
    said = {"columns": {"Other": "stems"}, "codes": CLASS_ANSWERS}

    assert question(proposed(text, settings=FLOOR, **said), "other_class").is_open
    assert stems_of(read(text, settings=FLOOR | {"other_class": "1-3"}, **said)) == {"802": 17, "999": 37}
    assert "one more species" in " ".join(question(proposed(text, settings=FLOOR), "other_counts").words)


@pytest.mark.parametrize("remembers", [False, True])
def test_a_count_beside_counts_by_species_is_one_more_species(remembers):
    text = "Plot,Ht class,WO,BO,Misc hdwd\n1,1-3,3,2,9\n2,1-3,4,1,12\n3,3-4.5,2,3,16\n"
    said = {"settings": FLOOR, "codes": {"Misc hdwd": "999"}}
    kept = proposed(text, columns={"Misc hdwd": "stems"}, **said).sheets[0].mapping
    how = {"remembered": {kept.signature: kept}} if remembers else {"columns": {"Misc hdwd": "stems"}}

    assert stems_of(read(text, **said, **how)) == {"802": 9, "837": 6, "999": 37}


def test_a_count_beside_counts_that_it_cannot_belong_to_is_refused():
    text = "Plot,Species,<0.5,1-3,3-4.5,Extra\n1,WO,3,2,9,4\n2,RM,4,1,12,5\n"

    with pytest.raises(Misuse, match="cannot be the count of stems"):
        proposed(text, settings=FLOOR, columns={"Extra": "stems"})
    # The heading speaks of counts by itself: its column is asked about.
    assert question(proposed(text.replace("Extra", "Count"), settings=FLOOR), "other_counts").is_open
