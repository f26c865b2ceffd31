"""The plan of the demo property: the same again from the same records, its works held against the advice, kept, and told anew when things move."""

from __future__ import annotations

import dataclasses
import json

import pytest

from conftest import ROOT
from overwood.desk import answers, plan, session
from overwood.desk.telling import plain
from overwood.ground.errors import BadRule, Misuse
from overwood.ground.records import Stand
from overwood.judgement import prices
from overwood.judgement.plan import limits as limits_room
from overwood.judgement.plan.answer import Plan, Refusal
from overwood.judgement.plan.columns import LEAVE_ALONE, stand_number

COURSES = '[[course]]\nname = "cut all now"\ncut_year = 0\n[[course]]\nname = "inject, one cut"\ninject = true\none_cut = true\ncount_from_yr = 3\n'


@pytest.fixture
def asked(demo_book, tmp_path):
    """Few draws of two courses over five years, in the demo book."""
    courses = tmp_path / "courses.toml"
    courses.write_text(COURSES + "release_wait_yr = 6\nrelease_anyway = true\n")

    def of(text="years = 5\n", **told):
        return plan.PlanAsked(limits=limits_room.parse(text), courses=courses, draws=20, paths=50, **told)

    return of


def going(done, note):
    return True


def test_a_plan_is_the_same_again_and_the_next_one_says_what_moved(asked, ask):
    made = plan.make(asked(), ask, going)
    assert isinstance(made, Plan)
    assert {one.stand for one in made.stands} | {one.stand for one in made.not_planned} == {stand.stand for stand in session.stands()}
    assert plain(plan.make(asked(), ask, going)) == plain(made)

    answer = plan.keep(made, ask, asked())
    assert plan.newest() == (made, answer)
    assert not answer.is_old
    assert json.dumps(answer.result, allow_nan=False)

    planned = next(one for one in made.stands if one.begins is not None)
    after = plan.make(asked(f'years = 5\nleave_alone = ["{planned.stand}"]\n'), ask, going)
    assert after.before == answer.number
    assert [(one.stand, one.after, one.why) for one in after.moved] == [(planned.stand, LEAVE_ALONE, "a limit names it")]
    assert next(one.oak_ac for one in after.settled) >= 0


def test_a_work_of_the_first_year_is_an_order_only_where_the_advice_names_it(asked, ask):
    made = plan.make(asked(), ask, going)

    titles = {name: answers.advice(name, ask) for name in {order.stand for order in made.orders}}
    steps = {"injection": "inject", "removal cut": "release", "clearcut": "release"}
    assert made.orders
    for order in made.orders:
        assert (order.state == "ordered") == (titles[order.stand].step == steps[order.operation])
        assert order.cautions


def test_a_plan_with_prices_sums_its_money_by_year(asked, ask):
    priced = dataclasses.replace(ask, prices=prices.load(ROOT / "demo" / "prices.toml"))

    made = plan.make(asked("years = 5\n[money]\nspend_usd_a_year = 3000\n"), priced, going)

    money = [load for load in made.judged.loads if load.kind == "money"]
    assert len(money) == 5
    assert all(load.mean <= 3000 * 1.2 for load in money)
    assert made.value_usd is not None
    assert [one.is_this_plan for one in made.curve] == [True] + [False] * (len(made.curve) - 1)
    with pytest.raises(Misuse, match="no price list is named"):
        plan.make(asked("years = 5\n[money]\nspend_usd_a_year = 3000\n"), ask, going)


def test_limits_that_clash_are_refused_by_name(asked, ask):
    pins = '[[pin]]\nstand = "S1"\nbegin = 2025\ncourse = "inject, one cut"\n'
    refused = plan.make(asked(f"years = 5\n{pins}[crew]\ndays_a_year = 0.5\n"), ask, going)
    assert isinstance(refused, Refusal)
    assert [(one.kind, one.years) for one in refused.clashes] == [("crew days", (0,)), ("pin", ())]


def test_a_plan_stopped_early_says_so_and_one_with_a_stand_nobody_knows_is_refused(asked, ask):
    with pytest.raises(Misuse, match="stopped before"):
        plan.make(asked(), ask, lambda done, note: False)
    with pytest.raises(BadRule, match="nearest is 'S1'"):
        plan.make(asked('years = 5\nleave_alone = ["S11"]\n'), ask, going)
    later = plan.make(asked(), ask, lambda done, note: note != "first plan")
    assert (later.stopped, later.curve, later.settled) == (True, (), ())


def test_stands_whose_outlines_come_near_touch():
    def square(name, west):
        wkt = f"POLYGON(({west} 38, {west + 0.001} 38, {west + 0.001} 38.001, {west} 38.001, {west} 38))"
        return dataclasses.replace(Stand(stand=name, property="P"), boundary_wkt=wkt)

    # 0.0001 degrees of longitude at 38 N are 28.8 ft.
    near, far = [square("A", -82.0), square("B", -81.9989)], [square("A", -82.0), square("B", -81.9988)]
    apart = limits_room.Limits(apart_yr=2)
    assert plan.touching(near, apart) == (("A", "B"),)
    assert plan.touching(far, apart) == ()
    assert plan.touching(far, dataclasses.replace(apart, neighbors=(("B", "A"),))) == (("A", "B"),)
    assert plan.touching(near, limits_room.Limits()) == ()


def test_a_stands_luck_hangs_on_its_name():
    assert stand_number("S1") == stand_number("S1") != stand_number("S2")
    assert 0 < stand_number("S1") < 2**31
