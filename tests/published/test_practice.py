"""What foresters hold without a publication, run against what advice, light, marking, fire and futures say."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import sys
from pathlib import Path

import numpy as np
import pytest

from conftest import DEMO_DAY, ROOT
from overwood.desk import answers
from overwood.ground.figure import Figure
from overwood.ground.records import Stand, StandFile, Stem, StemMap, Visit
from overwood.judgement import gates, injection, prices, stem_map
from overwood.judgement.course import advise
from overwood.judgement.evidence import all_figures
from overwood.judgement.evidence import light as evidence_light
from overwood.judgement.fire import gates as fire_gates
from overwood.judgement.fire import pool
from overwood.judgement.futures import courses
from overwood.judgement.gates import maturity
from overwood.judgement.gates.windows import season
from overwood.judgement.marking import leave_trees
from overwood.judgement.marking import search as marking
from overwood.judgement.marking.wants import Wants
from overwood.judgement.money import choices
from overwood.judgement.rules import defaults
from overwood.science import decisions
from records import cruise

sys.path.insert(0, str(ROOT / "tests/science"))
import test_regeneration as futures

RULES = defaults()
HERE = Path(__file__).resolve().parent
OAKS = [(str(n % 5 + 1), 802 if n % 2 else 833, 12.0 + n / 4, {"crown_class": "codominant", "grade": "2", "logs": 2.0}) for n in range(40)]
WANTS = Wants(light_low_pct=30, light_high_pct=50, ba_low_ft2_ac=45, ba_high_ft2_ac=75, seed_cover_share=0.7)
SIDE = 208.7


def facts():
    with (HERE / "practice.csv").open(encoding="utf-8", newline="") as stream:
        return {row["id"]: row for row in csv.DictReader(stream)}


FACTS = facts()


def bounds(name):
    return float(FACTS[name]["low"]), float(FACTS[name]["high"])


@pytest.fixture(scope="module")
def base():
    return all_figures(cruise(OAKS), RULES, DEMO_DAY)


def verdict(base, age_yr, large, middle):
    shares = {"age_yr": Figure(name="age_yr", value=age_yr), "large_share": Figure(name="large_share", value=large)}
    shares["middle_share"] = Figure(name="middle_share", value=middle)
    return maturity.judge(cruise(OAKS), base | shares, RULES, {802: 1.0}).verdict


def mapped(*stems):
    return stem_map.block_of(
        StandFile(
            stand=Stand(stand="A", property="P"),
            visits=(Visit(visit="m", stand="A", kind="stem map", visited_on=dt.date(2025, 9, 1)),),
            stem_maps=(StemMap(visit="m", width_ft=SIDE, height_ft=SIDE, edge="torus"),),
            stems=stems,
        ),
        RULES,
    )


def stem(number, species=802, dbh=16.0, east=100.0, **more):
    crown = {"crown_class": "codominant"} | more
    return Stem(visit="m", stem=str(number), species=species, dbh_in=dbh, east_ft=east, north_ft=100.0, **crown)


def test_every_fact_is_practice_and_says_why_where_the_program_differs():
    assert list(FACTS) == [f"P{number:02d}" for number in range(1, 23)]
    for row in FACTS.values():
        assert (row["source"], row["status"]) == ("common practice, no published source", "practice")
        assert row["agrees"] == "yes" or row["why"], row["id"]


def test_p01_a_stand_of_large_trees_is_regenerated_after_80_years_and_not_before(base):
    limit = float(FACTS["P01"]["low"])

    assert verdict(base, limit + 1, 0.7, 0.1) == "regenerate"
    assert verdict(base, limit, 0.7, 0.1) != "regenerate"
    assert verdict(base, 60, 0.7, 0.1) != "regenerate"


def test_p02_p03_a_filled_middle_or_few_large_trees_are_not_mature(base):
    assert (RULES.number("mature_middle_dbh_in"), RULES.number("mature_large_dbh_in")) == bounds("P02")
    assert RULES.number("mature_large_dbh_in") == float(FACTS["P03"]["low"])
    assert verdict(base, 81, 0.7, 0.5) != "regenerate"
    assert verdict(base, 81, 0.3, 0.1) != "regenerate"


@pytest.mark.parametrize(("fact", "window"), [("P04", "window_acorn"), ("P15", "window_burn")])
def test_p04_p15_the_season_is_that_of_the_trade(fact, window):
    found = season(RULES, window, 2025)

    assert (f"{found.start:%m-%d}", f"{found.end:%m-%d}") == (FACTS[fact]["low"], FACTS[fact]["high"])


def test_p05_a_poor_crop_waits_a_year_and_says_what_the_year_costs(demo_book):
    file = answers.all_files()["S2"]
    poor = tuple(dataclasses.replace(tree, bearing=False, acorns=0) for tree in file.acorn_trees)

    advice = advise(dataclasses.replace(file, acorn_trees=poor), RULES, DEMO_DAY)

    assert advice.step == "check_acorns"
    assert advice.window.start.year == DEMO_DAY.year + int(FACTS["P05"]["low"])
    assert any("another year" in text.words for text in advice.follow_on)


def test_p06_injection_gains_light_but_no_more_than_the_trade_says(demo_book):
    low, high = bounds("P06")
    order = injection.order(answers.stand_file("S1").as_of(DEMO_DAY), RULES, DEMO_DAY)
    full = RULES.number("light_high_pct")
    heaviest = full * (1 - evidence_light.midstory_share(1000.0, RULES))

    assert low < order.light_after_pct.likely - order.light_before_pct.number <= high
    assert low < heaviest * RULES.number("light_low_pct") / full


@pytest.mark.slow
def test_p07_half_the_shelterwoods_with_seed_and_light_are_released_in_three_to_five_years():
    start = futures.counted(np.where(np.random.default_rng(5).random((futures.SPACES, 4)) < 0.6, 2.0, 0.0), rivals=(2.0, 0.0))
    seen = futures.simulated(futures.TWO, start, futures=200, drawn=True)
    released = seen["release_year"] >= 0

    low, high = bounds("P07")
    assert low <= np.median((seen["release_year"] - seen["cut_year"])[released]) <= high


def test_p08_the_oak_gate_opens_at_several_hundred_stems():
    low, high = bounds("P08")
    least, wanted, most = RULES["several_hundred_ac"].span

    assert (least, most) == (low, high)
    assert decisions.density_side(wanted, low, 600.0, wanted, least) > 0
    assert decisions.density_side(wanted, low - 1, 600.0, wanted, least) <= 0
    assert decisions.density_side(wanted - 1, low, 600.0, wanted, least) <= 0


def test_p09_reproduction_counts_from_three_feet():
    low, high = bounds("P09")

    assert low <= RULES.number("waist_high_ft") <= high


@pytest.mark.parametrize(("height_ft", "answer"), [(11.9, "yes"), (12.0, "no"), (16.0, "no")])
def test_p10_felling_over_tall_reproduction_is_late(base, height_ft, answer):
    low, high = bounds("P10")

    assert low <= RULES.number("latest_release_height_ft") <= high
    assert gates.low_enough(base | {"tallest_oak_ft": Figure(name="tallest_oak_ft", value=height_ft)}, RULES).answer == answer


def test_p11_a_crown_a_third_too_small_marks_a_poor_tree_and_lowers_its_score():
    low, high = bounds("P11")
    full = float(mapped(stem(1)).crowns.a[0]) / 0.3048
    radii = [
        dict.fromkeys((f"radius_{side}_ft" for side in ("north", "east", "south", "west")), r) for r in (full, full * (1 - low) * 0.99)
    ]
    made = mapped(*(stem(n, east=20.0 + 60 * n, **around) for n, around in enumerate(radii)))

    assert 1 - RULES.number("crown_small_share") == pytest.approx(low, abs=0.01)
    assert 1 - RULES["crown_small_share"].span[0] == high
    assert made.score[1] < made.score[0]


@pytest.mark.parametrize(
    ("crown_class", "stays"), [("dominant", True), ("codominant", True), ("intermediate", False), ("overtopped", False)]
)
def test_p12_only_the_upper_canopy_is_left(crown_class, stays):
    made = mapped(stem(1, crown_class=crown_class), stem(2, east=40.0))

    assert leave_trees.may_stay(made, WANTS).tolist() == [stays, True]


def test_p13_oaks_of_both_groups_stay():
    rng = np.random.default_rng(5)
    kinds = (802, 833, 316, 403)
    made = mapped(*(Stem(visit="m", stem=str(n), species=kinds[n % 4], dbh_in=float(rng.uniform(11, 20)), crown_class="codominant",
                         east_ft=float(rng.uniform(0, SIDE)), north_ft=float(rng.uniform(0, SIDE))) for n in range(80)))  # fmt: skip

    found = marking.search(made, WANTS, RULES, marking.Effort(1, 100))

    left = {one.species for one, stays in zip(made.stems, found.leave, strict=True) if stays}
    assert {802, 833} <= left


@pytest.mark.slow
def test_p14_the_futures_follow_the_tallest_rivals_and_not_their_number():
    seen = futures.pools(futures.ADVANCE, [{"cut_to_ft2_ac": 60.0}, {}, {}, {}], futures=50)

    followed = 735 * (seen["tolerant_share"][:, -1] + seen["pioneer_share"][:, -1])
    assert 735 <= followed.mean() <= 2 * 735


@pytest.mark.parametrize("month", [7, 8])
def test_p16_a_burn_in_full_leaf_is_refused_and_in_the_window_is_not(month):
    file = cruise(OAKS)
    winter, summer = (fire_gates.dormant(file, RULES, day) for day in (dt.date(2026, 2, 10), dt.date(2026, month, 15)))

    assert (winter.answer, summer.answer) == ("yes", "no")


def test_p17_established_oak_lives_through_a_burn_and_germinants_die():
    stout = futures.floors.burn_survival.py_func(1.0, futures.P)

    # Not agreed: the futures let 0.4 (0.1 to 0.8) of small seedlings live where the trade says none do.
    assert stout >= 0.9
    assert RULES["future_burn_young"].span == (0.1, 0.4, 0.8)
    assert pool.survival("burn_rootstock_large_oak", RULES) > pool.survival("burn_rootstock_small_oak", RULES)


def test_p18_the_midstory_goes_first_and_no_burn_is_advised_over_acorns(demo_book):
    advice = advise(answers.all_files()["S1"], RULES, DEMO_DAY)

    assert advice.step == "inject"
    burn = {gate.name: gate for gate in advice.gates}["burn safe"]
    assert (burn.answer, burn.code) == ("no", "acorns_on_litter")
    ordered = next(course for course in courses.load() if course.name == "inject, burn, two cuts").numbers
    assert ordered["inject"] and ordered["burns"]


def test_p19_oaks_share_of_the_pool_grows_with_every_burn():
    count = {label: Figure(name="n", value=500.0) for label in ("<1", "3-4.5")}
    found = pool.after({"oak": count, "maple": count, "poplar": count}, RULES)

    shares = [found.oak_share_now, *(found.oak_share_after[burns] for burns in pool.BURNS)]
    assert shares == sorted(shares) and shares[2] > shares[0]


@pytest.mark.slow
def test_p20_maples_missed_by_the_injection_outgrow_the_oaks():
    low, high = bounds("P20")
    free, missed = (
        futures.simulated(futures.NOW, futures.counted(3.0, rivals=(rival, 0.0)), futures=100)["dominant_oaks_ac"].mean()
        for rival in (0.0, (low + high) / 2)
    )

    assert missed < 0.8 * free


@pytest.mark.slow
def test_p21_advice_and_futures_agree_where_one_cut_serves_and_where_it_does_not(demo_book):
    files = answers.all_files()
    enough, bare = (
        futures.simulated(futures.NOW, start, futures=100)["dominant_oaks_ac"].mean() for start in (futures.counted(3.0), futures.BARE)
    )

    assert advise(files["S4"], RULES, DEMO_DAY).step == "release"
    assert "release" not in {advise(files[name], RULES, DEMO_DAY).step for name in ("S1", "S2", "S3")}
    assert enough > 10 * max(bare, 1.0)


@pytest.mark.slow
def test_p22_two_ages_are_offered_with_what_they_cost(demo_book):
    file = answers.stand_file("S2").as_of(DEMO_DAY)
    offered = {
        one.name: one
        for one in choices.compare(file, all_figures(file, RULES, DEMO_DAY), RULES, prices.load(ROOT / "demo/prices.toml")).choices
    }
    kept, gone = (
        futures.simulated(futures.TWO | {"kept_ft2_ac": ba}, futures.ADVANCE, futures=150)["dominant_oaks_ac"].mean() for ba in (30.0, 0.0)
    )

    assert offered["two ages"].worth < offered["shelterwood in two cuts"].worth
    assert kept < gone
    assert "inject, two ages" in {course.name for course in courses.load()}
