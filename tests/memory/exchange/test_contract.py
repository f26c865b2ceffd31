"""The contract is a Tabular Data Package, and the templates it makes are empty sheets that import."""

from __future__ import annotations

import csv
import io
import json

import openpyxl

from overwood.ground.records import TABLES
from overwood.memory.exchange import contract


def test_every_table_has_a_schema_with_its_keys_and_parents():
    package = contract.descriptor()

    assert [entry["name"] for entry in package["resources"]] == list(TABLES)
    for entry in package["resources"]:
        fields = {field["name"]: field for field in entry["schema"]["fields"]}
        assert set(entry["schema"]["primaryKey"]) <= set(fields)
        for key in entry["schema"].get("foreignKeys", []):
            parent = TABLES[key["reference"]["resource"]]
            assert set(key["reference"]["fields"]) <= set(parent.columns)
            assert set(key["fields"]) <= set(fields)


def test_types_are_those_of_the_open_standard():
    allowed = {"string", "number", "integer", "boolean", "date"}
    for entry in contract.descriptor()["resources"]:
        assert {field["type"] for field in entry["schema"]["fields"]} <= allowed


def test_a_field_that_carries_a_unit_ends_in_it():
    endings = {"in": "_in", "ft": "_ft", "ac": "_ac", "%": "_pct", "ft2/ac": "_ft2_ac", "deg": "_deg", "US$": "_usd", "yr": "_yr"}
    for table in TABLES.values():
        for name, column in table.columns.items():
            if column.unit in endings:
                assert name.endswith(endings[column.unit]), (table.name, name)


def test_the_template_files_hold_the_headings_and_the_descriptor():
    files = contract.template_files()

    assert json.loads(files["datapackage.json"])["profile"] == "tabular-data-package"
    for name, table in TABLES.items():
        assert next(csv.reader(io.StringIO(files[f"{name}.csv"].decode()))) == list(table.columns)


def test_the_template_workbook_opens_in_another_reader():
    book = openpyxl.load_workbook(io.BytesIO(contract.template_workbook()))

    assert book.sheetnames == ["read me first", *TABLES]
    assert [cell.value for cell in book["trees"][1]] == list(TABLES["trees"].columns)
