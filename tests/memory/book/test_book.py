"""The book: append-only, corrections named, entries withdrawn, the same file twice, both kinds of database."""

from __future__ import annotations

import re

import pytest

from conftest import TODAY
from overwood.desk import entering, importing, undoing
from overwood.ground.records import TABLES
from overwood.memory.book import models, store
from records import SHEETS, bent, rows_of, write

GOOD = sum(rows_of(text) for text in SHEETS.values())


def test_records_come_in_and_come_out_as_they_were_measured(book, tmp_path):
    report = importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)

    assert sum(report.new.values()) == GOOD
    tree = store.records("trees")[0]
    assert (tree.visit, tree.species, tree.dbh_in, tree.crown_class, tree.height_ft, tree.stems) == (
        "A1-c",
        802,
        18.2,
        "codominant",
        88.0,
        1,
    )
    visit = store.records("visits")[0]
    assert visit.visited_on.isoformat() == "2025-05-01"


def test_the_same_file_twice_adds_nothing(book, tmp_path):
    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)

    again = importing.bring_in(write(tmp_path, dict(SHEETS), "renamed.zip"), today=TODAY)

    assert again.already or (sum(again.new.values()) == 0 and again.same == GOOD)
    assert store.current("trees").count() == 4


def test_the_same_rows_in_another_file_add_nothing(book, tmp_path):
    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)
    (tmp_path / "trees.csv").write_text(SHEETS["trees"])

    again = importing.bring_in(tmp_path / "trees.csv", today=TODAY)

    assert (again.new, again.same, again.corrected, again.batch) == ({}, 4, [], None)


def test_a_correction_names_the_row_it_replaces_and_both_are_kept(book, tmp_path):
    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)

    report = importing.bring_in(write(tmp_path, bent("trees", "21.0", "12.0"), "second.zip"), today=TODAY, replace=entering.ALL)

    assert report.corrected == ["trees A1-c 1 2: dbh_in 21.0 -> 12.0"]
    current = [row for row in store.records("trees") if row.tree == "2" and row.point == "1"]
    assert [row.dbh_in for row in current] == [12.0]
    assert [row["dbh_in"] for row in store.history("trees", current[0].id)] == [12.0, 21.0]


def test_an_entry_withdrawn_brings_back_what_it_replaced(book, tmp_path):
    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)
    report = importing.bring_in(write(tmp_path, bent("trees", "21.0", "12.0"), "second.zip"), today=TODAY, replace=entering.ALL)

    undoing.undo(report.batch)

    assert sorted(tree.dbh_in for tree in store.records("trees")) == [3.1, 16.4, 18.2, 21.0]


def test_a_file_with_a_fault_changes_nothing(book, tmp_path):
    report = importing.bring_in(write(tmp_path, bent("trees", "18.2", "-18.2")), today=TODAY)

    assert report.quarantine is not None
    assert all(store.current(table).count() == 0 for table in TABLES)
    assert models.Batch.objects.count() == 0


def test_a_mended_file_settles_the_one_that_waits(book, tmp_path):
    importing.bring_in(write(tmp_path, bent("trees", "18.2", "-18.2")), today=TODAY)
    assert len(importing.quarantine()) == 1

    importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY)

    assert importing.quarantine() == []


def test_an_import_stopped_half_way_leaves_no_trace(book, tmp_path):
    def stop(table, rows):
        if table == "trees":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY, progress=stop)

    assert all(store.current(table).count() == 0 for table in TABLES)
    assert models.Batch.objects.count() == 0
    assert sum(importing.bring_in(write(tmp_path, dict(SHEETS)), today=TODAY).new.values()) == GOOD


def test_identifiers_are_version_seven_and_sort_as_made(sqlite_book):
    ids = store.new_ids(10_000)

    assert ids == sorted(ids)
    assert len(set(ids)) == len(ids)
    assert all(re.fullmatch(r"[0-9a-f]{12}7[0-9a-f]{3}[89ab][0-9a-f]{15}", made) for made in ids[:50])


def test_a_stand_file_holds_only_its_own_records(book, tmp_path):
    two = {
        **SHEETS,
        "stands": SHEETS["stands"] + "B1,P1,Other,5,60,802,1990\n",
        "visits": SHEETS["visits"] + "B1-c,B1,cruise,2025-06-01,\n",
    }
    importing.bring_in(write(tmp_path, two), today=TODAY)

    files = store.stand_files()

    assert list(files) == ["A1", "B1"]
    assert [visit.visit for visit in files["B1"].visits] == ["B1-c"]
    assert files["B1"].trees == ()
    assert [visit.visit for visit in files["B1"].neighbour_visits] == ["A1-a"]


def test_the_models_hold_every_field_of_the_records(sqlite_book):
    for name, table in TABLES.items():
        held = {field.name for field in models.MODELS[name]._meta.fields}
        assert set(table.columns) <= held


def test_the_migrations_say_what_the_models_say(sqlite_book):
    from django.core.management import call_command

    call_command("makemigrations", "book", check=True, dry_run=True, verbosity=0)
