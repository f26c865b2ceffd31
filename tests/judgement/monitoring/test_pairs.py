"""The same points visited again are compared pair by pair; a deer fence speaks to the deer gate; a thin look is the first doubt."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from overwood.ground.records import Point, Ring, Seedling, Stand, StandFile, Tree, Visit
from overwood.judgement import gates
from overwood.judgement.course import advise
from overwood.judgement.evidence import all_figures, basis, set_aside, summary
from overwood.judgement.monitoring import changes as monitoring
from overwood.judgement.rules import load
from overwood.science import sample_size
from records import cruise

ON = dt.date(2025, 10, 15)
RULES = load()


def counted(years, per_plot, low_height_ft=0.0) -> StandFile:
    """A stand counted at the same plots in each year: oaks under a foot, plot by plot."""
    visits = tuple(Visit(visit=f"r{year}", stand="A", kind="reproduction", visited_on=dt.date(year, 8, 20)) for year in years)
    return StandFile(
        stand=Stand(stand="A", property="P"),
        visits=visits,
        rings=tuple(
            Ring(visit=v.visit, layer="reproduction", design="fixed", plot_area_ac=1 / 735, low_height_ft=low_height_ft) for v in visits
        ),
        points=tuple(Point(visit=v.visit, point=str(p)) for v in visits for p in range(len(per_plot[0]))),
        seedlings=tuple(
            Seedling(id=f"{v.visit}{p}", visit=v.visit, point=str(p), line="1", species=802, height_class="<0.5", stems=int(stems))
            for v, plots in zip(visits, per_plot, strict=True)
            for p, stems in enumerate(plots)
        ),
    )


def test_a_change_at_the_same_points_is_seen_where_two_samples_show_none():
    # Plots differ widely from each other; each gained one or two small oaks.
    before = np.random.default_rng(3).negative_binomial(0.8, 0.1, 30)
    file = counted((2024, 2025), (before, before + 1 + np.arange(30) % 2))

    found = {change.figure: change for change in monitoring.changes(file, RULES, ON).figures}
    small = found["oak_stems_under_1ft_ac"]

    assert (small.word, small.points) == ("more", 30)
    assert monitoring.compare(small.before, small.now) == "no sure change"


def test_other_points_are_compared_as_two_samples():
    before = np.random.default_rng(3).negative_binomial(0.8, 0.1, 30)
    file = counted((2024, 2025), (before, before + 1))
    moved = tuple(dataclasses.replace(row, point=f"N{row.point}") if row.visit == "r2025" else row for row in file.points)
    lines = tuple(dataclasses.replace(row, point=f"N{row.point}") if row.visit == "r2025" else row for row in file.seedlings)

    found = monitoring.changes(dataclasses.replace(file, points=moved, seedlings=lines), RULES, ON).figures

    assert {change.points for change in found} == {0}


def fenced(inside: int, outside: int) -> StandFile:
    """A count of ten plots inside a fence and twenty outside: so many oaks of a foot on each."""
    names = [f"F{p}" for p in range(10)] + [str(p) for p in range(20)]
    ring = Ring(visit="r", layer="reproduction", design="fixed", plot_area_ac=1 / 735)
    lines = [(name, inside if name[0] == "F" else outside, place) for place, name in enumerate(names)]
    return StandFile(
        stand=Stand(stand="A", property="P"),
        visits=(Visit(visit="r", stand="A", kind="reproduction", visited_on=dt.date(2025, 8, 20)),),
        rings=(ring,),
        points=tuple(Point(visit="r", point=name, fenced=name[0] == "F") for name in names),
        seedlings=tuple(
            Seedling(id=name, visit="r", point=name, line="1", species=802, height_class="1-3", stems=stems + place % 2)
            for name, stems, place in lines
            if stems
        ),
    )


@pytest.mark.parametrize(("inside", "outside", "state"), [(3, 0, "no"), (2, 2, "not looked at")])
def test_a_fence_that_holds_more_oaks_shuts_the_deer_gate(inside, outside, state):
    gate = gates.browse_low(all_figures(fenced(inside, outside), RULES, ON), RULES)

    assert gate.answer == state
    assert "inside the deer fence than outside" in gate.why
    assert ("deer hold the oaks down" in gate.why) == (state == "no")


def test_one_newer_point_is_said_at_the_head_and_is_the_first_doubt():
    rings = (Ring(visit="c", layer="overstory", design="prism", baf_ft2_ac=10.0, low_dbh_in=4.5),)
    file = cruise([(str(p), 802, 18.0) for p in range(25)], points=tuple(map(str, range(25))), rings=rings)
    short = dataclasses.replace(
        file,
        visits=(*file.visits, Visit(visit="d", stand="A", kind="cruise", visited_on=dt.date(2025, 9, 1))),
        rings=(*rings, dataclasses.replace(rings[0], visit="d")),
        points=(*file.points, Point(visit="d", point="1")),
        trees=(*file.trees, Tree(visit="d", point="1", tree="1", species=316, dbh_in=12.0)),
    )
    words = "d of 01 Sep 2025 has 1 point and does not replace c (25 points)"

    assert basis(short) == ("Trees: c, 01 May 2025, 25 points",)
    told = monitoring.changes(short, RULES, ON)
    assert (told.between, told.figures) == ({}, ()), "a cruise is not held against itself"
    assert [doubt.words for doubt in set_aside(short)] == [words]
    advice = advise(short, RULES, ON)
    assert advice.doubts[0].words == words


def test_a_cruise_of_too_few_points_is_the_first_doubt():
    advice = advise(cruise([("1", 802, 18.0)], points=("1",)), RULES, ON)

    assert advice.doubts[0].words == "c has 1 point; at least 5 are wanted"
    assert advice.firm.words == "not known: see the first doubt"


def test_a_stand_never_cruised_is_measured_and_not_measured_again():
    bare = StandFile(stand=Stand(stand="A", property="P"))

    assert advise(bare, RULES, ON).title == "Measure the stand"


def test_the_head_of_the_evidence_is_what_its_points_say():
    trees = [(str(p), 802, 18.0) for p in range(1, 6) for _ in range(p)]
    file = cruise(trees, rings=(Ring(visit="c", layer="overstory", design="prism", baf_ft2_ac=10.0, low_dbh_in=4.5),))
    head = summary.summary_of(file, all_figures(file, RULES, ON), RULES)

    # Points of 1 to 5 trees: mean 3, standard deviation 1.58, so 53 % between points; Freese 1962 for the points needed.
    assert (head.points, head.trees, head.qmd_in.value) == (5, 15, pytest.approx(18))
    assert head.cv_pct == pytest.approx(100 * 2.5**0.5 / 3)
    assert head.points_needed == sample_size.plots_needed(head.cv_pct, 10, level=0.9)
