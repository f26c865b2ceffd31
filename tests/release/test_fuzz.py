"""A little of the fuzz: every reader of foreign files answers damaged ones in words."""

from __future__ import annotations

import importlib.util
import random

import pytest

from conftest import ROOT

INPUTS = 120


def _script():
    spec = importlib.util.spec_from_file_location("fuzz", ROOT / "bench" / "fuzz.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


FUZZ = _script()


def test_damaged_files_are_read_or_refused_in_words(capsys, tmp_path):
    failed = FUZZ.run(INPUTS, 7, tmp_path)

    assert failed == 0, capsys.readouterr().out
    assert f"{INPUTS} damaged files" in capsys.readouterr().out


@pytest.mark.parametrize("kept", sorted(FUZZ.CORPUS.glob("*/*")), ids=lambda path: path.name)
def test_what_once_broke_a_reader_is_read_or_refused_in_words(kept):
    from overwood.ground.errors import OverwoodError

    reader = {"tables": FUZZ._tables, "outlines": FUZZ._outlines, "weather": FUZZ._weather}[kept.parent.name]
    try:
        reader(kept.name.split("-", 1)[1], kept.read_bytes())
    except OverwoodError as fault:
        assert str(fault)


def test_a_reader_that_breaks_is_counted_and_its_input_kept(monkeypatch, tmp_path, capsys):
    def broken(name, content):
        raise KeyError("gone")

    monkeypatch.setattr(FUZZ, "seeds", lambda: [("a.csv", broken, b"a,b")])

    assert FUZZ.run(3, 1, tmp_path) == 3
    assert "KeyError" in capsys.readouterr().out
    assert len(list(tmp_path.glob("*/*"))) == 1


def test_damage_is_the_same_for_the_same_seed():
    hurt = [FUZZ.damaged(b"stand,plot\n1,2\n", random.Random(3)) for _ in range(2)]

    assert hurt[0] == hurt[1] != b"stand,plot\n1,2\n"
