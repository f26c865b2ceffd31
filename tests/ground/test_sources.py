"""The bibliography: one row a paper, and a place to look in it."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import overwood
from conftest import ROOT
from overwood.ground import sources, species, tables

PACKAGE = Path(overwood.__file__).parent


def bibliography():
    with (PACKAGE / sources.TABLE).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_a_key_of_the_bibliography_stands_once():
    keys = [row["key"] for row in bibliography()]

    assert len(keys) == len(set(keys))


def test_a_title_of_the_bibliography_stands_once():
    titles = [row["title"].casefold() for row in bibliography()]

    assert len(titles) == len(set(titles))


def test_the_source_of_a_published_constant_names_volume_number_page_or_table():
    for name in set(tables.table_names()) - {sources.TABLE}:
        for row in tables.rows(name):
            if row["status"] == "published" and row["source"] not in ("geometry", "field"):
                where = sources.all_sources()[row["source"]].where
                assert any(mark.isdigit() for mark in where) or any(kind in where for kind in ("page", "table", "abstract")), row


def test_what_decides_who_is_midstory_has_a_status_of_its_own():
    for row in tables.rows(species.TABLE):
        assert (row["stand_role_status"], row["sprouting_status"]) == ("assumption", "memory"), row["common_name"]
        assert {row["stand_role_source"], row["sprouting_source"]} <= set(sources.all_sources())


def test_a_reference_of_which_a_part_was_not_checked_is_not_called_published():
    for row in bibliography():
        unchecked = [name for name in ("author", "title", "where") if re.search("not checked|from memory", row[name])]
        assert not unchecked or row["status"] == "memory", (row["key"], unchecked)


def test_a_tolerance_that_was_read_for_the_genus_is_not_called_published_of_its_species():
    # The table of Spurr and Barnes (1980), as it was read, has one line for oaks and hickories of these and for the elm.
    of_a_genus = {802, 833, 837, 832, 812, 804, 823, 407, 403, 412, 972}
    by_code = {int(row["spcd"]): row for row in tables.rows(species.TABLE)}

    assert {by_code[code]["tolerance_status"] for code in of_a_genus} == {"assumption"}


def test_every_reference_is_cited_somewhere():
    kinds = {".py", ".csv", ".toml", ".md"}
    listed = (PACKAGE / sources.TABLE, ROOT / "docs" / "sources.md")
    told = [path for room in ("src/overwood", "docs", "tests") for path in (ROOT / room).rglob("*") if path.suffix in kinds]
    words = {word for path in told if path not in listed for word in re.findall(r"\w+", path.read_text(encoding="utf-8"))}

    assert [row["key"] for row in bibliography() if row["key"] not in words] == []
