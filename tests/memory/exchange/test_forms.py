"""Small tables under labels, tables below each other, sheets on their side, stand and plot in one cell, slopes."""

from __future__ import annotations

import math

import pytest

from foreign_files import FLOOR, PLACE, PRISM, K, fates, proposed, question, read, rows, sheets
from overwood.ground.errors import Misuse
from overwood.memory.exchange import proposing
from overwood.memory.exchange.proposal import Answers

PLOTS = {**PLACE, "plot_area_ac": "0.1"}


def _stems(applied):
    return [(row["point"], row["species"], float(row["dbh_in"])) for row in rows(applied, "trees")]


def test_labels_above_a_table_are_no_trees_and_hold_for_the_rows_below():
    table = "Species,DBH (in)\n"
    text = f"Plot:,1\nBAF:,10\n{table}WO,18\nPlot:,2\nBAF:,20\n{table}BO,12\n"

    came = read(text, settings=PLACE)

    assert _stems(came) == [("1", "802", 18.0), ("2", "837", 12.0)]
    assert [row["baf_ft2_ac"] for row in rows(came, "points")] == ["10", "20"]


def test_a_label_whose_value_is_none_is_shown_as_a_note():
    shown = proposed("Plot: 1\nSpecies,DBH (in)\nWO,18\nPlot: 2\nBAF: ten\nSpecies,DBH (in)\nBO,12\n", settings=PRISM)

    assert any("BAF: ten" in note for sheet in shown.sheets for note in sheet.notes)


def test_a_table_with_other_species_in_its_headings_is_read_under_them():
    text = "Point 1\nDBH (in),WO,RM\n10,2,1\nPoint 2\nDBH (in),RM,WO\n12,3,\n"

    came = read(text, settings=PRISM)

    found = {(row["point"], row["species"]): row["stems"] for row in rows(came, "trees")}
    assert found == {("1", "802"): "2", ("1", "316"): "1", ("2", "316"): "3"}


def test_headings_that_come_again_with_a_slip_of_the_pen_begin_no_other_table():
    shown = proposed("Plot,Sp,DBH (in)\n1,WO,18\n\nPlot,Sp.,Dbhh (in)\n2,BO,12\n", settings=PRISM)

    assert [sheet.lines for sheet in shown.sheets] == [2]


def test_a_summary_below_the_tally_is_left_out_by_name():
    shown = proposed("Plot,Sp,DBH (in)\n1,WO,18\n2,RM,9\n\nSpecies,Trees,BA/ac\nWO,1,10\nRM,1,10\n", settings=PRISM)

    assert [(sheet.lines, bool(sheet.why_not)) for sheet in shown.sheets] == [(2, False), (0, True)]


def test_the_columns_of_a_sheet_on_its_side_are_read_as_rows():
    shown = proposed("Plot,1,1,2,3\nSp,WO,BO,RM,WO\nDBH (in),18,12,9,20\n", settings=PRISM)

    assert shown.sheets[0].lines == 4
    assert any("on its side" in note for note in shown.sheets[0].notes)


def test_a_plot_name_that_begins_with_a_stand_is_asked_about_before_the_stand():
    text = "Plot,Sp,DBH (in)\nK1-1,WO,18\nK2-1,BO,12\n"
    known = {name: value for name, value in PRISM.items() if name != "stand"}

    keys = {one.key for one in proposed(text, settings=known).open_questions}
    came = read(text, settings={**known, "stand_in_plot": "yes"})

    assert keys == {"stand_in_plot"}
    assert sorted((row["stand"], row["visit"]) for row in rows(came, "visits")) == [
        ("K1", "K1-2025-05-14-cruise"),
        ("K2", "K2-2025-05-14-cruise"),
    ]
    with pytest.raises(Misuse, match="stand"):
        read(text, settings={**PRISM, "stand_in_plot": "yes"})


# A circle laid out along a slope of 60 % is cos(atan 0.6) = 1 / hypot(1, 0.6) of its area on the map (geometry).
@pytest.mark.parametrize(
    ("design", "column", "steep"), [(PLOTS, "plot_area_ac", 0.1 / math.hypot(1, 0.6)), (PRISM, "baf_ft2_ac", 10 * math.hypot(1, 0.6))]
)
def test_an_uncorrected_slope_changes_the_size_of_its_point(design, column, steep):
    text = "Plot,Sp,DBH (in),Slope %\n1,WO,18,60\n2,BO,12,0\n3,none,,60\n"

    assert [one.key for one in proposed(text, settings=design).open_questions] == ["slope"]
    told = {row["point"]: float(row[column]) for row in rows(read(text, settings={**design, "slope": "uncorrected"}), "points")}
    level = rows(read(text, settings={**design, "slope": "corrected"}), "points")

    assert told == pytest.approx({"1": steep, "2": float(design[column]), "3": steep}, rel=1e-5)
    assert {row.get(column, "") for row in level} <= {"clear"}


@pytest.mark.parametrize(("heading", "steep"), [("Slope (deg)", "30"), ("Slope factor", "1.1547"), ("Slope factor", "0.866")])
def test_slopes_in_degrees_and_as_factors_are_read(heading, steep):
    text = f"Plot,Sp,DBH (in),{heading}\n1,WO,18,{steep}\n2,BO,12,{'1' if 'factor' in heading else '0'}\n"

    sizes = [float(row["plot_area_ac"]) for row in rows(read(text, settings={**PLOTS, "slope": "uncorrected"}), "points")]

    assert sizes == pytest.approx([0.1 * math.cos(math.radians(30)), 0.1], rel=1e-4)


def test_a_slope_without_its_unit_is_asked_with_both():
    text = "Plot,Sp,DBH (in),Slope\n1,WO,18,30\n2,BO,12,0\n"

    ways = [choice.value for choice in question(proposed(text, settings=PLOTS), "slope").choices]
    sizes = [float(row["plot_area_ac"]) for row in rows(read(text, settings={**PLOTS, "slope": "uncorrected degrees"}), "points")]

    assert ways == ["corrected", "uncorrected %", "uncorrected degrees"]
    assert sizes == pytest.approx([0.1 * math.cos(math.radians(30)), 0.1], rel=1e-4)


def test_gentle_slopes_ask_nothing():
    assert not proposed("Plot,Sp,DBH (in),Slope %\n1,WO,18,8\n2,BO,12,0\n", settings=PRISM).open_questions


def test_a_row_that_only_sums_the_counts_above_is_a_total():
    came = read("Plot,Sp,DBH (in),Count\n1,WO,18,2\n1,BO,12,1\n,,,3\n2,WO,20,4\n,,,4\n,,,7\n", settings=PLOTS)

    assert [row["stems"] for row in rows(came, "trees")] == ["2", "1", "4"]


def test_trees_counted_by_a_prism_without_diameters_never_become_young_stems():
    shown = proposed("Point,WO,RM\n1,3,4\n2,5,2\n", settings={**PRISM, "height_class": "1-3"})

    assert "diameters" in question(shown, "height_class").text
    assert "height_class" in {one.key for one in shown.open_questions}
    assert not proposed("Plot,WO,RM\n1,3,4\n", settings={**FLOOR, "height_class": "1-3"}).open_questions


def test_a_tree_marked_out_counts_nothing_and_its_point_was_looked_at():
    text = "Plot,Sp,DBH (in),In/Out\n1,WO,18,In\n1,BO,12,Out\n2,YP,15,Borderline\n3,WO,20,out\n"

    assert [one.key for one in proposed(text, settings=PRISM).open_questions] == ["borderline"]
    counted, dropped = (read(text, settings={**PRISM, "borderline": answer}) for answer in ("in", "out"))

    assert _stems(counted) == [("1", "802", 18.0), ("2", "621", 15.0)]
    assert _stems(dropped) == [("1", "802", 18.0)]
    assert [row["point"] for row in rows(dropped, "points")] == ["1", "2", "3"]
    assert fates(dropped) == {1: "heading", 2: "tally", 3: "note", 4: "note", 5: "note"}


def test_a_column_headed_in_that_counts_holds_counts():
    came = read("Plot,Sp,DBH (in),In\n1,WO,18,1\n1,BO,12,3\n", settings=PRISM)

    assert [row["stems"] for row in rows(came, "trees")] == ["1", "3"]


def test_a_column_of_other_species_is_counted_as_unknown():
    came = read("Plot,WO,BO,Other\n1,3,10,2\n2,0,5,\n", settings={**FLOOR, "height_class": "1-3"})

    assert [(row["species"], row["stems"]) for row in rows(came, "seedlings")][2] == ("999", "2")


def test_a_number_in_brackets_behind_a_diameter_is_no_second_stem():
    came = read("Plot,Sp,DBH (in)\n1,WO,12 (3)\n1,BO,15\n", settings=PRISM)

    assert [size for *_, size in ((row["point"], row["dbh_in"]) for row in rows(came, "trees"))] == ["12 (3)", "15"]


def test_headings_that_come_again_in_another_unit_are_read_in_it():
    came = read("Plot,Sp,DBH (in)\n1,WO,18\nPlot,Sp,DBH (cm)\n2,BO,38.1\n", settings=PRISM)

    assert _stems(came) == [("1", "802", 18.0), ("2", "837", 15.0)]


@pytest.mark.parametrize("place", ["Plot,", ""])
def test_young_stems_beside_the_trees_keep_their_own_species(place):
    text = f"Point,Sp,DBH (in),{place}Species,Ht class,Count\n1,WO,18,{place and '1,'}RM,1-3,9\n1,BO,12,{place and '2,'}WO,3-4.5,4\n"
    said = {**PLACE, "sheet.baf_ft2_ac": "10", "sheet, right part.plot_area_ac": "0.001"}

    came = read(text, settings=said)

    assert _stems(came) == [("1", "802", 18.0), ("1", "837", 12.0)]
    assert [(row["point"], row["species"]) for row in rows(came, "seedlings")] == [("1", "316"), ("2" if place else "1", "802")]


def test_a_plot_whose_table_holds_no_line_is_asked_about():
    table = "Sp,DBH (in)\n"
    text = f"Plot: 1\n{table}WO,18\nPlot: 2\n{table}Plot: 3\n{table}BO,12\nPlot: 4\n{table}"

    assert "(2, 4)" in question(proposed(text, settings=PRISM), "empty_plots").text
    came = read(text, settings={**PRISM, "empty_plots": "add"})
    assert {row["point"] for row in rows(came, "points")} == {"1", "2", "3", "4"}


def test_a_ring_below_the_canopy_is_refused_where_slopes_would_change_its_plots():
    said = {**PLACE, "plot_area_ac": "0.02", "layer": "midstory", "slope": "uncorrected"}
    came = read("Plot,Sp,DBH (in),Slope %\n1,RM,2,40\n2,BG,3,30\n", settings=said)

    assert not rows(came, "trees")
    assert "such plots hold one" in came.problems[0].what


def test_several_slopes_at_a_point_hold_by_their_mean_and_it_is_said():
    text = "Plot,Sp,DBH (in),Slope %\n1,WO,18,40\n1,BO,14,20\n2,BO,12,0\n"
    said = {**PLOTS, "slope": "uncorrected"}
    mean = (math.hypot(1, 0.4) + math.hypot(1, 0.2)) / 2

    assert [float(row["plot_area_ac"]) for row in rows(read(text, settings=said), "points")] == pytest.approx([0.1 / mean, 0.1], rel=1e-4)
    assert any("Several slopes at point 1" in note for note in proposed(text, settings=said).sheets[0].notes)


def test_slopes_of_a_list_of_plots_are_asked_about_and_never_passed_over():
    tally = sheets("Plot,Sp,DBH (in)\n1,WO,18\n2,BO,12\n", "trees.csv")
    listed = sheets("Plot,Slope %\n1,40\n2,10\n", "plots.csv")

    def told(**more):
        return proposing.propose([*tally, *listed], Answers(settings={**PRISM, **more}), {}, K)

    assert [one.key for one in told().open_questions] == ["plots.slope"]
    assert not proposing.apply(told(**{"plots.slope": "corrected"})).problems
    (problem,) = proposing.apply(told(**{"plots.slope": "uncorrected"})).problems
    assert "not carried over" in problem.what


@pytest.mark.parametrize("beside", ["Plot,Lat,Lon", "Plot,BAF"])
def test_a_list_of_plots_beside_a_tally_is_of_its_own_plots(beside):
    """Read along the rows, plot 2 took the place and the factor of the plot that stood beside its tree."""
    cells = ["1,37.8,-82.3", "2,37.81,-82.31", "3,37.82,-82.32"] if "Lat" in beside else ["1,10", "2,20", "3,10"]
    trees = ["1,WO,14", "1,BO,16", "2,RM,9"]
    text = f"Plot,Sp,DBH (in),,{beside}\n" + "".join(f"{tree},,{cell}\n" for tree, cell in zip(trees, cells, strict=True))

    came = read(text, settings=PRISM)
    column = "latitude_deg" if "Lat" in beside else "baf_ft2_ac"
    wanted = ["37.8", "37.81", "37.82"] if "Lat" in beside else ["10", "20", "10"]
    assert [(row["point"], row[column]) for row in rows(came, "points")] == list(zip("123", wanted, strict=True))
    assert len(_stems(came)) == 3


@pytest.mark.parametrize("gap", [",", ""])
def test_plots_beside_each_other_take_the_name_above_them(gap):
    text = f"Plot 1,,{gap}Plot #2,\nSp,DBH (in),{gap}Sp,DBH (in)\nWO,14,{gap}BO,12\nBO,16,{gap},\n"

    assert sorted(_stems(read(text, settings=PRISM))) == [("1", "802", 14.0), ("1", "837", 16.0), ("2", "837", 12.0)]


def test_a_plot_beside_others_with_nothing_in_it_is_an_empty_plot():
    came = read("Plot 1,,Plot 2,\nSp,DBH (in),Sp,DBH (in)\nWO,14,none,\nBO,16,,\n", settings=PRISM)

    assert [row["point"] for row in rows(came, "points")] == ["1", "2"]
    assert len(_stems(came)) == 2


@pytest.mark.parametrize("lines", ["1,WO,14\n1,BO,16\n2,RM,9\n3,none,\n", "1,1,WO,14,D\n1,2,BO,16,C\n2,1,RM,9,I\n3,,none,,\n"])
def test_a_sheet_without_headings_is_read_by_what_its_cells_hold_once_a_person_says_so(lines):
    with pytest.raises(Misuse, match="has no headings"):
        read(lines, settings=PRISM, units={"dbh_in": "in"})
    came = read(lines, settings=PRISM | {"no_headings": "yes"}, units={"dbh_in": "in"})

    assert _stems(came) == [("1", "802", 14.0), ("1", "837", 16.0), ("2", "316", 9.0)]
    assert {row["point"] for row in rows(came, "points")} == {"1", "2", "3"}
    # Its mapping is that of no sheet with such headings.
    shown = proposed(lines, settings=PRISM | {"no_headings": "yes"}, units={"dbh_in": "in"})
    kept = {shown.sheets[0].mapping.signature: shown.sheets[0].mapping}
    other = proposed("Plot,Species,DBH\n1,WO,14\n2,BO,16\n", settings=PRISM, remembered=kept)
    assert question(other, "dbh_in").is_open


def test_a_list_of_prices_is_no_tally_without_headings():
    assert not proposed("white oak,350\nblack oak,400\nred maple,90\n", settings={}).understood
