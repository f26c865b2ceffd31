"""Counts set beside each other on the demo, and kept forecasts beside what came."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from conftest import DEMO_DAY
from overwood.desk import answers, futures
from overwood.ground.errors import NotFound
from overwood.judgement import recounts
from overwood.judgement.evidence import all_figures
from overwood.judgement.rules import load

# The futures compile for half a minute on a fresh machine.
pytestmark = pytest.mark.slow

RULES = load()


@pytest.fixture
def file(demo_book):
    return answers.stand_file("S3").as_of(DEMO_DAY)


def test_the_same_plots_are_known_as_the_same(file):
    found = recounts.between_visits(file, RULES)

    assert [pair.same_plots for pair in found] == [True] * 4
    assert found[-1].plots == 40
    waist = next(row for row in found[-1].measures if row.what == "oaks of 3 ft and more")
    figures = all_figures(file, RULES, DEMO_DAY)
    assert waist.after == pytest.approx(figures["oak_stems_3ft_ac"].number)
    assert waist.low < waist.after - waist.before < waist.high


def test_plots_that_lived_and_plots_that_got_an_oak_add_up(file):
    for pair in recounts.between_visits(file, RULES):
        lived, came = (next(row for row in pair.measures if word in row.what) for word in ("lived", "came"))
        assert lived.before + came.before == pair.plots
        assert 0 <= lived.low <= lived.after / lived.before <= lived.high <= 1


def test_other_plots_are_compared_as_two_samples(file):
    last = file.latest("reproduction").visit
    moved = dataclasses.replace(
        file,
        points=tuple(dataclasses.replace(p, point=f"N{p.point}") if p.visit == last else p for p in file.points),
        seedlings=tuple(dataclasses.replace(s, point=f"N{s.point}") if s.visit == last else s for s in file.seedlings),
    )
    same, other = recounts.between_visits(file, RULES)[-1], recounts.between_visits(moved, RULES)[-1]

    assert not other.same_plots
    assert not any("lived" in row.what for row in other.measures)
    assert other.measures[0].after - other.measures[0].before == pytest.approx(same.measures[0].after - same.measures[0].before)


def test_the_second_counter_who_reads_tall_is_found_out(file):
    (twice,) = recounts.counted_twice(file, RULES)

    assert twice.observers == ("Cruiser A", "Cruiser B")
    assert twice.plots == 12
    assert next(row for row in twice.measures if row.unit == "ft").word == "the recount reads taller"
    assert next(row for row in twice.measures if row.what == "all oaks").word == "the recount finds fewer"


def test_a_recount_is_not_the_stands_count(file):
    bare = dataclasses.replace(file, visits=tuple(v for v in file.visits if v.kind != "recount"))
    assert all_figures(file, RULES, DEMO_DAY) == all_figures(bare, RULES, DEMO_DAY)


def test_the_fence_shows_what_deer_take_and_is_not_in_the_sample(file):
    (fence,) = recounts.fences(file, RULES)

    assert (fence.fenced, fence.open) == (8, 40)
    assert {row.what: row.word for row in fence.measures}["oak stems bitten"] == "fewer bitten inside"
    assert all_figures(file, RULES, DEMO_DAY)["oak_stems_3ft_ac"].n == 40


def test_a_kept_forecast_is_scored_by_the_count_that_came(demo_book):
    early, late = answers.question(dt.date(2024, 10, 15)), answers.question(DEMO_DAY)
    made = futures.watch("S3", early, draws=400, ahead=3, seed=1, pool=False)
    number = futures.keep("S3", "watch", early, {"draws": 400}, made)

    (past,) = futures.monitored("S3", late).past

    assert (past.number, past.made_on, past.rules_version) == (number, dt.date(2024, 10, 15), RULES.version)
    assert (past.middle_ac, past.low_ac, past.high_ac) == made.ahead[0].after_ac
    assert past.oaks_ac == pytest.approx(all_figures(answers.stand_file("S3"), RULES, DEMO_DAY)["oak_stems_3ft_ac"].number)
    assert past.verdict == ("fewer" if past.oaks_ac < past.low_ac else "more" if past.oaks_ac > past.high_ac else "within")
    assert futures.monitored("S3", early).past == ()


def test_kept_futures_carry_their_versions(demo_book):
    ask = answers.question(DEMO_DAY)
    found, _ = futures.futures("S1", ask, count=60, sets=20, seed=1)
    futures.keep("S1", "futures", ask, {"futures": 60}, found)

    (row,) = futures.kept("S1", "futures")

    assert row["rules_version"] == RULES.version and row["data_version"]
    assert [one["oak_stand_chance"] for one in row["result"]["outcomes"]] == [one.oak_stand_chance for one in found.outcomes]
    assert futures.kept("S2", "futures") == []
    with pytest.raises(NotFound):
        futures.kept("nowhere")
