"""A visit that saw nothing, or not the trees that decide, is no look: it neither decides nor makes anything up."""

from __future__ import annotations

from dataclasses import replace

import pytest

import synthetic
from overwood.judgement import course, evidence
from overwood.judgement.gates import NOT_LOOKED
from overwood.judgement.monitoring import changes as monitoring
from overwood.judgement.rules import load

RULES = load()
TALLIES = ("points", "trees", "seedlings")


def _advice(file):
    return course.advise(file, RULES, synthetic.ON)


def _without(file, visit, *names):
    return replace(file, **{name: tuple(row for row in getattr(file, name) if row.visit != visit) for name in names})


@pytest.fixture(scope="module")
def stand():
    """A made-up stand with a cruise of both rings and a count."""
    files = map(synthetic.stand_file, range(60))
    return next(file for file in files if {row.layer for row in file.rings} == {"overstory", "midstory", "reproduction"})


def test_a_stand_whose_visits_have_no_points_is_to_be_measured_and_not_to_wait(stand):
    blank = replace(stand, **dict.fromkeys(TALLIES, ()), operations=())
    advice = _advice(blank)

    assert advice.step == "measure"
    assert any("c of" in doubt.words and "0 points" in doubt.words for doubt in advice.doubts)
    assert not any(figure.measured for name, figure in evidence.all_figures(blank, RULES, synthetic.ON).items() if name.endswith("_ac"))


def test_a_later_visit_without_points_replaces_no_look_not_even_after_work(stand):
    first = next(visit for visit in stand.visits if visit.visit == "c")
    later = replace(first, visit="c2", visited_on=synthetic.ON)
    rings = tuple(replace(ring, visit="c2") for ring in stand.rings if ring.visit == "c")
    cut = replace(synthetic.stand_file(1), stand=stand.stand).operations
    file = replace(stand, visits=(*stand.visits, later), rings=(*stand.rings, *rings), operations=cut)

    assert file.latest("cruise") == first
    assert file.deciding("cruise")[1] == (later,)


def test_a_tally_of_the_midstory_alone_says_nothing_of_the_canopy(stand):
    rings = tuple(ring for ring in stand.rings if ring.layer != "overstory")
    file = replace(stand, rings=rings, trees=tuple(row for row in stand.trees if row.dbh_in < 5), operations=())

    assert not evidence.all_figures(file, RULES, synthetic.ON)["overwood_ba_ft2_ac"].measured
    assert not evidence.all_figures(file, RULES, synthetic.ON)["floor_light_pct"].measured
    assert _advice(file).step == "measure"


def test_a_later_tally_of_the_midstory_leaves_the_canopy_as_it_was(stand):
    cruise = next(visit for visit in stand.visits if visit.visit == "c")
    tally = replace(cruise, visit="m", visited_on=synthetic.ON)
    ring = next(ring for ring in stand.rings if ring.layer == "midstory")
    points = tuple(replace(point, visit="m") for point in stand.points if point.visit == "c")
    file = replace(
        stand,
        visits=(*stand.visits, tally),
        rings=(*stand.rings, replace(ring, visit="m", high_dbh_in=8.0)),
        points=(*stand.points, *points),
    )
    before, after = (evidence.all_figures(one, RULES, synthetic.ON) for one in (stand, file))

    assert after["overwood_ba_ft2_ac"] == before["overwood_ba_ft2_ac"]
    assert after["oak_share"] == before["oak_share"]
    assert after["midstory_stems_ac"].value == 0.0


def test_a_cruise_of_sawtimber_alone_is_no_cruise_of_the_canopy(stand):
    rings = tuple(replace(ring, low_dbh_in=12.0) if ring.layer == "overstory" else ring for ring in stand.rings)
    file = replace(stand, rings=rings, trees=tuple(row for row in stand.trees if row.dbh_in >= 12), operations=())
    advice = _advice(file)
    gate = next(gate for gate in advice.gates if gate.name == "cruise fresh")

    assert (gate.answer, gate.code) == (NOT_LOOKED, "no_canopy_tallied")
    assert advice.step == "measure"


def test_a_count_without_plots_is_not_the_count_after_the_cut(stand):
    cut = replace(synthetic.stand_file(1).operations[0], kind="seed cut", state="done", started_on=synthetic.ON.replace(year=2024))
    blank = replace(stand, operations=(cut,), points=tuple(row for row in stand.points if row.visit != "r"))
    items = {item.item: item.state for item in monitoring.completeness(blank, RULES, synthetic.ON)}

    assert (items["reproduction count"], items["count after the cut"]) == ("missing", "missing")


@pytest.mark.parametrize(("slope_pct", "aspect_deg", "state"), [(0.0, None, "present"), (None, None, "missing"), (20.0, None, "missing")])
def test_level_ground_has_no_aspect_to_miss(stand, slope_pct, aspect_deg, state):
    file = replace(stand, stand=replace(stand.stand, slope_pct=slope_pct, aspect_deg=aspect_deg))

    assert next(item.state for item in monitoring.completeness(file, RULES, synthetic.ON) if item.item == "slope and aspect") == state
