"""Columns of a plan by hand: the year of every work, its days and money, and that stands share crops and burn weather."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from overwood.judgement.futures import cash, courses
from overwood.judgement.plan import columns
from overwood.judgement.rules import load
from overwood.science import regeneration as science
from plain_trees import PlainTrees

RULES = load()
ALL = {course.name: course for course in courses.load()}


def _plot(money=None, opened=-1.0):
    start = SimpleNamespace(ba_ft2_ac=100.0, stand={"opened_yr": opened})
    work = columns.workload_of(40.0, 8.0, RULES)
    return columns.Plot("A", 40.0, start, work, money)


def _came(**years):
    row = np.full(len(science.RESULTS) + 1, -1.0)
    row[[science.RESULTS.index(name) for name in ("burns", "dominant_oaks_ac", "planted")]] = 0
    for name, value in years.items():
        row[science.RESULTS.index(name)] = value
    return row


def test_works_days_and_money_of_two_futures_fall_in_their_years():
    course = ALL["inject, burn, two cuts"]
    course.numbers["residual_ft2_ac"] = 60.0
    money = cash.Money(PlainTrees(2000.0, 0.0, 100.0), {"injection": 100.0, "burn": 50.0, "marking": 20.0}, 0.0, 0.04, 10.0)
    came = np.array([
        _came(inject_year=0, burns=1, burn_year=2, cut_year=3, release_year=6, dominant_oaks_ac=500),
        _came(inject_year=0, cut_year=5),
    ])  # fmt: skip

    paths = columns.paths_of(_plot(money), course, came, RULES, 8)
    column = columns.column_of(_plot(money), course, paths, 8)

    # 40 acres: injection 8 days by its order, one burn day with 3 crew days, marking 4 days at 10 acres a day.
    assert paths.crew_days[0].tolist() == [8, 0, 3, 4, 0, 0, 0, 0]
    assert paths.crew_days[1].tolist() == [8, 0, 0, 0, 0, 4, 0, 0]
    assert column.burn_days.tolist() == [0, 0, 0.5, 0, 0, 0, 0, 0]
    assert paths.spent_usd[0].tolist() == [4000, 0, 2000, 800, 0, 0, 800, 0]
    assert paths.earned_usd[0].tolist() == pytest.approx([0, 0, 0, 32_000, 0, 0, 48_000, 0])
    assert paths.value_usd[0] == pytest.approx(-4000 - 2000 / 1.04**2 + (32_000 - 800) / 1.04**3 + (48_000 - 800) / 1.04**6)
    # Never released within the plan: six tenths still stand at its end, and are worth what they bring then.
    assert paths.value_usd[1] == pytest.approx(-4000 + (32_000 - 800) / 1.04**5 + 48_000 / 1.04**8)
    assert columns.alone(_plot(money), 2, 8).value_usd == pytest.approx(80_000 / 1.04**8)
    assert (column.oak_chance, column.works) == (0.5, 3.0)
    assert column.uncut.tolist() == [1, 1, 1, 0.5, 0.5, 0, 0, 0]
    assert (column.opened.tolist(), column.sold.tolist()) == ([6, -1], [3, 5])


def test_a_seed_cut_of_before_the_plan_is_no_work_of_it_and_its_stand_is_not_uncut():
    fell = columns.fell_in(ALL["two cuts"], np.array([_came(cut_year=-3, release_year=1)]), RULES, is_opened=True)
    assert (fell[columns.SEED_CUT].tolist(), fell[columns.REMOVAL].tolist()) == ([-1], [1])
    paths = columns.paths_of(_plot(opened=3.0), ALL["two cuts"], np.array([_came(cut_year=-3)]), RULES, 5)
    assert columns.column_of(_plot(opened=3.0), ALL["two cuts"], paths, 5).uncut.tolist() == [0] * 5


def test_a_cut_without_a_seed_cut_before_it_is_the_removal_cut_in_one_entry():
    fell = columns.fell_in(ALL["cut all now"], np.array([_came(release_year=2)]), RULES, is_opened=False)
    assert (fell[columns.ONE_ENTRY].tolist(), fell[columns.REMOVAL].tolist()) == ([2], [-1])


def test_a_course_that_waits_for_the_year_of_its_own_cut_begins_in_that_year():
    waiting = ALL["wait ten years, then cut"]
    paths = columns.paths_of(_plot(), waiting, np.array([_came(release_year=10)]), RULES, 12)
    assert columns.column_of(_plot(), waiting, paths, 12).start_yr == 10


def test_courses_begin_at_every_start_but_one_with_a_year_of_its_own_and_one_of_no_work():
    listed = columns.begun(list(ALL.values()), (0, 2))
    assert [course.numbers["start_yr"] for course in listed if course.name == "two cuts"] == [0, 2]
    assert [course.numbers["start_yr"] for course in listed if course.name == "wait ten years, then cut"] == [0]
    assert "do nothing" not in {course.name for course in listed}


def test_a_course_of_two_burns_cannot_be_counted_by_year():
    assert columns.countable(ALL["inject, burn, two cuts"])
    twice = courses.Course("twice", {**ALL["inject, burn, two cuts"].numbers, "burns": 2.0})
    assert not columns.countable(twice)
