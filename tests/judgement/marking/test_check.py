"""The marking check on records: verdicts, what stays by kind, and what is missing."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from conftest import DEMO_DAY
from overwood.desk import answers, marking
from overwood.ground.errors import NotFound
from overwood.ground.records import Point, Ring, Tree, Visit
from overwood.judgement.marking import check as marking_check
from overwood.judgement.rules import load
from records import cruise

RULES = load()
OAKS = [(str(n % 5 + 1), 802 if n % 2 else 833, 16.0 + n / 10, {"crown_class": "codominant"}) for n in range(60)]


def checked(counts, species=802, crown="codominant"):
    """A cruised stand whose crew left so many trees at each point of a ten-factor prism."""
    file = cruise(OAKS)
    trees = [
        Tree(id=f"m{p}-{t}", visit="m", point=str(p), tree=str(t), species=species, dbh_in=18.0, crown_class=crown)
        for p, count in enumerate(counts, start=1)
        for t in range(count)
    ]
    return dataclasses.replace(
        file,
        visits=(*file.visits, Visit(visit="m", stand="A", kind="marking check", visited_on=dt.date(2025, 6, 1))),
        rings=(*file.rings, Ring(visit="m", layer="overstory", design="prism", baf_ft2_ac=10.0)),
        points=(*file.points, *(Point(visit="m", point=str(p)) for p in range(1, len(counts) + 1))),
        trees=(*file.trees, *trees),
    )


def judged(counts, **more):
    return marking_check.check(checked(counts, **more), RULES, ba_low_ft2_ac=50, ba_high_ft2_ac=70)


@pytest.mark.parametrize(
    ("counts", "verdict"),
    [
        ([6, 6, 6, 6, 6], "on target"),
        ([2, 3, 2, 3, 2], "off target: too little stays"),
        ([11, 12, 11, 12, 11], "off target: too much stays"),
        ([2, 9, 5, 7, 4], "take more points"),
        ([6, 6], "take more points"),
    ],
)
def test_the_verdict_follows_the_prism(counts, verdict):
    found = judged(counts)

    assert found.verdict == verdict
    assert found.points_ba_ft2_ac == pytest.approx([10.0 * c for c in counts])


def test_an_empty_point_counts_as_nothing_left():
    found = judged([6, 0, 6, 6, 6])

    assert found.looked.mean == pytest.approx(48)
    assert found.verdict == "take more points"


def test_what_stays_is_shown_beside_what_the_rule_would_leave():
    shares = {share.what: share for share in judged([6] * 5, species=316, crown="intermediate").shares}

    assert (shares["oak"].marked, shares["oak"].planned) == (0, 1)
    assert shares["dominant and codominant"].marked == 0
    assert shares["dominant and codominant"].planned == 1
    assert shares["white oak group"].planned > 0.4


def test_a_share_of_upper_crowns_is_not_said_where_no_crown_was_judged():
    assert "dominant and codominant" not in {share.what for share in judged([6] * 5, crown="").shares}


def test_a_missing_check_says_what_to_bring():
    with pytest.raises(NotFound, match="only those the crew leaves"):
        marking_check.check(cruise(OAKS), RULES, ba_low_ft2_ac=50, ba_high_ft2_ac=70)


def test_the_check_is_no_cruise(demo_book):
    # The trees the crew leaves must not pass for the stand.
    before = answers.evidence("S2", answers.question(dt.date(2025, 10, 9)))
    after = answers.evidence("S2", answers.question(DEMO_DAY))

    assert before["ba_ft2_ac"].number == after["ba_ft2_ac"].number
    with pytest.raises(NotFound):
        marking.marking_check(
            "S2",
            answers.question(dt.date(2025, 10, 9)),
            marking.wants(answers.question(DEMO_DAY)),
        )
