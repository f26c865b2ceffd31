"""The residual check on records: basal area, damage, and what is missing."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import Point, Ring, Tree, Visit
from overwood.judgement.marking import residual_check
from overwood.judgement.rules import load
from records import cruise

RULES = load()


def checked(points):
    """A stand whose trees left, by their damage, are listed for each point of a ten-factor prism."""
    file = cruise([("1", 802, 16.0)])
    trees = [
        Tree(id=f"r{p}-{t}", visit="r", point=str(p), tree=str(t), species=802 if t % 2 else 316, dbh_in=18.0, damage=damage)
        for p, damages in enumerate(points, start=1)
        for t, damage in enumerate(damages)
    ]
    return dataclasses.replace(
        file,
        visits=(*file.visits, Visit(visit="r", stand="A", kind="residual check", visited_on=dt.date(2025, 6, 1))),
        rings=(*file.rings, Ring(visit="r", layer="overstory", design="prism", baf_ft2_ac=10.0)),
        points=(*file.points, *(Point(visit="r", point=str(p)) for p in range(1, len(points) + 1))),
        trees=(*file.trees, *trees),
    )


def judged(points):
    return residual_check.judge(checked(points), RULES, ba_low_ft2_ac=50, ba_high_ft2_ac=70)


SOUND, HURT = ["none"] * 6, ["severe"] * 3 + ["slight"] + ["none"] * 2


@pytest.mark.parametrize(
    ("points", "verdicts"),
    [
        ([SOUND] * 8, ("basal area as planned", "damage within the limit")),
        ([HURT] * 8, ("basal area as planned", "damage above the limit")),
        # None of 16 trees hurt leaves up to a sixth (1 - 0.05^(1/16), Clopper and Pearson 1934): over the limit of a tenth.
        ([SOUND[:2]] * 8, ("too little stands", "damage not settled")),
        ([SOUND * 2] * 8, ("too much stands", "damage within the limit")),
        ([SOUND, HURT, SOUND, SOUND, SOUND[:2], SOUND * 2], ("basal area not settled", "damage not settled")),
        ([[""] * 6] * 8, ("basal area as planned", "damage not noted")),
    ],
)
def test_the_verdicts_follow_the_points(points, verdicts):
    assert judged(points).verdicts == verdicts


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (50, 70, "basal area as planned"),
        (49.9, 70, "basal area not settled"),
        (50, 70.1, "basal area not settled"),
        (40, 50, "basal area not settled"),
        (40, 49.9, "too little stands"),
        (70, 80, "basal area not settled"),
        (70.1, 80, "too much stands"),
    ],
)
def test_an_interval_is_within_the_plan_with_both_its_ends(low, high, verdict):
    left = Figure(name="x", value=(low + high) / 2, low=low, high=high)

    assert residual_check._ba_verdict(left, 50, 70)[0] == verdict


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (0.05, 0.1, "damage within the limit"),
        (0.05, 0.101, "damage not settled"),
        (0.1, 0.2, "damage not settled"),
        (0.101, 0.2, "damage above the limit"),
    ],
)
def test_damage_is_within_the_limit_up_to_the_limit_itself(low, high, verdict):
    hurt = Figure(name="x", value=(low + high) / 2, low=low, high=high)

    assert residual_check._damage_verdict(hurt, 0.1)[0] == verdict


def test_shares_are_of_the_trees_looked_at():
    found = judged([["severe", "slight", "none", "none", "", ""]] * 8)

    assert found.damage_share.number == pytest.approx(0.25)
    assert found.slight_share == pytest.approx(0.25)
    assert found.not_looked_at == 16
    assert found.ba_ft2_ac.number == pytest.approx(60)
    assert found.oak_ba_share == pytest.approx(0.5)


def test_a_missing_check_says_what_to_bring():
    with pytest.raises(NotFound, match="damage none, slight or severe"):
        residual_check.judge(cruise([("1", 802, 16.0)]), RULES, ba_low_ft2_ac=50, ba_high_ft2_ac=70)
