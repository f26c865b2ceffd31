"""What stands beside the columns of a tally: legends of its codes, dashes for what was not measured, merchantable heights."""

from __future__ import annotations

import pytest

from foreign_files import FLOOR, PRISM, proposed, question, read, rows


def test_a_dash_is_what_was_not_measured():
    text = "Plot,Sp,DBH (in),Height (ft),Logs,Crown\n1,WO,14,-,2,D\n1,BO,12,80,--,?\n2,RM,-,60,n/a,C\n3,-,-,-,-,-\n"

    found = read(text, settings=PRISM)
    assert [(row["height_ft"], row["logs"], row["crown_class"]) for row in rows(found, "trees")][:2] == [
        ("", "2", "dominant"),
        ("80", "", ""),
    ]
    assert "is read as not measured" in " ".join(proposed(text, settings=PRISM).sheets[0].notes)
    # A tree without a diameter is still named by its row.
    assert rows(found, "trees")[2]["dbh_in"] == "-"


@pytest.mark.parametrize(
    ("heading", "said", "cells", "logs"),
    [
        ("Merch Ht (ft)", {}, ("32", "48", "20"), [2, 3, 1]),
        ("Merch Ht (m)", {}, ("9.8", "14.7", "5"), [2, 3, 1]),
        ("MHT", {"merchantable_unit": "ft"}, ("32", "24", "-"), [2, 1.5, 0]),
        ("Merchantable height", {"merchantable_unit": "m"}, ("10", "5", "15"), [2, 1, 3]),
        ("Merch ht", {}, ("2", "1.5", "1/2"), [2, 1.5, 0.5]),
    ],
)
def test_merchantable_heights_are_logs(heading, said, cells, logs):
    """Logs of 16 ft and halves of them (Mesavage and Girard 1946): 9.8 m are 32.2 ft."""
    text = f"Plot,Sp,DBH (in),{heading},Ht (ft)\n" + "".join(f"1,WO,14,{cell},80\n" for cell in cells)

    found = rows(read(text, settings=PRISM | said), "trees")
    assert [float(row["logs"] or 0) for row in found] == logs
    assert [row["height_ft"] for row in found] == ["80"] * 3


def test_a_merchantable_height_without_a_unit_is_asked_about():
    asked = question(proposed("Plot,Sp,DBH (in),Merch Ht\n1,WO,14,32\n2,BO,16,48\n", settings=PRISM), "merchantable_unit")

    assert asked.is_open
    assert [choice.value for choice in asked.choices] == ["ft", "m", "logs"]


@pytest.mark.parametrize(
    "text",
    [
        "Plot,Sp,DBH (in),,Code,Species\n1,1,12,,1,White oak\n1,2,14,,2,Black oak\n2,3,9,,3,Red maple\n2,1,15,,,\n",
        "Plot,Sp,DBH (in),Code,Meaning\n1,1,12,1,White oak\n1,2,14,2,Black oak\n2,3,9,3,Red maple\n2,1,15,,\n",
        "Plot,Sp,DBH (in)\n1,1,12\n1,2,14\n2,3,9\n2,1,15\n\nCodes:\n1 = White oak\n2 = Black oak\n3 = Red maple\n",
        "1 = white oak; 2 = black oak; 3 = red maple,,\nPlot,Sp,DBH (in)\n1,1,12\n1,2,14\n2,3,9\n2,1,15\n",
        "Plot,Sp,DBH (in)\n1,1,12\n1,2,14\n2,3,9\n2,1,15\n\nCode,Species\n1,White oak\n2,Black oak\n3,Red maple\n",
    ],
)
def test_codes_that_the_sheet_itself_explains_are_read_so(text):
    assert [row["species"] for row in rows(read(text, settings=PRISM), "trees")] == ["802", "837", "316", "802"]


def test_a_legend_of_this_file_goes_before_codes_kept_of_another():
    text = "Plot,Sp,DBH (in)\n1,1,12\n1,2,14\n\n1 = {}\n2 = {}\n"
    first = proposed(text.format("white oak", "black oak"), settings=PRISM)
    kept = {first.sheets[0].mapping.signature: first.sheets[0].mapping}

    again = read(text.format("red maple", "white oak"), settings=PRISM, remembered=kept)
    assert [row["species"] for row in rows(again, "trees")] == ["316", "802"]


def test_words_of_a_title_are_no_legend():
    text = "Owner: white oak farm,,\nWO: leave,,\nPlot,Sp,DBH (in)\n1,WO,12\n"

    assert [row["species"] for row in rows(read(text, settings=PRISM), "trees")] == ["802"]


def test_the_same_diameters_in_another_unit_are_no_other_stems():
    """30.5 cm read as inches, beside its 12 in., would stand for six times the basal area."""
    shown = proposed("Plot,Tree,Sp,DBH (in),DBH (cm)\n1,1,WO,12,30.5\n1,2,BO,9,22.9\n", settings=PRISM)

    assert "Not used: DBH (cm)." in shown.sheets[0].notes
    found = read("Plot,Tree,Sp,DBH (in),DBH (cm)\n1,1,WO,12,30.5\n1,2,BO,9,22.9\n", settings=PRISM)
    assert [row["dbh_in"] for row in rows(found, "trees")] == ["12", "9"]


def test_a_class_of_height_and_diameter_is_neither_alone():
    text = "Plot,Species,1-3',3-4.5',>4.5' <1\"\n1,WO,3,1,2\n1,RM,10,,\n"
    shown = proposed(text, settings=FLOOR)

    assert any("Not used: >4.5' <1" in note for note in shown.sheets[0].notes)
    assert not any("height_class.<1" in one.key for one in shown.questions)


def test_numbers_under_browse_may_be_stems_or_grades():
    text = "Plot,Species,Ht class,Count,{}\n1,WO,1-3,4,2\n1,RM,1-3,6,0\n"

    for heading in ("Browse", "Browse (0-3)"):
        assert question(proposed(text.format(heading), settings=FLOOR), "bites").is_open
        told = [read(text.format(heading), settings=FLOOR | {"bites": answer}) for answer in ("stems", "grades")]
        assert [[row["browsed"] for row in rows(one, "seedlings")] for one in told] == [["2", "0"], ["", ""]]
    assert not proposed(text.format("No. browsed"), settings=FLOOR).open_questions
