"""A gate said to open so often opens so often: fewer stands of docs/gate_reliability.py, and the table of the docs."""

from __future__ import annotations

import importlib.util
import sys

import numpy as np
import pytest

from conftest import DEMO_DAY, ROOT
from overwood.desk import answers
from overwood.judgement.evidence import all_figures
from overwood.judgement.futures.start import start_of
from overwood.judgement.rules import load


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location("gate_reliability", ROOT / "docs" / "gate_reliability.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
def test_a_gate_opens_as_often_as_is_said_within_what_a_few_stands_can_show(demo_book, script):
    file, rules = answers.stand_file(script.STAND).as_of(DEMO_DAY), load()
    found = script.tried(start_of(file, all_figures(file, rules, DEMO_DAY), rules), rules, 12)

    apart = (found.opened - found.said).mean(axis=(0, 1))
    assert abs(apart.mean()) <= 0.02 + 2.5 * apart.std(ddof=1) / len(apart) ** 0.5
    # A forecast that knew nothing of the stand would not tell stands apart.
    assert np.corrcoef(found.said.ravel(), found.opened.ravel())[0, 1] > 0.8


def test_in_the_table_of_the_docs_what_is_said_opens_within_five_points(script):
    text = (ROOT / "docs" / "gate_reliability.md").read_text(encoding="utf-8")
    rows = [line.strip("| \n").split(" | ") for line in text.splitlines() if line.startswith("| ") and "said" not in line]
    apart = {row[0]: abs(float(row[2]) - float(row[3])) for row in rows}

    assert f"with 800 made-up stands, seed {script.SEED}" in text and len(rows) == len(script.BOUNDS)
    assert {row: points for row, points in apart.items() if points > 5} == {}
