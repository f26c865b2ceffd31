"""The marking check's verdicts: wrong no more often than said, and soon where the answer is clear."""

from __future__ import annotations

import numpy as np
import pytest

from overwood.science.sequential import judge

RULE = {"error": 0.10, "step": 5, "looks": 8}


def verdicts(mean, sd, runs=2_000, seed=1):
    draws = np.random.default_rng(seed).normal(mean, sd, size=(runs, 40))
    return [judge(row, 50, 70, **RULE) for row in draws]


@pytest.mark.parametrize(("mean", "wrong"), [(50, "inside"), (70, "inside"), (50, "below"), (70, "above")])
@pytest.mark.parametrize("sd", [5, 25])
def test_a_mean_at_an_end_is_misjudged_no_more_often_than_said(mean, wrong, sd):
    found = [looked.verdict for looked in verdicts(mean, sd)]

    # Three standard errors of a share of 2,000 runs on top of the error said.
    assert found.count(wrong) / len(found) <= 0.10 + 3 * (0.1 * 0.9 / 2_000) ** 0.5


@pytest.mark.parametrize(("mean", "verdict"), [(60, "inside"), (30, "below"), (95, "above")])
def test_a_clear_answer_comes_soon(mean, verdict):
    found = verdicts(mean, 10)

    assert sum(looked.verdict == verdict for looked in found) / len(found) > 0.95
    assert np.median([looked.n for looked in found]) <= 15


def test_the_first_look_that_decides_stands_whatever_comes_later():
    few = [60, 58, 62, 59, 61]

    assert judge(few, 50, 70, **RULE).verdict == "inside"
    later = judge([*few, *([200] * 20)], 50, 70, **RULE)
    assert (later.verdict, later.n) == ("inside", 5)


def test_too_few_points_ask_for_the_next_look():
    assert judge([], 50, 70, **RULE).next_look == 5
    assert judge([60, 50, 70, 40], 50, 70, **RULE).verdict == "more points"
    assert judge([60, 20, 90, 40, 80, 100], 50, 70, **RULE).next_look == 10


def test_after_the_last_look_it_is_undecided():
    edge = [49, 51] * 30

    assert judge(edge, 50, 70, **RULE).verdict == "undecided"


def test_a_look_judges_each_end_with_its_part_of_the_error():
    # Five values of mean 60 and standard deviation 1.5811; Student's t of 4 degrees of freedom with 0.0125 beyond: 3.4954 (any table of t).
    seen = judge([58, 59, 60, 61, 62], 50, 70, **RULE)

    assert seen.mean - seen.low == pytest.approx(3.4954 * 1.5811 / 5**0.5, abs=0.001)
