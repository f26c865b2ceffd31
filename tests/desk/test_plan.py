"""The plan of demo stands: the same again from the same records, works held against the advice, kept, and told anew when things move."""

from __future__ import annotations

import dataclasses
import json
import shutil

import pytest

from conftest import DEMO_DAY, ROOT, _close
from overwood.desk import answers, kept, plan, session
from overwood.desk.telling import plain
from overwood.faces.telling import planned as telling
from overwood.ground.errors import BadRule, Misuse
from overwood.ground.records import Stand
from overwood.judgement import injection
from overwood.judgement.course.steps import ONE_ENTRY
from overwood.judgement.futures import courses
from overwood.judgement.plan import limits, schedule
from overwood.judgement.plan.answer import Plan, Refusal
from overwood.judgement.plan.columns import INJECTION, LEAVE_ALONE, stand_number

STANDS = ("S1", "S4", "S7")
COURSES = ('[[course]]\nname = "cut all now"\ncut_year = 0\n[[course]]\nname = "inject, one cut"\ninject = true\none_cut = true\n'
           "count_from_yr = 3\nrelease_wait_yr = 6\nrelease_anyway = true\n")  # fmt: skip


@pytest.fixture(scope="module")
def ask():
    return answers.question(DEMO_DAY, None, ROOT / "demo" / "prices.toml")


@pytest.fixture(scope="module")
def whole(demo_book_file, tmp_path_factory, ask):
    """The demo property as the plan takes it, read once."""
    path = tmp_path_factory.mktemp("plan") / "demo.sqlite3"
    shutil.copy(demo_book_file, path)
    session.open_book(path)
    found = plan.land(ask, limits.Limits())
    _close()
    return found


@pytest.fixture(scope="module")
def land(whole):
    """Three stands of it."""
    return dataclasses.replace(whole, plots=tuple(plot for plot in whole.plots if plot.stand in STANDS))


@pytest.fixture(scope="module")
def make(land, ask, tmp_path_factory):
    """A plan of few draws of two courses over five years."""
    file = tmp_path_factory.mktemp("courses") / "courses.toml"
    file.write_text(COURSES)
    chosen = courses.load(file)

    def made(text="years = 5\n", *, step=lambda done, note: True, before=None, of=land, kinds=500):
        terms = schedule.Terms(
            on=ask.on, rules=ask.rules, courses=chosen, limits=limits.parse(text, ask.rules), draws=20, paths=50, seed=1, kinds=kinds
        )
        return schedule.make_plan(of, terms, step, before)

    return made


@pytest.fixture(scope="module")
def planned(make):
    return make()


def test_every_stand_is_planned_or_named_with_its_reason(whole):
    assert [plot.stand for plot in whole.plots] == [f"S{n}" for n in range(1, 8)]
    assert [(one.stand, "no reproduction count" in one.reason) for one in whole.not_planned] == [("S8", True)]


@pytest.mark.slow
def test_the_same_records_and_limits_give_the_same_plan(make, planned):
    assert plain(make()) == plain(planned)


def test_a_kept_plan_is_read_again_and_is_no_stands_own(demo_book, ask, planned):
    asked = plan.PlanAsked(limits=planned.limits)
    answer = plan.keep(planned, ask, asked)
    assert plan.newest() == (planned, answer)
    assert (answer.is_old, kept.newest("S1", "plan")) == (False, None)
    assert json.dumps(answer.result, allow_nan=False)


def test_the_next_plan_says_what_moved_and_why(make, planned):
    stand = next(one.stand for one in planned.stands if one.begins is not None)
    after = make(f'years = 5\nleave_alone = ["{stand}"]\n', before=(7, planned))
    assert after.before == 7
    assert [(one.stand, str(one.after), one.why.code) for one in after.moved] == [(stand, LEAVE_ALONE, "limit_names_it")]
    assert after.settled[0].oak_ac >= 0
    assert make(before=(7, planned)).moved == ()


def test_a_work_of_the_first_year_is_an_order_only_where_the_advice_names_it(land, planned):
    steps = {"injection": "inject", "removal cut": "release", ONE_ENTRY: "release"}
    assert planned.orders
    for order in planned.orders:
        # One work has one name: what the advice on its stand calls it.
        assert "removal" not in order.operation or order.advised.words.endswith(order.operation) or order.state != "ordered"
        assert (order.state == "ordered") == (land.advice[order.stand].step == steps[order.operation])
        assert order.cautions


def test_injection_days_are_those_of_the_stands_own_order(demo_book, ask, whole, monkeypatch):
    # The light the order tells takes seconds and is no part of its days.
    monkeypatch.setattr(injection, "_light_after", lambda file, rules, before: before)
    file = answers.stand_file("S1").as_of(DEMO_DAY)
    plot = next(plot for plot in whole.plots if plot.stand == "S1")
    assert plot.work.crew_days[INJECTION] == pytest.approx(injection.order(file, ask.rules, DEMO_DAY).crew_days.likely)


def test_money_of_a_year_keeps_its_limit_on_average_by_the_draws_it_was_chosen_by(make, land):
    made = make("years = 5\n[money]\nspend_usd_a_year = 3000\n")
    assert isinstance(made, Plan)
    money = [load for load in made.judged.loads if load.kind == "money"]
    assert len(money) == 5
    assert all(load.capacity == 3000 and load.low <= load.mean <= load.high for load in money)
    assert [one.is_this_plan for one in made.curve] == [True] + [False] * (len(made.curve) - 1)
    with pytest.raises(Misuse, match="no price list is named"):
        make("years = 5\n[money]\nspend_usd_a_year = 3000\n", of=dataclasses.replace(land, price_list=""))


def test_limits_that_clash_are_refused_by_name(make):
    refused = make('years = 5\n[[pin]]\nstand = "S1"\nbegin = 2025\ncourse = "inject, one cut"\n[crew]\ndays_a_year = 0.5\n')
    assert isinstance(refused, Refusal)
    assert [(one.kind, one.years) for one in refused.clashes] == [("crew days", (0,)), ("pin", ())]


def test_a_plan_that_is_stopped_keeps_what_was_found_or_says_there_is_nothing(make):
    with pytest.raises(Misuse, match="stopped before"):
        make(step=lambda done, note: False)
    later = make(step=lambda done, note: note != "first plan")
    assert (later.stopped, later.curve, later.settled) == (True, (), ())
    assert len(later.stands) == len(STANDS)


def test_a_stand_planned_by_its_kind_says_so_and_is_judged_by_its_own_futures(make, planned, land):
    made = make(kinds=1)
    taken = [one for one in made.stands if one.kind]
    assert taken and all(one.kind in STANDS and one.kind_distance > 0 for one in taken)
    assert any("were planned by the futures of" in line for line in telling.made(made))
    assert not any(one.kind for one in planned.stands)
    # The last choice is by its own futures, on the draws that a plan without kinds is chosen by.
    assert made.own_chosen and not planned.own_chosen
    same = {(one.stand, one.course, one.begins): (one.oak_chance, one.drawn_chance) for one in planned.stands}
    mine = {(one.stand, one.course, one.begins): (one.oak_chance, one.drawn_chance) for one in made.stands}
    assert set(same) & set(mine) and all(same[key] == mine[key] for key in set(same) & set(mine))


def test_limits_on_a_stand_nobody_knows_name_the_nearest(make):
    with pytest.raises(BadRule, match="nearest is 'S1'"):
        make('years = 5\nleave_alone = ["S11"]\n')


def test_stands_whose_outlines_come_near_touch():
    def square(name, west):
        wkt = f"POLYGON(({west} 38, {west + 0.001} 38, {west + 0.001} 38.001, {west} 38.001, {west} 38))"
        return Stand(stand=name, property="P", boundary_wkt=wkt)

    # 0.0001 degrees of longitude at 38 N are 28.8 ft.
    near, far = [square("A", -82.0), square("B", -81.9989)], [square("A", -82.0), square("B", -81.9988)]
    apart = limits.Limits(apart_yr=2, touching_ft=30)
    assert plan.touching(near, apart) == (("A", "B"),)
    assert plan.touching(far, apart) == ()
    assert plan.touching(far, dataclasses.replace(apart, neighbors=(("B", "A"),))) == (("A", "B"),)
    assert plan.touching(near, limits.Limits()) == ()


def test_a_stands_luck_hangs_on_its_name():
    assert stand_number("S1") == stand_number("S1") != stand_number("S2")
    assert 0 < stand_number("S1") < 2**31
