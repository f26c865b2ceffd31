"""Evidence of the crop, from checks made by hand."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from overwood.ground.records import AcornTree, Stand, StandFile, Visit
from overwood.judgement import gates
from overwood.judgement.course import draws, standings
from overwood.judgement.course.branch import Case
from overwood.judgement.evidence import acorns, all_figures
from overwood.judgement.gates.maturity import judge
from overwood.judgement.rules import load
from records import cruise

RULES = load()


def check(day, white=(30, 20), red=(30, 5), name="a", first=0, at="A"):
    """One visit and its trees; groups as (looked at, bearing)."""
    visit = Visit(visit=name, stand=at, kind="acorn", visited_on=day)
    trees = []
    for species, (looked, bearing) in ((802, white), (833, red)):
        for _ in range(looked):
            number = len(trees) + first
            trees.append(
                AcornTree(
                    id=f"{name}{number}", visit=name, tree=str(number), species=species, bearing=len(trees) % max(looked, 1) < bearing
                )
            )
    return visit, tuple(trees)


def stand(*checks, near=()):
    return StandFile(
        stand=Stand(stand="A", property="P"),
        visits=tuple(visit for visit, _ in checks),
        acorn_trees=tuple(tree for _, trees in checks for tree in trees),
        neighbour_visits=tuple(visit for visit, _ in near),
        neighbour_acorn_trees=tuple(tree for _, trees in near for tree in trees),
    )


def test_the_groups_are_judged_apart():
    found = acorns.figures(stand(check(dt.date(2025, 9, 10))), RULES, dt.date(2025, 10, 1))

    assert found["bearing_white_share"].value == pytest.approx(20 / 30)
    assert found["crop_white_class"].value == "good"
    assert found["crop_red_class"].value == "poor"
    assert found["crop_bearing_share"].value == found["bearing_white_share"].value


def test_before_august_last_autumns_crop_is_the_latest_known():
    assert acorns.crop_year(dt.date(2025, 7, 31)) == 2024
    assert acorns.crop_year(dt.date(2025, 8, 1)) == 2025


def test_last_years_check_does_not_speak_for_this_year():
    found = acorns.figures(stand(check(dt.date(2024, 9, 10))), RULES, dt.date(2025, 10, 1))

    assert not found["crop_bearing_share"].measured
    assert "fall 2025" in found["crop_bearing_share"].note


def test_a_check_out_of_season_is_said_to_be_so():
    found = acorns.figures(stand(check(dt.date(2025, 11, 9))), RULES, dt.date(2025, 12, 1))

    assert "out of season" in found["bearing_white_share"].note


def test_neighbours_speak_where_the_stand_was_not_looked_at():
    near = [check(dt.date(2025, 9, 9), name="n", first=100, at="B")]
    found = acorns.figures(stand(near=near), RULES, dt.date(2025, 10, 1))

    assert found["bearing_white_share"].value == pytest.approx(20 / 30)
    assert "not in this stand" in found["bearing_white_share"].note


def test_no_crop_falls_where_no_oak_could_bear_whatever_the_neighbours_oaks_do():
    visit, trees = check(dt.date(2025, 9, 9), name="n", first=100, at="B")
    near = {"neighbour_visits": (visit,), "neighbour_acorn_trees": trees}
    on = dt.date(2025, 10, 1)
    for species, dbh, answer in ((621, 16.0, gates.NO), (802, 5.0, gates.NO), (802, 16.0, gates.YES)):
        file = cruise([("1", species, dbh), ("2", 621, 14.0)], **near)
        figures = all_figures(file, RULES, on)
        gate = gates.crop_good(file, figures, RULES, on)
        assert gate.answer == answer, (species, dbh)
        assert ("no oak of 10 in. or larger" in gate.why) == (answer == gates.NO)
        assert (gates.last_good_crop(file, RULES, on, 3) is None) == (answer == gates.NO)
        assert ("acorns lie on the litter" in gates.burn_safe(file, figures, RULES, on).why) == (answer == gates.YES)
        case = Case(file, figures, gates.all_gates(file, figures, RULES, on), judge(file, figures, RULES), RULES, on)
        codes = standings.crop_good(draws.cases_of(case), standings.Limits(RULES))
        assert gates.ANSWERS[int(np.ravel(codes)[0])] == answer


def test_few_trees_are_said_to_be_few():
    found = acorns.figures(stand(check(dt.date(2025, 9, 10), white=(8, 6), red=(0, 0))), RULES, dt.date(2025, 10, 1))

    assert "too few trees" in found["bearing_white_share"].note


def test_a_limb_count_gives_its_own_class_beside():
    visit, trees = check(dt.date(2025, 9, 10))
    limbs = tuple(
        AcornTree(**{**{f: getattr(t, f) for f in t.__dataclass_fields__}, "method": "limb", "acorns": 130, "limbs": 10}) for t in trees
    )
    found = acorns.figures(stand((visit, limbs)), RULES, dt.date(2025, 10, 1))

    assert "13.0 acorns a 24-in. branch end: good" in found["crop_white_class"].note


def test_bearers_need_two_autumns():
    one = stand(check(dt.date(2025, 9, 10)))

    assert acorns.bearers(one) == []


def test_the_checks_of_a_property_are_looked_through_once_however_often_a_stand_is_asked(monkeypatch):
    looks = []
    through = acorns._checks
    monkeypatch.setattr(acorns, "_checks", lambda visits, year: looks.append(year) or through(visits, year))
    file = stand(near=[check(dt.date(2025, 9, 10))])

    found = {acorns.check_of(file, 2025, RULES) for _ in range(100)}

    assert len(found) == 1 and len(looks) == 2, "own visits once and the property's once"


def test_another_day_of_the_same_stand_is_looked_through_anew():
    file = stand(check(dt.date(2025, 9, 10)))
    assert acorns.check_of(file, 2025, RULES) is not None

    assert acorns.check_of(file.as_of(dt.date(2025, 9, 1)), 2025, RULES) is None


def test_the_worst_insects_go_with_the_low_end_of_the_seedling_chain():
    visit, trees = check(dt.date(2025, 9, 10))
    tallied = cruise([("1", 802, 16.0, {"crown_class": "codominant"}), ("2", 833, 18.0, {"crown_class": "codominant"})])
    file = dataclasses.replace(tallied, visits=(*tallied.visits, visit), acorn_trees=trees)
    insects = RULES["insect_loss_share"]
    worse = dataclasses.replace(RULES, entries=RULES.entries | {insects.name: dataclasses.replace(insects, high=(insects.high + 1) / 2)})

    usual, more = (all_figures(file, rules, dt.date(2025, 10, 1))["sound_acorns_ac"] for rules in (RULES, worse))

    assert more.low == pytest.approx(usual.low / 2)
    assert (more.value, more.high) == (usual.value, usual.high)


def test_the_same_trees_on_twice_the_points_bear_half_the_acorns_an_acre():
    visit, trees = check(dt.date(2025, 9, 10))
    oaks = [("1", 802, 16.0, {"crown_class": "codominant"}), ("2", 833, 18.0, {"crown_class": "codominant"})]

    def sound(points):
        tallied = cruise(oaks, points)
        file = dataclasses.replace(tallied, visits=(*tallied.visits, visit), acorn_trees=trees)
        return all_figures(file, RULES, dt.date(2025, 10, 1))["sound_acorns_ac"].number

    assert sound(tuple("12345")) == pytest.approx(2 * sound(tuple("1234567890"))) and sound(tuple("12345")) > 0


def test_acorns_of_a_white_oak_lie_as_far_below_their_mean_as_above_it():
    mean, low, high = acorns._yield(802, RULES)

    assert 0 < low < mean < high
    assert mean - low == pytest.approx(high - mean) == pytest.approx(mean * RULES.number("acorns_per_tree_white_error"))
