"""Reads one workbook from standard input and writes its cells as lines of JSON: a process of its own, that can die
alone.

It is started by its path, without the rest of the program. A sheet begins with its name and what is hidden of it, a row
with its number; blank rows and blank cells at the end of a row are left out.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import posixpath
import re
import sys
import zipfile
from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree


def limit(memory: int, seconds: int, written: int) -> None:
    """Take no more memory and time, and write no more, than this; where the system has no such limits, nothing."""
    try:
        import resource
    except ImportError:
        return
    limits = ("RLIMIT_AS", memory), ("RLIMIT_CPU", seconds), ("RLIMIT_FSIZE", written), ("RLIMIT_CORE", 0)
    for what, most in ((getattr(resource, name), most) for name, most in limits if hasattr(resource, name)):
        try:
            resource.setrlimit(what, (most, most))
        except (ValueError, OSError):
            continue


def cell_text(value: Any) -> str:
    """A cell as text: whole numbers without a point, days as year-month-day."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return str(value)


def fill_merged(rows: list[list[Any]], ranges: Any) -> None:
    """Give words merged over several rows to each of these rows; a number stays in the first, for a count would come in
    twice."""
    for (top, left), (bottom, right) in ranges or ():
        if left != right or top >= len(rows) or left >= len(rows[top]):
            continue
        value = rows[top][left]
        for cells in rows[top + 1 : bottom + 1] if isinstance(value, str) and value.strip() else ():
            if left < len(cells):
                cells[left] = value


def looks_of(content: bytes) -> dict[str, dict[str, Any]]:
    """Of each sheet by name: hidden rows and columns (counted from 1), whether it is hidden itself, and merged cells of
    an ods.

    What cannot be understood is left out: the cells are read all the same.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        names = set(archive.namelist())
        if "xl/workbook.xml" in names:
            return dict(_looks_of_xlsx(archive))
        return dict(_looks_of_ods(archive)) if "content.xml" in names else {}
    except (zipfile.BadZipFile, ElementTree.ParseError, KeyError, ValueError, NotImplementedError, OSError):
        return {}


def _bare(tag: str) -> str:
    return tag.rpartition("}")[2]


def _looks_of_xlsx(archive: zipfile.ZipFile) -> Iterator[tuple[str, dict[str, Any]]]:
    links = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {link.get("Id"): link.get("Target", "") for link in links}
    struck = _struck_styles(archive)
    for node in ElementTree.fromstring(archive.read("xl/workbook.xml")).iter():
        if _bare(node.tag) != "sheet":
            continue
        link = next((value for key, value in node.attrib.items() if _bare(key) == "id"), "")
        path = posixpath.normpath(posixpath.join("/xl", targets.get(link, ""))).lstrip("/")
        text = archive.read(path) if path.endswith(".xml") and path in archive.namelist() else b""
        yield (
            node.get("name", ""),
            {
                "rows": [int(row[b"r"]) for row in _tags(b"row", text) if _is_hidden(row) and b"r" in row],
                "columns": [at for one in _tags(b"col", text) if _is_hidden(one) for at in _columns(one)],
                "sheet": node.get("state", "visible") != "visible",
                "struck": _struck_rows(text, struck),
                "unworked": sum(1 for cell in _FORMULAS.finditer(text) if b't="str"' not in cell[1]),
            },
        )


def _struck_styles(archive: zipfile.ZipFile) -> set[bytes]:
    """The numbers of the cell styles whose font is struck through."""
    try:
        parts = {_bare(node.tag): node for node in ElementTree.fromstring(archive.read("xl/styles.xml"))}
    except (KeyError, ElementTree.ParseError):
        return set()
    fonts = [
        any(_bare(one.tag) == "strike" and one.get("val") not in ("0", "false") for one in font)
        for font in parts.get("fonts", ())
    ]
    styles = [int(style.get("fontId", 0)) for style in parts.get("cellXfs", ())]
    return {b"%d" % at for at, font in enumerate(styles) if font < len(fonts) and fonts[font]}


def _struck_rows(text: bytes, struck: set[bytes]) -> list[int]:
    """Rows whose filled cells are all struck through: a person who types takes a row back so."""
    if not struck:
        return []
    rows: dict[int, bool] = {}
    for cell in _FILLED.finditer(text):
        said = dict(re.findall(rb'([\w:]+)\s*=\s*"([^"]*)"', cell[1]))
        row = int(re.sub(rb"\D", b"", said.get(b"r", b"")) or 0)
        rows[row] = rows.get(row, True) and said.get(b"s") in struck
    return [row for row, is_struck in rows.items() if row and is_struck]


def _tags(name: bytes, text: bytes) -> Iterator[dict[bytes, bytes]]:
    """Attributes of every such tag; a worksheet is too long to be parsed twice."""
    for tag in re.finditer(rb"<(?:\w+:)?" + name + rb"\s([^>]*)>", text):
        yield dict(re.findall(rb'([\w:]+)\s*=\s*"([^"]*)"', tag[1]))


def _is_hidden(tag: dict[bytes, bytes]) -> bool:
    return tag.get(b"hidden") in (b"1", b"true") or tag.get(b"ht") == b"0"


def _columns(tag: dict[bytes, bytes]) -> range:
    """Columns that a tag speaks of; a sheet that hides all beyond its table names sixteen thousand."""
    return range(int(tag[b"min"]), min(int(tag[b"max"]), _MOST_COLUMNS) + 1)


_MOST_COLUMNS = 300
_FILLED = re.compile(rb"<(?:\w+:)?c\b([^>]*[^/>])>")
# A formula without a value: a program wrote it, and no spreadsheet has opened the file since.
_FORMULAS = re.compile(
    rb"<(?:\w+:)?c\b([^>]*)><(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v></(?:\w+:)?v>)?</(?:\w+:)?c>"
)


def _looks_of_ods(archive: zipfile.ZipFile) -> Iterator[tuple[str, dict[str, Any]]]:
    look: dict[str, Any] = {}
    struck: set[str] = set()
    row = column = 0
    for event, node in ElementTree.iterparse(archive.open("content.xml"), events=("start", "end")):
        tag, said = _bare(node.tag), {_bare(key): value for key, value in node.attrib.items()}
        if tag == "style" and event == "end" and any(_is_line_through(one) for one in node):
            struck.add(said.get("name", ""))
        elif tag == "table" and event == "start":
            look, row, column = {"rows": [], "columns": [], "merged": [], "struck": []}, 0, 0
        elif tag == "table-column" and event == "start":
            many = int(said.get("number-columns-repeated", 1))
            if said.get("visibility") in ("collapse", "filter"):
                look["columns"] += range(column + 1, min(column + many, _MOST_COLUMNS) + 1)
            column += many
        elif tag == "table-row" and event == "end":
            many = int(said.get("number-rows-repeated", 1))
            if said.get("visibility") in ("collapse", "filter"):
                look["rows"] += range(row + 1, row + min(many, 10_000) + 1)
            look["merged"] += _merged_below(node, row)
            filled = [one for one in node if any(_bare(text.tag) == "p" for text in one)]
            if filled and all(
                {_bare(k): v for k, v in one.attrib.items()}.get("style-name") in struck for one in filled
            ):
                look["struck"] += range(row + 1, row + min(many, 10_000) + 1)
            row += many
            node.clear()
        elif tag == "table" and event == "end":
            yield said.get("name", ""), look


def _is_line_through(node: ElementTree.Element) -> bool:
    return any(_bare(key) == "text-line-through-style" and value != "none" for key, value in node.attrib.items())


def _merged_below(row: ElementTree.Element, top: int) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    """Cells of a row that are merged with those below, as calamine tells them of an xlsx: counted from 0, both ends
    within."""
    left = 0
    for cell in row:
        said = {_bare(key): value for key, value in cell.attrib.items()}
        down, right = int(said.get("number-rows-spanned", 1)), int(said.get("number-columns-spanned", 1))
        if down > 1:
            yield (top, left), (top + down - 1, left + right - 1)
        left += int(said.get("number-columns-repeated", 1))


def lines(content: bytes) -> Iterator[Any]:
    """The sheets of a workbook, each as its name and then its rows."""
    import python_calamine

    book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
    looks = looks_of(content)
    for title in book.sheet_names:
        look = looks.get(title, {})
        yield {
            "sheet": title,
            "hidden": {name: look[name] for name in ("rows", "columns", "sheet", "struck") if look.get(name)},
        }
        if look.get("unworked"):
            raise ValueError(f"{title}: {look['unworked']} cells hold formulas that were never worked out")
        sheet = book.get_sheet_by_name(title)
        rows = sheet.to_python(skip_empty_area=False)
        fill_merged(rows, look.get("merged") or sheet.merged_cell_ranges)
        for number, cells in enumerate(rows, start=1):
            texts = [cell_text(value) for value in cells]
            while texts and not texts[-1]:
                texts.pop()
            if texts:
                yield [number, texts]


def main() -> int:
    """Read, within the limits given as arguments; a workbook that cannot be read is told as a fault."""
    limit(*map(int, sys.argv[1:4]))
    try:
        for line in lines(sys.stdin.buffer.read()):
            sys.stdout.write(json.dumps(line) + "\n")
    except BaseException as fault:  # a broken workbook can panic past every exception of Python's own
        sys.stdout.write(json.dumps({"fault": f"{type(fault).__name__}: {fault}"[:300]}) + "\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
