"""The worth of looking, against cases worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from overwood.judgement.futures.worth import gain


def test_news_that_turns_the_choice_is_worth_what_it_gains():
    # Two courses pay 10 + x and 10 - x, x normal: choosing by x gains E|x| = sqrt(2 / pi) over either.
    x = np.random.default_rng(1).normal(size=20_000)
    assert gain(np.array([10 + x, 10 - x]), x[:, None]).oaks_ac == pytest.approx(np.sqrt(2 / np.pi), abs=0.02)


def test_news_of_something_else_is_worth_nothing():
    rng = np.random.default_rng(2)
    x, other = rng.normal(size=8_000), rng.normal(size=(8_000, 3))
    assert gain(np.array([10 + x, 10 - x]), other).oaks_ac < 0.03


def test_news_is_worth_nothing_where_one_course_is_always_better():
    x = np.random.default_rng(3).normal(size=4_000)
    assert gain(np.array([10 + x, 2 + x]), x[:, None]).oaks_ac == pytest.approx(0, abs=1e-9)


def test_blurred_news_is_worth_less():
    rng = np.random.default_rng(4)
    x = rng.normal(size=20_000)
    sharp, blurred = (gain(np.array([10 + x, 10 - x]), (x + rng.normal(0, noise, len(x)))[:, None]).oaks_ac for noise in (0.1, 2.0))
    assert 0 < blurred < sharp
    # Of normal news with noise sd s the worth is sqrt(2 / pi) / sqrt(1 + s^2).
    assert blurred == pytest.approx(np.sqrt(2 / np.pi) / np.sqrt(5), abs=0.03)


def test_a_feature_that_never_varies_does_no_harm():
    x = np.random.default_rng(5).normal(size=2_000)
    assert gain(np.array([10 + x, 10 - x]), np.column_stack((x, np.ones(2_000)))).oaks_ac > 0.7


def test_the_choice_changes_as_often_as_the_news_turns_it():
    x = np.random.default_rng(6).normal(size=20_000)
    turned = gain(np.array([10 + x, 10 - x]), x[:, None])
    assert turned.changed_share == pytest.approx(0.5, abs=0.02)
    assert gain(np.array([10 + x, 2 + x]), x[:, None]).changed_share == 0
