"""Stands judged beside the pages: who asks for all of them gets all, also while others write."""

from __future__ import annotations

import datetime as dt
import itertools
from types import SimpleNamespace

import pytest

from overwood.faces.pages import judging
from overwood.faces.served.memo import Memo, Rounds
from overwood.ground import measures
from overwood.ground.errors import OverwoodError

ASK = SimpleNamespace(on=dt.date(2025, 10, 15), rules=SimpleNamespace(version="r"))
NAMES = ("S1", "S2", "S3")


@pytest.fixture
def desk(monkeypatch):
    """Three stands of no book; what judging one does can be put in its place."""

    def at_once(wanted, wait_s):
        made.result = wanted.doing({**wanted.asked, "units": measures.system()}, lambda done, note: done < made.stops_at)
        return SimpleNamespace(stop=made.stops_at < len(NAMES))

    made = SimpleNamespace(judge=lambda name, ask: name, at_once=at_once, stops_at=len(NAMES), kept=None)
    monkeypatch.setattr(judging.asking.DESK, "judged", Memo(100))
    monkeypatch.setattr(judging.asking.DESK, "rounds", Rounds())
    monkeypatch.setattr(judging.session, "stands", lambda: [SimpleNamespace(stand=name) for name in NAMES])
    monkeypatch.setattr(judging.session, "stand_marks", lambda: dict.fromkeys(NAMES, "mark"))
    monkeypatch.setattr(judging.kept, "newest_futures", dict)
    monkeypatch.setattr(judging.kept, "view_version", lambda: 1)
    monkeypatch.setattr(judging.work, "newest_result", lambda kind, rests_on: made.kept)
    monkeypatch.setattr(judging.asking, "hand", lambda: made)
    monkeypatch.setattr(judging, "_judged", lambda name, ask: judging.Judged(advice=made.judge(name, ask), due=()))
    return made


def test_all_stands_are_judged_before_a_whole_answer(desk):
    assert set(judging.whole(ASK).known) == set(NAMES)


def test_a_whole_answer_comes_while_others_never_stop_writing(desk, monkeypatch):
    versions = itertools.count()
    # Every look at the book sees another version, as when each is preceded by a write.
    monkeypatch.setattr(judging.kept, "view_version", lambda: next(versions))

    found = judging.standing(ASK, 60)

    assert found.left == 0
    assert set(found.known) == set(NAMES)


def test_a_whole_answer_is_refused_where_stands_are_still_to_be_judged(desk, monkeypatch):
    import threading

    go_on = threading.Event()
    desk.judge = lambda name, ask: go_on.wait(60)
    monkeypatch.setattr(judging, "WHOLE_WITHIN_S", 0.05)

    with pytest.raises(OverwoodError, match="would lack them"):
        judging.whole(ASK)
    go_on.set()
    # The round ends here and not in the next test.
    assert judging.standing(ASK, 60).left == 0


def test_a_round_that_breaks_off_keeps_nobody_waiting(desk, monkeypatch):
    def broken():
        raise OverwoodError("the book is locked.")

    monkeypatch.setattr(judging.session, "stand_marks", broken)
    monkeypatch.setattr("threading.excepthook", lambda caught: None)

    assert judging.standing(ASK, 60).left > 0


def test_advice_by_another_rulebook_is_not_the_whole_answer(desk):
    judging.whole(ASK)
    other = SimpleNamespace(on=ASK.on, rules=SimpleNamespace(version="changed"))

    assert judging.standing(other, 60).left == 0
    held = [judging.asking.DESK.judged.get((name, measures.US)) for name in NAMES]
    assert all(key[2:4] == (ASK.on, "changed") for key, _ in held)


def test_stands_said_in_other_units_are_not_the_whole_answer(desk, monkeypatch):
    import threading

    judging.whole(ASK)
    go_on = threading.Event()
    desk.judge = lambda name, ask: go_on.wait(60)
    rounds = judging.asking.DESK.rounds
    with measures.in_units(measures.METRIC):
        assert judging.standing(ASK, 0).left > 0
        # A round that somebody else asked for ends, its sentences in US units.
        with rounds.turn:
            rounds.ended = rounds.begun + 1
        assert judging.standing(ASK, 0).left > 0
        with rounds.turn:
            rounds.ended = rounds.begun - 1
        go_on.set()
        assert judging.standing(ASK, 60).left == 0


def test_the_api_names_a_stand_whose_records_break_the_judging_and_tells_what_is_due_in_the_others(desk, monkeypatch):
    from overwood.faces.pages.api import reading
    from overwood.judgement.course.due import Due
    from overwood.judgement.gates.windows import Window

    on = dt.date(2025, 10, 15)

    def judge(name, ask):
        if name == "S2":
            raise ZeroDivisionError("no points")
        return SimpleNamespace(stand=name), [Due(stand=name, what="Count again", window=Window(on, on), why="a year has gone")]

    monkeypatch.setattr(judging, "_judged", lambda name, ask: judging.judged_or_not(name, lambda: judge(name, ask)))
    monkeypatch.setattr(reading.asking, "question", lambda: SimpleNamespace(on=on, rules=ASK.rules))

    found = reading.due_everywhere(None, days=365)

    assert [(one["stand"], one["what"]) for one in found] == [("S1", "Count again"), ("S2", "Could not be judged"), ("S3", "Count again")]
    assert "ZeroDivisionError" in found[1]["why"]


def test_a_stop_ends_the_round_and_none_begins_by_itself_until_asked_for(desk):
    desk.stops_at = 1
    stopped = judging.standing(ASK, 60)
    assert (set(stopped.known), stopped.left, stopped.is_stopped) == ({"S1"}, 2, True)
    desk.stops_at = len(NAMES)
    assert judging.standing(ASK, 60).left == 2
    judging.go_on()
    done = judging.standing(ASK, 60)
    assert (done.left, done.is_stopped) == (0, False)


def test_what_was_judged_is_taken_up_by_another_process_as_far_as_the_records_are_the_same(demo_book, desk, monkeypatch):
    from overwood.desk import answers
    from overwood.desk.judging import packed, unpacked

    ask = answers.question(dt.date(2025, 10, 15))
    judged = {name: answers.judge(name, ask) for name in NAMES}
    real = {name: judging.Judged(advice=advice, due=tuple(due)) for name, (advice, due) in judged.items()}
    # Every stand of the demo comes back from its text as it was, so none of them is judged twice.
    assert unpacked(packed({name: ("mark None", one) for name, one in real.items()})) == {
        name: ("mark None", one) for name, one in real.items()
    }
    other = {"S1": ("mark None", real["S1"]), "S2": ("older None", real["S2"])}
    desk.kept, asked = {"packed": packed(other)}, []
    desk.judge = lambda name, ask: asked.append(name) or name
    assert judging.whole(ASK).known["S1"] == real["S1"]
    assert asked == ["S2", "S3"]
