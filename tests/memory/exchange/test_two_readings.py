"""Sheets that can be read in two ways of which only one is right: a person says which."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from foreign_files import FLOOR, PLACE, PRISM, proposed, read, rows
from overwood.ground.errors import Misuse
from overwood.ground.records import TABLES
from overwood.memory.exchange import checking

PLOTS = PLACE | {"plot_area_ac": "0.1"}
TALL = "Plot,Sp,DBH (in),Ht (ft)\n1,WO,18,{}\n1,BO,22,{}\n2,YP,20,{}\n"
SUBPLOTS = "Plot,Subplot,Sp,DBH (in)\n" + "".join(
    f"{plot},{{0}},WO,18\n{plot},{{0}},BO,{{2}}\n{plot},{{1}},RM,3\n{plot},{{1}},RM,2\n" for plot in (1, 2, 3)
)
SUFFIXED = SUBPLOTS.replace(",{0},", ",").replace(",{1},", "S,").replace("Subplot,", "")


def asked(text, **said):
    return {one.key for one in proposed(text, **said).open_questions}


def test_short_heights_in_whole_half_logs_are_total_or_merchantable():
    """A white oak of 18 in. that is 32 ft tall in all is rare; one with two logs of 16 ft is usual."""
    text = TALL.format(32, 40, 48)
    told = {
        answer: [(row["height_ft"], row.get("logs", "")) for row in rows(read(text, settings=PRISM | {"short_heights": answer}), "trees")]
        for answer in ("total", "merchantable")
    }

    assert asked(text, settings=PRISM) == {"short_heights"}
    assert told == {"total": [("32", ""), ("40", ""), ("48", "")], "merchantable": [("", "2"), ("", "2.5"), ("", "3")]}


@pytest.mark.parametrize("text", [TALL.format(72, 80, 88), TALL.format(32, 41, 48), TALL.format(32, 40, 48).replace("Ht", "Total Ht")])
def test_heights_of_whole_trees_are_not_asked_about(text):
    assert asked(text, settings=PRISM) == set()


@pytest.mark.parametrize(
    ("text", "kinds"),
    [(SUBPLOTS.format(*kinds, 22), kinds) for kinds in (("Over", "Sap"), ("T", "S"), ("Large", "Small"))]
    + [(SUFFIXED.format("", "", 22), ("without S", "S"))],
)
def test_two_names_within_plots_whose_trees_are_parted_by_size_are_rings_or_parts(text, kinds):
    """Two saplings on each of three plots of 1/100 acre are 200 an acre; of the same plots of 1/10 acre, 20."""
    large, small = (f"sheet: {kind}." for kind in kinds)
    rings = {
        f"{large}layer": "overstory", f"{large}plot_area_ac": "0.1", f"{large}low_dbh_in": "4.5",
        f"{small}layer": "midstory", f"{small}plot_area_ac": "0.01", f"{small}low_dbh_in": "1", f"{small}high_dbh_in": "4.5",
    }  # fmt: skip
    told = {
        "rings": read(text, settings=PLACE | rings | {"plot_rings": "rings"}),
        **{way: read(text, settings=PLOTS | {"plot_rings": way}) for way in ("one", "apart")},
    }

    assert "plot_rings" in asked(text, settings=PLOTS)
    assert {way: len({row["point"] for row in rows(done, "trees")}) for way, done in told.items()} == {"rings": 3, "one": 3, "apart": 6}
    assert {row["layer"]: row["plot_area_ac"] for row in rows(told["rings"], "rings")} == {"overstory": "0.1", "midstory": "0.01"}


def test_subplots_are_rings_where_a_title_names_two_sizes_of_plots():
    mixed = SUBPLOTS.format("A", "B", 2.5).replace("18", "3")
    assert asked(mixed, settings=PLOTS | {"layer": "midstory"}) == set()
    assert "plot_rings" in asked("1/10 ac plots and 1/100 ac saplings,,,\n" + mixed, settings=PLOTS)


@pytest.mark.parametrize("heading", ["around (in)", "Inches around", "Distance around (in)"])
def test_a_tape_round_the_stem_is_asked_about(heading):
    """58 in. round is 18.5 in. across: as a diameter it would be ten times the basal area."""
    text = f"Plot,Sp,{heading}\n1,WO,58\n1,BO,42\n2,YP,70\n"
    said = {"settings": PRISM | {"way_round": "round"}, "units": {"dbh_in": "in"}}

    assert "way_round" in asked(text, settings=PRISM)
    assert [float(row["dbh_in"]) for row in rows(read(text, **said), "trees")] == [
        pytest.approx(size / math.pi, abs=0.01) for size in (58, 42, 70)
    ]


def test_a_heading_that_is_said_to_be_a_diameter_may_still_be_the_way_round():
    text = "Plot,Sp,Tape (in)\n1,WO,58\n1,BO,42\n"
    across = PRISM | {"way_round": "across"}

    assert "way_round" in asked(text, settings=PRISM, columns={"Tape (in)": "dbh_in"})
    told = read(text, settings=across, columns={"Tape (in)": "dbh_in"}, units={"dbh_in": "cm"})
    assert float(rows(told, "trees")[0]["dbh_in"]) == pytest.approx(58 / 2.54, abs=0.01)


SIZED = "Plot,Sp,Size class (in),Count\n1,WO,{},2\n1,BO,{},1\n"


@pytest.mark.parametrize(("classes", "said"), [(("6-8", "12-14"), {}), (("4-6", "6-8"), {"columns": {"Size class (in)": "dbh_in"}})])
def test_narrow_classes_of_inches_are_diameters_and_so_are_those_that_are_said_to_be(classes, said):
    told = read(SIZED.format(*classes), settings=PRISM, **said)

    middles = [sum(map(int, one.split("-"))) / 2 for one in classes]
    assert [(float(row["dbh_in"]), row["stems"]) for row in rows(told, "trees")] == list(zip(middles, "21", strict=True))


def test_a_column_of_another_table_is_refused_with_the_table_that_has_it():
    with pytest.raises(Misuse) as fault:
        proposed(SIZED.format("1-3", "0-1"), settings=FLOOR, columns={"Size class (in)": "logs", "Count": "browsed"})
    assert "A sheet of trees has that column" in fault.value.remedy


@pytest.mark.parametrize(("cell", "mark"), [("16 D", "D"), ("16x", "x"), ("16 snag", "snag")])
def test_a_mark_behind_a_diameter_is_kept_by_the_advice(cell, mark):
    told = read(f"Plot,Sp,DBH (in)\n1,WO,{cell}\n1,BO,12\n", settings=PRISM)
    frame = next(part.frame for part in told.parts if part.table == "trees")
    found = checking.check(TABLES["trees"], frame, file="sheet.csv", sheet="sheet", today=dt.date(2026, 1, 1))

    assert f"{mark} in a column of its own, such as status" in found.problems[0].remedy


@pytest.mark.parametrize(("told", "factor"), [("10/12", 10 / 12), ("2/12 m2/ha", 2 * 4.356 / 12), ("10/5", 2.0)])
def test_a_factor_over_the_points_that_a_sheet_sums_is_taken(told, factor):
    """1 m2/ha is 4.356 ft2/ac; a tree counted once on twelve points stands for a twelfth of the factor."""
    text = "12 points BAF 10,,\nDBH (in),WO,BO\n8,1,2\n10,2,1\n"
    said = PLACE | {"point": "1", "own_sums": "as written", "other_factor": "as written"}

    assert "own_sums" in asked(text, settings=PLACE | {"point": "1"})
    assert float(rows(read(text, settings=said | {"baf_ft2_ac": told}), "rings")[0]["baf_ft2_ac"]) == pytest.approx(factor, abs=1e-3)


def test_a_share_keeps_the_question_for_its_unit():
    text = "DBH (cm),WO,BO\n28,1,2\n40,2,1\n"
    assert "factor_unit" in asked(text, settings=PLACE | {"point": "1", "baf_ft2_ac": "2/12"})


def test_young_stems_by_height_class_right_of_a_tally_keep_their_own_species():
    text = (
        "Overstory (BAF 20),,,,,Regen (1/300 ac plots),,,,\nPt,Sp,DBH (in),Cl,,Pt,Sp,<0.5 ft,1-3 ft,3-4.5 ft\n"
        "1,WO,15,C,,1,BO,4,2,0\n1,CO,19,D,,1,RM,10,3,1\n2,RM,7,S,,3,SM,0,6,2\n"
    )

    told = read(text, settings={"stand": "K1", "visited_on": "2025-05-14"})

    assert [(row["species"], row["dbh_in"], row["crown_class"]) for row in rows(told, "trees")] == [
        ("802", "15", "codominant"),
        ("832", "19", "dominant"),
        ("316", "7", "overtopped"),
    ]
    young = {(row["point"], row["species"]) for row in rows(told, "seedlings")}
    assert young == {("1", "837"), ("1", "316"), ("3", "318")}
    assert sum(int(row["stems"]) for row in rows(told, "seedlings") if row["species"] == "316") == 14


def test_narrow_classes_up_to_sizes_of_trees_are_diameters_whatever_they_are_called():
    text = "Plot,Species,Size class,Trees\n1,white oak,12-14,2\n1,red maple,2-4,5\n2,white oak,16-18,1\n"
    young = "Plot,Species,Size class,Count\n1,white oak,0-2,2\n1,red maple,2-4,5\n2,white oak,8-10,1\n"

    told = read(text, settings=PRISM, units={"dbh_in": "in"})

    assert [(row["dbh_in"], row["stems"]) for row in rows(told, "trees")] == [("13", "2"), ("3", "5"), ("17", "1")]
    assert [sheet.table for sheet in proposed(young, settings=FLOOR).sheets] == ["seedlings"]
