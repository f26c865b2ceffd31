"""Two makers, lost replies, repeats, uploads in any order, two processes at once: one book, and rivals wait for a person."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import uuid

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from conftest import DEMO_DAY, TODAY
from overwood.desk import answers, conflicts, entering, importing, session, undoing
from overwood.ground.errors import Misuse, NotFound
from overwood.memory.book import store
from records import SHEETS, write

VISIT = {"visit": "A1-k", "stand": "A1", "kind": "cruise", "visited_on": "2025-06-01"}
RING = {"visit": "A1-k", "layer": "overstory", "design": "prism", "baf_ft2_ac": "10", "low_dbh_in": "5"}


def numbered(text):
    """The same number for the same thing, as a device gives it once."""
    return uuid.uuid5(uuid.NAMESPACE_OID, text).hex


def tree(device, number, dbh_in, replaces=""):
    row = {"visit": "A1-k", "point": "1", "tree": str(number), "species": "802", "dbh_in": str(dbh_in)}
    row |= {"record_id": numbered(f"{device} {number} {dbh_in}"), "record_device": device}
    return row | ({"record_replaces": replaces} if replaces else {})


def visit_of(device, trees):
    head = {"record_id": numbered(f"{device} visit"), "record_device": device}
    return {
        "visits": [VISIT | head],
        "rings": [RING | {"record_id": numbered(f"{device} ring")}],
        "points": [{"visit": "A1-k", "point": "1", "record_id": numbered(f"{device} point")}],
        "trees": trees,
    }


def young(device, stems, replaces=""):
    """A line of young stems on the point of :data:`VISIT`."""
    row = {"visit": "A1-k", "point": "1", "line": "1", "species": "833", "height_class": "1-3", "stems": str(stems)}
    row |= {"record_id": numbered(f"{device} young {stems}"), "record_device": device}
    return row | ({"record_replaces": replaces} if replaces else {})


def sent(tables):
    report = entering.enter(tables, today=TODAY, name="visit", synced=True)
    assert (report.faults, report.needs_consent) == ([], ())
    return report


def stand_there(tmp_path):
    importing.bring_in(write(tmp_path, {name: SHEETS[name] for name in ("properties", "stands")}), today=TODAY)


def trees_in_force():
    return sorted((row.tree, row.dbh_in) for row in store.records("trees"))


def test_a_visit_sent_again_is_stored_once(book, tmp_path):
    stand_there(tmp_path)
    first = sent(visit_of("phone", [tree("phone", 1, 18.2)]))
    again = sent(visit_of("phone", [tree("phone", 1, 18.2)]))

    assert sum(first.new.values()) == 4
    assert (sum(again.new.values()), again.batch) == (0, None)
    assert trees_in_force() == [("1", 18.2)]


def test_two_makers_of_one_tree_wait_side_by_side_and_no_figure_uses_either(book, tmp_path):
    stand_there(tmp_path)
    sent(visit_of("first", [tree("first", 1, 18.2), tree("first", 2, 16.0)]))
    sent(visit_of("second", [tree("second", 1, 14.9)]))

    (waiting,) = conflicts.open_conflicts()
    assert (waiting.table, waiting.key, waiting.stand, waiting.differs) == ("trees", "A1-k 1 1", "A1", ("dbh_in",))
    assert {side.device: side.values["dbh_in"] for side in waiting.sides} == {"first": "18.2", "second": "14.9"}
    assert trees_in_force() == [("2", 16.0)]
    advised = answers.advice("A1", answers.question(DEMO_DAY))
    assert any(doubt.code == "disputed" and "A1-k 1 1" in doubt.words for doubt in advised.doubts)
    assert "in dispute" in advised.figures["overwood_ba_ft2_ac"].note

    right = next(side for side in waiting.sides if side.device == "second")
    number = conflicts.settle("trees", right.id, because="measured again")
    assert trees_in_force() == [("1", 14.9), ("2", 16.0)]
    assert conflicts.open_conflicts() == ()
    undoing.redo(number)
    assert len(conflicts.open_conflicts()) == 1


def test_two_corrections_of_one_record_wait_and_an_old_value_sent_late_corrects_nothing(book, tmp_path):
    stand_there(tmp_path)
    sent(visit_of("phone", [tree("phone", 1, 18.2)]))
    seen = numbered("phone 1 18.2")
    sent({"trees": [tree("left", 1, 18.4, seen)]})
    sent({"trees": [tree("right", 1, 18.6, seen)]})
    assert {side.values["dbh_in"] for side in conflicts.open_conflicts()[0].sides} == {"18.4", "18.6"}

    sent(visit_of("phone", [tree("phone", 1, 18.2)]))
    assert {side.values["dbh_in"] for side in conflicts.open_conflicts()[0].sides} == {"18.4", "18.6"}
    assert trees_in_force() == []


def test_a_settlement_of_nothing_in_dispute_is_refused(sqlite_book, tmp_path):
    stand_there(tmp_path)
    sent(visit_of("phone", [tree("phone", 1, 18.2)]))
    with pytest.raises(Misuse, match="in no conflict"):
        conflicts.settle("trees", numbered("phone 1 18.2"))
    with pytest.raises(NotFound, match="is in dispute"):
        conflicts.table_of(conflicts.open_conflicts(), numbered("phone 1 18.2"))


@pytest.mark.parametrize("tables", [{"stands": [{"stand": "B"}]}, {"trees": [{"visit": "a"}, {"visit": "b"}]}, {"trees": [{"visit": ""}]}])
def test_a_call_stores_one_visit_and_nothing_else(tables):
    with pytest.raises(Misuse, match=r"no table of a visit|rows are of"):
        entering.visit_of(tables)


UPLOADS = (
    visit_of("first", [tree("first", 1, 18.2), tree("first", 2, 16.0)]) | {"seedlings": [young("first", 4)]},
    visit_of("second", [tree("second", 1, 14.9), tree("second", 3, 12.1)]),
    {"trees": [tree("first", 2, 16.5, numbered("first 2 16.0"))], "seedlings": [young("first", 6, numbered("first young 4"))]},
    {"trees": [tree("second", 2, 16.7, numbered("first 2 16.0"))]},
    {"trees": [tree("second", 3, 12.3, numbered("second 3 12.1"))]},
)

# What the uploads come to in the order in which they were made.
ONE_BOOK = {}


def state():
    """What the book says: what is in force, and what waits."""
    waits = {(one.table, one.key): {tuple(side.values.items()) for side in one.sides} for one in conflicts.open_conflicts()}
    return trees_in_force(), [(row.line, row.stems) for row in store.records("seedlings")], waits


def after_uploads(fresh, path, order):
    shutil.copy(fresh, path)
    session.open_book(path)
    for number in order:
        sent(UPLOADS[number])
    return state()


@pytest.mark.slow
@settings(max_examples=5, deadline=None, phases=[Phase.generate], suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_uploads_in_any_order_and_sent_again_give_one_book(sqlite_book, tmp_path, data):
    fresh = tmp_path / "fresh.sqlite3"
    if not fresh.exists():
        stand_there(tmp_path)
        session.backup(fresh)
        ONE_BOOK[tmp_path] = after_uploads(fresh, tmp_path / "two.sqlite3", range(5))
    head, other = data.draw(st.permutations([0, 1]))
    # The visit comes first; its corrections may come before the records they correct, in any order and often.
    rest = data.draw(st.permutations([other, 2, 3, 4, *data.draw(st.lists(st.sampled_from(range(len(UPLOADS))), max_size=4))]))
    assert after_uploads(fresh, tmp_path / "one.sqlite3", [head, *rest]) == ONE_BOOK[tmp_path]


@pytest.mark.slow
def test_one_file_brought_in_by_two_processes_at_once_counts_once(book, tmp_path):
    stand_there(tmp_path)
    packed = write(tmp_path, dict(SHEETS), "cruise.zip")
    command = [sys.executable, "-m", "overwood", "import", str(packed), "--yes", "--replace", "*"]
    command += ["--book", str(book)] if book else []
    both = [subprocess.Popen(command, env=os.environ, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) for _ in range(2)]
    said = [one.communicate()[0] for one in both]

    assert [one.returncode for one in both] == [0, 0], said
    assert len(trees_in_force()) == 4
    assert store.current("points").count() == 5
    assert [one["file_name"] for one in session.entries()].count("cruise.zip") == 1


def test_a_correction_that_comes_before_its_record_applies_once_the_record_is_there(book, tmp_path):
    stand_there(tmp_path)
    sent(visit_of("phone", [tree("phone", 1, 18.2)]))
    seen = numbered("phone 2 16.0")
    early = sent({"trees": [tree("left", 2, 16.5, seen)]})
    assert early.clashes == []
    assert trees_in_force() == [("1", 18.2), ("2", 16.5)]

    late = sent({"trees": [tree("phone", 2, 16.0)]})

    assert (late.clashes, late.needs_consent, conflicts.open_conflicts()) == ([], (), ())
    assert trees_in_force() == [("1", 18.2), ("2", 16.5)]
    assert sent({"trees": [tree("phone", 2, 16.0)]}).batch is None, "and a repeat changes nothing"
    sent({"trees": [tree("right", 2, 16.7, seen)]})
    assert {side.values["dbh_in"] for side in conflicts.open_conflicts()[0].sides} == {"16.5", "16.7"}


def test_a_chain_of_corrections_sent_last_first_ends_at_the_last_correction(book, tmp_path):
    stand_there(tmp_path)
    sent(visit_of("phone", []))
    first, second = numbered("phone 1 18.2"), numbered("left 1 18.4")
    for upload in ([tree("left", 1, 18.6, second)], [tree("left", 1, 18.4, first)], [tree("phone", 1, 18.2)]):
        assert sent({"trees": upload}).clashes == []

    assert trees_in_force() == [("1", 18.6)]
    assert conflicts.open_conflicts() == ()


def test_a_correction_that_stands_before_its_record_in_one_upload_is_no_dispute(book, tmp_path):
    stand_there(tmp_path)
    sent(visit_of("phone", []))
    both = entering.enter(
        {"trees": [tree("left", 1, 18.4, numbered("phone 1 18.2")), tree("phone", 1, 18.2)]}, today=TODAY, name="visit", synced=True
    )

    assert (both.faults, both.clashes, conflicts.open_conflicts()) == ([], [], ())
    assert trees_in_force() == [("1", 18.4)]


def test_a_correction_that_comes_before_its_visit_is_named_and_comes_in_when_sent_again(book, tmp_path):
    stand_there(tmp_path)
    late = {"trees": [tree("left", 1, 18.4, numbered("phone 1 18.2"))]}
    early = entering.enter(late, today=TODAY, name="visit", synced=True)
    assert [one.column for one in early.faults] == ["visit"]
    assert (early.batch, trees_in_force()) == (None, [])

    sent(visit_of("phone", [tree("phone", 1, 18.2)]))
    sent(late)

    assert trees_in_force() == [("1", 18.4)]
