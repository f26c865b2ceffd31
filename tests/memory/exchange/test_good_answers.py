"""Each question has an answer that makes the sheet right, not only one that takes it as it is written."""

from __future__ import annotations

import pytest

from foreign_files import FLOOR, PRISM, counts, proposed, question, read, rows, workbook

TENTHS = "Plot,Sp,{}\n1,WO,124\n1,BO,98\n2,RM,57\n2,WO,153\n"


@pytest.mark.parametrize("heading", ["DIA", "DBH (0.1 in)", "DBH, tenths of inches", "DBH to 0.1 inch"])
def test_diameters_in_whole_tenths_of_an_inch_can_be_said_to_be_that(heading):
    asked = question(proposed(TENTHS.format(heading), settings=PRISM), "dbh_in")
    told = read(TENTHS.format(heading), settings=PRISM, units={"dbh_in": "0.1 in"})

    assert asked.is_open and {"mm", "0.1 in"} <= {one.value for one in asked.choices}
    assert [row["dbh_in"] for row in rows(told, "trees")] == ["12.4", "9.8", "5.7", "15.3"]


@pytest.mark.parametrize("heading", ['DBH"', "DBH''", "DBH \u2033"])
def test_the_mark_of_inches_behind_a_heading_is_its_unit(heading):
    told = read(f"Pt,Sp,{heading},Ht'\n1,WO,14,70\n2,RM,9,55\n", settings=PRISM)

    assert [(row["dbh_in"], row["height_ft"]) for row in rows(told, "trees")] == [("14", "70"), ("9", "55")]


def test_several_diameters_in_one_cell_below_a_plural_are_as_many_stems():
    told = read('Plot,Species,DBHs (in)\n1,WO,"10.2, 8.4, 12.1"\n2,RM,9; 7\n2,BO,"11, x"\n', settings=PRISM)

    assert [row["dbh_in"] for row in rows(told, "trees")] == ["10.2", "8.4", "12.1", "9", "7", "11, x"]


def test_a_sheet_for_each_plot_is_named_as_its_plot():
    head, names = ["Species", "DBH (in)"], ("Plot 1", "Pt 2", "P3")
    book = workbook({name: [head, ["none", None] if name == "P3" else ["WO", 14]] for name in names})
    told = read(book, "a.xlsx", settings=PRISM)

    assert [row["point"] for row in rows(told, "points")] == ["1", "2", "3"] and len(rows(told, "trees")) == 2


def test_lines_of_cover_are_asked_whether_each_is_a_stem():
    text = "Plot,Species,Cover %,Ht (ft)\n1,WO,10,1.2\n2,RM,60,0.8\n"

    assert question(proposed(text, settings=FLOOR), "stems").is_open
    assert not proposed(text.replace("Cover", "Canopy cover"), settings=FLOOR).open_questions


def test_the_heading_that_counts_stems_is_an_answer():
    text = "Plot,Species,Ht class,No\n1,WO,1-3,4\n1,WO,3-4.5,2\n1,RM,1-3,3\n2,RM,1-3,1\n"
    asked = question(proposed(text, settings=FLOOR), "stems")

    assert [one.value for one in asked.choices] == ["1", "No"]
    told = read(text, settings=FLOOR | {"stems": "No"})
    assert [row["stems"] for row in rows(told, "seedlings")] == ["4", "2", "3", "1"]


def test_inches_of_diameter_beside_classes_of_height_can_be_taken_as_tall_stems():
    text = "Plot,Species,Size,Count\n1,WO,1-3 ft,4\n1,RM,1-2 in,3\n"
    told = read(text, settings=FLOOR, codes={"height_class.1-2 in": "4.5-10"})

    assert [row["height_class"] for row in rows(told, "seedlings")] == ["1-3", "4.5-10"]


QUARTERS = "Point,Quarter,Sp,DBH (in)\n" + "".join(f"{at},{side},WO,14\n" for at in (1, 2) for side in ("NE", "SE", "SW", "NW"))
POOLED = "Tally of 20 points,,\nDBH (in),WO,BO\n8,3,2\n10,5,4\n"
HEAVY = "Plot,Sp,DBH (in),Count\n1,WO,20,60\n"


@pytest.mark.parametrize(
    ("text", "key"), [(QUARTERS, "nearest_trees"), (POOLED, "own_sums"), (HEAVY, "basal_area")], ids=["quarters", "pooled", "heavy"]
)
def test_a_sheet_that_is_in_doubt_as_a_whole_can_be_left_out_and_makes_no_empty_plot(text, key):
    said = PRISM | {"point": "1", "basal_area": "as written", "other_factor": "as written", key: "leave out"}
    told = read(text, settings=said if text == POOLED else {name: one for name, one in said.items() if name != "point"})

    assert not rows(told, "points") and not rows(told, "trees") and not rows(told, "visits")
    assert counts(told)["note"] == len([line for line in text.splitlines()[1:] if line[0].isdigit()])


@pytest.mark.parametrize(("answer", "oaks"), [("as written", ["7", "3"]), ("less", ["4", "1"]), ("leave out", [])])
def test_oaks_beside_their_species_can_be_what_is_left_without_them(answer, oaks):
    text = "Plot,Species,Ht class,Count\n1,WO,1-3,2\n1,BO,1-3,1\n1,Oaks,1-3,7\n2,WO,1-3,1\n2,BO,1-3,1\n2,Oaks,1-3,3\n"
    told = read(text, settings=FLOOR | {"genus_beside": answer})

    assert [row["stems"] for row in rows(told, "seedlings") if row["species"] == "800"] == oaks
