"""Writes the second, foreign-looking spreadsheet of the demo: another cruiser's own sheet, with every trap in it.

Own headings, a merged title row, blank lines, centimetres and metres beside each other, trade abbreviations of which
one is ambiguous, a point straddling the edge of S3, empty points as blank rows, a day that is none, a negative height,
a species nobody knows, a visit that is already in the book, a tally of exactly 3 ft, a plot without its radius.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import xlsxwriter

HERE = Path(__file__).resolve().parent
CRUISE = [
    ("S3", "6/3/2025", "21", "WO", 49.5, 27.4, "CD", "", ""),
    ("", "", "", "BO", 52.1, 28.0, "D", "", ""),
    ("", "", "", "CO", 41.4, "", "CD", "2", "straddles the S3 edge, walked through"),
    ("", "", "", "", "", "", "", "", ""),
    ("", "", "22", "RO", 55.9, 27.1, "D", "", "red oak"),
    ("", "", "", "HM", 15.2, 12.0, "OT", "", "maple? hemlock?"),
    ("", "", "23", "", "", "", "", "", "nothing in"),
    ("S7", "2024-02-30", "31", "SO", 38.1, 21.0, "CD", "", "wrong day"),
    ("S6", "5/27/2025", "41", "WO", 24.4, -19.5, "CD", "", "sign slipped"),
    ("", "", "", "wahoo", 20.3, 15.0, "I", "", "never seen before"),
    ("", "", "", "HI", 22.9, 18.6, "CD", "", ""),
]
FLOOR = [
    ("S1", "8/26/2025", "51", "WO", 3.0, 1, "exactly three feet"),
    ("S1", "8/26/2025", "51", "RM", 1.5, 6, ""),
    ("S1", "8/26/2025", "52", "", "", "", "empty plot"),
]


def build(target: Path) -> None:
    book = xlsxwriter.Workbook(str(target))
    book.set_properties({"created": dt.datetime(2025, 10, 1)})
    bold = book.add_format({"bold": True, "align": "center"})
    sheet = book.add_worksheet("back forty cruise")
    sheet.merge_range(0, 0, 0, 8, "Second look at the Vesperlick stands, paper tally typed in", bold)
    sheet.write_row(2, 0, ("Stand", "Date", "Pt", "Sp", "DBH (cm)", "Tot Ht (m)", "Crown", "Edge", "Remarks"), bold)
    for number, row in enumerate(CRUISE):
        sheet.write_row(3 + number, 0, row)
    floor = book.add_worksheet("regen")
    floor.write_row(0, 0, ("Stand", "Date", "Plot", "Species", "Ht (ft)", "Count", "Notes"), bold)
    for number, row in enumerate(FLOOR):
        floor.write_row(1 + number, 0, row)
    book.close()


if __name__ == "__main__":
    build(HERE / "second_cruiser.xlsx")
