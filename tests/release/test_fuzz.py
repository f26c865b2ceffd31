"""A little of the fuzz: every reader of foreign files answers damaged ones in words."""

from __future__ import annotations

import importlib.util
import random
import subprocess
import sys

import pytest

from conftest import ROOT

INPUTS = 120


def _script():
    spec = importlib.util.spec_from_file_location("fuzz", ROOT / "bench" / "fuzz.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


FUZZ = _script()


@pytest.mark.slow
def test_damaged_files_are_read_or_refused_in_words(tmp_path):
    """In a process of its own: what other tests held of memory is not the readers'."""
    script = [sys.executable, str(ROOT / "bench" / "fuzz.py"), "--inputs", str(INPUTS), "--seed", "7", "--keep", str(tmp_path)]
    ran = subprocess.run(script, capture_output=True, text=True, check=False)

    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert f"{INPUTS} damaged files" in ran.stdout


@pytest.mark.parametrize("kept", sorted(FUZZ.CORPUS.glob("*/*")), ids=lambda path: path.name)
def test_what_once_broke_a_reader_is_read_or_refused_in_words(kept):
    from overwood.ground.errors import OverwoodError

    try:
        FUZZ.READERS[kept.parent.name](kept.name.split("-", 1)[1], kept.read_bytes())
    except OverwoodError as fault:
        assert str(fault)


def test_a_reader_that_breaks_is_counted_and_its_input_kept(monkeypatch, tmp_path, capsys):
    def broken(name, content):
        raise KeyError("gone")

    monkeypatch.setattr(FUZZ, "seeds", lambda: [FUZZ.Seed("a.csv", broken, b"a,b")])

    monkeypatch.setattr(FUZZ, "_memory_mb", lambda: 1_200.0)  # a process that held much before

    assert FUZZ.run(3, 1, tmp_path) == 3
    assert "KeyError" in capsys.readouterr().out
    assert len(list(tmp_path.glob("*/*"))) == 1


def test_a_reader_that_takes_too_much_memory_is_counted(monkeypatch, capsys):
    held = iter((100.0, 1_200.0))
    monkeypatch.setattr(FUZZ, "seeds", lambda: [FUZZ.Seed("a.csv", lambda name, content: None, b"a,b")])
    monkeypatch.setattr(FUZZ, "_memory_mb", lambda: next(held))

    assert FUZZ.run(1, 1, None) == 1
    assert "over 1000 MB" in capsys.readouterr().out


def test_damage_is_the_same_for_the_same_seed():
    hurt = [FUZZ.damaged(b"stand,plot\n1,2\n", random.Random(3)) for _ in range(2)]

    assert hurt[0] == hurt[1] != b"stand,plot\n1,2\n"
