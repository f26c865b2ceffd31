"""What a forester meant by odd columns and cells: the rows that must come in, or the question that must be asked."""

from __future__ import annotations

import pytest

from foreign_files import FLOOR, LEFT, PLACE, PRISM, counts, proposed, question, read, rows, workbook

HEAD = "Plot,Sp,DBH (in)"


def meant(applied, table, *columns):
    """The rows of a table as tuples of the named columns."""
    return [tuple(row.get(column, "") or "" for column in columns) for row in rows(applied, table)]


TWICE = "Plot,Tree,Sp,{},{}\n1,1,WO,12.1,14.2\n1,2,BO,10.0,11.5\n2,1,RM,8.1,9.0\n"


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("DBH 2015", "DBH 2025"),
        ("DBH 2015 (in)", "2025 DBH (in)"),
        ("DBH (2015)", "DBH (2025)"),
        ("DBH15", "DBH25"),
        ("DBH '15 (in)", "DBH '25 (in)"),
        ("Old DBH", "New DBH"),
        ("Diam_2015_in", "Diam_2025_in"),
    ],
)
def test_two_measures_of_one_tree_are_asked_about_and_one_is_read(first, second):
    text = TWICE.format(first, second)
    inches = {"units": {"dbh_in": "in"}}
    asked = question(proposed(text, settings=PRISM, **inches), "dbh_read")

    assert asked.is_open
    assert [one.value for one in asked.choices] == [second, first]
    for heading, sizes in ((first, ["12.1", "10", "8.1"]), (second, ["14.2", "11.5", "9"])):
        applied = read(text, settings=PRISM | {"dbh_read": heading}, **inches)
        assert [row["dbh_in"].removesuffix(".0") for row in rows(applied, "trees")] == sizes


def test_a_kept_choice_of_two_measures_is_not_asked_again():
    text = TWICE.format("DBH 2015 (in)", "DBH 2025 (in)")
    kept = proposed(text, settings=PRISM | {"dbh_read": "DBH 2025 (in)"}).sheets[0].mapping

    again = read(text, settings=PRISM, remembered={kept.signature: kept})
    assert [row["dbh_in"] for row in rows(again, "trees")] == ["14.2", "11.5", "9"]


def test_inch_classes_in_headings_are_no_years():
    text = "Plot,Sp,DBH 8,DBH 10,DBH 12\n1,WO,,2,1\n1,RM,3,,\n"

    assert meant(read(text, settings=PRISM), "trees", "dbh_in", "stems") == [("10", "2"), ("12", "1"), ("8", "3")]


COUNTED = f"{HEAD}\n1,WO x3,12\n1,BO,10\n2,3 WO,14\n2,RM (2),8\n2,2x YP,9\n"


def test_a_number_beside_a_species_is_asked_about():
    asked = question(proposed(COUNTED, settings=PRISM), "species_numbers")
    stems = read(COUNTED, settings=PRISM | {"species_numbers": "stems"})
    bare = read(COUNTED, settings=PRISM | {"species_numbers": "species"})

    assert asked.is_open
    assert meant(stems, "trees", "species", "dbh_in", "stems") == [
        ("802", "12", "3"), ("837", "10", "1"), ("802", "14", "3"), ("316", "8", "2"), ("621", "9", "2"),
    ]  # fmt: skip
    assert meant(bare, "trees", "species", "stems") == [("802", ""), ("837", ""), ("802", ""), ("316", ""), ("621", "")]


def test_a_number_beside_a_species_and_a_count_are_not_multiplied():
    text = f"{HEAD},Count\n1,WO x3,12,2\n1,BO,10,1\n"

    applied = read(text, settings=PRISM | {"species_numbers": "stems"})
    assert meant(applied, "trees", "species", "stems") == [("999", "2"), ("837", "1")]


@pytest.mark.parametrize(
    ("aspect", "degrees"),
    [("NE", "45"), ("SSW", "202.5"), ("n", "0"), ("South", "180"), ("north-west", "315"), ("N45E", "45"), ("S 30 W", "210"),
     ("180°", "180"), ("flat", ""), ("Level", "")],
)  # fmt: skip
def test_aspects_in_words_are_degrees(aspect, degrees):
    found = read(f"Stand,Acres,Slope,Aspect\nK1,20,35%,{aspect}\n", settings={"property": "millrun"})

    assert [(row["slope_pct"], row["aspect_deg"].removesuffix(".0")) for row in rows(found, "stands")] == [("35", degrees)]


def test_bearings_of_a_stem_map_in_words_are_degrees():
    text = "Tree,Sp,DBH (in),Azimuth,Dist (ft)\n1,WO,12,{},30\n2,BO,10,{},20\n"
    shown = [proposed(text.format(*pair), settings=PLACE) for pair in (("N45E", "S"), ("45", "180"))]

    assert shown[0].sheets[0].body.ready.lines == shown[1].sheets[0].body.ready.lines


@pytest.mark.parametrize("heading", ["L/C", "Leave/Cut", "Cut or leave"])
def test_trees_marked_to_cut_are_asked_about(heading):
    text = f"{HEAD},{heading}\n1,WO,12,L\n1,BO,10,Cut\n2,WO,14,\n"
    asked = question(proposed(text, settings=PRISM), "cut_trees")

    assert asked.is_open
    assert meant(read(text, settings=PRISM | {"cut_trees": "stand"}), "trees", "species") == [("802",), ("837",), ("802",)]
    assert meant(read(text, settings=PRISM | {"cut_trees": "gone"}), "trees", "species") == [("802",), ("802",)]


def test_a_mark_that_says_neither_to_leave_nor_to_cut_is_named():
    text = f"{HEAD},L/C\n1,WO,12,L\n1,RM,9,C\n1,BO,11,dead\n"

    assert "row 4: 'dead'" in str(question(proposed(text, settings=PRISM), "cut_trees").evidence)


def test_a_status_of_c_beside_l_may_be_cut():
    text = f"{HEAD},Status\n1,WO,12,L\n1,BO,10,C\n2,WO,14,L\n"

    assert question(proposed(text, settings=PRISM), "status.C").is_open
    assert not any(one.key == "status.C" for one in proposed(text.replace("14,L", "14,D"), settings=PRISM).questions)


def test_a_blank_column_gives_way_to_a_filled_one():
    text = "Plot,Point,Sp,Species name,DBH (in)\n,1,,white oak,12\n,1,,black oak,10\n,2,,white oak,14\n"

    assert meant(read(text, settings=PRISM), "trees", "point", "species") == [("1", "802"), ("1", "837"), ("2", "802")]


@pytest.mark.parametrize(
    "text",
    [
        f"{HEAD},,Stand,K1\n1,WO,12,,BAF,20\n1,BO,10,,Date,5/14/2025\n2,WO,14,,,\n",
        f"{HEAD},,Stand K1\n1,WO,12,,BAF 20\n1,BO,10,,Date 5/14/2025\n2,WO,14,,\n",
        f"{HEAD},,Stand: K1\n1,WO,12,,BAF: 20\n1,BO,10,,\n2,WO,14,,\n,,,,Date: 5/14/2025\n",
    ],
)
def test_labels_right_of_a_tally_are_those_of_its_title(text):
    found = read(text)

    assert sum(counts(found).values()) == len(text.splitlines())
    assert meant(found, "visits", "stand", "visited_on") == [("K1", "2025-05-14")]
    assert meant(found, "rings", "design", "baf_ft2_ac") == [("prism", "20")]
    assert meant(found, "trees", "point", "species") == [("1", "802"), ("1", "837"), ("2", "802")]


@pytest.mark.parametrize(
    ("heading", "said", "cells", "logs"),
    [
        ("Merch ht (ft)", {"many_logs": "4"}, ("72", "24", "32000"), ["4", "1.5", "2000"]),
        ("Merch ht (ft)", {"many_logs": "unmeasured"}, ("72", "24", "80"), ["", "1.5", ""]),
        ("Logs", {"many_logs": "4"}, ("5", "2", "4.5"), ["4", "2", "4"]),
        ("Merch ht (m)", {"many_logs": "4"}, ("22", "5", "90"), ["4", "1", "18"]),
    ],
)
def test_more_logs_than_the_record_holds_are_asked_about(heading, said, cells, logs):
    """A height no tree has (200 ft at most: plausible.csv) is no log: the check refuses its line by name."""
    text = f"{HEAD},{heading}\n" + "".join(f"1,WO,14,{cell}\n" for cell in cells)
    asked = question(proposed(text, settings=PRISM), "many_logs")

    assert asked.is_open
    assert "row 2" in asked.text
    assert [row["logs"] for row in rows(read(text, settings=PRISM | said), "trees")] == logs


def test_gr_is_the_grade_where_its_cells_are_grades():
    assert meant(read(f"{HEAD},Gr\n1,WO,12,1\n1,BO,10,2\n", settings=PRISM), "trees", "grade") == [("1",), ("2",)]
    assert meant(read(f"{HEAD},Gr\n1,WO,12,A\n1,BO,10,2\n", settings=PRISM | LEFT), "trees", "grade") == [("",), ("",)]


def test_a_count_in_seconds_is_a_timed_acorn_count():
    found = read("Tree,Sp,DBH (in),Acorns in 30 s,Notes\n1,WO,18,12,\n2,BO,22,0,top broken\n", settings=PLACE)

    assert meant(found, "acorn_trees", "tree", "species", "acorns", "method", "seconds") == [
        ("1", "802", "12", "timed", "30"), ("2", "837", "0", "timed", "30"),
    ]  # fmt: skip


@pytest.mark.parametrize(("heading", "cells"), [("DBH (1/10 in)", (124, 98)), ("DBH (in)", (320, 280)), ("DBH (cm)", (320, 280))])
def test_a_unit_that_no_tree_fits_is_asked_about_though_the_heading_names_it(heading, cells):
    text = f"Plot,Sp,{heading}\n1,WO,{cells[0]}\n1,BO,{cells[1]}\n"

    asked = question(proposed(text, settings=PRISM), "dbh_in")
    assert asked.is_open
    assert "mm" in [one.value for one in asked.choices]


@pytest.mark.parametrize(
    ("written", "code"), [("Acer rubrum L.", "316"), ("Quercus velutina Lam.", "837"), ("Carya sp.", "400"), ("Quercus alba (L.)", "802")]
)
def test_scientific_names_with_their_author_are_known(written, code):
    assert meant(read(f"{HEAD}\n1,{written},12\n", settings=PRISM), "trees", "species") == [(code,)]


def test_plots_counted_of_a_number_are_so_many():
    text = f"{HEAD}\n1 of 4,WO,12\n2 of 4,BO,10\n4 of 4,none,\n"
    asked = question(proposed(text, settings=PRISM), "empty_plots")

    assert asked.is_open
    added = read(text, settings=PRISM | {"empty_plots": "add"})
    assert meant(added, "points", "point") == [("1 of 4",), ("2 of 4",), ("4 of 4",), ("empty 1",)]


def test_headings_that_are_classes_and_come_again_are_no_counts():
    text = "Plot 1,,\nSpecies,8,10\nWO,1,2\nPlot 2,,\nSpecies,8,10\nRM,,1\n"

    found = read(text, settings=PLACE | {"plot_area_ac": "0.1"})
    assert meant(found, "trees", "point", "species", "dbh_in", "stems") == [
        ("1", "802", "8", "1"), ("1", "802", "10", "2"), ("2", "316", "10", "1"),
    ]  # fmt: skip


def test_a_number_in_brackets_behind_a_size_is_no_digit_of_it():
    """10(2) would be a tree of 102 in."""
    assert meant(read(f"{HEAD}\n1,WO,10(2)\n1,WO,14\n1,WO,15\n", settings=PRISM), "trees", "dbh_in")[0] == ("10(2)",)


def test_plots_that_begin_anew_are_asked_about():
    """Two cruises one below the other: as one, the basal area of three points would be that of six."""
    text = f"{HEAD}\n1,WO,12\n1,BO,14\n2,RM,8\n3,WO,20\n1,YP,12\n2,YP,18\n2,WO,15\n3,RM,9\n"
    by_species = f"{HEAD}\n1,WO,12\n2,WO,14\n3,WO,8\n1,RM,12\n2,RM,18\n3,RM,15\n"
    back_and_forth = f"{HEAD}\n1,WO,12\n2,RM,14\n1,BO,8\n2,YP,12\n"

    assert question(proposed(text, settings=PRISM), "plots_again").is_open
    assert len(rows(read(text, settings=PRISM | {"plots_again": "same"}), "points")) == 3
    assert len(rows(read(text, settings=PRISM | {"plots_again": "apart"}), "points")) == 6
    for quiet in (by_species, back_and_forth):
        assert len(rows(read(quiet, settings=PRISM), "trees")) == len(quiet.splitlines()) - 1


@pytest.mark.parametrize("remark", ["stump", "cut 2023", "tree missing", "out of plot"])
def test_a_remark_that_a_tree_is_gone_is_asked_about(remark):
    text = f"{HEAD},Notes\n1,WO,12,{remark}\n1,BO,10,\n"

    assert question(proposed(text, settings=PRISM), f"note_mark.{remark}").is_open
    for answer, species in (("gone", [("837",)]), ("none", [("802",), ("837",)])):
        found = read(text, settings=PRISM, codes={f"note_mark.{remark}": answer})
        assert meant(found, "trees", "species") == species
        assert sum(counts(found).values()) == 3


def test_saplings_by_inch_classes_beside_height_classes_are_not_lost_in_silence():
    text = "Plot,Species,0.5-1 ft,1-3 ft,1 in,2 in\n1,WO,2,1,1,2\n2,RM,,4,2,1\n"

    assert "'1 in', '2 in'" in question(proposed(text, settings=FLOOR), "other_counts").text


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [
        ("37 48 12", "-82 17 30"),
        ('"37°48\'12""N"', '"82°17\'30""W"'),
        ("37 48.2", "-82 17.5"),
        ("N37.80333", "W82.29167"),
        ("37.80333", "-82.29167"),
    ],
)
def test_minutes_and_seconds_are_degrees(latitude, longitude):
    found = read(f"Plot,Lat,Long,Sp,DBH (in)\n1,{latitude},{longitude},WO,12\n", settings=PRISM)

    (row,) = rows(found, "points")
    assert float(row["latitude_deg"]) == pytest.approx(37.80333, abs=1e-5)
    assert float(row["longitude_deg"]) == pytest.approx(-82.29167, abs=1e-5)


@pytest.mark.parametrize("north", ["37 75 12 N", "37°48'75\"N"])
def test_more_than_sixty_minutes_or_seconds_are_no_place(north):
    cell = north.replace('"', '""')
    text = f'{HEAD},Lat,Long\n1,WO,12,"{cell}",-82.3\n2,WO,12,37.8,-82.3\n'

    assert {row["latitude_deg"] for row in rows(read(text, settings=PRISM), "points")} == {north, "37.8"}


def test_longitudes_without_a_sign_are_asked_about():
    text = "Plot,Lat,Long,Sp,DBH (in)\n1,37.8,82.3,WO,12\n2,37.8,82.4,none,\n"

    assert question(proposed(text, settings=PRISM), "coordinates").is_open
    found = read(text, settings=PRISM | {"coordinates": "west"})
    assert meant(found, "points", "point", "longitude_deg") == [("1", "-82.3"), ("2", "-82.4")]


def test_ditto_marks_between_dashes_are_the_same_as_above():
    assert meant(read(f"{HEAD}\n1,WO,12\n-do-,-do-,14\n", settings=PRISM), "trees", "point", "species") == [("1", "802")] * 2


def test_a_zero_is_no_other_unit_and_a_fraction_may_be_one_letter():
    found = read(f"{HEAD}\n1,WO,0\n1,BO,12\u00bd\n2,RM,8\u2009\u215b\n", settings=PRISM)

    assert meant(found, "trees", "dbh_in") == [("0",), ("12.5",), ("8.125",)]


@pytest.mark.parametrize("last", ['"12+"""', '"12""+"', "12 & up", "12 in. and up", "12+"])
def test_the_last_class_of_a_tally_is_not_lost(last):
    text = f'Plot,Species,"6-8""","9-11""",{last}\n1,WO,2,1,1\n2,RM,3,,\n'

    shown = proposed(text, settings=PLACE | {"plot_area_ac": "0.1"})
    assert any(one.is_open and ("no upper limit" in one.text or "may count stems" in one.text) for one in shown.questions)


@pytest.mark.parametrize(
    ("heading", "cells", "left"),
    [("Alive", "YNY", "13"), ("Dead", ",X,", "13"), ("Status", "LDL", "13"), ("Survived", "101", "13"), ("Condition", "A?A", "13")],
)
def test_dead_planted_stems_count_nothing_and_their_plots_were_looked_at(heading, cells, left):
    marks = cells.split(",") if "," in cells else cells
    text = f"Plot,Species,Height (cm),{heading}\n" + "".join(f"{at},WO,45,{mark}\n" for at, mark in enumerate(marks, 1))

    found = read(text, settings=FLOOR | {"young_dead": "dead"})
    assert [row["point"] for row in rows(found, "seedlings")] == list(left)
    assert len(rows(found, "points")) == 3


def test_a_tree_that_is_gone_leaves_its_plot_looked_at():
    found = read(f"{HEAD},Notes\n1,WO,12,stump\n2,BO,10,\n", settings=PRISM, codes={"note_mark.stump": "gone"})

    assert sorted(meant(found, "points", "point")) == [("1",), ("2",)]


def test_half_logs_named_by_the_title_are_halves():
    """Read as logs of 16 ft they would double the height that is sold."""
    text = f"Heights in 8-ft half logs,,,\n{HEAD},Logs\n1,WO,14,3\n1,BO,12,6\n"

    assert meant(read(text, settings=PRISM), "trees", "logs") == [("1.5",), ("3.0",)]


def test_a_crown_in_feet_is_no_crown_class():
    found = read(f"{HEAD},Crown (ft)\n1,WO,14,22\n1,BO,12,18\n", settings=PRISM)

    assert "crown_class" not in rows(found, "trees")[0]


def test_a_kept_unit_that_no_tree_fits_is_asked_again():
    text = "Plot,Sp,DBH\n1,WO,{}\n2,BO,{}\n"
    kept = proposed(text.format(12, 14), settings=PRISM, units={"dbh_in": "in"}).sheets[0].mapping

    again = proposed(text.format(320, 280), settings=PRISM, remembered={kept.signature: kept})
    assert question(again, "dbh_in").is_open
    said = read(text.format(320, 280), settings=PRISM, remembered={kept.signature: kept}, units={"dbh_in": "mm"})
    assert meant(said, "trees", "dbh_in") == [("12.5984",), ("11.0236",)]


def test_two_sheets_of_the_same_trees_are_asked_about():
    """Two years of one cruise, both said to be of one day, would be a stand of twice the basal area."""
    book = workbook({"2015": [("Plot", "Sp", "DBH (in)"), (1, "WO", 12)], "2025": [("Plot", "Sp", "DBH (in)"), (1, "WO", 14)]})
    said = PRISM | {f"{year}.{key}": value for year in (2015, 2025) for key, value in (("layer", "overstory"), ("low_dbh_in", "4"))}

    assert question(proposed(book, "two.xlsx", settings=said), "2025.sheets_together").is_open
    assert len(rows(read(book, "two.xlsx", settings=said | {"sheets_together": "together"}), "trees")) == 2
    apart = read(book, "two.xlsx", settings=said | {"2015.visited_on": "2015-05-14"})
    assert meant(apart, "visits", "visited_on") == [("2015-05-14",), ("2025-05-14",)]


def test_saplings_among_height_classes_are_no_young_stems_of_so_many_inches():
    text = 'Plot,Species,<0.5 ft,1-3 ft,"Saplings 1-5 in"\n1,WO,3,1,2\n2,RM,1,2,4\n'

    assert "'Saplings 1-5 in'" in question(proposed(text, settings=FLOOR), "other_counts").text


def test_a_crop_in_words_is_an_acorn_sheet():
    found = proposed("Tree,Species,DBH (in),Acorn crop\n1,WO,18,heavy\n2,BO,20,none\n", settings=PLACE)

    assert found.sheets[0].table == "acorn_trees"
    assert question(found, "bearing.heavy").is_open


def test_plot_sizes_in_the_headings_of_counts_are_asked_about():
    """Counts on 1/100 ac read as if on a milacre would be ten times as many an acre."""
    text = "Plot,Species,Milacre <0.5 ft,Milacre 0.5-1 ft,1/100 ac 1-3 ft\n1,WO,3,1,2\n2,RM,1,2,4\n"

    assert question(proposed(text, settings=FLOOR), "plots_read").is_open
    found = read(text, settings=FLOOR | {"plots_read": "milacre"})
    assert sum(int(row["stems"]) for row in rows(found, "seedlings")) == 7
    wide = read(text, settings=FLOOR | {"plots_read": "1/100 ac"})
    assert meant(wide, "seedlings", "height_class", "stems") == [("1-3", "2"), ("1-3", "4")]


@pytest.mark.parametrize("label", ["", "\u03a3", "Total"])
def test_a_row_of_the_sums_of_its_columns_is_no_plot(label):
    text = f"Plot,WO,BO,RM\n1,3,2,5\n2,,1,4\n{label},3,3,9\n"

    found = read(text, settings=FLOOR | {"height_class": "1-3"})
    assert len(rows(found, "seedlings")) == 5
    assert counts(found)["total"] == 1


def test_a_day_of_the_week_before_a_day_is_passed_over():
    found = read(f'Date,{HEAD}\n"Wed, May 14, 2025",1,WO,12\nThursday 5/15/2025,2,BO,10\n', settings={"stand": "K1", "baf_ft2_ac": "10"})

    assert counts(found)["tally"] == 2


def test_percents_of_a_spreadsheet_are_asked_about_though_the_heading_names_them():
    text = f"{HEAD},Defect %\n1,WO,12,0.1\n1,BO,10,0.25\n"

    assert question(proposed(text, settings=PRISM), "defect_pct").is_open
    assert meant(read(text, settings=PRISM, units={"defect_pct": "share"}), "trees", "defect_pct") == [("10.0",), ("25.0",)]


def test_a_crown_ratio_below_one_is_a_share_whatever_its_heading_says():
    assert meant(read(f"{HEAD},CR %\n1,WO,12,0.45\n1,BO,10,0.3\n", settings=PRISM), "trees", "crown_ratio_pct") == [("45.0",), ("30.0",)]


def test_a_skipped_plot_of_a_list_is_asked_about():
    """Taken as looked at and empty it would take a third off every amount an acre."""
    book = workbook({"Trees": [("Plot", "Sp", "DBH (in)"), (1, "WO", 12), (3, "BO", 10)],
                     "Plots": [("Plot", "Status", "Notes"), (1, "done", ""), (2, "done", "no trees"), (3, "done", ""), (4, "skipped", "posted")]})  # fmt: skip

    assert question(proposed(book, "two.xlsx", settings=PRISM), "Plots.plots_skipped").is_open
    for answer, plots in (("leave out", 3), ("looked at", 4)):
        assert len(rows(read(book, "two.xlsx", settings=PRISM | LEFT | {"plots_skipped": answer}), "points")) == plots


def test_classes_below_live_and_dead_keep_the_dead_apart():
    text = "Plot,Species,Live 8,Live 10,Dead 8,Dead 10\n1,WO,2,1,,1\n2,RM,3,,1,\n"
    young = "Plot,Species,Live <0.5 ft,Live 1-3 ft,Dead <0.5 ft,Dead 1-3 ft\n1,WO,2,1,,1\n2,RM,,,1,\n"

    assert meant(read(text, settings=PLACE | {"plot_area_ac": "0.1"}), "trees", "dbh_in", "stems", "status") == [
        ("8", "2", "live"), ("10", "1", "live"), ("10", "1", "dead"), ("8", "3", "live"), ("8", "1", "dead"),
    ]  # fmt: skip
    found = read(young, settings=FLOOR)
    assert meant(found, "seedlings", "point", "stems") == [("1", "2"), ("1", "1")]
    assert len(rows(found, "points")) == 2


def test_classes_below_plots_are_of_their_plots():
    book = workbook({"C": [("", "Plot 1", "", "Plot 2", ""), ("Species", "1-3 ft", "3-4.5 ft", "1-3 ft", "3-4.5 ft"), ("WO", 2, 1, 0, 3)]})

    found = read(book, "c.xlsx", settings=FLOOR)
    assert meant(found, "seedlings", "point", "height_class", "stems") == [("1", "1-3", "2"), ("1", "3-4.5", "1"), ("2", "3-4.5", "3")]
    none = read("Species,Plot 1 1-3 ft,Plot 2 1-3 ft,Plot 3 1-3 ft\nWO,2,0,1\n", settings=FLOOR)
    assert sorted(meant(none, "points", "point")) == [("1",), ("2",), ("3",)]


@pytest.mark.parametrize(("one", "other"), [("Pre", "Post"), ("2023", "2025"), ("K1", "K2"), ("Leave", "Cut"), ("Fenced", "Unfenced")])
def test_the_same_classes_under_several_words_are_asked_about(one, other):
    """Read together, a stand before and after its cut would be one of both."""
    text = f"Plot,Species,{one} 1-3 ft,{one} 3-4.5 ft,{other} 1-3 ft,{other} 3-4.5 ft\n1,WO,2,1,,1\n2,RM,3,,1,\n"

    assert question(proposed(text, settings=FLOOR), "columns_read").is_open
    both = f"Plot,{one} WO 1-3 ft,{one} RM 1-3 ft,{other} WO 1-3 ft,{other} RM 1-3 ft\n1,2,1,,1\n2,3,,1,\n"
    assert question(proposed(both, settings=FLOOR), "columns_read").is_open
    for answer, stems in ((one, 6), (other, 2), ("all", 8)):
        found = read(text, settings=FLOOR | {"columns_read": answer})
        assert sum(int(row["stems"]) for row in rows(found, "seedlings")) == stems
        assert len(rows(found, "points")) == 2


def test_a_letter_tied_to_a_species_is_asked_about_and_never_makes_it_unknown():
    asked = proposed(f"{HEAD}\n1,WO,14\n1,D-WO,12\n2,RM/S,9\n", settings=PRISM)

    assert {one.key for one in asked.open_questions} == {"species_mark.d-", "species_mark./s"}
    told = read(f"{HEAD}\n1,WO,14\n1,D-WO,12\n", settings=PRISM, codes={"species_mark.d-": "dead"})
    assert meant(told, "trees", "species", "status") == [("802", ""), ("802", "dead")]


def test_an_unknown_word_on_many_lines_needs_an_answer():
    text = f"{HEAD}\n1,Eiche,14\n1,Eiche,12\n2,Eiche,9\n2,WO,9\n"

    assert question(proposed(text, settings=PRISM), "Eiche").is_open
    assert meant(read(text, settings=PRISM, codes={"Eiche": "802"}), "trees", "species") == [("802",)] * 4
    for either in ("WO/BO", "white oak or black oak", "WO + RM"):
        assert question(proposed(f"{HEAD}\n1,WO,14\n1,{either},12\n", settings=PRISM), either).is_open


@pytest.mark.parametrize(
    ("title", "acres"),
    [
        ("6.8 ft radius plots", "0.003334"),
        ("milacre plots", "0.001"),
        ("plots of 4 m2", "0.000988"),
        ("hundredth-acre plots", "0.01"),
        ("1/20-acre plots (26.3' radius)", "0.05"),
        ("radius 11.8 ft", "0.01004"),
    ],
)
def test_a_plot_named_in_passing_by_its_radius_or_a_word_is_read(title, acres):
    told = read(f"{title},,,\nPlot,Species,Height,Count\n1,WO,1-3 ft,4\n2,RM,1-3 ft,4\n", settings=PLACE)

    assert float(rows(told, "rings")[0]["plot_area_ac"]) == pytest.approx(float(acres), rel=1e-3)


def test_the_sum_of_a_plot_below_its_lines_is_no_line():
    text = f"{HEAD},Num\n1,WO,14,2\n1,RM,8,3\nPlot 1,,,5\n2,BO,12,1\n2,RM,6,2\nPlot 2,,,3\n"

    assert meant(read(text, settings=PRISM), "trees", "point", "stems") == [("1", "2"), ("1", "3"), ("2", "1"), ("2", "2")]


def test_a_number_of_plots_beside_a_sheet_without_plots_is_held_against_it():
    text = "DBH (in),WO,BO\n8,1,2\n10,2,1\nNo. plots: 5,,\n"

    assert question(proposed(text, settings=PRISM | {"point": "1"}), "own_sums").evidence == ("row 4: no. plots: 5; the lines come to 1",)
