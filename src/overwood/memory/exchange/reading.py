"""Files into sheets of text: csv, xlsx, ods, xls, zip and data package, each cell with its row number.

Nothing is interpreted here beyond what the file format itself says; every fault of the file is a Problem, never a
traceback.
"""

from __future__ import annotations

import csv
import io
import json
import re
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from overwood.ground.errors import BadRecords, Problem
from overwood.memory.exchange import workbooks

CHUNK_ROWS = 50_000
# Unpacked, of one zip file; read whole into memory.
MOST_BYTES = 250_000_000
MOST_MEMBERS = 500
# Python unpacks these piece by piece; of the others a kilobyte can become gigabytes in one step, whatever the file says
# of its size.
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
# Lines of text in one file, all its tables together: a quarter of a kilobyte of memory each while they are looked at.
MOST_LINES = 2_000_000
_WORKBOOKS = (".xlsx", ".xlsm", ".ods", ".xls", ".xlsb")
_TEXTS = (".csv", ".tsv", ".txt")
# How the kit for the woods begins every file: tallies, photos and walks.
_KIT_FILE = b'{"overwood":'
# A cell this long is a lost quotation mark, not a note.
_LONGEST_CELL = 100_000
_LOST = "Close or remove it; where it stands for the same as above, fill the cell or write do."

# What a damaged zip file is known to raise: a wrong offset, length, checksum or method.
_DAMAGE = (
    zipfile.BadZipFile,
    OSError,
    NotImplementedError,
    EOFError,
    ValueError,
    RuntimeError,
    zlib.error,
    struct.error,
)

Row = tuple[int, list[str]]


@dataclass(frozen=True)
class Sheet:
    """One table as it stands in a file: where it is, and its rows as (row number, cells), heading row included."""

    file: str
    name: str
    source: bytes | list[Row]
    encoding: str = "utf-8"
    delimiter: str = ","
    hidden: workbooks.Hidden = field(default_factory=workbooks.Hidden)
    # Whether its rows are the columns of the file.
    on_its_side: bool = False
    # Labels that stand right of its table, as they would above it.
    beside: tuple[Row, ...] = ()

    def rows(self) -> Iterator[Row]:
        """All rows; a csv is read anew each time, so a long one never stands in memory as cells."""
        if isinstance(self.source, list):
            yield from self.source
            return
        text = io.TextIOWrapper(io.BytesIO(self.source), encoding=self.encoding, newline="")
        taken: list[str] = []
        reader = csv.reader(_noted(text, taken), delimiter=self.delimiter, strict=False)
        line, widest = 1, 0
        try:
            for cells in reader:
                if _holds_rows(cells, taken, self.delimiter, widest):
                    raise _unreadable(self.file, "a cell runs over many lines", line, "a closing quotation mark", _LOST)
                yield line, cells
                taken.clear()
                line, widest = reader.line_num + 1, max(widest, len(cells))
        except csv.Error as fault:
            raise _unreadable(
                self.file,
                f"the file breaks off as a table: {fault}",
                line,
                "a csv file; look for a missing closing quotation mark",
            ) from fault


def _noted(text: Iterable[str], taken: list[str]) -> Iterator[str]:
    """Lines as they are read, put down in ``taken``."""
    for line in text:
        taken.append(line)
        yield line


def _holds_rows(cells: Sequence[str], lines: Sequence[str], delimiter: str, widest: int) -> bool:
    """Whether a cell holds what is no cell, as after a quotation mark that is not closed, or stands alone for the same
    as above; ``lines`` are those the cells were read from, ``widest`` the cells of the widest row above.

    Two marks alone enclose text that begins and ends as cells do, and the row lacks the cells between them. By RFC
    4180, section 2, a mark closes its cell right before the next delimiter; one that does not was none of a cell's.
    """
    if max(map(len, cells), default=0) > _LONGEST_CELL:
        return True
    if not any('"' in line for line in lines):
        return False
    ends = (delimiter, "\n", "\r")
    odd = [cell for cell in cells if delimiter in cell and cell.startswith(ends) and cell.endswith(ends)]
    if any(len(cells) < widest or "\n" in cell or "\r" in cell for cell in odd):
        return True
    try:
        list(csv.reader(lines if len(lines) > 1 else (), delimiter=delimiter, strict=True))
    except csv.Error:
        return True
    return False


def _unreadable(file: str, what: str, row: int | None = None, expected: str = "", remedy: str = "") -> BadRecords:
    problem = Problem(what=f"{what}.", file=file, row=row, expected=expected, remedy=remedy)
    return BadRecords(f"{file} cannot be read.", (problem,))


def read_file(name: str, content: bytes) -> list[Sheet]:
    """Every sheet of a file. Raises BadRecords when the file as a whole cannot be read; its problem says why and what
    to do."""
    if not content.strip():
        raise _unreadable(name, "the file is empty", expected="headings in the first row and records below")
    ending = _ending(name)
    if ending == ".zip" or (ending not in _WORKBOOKS and content[:4] == b"PK\x03\x04"):
        return _zip_sheets(name, content)
    if ending in _WORKBOOKS:
        return _workbook_sheets(name, content)
    if ending in _TEXTS:
        _refuse_long(name, [content])
        return [_text_sheet(name, content)]
    if content[: len(_KIT_FILE)] == _KIT_FILE:
        raise _unreadable(name, "this is a file of the woods kit", remedy="Bring it in with `overwood woods take`.")
    raise _unreadable(
        name, f"files ending in {ending or 'nothing'} are not known", expected="csv, xlsx, ods, xls or zip"
    )


def _ending(name: str) -> str:
    dot = name.rfind(".")
    return name[dot:].lower() if dot >= 0 else ""


def _stem(name: str) -> str:
    return name.replace("\\", "/").rsplit("/", 1)[-1].rsplit(".", 1)[0]


def _refuse_long(name: str, texts: list[bytes]) -> None:
    """Refuse more lines than a machine can look at beside its other work: short ones pack into very small files."""
    lines = sum(max(text.count(b"\n"), text.count(b"\r")) for text in texts)
    if lines > MOST_LINES:
        raise _unreadable(
            name,
            f"it holds {lines:,} lines",
            expected=f"at most {MOST_LINES:,} in one file",
            remedy="Send it in parts.",
        )


def _text_sheet(name: str, content: bytes) -> Sheet:
    encoding = _encoding(name, content)
    head = content[:65_536].decode(encoding, errors="ignore")
    sheet = Sheet(name, _stem(name), content, encoding, _delimiter(head))
    return _with_dittos(sheet) if b'"' in content else sheet


def _with_dittos(sheet: Sheet) -> Sheet:
    """The table with marks that stand alone in their cell, for the same as above, written as a table writes them.

    A cell may rightly begin with the delimiter or break its line; only a table that cannot be read otherwise is
    mended.
    """
    assert isinstance(sheet.source, bytes)
    mark = re.escape(sheet.delimiter)
    alone = re.compile(rf'(^|(?<={mark}))"(?={mark}|\r?$)', re.MULTILINE)
    try:
        for _ in sheet.rows():
            pass
    except BadRecords:
        text = alone.sub('""""', sheet.source.decode(sheet.encoding))
        return replace(sheet, source=text.encode("utf-8"), encoding="utf-8")
    return sheet


def _encoding(name: str, content: bytes) -> str:
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return _utf16(name, content)
    if b"\x00" in content:
        raise _unreadable(name, "this is not a text file", remedy="If it is a workbook, save it as .xlsx first.")
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            content.decode(encoding)
        except UnicodeDecodeError:
            continue
        return encoding
    return "latin-1"


def _utf16(name: str, content: bytes) -> str:
    try:
        text = content.decode("utf-16")
    except UnicodeDecodeError as fault:
        remedy = "It may be cut off: copy it again, or save it as csv in UTF-8."
        raise _unreadable(name, "the text breaks off in the middle of a letter", remedy=remedy) from fault
    if "\x00" in text:
        raise _unreadable(name, "this is not a text file", remedy="If it is a workbook, save it as .xlsx first.")
    return "utf-16"


_STROKES = re.compile(r"\|{2,}")


def _delimiter(head: str) -> str:
    lines = [line for line in head.splitlines() if line.strip()][:20]
    # Bars side by side are strokes of a tally, or blank cells beside others that stand alone.
    lines = [_STROKES.sub("", line) for line in lines]

    def fit(mark: str) -> tuple[int, int]:
        return sum(mark in line for line in lines), sum(line.count(mark) for line in lines)

    return max(",;\t|", key=fit)


def _workbook_sheets(name: str, content: bytes) -> list[Sheet]:
    return [Sheet(name, title, rows, hidden=hidden) for title, rows, hidden in workbooks.read(name, content)]


def _zip_sheets(name: str, content: bytes) -> list[Sheet]:
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        members = [entry for entry in archive.infolist() if not entry.is_dir() and _wanted(entry.filename)]
    except _DAMAGE as fault:
        raise _unreadable(name, "the zip file is damaged", remedy="Pack it again.") from fault
    if sum(entry.file_size for entry in members) > MOST_BYTES or len(members) > MOST_MEMBERS:
        raise _unreadable(
            name,
            f"the zip file unpacks to more than {MOST_BYTES / 1e6:.0f} MB or {MOST_MEMBERS} files",
            remedy="Send it in parts.",
        )
    if any(entry.flag_bits & 0x1 for entry in members):
        raise _unreadable(name, "the zip file has a password", remedy="Pack it again without one.")
    if any(entry.compress_type not in _METHODS for entry in members):
        raise _unreadable(
            name,
            "the zip file is packed in a way that is not read",
            remedy="Pack it again as an ordinary zip (deflate).",
        )
    try:
        unpacked = {entry.filename: archive.read(entry) for entry in members}
    except _DAMAGE as fault:
        raise _unreadable(name, f"the zip file is damaged ({fault})", remedy="Pack it again.") from fault
    return _member_sheets(name, unpacked)


def _wanted(path: str) -> bool:
    leaf = path.replace("\\", "/").rsplit("/", 1)[-1]
    return not path.startswith("__MACOSX") and not leaf.startswith((".", "~$"))


def _member_sheets(name: str, unpacked: dict[str, bytes]) -> list[Sheet]:
    sheets: list[Sheet] = []
    wanted = _listed(name, unpacked)
    _refuse_long(name, [content for path, content in unpacked.items() if _ending(path) in _TEXTS])
    for path, content in unpacked.items():
        label = f"{name}/{path}"
        if not content.strip() or (wanted is not None and path not in wanted):
            continue
        if _ending(path) in _WORKBOOKS:
            sheets += _workbook_sheets(label, content)
        elif _ending(path) in _TEXTS:
            sheets.append(_renamed(_text_sheet(label, content), wanted, path))
    if not sheets:
        raise _unreadable(name, "there is no table in the zip file", expected="csv, xlsx or ods files inside")
    return sheets


def _renamed(sheet: Sheet, wanted: dict[str, str] | None, path: str) -> Sheet:
    if wanted is None:
        return sheet
    return Sheet(sheet.file, wanted[path], sheet.source, sheet.encoding, sheet.delimiter)


def _listed(name: str, unpacked: dict[str, bytes]) -> dict[str, str] | None:
    """Path to table name, as a datapackage.json says; None where there is none."""
    descriptor = next((path for path in unpacked if path.rsplit("/", 1)[-1] == "datapackage.json"), None)
    if descriptor is None:
        return None
    folder = descriptor[: -len("datapackage.json")]
    try:
        package = json.loads(unpacked[descriptor])
        listed = {folder + str(entry["path"]): str(entry["name"]) for entry in package["resources"]}
    except (ValueError, KeyError, TypeError) as fault:
        raise _unreadable(
            name, f"datapackage.json cannot be understood ({fault!r})", remedy="Write it again."
        ) from fault
    missing = [path for path in listed if path not in unpacked]
    if missing:
        raise _unreadable(name, f"datapackage.json names {missing[0]}, which is not in the package")
    return listed
