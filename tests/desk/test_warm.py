"""Compiling at set-up: it runs, says what it does, and formulas by hand load no compiler."""

from __future__ import annotations

import subprocess
import sys

from overwood.desk import warm
from overwood.science.regeneration import pieces


def test_set_up_compiles_every_part_and_says_so():
    said = []

    warm.warm(said.append)

    assert len(said) == len(list(warm.parts()))
    assert all(words.startswith("Compiling once: ") for words in said)
    # Pieces have the types by which the whole calls them: each of these was compiled once.
    alone = [piece for piece in pieces._PIECES if piece.py_func.__name__.startswith("_")]
    assert len(alone) == 4
    assert {len(piece._cache._cache_file._load_index()) for piece in alone} == {1}


def test_formulas_by_hand_load_neither_compiler_nor_tables_nor_solvers():
    script = (
        "import sys; from overwood.desk import formulas; formulas.compute('stocking', {'dbh_in': '10', 'tpa': '100'});"
        "print([m for m in ('numpy', 'numba', 'polars', 'scipy', 'django') if m in sys.modules]);"
        "formulas.every(); print([m for m in ('numba', 'polars', 'scipy', 'django') if m in sys.modules])"
    )

    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)

    assert loaded.stdout.split() == ["[]", "[]"]


def test_a_fresh_machine_compiles_behind_the_first_import_and_a_second_one_begins_nothing(monkeypatch, tmp_path):
    begun = []
    warm.ahead.cache_clear()
    monkeypatch.setattr(warm.subprocess, "Popen", lambda command, **_: begun.append(command))
    monkeypatch.setattr("overwood.science.compiling.folder", lambda room: str(tmp_path))
    warm.ahead()
    assert [command[4:] for command in begun] == [["futures", "light"], ["pieces"]]
    warm.ahead()
    assert len(begun) == 2
    warm.ahead.cache_clear()
    for function in ("every_future", "many_pools"):
        (tmp_path / f"module.{function}-1.py311.1.nbc").touch()
    warm.ahead("light")
    assert [command[4:] for command in begun[2:]] == [["light"]]
    warm.ahead.cache_clear()
