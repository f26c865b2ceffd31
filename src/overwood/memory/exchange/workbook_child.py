"""Reads one workbook from standard input and writes its cells as lines of JSON: a process of its own, that can die alone.

It is started by its path, without the rest of the program. A sheet begins with its name, a row with its number; blank
rows and blank cells at the end of a row are left out.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import sys
from collections.abc import Iterator
from typing import Any


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
    """Give words merged over several rows to each of these rows; a number stays in the first, for a count would come in twice."""
    for (top, left), (bottom, right) in ranges or ():
        if left != right or top >= len(rows) or left >= len(rows[top]):
            continue
        value = rows[top][left]
        for cells in rows[top + 1 : bottom + 1] if isinstance(value, str) and value.strip() else ():
            if left < len(cells):
                cells[left] = value


def lines(content: bytes) -> Iterator[Any]:
    """The sheets of a workbook, each as its name and then its rows."""
    import python_calamine

    book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
    for title in book.sheet_names:
        yield {"sheet": title}
        sheet = book.get_sheet_by_name(title)
        rows = sheet.to_python(skip_empty_area=False)
        fill_merged(rows, sheet.merged_cell_ranges)
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
