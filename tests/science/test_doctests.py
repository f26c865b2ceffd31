"""Every example in a docstring runs."""

from __future__ import annotations

import doctest
import importlib

import pytest

from test_form import SCIENCE


@pytest.mark.parametrize("name", SCIENCE)
def test_examples_run(name):
    found = doctest.testmod(importlib.import_module(f"overwood.science.{name}"))

    assert found.attempted > 0
    assert found.failed == 0
