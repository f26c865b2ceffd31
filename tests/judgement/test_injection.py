"""The injection order and its check, on records."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from conftest import DEMO_DAY
from overwood.desk import answers, fire
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.records import Point, Tree, Visit
from overwood.judgement import injection
from overwood.judgement.rules import load
from records import cruise

# Two drawn blocks tell the light after: no test here is on how light falls.
RULES = load().with_value("drawn_stand_draws", 2)
ON = dt.date(2025, 10, 15)
# Ten-factor prism, five points: a 4-in. maple stands for about 23 trees an acre.
TREES = [
    ("1", 316, 4.0, {"crown_class": "overtopped"}),
    ("2", 318, 2.5, {"crown_class": "overtopped"}),
    ("3", 802, 3.0, {"crown_class": "overtopped"}),
    ("4", 316, 1.2, {"crown_class": "overtopped"}),
    ("5", 802, 18.0, {"crown_class": "dominant"}),
    ("5", 316, 12.0, {"crown_class": "codominant"}),
]


def order(trees=TREES, **more):
    return injection.order(cruise(trees), RULES, ON, **more)


def test_only_tolerant_stems_below_the_canopy_are_treated_and_never_an_oak():
    found = order()

    assert [(row.species, row.dbh_class_in) for row in found.rows] == [("red maple", "4-6"), ("sugar maple", "2-3")]
    assert any("never an oak" in words for words in found.never)
    assert found.left_alive_ac.number > 0


@pytest.mark.parametrize(("dbh_in", "label"), [(2.0, "2-3"), (5.9, "4-6"), (6.0, "6-8"), (7.9, "6-8"), (8.0, "8+"), (9.5, "8+")])
def test_a_stem_stands_in_the_class_that_begins_at_its_size_and_the_last_has_no_end(dbh_in, label):
    rows = order([("1", 693, dbh_in, {"crown_class": "overtopped"}), *TREES]).rows

    assert [row.dbh_class_in for row in rows if row.species == "blackgum"] == [label]


def test_cuts_and_solution_follow_the_published_spacing():
    # Penn State: one cut an inch, at least two; Kochenderfer: 1.5 ml a cut.
    maple, sugar = order().rows

    assert maple.cuts_ac == pytest.approx(4 * maple.stems_ac)
    assert sugar.cuts_ac == pytest.approx(3 * sugar.stems_ac)
    assert maple.solution_ml_ac == pytest.approx(1.5 * maple.cuts_ac)
    wide = order(inches_per_cut=3.0).rows
    assert wide[0].cuts_ac == pytest.approx(2 * maple.stems_ac)
    assert wide[1].cuts_ac == pytest.approx(1 * sugar.stems_ac)


def test_the_demo_stand_needs_what_the_reference_works_out(demo_book):
    # Practice reference 4.1: 275 stems/ac of 3.3 in. take 1,361 ml; whole cuts take more.
    found, _ = fire.injection("S1", answers.question(DEMO_DAY))

    assert found.stems_ac.low < 275 < found.stems_ac.high
    assert 1200 < found.solution_gal_ac * 3785.4 < 2200
    assert 0.2 * 0.8 < found.stems_ac.number / RULES.number("injection_stems_per_hour") / found.hours_ac.likely <= 1
    assert found.cost_usd_ac.low < found.cost_usd_ac.likely < found.cost_usd_ac.high
    # Money is stems times what a stem costs, at each end of the rule.
    price = RULES["injection_cost_stem_usd"]
    assert (found.cost_usd_ac.low, found.cost_usd_ac.high) == pytest.approx(
        (found.stems_ac.number * price.low, found.stems_ac.number * price.high)
    )
    # Labour of 0.2 to 0.5 ac/h at 250 to 300 stems (Mississippi State P3673): 2 to 5 h an acre.
    assert 2 <= found.hours_ac.likely <= 5
    assert str(found.windows[0]).endswith("31 Dec 2025")


def test_a_species_that_is_hard_to_kill_gets_one_more_cut():
    # Moorhead 2003: one more cut on species that are hard to kill; blackgum is one of them.
    maple, gum = (order([("1", code, 4.0, {"crown_class": "overtopped"}), *TREES[1:]]).rows[0] for code in (316, 693))

    assert gum.species == "blackgum"
    assert gum.cuts_ac / gum.stems_ac == pytest.approx(maple.cuts_ac / maple.stems_ac + 1)
    assert gum.solution_ml_ac == pytest.approx(1.5 * gum.cuts_ac)


def test_gallons_to_buy_are_one_number_where_the_share_is_known():
    # Kochenderfer: 1,575 ml of solution at 7.5 % hold 118.1 ml of product.
    blind, told = order(), order(product=injection.product_of("imazapyr", None, None))

    assert blind.product_gal_ac.low < blind.product_gal_ac.high
    assert told.product.is_tested
    assert told.product_gal_ac.low == told.product_gal_ac.high == pytest.approx(told.solution_gal_ac * 118.1 / 1575, rel=1e-3)
    assert told.water_gal_ac.likely == pytest.approx(told.solution_gal_ac - told.product_gal_ac.likely)


@pytest.mark.parametrize(("times", "words"), [(None, "not checked"), (1.01, "within the label"), (0.99, "OVER THE LABEL")])
def test_the_yearly_limit_of_the_label_is_checked_where_it_is_given(times, words):
    most = None if times is None else times * order().solution_gal_ac * 0.5
    found = order(product=injection.product_of("glyphosate", 0.5, most))

    assert found.yearly_limit.startswith(words)


def test_an_ingredient_nobody_tested_asks_for_its_share():
    with pytest.raises(Misuse, match="share of 'diesel'"):
        injection.product_of("diesel", None, None)


def test_the_whole_stand_is_the_acre_times_its_acres_and_more_people_take_fewer_days(demo_book):
    found, _ = fire.injection("S1", answers.question(DEMO_DAY))
    whole = found.totals

    assert whole.stems == pytest.approx(found.stems_ac.number * found.area_ac)
    assert whole.solution_gal == pytest.approx(found.solution_gal_ac * found.area_ac)
    assert whole.crew_days[int(RULES.number("injection_crew"))] == found.crew_days
    assert whole.crew_days[2].likely == pytest.approx(2 * whole.crew_days[4].likely)


@pytest.mark.slow
def test_many_small_stems_left_are_warned_of():
    small = [(str(n % 5 + 1), 316, 1.2, {"crown_class": "overtopped"}) for n in range(8)]
    assert "can undo the work" in order([*TREES, *small]).left_alive_text


@pytest.mark.parametrize(("trees", "words"), [([("1", 802, 15.0, {"crown_class": "dominant"}), ("1", 802, 1.2)], "no midstory stem")])
def test_nothing_to_treat_is_said(trees, words):
    with pytest.raises(NotFound, match=words):
        order(trees)


def checked(statuses):
    file = cruise(TREES)
    visit = Visit(visit="i", stand="A", kind="injection check", visited_on=dt.date(2025, 7, 1))
    trees = [
        Tree(id=f"i{p}-{t}", visit="i", point=str(p), tree=str(t), species=316, dbh_in=3.0, status=status)
        for p, listed in enumerate(statuses, start=1)
        for t, status in enumerate(listed)
    ]
    points = tuple(Point(visit="i", point=str(p)) for p in range(1, len(statuses) + 1))
    return injection.check(
        dataclasses.replace(file, visits=(*file.visits, visit), points=(*file.points, *points), trees=(*file.trees, *trees)), RULES
    )


@pytest.mark.parametrize(
    ("statuses", "verdict", "share"),
    [
        ([["dead"] * 10] * 6, "it worked", 1.0),
        ([["dead"] * 6 + ["live"] * 4] * 6, "it did not work", 0.6),
        ([["dead"] * 10, ["dead"] * 7 + ["live"] * 3, ["dead"] * 9 + ["live"], ["dead"] * 10], "not settled", 0.9),
    ],
)
def test_the_check_follows_the_stems(statuses, verdict, share):
    found = checked(statuses)

    assert found.verdict == verdict
    assert found.dead_share.number == pytest.approx(share)
    assert found.by_species["red maple"][1] == found.stems


def test_a_missing_check_says_what_to_bring():
    with pytest.raises(NotFound, match="status live or dead"):
        injection.check(cruise(TREES), RULES)
