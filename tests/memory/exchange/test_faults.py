"""Faults a file can have: each is named where it stands, nothing ends in a traceback, no good row is lost."""

from __future__ import annotations

import io
import zipfile

import openpyxl
import pytest

from conftest import TODAY
from overwood.desk import account, importing, session
from overwood.ground.errors import BadRecords
from overwood.memory.book import store
from records import SHEETS, bent, rows_of, write, zipped

GOOD = sum(rows_of(text) for text in SHEETS.values())

# name: records, sheet, column, a word of the message, rows that must be lost on release (children of a bad row too)
CELLS = {
    "a negative diameter": (bent("trees", "18.2", "-18.2"), "trees", "dbh_in", "cannot be taken", 1),
    "a diameter of zero": (bent("trees", "18.2", "0"), "trees", "dbh_in", "0.5 to 100", 1),
    "a diameter in words": (bent("trees", "18.2", "big"), "trees", "dbh_in", "a number", 1),
    "a diameter with its unit": (bent("trees", "18.2", "18.2 in"), "trees", "dbh_in", "If 18.2 is meant", 1),
    "a decimal comma": (bent("trees", "18.2", '"18,2"'), "trees", "dbh_in", "cannot be taken", 1),
    "not a number": (bent("trees", "18.2", "NaN"), "trees", "dbh_in", "a number", 1),
    "infinity": (bent("trees", "18.2", "inf"), "trees", "dbh_in", "a number", 1),
    "a diameter of a thousand": (bent("trees", "18.2", "1820"), "trees", "dbh_in", "largest allowed is 100", 1),
    "a blank diameter": (bent("trees", "18.2", ""), "trees", "dbh_in", "blank", 1),
    "a spreadsheet error": (bent("trees", "18.2", "#REF!"), "trees", "dbh_in", "a number", 1),
    "a formula left as text": (bent("trees", "18.2", "=B2*2"), "trees", "dbh_in", "a number", 1),
    "an ambiguous species": (bent("trees", "QURU", "RO"), "trees", "species", "stands for several species", 1),
    "a blank species": (bent("trees", "QURU", ""), "trees", "species", "blank", 1),
    "a crown class misspelt": (bent("trees", "dominant,\n", "dominat,\n"), "trees", "crown_class", "nearest is 'dominant'", 1),
    "a crown class unknown": (bent("trees", "dominant,\n", "tall,\n"), "trees", "crown_class", "one of", 1),
    "a height below breast height": (bent("trees", ",88", ",3"), "trees", "height_ft", "smallest allowed is 4.5", 1),
    "a height above any oak": (bent("trees", ",88", ",880"), "trees", "height_ft", "largest allowed is 220", 1),
    "a tree at a point not listed": (bent("trees", "A1-c,2,1", "A1-c,9,1"), "trees", "point", "There is no point", 1),
    "a tree of a visit not listed": (bent("trees", "A1-c,2,1", "A1-x,2,1"), "trees", "visit", "There is no visit", 1),
    "a tree number twice": (bent("trees", "A1-c,2,2", "A1-c,2,1"), "trees", "tree", "stands twice", 1),
    "a blank tree number": (bent("trees", "A1-c,1,1,", "A1-c,1,,"), "trees", "tree", "blank", 1),
    "a row with too many cells": (bent("trees", ",88", ",88,extra"), "trees", "", "more cells", 1),
    "the 30th of February": (bent("visits", "2025-05-01", "2024-02-30"), "visits", "visited_on", "29 days", 10),
    "a thirteenth month": (bent("visits", "2025-05-01", "2025-13-01"), "visits", "visited_on", "a date", 10),
    "an American date": (bent("visits", "2025-05-01", "5/1/2025"), "visits", "visited_on", "If 2025-05-01 is meant", 10),
    "a date in words": (bent("visits", "2025-05-01", "May Day"), "visits", "visited_on", "a date", 10),
    "a date of another century": (bent("visits", "2025-05-01", "1025-05-01"), "visits", "visited_on", "a date", 10),
    "a blank date": (bent("visits", "2025-05-01", ""), "visits", "visited_on", "blank", 10),
    "a kind of visit unknown": (bent("visits", "cruise", "cruse"), "visits", "kind", "nearest is 'cruise'", 10),
    "a visit to a stand not listed": (bent("visits", "A1-c,A1", "A1-c,A7"), "visits", "stand", "no stand A7 in the book", 10),
    "a visit named twice": (bent("visits", "A1-r,", "A1-c,"), "visits", "visit", "stands twice", 6),
    "a prism without its factor": (bent("rings", "prism,10", "prism,"), "rings", "baf_ft2_ac", "no basal area factor", 1),
    "a fixed plot without its area": (bent("rings", "fixed,,0.02", "fixed,,"), "rings", "plot_area_ac", "no area", 1),
    "a strip without its width": (bent("rings", "prism,10", "strip,"), "rings", "strip_width_ft", "no width", 1),
    "a design unknown": (bent("rings", "prism", "prizm"), "rings", "design", "nearest is 'prism'", 1),
    "rings that overlap": (bent("rings", "1,5\n", "1,8\n"), "rings", "low_dbh_in", "same dbh", 1),
    "a ring that ends before it begins": (bent("rings", "1,5\n", "5,1\n"), "rings", "high_dbh_in", "before it begins", 1),
    "seedlings by prism": (bent("rings", "reproduction,fixed,,0.00136054", "reproduction,prism,10,"), "rings", "design", "prism", 1),
    "a plot of zero area": (bent("rings", "0.00136054", "0"), "rings", "plot_area_ac", "smallest allowed", 1),
    "a height class unknown": (bent("seedlings", "1-3", "1-4"), "seedlings", "height_class", "one of", 1),
    "neither height nor class": (bent("seedlings", "1-3,,4", ",,4"), "seedlings", "height_class", "neither", 1),
    "a height outside its class": (bent("seedlings", "5.2", "3.0"), "seedlings", "height_ft", "does not lie", 1),
    "half a stem": (bent("seedlings", ",,4,,1", ",,4.5,,1"), "seedlings", "stems", "whole number", 1),
    "a negative count": (bent("seedlings", ",,4,,1", ",,-4,,0"), "seedlings", "stems", "cannot be taken", 1),
    "more browsed than counted": (bent("seedlings", ",,4,,1", ",,4,,5"), "seedlings", "browsed", "More stems browsed", 1),
    "a collar of a foot": (bent("seedlings", "0.8", "12"), "seedlings", "basal_diameter_in", "largest allowed", 1),
    "neither bearing nor count": (bent("acorn_trees", "no,,,", ",,,"), "acorn_trees", "bearing", "Neither", 1),
    "not bearing, yet counted": (bent("acorn_trees", "yes,12", "no,12"), "acorn_trees", "acorns", "not to bear", 1),
    "bearing in other words": (bent("acorn_trees", "yes,12", "maybe,12"), "acorn_trees", "bearing", "yes or no", 1),
    "a limb count without limbs": (bent("acorn_trees", "timed,30", "limb,"), "acorn_trees", "limbs", "branch ends", 1),
    "work that ends before it starts": (bent("operations", "2022-10-05", "2022-09-05"), "operations", "ended_on", "before it starts", 1),
    "more basal area after a cut": (bent("operations", "900,,", "900,60,90"), "operations", "ba_after_ft2_ac", "More basal area", 1),
    "a kind of work unknown": (bent("operations", "injection", "injecting"), "operations", "kind", "nearest is 'injection'", 1),
    "a cost below zero": (bent("operations", "900", "-900"), "operations", "cost_usd", "smallest allowed", 1),
    "an area of zero": (bent("stands", "20,70", "0,70"), "stands", "area_ac", "smallest allowed", GOOD - 1),
    "a site index of a house": (bent("stands", "20,70", "20,700"), "stands", "site_index_ft", "largest allowed", GOOD - 1),
    "a year of origin to come": (bent("stands", "1925", "19250"), "stands", "birth_year", "largest allowed", GOOD - 1),
    "a stand of a property not listed": (bent("stands", "A1,P1", "A1,P9"), "stands", "property", "There is no property", GOOD - 1),
    "a point neither in nor out": (bent("points", "A1-c,3,yes", "A1-c,3,half"), "points", "in_stand", "yes or no", 1),
}

# name: records, sheet, a word of the message; the whole sheet or file is at fault
HEADS = {
    "a required column missing": (bent("trees", "dbh_in", "dbh"), "trees", "Is 'dbh' meant"),
    "a heading twice": (bent("trees", "crown_class", "species"), "trees", "stands twice"),
    "a key column missing": (bent("points", "point,", "number,"), "points", "must be there"),
}


def _workbook(**changes: object) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, text in SHEETS.items():
        sheet = book.create_sheet(name)
        for line in text.splitlines():
            sheet.append([changes.get(cell, cell) for cell in line.split(",")])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _locked() -> bytes:
    content = bytearray(zipped({"trees": "x"}))
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        content[content.index(mark) + place] |= 1
    return bytes(content)


# name: file name, content, a word of the message
FILES = {
    "an empty file": ("trees.csv", b"", "empty"),
    "a file of blanks": ("trees.csv", b" \n \n", "empty"),
    "a picture": ("trees.csv", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not a text file"),
    "a document of another kind": ("trees.docx", b"text", "are not known"),
    "a name without an ending": ("trees", b"a,b\n1,2\n", "ending in nothing"),
    "a workbook that is none": ("trees.xlsx", b"PK\x03\x04 broken", "cannot be opened"),
    "an old workbook that is none": ("trees.xls", b"not a workbook", "cannot be opened"),
    "a damaged zip": ("records.zip", zipped(dict(SHEETS))[:200], "damaged"),
    "a zip with a password": ("records.zip", _locked(), "password"),
    "a zip without tables": ("records.zip", zipped({"readme.md": "hello"}), "no table"),
    "a package that names a missing file": (
        "p.zip",
        zipped({"datapackage.json": '{"resources":[{"name":"trees","path":"trees.csv"}]}'}),
        "not in the package",
    ),
    "a package that is no JSON": ("p.zip", zipped({"datapackage.json": "{", "trees.csv": "a\n"}), "cannot be understood"),
    "headings of nothing known": ("sheet.csv", b"alpha,beta\n1,2\n", "no tally that is understood"),
    "a quotation mark never closed": (
        "trees.csv",
        b'visit,point,tree,species,dbh_in\nA,1,1,"802' + b",5\nA,1,2,802,5" * 20_000,
        "closing quotation",
    ),
    "a zip of too many files": ("records.zip", zipped({f"t{n}.csv": "a\n" for n in range(501)}), "500 files"),
}


def test_the_list_is_long_enough():
    assert len(CELLS) + len(HEADS) + len(FILES) >= 60


@pytest.mark.parametrize("name", CELLS)
def test_a_bad_cell_is_named_and_no_good_row_is_lost(name, sqlite_book, tmp_path):
    sheets, sheet, column, words, lost = CELLS[name]

    report = importing.bring_in(write(tmp_path, sheets), today=TODAY)

    named = [p for p in report.faults if p.sheet == sheet and p.column == column and words in str(p)]
    assert named, [str(p) for p in report.faults]
    assert named[0].row >= 2
    assert report.batch is None
    assert store.current("trees").count() == 0
    released = importing.release(report.quarantine, today=TODAY)
    assert sum(released.new.values()) == GOOD - lost


@pytest.mark.parametrize("name", HEADS)
def test_a_bad_heading_is_named(name, sqlite_book, tmp_path):
    sheets, sheet, words = HEADS[name]

    report = importing.bring_in(write(tmp_path, sheets), today=TODAY)

    assert [p for p in report.faults if p.sheet == sheet and words in str(p)], [str(p) for p in report.faults]
    assert report.quarantine is not None


@pytest.mark.parametrize("name", FILES)
def test_a_bad_file_is_said_to_be_so(name, sqlite_book, tmp_path):
    file, content, words = FILES[name]
    (tmp_path / file).write_bytes(content)

    with pytest.raises(BadRecords) as caught:
        importing.bring_in(tmp_path / file, today=TODAY)

    assert words in " ".join([str(caught.value), *map(str, caught.value.problems)])
    assert session.entries() == []


def test_a_workbook_counts_rows_as_the_spreadsheet_shows_them(sqlite_book, tmp_path):
    (tmp_path / "cruise.xlsx").write_bytes(_workbook(**{"18.2": "-18.2"}))

    report = importing.bring_in(tmp_path / "cruise.xlsx", today=TODAY)

    fault = next(p for p in report.faults if p.column == "dbh_in")
    assert (fault.file, fault.sheet, fault.row, fault.found) == ("cruise.xlsx", "trees", 2, "-18.2")


def test_an_unknown_species_is_kept_and_flagged(sqlite_book, tmp_path):
    report = importing.bring_in(write(tmp_path, bent("trees", "QURU", "wahoo")), today=TODAY)

    assert report.faults == []
    assert "Unknown species" in str(report.warnings[0])
    tree = store.records("trees", species=999)[0]
    assert tree.species_written == "wahoo"


def test_a_very_thick_tree_is_only_a_note(sqlite_book, tmp_path):
    report = importing.bring_in(write(tmp_path, bent("trees", "18.2", "63")), today=TODAY)

    assert report.faults == []
    assert [p.column for p in report.warnings] == ["dbh_in"]


def test_a_zip_inside_folders_and_odd_files_is_read(sqlite_book, tmp_path):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, text in SHEETS.items():
            archive.writestr(f"cruise/2025/{name}.csv", text)
        archive.writestr("__MACOSX/._trees.csv", b"\x00\x01")
        archive.writestr("cruise/.hidden.csv", b"\x00")
        archive.writestr("../outside.txt", b"")
    (tmp_path / "r.zip").write_bytes(packed.getvalue())

    report = importing.bring_in(tmp_path / "r.zip", today=TODAY)

    assert sum(report.new.values()) == GOOD


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings_of_a_csv(encoding, sqlite_book, tmp_path):
    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)
    text = "stand,property,name\nB2,P1,Señora's Hollow\n"
    (tmp_path / "stands.csv").write_bytes(text.encode(encoding))

    report = importing.bring_in(tmp_path / "stands.csv", today=TODAY)

    assert report.faults == []
    assert store.records("stands", stand="B2")[0].name == "Señora's Hollow"


@pytest.mark.parametrize("mark", [";", "\t", "|"])
def test_other_delimiters(mark, sqlite_book, tmp_path):
    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)
    (tmp_path / "stands.csv").write_text(f"stand{mark}property{mark}name\nB2{mark}P1{mark}Low Field\n")

    assert importing.bring_in(tmp_path / "stands.csv", today=TODAY).new == {"stands": 1}


def test_a_file_that_is_wrong_everywhere_is_given_up_and_leaves_nothing(sqlite_book, tmp_path, monkeypatch):
    monkeypatch.setattr(account, "MOST_FAULTS", 2)
    heading, *lines = SHEETS["trees"].splitlines()
    wrong = [
        ",".join("?" if at == heading.split(",").index("dbh_in") else cell for at, cell in enumerate(line.split(","))) for line in lines
    ]

    with pytest.raises(BadRecords, match="more than 2 faults") as fault:
        importing.bring_in(write(tmp_path, {**SHEETS, "trees": "\n".join([heading, *wrong]) + "\n"}), today=TODAY)
    assert fault.value.problems[0].column == "dbh_in"
    assert (session.stands(), importing.quarantine()) == ([], [])
