"""Gates and the next step, on the demo property bent by hand."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from conftest import DEMO_DAY
from overwood.desk import answers
from overwood.ground.figure import Figure
from overwood.ground.records import Decision, Operation, Sighting, StandFile
from overwood.judgement import gates
from overwood.judgement.course import advise, draws
from overwood.judgement.course.branch import Case
from overwood.judgement.evidence import all_figures
from overwood.judgement.gates.maturity import judge
from overwood.judgement.rules import load

RULES = load()


@pytest.fixture
def files(demo_book):
    return answers.all_files()


def step(file: StandFile, on=DEMO_DAY, rules=RULES) -> str:
    return advise(file, rules, on).step


@pytest.mark.parametrize(
    ("low", "value", "high", "state"),
    [(0.6, 0.7, 0.8, "yes"), (0.3, 0.4, 0.49, "no"), (0.4, 0.5, 0.6, "unsure"), (0.5, 0.6, 0.7, "yes")],
)
def test_a_gate_is_open_shut_or_unsure_by_its_interval(low, value, high, state):
    assert gates.against(Figure(name="x", value=value, low=low, high=high), 0.5) == state


def test_a_gate_without_a_figure_is_unmeasured():
    assert gates.against(Figure(name="x", value=None), 0.5) == "not looked at"


def test_a_shut_acorn_gate_holds_the_seed_cut(files):
    poor = tuple(dataclasses.replace(t, bearing=False, acorns=0) for t in files["S2"].acorn_trees)
    file = dataclasses.replace(files["S2"], acorn_trees=poor)

    advice = advise(file, RULES, DEMO_DAY)

    assert advice.step == "check_acorns"
    assert advice.window.start == dt.date(2026, 9, 1)
    assert "Do not open this year" in advice.title
    assert any("another year costs" in text.words for text in advice.follow_on)
    assert any("34%" in text.words for text in advice.follow_on)


def test_in_spring_the_crop_of_the_coming_autumn_is_not_known(files):
    assert step(files["S2"], dt.date(2025, 8, 20)) == "check_acorns"


def test_a_living_midstory_holds_the_seed_cut(files):
    file = files["S1"]
    assert {gate.name: gate.answer for gate in advise(file, RULES, DEMO_DAY).gates}["crop good"] == "yes"
    assert step(file) == "inject"


def test_an_injection_after_the_cruise_asks_for_its_check(files):
    done = Operation(operation="x", stand="S1", kind="injection", state="done", started_on=dt.date(2025, 10, 20))
    file = dataclasses.replace(files["S1"], operations=(done,))

    assert step(file, dt.date(2025, 11, 20)) == "check_injection"


def test_a_count_more_than_a_year_old_expires(files):
    advice = advise(files["S4"], RULES, dt.date(2027, 1, 10))

    assert advice.step == "count"
    assert {gate.name: gate.answer for gate in advice.gates}["oak enough"] == "too old"


def test_a_cruise_of_ten_years_ago_expires(files):
    assert step(files["S6"], dt.date(2036, 1, 1)) == "measure"


def test_reproduction_above_the_limit_is_late(files):
    tall = tuple(dataclasses.replace(s, height_ft=14.0, height_class="10+") if s.height_ft == 11.2 else s for s in files["S4"].seedlings)
    advice = advise(dataclasses.replace(files["S4"], seedlings=tall), RULES, DEMO_DAY)

    assert advice.doubts[0].words.startswith("late: tallest oak 14.0 ft")


def test_an_opened_stand_without_enough_oak_is_counted_again(files):
    no_oak = tuple(s for s in files["S3"].seedlings if s.height_class not in ("3-4.5", "4.5-10", "10+"))
    advice = advise(dataclasses.replace(files["S3"], seedlings=no_oak), RULES, DEMO_DAY)

    assert advice.step == "count"
    assert advice.window.start == dt.date(2026, 8, 15)
    assert dict(advice.set_aside)["removal cut now"]


def test_a_young_open_stand_waits(files):
    thin = tuple(dataclasses.replace(t, edge_count=1) for t in files["S6"].trees if int(t.tree) % 2)
    advice = advise(dataclasses.replace(files["S6"], trees=thin), RULES, DEMO_DAY)

    assert advice.step == "wait"
    assert advice.maturity.verdict == "wait"


def test_what_would_change_the_answer_names_the_threshold(files):
    advice = advise(files["S2"], RULES, DEMO_DAY)

    assert any(str(text).startswith("oaks with acorns in a good crop: 60% instead of 50%") for text in advice.thresholds)
    assert "where the limits are set" in advice.firm.settles and "oaks with acorns in a good crop" in advice.firm.settles


def test_every_limit_that_a_step_may_hang_on_has_words_of_its_own(files):
    for file in files.values():
        figures = all_figures(file, RULES, DEMO_DAY)
        case = Case(file, figures, gates.all_gates(file, figures, RULES, DEMO_DAY), judge(file, figures, RULES), RULES, DEMO_DAY)
        assert [name for name in draws.ranged(case) if not RULES[name].short] == []


def test_words_name_the_height_that_an_office_calls_waist_high(files):
    found = advise(files["S3"], RULES.with_value("waist_high_ft", 4.0), DEMO_DAY)

    assert found.branch == "count_unsettled"
    said = " ".join((found.why_in_one_line, *map(str, found.would_change)))
    assert "oak 4 ft" in found.why_in_one_line and "oaks of 4 ft an acre" in said and " 3 ft" not in said


def test_plots_that_would_settle_a_count_are_more_than_were_looked_at(files):
    for waist_ft in (3.0, 3.5, 4.0):
        figures = all_figures(files["S3"], RULES.with_value("waist_high_ft", waist_ft), DEMO_DAY)
        more = figures["plots_to_settle"]

        assert figures["oak_verdict"].value == "unsure" and (not more.measured or more.number > (more.n or 0)), waist_ft


def test_a_changed_threshold_changes_the_step(files):
    assert step(files["S2"], rules=RULES.with_value("crop_bearing_share", 0.6)) == "check_acorns"


def test_a_decision_against_the_advice_is_shown_beside_it(files):
    advice = advise(files["S4"], RULES, dt.date(2023, 3, 2))

    assert "wait for a better market" in advice.overridden
    followed = Decision(decision="d", stand="S4", decided_on=dt.date(2025, 10, 1), chosen_step="release", overridden=False)
    file = dataclasses.replace(files["S4"], decisions=(*files["S4"].decisions, followed))
    assert advise(file, RULES, DEMO_DAY).overridden == ""


def test_roost_trees_in_a_part_sun_cut_are_a_conflict_the_person_decides(files):
    roost = Sighting(sighting="r", stand="S2", seen_on=dt.date(2025, 5, 1), kind="roost tree")
    file = dataclasses.replace(files["S2"], sightings=(*files["S2"].sightings, roost))

    advice = advise(file, RULES, DEMO_DAY)

    found = {conflict.what: conflict for conflict in advice.conflicts}
    assert advice.step == "seed_cut"
    assert found["roost trees: season"].days_left == 90
    assert "60% canopy closure" in found["roost trees: canopy"].theirs


def test_a_summer_thinning_meets_the_roost_season(files):
    roost = Sighting(sighting="r", stand="S6", seen_on=dt.date(2025, 5, 1), kind="roost tree")
    file = dataclasses.replace(files["S6"], sightings=(roost,))

    advice = advise(file, RULES, dt.date(2025, 6, 15))

    assert advice.window.days == 169
    assert advice.conflicts[0].days_left == 61


def test_defoliators_and_oak_wilt_are_conflicts_too(files):
    seen = (
        Sighting(sighting="m", stand="S4", seen_on=dt.date(2025, 6, 1), kind="defoliation"),
        Sighting(sighting="w", stand="S4", seen_on=dt.date(2025, 6, 1), kind="oak wilt", subject="a pocket by the landing"),
    )
    advice = advise(dataclasses.replace(files["S4"], sightings=seen), RULES, DEMO_DAY)

    assert {"defoliators", "oak wilt season"} <= {conflict.what for conflict in advice.conflicts}


def test_a_note_that_there_is_no_oak_wilt_closes_no_season(files):
    seen = (Sighting(sighting="w", stand="S4", seen_on=dt.date(2025, 6, 1), kind="snag", subject="storm", note="no oak wilt near it"),)
    advice = advise(dataclasses.replace(files["S4"], sightings=seen), RULES, DEMO_DAY)

    assert "oak wilt season" not in {conflict.what for conflict in advice.conflicts}


def test_records_of_a_later_day_are_not_known_yet(files):
    advice = advise(files["S3"], RULES, dt.date(2021, 9, 1))

    assert advice.stage == "midstory treated"
    assert advice.figures["oak_stems_3ft_ac"].inputs[0].name.endswith("S3-2021-count")


def test_every_advice_carries_cautions_and_the_rulebook_version(files):
    for file in files.values():
        advice = advise(file, RULES, DEMO_DAY)
        assert advice.cautions
        assert advice.rulebook_version == RULES.version
        assert advice.why_in_one_line
