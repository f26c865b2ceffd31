"""Counts set beside each other on the demo, and kept forecasts beside what came."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from conftest import DEMO_DAY
from overwood.desk import answers, entering, futures, kept, session
from overwood.desk.telling import plain
from overwood.judgement.evidence import all_figures
from overwood.judgement.futures.run import Futures
from overwood.judgement.monitoring import recounts
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
    waist = next(row for row in found[-1].measures if row.what == "oaks of 3 ft or taller")
    figures = all_figures(file, RULES, DEMO_DAY)
    assert waist.after == pytest.approx(figures["oak_stems_3ft_ac"].number)
    assert waist.low < waist.after - waist.before < waist.high
    tallest = next(row for row in found[-1].measures if row.what == "tallest oak of a plot")
    assert (tallest.unit, tallest.before > 1, tallest.word.endswith("ft a year")) == ("ft", True, True)


def test_plots_that_lived_and_plots_that_got_an_oak_add_up(file):
    for pair in recounts.between_visits(file, RULES):
        lived, came = (next(row for row in pair.measures if word in row.what) for word in ("kept an oak", "new oak"))
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
    assert not any("kept an oak" in row.what for row in other.measures)
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
    bitten = {row.what: row for row in fence.measures}["oak stems bitten"]
    assert (bitten.word, bitten.unit) == ("fewer bitten inside", "%")
    # In percent: a share is shown as 0 on both sides of the fence.
    assert 5 < bitten.before <= 100 and bitten.low <= bitten.after - bitten.before <= bitten.high
    assert all_figures(file, RULES, DEMO_DAY)["oak_stems_3ft_ac"].n == 40


def test_a_kept_forecast_is_scored_by_the_count_that_came(demo_book):
    early, late = answers.question(dt.date(2024, 10, 15)), answers.question(DEMO_DAY)
    made = futures.watch("S3", early, draws=400, ahead=3, seed=1, pool=False)
    number = kept.keep("S3", "watch", early, {"draws": 400}, made).number

    (past,) = futures.monitored("S3", late).past

    assert (past.number, past.made_on, past.rules_version) == (number, dt.date(2024, 10, 15), RULES.version)
    assert (past.middle_ac, past.low_ac, past.high_ac) == made.ahead[0].after_ac
    assert past.oaks_ac == pytest.approx(all_figures(answers.stand_file("S3"), RULES, DEMO_DAY)["oak_stems_3ft_ac"].number)
    assert past.verdict == ("fewer" if past.oaks_ac < past.low_ac else "more" if past.oaks_ac > past.high_ac else "within")
    assert futures.monitored("S3", early).past == ()


def test_kept_futures_carry_their_versions(demo_book):
    ask = answers.question(DEMO_DAY)
    found, _ = futures.futures("S1", ask, count=60, sets=20, seed=1)
    first = kept.keep("S1", "futures", ask, {"count": 60}, found)
    again = kept.keep("S1", "futures", ask, {"count": 60}, found)

    (one,) = kept.all_of("S1", "futures")

    assert one == first == again
    assert one.rules_version == RULES.version and one.data_version
    assert kept.shaped(one, Futures) == found
    assert kept.digest_of(plain(found)) == one.digest
    assert kept.all_of("S2", "futures") == []
    outlook = answers.advice("S1", ask).outlook
    assert (outlook.answer, outlook.oak_stand_chance) == (one.number, max(each.oak_stand_chance for each in found.outcomes))
    assert answers.advice("S2", ask).outlook is None
    assert answers.advice("S1", answers.question(dt.date(2025, 10, 1))).outlook is None


def test_advice_reads_no_forecast_of_own_courses_another_age_or_other_rules(demo_book, tmp_path):
    ask = answers.question(DEMO_DAY)
    standard, _ = futures.futures("S1", ask, count=60, sets=20, seed=1)
    first = kept.keep("S1", "futures", ask, {"count": 60}, standard)
    (tmp_path / "c.toml").write_text('[[course]]\nname = "late"\ncut_year = 7\n', encoding="utf-8")
    own, _ = futures.futures("S1", ask, count=60, sets=20, seed=1, courses=tmp_path / "c.toml")
    kept.keep("S1", "futures", ask, {"courses": "c.toml"}, own)
    later, _ = futures.futures("S1", ask, count=60, sets=20, seed=1, age_yr=30)
    kept.keep("S1", "futures", ask, {"count": 60}, later)

    assert answers.advice("S1", ask).outlook.answer == first.number
    changed = tmp_path / "rules.toml"
    changed.write_text("[several_hundred_ac]\nvalue = 420\nnote = 'tried'\n", encoding="utf-8")
    other = answers.advice("S1", answers.question(DEMO_DAY, changed))
    assert (other.outlook, other.doubts[-1].code) == (None, "forecast_of_other_rules")


def test_a_forecast_of_a_shape_that_is_not_read_is_told_by_the_advice_and_by_its_name(demo_book):
    ask = answers.question(DEMO_DAY)
    number = kept.keep("S1", "futures", ask, {}, {"said": 1}).number

    advice = answers.advice("S1", ask)

    assert advice.outlook is None
    assert (advice.doubts[-1].code, advice.doubts[-1].values["answer"]) == ("forecast_unread", number)
    assert "kept by another version" in advice.doubts[-1].words
    with pytest.raises(kept.Unread, match=rf"answer {number} .* in a shape that this one does not read"):
        kept.shaped(kept.of(number), Futures)


def test_an_answer_is_old_when_records_of_its_stand_change_and_not_when_others_do(demo_book):
    ask = answers.question(DEMO_DAY)
    kept.keep("S1", "futures", ask, {}, {"said": 1})
    visit = {"kind": "inspection", "visited_on": "2025-10-01"}

    entering.enter({"visits": [{"visit": "S2-look", "stand": "S2", **visit}]}, today=DEMO_DAY, name="look")
    assert not kept.newest("S1", "futures").is_old
    entering.enter({"visits": [{"visit": "S1-look", "stand": "S1", **visit}]}, today=DEMO_DAY, name="look")
    assert kept.newest("S1", "futures").is_old


def test_the_mark_of_one_stand_is_that_among_all(demo_book):
    marks = session.stand_marks()
    assert {name: session.stand_marks(name)[name] for name in marks} == marks


def test_only_kept_futures_change_what_advice_rests_on(demo_book):
    ask, before = answers.question(DEMO_DAY), kept.view_version()
    kept.keep("S1", "advice", ask, {}, {"said": 1})
    assert (kept.view_version(), kept.newest_futures()) == (before, {})
    kept.keep("S1", "futures", ask, {}, {"said": 1})
    assert kept.view_version() != before
