"""Limits of a plan from a file: years filled up, and each entry that cannot be used named with its line."""

from __future__ import annotations

import pytest

from overwood.ground.errors import BadRule
from overwood.judgement.plan import limits
from overwood.judgement.rules import load

RULES = load()


def test_numbers_go_on_to_the_last_year():
    found = limits.parse("years = 6\n[crew]\ndays_a_year = [40, 30]\n[money]\nspend_usd_a_year = 100\n", RULES)
    assert found.crew_days == (40, 30, 30, 30, 30, 30)
    assert found.spend_usd == (100,) * 6
    assert found.burn_days == ()


def test_the_template_binds_nothing_and_each_of_its_lines_can_be_taken():
    assert limits.parse(limits.TEMPLATE, RULES) == limits.Limits(opening_chance=0.1, touching_ft=30, old_age_yr=80)
    lines = [line.removeprefix("# ") for line in limits.TEMPLATE.splitlines()[2:]]
    top = [line for line in lines if line.startswith(("years", "leave_alone"))]
    rest = [line for line in lines if line and line not in top]
    found = limits.parse("\n".join([*top, *rest]), RULES)
    assert (found.years, found.crew_days[0], found.left_alone) == (10, 40, ("S7",))
    assert (found.begin_together, found.largest_ac, found.old_age_yr) == ((("S1", "S4"),), 60, 80)
    assert found.pins == (limits.Pin(stand="S4", course="inject, two cuts", begin=2028),)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("years = 3", "plan.toml line 1: years is 3"),
        ("\n[crew]\ndays = 4", "line 3: there is no entry 'days' here"),
        ("[burn]\ndays_a_year = -1", "line 2: days_a_year is -1"),
        ("years = 5\n[crew]\ndays_a_year = [1, 2, 3, 4, 5, 6]", "6 entries"),
        ("crews = 4", "no entry 'crews'"),
        ("[[pin]]\nstand = 'S1'", "settles nothing"),
        ("[[pin]]\nbegin = 2028", "names no stand"),
        ("[[begin_together]]\nstands = ['S1']", "fewer than two"),
        ("[openings]\nneighbors = [['S1']]", "pair 1 of neighbors"),
        ("leave_alone = 'S1'", "no list of stands"),
        ("[old]\nshare = 1.5", "share is 1.5"),
        ("[openings]\nlargest_ac = 40", "line 2: the largest opening names no years"),
        ("a = = 2", "not readable TOML"),
    ],
)
def test_an_entry_that_cannot_be_used_is_named_with_its_line(text, words):
    with pytest.raises(BadRule, match=words.replace("[", r"\[")):
        limits.parse(text, RULES)


def test_a_stand_settled_twice_or_unknown_is_refused():
    found = limits.parse("leave_alone = ['S1']\n[[pin]]\nstand = 'S1'\nbegin = 2027", RULES)
    with pytest.raises(BadRule, match="settles S1 twice"):
        limits.check_stands(found, ["S1"])
    with pytest.raises(BadRule, match="names 'S1'"):
        limits.check_stands(found, ["S2"])


def test_years_are_single_for_six_and_then_taken_two_at_a_time():
    assert limits.periods(9) == ((0, 0), (1, 1), (2, 2), (3, 3), (4, 4), (5, 5), (6, 7), (8, 8))
