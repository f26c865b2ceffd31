"""Compiling at set-up: it runs, says what it does, and formulas by hand load no compiler."""

from __future__ import annotations

import subprocess
import sys

from overwood.desk import warm


def test_set_up_compiles_every_part_and_says_so():
    said = []

    warm.warm(said.append)

    assert len(said) == len(list(warm.parts()))
    assert all(words.startswith("Compiling once: ") for words in said)


def test_formulas_by_hand_load_neither_compiler_nor_tables_nor_solvers():
    script = "import sys, overwood.desk.formulas; print([m for m in ('numba', 'polars', 'scipy', 'django') if m in sys.modules])"

    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)

    assert found.stdout.strip() == "[]"
