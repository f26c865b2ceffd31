"""One stand that cannot be judged is named and keeps no other from its advice: by the desk, the command and the pages."""

from __future__ import annotations

import datetime as dt
import io
import json
from contextlib import redirect_stderr, redirect_stdout

import pytest

from conftest import DEMO_DAY
from overwood.desk import answers
from overwood.ground.errors import OverwoodError


@pytest.fixture
def two_stands(sqlite_book, tmp_path, monkeypatch):
    """Stand A can be judged; judging stand B breaks as a fault of the program would."""
    from overwood.desk import importing

    sheets = {"properties": [("property",), ("P",)], "stands": [("stand", "property"), ("A", "P"), ("B", "P")]}
    folder = tmp_path / "sheets"
    folder.mkdir()
    for name, rows in sheets.items():
        (folder / f"{name}.csv").write_text("\n".join(",".join(row) for row in rows))
    importing.bring_in(folder, today=dt.date(2026, 1, 15))
    whole = answers._advise

    def broken(file, ask):
        if file.stand.stand == "B":
            raise ZeroDivisionError("no points")
        return whole(file, ask)

    monkeypatch.setattr(answers, "_advise", broken)
    return sqlite_book


def _command(*words):
    from overwood.faces.cli import main as door

    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as done:
        door.main([*words, "--on", DEMO_DAY.isoformat()])
    return done.value.code, out.getvalue(), err.getvalue()


def test_a_stand_that_cannot_be_judged_is_named_and_the_others_are_judged(two_stands, ask):
    standing = answers.property_standing(ask)

    assert [one.advice.stand for one in standing.judged] == ["A"]
    assert [(one.stand, "ZeroDivisionError" in one.reason) for one in standing.unjudged] == [("B", True)]


def test_what_must_not_leave_a_stand_out_is_refused_with_its_name(two_stands, ask):
    with pytest.raises(OverwoodError, match="B could not be judged"):
        answers.property_advice(ask)


def test_a_stand_that_cannot_be_judged_stands_in_the_calendar_today(two_stands, ask):
    found = answers.due(ask, ask.on + dt.timedelta(days=365))

    assert [(one.window.start, one.what) for one in found if one.stand == "B"] == [(ask.on, "Could not be judged")]
    assert any(one.stand == "A" for one in found)


def test_the_command_lists_the_stands_it_can_judge_and_ends_with_the_name_of_the_other(two_stands):
    status, out, err = _command("property", "--book", str(two_stands), "--json")

    assert (status, [one["stand"] for one in json.loads(out)]) == (1, ["A"])
    assert "B could not be judged" in err
