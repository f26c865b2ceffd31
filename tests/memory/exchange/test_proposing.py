"""What becomes of foreign sheets: each row has one fate, nothing is guessed that changes a figure, and what is asked shows its evidence."""

from __future__ import annotations

import collections
import dataclasses
import datetime as dt
import io

import openpyxl
import pytest

from foreign_files import FLOOR, PLACE, PRISM, K, counts, fates, proposed, question, read, rows, sheets
from overwood.ground.errors import BadRecords, Misuse
from overwood.ground.records import TABLES
from overwood.memory.exchange import checking, proposing, reading
from overwood.memory.exchange.proposal import Answers, Known, KnownStand

CM = "Plot,Tree,Sp,DBH\n" + "".join(
    f"{plot},{tree},WO,{size}\n" for plot in (1, 2, 3, 4) for tree, size in enumerate((14, 18, 22, 25, 26, 27, 28, 30, 36, 41), 1)
)


def test_every_unknown_species_is_listed_with_its_count_before_anything_is_stored():
    asked = proposed("Plot,Tree,Sp,DBH (in)\n1,1,WO,18\n1,2,XQZ,14\n1,3,XQZ,12\n", settings=PRISM)

    one = question(asked, "XQZ")
    assert "2 lines" in one.text
    assert (one.kind, one.needed, one.default) == ("code", False, "999")


def test_symbols_without_their_digit_are_known():
    applied = read("Plot,Tree,Sp,DBH (in)\n1,1,WO,18\n1,2,CAGL,14\n1,3,FRAM,12\n", settings=PRISM)

    assert [row["species"] for row in rows(applied, "trees")] == ["802", "403", "541"]


def test_a_code_that_stands_in_no_sheet_is_refused_and_those_that_do_are_named():
    with pytest.raises(Misuse, match="WO"):
        proposed("Plot,Tree,Sp,DBH (in)\n1,1,WO,18\n", settings=PRISM, codes={"TYPO": "833"})


@pytest.mark.parametrize("said", [{"settings": {"stnd": "K1"}}, {"columns": {"Diam": "dbh_in"}}, {"units": {"height_ft": "m"}}])
def test_an_answer_to_no_question_is_refused(said):
    with pytest.raises(Misuse, match="answers no question"):
        proposed("Plot,Tree,Sp,DBH (in)\n1,1,WO,18\n", **said)


def test_rows_that_say_none_are_empty_plots():
    applied = read(
        "Plot,Species,Ht class,Count\n1,WO,1-3,2\n2,none,,\n3,,,\n4,RM,3-4.5,5\n5,no regen,,\n6,-,,\n7,WO,1-3,0\n", settings=FLOOR
    )

    assert {row["point"] for row in rows(applied, "points")} == set("1234567")
    assert [(row["point"], row["stems"]) for row in rows(applied, "seedlings")] == [("1", "2"), ("4", "5")]
    assert counts(applied) == {"heading": 1, "tally": 2, "empty": 5}


def test_a_cruise_point_that_says_none_is_empty():
    applied = read("Pt,Sp,DBH (in)\n1,WO,18\n2,none,\n3,BO,16\n", settings=PRISM)

    assert {row["point"] for row in rows(applied, "points")} == {"1", "2", "3"}
    assert len(rows(applied, "trees")) == 2


def test_total_rows_are_left_out_and_named():
    text = "Plot No,Sp,DBH (in)\n1,WO,18\n2,WO,17\n3,BO,16\nTotal trees,,\nAverage,,17\nChecked by the office on Monday,,\n"

    assert {row["point"] for row in rows(read(text, settings=PRISM), "points")} == {"1", "2", "3"}
    assert fates(read(text, settings=PRISM)) == {1: "heading", 2: "tally", 3: "tally", 4: "tally", 5: "total", 6: "total", 7: "note"}
    assert "Total trees" in " ".join(proposed(text, settings=PRISM).sheets[0].notes)


@pytest.mark.parametrize("alone", ["Page 2", "Sheet 3 of 5", "6/15/2025", "9:30", "crew 2"])
def test_a_page_day_or_hour_alone_in_the_plot_column_is_no_empty_plot(alone):
    applied = read(f"Pt,Sp,DBH (in)\n1,WO,18\n{alone},,\n2,RM,9\n", settings=PRISM)

    assert counts(applied) == {"heading": 1, "tally": 2, "note": 1}
    assert [row["point"] for row in rows(applied, "points")] == ["1", "2"]


@pytest.mark.parametrize(
    "alone,named", [("3", "1"), ("Plot 3", "1"), ("12b", "1"), ("North 3", "North 1"), ("A/3", "A/1"), ("N", "E"), ("1/3", "1/1")]
)
def test_a_plot_alone_in_its_column_is_an_empty_plot(alone, named):
    applied = read(f"Pt,Sp,DBH (in)\n{named},WO,18\n{alone},,\n", settings=PRISM)

    assert counts(applied) == {"heading": 1, "tally": 1, "empty": 1}


def test_sum_in_the_species_column_is_sugar_maple_and_no_total():
    applied = read("Plot,Sp,DBH (in)\n1,SUM,18\n1,WO,17\n", settings=PRISM)

    assert [row["species"] for row in rows(applied, "trees")] == ["318", "802"]


def test_diameters_without_a_unit_are_asked_with_both_results():
    one = question(proposed(CM, settings={**PLACE, "plot_area_ac": "0.1"}), "dbh_in")

    assert one.is_open
    shown = {choice.value: choice.meaning for choice in one.choices}
    # 10 trees of 14 to 41 in on 0.1 acre: 0.005454154 d2 summed is 42.0 ft2, 420 ft2/ac; in cm it is divided by 2.54 squared.
    assert "420 ft2/ac" in shown["in"]
    assert "65 ft2/ac" in shown["cm"]


def test_a_heading_or_a_title_that_names_the_unit_is_not_asked():
    assert not [one for one in proposed(CM.replace("DBH", "DBH (cm)")).questions if one.key == "dbh_in"]
    assert not [one for one in proposed("All diameters in cm,,,\n" + CM).questions if one.key == "dbh_in"]


def test_too_much_basal_area_is_doubted_and_can_be_confirmed():
    said = {"settings": {**PLACE, "plot_area_ac": "0.1"}, "units": {"dbh_in": "in"}}
    assert question(proposed(CM, **said), "basal_area").is_open

    said["settings"]["basal_area"] = "as written"
    assert len(rows(read(CM, **said), "trees")) == 40


def test_a_plot_size_of_four_is_asked_with_its_readings():
    one = question(proposed(CM, settings={**PLACE, "plot_area_ac": "4"}, units={"dbh_in": "cm"}), "plot_area_ac")

    assert one.is_open
    assert {"4 m2", "1/4", "4%", "4 ac"} <= {choice.value for choice in one.choices}


@pytest.mark.parametrize(
    ("written", "acres"),
    # 1 acre = 43,560 ft2 = 4046.8564224 m2; a circle of 3.72 ft: pi 3.72^2 / 43,560. All by definition.
    [("1/735", 0.00136054), ("4 m2", 0.00098842), ("4 %", 0.04), ("4%", 0.04), ("radius 3.72 ft", 0.00099804), ("0.001", 0.001)],
)
def test_a_plot_size_is_read_with_its_unit(written, acres):
    applied = read("Plot,Species,Ht class,Count\n1,WO,1-3,2\n", settings={**FLOOR, "plot_area_ac": written})

    assert float(rows(applied, "rings")[0]["plot_area_ac"]) == pytest.approx(acres, rel=1e-4)


def test_a_plot_size_in_its_column_is_never_taken_for_a_prism():
    text = "Plot,Sp,DBH (in),Plot size\n1,WO,12,4\n2,RM,8,4\n"

    assert question(proposed(text, settings=PLACE), "plot_area_ac").is_open


def test_points_of_different_factors_each_keep_their_own():
    applied = read("Plot,Sp,DBH (in),BAF\n1,WO,12,10\n2,RM,8,20\n2,WO,9,20\n", settings=PLACE)

    assert [(row["point"], row["baf_ft2_ac"]) for row in rows(applied, "points")] == [("1", "10"), ("2", "20")]
    assert len(rows(applied, "rings")) == 1
    assert counts(applied) == {"heading": 1, "tally": 3}


def test_prism_points_and_plots_on_one_sheet_each_keep_their_own():
    applied = read("Plot,Sp,DBH (in),BAF,Plot size (ac)\n1,WO,12,10,\n2,RM,8,20,\n", settings=PLACE)
    mixed = read("Plot,Sp,DBH (in),Plot size\n1,WO,12,0.1 ac\n2,RM,8,radius 26.3 ft\n", settings=PLACE)

    assert [row["baf_ft2_ac"] for row in rows(applied, "points")] == ["10", "20"]
    # pi 26.3^2 / 43,560 by definition.
    assert [float(row["plot_area_ac"]) for row in rows(mixed, "points")] == pytest.approx([0.1, 0.049886], rel=1e-4)


@pytest.mark.parametrize(
    ("text", "settings", "words"),
    [
        ("Plot,Sp,DBH (in),BAF\n1,WO,12,10\n1,RM,8,20\n", PLACE, "some points have none or more than one"),
        ("Plot,Sp,DBH (in),BAF,Plot size\n1,WO,12,10,0.01 ac\n2,WO,12,10,0.01 ac\n", PLACE, "some points have none or more than one"),
        ("Plot,Sp,DBH (in),BAF\n1,WO,12,10\n2,RM,8,20\n", {**PLACE, "baf_ft2_ac": "10"}, "was answered"),
        ("Plot,Sp,DBH (in),BAF\n1,WO,12,10\n2,RM,8,500\n", PLACE, "not understood"),
    ],
)
def test_sizes_that_cannot_be_told_point_by_point_stop_the_sheet_with_words(text, settings, words):
    applied = read(text, settings=settings)

    assert rows(applied, "trees") == rows(applied, "seedlings") == []
    assert words in applied.problems[0].what


def test_a_list_of_plots_gives_each_point_its_factor():
    lists, trees = "Plot,BAF\n1,BAF 10\n2,20\n", "Plot,Sp,DBH (in)\n1,WO,12\n2,WO,12\n"
    two = (*sheets(lists, "plots.csv"), *sheets(trees, "trees.csv"))
    applied = proposing.apply(proposing.propose(two, Answers(settings=PRISM), {}, K))

    assert [(row["point"], row["baf_ft2_ac"]) for row in rows(applied, "points")] == [("1", "10"), ("2", "20")]


def test_a_row_without_a_species_is_kept_as_unknown_and_named():
    text = "Plot,Tree,Sp code,DBH (in)\n1,1,WO,18\n1,2,,14\n1,3,BO,16\n"

    assert [row["species"] for row in rows(read(text, settings=PRISM), "trees")] == ["802", "999", "837"]
    assert "row 3" in question(proposed(text, settings=PRISM), "blank_species").text


def test_a_day_that_can_be_read_both_ways_is_asked_with_both_days():
    text = "Stand,Date,Plot,Sp,DBH (in)\nK4,05/06/2025,1,WO,18\n"
    one = question(proposed(text, settings={"baf_ft2_ac": "10"}), "day_order")

    assert {choice.value: choice.meaning for choice in one.choices} == {
        "month": "05/06/2025 is 06 May 2025",
        "day": "05/06/2025 is 05 June 2025",
    }
    applied = read(text, settings={"baf_ft2_ac": "10", "day_order": "day"})
    assert rows(applied, "visits")[0]["visited_on"] == "2025-06-05"


def test_one_day_over_twelve_settles_the_order_of_the_file_and_the_other_order_stops_its_line():
    text = "Stand,Date,Plot,Sp,DBH (in)\nK4,05/06/2025,1,WO,18\nK4,25/06/2025,2,WO,17\n"
    assert {row["visited_on"] for row in rows(read(text, settings={"baf_ft2_ac": "10"}), "visits")} == {"2025-06-05", "2025-06-25"}

    mixed = read(text + "K4,06/25/2025,3,WO,11\n", settings={"baf_ft2_ac": "10", "day_order": "day"})
    assert [problem.row for problem in mixed.problems] == [4]
    assert fates(mixed)[4] == "refused"


def test_an_answered_day_that_can_be_read_both_ways_is_asked_again():
    one = question(proposed("Plot,Sp,DBH (in)\n1,WO,18\n", settings={**PRISM, "visited_on": "5/12/2026"}), "visited_on")

    assert one.is_open
    assert {choice.value for choice in one.choices} == {"2026-05-12", "2026-12-05"}


@pytest.mark.parametrize(
    ("written", "name"),
    [("1-3'", "1-3"), ("<6in", "<0.5"), ("3-4.5", "3-4.5"), ("6-12 in", "0.5-1"), ("4.5 - 10 ft.", "4.5-10"), (">10 ft", "10+")],
)
def test_height_classes_are_read_as_people_write_them(written, name):
    applied = read(f'Plot,Species,Ht class,Count\n1,WO,"{written}",2\n', settings=FLOOR)

    assert rows(applied, "seedlings")[0]["height_class"] == name


def test_a_class_that_fits_no_single_one_is_asked_and_can_be_split():
    text = "Plot,Species,Ht class,Count\n1,WO,<1 ft,5\n"
    one = question(proposed(text, settings=FLOOR), "height_class.<1 ft")
    assert one.is_open
    assert [choice.value for choice in one.choices] == ["<0.5", "0.5-1", "split"]

    lines = rows(read(text, settings=FLOOR, codes={"<1 ft": "split"}), "seedlings")
    assert [(line["height_class"], line["stems"]) for line in lines] == [("<0.5", "3"), ("0.5-1", "2")]


@pytest.mark.parametrize("count", ["few", "NT", "2.5"])
def test_what_is_no_whole_number_is_not_shared_over_classes_as_one_stem(count):
    applied = read(f"Plot,Species,Ht class,Count\n1,WO,<1 ft,5\n2,WO,<1 ft,{count}\n", settings=FLOOR, codes={"<1 ft": "split"})

    assert [line["stems"] for line in rows(applied, "seedlings") if line["point"] == "2"] == [count]


def test_a_class_that_a_spreadsheet_made_a_day_of_is_asked():
    one = question(proposed("Plot,Species,Ht class,Count\n1,WO,3-Jan,5\n", settings=FLOOR), "height_class.3-Jan")

    assert one.is_open
    assert one.choices[0].value == "1-3"


def test_a_wide_tally_becomes_lines():
    applied = read("Plot,Species,6-12 in,1-3 ft,10+ ft\n1,WO,2,,1\n2,RM,,,\n3,none,,,\n", settings=FLOOR)

    assert [(r["point"], r["height_class"], r["stems"]) for r in rows(applied, "seedlings")] == [("1", "0.5-1", "2"), ("1", "10+", "1")]
    assert {row["point"] for row in rows(applied, "points")} == {"1", "2", "3"}
    assert counts(applied) == {"heading": 1, "tally": 1, "empty": 2}


def test_a_column_of_yes_and_no_says_whether_a_tree_bears():
    applied = read("Tree,Species,DBH (in),Acorns?\n1,WO,18,Y\n2,WO,20,N\n", settings={"stand": "K4", "visited_on": "2025-09-10"})

    assert [row["bearing"] for row in rows(applied, "acorn_trees")] == ["yes", "no"]


def test_words_for_acorns_are_asked_about():
    asked = proposed("Tree,Species,DBH (in),Acorns?\n1,WO,18,some\n2,WO,20,N\n", settings={"stand": "K4", "visited_on": "2025-09-10"})

    assert question(asked, "bearing.some").is_open


def test_a_missing_stand_is_one_open_question_with_the_nearest_name():
    one = question(proposed("Plot,Sp,DBH (in)\n1,WO,18\n2,WO,17\n", settings={**PRISM, "stand": "K99"}), "stand")

    assert one.is_open
    assert one.text.startswith("There is no stand 'K99' in the book")


def test_crown_letters_are_read():
    applied = read("Plot,Sp,DBH (in),Crown Cl\n1,WO,18,D\n1,WO,17,C\n1,RM,8,S\n", settings=PRISM)

    assert [row["crown_class"] for row in rows(applied, "trees")] == ["dominant", "codominant", "overtopped"]


@pytest.mark.parametrize(
    ("marks", "stems"), [("||||", "4"), ("IIII II", "6"), (".:", "3"), ("::", "4"), ("||||/ ||", "7"), ("卌 |", "6"), ("3", "3")]
)
def test_tally_marks_are_counted(marks, stems):
    applied = read(f"Plot,Sp,DBH class (in),Tally\n1,WO,12,{marks}\n", settings={**PLACE, "plot_area_ac": "0.1"})

    assert rows(applied, "trees")[0]["stems"] == stems


def test_marks_of_dead_and_cull_trees_are_read_and_a_sign_behind_the_species_is_asked():
    text = "Plot,Sp,DBH (in),Dead\n1,WO,18,x\n1,dead RM,9,\n1,BO,12,\n"
    assert [row["status"] for row in rows(read(text, settings=PRISM), "trees")] == ["dead", "dead", ""]

    starred = "Plot,Sp,DBH (in)\n1,WO*,18\n1,BO,12\n"
    assert question(proposed(starred, settings=PRISM), "species_mark.*").is_open
    assert [r["quality"] for r in rows(read(starred, settings=PRISM, codes={"*": "cull"}), "trees")] == ["cull", ""]


def test_days_of_one_cruise_make_one_visit_and_a_repeated_point_another():
    text = "Stand,Date,Plot,Sp,DBH (in)\nK1,2025-05-12,1,WO,18\nK1,2025-05-13,2,WO,17\nK1,2025-05-14,1,WO,18\n"
    visits = rows(read(text, settings={"baf_ft2_ac": "10"}), "visits")

    assert [(row["visit"], row["visited_on"]) for row in visits] == [
        ("K1-2025-05-12-cruise", "2025-05-12"),
        ("K1-2025-05-14-cruise", "2025-05-14"),
    ]


def test_a_stem_count_of_zero_or_blank_is_not_one_stem():
    text = "Plot,Species,Ht class,Count\n1,WO,1-3,2\n1,RM,1-3,\n"
    assert question(proposed(text, settings=FLOOR), "blank_count").is_open

    applied = read(text, settings={**FLOOR, "blank_count": "0"})
    assert [row["stems"] for row in rows(applied, "seedlings")] == ["2", "0"]


def test_headings_are_kept_and_answers_are_not():
    first = proposed("Plot,Sp,DBH\n1,WO,18\n1,RO,12\n", settings=PRISM, units={"dbh_in": "in"}, codes={"RO": "833"})
    (kept,) = first.mappings
    assert kept.units["dbh_in"] == "in"
    assert not {"K1", "2025-05-14", "10"} & set(str(kept.to_json()).replace("'", " ").split())

    again = proposed("Plot,Sp,DBH\n1,WO,18\n1,RO,12\n", "other name.csv", remembered={kept.signature: kept})
    assert again.sheets[0].remembered
    assert {one.key for one in again.open_questions} == {"stand", "visited_on", "baf_ft2_ac"}


def test_an_answer_goes_before_what_was_kept():
    (kept,) = proposed("Plot,Sp,DBH\n1,WO,46\n", settings=PRISM, units={"dbh_in": "in"}).mappings
    applied = read("Plot,Sp,DBH\n1,WO,46\n", settings=PRISM, units={"dbh_in": "cm"}, remembered={kept.signature: kept})

    assert float(rows(applied, "trees")[0]["dbh_in"]) == pytest.approx(46 / 2.54, abs=1e-3)


def test_a_file_of_the_name_stands_with_other_headings_is_mapped():
    contract, strange = proposing.sort_out(reading.read_file("stands.csv", b"Stand,Acres,Property\nN1,12,millrun\n"))
    assert (contract, len(strange)) == ([], 1)

    applied = proposing.apply(proposing.propose(strange, Answers(), {}, K))
    assert rows(applied, "stands")[0]["area_ac"] == "12"


def test_a_column_the_file_does_not_have_is_absent_and_clear_is_handed_on():
    applied = read("Stand,Acres,Property,Notes\nN1,12,millrun,clear\n")

    (row,) = rows(applied, "stands")
    assert set(row) == {"__row", "stand", "area_ac", "property", "note"}
    assert row["note"] == "clear"


@pytest.mark.parametrize("text", ["Stand,Date,Point,Species,DBH (in)\n", "Stand,Date,Point,DBH\nK1,2025-05-14,1,12\n", "a,b\n1,2\n"])
def test_headings_without_rows_or_species_are_no_tally_and_no_crash(text):
    asked = proposed(text)

    assert not asked.understood
    assert asked.sheets[0].why_not


def test_the_untouched_template_is_said_to_be_empty():
    from overwood.memory.exchange import contract

    with pytest.raises(BadRecords, match="are empty"):
        proposing.sort_out(reading.read_file("template.xlsx", contract.template_workbook()))


EARLIER = Known(stands=(KnownStand(stand="K1", last_visit_on=dt.date(2025, 7, 1)),), visits=frozenset({"K1-2025-07-01-cruise"}))


def test_a_day_before_the_last_visit_is_asked_about():
    text = "Plot,Sp,DBH (in)\n1,WO,18\n"
    asked = question(proposed(text, known=EARLIER, settings=PRISM), "old_days")

    assert asked.is_open
    assert "K1 on 2025-05-14 (1 line)" in asked.evidence[0]
    assert "2025-07-01" in asked.evidence[0]
    assert counts(read(text, known=EARLIER, settings=PRISM | {"old_days": "as written"}))["tally"] == 1


def test_an_earlier_day_that_is_in_the_book_already_is_not_asked_about():
    known = dataclasses.replace(EARLIER, visits=frozenset({"K1-2025-05-14-cruise"}))

    assert not proposed("Plot,Sp,DBH (in)\n1,WO,18\n", known=known, settings=PRISM).open_questions


def test_exchanged_coordinates_are_asked_and_put_right():
    text = "Plot,Sp,DBH (in),Lat,Long\n1,WO,18,-82.1,37.5\n"
    assert question(proposed(text, settings=PRISM), "coordinates").is_open

    applied = read(text, settings={**PRISM, "coordinates": "swap"})
    assert [(row["latitude_deg"], row["longitude_deg"]) for row in rows(applied, "points")] == [("37.5", "-82.1")]


def test_trees_below_the_least_diameter_are_asked_about():
    text = "Plot,Sp,DBH (in)\n1,WO,18\n1,RM,3\n"
    said = {**PRISM, "low_dbh_in": "5"}
    assert question(proposed(text, settings=said), "outside_ring").is_open

    assert len(rows(read(text, settings={**said, "outside_ring": "leave out"}), "trees")) == 1


def test_subplots_are_points_of_one_cluster_and_never_fall_on_one_plot():
    text = "Plot,Subplot,Species,Ht class,Count\n1,1,WO,1-3,2\n1,2,WO,1-3,3\n2,1,none,,\n2,2,none,,\n"
    applied = read(text, settings=FLOOR)

    assert {(row["point"], row["cluster"]) for row in rows(applied, "points")} == {("1-1", "1"), ("1-2", "1"), ("2-1", "2"), ("2-2", "2")}


@pytest.mark.parametrize("heading", ["Stems/ac", "Stems per acre", "TPA", "Trees / ha"])
def test_an_amount_an_acre_is_never_a_count(heading):
    asked = proposed(f"Plot,Species,Ht class,{heading}\n1,WO,1-3,3000\n", settings=FLOOR)

    assert question(asked, "stems").is_open
    assert heading in " ".join(asked.sheets[0].notes)


def test_a_plot_that_was_skipped_is_no_empty_plot():
    applied = read('Pt,Sp,DBH (in),Remarks\n1,WO,18,\n2,,,"skipped, posted land"\n3,,,\n', settings=PRISM)

    assert {row["point"] for row in rows(applied, "points")} == {"1", "3"}
    assert fates(applied)[3] == "note"


def test_a_point_all_of_whose_lines_are_refused_is_no_empty_point():
    applied = read("Pt,Sp,DBH (in)\n1,WO,18\n2,WO,l8\n", settings=PRISM)

    assert {row["point"] for row in rows(applied, "points")} == {"1"}


def test_a_month_without_a_day_is_refused_by_name():
    applied = read("Stand,Date,Pt,Sp,DBH (in)\nK1,May 2025,1,WO,18\nK1,14 May 2025,2,WO,17\n", settings={"baf_ft2_ac": "10"})

    assert [(one.row, one.found) for one in applied.problems] == [(2, "May 2025")]
    assert [row["visited_on"] for row in rows(applied, "visits")] == ["2025-05-14"]


def test_the_number_a_spreadsheet_gives_a_day_is_asked():
    text = "Stand,Date,Pt,Sp,DBH (in)\nK1,45791,1,WO,18\n"
    # Day 45,791 from the end of 1899 is 14 May 2025: 125 years of 365 days, 31 leap days, 134 days, and one day too many for 1900.
    assert question(proposed(text, settings={"baf_ft2_ac": "10"}), "day_numbers").choices[0].meaning == "45791 is 14 May 2025"

    applied = read(text, settings={"baf_ft2_ac": "10", "day_numbers": "yes"})
    assert rows(applied, "visits")[0]["visited_on"] == "2025-05-14"


def test_a_prism_and_a_plot_cannot_both_be_said():
    with pytest.raises(Misuse, match="both said"):
        proposed("Pt,Sp,DBH (in)\n1,WO,18\n", settings={**PRISM, "plot_area_ac": "0.1"})


def test_small_numbers_of_a_cruisers_own_list_are_no_national_codes():
    # 68 is eastern redcedar in the national list; beside 1 and 2 it is a number of somebody's own.
    asked = proposed("Pt,Sp,DBH (in)\n1,1,18\n1,2,17\n1,68,9\n", settings=PRISM)

    assert {"1", "2", "68"} <= {one.key for one in asked.questions if one.kind == "code"}


def test_headings_told_one_by_one_make_a_tally_of_any_sheet_and_are_known_again():
    text = "Punkt,Baumart,Umfang (cm)\n1,WO,46\n"
    columns = {"Punkt": "point", "Baumart": "species", "Umfang (cm)": "dbh_in"}
    told = proposed(text, settings=PRISM, columns=columns)
    assert told.sheets[0].table == "trees"

    (kept,) = told.mappings
    assert proposed(text, settings=PRISM, remembered={kept.signature: kept}).sheets[0].remembered


def test_a_list_of_plots_without_a_tally_is_left_out():
    asked = proposed("Plot,Lat,Long\n1,37.5,-82.1\n")

    assert not asked.understood
    assert {one.fate for one in asked.sheets[0].fates} == {"note"}


def test_two_trees_side_by_side_are_two_trees():
    applied = read("Plot,Sp,DBH (in),Sp,DBH (in)\n1,WO,18,RM,9\n2,BO,12,,\n", settings=PRISM)

    assert [(row["point"], row["species"]) for row in rows(applied, "trees")] == [("1", "802"), ("2", "837"), ("1", "316")]
    assert counts(applied) == {"heading": 1, "tally": 2}


@pytest.mark.slow
def test_matching_of_headings_and_rows_is_linear():
    """Counted, not timed: nearest names are sought once a distinct heading or value, and only of the first headings."""
    from overwood.ground import species
    from overwood.memory.exchange import headings

    wide = ",".join(["Plot", "Sp", "DBH (in)", *(f"strange heading {number}" for number in range(3000))])
    headings._near.cache_clear()
    species.near.cache_clear()
    proposed(wide + "\n" + "\n".join(f"{row},speceis {row % 5},12" for row in range(2000)) + "\n", settings=PRISM)

    assert headings._near.cache_info().misses <= headings.MOST_HEADINGS * len(headings.tables())
    assert species.near.cache_info().misses <= 20


def test_a_stand_that_is_not_in_the_book_is_one_fault_and_can_be_told():
    text = "Stand,Date,Pt,Sp,DBH (in)\nK-1,2025-05-14,1,WO,18\nK-1,2025-05-14,2,WO,17\nk2,2025-05-14,1,RM,9\n"
    said = {"settings": {"baf_ft2_ac": "10"}}

    applied = read(text, **said)
    assert [(one.row, one.column, one.found) for one in applied.problems] == [(2, "stand", "K-1")]
    assert counts(applied) == {"heading": 1, "refused": 2, "tally": 1}
    assert rows(applied, "visits")[0]["stand"] == "K2"

    told = read(text, **said, codes={"stand.K-1": "K1"})
    assert {row["stand"] for row in rows(told, "visits")} == {"K1", "K2"}


def test_azimuth_and_distance_become_places_on_the_block():
    text = "Tree,Species,DBH (in),Azimuth,Distance (ft)\n1,WO,18,0,10\n2,RM,9,90,20\n3,BO,12,225,14.142\n"
    said = {"stand": "K1", "visited_on": "2025-05-14", "width_ft": "200", "height_ft": "100", "edge": "open"}
    assert {"width_ft", "height_ft", "edge"} <= {one.key for one in proposed(text).open_questions}

    applied = read(text, settings=said)

    # From the middle (100, 50): 10 ft north; 20 ft east; 10 ft south and 10 ft west of it, by plain trigonometry.
    places = [(float(row["east_ft"]), float(row["north_ft"])) for row in rows(applied, "stems")]
    assert places == [pytest.approx((100, 60)), pytest.approx((120, 50)), pytest.approx((90, 40), abs=0.01)]
    assert rows(applied, "stem_maps")[0]["edge"] == "open"
    assert rows(applied, "visits")[0]["kind"] == "stem map"


NESTED = "Pt,Plot type,Tree,Sp,DBH (in)\n1,BAF 10,1,WO,18\n1,1/50 ac,1,RM,3\n1,BAF 10,2,BO,16\n2,BAF 10,1,WO,17\n2,1/50 ac,,none,\n3,1/50 ac,1,WO,2\nTotal,,,,\n"
RINGS = {
    "s: BAF 10.layer": "overstory", "s: BAF 10.low_dbh_in": "5",
    "s: 1/50 ac.layer": "midstory", "s: 1/50 ac.high_dbh_in": "5",
}  # fmt: skip


def test_two_kinds_of_plots_on_one_sheet_are_asked_apart():
    said = proposed(NESTED, "s.csv", settings=PLACE)

    keys = {one.key for one in said.open_questions}
    assert {"s: BAF 10.layer", "s: BAF 10.low_dbh_in", "s: 1/50 ac.layer"} <= keys
    assert question(said, "s: BAF 10.baf_ft2_ac").answer == "10", "the kind says its factor"
    assert question(said, "s: 1/50 ac.plot_area_ac").answer == "1/50 ac"


def test_two_kinds_of_plots_on_one_sheet_are_rings_of_one_visit():
    applied = read(NESTED, "s.csv", settings=PLACE | RINGS)

    rings = {row["layer"]: row for row in rows(applied, "rings")}
    assert (rings["overstory"]["design"], rings["overstory"]["baf_ft2_ac"], rings["overstory"]["low_dbh_in"]) == ("prism", "10", "5")
    assert (rings["midstory"]["design"], float(rings["midstory"]["plot_area_ac"]), rings["midstory"]["high_dbh_in"]) == ("fixed", 0.02, "5")
    assert len(rows(applied, "visits")) == 1
    assert sorted(row["point"] for row in rows(applied, "points")) == ["1", "2", "3"]
    assert sorted(float(row["dbh_in"]) for row in rows(applied, "trees")) == [2, 3, 16, 17, 18]
    assert len({(row["point"], row["tree"]) for row in rows(applied, "trees")}) == 5, "trees of both rings have numbers of their own"


def test_the_rows_of_several_kinds_of_plots_have_one_fate_each():
    fate = collections.Counter(one.row for one in read(NESTED, "s.csv", settings=PLACE | RINGS).fates)

    assert fate == dict.fromkeys(range(1, 9), 1)
    assert counts(read(NESTED, "s.csv", settings=PLACE | RINGS)) == {"heading": 1, "tally": 5, "empty": 1, "total": 1}


def test_stems_that_name_no_kind_of_plot_are_refused_and_the_others_kept():
    applied = read(NESTED + "3,,2,BO,14\n", "s.csv", settings=PLACE | RINGS)

    assert len(rows(applied, "trees")) == 5
    assert fates(applied)[9] == "refused"
    assert [one.what for one in applied.problems] == ["The sheet holds several kinds of plots, and some stems name none."]


def test_kinds_of_plots_that_say_no_size_are_asked_for_theirs():
    text = "Pt,Ring,Sp,DBH (in)\n1,main,WO,18\n1,small,RM,3\n2,main,WO,18\n"

    keys = {one.key for one in proposed(text, "s.csv", settings=PLACE).open_questions}

    assert {"s: main.baf_ft2_ac", "s: small.baf_ft2_ac"} <= keys


def test_the_codes_of_all_kinds_of_plots_are_kept():
    text = NESTED.replace("BO", "ZORK").replace("RM", "PLUGH")
    said = proposed(text, "s.csv", settings=PLACE | RINGS, codes={"ZORK": "833", "PLUGH": "316"})

    (kept,) = said.mappings
    assert {"ZORK": "833", "PLUGH": "316"}.items() <= kept.codes["species"].items()


def test_a_plot_size_to_choose_answers_its_own_key():
    asked = question(proposed("Pt,Sp,DBH (in)\n1,WO,18\n", settings={**PLACE, "plot_area_ac": "4"}), "plot_area_ac")

    assert asked.how == '--set "plot_area_ac=4 m2"' and asked.also == ("baf_ft2_ac",)


def test_a_heading_told_for_one_kind_of_plots_is_told_for_the_sheet():
    text = NESTED.replace("Tree,", "Tag id,")

    applied = read(text, "s.csv", settings=PLACE | RINGS, columns={"s: BAF 10.Tag id": "-"})

    assert len(rows(applied, "trees")) == 5


def test_a_blank_count_among_counted_trees_is_asked_about():
    assert question(proposed("Pt,Sp,DBH (in),Count\n1,WO,18,2\n1,RM,9,\n", settings=PRISM), "blank_count").is_open


def test_shares_of_one_are_no_percents():
    text = "Pt,Sp,DBH (in),LCR,Dieback\n1,WO,18,0.35,0.1\n1,RM,9,0.4,0\n"
    assert question(proposed(text, settings=PRISM), "dieback_pct").is_open

    applied = read(text, settings=PRISM, units={"dieback_pct": "share"})
    assert [(row["crown_ratio_pct"], row["dieback_pct"]) for row in rows(applied, "trees")] == [("35.0", "10.0"), ("40.0", "0.0")]


def test_a_line_with_two_faults_is_told_of_one_and_no_crash():
    applied = read("Stand,Date,Pt,Sp,DBH (in)\nK9,May 2025,1,WO,18\nK1,2025-05-14,1,WO,17\n", settings={"baf_ft2_ac": "10"})

    assert counts(applied) == {"heading": 1, "refused": 1, "tally": 1}
    assert [one.row for one in applied.problems] == [2]


def test_plots_that_differ_by_a_zero_in_front_are_doubted():
    (sheet,) = proposed("Pt,Sp,DBH (in)\n1,WO,18\n01,WO,17\n10,BO,12\n", settings=PRISM).sheets

    assert any("Plots 1 and 01 are read as different plots" in words for one in sheet.questions for words in one.evidence)
    assert not proposed("Pt,Sp,DBH (in)\n1,WO,18\n10,BO,12\n100,BO,12\n0,BO,12\n", settings=PRISM).open_questions


def test_a_count_that_found_nothing_at_all_comes_in_as_its_empty_plots():
    applied = read("Plot,Species,Ht class,Count\n1,none,,\n2,none,,\n3,,,0\n", settings=FLOOR)

    assert [row["point"] for row in rows(applied, "points")] == ["1", "2", "3"]
    assert counts(applied) == {"heading": 1, "empty": 3}
    assert [row["layer"] for row in rows(applied, "rings")] == ["reproduction"]


def test_a_tally_without_species_says_what_it_lacks():
    (sheet,) = proposed("Stand,Date,Point,DBH (in)\nK1,2025-05-14,1,18\n").sheets

    assert not sheet.table and "no column of species" in sheet.why_not
    assert proposed("Alpha,Beta,Gamma\na,b,c\n").sheets[0].why_not == "no headings of a tally were recognized"


BLOCK = {**PLACE, "width_ft": "100", "height_ft": "100", "edge": "open"}


def test_an_azimuth_beyond_the_circle_and_a_distance_below_zero_are_faults():
    text = "Tree,Species,DBH (in),Azimuth,Distance (ft)\n1,WO,18,10,30\n2,RM,8,370,12\n3,RM,7,90,-5\n"

    (part,) = [one for one in read(text, settings=BLOCK).parts if one.table == "stems"]
    found = checking.check(TABLES["stems"], part.frame, file="f", sheet="s", today=dt.date(2026, 1, 15))

    assert sorted(found.bad_rows) == [3, 4]
    assert {problem.found for problem in found.problems} == {"azimuth 370", "distance -5"}


def test_stems_outside_the_mapped_block_are_named():
    text = "Tree,Species,DBH (cm),X (m),Y (m)\n1,WO,45,3,4\n2,BO,40,10,12\n"

    (sheet,) = proposed(text, settings={**BLOCK, "width_ft": "20", "height_ft": "20"}).sheets
    assert any("1 stems stand outside the mapped block (row 3)" in note for note in sheet.notes)

    (sheet,) = proposed(text, settings={**BLOCK, "width_ft": "20 m", "height_ft": "20 m"}).sheets
    assert not any("outside the mapped block" in note for note in sheet.notes)


@pytest.mark.parametrize(("told", "kept"), [("10 cm", "3.93701"), ("4.5", "4.5"), ('4.5"', "4.5"), ("4.5 kg", ""), ("2 ac", "")])
def test_a_limit_answered_in_another_unit_is_turned_into_the_records(told, kept):
    asked = question(proposed("Pt,Sp,DBH (in)\n1,WO,18\n", settings=PRISM | {"low_dbh_in": told}), "low_dbh_in")

    assert asked.answer == kept
    assert asked.is_open == (not kept), "an answer that is no length is asked again"


SIZED_FLOOR = {key: value for key, value in FLOOR.items() if key != "plot_area_ac"}


def test_plots_of_young_stems_may_each_have_a_size_of_their_own():
    text = "Plot,Sp,Ht class,Count,Plot size\n1,WO,1-3,2,1/735\n2,WO,1-3,1,1/735\n3,RM,3-4.5,4,1/100\n4,none,,,1/100\n"
    applied = read(text, settings=SIZED_FLOOR)

    assert [float(row["plot_area_ac"]) for row in rows(applied, "points")] == pytest.approx([1 / 735, 1 / 735, 0.01, 0.01], rel=1e-5)
    assert len(rows(applied, "seedlings")) == 3
    assert counts(applied) == {"heading": 1, "tally": 3, "empty": 1}


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Plot,Sp,Ht class,Count,Plot size\n1,WO,0.5-1,2,1/735\n1,WO,3-4.5,1,1/100\n2,WO,0.5-1,1,1/735\n3,RM,3-4.5,4,1/100\n", "1/100"),
        (
            "Plot,Plot type,Sp,Ht class,Count\n1,small,WO,0.5-1,2\n1,1/100 ac,WO,3-4.5,1\n2,small,WO,0.5-1,1\n3,1/100 ac,RM,3-4.5,4\n",
            "1/100 ac",
        ),
    ],
)
def test_young_stems_of_two_plot_sizes_at_one_point_are_asked_which_is_read(text, kind):
    with pytest.raises(Misuse, match="several kinds of plots at the same points"):
        read(text, settings=SIZED_FLOOR)
    applied = read(text, settings=SIZED_FLOOR | {"plots_read": kind})

    assert [(row["point"], row["height_class"], row["stems"]) for row in rows(applied, "seedlings")] == [
        ("1", "3-4.5", "1"),
        ("3", "3-4.5", "4"),
    ]
    assert {row["point"] for row in rows(applied, "points")} == {"1", "2", "3"}, "a point without its stems was looked at"
    assert float(rows(applied, "rings")[0]["plot_area_ac"]) == 0.01
    assert fates(applied) == {1: "heading", 2: "note", 3: "tally", 4: "note", 5: "tally"}


def test_a_second_sheet_of_young_stems_on_plots_of_another_size_is_refused_whole():
    book = openpyxl.Workbook()
    for sheet, lines in (
        (book.active, [(1, "WO", "0.5-1", 3), (2, "WO", "0.5-1", 1)]),
        (book.create_sheet("tall"), [(1, "WO", "3-4.5", 2)]),
    ):
        for cells in (("Plot", "Sp", "Ht class", "Count"), *lines):
            sheet.append(cells)
    book.worksheets[0].title = "small"
    kept = io.BytesIO()
    book.save(kept)
    said = SIZED_FLOOR | {"small.plot_area_ac": "1/1000", "tall.plot_area_ac": "1/100"}
    applied = read(kept.getvalue(), "a.xlsx", settings=said)

    assert [row["height_class"] for row in rows(applied, "seedlings")] == ["0.5-1", "0.5-1"]
    assert "not of the size of those of the sheet 'small'" in applied.problems[0].what
    assert [(one.sheet, one.row) for one in applied.fates if one.fate == "refused"] == [("tall", 2)]


def test_plot_sizes_of_a_list_of_plots_are_those_of_the_trees_and_never_of_the_young_stems():
    book = openpyxl.Workbook()
    tables = {
        "Plots": [("Plot", "Plot size"), (1, "1/10 ac"), (2, "1/5 ac")],
        "Regen": [("Plot", "Sp", "Ht class", "Count"), (1, "WO", "1-3", 3), (2, "WO", "1-3", 1)],
    }
    for name, lines in tables.items():
        sheet = book.create_sheet(name)
        for cells in lines:
            sheet.append(cells)
    kept = io.BytesIO()
    book.save(kept)
    applied = read(kept.getvalue(), "a.xlsx", settings=SIZED_FLOOR | {"plot_area_ac": "1/735"})

    assert {row.get("plot_area_ac") for row in rows(applied, "points")} == {"clear"}
    assert float(rows(applied, "rings")[0]["plot_area_ac"]) == pytest.approx(1 / 735, rel=1e-5)
