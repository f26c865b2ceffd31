"""A stand from above against maps whose every stem is known, and what such a look is refused for."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

import canopy as made
from conftest import DEMO_DAY
from overwood.desk import answers
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.records import Operation
from overwood.ground.units import FT_PER_M
from overwood.judgement import canopy, stem_map
from overwood.judgement.canopy import Flight, Surface, Verdict
from overwood.judgement.canopy import surface as above
from overwood.judgement.canopy.light import light_from_above
from overwood.judgement.evidence.layers import overwood_mask
from overwood.judgement.evidence.tally import cruise_of
from overwood.judgement.light import drawn_stand

FLIGHT = Flight(file="c.tif", digest="d", kind="raster", flown_on=dt.date(2025, 6, 1), unit="m", seen_share=1.0, notes=())


def _surface(heights, inside):
    return Surface(heights, inside, 1.0, lambda row, column: (np.asarray(column) * 1e-5, -np.asarray(row) * 1e-5))


@pytest.fixture
def mapped(demo_book, ask):
    """The demo's stem map, and its canopy as it is seen from above."""
    file = answers.stand_file("S2")
    block = stem_map.block_of(file, ask.rules)
    heights, inside = made.middle_of(block.crowns, block.map.width_ft / FT_PER_M, noise_m=0.3)
    return file, block, _surface(heights, inside)


def test_dominants_are_seen_and_what_is_seen_is_there(mapped, ask):
    _, block, surface = mapped
    crowns = above.crowns_around(surface, ask.rules)
    own = crowns.taken(above.of_the_stand(crowns, surface))
    side = block.map.width_ft / FT_PER_M
    around = made.repeated(block.crowns, side)
    found = made.matches(own.column + 0.5 + side - 35, 2 * side + 35 - own.row - 0.5, own.height_m, around)
    crown_class = np.array([stem.crown_class for stem in block.stems] * 9)
    in_middle = (around.x >= side) & (around.x < 2 * side) & (around.y >= side) & (around.y < 2 * side)

    assert (found[(crown_class == "dominant") & in_middle] >= 0).mean() >= 0.8
    assert (found >= 0).sum() / len(own) >= 0.95
    # And what it cannot see, it does not.
    assert (found[(crown_class == "intermediate") & in_middle] >= 0).mean() < 0.3


def _full_light_pct(block, rules):
    return 100 * float(stem_map.field_of(block, np.ones(len(block.stems), dtype=bool), rules, 1.0).mean())


def _light(file, cruise, surface, rules, draws):
    crowns = above.crowns_around(surface, rules)
    own = above.of_the_stand(crowns, surface)
    return light_from_above(file, cruise, surface, crowns, own, rules.with_value("canopy_light_draws", draws))


@pytest.mark.slow
def test_light_below_crowns_and_small_stems_is_that_of_the_full_map(mapped, ask):
    file, block, surface = mapped
    cruise = cruise_of(file, file.visits_of("stem map")[-1])
    light = _light(file, cruise, surface, ask.rules, 12)

    assert light.mean_pct == pytest.approx(_full_light_pct(block, ask.rules), abs=5)
    assert light.low_pct < light.mean_pct < light.high_pct
    assert light.crowns_ac + light.small_stems_ac == pytest.approx(float(cruise.per_ac.sum()))


@pytest.mark.slow
def test_light_of_a_closed_stand_with_its_midstory_is_that_of_the_full_map(demo_book, ask):
    # A full map drawn from a cruise with a midstory: 400 stems an acre, most of them below.
    file = answers.stand_file("S1")
    cruise, rules = cruise_of(file, file.latest("cruise")), ask.rules.with_value("drawn_stand_acres", 2.5)
    block, source = drawn_stand.draw_block(file, cruise, overwood_mask(cruise, rules), rules, np.random.default_rng(2))
    heights, inside = made.middle_of(block.crowns, block.map.width_ft / FT_PER_M, noise_m=0.3)
    census = dataclasses.replace(
        cruise, points=cruise.points[:1], trees=tuple(cruise.trees[tree] for tree in source), point=np.zeros(len(source), dtype=int),
        spcd=cruise.spcd[source], dbh_in=cruise.dbh_in[source], per_ac=np.full(len(source), 1 / block.acres),
        crown_class=cruise.crown_class[source],
    )  # fmt: skip
    surface = _surface(heights, inside)
    light, full = _light(file, census, surface, ask.rules, 6), _full_light_pct(block, ask.rules)
    assert light.mean_pct == pytest.approx(full, abs=5)

    # The crowns alone would say that the floor is lighter: they never speak alone.
    tallest = np.argsort(-census.dbh_in)[: round(light.crowns_ac * block.acres)]
    alone = _light(file, dataclasses.replace(census, per_ac=np.isin(np.arange(len(source)), tallest) / block.acres), surface, ask.rules, 6)
    assert alone.mean_pct > light.high_pct


@pytest.fixture
def seen(demo_book, ask):
    """A made canopy over a cruised stand with its midstory, and the records of the stand."""
    heights, inside = np.zeros((200, 200), dtype=np.float32), np.zeros((200, 200), dtype=bool)
    inside[40:160, 40:160] = True
    rows, columns = np.indices(heights.shape)
    heights[:] = 26 - ((rows % 9 - 4) ** 2 + (columns % 9 - 4) ** 2) / 4
    heights[80:100, 80:110] = 1.0
    rules = ask.rules.with_value("canopy_light_draws", 2)
    return answers.stand_file("S1"), _surface(heights, inside), rules


def test_a_map_from_above_says_what_it_shows_and_what_not(seen):
    file, surface, rules = seen
    whole = canopy.map_of(file, FLIGHT, surface, rules, DEMO_DAY)

    # 120 by 120 m with 14 by 14 tops, 9 m apart, less the 2 by 3 where the gap of 20 by 30 m lies.
    assert whole.acres == pytest.approx(14_400 / 4046.86, rel=1e-4)
    assert len(whole.crowns) == 14 * 14 - 2 * 3
    assert [gap.area_ac for gap in whole.gaps] == pytest.approx([600 / 4046.86], rel=1e-3)
    assert {crown.verdict for crown in whole.crowns} == {"proposed"}
    assert {crown.species for crown in whole.crowns} == {crown.dbh_in for crown in whole.crowns} == {None}
    assert sum(size.crowns_ac for size in whole.sizes) == pytest.approx(whole.crowns_ac)
    cruise = cruise_of(file, file.latest("cruise"))
    assert sum(size.trees_ac.number for size in whole.sizes) == pytest.approx(float(cruise.per_ac.sum()) / cruise.n)
    assert [refusal.question for refusal in whole.refusals] == ["midstory shades", "marking"]
    assert whole.light is not None and whole.light.low_pct <= whole.light.mean_pct


def test_more_crowns_than_trees_are_a_doubt(seen):
    file, surface, rules = seen
    thin = dataclasses.replace(file, trees=tuple(tree for tree in file.trees if not 5 <= tree.dbh_in < 20))
    notes = [canopy.map_of(records, FLIGHT, surface, rules, DEMO_DAY).notes for records in (file, thin)]
    assert [any("crowns may have come apart" in note for note in each) for each in notes] == [False, True]


def test_no_light_is_given_without_the_small_stems(seen):
    file, surface, rules = seen
    high = tuple(dataclasses.replace(ring, low_dbh_in=5.0) for ring in file.rings if ring.layer == "overstory")
    bare = dataclasses.replace(file, rings=high, trees=tuple(tree for tree in file.trees if tree.dbh_in >= 5))
    no_cruise = dataclasses.replace(file, visits=(), trees=())
    cut = Operation(operation="x", stand="S1", kind="thinning", state="done", started_on=dt.date(2025, 8, 1))
    worked = dataclasses.replace(file, operations=(*file.operations, cut))

    for records, words in ((bare, "were not looked at"), (no_cruise, "there is no cruise"), (worked, "thinning of 2025-08-01")):
        whole = canopy.map_of(records, FLIGHT, surface, rules, DEMO_DAY)
        assert whole.light is None
        assert words in whole.light_lacking and "alone would be too high" in whole.light_lacking
    assert any("came after the flight" in note for note in whole.notes)


def test_feet_taken_for_meters_show_against_the_cruise(seen):
    file, surface, rules = seen
    shrunk = dataclasses.replace(surface, heights_m=surface.heights_m / np.float32(FT_PER_M))
    with pytest.raises(Misuse, match="where the tall trees of S1-2025-cruise have"):
        canopy.map_of(file, FLIGHT, shrunk, rules, DEMO_DAY)
    with pytest.raises(Misuse, match="was flown on 2026-06-01, after"):
        canopy.map_of(file, dataclasses.replace(FLIGHT, flown_on=dt.date(2026, 6, 1)), surface, rules, DEMO_DAY)


def test_no_share_is_told_before_enough_crowns_were_looked_at(seen):
    file, surface, rules = seen
    whole = canopy.map_of(file, FLIGHT, surface, rules, DEMO_DAY)
    rows = [Verdict(crown=number, verdict="one tree" if number > 3 else "several trees") for number in range(1, 31)]
    few = canopy.checked_map(whole, rows[:29], rules, by="Cruiser A", on=DEMO_DAY)
    enough = canopy.checked_map(few, rows[29:], rules, by="Cruiser A", on=DEMO_DAY)

    assert few.check.checked == 29 and few.check.one_tree_share is None
    assert enough.check.one_tree_share == pytest.approx(0.9)
    # Wilson's interval at 90 % of 27 of 30, without a continuity step: 0.774 to 0.960.
    assert enough.check.low_share == pytest.approx(0.774, abs=0.03) and enough.check.high_share == pytest.approx(0.960, abs=0.03)
    assert enough.crowns[0].checked_by == "Cruiser A" and whole.crowns[0].verdict == "proposed"


def test_a_verdict_that_cannot_be_is_refused(seen):
    file, surface, rules = seen
    whole = canopy.map_of(file, FLIGHT, surface, rules, DEMO_DAY)
    for row, by, kind, words in (
        (Verdict(crown=9999, verdict="one tree"), "A", NotFound, "no crown 9999"),
        (Verdict(crown=1, verdict="maybe"), "A", Misuse, "Use one of one tree"),
        (Verdict(crown=1, verdict="no tree", dbh_in=9.0), "A", Misuse, "Only one tree has them"),
        (Verdict(crown=1, verdict="one tree", dbh_in=900.0), "A", Misuse, "inches, 1 to 80"),
        (Verdict(crown=1, verdict="one tree"), " ", Misuse, "who looked"),
    ):
        with pytest.raises(kind, match=words):
            canopy.checked_map(whole, [row], rules, by=by, on=DEMO_DAY)


def test_a_crown_written_down_twice_is_refused_where_the_two_differ(seen):
    file, surface, rules = seen
    whole = canopy.map_of(file, FLIGHT, surface, rules, DEMO_DAY)
    one, other = Verdict(crown=1, verdict="one tree"), Verdict(crown=1, verdict="no tree")

    assert canopy.checked_map(whole, [one, one], rules, by="Cruiser A", on=DEMO_DAY).check.checked == 1
    with pytest.raises(Misuse, match="twice, not alike"):
        canopy.checked_map(whole, [one, other], rules, by="Cruiser A", on=DEMO_DAY)
