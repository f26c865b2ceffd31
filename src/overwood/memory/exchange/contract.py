"""The open contract: a Tabular Data Package whose Table Schemas are made from the record shapes."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from overwood.ground.columns import Column
from overwood.ground.records import TABLES, Table

PROFILE = "tabular-data-package"
_TYPES = {"text": "string", "species": "string", "outline": "string", "fuel": "string", "shape": "string"}
_PARENTS = {
    "stands": (("property", "properties"),),
    "strata": (("stand", "stands"),),
    "visits": (("stand", "stands"),),
    "rings": (("visit", "visits"),),
    "points": (("visit", "visits"),),
    "trees": (("visit", "visits"), (("visit", "point"), "points")),
    "crowns": (("visit", "visits"),),
    "site_trees": (("visit", "visits"),),
    "seedlings": (("visit", "visits"), (("visit", "point"), "points")),
    "acorn_trees": (("visit", "visits"),),
    "light_readings": (("visit", "visits"),),
    "fuels": (("visit", "visits"),),
    "stem_maps": (("visit", "visits"),),
    "stems": (("visit", "visits"), ("visit", "stem_maps")),
    "operations": (("stand", "stands"),),
    "decisions": (("stand", "stands"),),
    "sightings": (("stand", "stands"),),
    "ground_features": (("stand", "stands"),),
}


def parents(table: str) -> tuple[tuple[tuple[str, ...], str], ...]:
    """Which columns of a table must be found in which other table."""
    return tuple(((keys,) if isinstance(keys, str) else keys, parent) for keys, parent in _PARENTS.get(table, ()))


def table_schema(table: Table) -> dict[str, Any]:
    """The Table Schema (open standard) of one table."""
    schema: dict[str, Any] = {
        "fields": [_field(name, column) for name, column in table.columns.items()],
        "primaryKey": list(table.key),
        "missingValues": [""],
    }
    foreign = [
        {"fields": list(keys), "reference": {"resource": parent, "fields": list(keys)}}
        for keys, parent in parents(table.name)
    ]
    if foreign:
        schema["foreignKeys"] = foreign
    return schema


def _field(name: str, column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {"name": name, "type": _TYPES.get(column.kind, column.kind), "description": column.words}
    if column.unit:
        field["unit"] = column.unit
    limits: dict[str, Any] = {}
    if column.required:
        limits["required"] = True
    if column.choices:
        limits["enum"] = list(column.choices)
    if column.low is not None:
        limits["minimum"] = column.low
    if column.high is not None:
        limits["maximum"] = column.high
    if column.kind == "boolean":
        field["trueValues"], field["falseValues"] = ["yes", "true", "1"], ["no", "false", "0"]
    if limits:
        field["constraints"] = limits
    return field


def descriptor(tables: tuple[str, ...] = tuple(TABLES)) -> dict[str, Any]:
    """The datapackage.json of these tables."""
    return {
        "profile": PROFILE,
        "name": "overwood-records",
        "title": "Records of oak stands",
        "resources": [
            {
                "profile": "tabular-data-resource",
                "name": table,
                "path": f"{table}.csv",
                "title": TABLES[table].about,
                "format": "csv",
                "encoding": "utf-8",
                "schema": table_schema(TABLES[table]),
            }
            for table in tables
        ],
    }


def template_files() -> dict[str, bytes]:
    """Empty sheets of every table and their descriptor, by file name."""
    files = {"datapackage.json": json.dumps(descriptor(), indent=1).encode()}
    for name, table in TABLES.items():
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerow(table.columns)
        files[f"{name}.csv"] = text.getvalue().encode()
    return files


def template_workbook() -> bytes:
    """One workbook with an empty sheet for every table and a first sheet that explains the columns."""
    import xlsxwriter

    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream, {"in_memory": True})
    strong = book.add_format({"bold": True})
    guide = book.add_worksheet("read me first")
    guide.set_column(0, 1, 22)
    guide.set_column(2, 2, 90)
    for place, word in enumerate(("sheet", "column", "what goes in")):
        guide.write(0, place, word, strong)
    line = 1
    for name, table in TABLES.items():
        sheet = book.add_worksheet(name)
        sheet.freeze_panes(1, 0)
        for place, (heading, column) in enumerate(table.columns.items()):
            sheet.write(0, place, heading, strong)
            need = "; must be filled" if column.required else ""
            guide.write_row(line, 0, (name, heading, f"{column.words}: {column.expected}{need}"))
            line += 1
    book.close()
    return stream.getvalue()
