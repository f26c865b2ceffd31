"""Every example in a docstring runs."""

from __future__ import annotations

import doctest
import importlib

import pytest

from test_form import SCIENCE

# The futures compile for half a minute on a fresh machine.
NAMES = [pytest.param(name, marks=pytest.mark.slow) if name.startswith("regeneration.") else name for name in SCIENCE]


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_examples_run(name):
    found = doctest.testmod(importlib.import_module(f"overwood.science.{name}"))

    assert found.attempted > 0
    assert found.failed == 0
