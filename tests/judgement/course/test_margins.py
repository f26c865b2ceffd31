"""A cut that cannot be undone wants a margin in plots."""

from __future__ import annotations

import dataclasses

import pytest

from conftest import DEMO_DAY
from overwood.desk import answers
from overwood.judgement.course import advise
from overwood.judgement.rules import load

RULES = load()


@pytest.fixture
def files(demo_book):
    return answers.all_files()


def with_tall_plots(file, plots):
    """The demo's stand with oaks of 4.5 ft on so many plots of its last count, one each, and no other oak of 3 ft."""
    visit = file.latest("reproduction").visit
    names = [point.point for point in file.points if point.visit == visit and not point.fenced]
    kept = [row for row in file.seedlings if row.visit != visit or row.height_class in ("<0.5", "0.5-1", "1-3")]
    one = next(row for row in file.seedlings if row.visit == visit and row.species == 802)
    tall = [
        dataclasses.replace(one, id=f"t{n}", point=name, line="99", height_class="4.5-10", height_ft=6.0, stems=1)
        for n, name in enumerate(names[:plots])
    ]
    return dataclasses.replace(file, seedlings=(*kept, *tall))


@pytest.mark.slow
def test_a_verdict_that_one_plot_would_turn_does_not_take_the_overwood_off(files):
    tried = {plots: advise(with_tall_plots(files["S4"], plots), RULES, DEMO_DAY) for plots in (*range(24, 48), 55)}
    fewest = next(plots for plots, advice in tried.items() if advice.figures["oak_verdict"].value == "adequate")

    assert fewest > 24
    assert "before the cut" in tried[fewest].title
    assert {plots: tried[plots].step for plots in (fewest - 1, fewest, fewest + 1)} == {
        fewest - 1: "settle", fewest: "settle", fewest + 1: "release",
    }  # fmt: skip
    for plots in (fewest, fewest + 1):
        assert "fewer_plots" in [doubt.code for doubt in tried[plots].doubts]
    assert tried[fewest + 1].firm.stays < tried[55].firm.stays


def test_what_would_change_the_verdict_is_the_nearest_count_that_does(files):
    few = advise(with_tall_plots(files["S4"], 10), RULES, DEMO_DAY)
    wanted = int(str(few.would_change[0]).split(" of ")[0])

    verdicts = [advise(with_tall_plots(files["S4"], plots), RULES, DEMO_DAY).figures["oak_verdict"].value for plots in (wanted - 1, wanted)]
    assert verdicts == ["unsure", "adequate"]
    assert str(few.would_change[0]).endswith("adequate")


def test_an_opened_stand_is_not_asked_again_whether_to_open(files):
    assert not any(one.code == "time_to_regenerate" for one in advise(files["S4"], RULES, DEMO_DAY).why)
    assert any(one.code == "time_to_regenerate" for one in advise(files["S7"], RULES, DEMO_DAY).why)


def test_assumed_rotation_ages_are_named(files):
    reasons = " ".join(map(str, advise(files["S2"], RULES, DEMO_DAY).why))

    assert "assumed rotation ages: pignut hickory, red maple, white oak" in reasons
