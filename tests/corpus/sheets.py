"""Rows of cells written as the files people send: csv in its dialects, xlsx, ods."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

Rows = Sequence[Sequence[object]]


@dataclass(frozen=True)
class Written:
    """How a file is written: its ending, and what is odd about it."""

    ending: str = "csv"
    delimiter: str = ","
    encoding: str = "utf-8"
    merged: Mapping[str, Sequence[str]] = field(default_factory=dict)
    before: str = ""
    line_end: str = "\r\n"


CSV = Written()
XLSX = Written("xlsx")
ODS = Written("ods")


def write(folder: Path, name: str, sheets: Mapping[str, Rows], how: Written) -> Path:
    """Write the sheets into one file; a csv holds one."""
    path = folder / f"{name}.{how.ending}"
    path.write_bytes({"xlsx": _xlsx, "ods": _ods}.get(how.ending, _text)(sheets, how))
    return path


def _text(sheets: Mapping[str, Rows], how: Written) -> bytes:
    (rows,) = sheets.values()
    stream = io.StringIO()
    csv.writer(stream, delimiter=how.delimiter, lineterminator=how.line_end).writerows([[_plain(cell) for cell in row] for row in rows])
    return (how.before + stream.getvalue()).encode(how.encoding)


def _plain(cell: object) -> str:
    if isinstance(cell, dt.date):
        return cell.isoformat()
    return "" if cell is None else str(cell)


def _xlsx(sheets: Mapping[str, Rows], how: Written) -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for number, row in enumerate(rows, start=1):
            for place, cell in enumerate(row, start=1):
                if cell not in ("", None):
                    sheet.cell(number, place, cell)
        for area in how.merged.get(name, ()):
            sheet.merge_cells(area)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _ods(sheets: Mapping[str, Rows], how: Written) -> bytes:
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableRow

    document = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for cell in row:
                line.addElement(_ods_cell(cell))
            table.addElement(line)
        document.spreadsheet.addElement(table)
    stream = io.BytesIO()
    document.write(stream)
    return stream.getvalue()


def _ods_cell(cell: object):
    from odf.table import TableCell
    from odf.text import P

    if cell in ("", None):
        return TableCell()
    if isinstance(cell, dt.date):
        made = TableCell(valuetype="date", datevalue=cell.isoformat())
    elif isinstance(cell, int | float):
        made = TableCell(valuetype="float", value=str(cell))
    else:
        made = TableCell(valuetype="string")
    made.addElement(P(text=_plain(cell)))
    return made
