"""What a workbook hides: hidden rows of a tally are asked about, hidden columns and sheets told, cells merged over rows of an ods filled."""

from __future__ import annotations

import io

import openpyxl
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.style import Style, TextProperties
from odf.table import CoveredTableCell, Table, TableCell, TableColumn, TableRow
from odf.text import P

from foreign_files import LEFT, PRISM, fates, proposed, read, rows, sheets
from overwood.ground.errors import Misuse
from overwood.memory.exchange import workbook_child

TALLY = [["Plot", "Sp", "DBH (in)", "Hint"], [1, "WO", 12, "x"], [1, "BO", 14, None], [2, "WO", 16, None], [3, "none", None, None]]


def workbook(hidden_rows=(), hidden_columns=(), state="visible", tally=TALLY) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    for cells in tally:
        sheet.append(cells)
    for row in hidden_rows:
        sheet.row_dimensions[row].hidden = True
    for column in hidden_columns:
        sheet.column_dimensions[column].hidden = True
    if state != "visible":
        book.create_sheet("Front")
        sheet.sheet_state = state
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


def ods(tally, hidden_rows=(), spans=None) -> bytes:
    """An ods; ``spans`` is (row, column) from 0 to the rows that its cell is merged over."""
    spans = spans or {}
    covered = {(row + more, column) for (row, column), down in spans.items() for more in range(1, down)}
    book, table = OpenDocumentSpreadsheet(), Table(name="Cruise")
    table.addElement(TableColumn(numbercolumnsrepeated=str(len(tally[0]))))
    for number, cells in enumerate(tally):
        line = TableRow(visibility="filter" if number + 1 in hidden_rows else "visible")
        for column, value in enumerate(cells):
            if (number, column) in covered:
                line.addElement(CoveredTableCell())
                continue
            more = {"numberrowsspanned": str(spans[number, column])} if (number, column) in spans else {}
            kind = {"valuetype": "float", "value": str(value)} if isinstance(value, int | float) else {"valuetype": "string"}
            cell = TableCell(**more, **(kind if value is not None else {}))
            if value is not None:
                cell.addElement(P(text=str(value)))
            line.addElement(cell)
        table.addElement(line)
    book.spreadsheet.addElement(table)
    kept = io.BytesIO()
    book.write(kept)
    return kept.getvalue()


@pytest.mark.parametrize(("name", "content"), [("a.xlsx", workbook([3, 5])), ("a.ods", ods(TALLY, [3, 5]))])
def test_hidden_rows_of_a_tally_are_asked_about_and_read_or_left_as_told(name, content):
    with pytest.raises(Misuse, match=r"2 rows of the tally are hidden in the sheet \(row 3, 5\)"):
        read(content, name, settings=PRISM)
    all_of_it = read(content, name, settings=PRISM | LEFT | {"hidden_rows": "read"})
    seen = read(content, name, settings=PRISM | LEFT | {"hidden_rows": "leave out"})

    assert [row["dbh_in"] for row in rows(all_of_it, "trees")] == ["12", "14", "16"]
    assert [row["dbh_in"] for row in rows(seen, "trees")] == ["12", "16"]
    assert {row["point"] for row in rows(all_of_it, "points")} == {"1", "2", "3"}
    assert {row["point"] for row in rows(seen, "points")} == {"1", "2"}
    assert fates(seen) == {1: "heading", 2: "tally", 3: "note", 4: "tally", 5: "note"}


def test_a_hidden_row_that_holds_no_line_is_not_asked_about():
    content = workbook([6], tally=[*TALLY, ["Total trees", None, 42, None]])

    assert [row["dbh_in"] for row in rows(read(content, "a.xlsx", settings=PRISM | LEFT), "trees")] == ["12", "14", "16"]


def test_hidden_columns_and_sheets_are_told():
    notes = proposed(workbook((), "CD", "hidden"), "a.xlsx", settings=PRISM).sheets[0].notes

    assert "The sheet is hidden in its workbook." in notes
    assert "Hidden in the sheet, and read: DBH (in)." in notes
    assert "Hidden in the sheet, and not read: Hint." in notes


def test_words_merged_over_rows_of_an_ods_hold_for_each_and_numbers_do_not():
    tally = [["Plot", "Sp", "DBH (in)", "Count"], [1, "WO", 12, 3], [1, None, 14, None], [2, "BO", 16, 1]]
    found = sheets(ods(tally, spans={(1, 1): 2, (1, 3): 2}), "a.ods")[0].rows()

    assert [cells for _, cells in found][1:3] == [["1", "WO", "12", "3"], ["1", "WO", "14"]]


@pytest.mark.parametrize("content", [b"no zip", b"PK\x03\x04 cut off"])
def test_a_workbook_whose_look_cannot_be_understood_hides_nothing(content):
    assert workbook_child.looks_of(content) == {}


def test_rows_struck_through_are_asked_about():
    """A person who types takes a row back by striking it through: the cells are still there."""
    book = openpyxl.load_workbook(io.BytesIO(workbook()))
    for cell in book.active[3]:
        cell.font = openpyxl.styles.Font(strike=True)
    book.active["C2"].font = openpyxl.styles.Font(strike=True)
    kept = io.BytesIO()
    book.save(kept)

    with pytest.raises(Misuse, match=r"1 row of the tally is struck through in the sheet \(row 3\)"):
        read(kept.getvalue(), "a.xlsx", settings=PRISM)
    stems = {
        told: len(rows(read(kept.getvalue(), "a.xlsx", settings=PRISM | LEFT | {"struck_rows": told}), "trees"))
        for told in ("read", "leave out")
    }
    assert stems == {"read": 3, "leave out": 2}


def test_rows_of_an_ods_struck_through_are_asked_about():
    book, table = OpenDocumentSpreadsheet(), Table(name="Cruise")
    style = Style(name="gone", family="table-cell")
    style.addElement(TextProperties(textlinethroughstyle="solid"))
    book.automaticstyles.addElement(style)
    for number, cells in enumerate((("Plot", "Sp", "DBH (in)"), (1, "WO", 12), (1, "BO", 14))):
        line = TableRow()
        for value in cells:
            cell = TableCell(valuetype="string", **({"stylename": style} if number == 2 else {}))
            cell.addElement(P(text=str(value)))
            line.addElement(cell)
        table.addElement(line)
    book.spreadsheet.addElement(table)
    kept = io.BytesIO()
    book.write(kept)

    with pytest.raises(Misuse, match=r"struck through in the sheet \(row 3\)"):
        read(kept.getvalue(), "a.ods", settings=PRISM)
