"""Rooms agree: one question has one answer wherever it is asked (docs/consistency.md)."""

from __future__ import annotations

import pytest

import rooms
import synthetic
from conftest import DEMO_DAY, ROOT
from overwood.desk import answers, fire, light
from overwood.desk.answers import priced
from overwood.judgement import prices as price_lists
from overwood.judgement.rules import load

RULES = load()
PRICES = ROOT / "demo" / "prices.toml"


@pytest.mark.parametrize("seed", range(12))
def test_rooms_agree_on_stands_that_are_made_up(seed):
    prices = price_lists.load(PRICES) if seed % 4 == 0 else None
    assert rooms.disagreements(synthetic.stand_file(seed), RULES, synthetic.ON, light=seed == 11, prices=prices) == []


def test_rooms_agree_on_every_stand_of_the_demo(demo_book):
    for name, file in answers.all_files().items():
        assert (name, rooms.disagreements(file, RULES, DEMO_DAY, light=False)) == (name, [])


def test_one_light_figure_a_state_on_the_demo(demo_book):
    ask = answers.question(DEMO_DAY)
    for name in ("S1", "S3"):
        told = {one.state: one for one in light.light(name, ask).told}
        assert told["as cruised"].mean_pct == pytest.approx(answers.evidence(name, ask)["floor_light_pct"].number)
        if name == "S1":
            order, _ = fire.injection(name, ask)
            assert told["midstory out"].mean_pct == pytest.approx(order.light_after_pct.likely)


def test_rooms_of_money_tell_one_cost_of_waiting_and_one_horizon(demo_book):
    from overwood.desk import timber

    ask = priced(answers.question(DEMO_DAY), PRICES)
    found = timber.compare("S4", ask, timber.price_list(PRICES))
    assert all(flow.year <= found.horizon_yr for choice in found.choices for flow in choice.flows)
    assert f"costs about {found.waiting_usd_ac:,.0f} (" in answers.brief("S4", ask).waiting
