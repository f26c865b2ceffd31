"""A drill says that a copy is the book only where every row is."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from overwood.ground.errors import NotFound, OverwoodError
from overwood.memory.book import drill, setup


def _table(seen, name):
    return next(table for table in seen.tables if table.table == name)


def test_a_copy_made_now_is_the_book_row_by_row(demo_book):
    seen = drill.drill(None)

    assert seen.is_equal
    with closing(sqlite3.connect(demo_book)) as base:
        assert seen.stands == base.execute("select count(*) from stands").fetchone()[0] == 8
        # The tallied trees, counted by the database itself.
        assert _table(seen, "trees").copy_rows == base.execute("select count(*) from trees").fetchone()[0]


def test_one_changed_digit_in_a_copy_is_seen(demo_book, tmp_path):
    copy = setup.backup(tmp_path / "copy.sqlite3")
    with closing(sqlite3.connect(copy)) as base:
        base.execute("update trees set dbh_in = dbh_in + 0.1 where rowid = (select min(rowid) from trees)")
        base.commit()

    seen = drill.drill(copy)

    assert not seen.is_equal
    assert _table(seen, "trees").changed_rows == 1


def test_an_older_copy_lacks_rows_and_the_drill_says_how_many(demo_book, tmp_path, run):
    copy = setup.backup(tmp_path / "copy.sqlite3")
    run("decide", "S1", "inject", "--book", demo_book, "--on", "2025-10-15")

    status, out, _ = run("backup", "--drill", copy, "--book", demo_book)

    assert status == 0
    assert "would be lost" in out
    assert "decisions:" in out


def test_a_drill_changes_neither_book_nor_copy(demo_book, tmp_path):
    copy = setup.backup(tmp_path / "copy.sqlite3")
    before = copy.read_bytes()

    drill.drill(copy)

    assert copy.read_bytes() == before
    assert drill.drill(None).is_equal


def test_a_damaged_copy_fails_the_drill(demo_book, tmp_path):
    copy = setup.backup(tmp_path / "copy.sqlite3")
    content = bytearray(copy.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 8192] = b"\xff" * 8192
    copy.write_bytes(content)

    with pytest.raises(OverwoodError, match="would not bring the book back"):
        drill.drill(copy)


def test_a_copy_that_is_not_there_is_named(demo_book, tmp_path):
    with pytest.raises(NotFound):
        drill.drill(tmp_path / "nothing.sqlite3")


def test_the_desk_is_not_started_on_a_damaged_book(demo_book, tmp_path):
    setup.check_live()
    content = bytearray(demo_book.read_bytes())
    content[len(content) // 2 :] = b"\xff" * (len(content) - len(content) // 2)
    broken = tmp_path / "broken.sqlite3"
    broken.write_bytes(content)
    setup.open_book(broken)

    with pytest.raises(OverwoodError, match="is damaged"):
        setup.check_live()
