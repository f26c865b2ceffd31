"""The intervals hold: fewer repeats of docs/interval_coverage.py, which simulates samples of known truths by stated laws."""

from __future__ import annotations

import importlib.util
import sys

import numpy as np
import pytest

from conftest import ROOT
from overwood.science import survey

REPEATS = 600
# Wanted are 87 % and more; three standard errors of so few repeats are let go below.
LEAST = 0.87 - 3 * (0.87 * 0.13 / REPEATS) ** 0.5
# 97 % and fewer, with three standard errors above.
MOST = 0.97 + 3 * (0.97 * 0.03 / REPEATS) ** 0.5


def _script():
    spec = importlib.util.spec_from_file_location("coverage_of_intervals", ROOT / "docs" / "interval_coverage.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


SCRIPT = _script()
CASES = list(SCRIPT.cases())


@pytest.mark.parametrize("case", CASES, ids=[f"{case.estimator}: {case.name}" for case in CASES])
def test_an_interval_holds_about_as_often_as_it_says(case):
    found = SCRIPT.covered(case, REPEATS)

    assert min(found.two_sided, found.lower, found.upper) >= LEAST
    assert max(found.two_sided, found.lower, found.upper) <= MOST


@pytest.mark.parametrize("clumping_k", [0.2, 0.5])
def test_the_plain_interval_of_a_mean_would_not_pass_this_test(clumping_k):
    def draw(rng):
        counts = SCRIPT.clumped(rng, 400 / 735, clumping_k, 20)

        def ends(level):
            found = survey.sample_mean(counts, level=level)
            return found.low, found.high

        return ends

    assert SCRIPT.covered(SCRIPT.Case("t", "clumped", 400 / 735, draw), REPEATS).upper < LEAST


def test_every_case_stands_in_the_docs_with_its_coverage():
    rows = [
        line.split("|")[1:-1]
        for line in (ROOT / "docs" / "coverage.md").read_text(encoding="utf-8").splitlines()
        if "%" in line and line[0] == "|" and "(" not in line.split("|")[2]
    ]
    shown = {name.strip(" *"): [float(cell.strip(" %")) for cell in cells] for _, name, *cells in rows}

    assert set(shown) == {case.name for case in CASES}
    assert min(min(cells) for cells in shown.values()) >= 87
    assert max(max(cells) for cells in shown.values()) <= 97
    assert np.mean([cells[0] for cells in shown.values()]) == pytest.approx(91, abs=2)
