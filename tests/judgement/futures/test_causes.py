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
    first, total = indices(ishigami, ([0], [1], [2]), 16_384, 1)
    assert first == pytest.approx([0.314, 0.442, 0.0], abs=0.02)
    assert total == pytest.approx([0.558, 0.442, 0.244], abs=0.02)


def test_a_sum_has_first_and_total_alike_and_an_idle_input_none():
    first, total = indices(lambda shares: 3 * shares[:, 0] + shares[:, 1], ([0], [1], [2]), 8_192, 2)
    assert first == pytest.approx([0.9, 0.1, 0.0], abs=0.02)
    assert total == pytest.approx([0.9, 0.1, 0.0], abs=0.02)


def test_what_acts_only_together_shows_in_the_input_that_holds_both():
    # By hand: the function above is that of x2 and of x1 with x3; 0.442 and the rest of the variance.
    first, total = indices(ishigami, ([1], [0, 2]), 16_384, 4)
    assert first == pytest.approx([0.442, 0.558], abs=0.02)
    assert total == pytest.approx([0.442, 0.558], abs=0.02)


def test_nothing_that_varies_gives_no_index():
    first, total = indices(lambda shares: np.ones(len(shares)), ([0], [1]), 64, 3)
    assert (first == 0).all() and (total == 0).all()


def test_few_rows_give_the_first_index_of_an_outcome_far_from_nothing():
    # By hand: 40 x and 20 y give 0.696 and 0.174 of the variance; u and v act only together, so alone they say nothing.
    def far(shares):
        half = shares - 0.5
        return 500 + 40 * half[:, 0] + 20 * half[:, 1] + 60 * half[:, 2] * half[:, 3]

    found = np.array([indices(far, ([0], [1], [2], [3]), 192, seed)[0] for seed in range(20)])
    assert found.mean(axis=0) == pytest.approx([0.696, 0.174, 0.0, 0.0], abs=0.05)
    assert (found.std(axis=0) < 0.08).all()
