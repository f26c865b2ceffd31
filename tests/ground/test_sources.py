"""The bibliography: one row a paper, and a place to look in it."""

from __future__ import annotations

import csv
from pathlib import Path

import overwood
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
