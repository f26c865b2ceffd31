"""Faults of a file as a csv that a spreadsheet opens safely."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any

COLUMNS = ("severity", "file", "sheet", "row", "column", "what", "found", "expected", "remedy")


def as_csv(problems: Iterable[Mapping[str, Any]]) -> str:
    """A heading and a line for each fault."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(COLUMNS)
    for problem in problems:
        writer.writerow([_safe("" if problem.get(name) is None else str(problem[name])) for name in COLUMNS])
    return stream.getvalue()


def _safe(text: str) -> str:
    """A spreadsheet takes a cell that begins so for a formula; a leading apostrophe keeps it text."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text
