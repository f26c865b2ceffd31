"""What a forester meant by odd columns and cells: the rows that must come in, or the question that must be asked."""

from __future__ import annotations

import pytest

from foreign_files import PLACE, PRISM, counts, proposed, question, read, rows

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
    assert [one.value for one in asked.choices] == [first, second]
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
    assert meant(read(f"{HEAD},Gr\n1,WO,12,A\n1,BO,10,2\n", settings=PRISM), "trees", "grade") == [("",), ("",)]
