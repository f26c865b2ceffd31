"""What sheets say beside their columns (a factor in a note, years, points that come again), and cells that are no plain numbers."""

from __future__ import annotations

import io

import openpyxl
import pytest

from foreign_files import FLOOR, PLACE, PRISM, counts, proposed, question, read, rows
from overwood.ground import species
from overwood.ground.errors import BadRecords, Misuse

HEAD = "Plot,Sp,DBH (in)\n"


def sizes(text, **said):
    return [float(row["dbh_in"]) for row in rows(read(text, settings=said.pop("settings", PRISM), **said), "trees")]


def test_a_note_that_names_another_factor_or_plot_stops_the_sheet_until_a_person_says_that_one_holds():
    text = HEAD + "1,WO,12\n2,BO,14\n{note},,\n3,WO,16\n"

    for note in ("BAF 20 from here", "prism factor 20 used on ridge", "1/20 ac plots from here on"):
        with pytest.raises(Misuse, match="one factor or plot size"):
            read(text.format(note=note), settings=PRISM)
        assert sizes(text.format(note=note), settings=PRISM | {"other_factor": "as written"}) == [12, 14, 16]


@pytest.mark.parametrize("note", ["BAF 10 used throughout", "rain from here on", "checked 20 trees"])
def test_a_note_that_agrees_or_speaks_of_something_else_is_not_asked_about(note):
    assert sizes(HEAD + f"1,WO,12\n2,BO,14\n{note},,\n3,WO,16\n") == [12, 14, 16]


def test_lines_of_two_years_are_never_one_visit_unless_a_person_says_so():
    text = "Plot,Sp,DBH (in),Year\n1,WO,12,2015\n1,WO,13.5,2025\n2,BO,10,2015\n2,none,,2025\n"

    with pytest.raises(Misuse, match="lines of 2015, 2025"):
        read(text, settings=PRISM)
    newer = read(text, settings=PRISM | {"year": "2025"})
    assert [row["dbh_in"] for row in rows(newer, "trees")] == ["13.5"]
    assert {row["point"] for row in rows(newer, "points")} == {"1", "2"}
    assert counts(newer) == {"heading": 1, "tally": 1, "empty": 1, "note": 2}
    assert sizes(text, settings=PRISM | {"year": "all"}) == [12, 13.5, 10]


def test_one_year_or_a_year_of_birth_is_not_asked_about():
    assert sizes("Plot,Sp,DBH (in),Year\n1,WO,12,2025\n2,BO,10,2025\n") == [12, 10]


def test_points_that_come_again_after_others_are_doubted_and_a_sheet_sorted_otherwise_is_not():
    again = HEAD + "1.1,WO,12\n1.2,BO,13\n1.3,BO,13\n1.9,WO,14\n1.1,RM,15\n2.1,WO,11\n"
    by_species = HEAD + "1,WO,12\n2,WO,13\n3,WO,9\n1,RM,8\n2,RM,9\n3,RM,7\n"

    assert "Points 1.1 come again after other points" in " ".join(question(proposed(again, settings=PRISM), "plot_names").evidence)
    assert not proposed(by_species, settings=PRISM).open_questions


def test_fractions_of_an_inch_are_read():
    assert sizes(HEAD + '1,WO,8 1/2\n1,BO,10 3/4\n2,WO,12-1/8\n2,RM,"9 1/2"""\n') == [8.5, 10.75, 12.125, 9.5]


def test_a_girth_is_pi_times_the_diameter_and_that_is_said():
    shown = proposed("Plot,Sp,Girth (in)\n1,WO,37.7\n2,BO,44\n", settings=PRISM)

    assert sizes("Plot,Sp,Girth (in)\n1,WO,37.7\n2,BO,44\n") == pytest.approx([12.0, 14.006], abs=0.01)
    assert sizes("Plot,Sp,CBH (cm)\n1,WO,95.76\n2,BO,111.7\n") == pytest.approx([12.0, 14.0], abs=0.01)
    assert "the diameter is it over pi" in " ".join(shown.sheets[0].notes)


def test_a_weight_of_lines_is_asked_about_before_it_is_passed_over():
    text = "Plot,Sp,DBH (in),Weight\n1,WO,12,2\n2,BO,14,1\n"

    with pytest.raises(Misuse, match="no column of stems counted"):
        read(text, settings=PRISM)
    assert [row["stems"] for row in rows(read(text, settings=PRISM, columns={"Weight": "stems"}), "trees")] == ["2", "1"]


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("802 - white oak", "802"), ("White Oak (Quercus alba)", "802"), ("QUAL: white oak", "802"), ("Q. rubra", "833"),
        ("q rubra", "833"), ("802 - red maple", "999"), ("oak (white?)", "999"),
    ],
)  # fmt: skip
def test_a_code_and_a_name_in_one_cell_are_read_where_they_agree(written, code):
    assert [row["species"] for row in rows(read(HEAD + f"1,{written},12\n", settings=PRISM), "trees")] == [code]


def test_a_genus_by_its_letter_is_read_only_where_one_species_is_meant():
    short = [
        f"{one.scientific_name[0]}. {one.scientific_name.split()[1]}"
        for one in species.all_species().values()
        if " " in one.scientific_name
    ]
    twice = {name for name in short if short.count(name) > 1}

    assert species.match("Q. velutina").spcd == 837
    assert not any(species.match(name).spcd for name in twice - {"Q. spp.", "C. spp."} if "spp" not in name)


def test_a_workbook_of_formulas_that_were_never_worked_out_is_refused_with_words():
    book = openpyxl.Workbook()
    for cells in (("Plot", "Sp", "DBH (in)", "Count"), (1, "WO", 12, "=1+1"), (2, "BO", 13, 1)):
        book.active.append(cells)
    kept = io.BytesIO()
    book.save(kept)

    with pytest.raises(BadRecords) as caught:
        proposed(kept.getvalue(), "a.xlsx", settings=PRISM)
    assert "1 cells hold formulas that were never worked out" in caught.value.problems[0].what


@pytest.mark.parametrize("count", ["TNTC", "50+", "5-10", "~12", "0.5"])
def test_a_count_that_is_no_number_is_handed_on_for_the_check_to_name(count):
    found = rows(read(f"Plot,Sp,Ht class,Count\n1,WO,1-3,{count}\n2,WO,1-3,3\n", settings=FLOOR), "seedlings")

    assert [row["stems"] for row in found] == [count, "3"]


def test_the_note_on_a_factor_is_a_question_with_its_row():
    asked = proposed(HEAD + "1,WO,12\nBAF 20 from here,,\n2,BO,14\n", settings=PLACE | {"baf_ft2_ac": "10"})

    assert "Row 3 says 'BAF 20 from here'" in question(asked, "other_factor").text


def test_a_remark_of_a_tree_is_kept_and_says_that_it_is_dead_or_cull():
    """Dead trees counted live would raise basal area: a plain word is taken, more words are asked about."""
    text = "Plot,Sp,DBH (in),Remarks\n1,WO,12,dead\n1,WO,14,Snag\n1,BO,9,fire scar\n2,RM,8,dead top\n2,WO,16,cull\n3,,,no trees\n4,,,not visited\n,,,rain from noon\n"
    said = PRISM | {}

    with pytest.raises(Misuse, match="dead top"):
        read(text, settings=said)
    trees = {meaning: rows(read(text, settings=said, codes={"note_mark.dead top": meaning}), "trees") for meaning in ("dead", "none")}

    assert [tree["status"] for tree in trees["dead"]] == ["dead", "dead", "", "dead", ""]
    assert [tree["status"] for tree in trees["none"]] == ["dead", "dead", "", "", ""]
    assert [tree["quality"] for tree in trees["none"]] == ["", "", "", "", "cull"]
    assert [tree["note"] for tree in trees["none"]] == ["dead", "Snag", "fire scar", "dead top", "cull"]
    assert counts(read(text, settings=said, codes={"note_mark.dead top": "none"})) == {"heading": 1, "tally": 5, "empty": 1, "note": 2}


def test_a_quotation_mark_alone_is_the_same_as_above_and_swallows_no_row():
    """A person who types a table by hand; to the csv standard (RFC 4180, section 2) the mark would open a cell of many lines."""
    assert [row["species"] for row in rows(read(HEAD + '1,WO,12\n1,",14\n1,",9\n2,BO,8\n', settings=PRISM), "trees")] == [
        "802",
        "802",
        "802",
        "837",
    ]
    assert sizes('Plot,DBH (in),Sp\n1,12,WO\n1,14,"\n2,9,BO\n3,10,BO\n') == [12, 14, 9, 10]
    first = rows(read('Plot,Sp,DBH (in)\n1,WO,12\n",WO,13\n",BO,14\n2,RM,9\n', settings=PRISM), "trees")
    assert [(row["point"], float(row["dbh_in"])) for row in first] == [("1", 12), ("1", 13), ("1", 14), ("2", 9)]
    two = rows(read('Plot,Sp,Crown,DBH (in)\n1,WO,D,12\n1,",",13\n2,RM,C,9\n', settings=PRISM), "trees")
    assert [row["crown_class"] for row in two] == ["dominant", "dominant", "codominant"]


def test_a_quotation_mark_never_closed_is_told_with_its_row():
    with pytest.raises(BadRecords) as fault:
        read(HEAD + '1,WO,12\n1,"BO,14\n2,RM,9\n3,BO,8\n', settings=PRISM)
    assert "closing quotation mark" in str(fault.value.problems[0])
    assert fault.value.problems[0].row == 3


def test_a_cell_may_break_its_line_and_hold_commas():
    remark = "leans, wet\nfork, scar, broken, top, burl"
    text = f'Plot,Sp,DBH (in),Remarks\n1,WO,12,"{remark}"\n1,BO,9,\n'

    assert [tree["note"] for tree in rows(read(text, settings=PRISM), "trees")] == [remark, ""]


@pytest.mark.parametrize("remark", [",", ", leans,"])
def test_a_remark_may_begin_and_end_with_a_comma(remark):
    text = f'Plot,Sp,Remarks,DBH (in)\n1,WO,"{remark}",12\n1,BO,,9\n'

    assert [float(tree["dbh_in"]) for tree in rows(read(text, settings=PRISM), "trees")] == [12, 9]


def test_a_letter_in_the_remarks_is_no_dead_tree():
    text = "Plot,Sp,DBH (in),Remarks\n1,WO,12,x\n1,WO,13,d\n1,BO,14,c\n2,WO,9,sn\n"

    assert [tree.get("status", "") for tree in rows(read(text, settings=PRISM), "trees")] == [""] * 4


@pytest.mark.parametrize("last", ['2,RM,8,"x"', "2,RM,8,x"])
def test_a_mark_not_closed_in_its_row_is_told_though_another_closes_it(last):
    with pytest.raises(BadRecords, match="cannot be read"):
        read(f'Plot,Sp,DBH (in),Remarks\n1,"WO,12,a\n1,BO,9,b\n{last}\n3,WO,11,\n', settings=PRISM)


def test_a_size_class_without_an_upper_limit_is_asked_and_its_answer_is_taken():
    text = HEAD + "1,WO,14\n1,BO,17+\n2,WO,>20\n"

    assert {one.key for one in proposed(text, settings=PRISM).questions if one.kind == "code"} == {"dbh_in.17+", "dbh_in.>20"}
    assert sizes(text, codes={"dbh_in.17+": "18", "dbh_in.>20": "22"}) == [14, 18, 22]


@pytest.mark.parametrize("heading", ["Ht (8 ft logs)", "8-ft logs", "Half logs", "Logs (8')", "No. of 8 ft logs"])
def test_logs_of_eight_feet_are_halves_of_the_usual_ones(heading):
    """Mesavage and Girard 1946: heights are counted in 16-ft logs and halves of them."""
    applied = read(f"Plot,Sp,DBH (in),{heading}\n1,WO,14,3\n1,BO,18,4\n2,WO,12,\n", settings=PRISM)

    assert [float(row["logs"] or 0) for row in rows(applied, "trees")] == [1.5, 2, 0]
    assert all(not row.get("height_ft") for row in rows(applied, "trees"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Plot,BAF,Sp,DBH (cm)\n1,2,WO,35\n2,2,BO,41\n", PLACE),
        ("BAF: 2\nPlot,Sp,DBH (cm)\n1,WO,35\n2,BO,41\n", PLACE),
        ("Plot,Sp,DBH (cm)\n1,WO,35\n2,BO,41\n", PLACE | {"baf_ft2_ac": "2"}),
        ("Plot,BAF,Sp,DBH (in)\n1,2,WO,14\n2,2,BO,16\n", PLACE),
    ],
)
def test_a_factor_beside_metric_diameters_is_asked_about_for_its_unit(text, said):
    """A factor of 2 m2/ha counts 8.712 ft2/ac a tree (an acre is 0.40468564 ha, a foot 0.3048 m): four times a factor of 2 ft2/ac."""
    asked = question(proposed(text, settings=said), "factor_unit")
    assert asked.is_open
    assert [choice.value for choice in asked.choices] == ["m2/ha", "ft2/ac"]
    with pytest.raises(Misuse, match="names no unit"):
        read(text, settings=said)
    factors = [rows(read(text, settings=said | {"factor_unit": unit}), "rings")[0]["baf_ft2_ac"] for unit in ("m2/ha", "ft2/ac")]
    assert [float(factor) for factor in factors] == [8.712, 2]


def test_factors_of_several_points_beside_metric_diameters_are_asked_about_once():
    text = "Plot,BAF,Sp,DBH (cm)\n1,2,WO,35\n2,4,BO,41\n"

    with pytest.raises(Misuse, match="names no unit"):
        read(text, settings=PLACE)
    points = rows(read(text, settings=PLACE | {"factor_unit": "m2/ha"}), "points")
    assert [float(point["baf_ft2_ac"]) for point in points] == [8.712, pytest.approx(17.424, abs=1e-3)]


def test_factors_of_a_list_of_plots_are_asked_about_beside_their_tally():
    book = openpyxl.Workbook()
    book.active.title = "Plots"
    trees = book.create_sheet("Trees")
    for sheet, lines in (
        (book.active, [("Plot", "BAF"), (1, 2), (2, 4)]),
        (trees, [("Plot", "Sp", "DBH (cm)"), (1, "WO", 35), (2, "BO", 41)]),
    ):
        for cells in lines:
            sheet.append(cells)
    kept = io.BytesIO()
    book.save(kept)
    said = PLACE | {"Trees.baf_ft2_ac": "2 m2/ha"}

    assert question(proposed(kept.getvalue(), "a.xlsx", settings=said), "Plots.factor_unit").is_open
    points = rows(read(kept.getvalue(), "a.xlsx", settings=said | {"Plots.factor_unit": "m2/ha"}), "points")
    assert [float(point["baf_ft2_ac"]) for point in points] == [8.712, pytest.approx(17.424, abs=1e-3)]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Plot,BAF (m2/ha),Sp,DBH (cm)\n1,2,WO,35\n2,2,BO,41\n", PLACE),
        ("Plot,BAF,Sp,DBH (cm)\n1,2,WO,35\n2,2,BO,41\n", PLACE | {"baf_ft2_ac": "2 m2/ha"}),
        ("Plot,BAF,Sp,DBH (cm)\n1,10,WO,35\n2,10,BO,41\n", PLACE),
        ("Plot,BAF,Sp,DBH (in)\n1,5,WO,14\n2,5,BO,16\n", PLACE),
    ],
)
def test_a_factor_that_can_be_of_one_unit_only_asks_nothing(text, said):
    assert "factor_unit" not in {one.key for one in proposed(text, settings=said).questions}
    assert read(text, settings=said)


@pytest.mark.parametrize("title", ["Cruise of K1, BAF 20, May 2025", "20-factor prism", "1/5 acre plots", "0.2-acre plots"])
def test_a_title_that_names_another_factor_or_plot_is_asked_about(title):
    text = f"{title.replace(',', '')},,\n{HEAD}1,WO,12\n2,BO,14\n"

    asked = question(proposed(text, settings=PRISM), "other_factor")
    assert "a factor of 10 ft2/ac" in asked.text
    assert "Row 1 says" in asked.text
    with pytest.raises(Misuse, match="one factor or plot size"):
        read(text, settings=PRISM)
    assert read(text, settings=PRISM | {"other_factor": "as written"})


@pytest.mark.parametrize(
    ("title", "name", "size"),
    [
        ("Cruise with BAF 20", "baf_ft2_ac", 20),
        ("10-factor prism", "baf_ft2_ac", 10),
        ("BAF 2 m2/ha", "baf_ft2_ac", 8.712),
        ("1/5 acre plots", "plot_area_ac", 0.2),
    ],
)
def test_a_factor_or_plot_in_a_title_is_proposed(title, name, size):
    ring = rows(read(f"{title},,\n{HEAD}1,WO,12\n2,BO,14\n", settings=PLACE), "rings")[0]

    assert float(ring[name]) == pytest.approx(size, abs=1e-3)


@pytest.mark.parametrize("title", ["BAF 10 and 1/100 ac regen plots", "K1: 20.5 acres", "Tract of 1/4 section", "Prism cruise 2025"])
def test_a_title_that_agrees_or_speaks_of_something_else_asks_nothing(title):
    text = f"{title},,\n{HEAD}1,WO,12\n2,BO,14\n"

    assert "other_factor" not in {one.key for one in proposed(text, settings=PRISM).questions}


@pytest.mark.parametrize(
    "text",
    [
        "Plot,Plot size,Sp,DBH (cm)\n1,0.04,WO,35\n2,0.04,BO,41\n",
        "Plot size: 0.04\nPlot,Sp,DBH (cm)\n1,WO,35\n2,BO,41\n",
        "Plot size: 0.04\nPlot,Sp,30 cm,40 cm\n1,WO,1,2\n2,BO,2,1\n",
    ],
)
def test_a_plot_size_without_a_unit_on_a_metric_sheet_is_asked_about(text):
    """A hectare is 2.471 acres (0.3048 m to the foot, 43,560 ft2 to the acre)."""
    with pytest.raises(Misuse, match="in hectares or in acres"):
        read(text, settings=PLACE)
    sizes = [float(rows(read(text, settings=PLACE | {"plot_unit": unit}), "rings")[0]["plot_area_ac"]) for unit in ("ha", "ac")]
    assert sizes == [pytest.approx(0.0988, abs=1e-4), 0.04]


def test_names_of_one_plot_written_in_several_ways_are_told():
    text = "Plot,Sp,DBH (in)\nPlot 1,WO,12\nplot 1,BO,14\nPLOT1,RM,5\n1,RM,6\n2A,RM,9\n2a,WO,9\nP-3,WO,8\n"

    told = " ".join(question(proposed(text, settings=PRISM), "plot_names").evidence)
    assert "Plot 1 and plot 1 and PLOT1 and 1, 2A and 2a are read as different plots" in told


def test_a_line_that_numbers_several_trees_is_told():
    shown = proposed("Plot,Tree,Sp,DBH (in)\n1,1-3,WO,12\n1,4,BO,14\n", settings=PRISM)

    assert question(shown, "remarks").evidence == ("'tree 1-3' (row 2): read as one stem a line",)


@pytest.mark.parametrize(
    ("heading", "column", "cells", "units"),
    [
        ("Cull", "defect_pct", ("1", "0", "0"), {"share": 100, "%": 1}),
        ("Defect", "defect_pct", ("1", "3", "0"), {"tens of %": 10, "%": 1}),
        ("LCR", "crown_ratio_pct", ("3", "4", "5"), {"tens of %": 30, "%": 3}),
    ],
)
def test_percents_of_one_digit_are_asked_about(heading, column, cells, units):
    text = f"Plot,Sp,DBH (in),{heading}\n" + "".join(f"{number},WO,12,{cell}\n" for number, cell in enumerate(cells, 1))

    with pytest.raises(Misuse, match="percents"):
        read(text, settings=PRISM)
    assert {unit: float(rows(read(text, settings=PRISM, units={column: unit}), "trees")[0][column]) for unit in units} == units


def test_a_class_read_to_a_tenth_ends_where_the_next_begins():
    assert sizes("Plot,Sp,DBH class (in)\n1,WO,10.0-11.9\n1,BO,12-13.9\n2,RM,10-12\n") == [11, 13, 11]


@pytest.mark.parametrize(("code", "meant"), [("BE", ("531", "332")), ("BW", ("951", "602"))])
def test_letters_that_foresters_use_for_two_species_are_asked_about(code, meant):
    asked = question(proposed(f"{HEAD}1,{code},12\n", settings=PRISM), code)

    assert tuple(choice.value for choice in asked.choices)[:2] == meant
    assert asked.needed


def test_rows_that_sum_the_species_of_a_plot_are_no_stems():
    text = "Plot,Sp,Ht class,Count\n1,WO,1-3,2\n1,RM,1-3,1\n1,ALL,1-3,3\n2,RM,1-3,4\n2,All species,1-3,4\n3,none,,\n"

    found = read(text, settings=FLOOR)
    assert [row["stems"] for row in rows(found, "seedlings")] == ["2", "1", "4"]
    assert counts(found) == {"heading": 1, "tally": 3, "total": 2, "empty": 1}
    trees = read("Plot,Sp,DBH (in),Count\n1,WO,12,2\n1,BO,9,1\n1,All,,3\n", settings=PRISM)
    assert [row["stems"] for row in rows(trees, "trees")] == ["2", "1"]


@pytest.mark.parametrize(
    "text",
    [
        "Plot,White oak,Black oak,Oaks,Red maple\n1,2,1,3,4\n2,0,0,0,3\n",
        "Plot,Sp,Count\n1,White oak,2\n1,Black oak,1\n1,Oaks,3\n1,Red maple,4\n2,Red maple,3\n",
    ],
)
def test_a_genus_that_holds_what_its_species_hold_is_asked_about(text):
    said = FLOOR | {"height_class": "1-3"}

    with pytest.raises(Misuse, match="is it their sum"):
        read(text, settings=said)
    stems = {
        told: [int(row["stems"]) for row in rows(read(text, settings=said | {"sum_rows": told}), "seedlings")]
        for told in ("leave out", "stems")
    }
    assert stems == {"leave out": [2, 1, 4, 3], "stems": [2, 1, 3, 4, 3]}


def test_an_oak_of_unknown_kind_beside_others_is_a_stem():
    text = "Plot,Sp,Count\n1,White oak,2\n1,Black oak,1\n1,Oak,3\n2,White oak,3\n2,Oak,1\n"

    assert "sum_rows" not in {one.key for one in proposed(text, settings=FLOOR | {"height_class": "1-3"}).questions}
