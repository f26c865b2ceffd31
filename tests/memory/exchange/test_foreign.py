"""Foreign spreadsheets: headings, units and codes proposed, questions asked, the answer kept."""

from __future__ import annotations

import openpyxl
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from conftest import TODAY
from overwood.desk import importing
from overwood.ground.errors import Misuse
from overwood.ground.units import conversion
from overwood.memory.book import store
from overwood.memory.exchange import foreign
from records import SHEETS, write

CRUISE = [
    ["Timber cruise of the back land, spring", "", "", "", "", "", "", ""],
    ["", "", "", "", "", "", "", ""],
    ["Stand", "Date", "Pt", "Sp", "DBH (cm)", "Ht (m)", "CC", "Remarks"],
    ["A1", "5/14/2025", "1", "WO", "46.2", "26.8", "CD", "fork"],
    ["", "", "", "RO", "53.3", "", "D", ""],
    ["", "", "", "", "", "", "", ""],
    ["", "", "2", "HI", "30.5", "22", "I", ""],
    ["", "", "3", "", "", "", "", "no trees in"],
]
ANSWERS = {"settings": {"baf_ft2_ac": "10"}, "codes": {"RO": "833"}}


def _xlsx(folder, rows, name="cruise.xlsx", merge="A1:H1"):
    book = openpyxl.Workbook()
    book.active.title = "Sheet1"
    for row in rows:
        book.active.append([_typed(cell) for cell in row])
    if merge:
        book.active.merge_cells(merge)
    book.save(folder / name)
    return folder / name


def _typed(cell):
    try:
        return float(cell)
    except ValueError:
        return cell or None


@pytest.fixture
def ground(sqlite_book, tmp_path):
    importing.bring_in(write(tmp_path, {name: SHEETS[name] for name in ("properties", "stands")}), today=TODAY)


def test_a_foreign_cruise_is_proposed_with_its_questions(ground, tmp_path):
    with pytest.raises(importing.NeedsMapping) as asked:
        importing.bring_in(_xlsx(tmp_path, CRUISE), today=TODAY)

    plan = asked.value.proposal["sheets"][0]
    assert (plan["table"], plan["heading_row"]) == ("trees", 3)
    assert plan["columns"]["dbh_in"] == {"from": "DBH (cm)", "unit": "cm"}
    assert plan["columns"]["height_ft"] == {"from": "Ht (m)", "unit": "m"}
    assert plan["codes"]["species"] == {"HI": "400", "RO": "", "WO": "802"}
    assert plan["codes"]["crown_class"] == {"CD": "codominant", "D": "dominant", "I": "intermediate"}
    assert plan["fill_down"] == ["stand", "visited_on", "point"]
    assert plan["not_used"] == ["Remarks"]
    assert any("--code RO=" in question for question in plan["questions"])
    assert any("baf_ft2_ac" in question for question in plan["questions"])


def test_a_confirmed_mapping_brings_trees_in_and_keeps_the_empty_point(ground, tmp_path):
    report = importing.bring_in(_xlsx(tmp_path, CRUISE), today=TODAY, answers=importing.Answers(accept=True, **ANSWERS))

    assert report.faults == []
    assert report.new == {"visits": 1, "rings": 1, "points": 3, "trees": 3}
    trees = store.records("trees")
    assert [tree.species for tree in trees] == [802, 833, 400]
    assert trees[0].dbh_in == pytest.approx(conversion("cm", "in")(46.2), abs=1e-3)
    assert trees[0].height_ft == pytest.approx(conversion("m", "ft")(26.8), abs=1e-3)
    assert [point.point for point in store.records("points")] == ["1", "2", "3"]
    assert store.records("visits")[0].visited_on.isoformat() == "2025-05-14"


def test_the_next_file_of_the_same_headings_needs_no_questions(ground, tmp_path):
    importing.bring_in(_xlsx(tmp_path, CRUISE), today=TODAY, answers=importing.Answers(accept=True, save_as="old cruiser", **ANSWERS))
    later = [row[:] for row in CRUISE]
    later[3][1] = "6/20/2025"

    report = importing.bring_in(_xlsx(tmp_path, later, "june.xlsx"), today=TODAY)

    assert report.mapping == "old cruiser"
    assert report.new["trees"] == 3


def test_an_open_question_stops_the_import_and_names_itself(ground, tmp_path):
    with pytest.raises(Misuse, match="--code RO=NUMBER"):
        importing.bring_in(_xlsx(tmp_path, CRUISE), today=TODAY, answers=importing.Answers(accept=True, settings={"baf_ft2_ac": "10"}))

    assert store.current("trees").count() == 0


def test_an_answer_to_no_question_is_refused(ground, tmp_path):
    answers = importing.Answers(accept=True, settings={"baf": "10"}, codes={"RO": "833"})

    with pytest.raises(Misuse, match="answers no question"):
        importing.bring_in(_xlsx(tmp_path, CRUISE), today=TODAY, answers=answers)


def test_a_bad_cell_in_a_foreign_sheet_is_named_by_the_spreadsheets_row(ground, tmp_path):
    wrong = [row[:] for row in CRUISE]
    wrong[4][4] = "-53.3"

    report = importing.bring_in(_xlsx(tmp_path, wrong), today=TODAY, answers=importing.Answers(accept=True, **ANSWERS))

    assert [(p.row, p.column) for p in report.faults] == [(5, "dbh_in")]


def test_centimetres_without_a_word_are_suspected(ground, tmp_path):
    plain = [row[:] for row in CRUISE]
    plain[2][4] = "DBH"

    with pytest.raises(importing.NeedsMapping) as asked:
        importing.bring_in(_xlsx(tmp_path, plain), today=TODAY)

    plan = asked.value.proposal["sheets"][0]
    assert plan["columns"]["dbh_in"]["unit"] == "cm"
    assert any("centimetres" in question for question in plan["questions"])


def test_an_ods_sheet_of_seedlings_is_understood(ground, tmp_path):
    document, table = OpenDocumentSpreadsheet(), Table(name="regen")
    for line in (
        ["Stand", "Date", "Plot", "Species", "Ht class", "Count"],
        ["A1", "2025-08-20", "1", "White Oak", "1-3", "4"],
        ["A1", "2025-08-20", "2", "Red maple", "3-4.5", "2"],
    ):
        row = TableRow()
        for cell in line:
            made = TableCell(valuetype="string")
            made.addElement(P(text=cell))
            row.addElement(made)
        table.addElement(row)
    document.spreadsheet.addElement(table)
    document.save(str(tmp_path / "regen.ods"))
    answers = importing.Answers(accept=True, settings={"plot_area_ac": "0.00136054"})

    report = importing.bring_in(tmp_path / "regen.ods", today=TODAY, answers=answers)

    assert report.faults == []
    assert report.new == {"visits": 1, "rings": 1, "points": 2, "seedlings": 2}


@pytest.mark.parametrize(
    ("heading", "plain", "unit"),
    [
        ("DBH (cm)", "dbh", "cm"),
        ("Total Ht. [m]", "total ht", "m"),
        ("Stand_ID", "stand id", ""),
        ("Height ft", "height", "ft"),
        ("DBH", "dbh", ""),
    ],
)
def test_headings_are_read_without_their_units(heading, plain, unit):
    assert (foreign.plain(heading), foreign.unit_in(heading)) == (plain, unit)
