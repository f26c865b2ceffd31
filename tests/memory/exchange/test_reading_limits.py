"""Files that are broken, cut off or too large are plain faults: nothing but the reader of that one file ends."""

from __future__ import annotations

import io
import random
import zipfile

import openpyxl
import pytest

from overwood.ground.errors import BadRecords
from overwood.memory.exchange import proposing, reading, workbooks


def _workbook(**cells):
    book = openpyxl.Workbook()
    for place, value in cells.items():
        book.active[place] = value
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


@pytest.mark.parametrize("far", ["XFD1048576", "XFD20000"])
def test_one_cell_far_away_is_a_plain_fault(far):
    with pytest.raises(BadRecords, match="cannot be read") as fault:
        reading.read_file("far.xlsx", _workbook(**{far: 1}))

    assert "memory or time" in fault.value.problems[0].what
    assert "far outside the table" in fault.value.problems[0].remedy


def test_a_workbook_reads_as_its_cells_with_their_row_numbers():
    (sheet,) = reading.read_file("a.xlsx", _workbook(A1="Plot", B1="Species", A4=3, B4="WO"))

    assert list(sheet.rows()) == [(1, ["Plot", "Species"]), (4, ["3", "WO"])]


# The header of an old workbook file (compound file binary format), and nothing that follows it.
OLD = bytes.fromhex("d0cf11e0a1b11ae1") + b"\x00" * 16 + bytes.fromhex("3e000300feff0900") + b"\x00" * 600


@pytest.mark.parametrize("name", ["a.xls", "a.xlsx", "a.ods", "a.xlsb"])
@pytest.mark.parametrize("content", [OLD, OLD[:100], b"PK\x03\x04" + b"\x00" * 50, b"not a workbook"], ids=["header", "cut", "zip", "text"])
def test_a_workbook_that_is_none_is_a_plain_fault(name, content):
    with pytest.raises(BadRecords, match="cannot be read"):
        reading.read_file(name, content)


def test_a_workbook_that_unpacks_to_too_much_is_refused_before_it_is_unpacked(monkeypatch):
    monkeypatch.setattr(workbooks, "MOST_UNPACKED", 1000)
    monkeypatch.setattr(workbooks.apart, "output", lambda *a, **k: pytest.fail("it was unpacked"))

    with pytest.raises(BadRecords, match="cannot be read") as fault:
        reading.read_file("a.xlsx", _workbook(A1="x"))
    assert "unpacks to" in fault.value.problems[0].what


@pytest.mark.parametrize("cut", [1, 3])
def test_a_text_cut_off_in_a_letter_is_a_plain_fault(cut):
    content = "Plot,Species,DBH (in)\n1,WO,18\n".encode("utf-16")

    with pytest.raises(BadRecords, match="cannot be read"):
        reading.read_file("a.csv", content[:-cut])


def test_a_zip_with_any_byte_of_its_directory_changed_is_read_or_a_plain_fault():
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("trees.csv", "Plot,Species\n1,WO\n")
    whole, chance = stream.getvalue(), random.Random(5)
    for _ in range(300):
        content = bytearray(whole)
        content[chance.randrange(len(content))] = chance.randrange(256)
        try:
            for sheet in reading.read_file("a.zip", bytes(content)):
                list(sheet.rows())
        except BadRecords:
            continue


def test_a_zero_byte_in_a_text_is_a_plain_fault():
    with pytest.raises(BadRecords):
        reading.read_file("a.csv", b"Plot,Species\n" + b"1,WO\n" * 2000 + b"2,\x00\n")


@pytest.mark.parametrize("end", [b"\n", b"\r"])
def test_more_lines_than_a_machine_can_look_at_are_refused_before_they_are_read(end):
    # A zip file of a few kilobytes can hold them, so its own size tells nothing.
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("trees.csv", (b"1" + end) * (reading.MOST_LINES + 1))

    with pytest.raises(BadRecords, match="cannot be read") as fault:
        reading.read_file("a.zip", stream.getvalue())
    assert len(stream.getvalue()) < 64_000
    assert "lines" in fault.value.problems[0].what
    assert "in parts" in fault.value.problems[0].remedy


def test_more_rows_than_a_person_waits_for_are_refused_before_they_are_understood(monkeypatch):
    monkeypatch.setattr(proposing, "MOST_ROWS", 4)
    text = b"Plot,Species,DBH (in)\n1,WO,18\n1,RO,12\n2,HI,9\n"

    assert proposing.propose(reading.read_file("a.csv", text)).sheets[0].table == "trees"
    with pytest.raises(BadRecords, match="too long") as fault:
        proposing.propose(reading.read_file("a.csv", text + b"3,WO,10\n"))
    assert "template" in fault.value.problems[0].remedy


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_zip_of_a_method_that_unpacks_in_one_step_is_refused_before_it_is_unpacked(method, monkeypatch):
    # 774 bytes of such a zip took 1.8 gigabytes, though it said that it holds a thousand bytes.
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", method) as archive:
        archive.writestr("trees.csv", b"1" * 100_000)
    monkeypatch.setattr(zipfile.ZipFile, "read", lambda *a: pytest.fail("it was unpacked"))

    with pytest.raises(BadRecords, match="cannot be read") as fault:
        reading.read_file("a.zip", stream.getvalue())
    assert "ordinary zip" in fault.value.problems[0].remedy
