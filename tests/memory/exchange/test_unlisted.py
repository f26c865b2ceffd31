"""Plots that a sheet speaks of without a line: they are asked about, for a mean without its empty plots is too high."""

from __future__ import annotations

import pytest

from foreign_files import FLOOR, PRISM, counts, proposed, read, rows, workbook
from overwood.ground.errors import Misuse

HEAD = "Plot,Sp,DBH (in)\n"


def points(text, settings=PRISM, **said):
    return {row["point"] for row in rows(read(text, settings=settings | said), "points")}


@pytest.mark.parametrize(
    ("text", "asks", "names"),
    [
        (HEAD + "1,WO,12\n3,BO,14\n5,RM,10\nPlots with no trees: 2 and 4,,\n", "Row 5 speaks of", {"1", "2", "3", "4", "5"}),
        (HEAD + "1,WO,12\n4,BO,14\nPoints 2-3 empty,,\n", "Row 4 speaks of", {"1", "2", "3", "4"}),
        (HEAD + "1-3,none,\n4,WO,12\n", "Row 2 speaks of", {"1", "2", "3", "4"}),
        (HEAD + "1,WO,12\n2,BO,14\n# of plots,4,\n", "Row 4 says 4 plots, and the sheet has lines of 2", {"1", "2", "empty 1", "empty 2"}),
        ("Number of plots: 3,,\n" + HEAD + "1,WO,12\n2,BO,14\n", "Row 1 says 3 plots", {"1", "2", "empty 1"}),
    ],
)
def test_plots_without_a_line_are_asked_about_and_come_in_as_empty_where_they_were(text, asks, names):
    with pytest.raises(Misuse, match=asks):
        read(text, settings=PRISM)
    plain = points(text, empty_plots="as written")

    assert points(text, empty_plots="add") == names
    assert plain < names or len(plain) < len(names)
    assert [row["dbh_in"] for row in rows(read(text, settings=PRISM | {"empty_plots": "add"}), "trees")] != []


def test_every_row_has_one_fate_where_plots_were_added():
    text = HEAD + "1-3,none,\n4,WO,12\n# of plots,6,\n"
    applied = read(text, settings=PRISM | {"empty_plots": "add"})

    assert counts(applied) == {"heading": 1, "empty": 1, "tally": 1, "note": 1}
    assert len({row["point"] for row in rows(applied, "points")}) == 6


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "1,WO,12\n2,BO,14\nNumber of plots: 2,,\n",
        HEAD + "1-1,WO,12\n1-2,none,\n2-1,BO,14\n",
        HEAD + "1,WO,12\n2,BO,14\nno trees marked on plots,,\n",
        "Stand,Plot,Sp,DBH (in)\nK1,1,WO,12\nK2,1,BO,14\nNumber of plots: 9,,,\n",
    ],
)
def test_a_number_that_agrees_names_with_dashes_and_sheets_of_several_stands_are_not_asked_about(text):
    settings = {key: value for key, value in PRISM.items() if key != "stand" or not text.startswith("Stand")}

    assert not any("empty_plots" in one.key for one in proposed(text, settings=settings).questions)


def test_a_count_of_young_stems_counts_the_plots_that_held_none():
    text = "Plot,Sp,Ht class,Count\n1,WO,1-3,4\n2-10,no regen,,\n"

    assert len(points(text, FLOOR, empty_plots="add")) == 10


@pytest.mark.parametrize(
    ("numbers", "missing"),
    [
        ((1, 2, 4, 5, 7), ["3", "6"]),
        ((1, 2, 3, 4, 5), []),
        (("01", "02", "04"), ["03"]),
        # A check of some plots is no cruise with gaps.
        ((3, 7, 15), []),
        (("A1", "A3", "A4"), []),
    ],
)
def test_numbers_of_plots_that_are_passed_over_are_asked_about(numbers, missing):
    text = HEAD + "".join(f"{number},WO,12\n" for number in numbers)
    asked = [one for one in proposed(text, settings=PRISM).open_questions if one.key == "empty_plots"]

    assert [f"No line names plots {', '.join(missing)}:" in one.text for one in asked] == [True] * bool(missing)
    if missing:
        assert points(text, empty_plots="add") == {*map(str, numbers), *missing}
        assert points(text, empty_plots="as written") == {*map(str, numbers)}


def test_plots_of_several_stands_and_parts_of_plots_that_are_passed_over_are_asked_about():
    stands = "Stand,Plot,Sp,DBH (in)\nK1,1,WO,14\nK1,2,BO,12\nK1,4,RM,8\nK2,1,WO,12\nK2,2,WO,12\nK2,3,WO,12\n"
    parts = "Plot,Subplot,Sp,DBH (in)\n1,1,WO,14\n1,2,BO,12\n1,3,RM,8\n2,1,WO,13\n2,3,YP,16\n"
    said = {key: value for key, value in PRISM.items() if key != "stand"} | {"empty_plots": "add"}
    added = [row for row in rows(read(stands, settings=said), "points") if row["point"] == "3"]

    assert sorted(row["visit"] for row in added) == ["K1-2025-05-14-cruise", "K2-2025-05-14-cruise"]
    assert points(parts, empty_plots="add") == {"1-1", "1-2", "1-3", "2-1", "2-2", "2-3"}
    listed = workbook({"Plots": [["Plot", "Fenced"], *[[one, "no"] for one in (1, 2, 3, 4)]], "Trees": [["Plot", "Sp", "DBH (in)"],
        *[[one, "WO", 12] for one in (1, 2, 4)]]})  # fmt: skip
    assert not any("empty_plots" in one.key for one in proposed(listed, "a.xlsx", settings=PRISM).questions)


def test_a_class_of_letters_beside_a_diameter_is_no_class_of_height():
    assert proposed("Plot,Sp,DBH (in),Class\n1,WO,12,AGS\n1,BO,14,UGS\n", settings=PRISM).sheets[0].table == "trees"


def test_a_year_of_death_asks_whether_the_tree_is_dead():
    text = "Plot,Sp,DBH (in),Mort yr\n1,WO,12,\n1,BO,14,2024\n"

    with pytest.raises(Misuse, match="is the tree dead"):
        read(text, settings=PRISM)
    found = rows(read(text, settings=PRISM, codes={"dead_mark.2024": "yes"}), "trees")
    assert [row["status"] for row in found] == ["", "dead"]
