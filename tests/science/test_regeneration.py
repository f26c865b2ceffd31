"""Each process of the futures alone gives the published figures; nothing is made from nothing; more light, seed and time act as they should."""

from __future__ import annotations

import os
import subprocess
import sys

import numba
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from overwood.ground import tables
from overwood.judgement.futures.start import SOURCES, gate_row
from overwood.judgement.rules import load
from overwood.science import acorns, decisions, light, regeneration, reproduction, survey
from overwood.science.regeneration import year

# The futures compile for half a minute on a fresh machine.
pytestmark = pytest.mark.slow

RULES = load()
# Middle values of the assumptions, and of the tables.
P = {name: RULES.number(entry) for name, entry in SOURCES.items()} | {
    "curve_b0": -0.2213, "curve_b1": -0.01524, "overwinter_buried": 0.8, "overwinter_unburied": 0.2, "browse_growth": 1.0, "crop_mean_ac": 23552.0,
}  # fmt: skip
NONE = dict.fromkeys(regeneration.PLAN, 0.0) | {"cut_year": -1.0}
NOW = NONE | {"cut_year": 0.0}
TWO = NONE | {
    "inject": 1.0,
    "residual_ft2_ac": 60.0,
    "crop_wait_yr": 6.0,
    "count_from_yr": 3.0,
    "release_wait_yr": 10.0,
    "release_anyway": 1.0,
}


def simulated(
    plan, oak=0.0, rivals=(0.0, 0.0), futures=200, plots=40, years=40, sprouts=0.0, ba=110.0, seed=1, opened=-1.0, ba_before=None, midstory=1.0,
    white_share=0.5, kind=regeneration.WHITE, root=None, gate=None, **changed,
):  # fmt: skip
    rng = np.random.default_rng(seed)
    heights, roots = np.zeros((2, plots, regeneration.SLOTS))
    heights[:, 0], roots[:, 0] = oak, oak if root is None else root
    counted = regeneration.Counted(
        heights, roots, np.full((plots, regeneration.SLOTS), kind), np.full(plots, rivals[0]), np.full(plots, rivals[1])
    )
    parameters = regeneration.rows(
        np.tile([float((P | changed)[name]) for name in regeneration.PARAMETERS], (futures, 1)), regeneration.PARAMETERS
    )
    stand = dict(
        plot_ac=1 / 735, other_ba_ft2_ac=0.0, midstory=midstory, site_index_ft=65.0, opened_yr=opened,
        ba_before_ft2_ac=ba if ba_before is None else ba_before, good_crop_ago_yr=20.0,
    )  # fmt: skip
    found = regeneration.many_futures(
        counted, np.tile(np.arange(plots), (futures, 1)),
        regeneration.rows(np.array([[0.0, ba * white_share, sprouts], [1.0, ba * (1 - white_share), 0.0]]), regeneration.OAK),
        regeneration.rows(np.array([plan[name] for name in regeneration.PLAN]), regeneration.PLAN), parameters,
        regeneration.rows(np.array([stand[name] for name in regeneration.STAND]), regeneration.STAND),
        gate_row(RULES) if gate is None else gate,
        rng.random((futures, years, 4)), rng.integers(0, 2**31 - 1, futures),
    )[0]  # fmt: skip
    names = (*regeneration.RESULTS, "dominant_white_ac", "dominant_red_ac")
    return {name: found[:, place] for place, name in enumerate(names)}


@pytest.mark.parametrize(("light_share", "expected"), [(0.03, 0.02), (0.05, 0.02), (0.20, 0.26), (0.6, 0.26)])
def test_seedlings_live_eight_years_as_published(light_share, expected):
    # Brose 2011 (GTR NRS-P-78): 2 % in dense shade unfenced, about 26 % with shade reduced.
    yearly = regeneration.yearly_survival(light_share, 0.02**0.125, 0.26**0.125, P["light_dark"], P["light_lit"])
    assert yearly**8 == pytest.approx(expected)


def test_suppressed_oaks_die_as_published():
    # Lorimer 1981: 5-yr mortality 45 % of northern red oak; the default 0.89 a year gives 44 %, and 1 % alive after 40 years (found: 0).
    assert 1 - P["established_survival_dark"] ** 5 == pytest.approx(0.45, abs=0.02)
    assert P["established_survival_dark"] ** 40 < 0.015


@pytest.mark.parametrize(("insects", "expected"), [(0.05, 39_900), (0.20, 33_600)])
def test_a_bumper_crop_gives_the_published_germinants(insects, expected):
    # Checks F1 and F2: 210,000 acorns, 5 and 20 % infested, none buried.
    assert regeneration.germinants_ac(210_000.0, insects, 0.0, 0.8, 0.2) == pytest.approx(expected)
    assert regeneration.germinants_ac(210_000.0, insects, 0.0, 0.8, 0.2) == pytest.approx(
        acorns.fate(210_000, insect_share=insects, buried_share=0, survival_share=1).germinants_ac
    )


@pytest.mark.parametrize("ba", [30.1, 50.5, 70.1, 125])
def test_light_is_the_curve_of_the_light_room(ba):
    curve = [tables.constants("science/tables/light.csv")[name] for name in ("curve_b0", "curve_b1")]

    assert 100 * regeneration.floor_light(ba, 0.64, *curve) == pytest.approx(float(light.from_basal_area_pct(ba, midstory_multiplier=0.64)))
    assert regeneration.floor_light(0.0, 1.0, *curve) == 1.0


@pytest.mark.parametrize(("height", "site"), [(4.5, 65), (3.0, 70), (7.5, 80)])
def test_success_is_the_stand_in_model_of_reproduction(height, site):
    expected = reproduction.advance_success(0.6 * height / 4.5, site, b0=1.18, b_ln_diameter=2.24, b_site_10ft=-0.8, k=0)
    assert regeneration.success_chance.py_func(height, False, float(site), P) == pytest.approx(float(expected))


def test_a_stocked_plot_wins_as_often_as_the_rule_implies():
    # NC-23 (from memory): 433 stocked plots of 735 make 220 dominants, 0.51 each; here each plot holds one oak of 4.5 ft, no rival, no loss.
    found = simulated(NOW, oak=4.5, futures=400, logging_loss_share=0.0)
    assert found["dominant_oaks_ac"].mean() / 735 == pytest.approx(0.51, abs=0.01)


def test_new_seedlings_grow_as_slowly_as_published():
    # Long, Brose and Horsley 2012: 32 cm (1.05 ft) after six seasons from acorns in fenced shelterwoods.
    # Three years young, then 0.5 ft, then 0.17 ft a year in light enough.
    height = 0.5 + 3 * P["growth_seedling_ft_yr"] * regeneration.growth_share(0.25, P["light_no_gain"], P["light_seedling"])
    assert height == pytest.approx(1.05, abs=0.1)


def test_good_crops_come_as_often_as_published():
    # Johnson 1994: one year in three to four; a course that needs a crop and starts ready waits 1 / 0.3 years on average from its second year.
    sure = dict(bearing_good=1.0, bearing_poor=0.0, crop_after_good=1.0, crop_together=1.0)
    found = simulated(TWO | {"crop_wait_yr": 40.0}, futures=4_000, years=60, **sure)
    assert (found["cut_year"] - 1).mean() == pytest.approx((1 - 0.3) / 0.3, abs=0.15)
    assert found["crops_missed"] == pytest.approx(found["cut_year"] - 1)


@pytest.mark.parametrize("after", [0.2, 0.5, 1.0])
@pytest.mark.parametrize("lag", [1, 2])
def test_crops_that_empty_the_trees_come_as_often_in_the_long_run(after, lag):
    # White oaks look back one year, red oaks two; the share of good years stays that of Johnson 1994.
    rng, good = np.random.default_rng(4), [False, False]
    for u in rng.random(30_000):
        good.append(regeneration.crop_is_good(0.3, after, good[-lag], u))
    years = np.array(good[2:])
    assert years.mean() == pytest.approx(0.3, abs=0.01)
    follows = years[lag:][years[:-lag]].mean()
    assert follows == pytest.approx(0.3 / (1 - 0.3 + after * 0.3) * after, abs=0.02)


def test_oaks_at_the_end_are_of_the_group_that_was_there():
    white = simulated(NOW, oak=4.5, kind=regeneration.WHITE, logging_loss_share=0.0)
    red = simulated(NOW, oak=4.5, kind=regeneration.RED, logging_loss_share=0.0)
    assert white["dominant_red_ac"].max() == 0 and red["dominant_white_ac"].max() == 0
    assert white["dominant_white_ac"].sum() == pytest.approx(red["dominant_red_ac"].sum())
    seeded = simulated(TWO, white_share=1.0, futures=300)
    assert seeded["dominant_white_ac"].mean() > 0 and seeded["dominant_red_ac"].max() == 0
    for found in (white, red, seeded):
        parts = found["dominant_white_ac"] + found["dominant_red_ac"] + found["dominant_planted_ac"]
        assert parts == pytest.approx(found["dominant_oaks_ac"])


def canopy_of(white, red, other, was_cut=0.0, whole=None):
    from overwood.science.regeneration.shapes import CANOPY, CANOPY_ROW

    values = dict.fromkeys(CANOPY, 0.0) | {"white": white, "red": red, "other": other, "was_cut": was_cut, "shade": 1.0}
    values |= {"ba": white + red + other, "whole_ba": whole or white + red + other, "whole_oak": white + red}
    return np.array([tuple(values[name] for name in CANOPY)], dtype=CANOPY_ROW)


def parameters_row(**changed):
    return regeneration.rows(np.array([float((P | changed)[name]) for name in regeneration.PARAMETERS]), regeneration.PARAMETERS)[0]


def test_a_cut_takes_other_species_before_oaks_and_keeps_the_oaks_shares():
    canopy = canopy_of(40.0, 40.0, 30.0)
    year.open_to(canopy, parameters_row(), 3, 60.0)
    assert (canopy["white"][0], canopy["red"][0], canopy["other"][0], canopy["ba"][0]) == pytest.approx((30.0, 30.0, 0.0, 60.0))
    year.open_to(canopy, parameters_row(), 4, 90.0)
    assert canopy["ba"][0] == pytest.approx(60.0)


def test_red_oaks_leave_the_canopy_faster_as_published():
    # Fan et al.: 0.5 % a year of white oaks and 1.4 % of upper-canopy red oaks die; growth is the same, so their ratio falls by 0.9 % a year.
    canopy, p = canopy_of(50.0, 50.0, 0.0, whole=200.0), parameters_row(canopy_growth=0.0)
    for _ in range(20):
        year.age_canopy(canopy, p)
    assert canopy["white"][0] == pytest.approx(50 * (1 - 0.005) ** 20)
    assert canopy["red"][0] == pytest.approx(50 * (1 - 0.014) ** 20)


def test_a_full_canopy_does_not_grow_beyond_what_it_was():
    canopy, p = canopy_of(60.0, 50.0, 0.0), parameters_row()
    for _ in range(40):
        year.age_canopy(canopy, p)
    assert 0 < canopy["ba"][0] <= 110.0


def test_later_ages_keep_fewer_dominants():
    # Gottschalk and others: 15 % of unreleased crop trees were lost in ten years.
    later = gate_row(RULES.with_value("future_stand_age_yr", 40))
    at_20, at_40 = (simulated(NOW, oak=4.5, gate=gate)["dominant_oaks_ac"].mean() for gate in (None, later))
    assert at_40 == pytest.approx(at_20 * 0.85**2)


def test_planted_oaks_are_told_apart():
    found = simulated(TWO | {"planted_ac": 300.0, "crop_wait_yr": 0.0}, futures=300, crop_mean_ac=0.0)
    assert found["dominant_planted_ac"].mean() > 0
    assert found["dominant_planted_ac"] == pytest.approx(found["dominant_oaks_ac"])
    assert (found["dominant_planted_ac"] <= 300 * 3).all()


def test_a_stout_collar_wins_more_often_than_a_thin_one():
    thin, stout = (simulated(NOW, oak=2.0, root=root, logging_loss_share=0.0)["dominant_oaks_ac"].mean() for root in (2.0, 6.0))
    assert stout > 1.5 * thin


@settings(deadline=None, max_examples=60)
@given(n=st.integers(2, 80), hits=st.floats(0, 1), level=st.floats(0.6, 0.98))
def test_the_bounds_of_the_gates_are_the_same_compiled(n, hits, level):
    stocked, z = round(hits * n), survey.z_quantile(level)
    assert numba.njit(decisions.share_ends)(stocked, n, z, 0.25) == pytest.approx(decisions.share_ends(stocked, n, z, 0.25), abs=1e-12)
    assert numba.njit(decisions.count_ends)(stocked, n, z, 0.6) == pytest.approx(decisions.count_ends(stocked, n, z, 0.6), rel=1e-12)


def test_sprouts_are_credited_by_the_share_that_wins():
    assert simulated(NOW, sprouts=20.0)["dominant_oaks_ac"] == pytest.approx(12.0)


def test_a_burn_leaves_the_published_share():
    # Alexander et al. 2008: relative survival of white oaks after one burn 0.71. One oak of 1 ft a plot, a burn, then cut at once.
    course = NONE | {
        "burns": 1.0,
        "residual_ft2_ac": 109.0,
        "crop_wait_yr": 1.0,
        "count_from_yr": 0.0,
        "release_wait_yr": 0.0,
        "release_anyway": 1.0,
    }
    still = dict(
        good_crop_chance=0.0, crop_mean_ac=0.0, logging_loss_share=0.0, established_survival_dark=1.0, established_survival_lit=1.0,
        seedling_survival8_dark=1.0, seedling_survival8_lit=1.0, burn_chance=1.0, dominance_b0=50.0,
        bearing_poor=0.0,
    )  # fmt: skip
    burned = simulated(course, oak=1.0, futures=400, **still)
    unburned = simulated(course | {"burns": 0.0}, oak=1.0, futures=400, **still)

    assert (burned["burns"] == 1).all()
    assert burned["dominant_oaks_ac"].mean() / unburned["dominant_oaks_ac"].mean() == pytest.approx(0.71, abs=0.01)


def test_no_seed_and_no_sprouts_gives_no_oak():
    for plan in (NOW, TWO):
        assert simulated(plan, crop_mean_ac=0.0)["dominant_oaks_ac"].max() == 0


def test_tall_oaks_everywhere_without_rivals_succeed():
    found = simulated(NOW, oak=10.0, logging_loss_share=0.0, dominance_b0=3.0)
    assert found["dominant_oaks_ac"].mean() > 0.97 * 735


def test_doing_nothing_releases_nothing():
    found = simulated(NONE, oak=4.0)
    assert (found["release_year"] == -1).all()
    assert (found["dominant_oaks_ac"] == 0).all()


@settings(deadline=None, max_examples=25)
@given(oak=st.floats(0, 8), rival=st.floats(0, 20), sprouts=st.floats(0, 60), seed=st.integers(0, 1_000))
def test_results_stay_within_what_can_be(oak, rival, sprouts, seed):
    found = simulated(TWO, oak=oak, rivals=(rival, 0.0), sprouts=sprouts, futures=20, seed=seed)

    assert (found["dominant_oaks_ac"] >= 0).all()
    assert (found["dominant_oaks_ac"] <= 735 + sprouts).all()
    assert (found["oaks_at_release_ac"] >= 0).all()
    assert ((found["release_year"] == -1) | (found["release_year"] >= found["cut_year"])).all()
    assert (found["crops_missed"] <= 40).all()


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        ({"oak": 5.0}, {"oak": 2.0}),
        ({"oak": 3.0, "rivals": (0.0, 0.0)}, {"oak": 3.0, "rivals": (9.0, 0.0)}),
        ({"oak": 3.0, "logging_loss_share": 0.1}, {"oak": 3.0, "logging_loss_share": 0.5}),
        ({"crop_mean_ac": 60_000.0}, {"crop_mean_ac": 5_000.0}),
        ({"seedling_survival8_lit": 0.4}, {"seedling_survival8_lit": 0.1}),
        ({"growth_seedling_ft_yr": 0.4}, {"growth_seedling_ft_yr": 0.05}),
    ],
)
def test_what_should_help_helps(better, worse):
    good, bad = (simulated(TWO, futures=300, **case)["dominant_oaks_ac"].mean() for case in (better, worse))
    assert good > bad


def test_a_stand_cut_before_is_not_cut_again_and_its_light_fades():
    # Cut four years ago from 110 to 56 ft2/ac: counts may release it at once, without another seed cut.
    fresh = simulated(TWO, oak=2.5, ba=56.0, midstory=0.0, opened=4.0, ba_before=110.0)
    assert (fresh["cut_year"] == -4).all() and (fresh["crops_missed"] == 0).all()
    assert (fresh["inject_year"] == -1).all()
    dim, bright = (
        simulated(NONE | {"cut_year": 8.0}, oak=1.0, ba=56.0, midstory=0.0, opened=since, ba_before=110.0, futures=400)[
            "oaks_at_release_ac"
        ].mean()
        for since in (12.0, 0.0)
    )
    assert dim < bright


def test_injection_helps_where_the_floor_is_dark():
    with_it, without = (simulated(TWO | {"inject": inject}, futures=300)["dominant_oaks_ac"].mean() for inject in (1.0, 0.0))
    assert with_it > 1.5 * without


@pytest.mark.slow
def test_the_number_of_threads_changes_nothing():
    script = (
        "import sys; sys.path[:0] = ['tests/science', 'tests']; import test_regeneration as t; "
        "print(t.simulated(t.TWO, oak=1.5, futures=64)['dominant_oaks_ac'].tobytes().hex())"
    )
    answers = set()
    for threads in ("1", "2"):
        env = os.environ | {"NUMBA_NUM_THREADS": threads}
        answers.add(subprocess.run([sys.executable, "-c", script], env=env, capture_output=True, text=True, check=True).stdout)
    assert len(answers) == 1
