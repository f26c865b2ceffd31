"""Each question has an answer that makes the sheet right, not only one that takes it as it is written."""

from __future__ import annotations

import pytest

from foreign_files import FLOOR, PLACE, PRISM, counts, proposed, question, read, rows, workbook

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

    assert [one.value for one in asked.choices] == ["No", "1"]
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


@pytest.mark.parametrize(
    ("heading", "sizes", "asks"), [("DBH (in)", (1, 4), True), ("DBH (in)", (1, 9), False), ("DBH (cm)", (3, 11), True)]
)
def test_a_tally_of_small_trees_alone_is_asked_for_its_layer(heading, sizes, asks):
    text = f"Plot,Sp,{heading}\n1,WO,{sizes[0]}\n1,RM,{sizes[1]}\n"
    said = {**PLACE, "plot_area_ac": "0.01"}

    assert question(proposed(text, settings=said), "layer").is_open == asks
    assert rows(read(text, settings=said | {"layer": "midstory"}), "rings")[0]["layer"] == "midstory"


def test_a_code_on_many_lines_that_nobody_knows_is_asked_before_they_are_refused():
    text = "Plot,Species,Ht class,Origin,Count\n" + "".join(f"{at},WO,1-3,{'SD' if at % 2 else 'XX'},2\n" for at in range(1, 8))
    asked = proposed(text, settings=FLOOR)

    assert [one.key for one in asked.open_questions] == ["origin.XX"]
    told = read(text, settings=FLOOR, codes={"origin.XX": "stump sprout"})
    assert {row["origin"] for row in rows(told, "seedlings")} == {"seedling", "stump sprout"}


def test_a_status_in_numbers_is_asked_about():
    text = "Plot,Sp,DBH (in),Status\n1,WO,14,1\n1,RM,9,2\n"
    told = read(text, settings=PRISM, codes={"status.1": "live", "status.2": "dead"})

    assert [one.key for one in proposed(text, settings=PRISM).open_questions] == ["status.1", "status.2"]
    assert [row["status"] for row in rows(told, "trees")] == ["live", "dead"]


@pytest.mark.parametrize(("last", "asks"), [("1,WO,14\n2,BO,12\n", True), ("1,WO,14\n2,BO,13\n", False)])
def test_a_sheet_that_was_put_together_twice_is_asked_about_and_can_count_once(last, asks):
    text = "Plot,Sp,DBH (in)\n1,WO,14\n2,BO,12\nPlot,Sp,DBH (in)\n" + last
    assert [one.key for one in proposed(text, settings=PRISM).open_questions] == ["lines_again"] * asks
    told = read(text, settings=PRISM | {"lines_again": "once"})

    assert len(rows(told, "trees")) == (2 if asks else 4)


@pytest.mark.parametrize(("key", "asks"), [("red = dead", True), ("Cull", False), ("Remarks", False)])
def test_words_over_an_empty_column_are_asked_about(key, asks):
    text = f"Plot,Sp,DBH (in),{key}\n1,WO,14,\n2,BO,12,\n"

    assert [one.key for one in proposed(text, settings=PRISM).open_questions] == ["remarks"] * asks


@pytest.mark.parametrize(
    ("title", "asks"),
    [("Plot size: 1/300 ac", True), ("Regeneration (milacre)", False), ("6.8 ft radius plots", True), ("Prism: BAF 10", False)],
)
def test_a_title_of_young_stems_that_names_another_plot_is_asked_about(title, asks):
    text = f"{title},,,\nPlot,Species,Ht class,Count\n1,WO,1-3,3\n2,RM,1-3,4\n"

    assert [one.key for one in proposed(text, settings=FLOOR).open_questions] == ["other_factor"] * asks


def test_the_plot_of_young_stems_below_the_trees_is_not_that_of_the_trees():
    text = "Plot,Species,DBH (in)\n1,WO,14\n2,BO,12\n\nRegeneration (milacre)\nPlot,Species,0.5-1 ft,1-3 ft\n1,WO,3,1\n2,RM,12,2\n"
    asked = proposed(text, settings={**PLACE, "plot_area_ac": "0.1"})

    assert [one.key for one in asked.open_questions] == ["sheet from row 5.other_factor"]
    sized = PLACE | {"sheet.plot_area_ac": "0.1", "sheet from row 5.plot_area_ac": "0.001"}
    assert not proposed(text, settings=sized).open_questions


def test_a_sheet_for_each_stand_is_that_of_the_stand_it_is_named_as():
    book = workbook({name: [["Plot", "Species", "DBH (in)"], [1, "WO", 14]] for name in ("K1", "K2")})
    told = read(book, "a.xlsx", settings={name: one for name, one in PRISM.items() if name != "stand"})

    assert [row["stand"] for row in rows(told, "visits")] == ["K1", "K2"]


@pytest.mark.parametrize(
    ("heading", "dbh"),
    [
        ("DBH (cm)", ["14", "20.0"]),
        ("Stump (in)", ["14"]),
        ("0.5-1 ft,1-3 ft", ["14"]),
        ("DBH (in)", ["14", "50.8"]),
        ("DHB (in)", ["14", "50.8"]),
    ],
)
def test_headings_below_a_table_that_say_something_else_begin_another(heading, dbh):
    """50.8 cm are 20 in.: a count, a stump or a metric size below other headings was read as a diameter in inches."""
    applied = proposed(f"Plot,Species,DBH (in)\n1,WO,14\nPlot,Species,{heading}\n3,WO,50.8,2\n", settings={**PLACE, "plot_area_ac": "0.1"})

    assert [cell for sheet in applied.sheets if sheet.table == "trees" for cell in sheet.body.ready.lines.values("dbh_in")] == dbh


def test_a_usual_letter_is_not_asked_about_again_where_its_meaning_was_kept():
    text = "Plot,Sp,DBH (in),Crown\n1,WO,14,D\n1,RM,9,I\n2,WO,15,D\n2,BO,12,D\n"
    first = proposed(text, settings=PRISM)
    again = proposed(text, settings=PRISM, remembered={one.signature: one for one in first.mappings})

    assert again.sheets[0].remembered and not any("crown" in one.text for one in again.questions)


def test_the_size_behind_the_name_of_a_plot_is_that_of_its_lines():
    text = "Plot 1 (1/10 ac),,\nSpecies,DBH (in),\nWO,14,\nRM,8,\nPlot 2 (1/20 acre),,\nSpecies,DBH (in),\nBO,12,\n"
    told = read(text, settings=PLACE)

    assert {row["point"]: float(row["plot_area_ac"]) for row in rows(told, "points")} == {"1": 0.1, "2": 0.05}
    assert [row["point"] for row in rows(told, "trees")] == ["1", "1", "2"]


@pytest.mark.parametrize("day", ["2025-05-14T09:12:00Z", "2025-05-14 09:12", "2025-05-14T09:12:00-05:00"])
def test_a_time_behind_a_day_is_left_out(day):
    told = read(f"Plot,Date,Sp,DBH (in)\n1,{day},WO,14\n", settings={name: one for name, one in PRISM.items() if name != "visited_on"})

    assert [row["visited_on"] for row in rows(told, "visits")] == ["2025-05-14"]


def test_lines_of_several_logs_of_a_tree_are_asked_about():
    text = "Plot,Sp,DBH (in),Log\n1,WO,18,1\n1,WO,18,2\n2,BO,16,1\n"

    assert "Log" in question(proposed(text, settings=PRISM), "columns_left").evidence[0]


def test_plots_numbered_anew_below_a_line_of_words_are_asked_about_and_can_be_told_apart():
    text = "Plot,Sp,DBH (in)\n1,WO,14\n2,RM,8\nLine B,,\n1,BO,12\n2,WO,15\n"
    told = read(text, settings=PRISM | {"plot_names": "apart"})

    assert "row 4 (Line B)" in question(proposed(text, settings=PRISM), "plot_names").evidence[0]
    assert [row["point"] for row in rows(told, "trees")] == ["1", "2", "1 Line B", "2 Line B"]
    assert not proposed(text.replace("\n1,BO", "\n3,BO").replace("\n2,WO", "\n4,WO"), settings=PRISM).open_questions


def test_a_code_in_brackets_is_asked_about():
    asked = proposed("Plot,Sp,DBH (in)\n1,(BO),14\n1,WO,12\n", settings=PRISM)

    assert [one.key for one in asked.open_questions] == ["species_mark.()"]


def test_words_that_make_codes_of_all_counts_can_leave_the_sheet_out():
    text = "Stocking code: 0=none 1=1-2 stems 2=3-9,,,\nPlot,Species,Ht class,Count\n1,WO,1-3,2\n2,RM,1-3,1\n"
    told = read(text, settings=FLOOR | {"remarks": "leave out"})

    assert not rows(told, "seedlings") and not rows(told, "points") and counts(told)["note"] == 2
