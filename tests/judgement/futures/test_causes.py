"""Sobol indices against a function whose indices are known."""

from __future__ import annotations

import numpy as np
import pytest

from overwood.judgement.futures.causes import indices


def ishigami(shares):
    """The function of Ishigami and Homma 1990 with a = 7 and b = 0.1."""
    x = np.pi * (2 * shares - 1)
    return np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_indices_are_those_of_the_function_of_ishigami_and_homma():
    # Known: first 0.314, 0.442, 0; total 0.558, 0.442, 0.244 (Ishigami and Homma 1990; from memory of Saltelli and others 2010).
    first, total = indices(ishigami, 3, 16_384, 1)
    assert first == pytest.approx([0.314, 0.442, 0.0], abs=0.02)
    assert total == pytest.approx([0.558, 0.442, 0.244], abs=0.02)


def test_a_sum_has_first_and_total_alike_and_an_idle_input_none():
    first, total = indices(lambda shares: 3 * shares[:, 0] + shares[:, 1], 3, 8_192, 2)
    assert first == pytest.approx([0.9, 0.1, 0.0], abs=0.02)
    assert total == pytest.approx([0.9, 0.1, 0.0], abs=0.02)


def test_nothing_that_varies_gives_no_index():
    first, total = indices(lambda shares: np.ones(len(shares)), 2, 64, 3)
    assert (first == 0).all() and (total == 0).all()
