"""The audit log: whoever changes it by other means than the desk is shown to have done so."""

from __future__ import annotations

import pytest
from django.test import override_settings

from overwood.desk import office
from overwood.memory.book import audit
from overwood.memory.book.models import Trace


@pytest.fixture
def log(sqlite_book, tmp_path):
    """A log of five lines, with its newest seal noted beside the book."""
    with override_settings(AUDIT_HEAD=str(tmp_path / "office" / "log_head")):
        for number in range(5):
            audit.trace("ann", "admin", f"change {number}", "/rules/", 200)
        assert office.log_state().fault == ""
        yield list(Trace.objects.order_by("id"))


def test_a_line_that_is_changed_or_taken_out_shows(log):
    Trace.objects.filter(id=log[2].id).update(who="bob")
    assert f"from line {log[2].id} on" in office.log_state().fault
    Trace.objects.filter(id=log[2].id).delete()
    assert f"from line {log[3].id} on" in office.log_state().fault


def test_a_changed_line_sealed_anew_without_the_secret_shows(log):
    before = log[1].mark
    for line in log[2:]:
        line.who, line.mark = "bob", ""
        line.mark = before = audit.mark_of(before, line)
        line.save()
    assert f"from line {log[2].id} on" in office.log_state().fault


def test_a_whole_log_sealed_anew_without_the_secret_shows(log):
    before = ""
    for line in log:
        line.mark = before = audit.mark_of(before, line)
        line.save()
    assert "lines were taken off" in office.log_state().fault.lower()
    audit._place().unlink()
    assert "No line is sealed with the office's secret" in office.log_state().fault


@pytest.mark.parametrize("left", [0, 3])
def test_a_log_cut_off_shows_and_its_next_line_says_so_for_good(log, left):
    Trace.objects.filter(id__gt=log[left - 1].id if left else 0).delete()
    assert "Lines were taken off the end" in office.log_state().fault

    for _ in range(2):
        audit.trace("ann", "admin", "later", "/rules/", 200)
    assert [line.what for line in Trace.objects.order_by("id")][left:] == [audit.CUT, "later", "later"]
    assert office.log_state().fault == ""


def test_lines_from_before_the_secret_are_followed_by_lines_with_it(log):
    Trace.objects.all().delete()
    audit._place().unlink()
    old = Trace(at=log[0].at, who="ann", role="admin", what="old", address="/", status=200)
    old.mark = audit.mark_of("", old)
    old.save()
    audit.trace("ann", "admin", "new", "/rules/", 200)

    assert (office.log_state().fault, office.log_state().lines) == ("", 2)


def test_a_line_that_was_taken_back_is_not_missed(log):
    from django.db import transaction

    with pytest.raises(ValueError, match="no"), transaction.atomic():
        audit.trace("ann", "admin", "taken back", "/rules/", 200)
        raise ValueError("no")
    audit.trace("ann", "admin", "kept", "/rules/", 200)

    assert office.log_state().fault == ""
