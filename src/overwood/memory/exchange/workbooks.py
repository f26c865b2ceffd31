"""Workbooks of foreign origin, read by a process with limits of memory and time, so that a bad file ends that one
alone."""

from __future__ import annotations

import io
import json
import sys
import zipfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from overwood.ground.errors import BadRecords, Problem
from overwood.memory.exchange import apart

# Far more than a workbook of field records needs, far less than a desk has.
MOST_UNPACKED = 250_000_000
LIMITS = apart.Limits(memory=2_000_000_000, written=200_000_000)
_CHILD = Path(__file__).with_name("workbook_child.py")
_SAVE_AGAIN = "Open it, take off any password, and save it again as .xlsx."
_TOO_MUCH = "Delete what stands far outside the table, or save the sheet as csv."

Rows = list[tuple[int, list[str]]]


@dataclass(frozen=True, kw_only=True)
class Hidden:
    """What of a sheet is hidden from who looks at it: rows and columns, counted from 1, or all of it; rows struck
    through too."""

    rows: tuple[int, ...] = ()
    struck: tuple[int, ...] = ()
    columns: tuple[int, ...] = ()
    sheet: bool = False


Told = tuple[str, Rows, Hidden]


def _fault(file: str, what: str, remedy: str) -> BadRecords:
    return BadRecords(f"{file} cannot be read.", (Problem(what=f"{what}.", file=file, remedy=remedy),))


def read(file: str, content: bytes) -> list[Told]:
    """Every sheet of a workbook as (name, rows, what is hidden); blank rows are left out, the others keep their number.
    Raises BadRecords when it cannot be opened, or asks for more memory or time than a table of records does."""
    _refuse_large(file, content)
    try:
        with apart.output([sys.executable, "-I", str(_CHILD), *LIMITS.words], content, LIMITS) as (target, status):
            return _sheets(file, target, status)
    except apart.TooMuch as fault:
        raise _fault(file, f"the workbook {fault}", _TOO_MUCH) from fault


def _refuse_large(file: str, content: bytes) -> None:
    """Refuse a workbook that unpacks to more than the limit, by what it says of itself, before anything is unpacked."""
    if content[:2] != b"PK":
        return
    try:
        size = sum(entry.file_size for entry in zipfile.ZipFile(io.BytesIO(content)).infolist())
    except Exception as fault:  # a damaged directory can fail in as many ways as it has fields
        raise _fault(file, f"the workbook cannot be opened ({fault})", _SAVE_AGAIN) from fault
    if size > MOST_UNPACKED:
        raise _fault(
            file, f"the workbook unpacks to {size / 1e6:,.0f} MB, more than {MOST_UNPACKED / 1e6:,.0f}", _TOO_MUCH
        )


def _sheets(file: str, target: Iterable[bytes], status: int) -> list[Told]:
    sheets: list[Told] = []
    for line in target:
        try:
            told = json.loads(line)
        except ValueError:
            break
        if isinstance(told, list):
            sheets[-1][1].append((told[0], told[1]))
        elif "fault" in told:
            if told["fault"].startswith(("MemoryError", "PanicException")):
                break
            raise _fault(file, f"the workbook cannot be opened ({told['fault']})", _SAVE_AGAIN)
        else:
            sheets.append((told["sheet"], [], _hidden(told["hidden"])))
    if status:
        what = "the workbook asks for more memory or time than a table of records does, or is damaged"
        raise _fault(file, what, _TOO_MUCH)
    return sheets


def _hidden(told: Mapping[str, Any]) -> Hidden:
    rows, struck, columns = (tuple(told.get(name, ())) for name in ("rows", "struck", "columns"))
    return Hidden(rows=rows, struck=struck, columns=columns, sheet=bool(told.get("sheet")))
