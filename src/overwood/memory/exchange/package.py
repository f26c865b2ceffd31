"""The way out: everything of the book as a data package that imports to an equal book."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import zipfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from overwood.ground.records import TABLES
from overwood.memory.exchange import contract


def text_of(value: Any) -> str:
    """How a value is written in a csv of the contract."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    return str(value)


def table_csv(table: str, rows: Iterable[tuple[Any, ...]]) -> bytes:
    """One table as csv; rows are values in the order of the contract."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(TABLES[table].columns)
    writer.writerows([[text_of(value) for value in row] for row in rows])
    return text.getvalue().encode()


def write_package(target: Path, tables: dict[str, Iterable[tuple[Any, ...]]]) -> list[str]:
    """Write a folder, or a zip where the name ends so; returns the names of the tables with rows."""
    files = {name: table_csv(name, rows) for name, rows in tables.items()}
    filled = [name for name, content in files.items() if content.count(b"\n") > 1]
    members = {f"{name}.csv": files[name] for name in filled}
    members["datapackage.json"] = json.dumps(contract.descriptor(tuple(filled)), indent=1).encode()
    if target.suffix.lower() == ".zip":
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in members.items():
                archive.writestr(name, content)
    else:
        target.mkdir(parents=True, exist_ok=True)
        for name, content in members.items():
            (target / name).write_bytes(content)
    return filled
