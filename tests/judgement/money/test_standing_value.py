"""Trees of the futures and of the plan are worth, year by year, what the choices say of them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from conftest import DEMO_DAY, ROOT
from overwood.desk import answers, futures
from overwood.judgement import prices
from overwood.judgement.evidence import all_figures
from overwood.judgement.futures import cash, courses
from overwood.judgement.money import choices
from overwood.judgement.money.standing_value import StandingValue
from overwood.judgement.rules import load
from overwood.science import regeneration as science

RULES = load()
LISTED = prices.load(ROOT / "demo" / "prices.toml")


@pytest.mark.parametrize("name", ["S1", "S3", "S5"])
def test_all_trees_are_worth_what_the_choices_say_in_any_year(demo_book, name):
    file = answers.stand_file(name).as_of(DEMO_DAY)
    value, stand = StandingValue(file, RULES, LISTED), choices.PricedStand(file, RULES, LISTED)
    for year in (0, 5, 10, 20):
        assert value.whole(np.array([float(year)]))[0] == pytest.approx(stand.values_after(year).sum())
    for year in (3, 7, 13, 26):
        assert value.whole(np.array([float(year)]))[0] == pytest.approx(stand.values_after(year).sum(), rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["S1", "S2", "S6", "S7", "S8"])
def test_a_shelterwood_in_two_cuts_earns_what_the_choices_say(demo_book, name):
    file = answers.stand_file(name).as_of(DEMO_DAY)
    figures = all_figures(file, RULES, DEMO_DAY)
    said = {one.name: one for one in choices.compare(file, figures, RULES, LISTED).choices}["shelterwood in two cuts"]
    (first, sold), (last, rest) = [
        (flow.year, flow.amount_usd_ac) for flow in said.flows if flow.amount_usd_ac > 0 and "cost-share" not in flow.what
    ]
    ask = dataclasses.replace(answers.question(DEMO_DAY), prices=LISTED)
    money = dataclasses.replace(futures.money_of(file, ask, LISTED), fee_share=0.0)
    course = next(course for course in courses.load() if course.name == "inject, two cuts")
    course = dataclasses.replace(course, numbers={**course.numbers, "residual_ft2_ac": choices._residual(RULES)})
    came = np.full((1, len(science.RESULTS)), -1.0)
    came[0, [science.RESULTS.index("cut_year"), science.RESULTS.index("release_year")]] = first, last

    sums = {one.kind: float(one.usd_ac[0]) for one in cash.sums_of(course, came, money)}

    assert sums["seed cut"] == pytest.approx(sold, rel=0.02)
    assert sums["removal cut"] == pytest.approx(rest, rel=0.03)
    # In the plan both sales fall, and nothing stands at its end.
    both = sold / (1 + money.rate) ** first + rest / (1 + money.rate) ** last
    costs = sum(
        one.usd_ac[0] * (1 + money.rate) ** -one.years[0] for one in cash.sums_of(course, came, money) if one.usd_ac[0] < 0 <= one.years[0]
    )
    assert cash.value_within(course, came, money, int(last) + 1)[0] - costs == pytest.approx(both, rel=0.03)


def test_a_cut_leaves_part_of_what_stood_and_no_more_than_all(demo_book):
    file = answers.stand_file("S1").as_of(DEMO_DAY)
    value, cut = StandingValue(file, RULES, LISTED), np.array([0.0, 4.0, 12.0])
    left = value.left(60.0, cut, cut)
    assert (left > 0).all()
    assert (left < value.whole(cut)).all()
    assert value.left(1e6, cut, cut) == pytest.approx(value.left(2e6, cut, cut))
