"""Trees of several stems: lists of diameters in a cell and further columns of them become stems, and nothing is lost or guessed."""

from __future__ import annotations

import datetime as dt
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from foreign_files import PRISM, counts, fates, proposed, question, read, rows
from overwood.ground.errors import Misuse
from overwood.ground.records import TABLES
from overwood.memory.exchange import checking

HEAD = "Plot,Tree,Sp,DBH (in)\n"


def sizes(applied):
    return [float(row["dbh_in"]) for row in rows(applied, "trees")]


@pytest.mark.parametrize(
    "cell", ['"12, 14, 9"', '"12,14,9"', "12/14/9", "12;14;9", "12 14 9", "12+14+9", "12 & 14 & 9", '"12, 14 and 9"', '"12"", 14"", 9"""']
)
def test_several_diameters_in_one_cell_are_stems(cell):
    applied = read(f"{HEAD}1,1,WO,{cell}\n1,2,BO,15\n2,1,WO,18\n", settings=PRISM)

    assert sizes(applied) == [12, 14, 9, 15, 18]
    assert [row["tree"] for row in rows(applied, "trees")] == ["1", "1b", "1c", "2", "1"]
    assert fates(applied) == {1: "heading", 2: "tally", 3: "tally", 4: "tally"}


@pytest.mark.parametrize("cell", ["3@12", "12-14-9", "12, big"])
def test_what_is_no_list_of_diameters_is_left_for_the_check_to_name(cell):
    applied = read(f'{HEAD}1,1,WO,"{cell}"\n1,2,BO,15\n', settings=PRISM)
    part = next(part for part in applied.parts if part.table == "trees")
    found = checking.check(TABLES["trees"], part.frame, file="f", sheet="s", today=dt.date(2026, 1, 15))

    assert [row["dbh_in"] for row in rows(applied, "trees")] == [cell, "15"]
    assert [one.row for one in found.problems] == [2]


def test_a_comma_in_a_few_diameters_is_asked_about_and_never_read_as_decimals_in_silence():
    text = f'{HEAD}1,1,WO,"12,14"\n1,2,BO,15\n2,1,WO,18\n'

    with pytest.raises(Misuse, match="two stems, or decimals"):
        read(text, settings=PRISM)
    assert sizes(read(text, settings=PRISM | {"commas": "stems"})) == [12, 14, 15, 18]
    assert sizes(read(text, settings=PRISM | {"commas": "decimal"})) == [12.14, 15, 18]


def test_a_sheet_of_decimal_commas_is_not_asked():
    assert sizes(read("Plot;Tree;Sp;DBH (in)\n1;1;WO;12,5\n1;2;BO;15,0\n2;1;WO;18\n", settings=PRISM)) == [12.5, 15, 18]
    assert sizes(read(f'{HEAD}1,1,WO,"12,5"\n1,2,BO,"15,0"\n2,1,WO,"18,4"\n', settings=PRISM)) == [12.5, 15, 18.4]


@pytest.mark.parametrize("second", ["DBH2 (in)", "DBH (in)", "Stem 2 DBH (in)", "2nd stem dbh (in)", "Fork DBH (in)"])
def test_a_further_column_of_diameters_holds_stems_and_says_so(second):
    text = f"Plot,Tree,Sp,DBH (in),{second}\n1,1,WO,12,\n1,2,BO,15,11\n2,1,WO,18,\n"
    shown = proposed(text, settings=PRISM)

    assert sizes(read(text, settings=PRISM)) == [12, 15, 11, 18]
    assert "stems of their own: row 3" in " ".join(shown.sheets[0].notes)
    assert question(shown, "more_diameters").default == "stems"


def test_columns_numbered_from_one_are_stems_of_a_tree():
    text = "Plot,Tree,Sp,DBH1 (in),DBH2 (in),DBH3 (in)\n1,1,WO,12,,\n1,2,BO,15,11,7\n2,1,WO,18,,\n"

    assert sizes(read(text, settings=PRISM)) == [12, 15, 11, 7, 18]


def test_a_second_diameter_on_most_lines_is_asked_about():
    text = "Plot,Tree,Sp,DBH1 (in),DBH2 (in)\n1,1,WO,12,12.4\n1,2,BO,15,15.2\n2,1,WO,18,17.8\n"

    with pytest.raises(Misuse, match="more than one diameter"):
        read(text, settings=PRISM)
    assert sizes(read(text, settings=PRISM | {"more_diameters": "mean"})) == [12.2, 15.1, 17.9]
    assert sizes(read(text, settings=PRISM | {"more_diameters": "first"})) == [12, 15, 18]
    assert len(sizes(read(text, settings=PRISM | {"more_diameters": "stems"}))) == 6


def test_a_heading_that_was_said_to_be_a_diameter_too_adds_stems_and_a_kept_mapping_does_so_again():
    text = "Plot,Tree,Sp,DBH (in),Twin\n1,1,WO,12,\n1,2,BO,15,11\n2,1,WO,18,\n"
    said = proposed(text, settings=PRISM, columns={"Twin": "dbh_in", "DBH (in)": "dbh_in"})
    kept = said.sheets[0].mapping

    assert sizes(read(text, settings=PRISM, columns={"Twin": "dbh_in", "DBH (in)": "dbh_in"})) == [12, 15, 11, 18]
    assert sizes(read(text, settings=PRISM, remembered={kept.signature: kept})) == [12, 15, 11, 18]


def test_two_trees_side_by_side_stay_two_trees():
    text = "Plot,Sp,DBH (in),Sp,DBH (in)\n1,WO,12,BO,14\n2,WO,18,,\n"

    assert sorted((row["species"], row["dbh_in"]) for row in rows(read(text, settings=PRISM), "trees")) == [
        ("802", "12"), ("802", "18"), ("837", "14"),
    ]  # fmt: skip


def test_what_was_measured_of_a_tree_once_stays_with_its_first_stem_and_lists_of_its_length_are_shared_out():
    text = 'Plot,Sp,DBH (in),Crown class,Ht (ft)\n1,WO,"12, 14",D/C,60\n2,BO,16,C,70\n'

    found = [(row["dbh_in"], row["crown_class"], row["height_ft"]) for row in rows(read(text, settings=PRISM), "trees")]
    assert found == [("12", "dominant", "60"), ("14", "codominant", ""), ("16", "codominant", "70")]


def test_a_count_that_does_not_fit_its_diameters_stops_its_line_alone():
    text = 'Plot,Sp,DBH (in),Count\n1,WO,"12, 14",2\n1,BO,"15, 11, 9",5\n2,WO,18,1\n'

    found = [(row["dbh_in"], row["stems"]) for row in rows(read(text, settings=PRISM), "trees")]
    assert found == [("12", "1"), ("14", "1"), ("15, 11, 9", "5"), ("18", "1")]


@pytest.mark.slow
@settings(deadline=None, max_examples=40)
@given(st.lists(st.lists(st.integers(4, 40), min_size=1, max_size=4), min_size=1, max_size=12), st.sampled_from([", ", "/", "; ", " "]))
def test_every_diameter_of_a_sheet_comes_in_once_and_every_row_has_one_fate(trees, mark):
    lines = "".join(f'{number % 3 + 1},{number},WO,"{mark.join(map(str, some))}"\n' for number, some in enumerate(trees, 1))
    applied = read(HEAD + lines, settings=PRISM | {"layer": "overstory"})

    assert sizes(applied) == [size for some in trees for size in some]
    assert counts(applied) == {"heading": 1, "tally": len(trees)}
    assert math.fsum(sizes(applied)) == math.fsum(size for some in trees for size in some)
