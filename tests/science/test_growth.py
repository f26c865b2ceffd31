"""Growth and death of standing trees: rates in print, answers to crowding, thinning and site, and the pooled refit itself."""

from __future__ import annotations

import csv
import sys

import numpy as np
import pytest

from conftest import DOCS
from overwood.ground import tables
from overwood.ground.species import UNKNOWN, serving
from overwood.judgement.evidence.growing import response
from overwood.judgement.rules import defaults
from overwood.science import growth
from overwood.science.growth import GROWTH_TABLE, MORTALITY_TABLE

sys.path.insert(0, str(DOCS))
import growth_refit

RESPONSE = response(defaults())
WHITE_OAK, CHESTNUT_OAK, RED_OAK, BLACK_OAK, SCARLET_OAK, RED_MAPLE = 802, 832, 833, 837, 806, 316
# Rates over trees of 4.5 in. and larger are spread over sizes as the refit spreads them.
MIX = dict(zip((8.0, 13.0, 20.0), growth_refit.COMPOSITION[1:], strict=True))


def death_pct(spcd, z=0.0):
    return 100 * sum(share * float(growth.mortality_yr(spcd, dbh, death_z=z)) for dbh, share in MIX.items())


@pytest.mark.parametrize(
    ("spcd", "lowest", "highest"),
    [
        # Southeast Ohio, 82 plots, 23 to 25 years: white 23.4, chestnut 19.1, black 26.7, northern red 41.4, scarlet oak 61.3 % dead;
        # Ozarks, 1990-2006 (Fan and others 2011, abstract): white about 0.5, black 2.2, scarlet 1.7 % a year.
        (WHITE_OAK, 0.5, 1.11),
        (CHESTNUT_OAK, 0.88, 2.65),
        (BLACK_OAK, 1.29, 2.2),
        (RED_OAK, 1.3, 2.2),
        (SCARLET_OAK, 1.7, 3.88),
    ],
)
def test_an_oak_dies_at_a_rate_between_those_in_print(spcd, lowest, highest):
    assert lowest <= death_pct(spcd) <= highest


@pytest.mark.parametrize(("spcd", "seen"), [(WHITE_OAK, 0.69), (RED_OAK, 1.33), (403, 0.29), (RED_MAPLE, 0.35)])
def test_the_range_between_sites_holds_the_second_mapped_forest(spcd, seen):
    # Own summary of two censuses of 23 ha of oak-hickory forest.
    assert death_pct(spcd, -1.645) <= seen <= death_pct(spcd, 1.645)


def test_the_range_between_sites_is_that_of_the_table():
    for row in tables.rows(growth.MORTALITY_TABLE):
        size = (float(row["low_in"]) + float(row["high_in"])) / 2
        ends = [float(growth.mortality_yr(int(row["spcd"]), size, death_z=z)) for z in (-1.645, 1.645)]
        assert ends == pytest.approx([float(row["low"]), min(float(row["high"]), 1.0)], rel=0.05)


def test_no_species_without_a_row_borrows_red_maple():
    birch = 372

    assert serving(growth.GROWTH_TABLE, birch) == serving(growth.MORTALITY_TABLE, birch) == UNKNOWN


def test_a_red_maple_over_16_inches_has_a_death_rate_of_its_size():
    assert float(growth.mortality_yr(RED_MAPLE, 18)) != float(growth.mortality_yr(RED_MAPLE, 13))


@pytest.mark.parametrize(
    ("ba_ft2_ac", "gain"),
    [(147, 1.0), (110, 1.0), (88, 1.5**0.5), (66, 1.5), (40, 1.5)],
    ids=["crowded", "full", "half way", "thinned", "open"],
)
def test_a_thinned_stand_grows_by_what_was_measured_and_no_more(ba_ft2_ac, gain):
    assert growth.thinning_response(ba_ft2_ac, RESPONSE) == pytest.approx(gain)


@pytest.mark.parametrize(("site_ft", "ratio"), [(None, 1.0), (70, 1.0), (84, 1.2), (56, 0.8)])
def test_growth_goes_with_site_index(site_ft, ratio):
    assert growth.site_response(response(defaults(), site_ft)) == pytest.approx(ratio)


def test_a_suppressed_red_oak_dies_three_times_as_often_as_a_dominant_one():
    # Fan and others, Ozark Highlands: 4.3 against 1.4 % a year.
    crowded, free = (growth.crowding_response(RED_OAK, 8, larger, RESPONSE) for larger in (80, 25))

    assert float(crowded / free) == pytest.approx(4.3 / 1.4, rel=0.03)


def test_crowding_moves_a_death_rate_by_no_more_than_three():
    assert float(growth.crowding_response(RED_OAK, 30, 300, RESPONSE)) == growth.MOST_CROWDING
    assert float(growth.crowding_response(RED_OAK, 3, 0, RESPONSE)) == pytest.approx(1 / growth.MOST_CROWDING)


def grown_dbh(spcd, years):
    """Diameter of a tree left by a cut that takes half of a full stand of its species after a year."""
    dbh, per_ac = np.full(80, 14.0), np.full(80, 110 / (80 * 0.005454154 * 14.0**2))
    cut = growth.Cut(year=1, stays=np.arange(80) % 2 == 0)
    return growth.project(np.full(80, spcd), dbh, per_ac, years, response=RESPONSE, cut=cut)[0][0]


@pytest.mark.parametrize(("spcd", "lag_yr"), [(BLACK_OAK, 1), (SCARLET_OAK, 6), (WHITE_OAK, 2)])
def test_a_tree_left_by_a_cut_grows_faster_once_the_lag_of_its_species_is_over(spcd, lag_yr):
    # Tree rings of southeast Missouri: black oak after 0 to 1, scarlet oak after 6 to 7 years; red oak after two (Ward 2002).
    yearly = np.diff([grown_dbh(spcd, years) for years in range(1, 12)])

    gains = yearly[1:] / yearly[:-1]
    assert int(np.argmax(gains)) == lag_yr - 1
    assert gains.max() == pytest.approx(1.5, abs=0.06)


@pytest.mark.parametrize(("spcd", "lag_yr"), [(BLACK_OAK, 1), (SCARLET_OAK, 6), (WHITE_OAK, 2)])
def test_a_cut_at_once_waits_for_its_lag_like_one_of_a_later_year(spcd, lag_yr):
    # The same lags as above: a cut before the first year once gave its gain at once.
    dbh, per_ac = np.full(80, 14.0), np.full(80, 110 / (80 * 0.005454154 * 14.0**2))
    cut = growth.Cut(year=0, stays=np.arange(80) % 2 == 0)
    after = [growth.project(np.full(80, spcd), dbh, per_ac, years, response=RESPONSE, cut=cut)[0][0] for years in range(12)]

    yearly = np.diff(after)
    assert int(np.argmax(yearly[1:] / yearly[:-1])) == lag_yr - 1
    uncut = growth.project(np.full(80, spcd), dbh, per_ac, 1, response=RESPONSE)[0][0]
    assert after[1] == pytest.approx(uncut)


def test_a_tree_cut_later_crowds_until_its_year():
    dbh, per_ac, stays = np.full(20, 14.0), np.full(20, 5.0), np.arange(20) < 10
    whole = growth.project(np.full(20, 802), dbh, per_ac, 5, response=RESPONSE)[0]
    late = growth.project(np.full(20, 802), dbh, per_ac, 5, response=RESPONSE, cut=growth.Cut(year=5, stays=stays))

    assert late[0] == pytest.approx(whole)
    assert not late[1][10:].any() and late[1][:10].all()


@pytest.mark.parametrize(
    ("name", "made"), [(MORTALITY_TABLE, growth_refit.death_table), (GROWTH_TABLE, growth_refit.growth_table)], ids=["deaths", "growth"]
)
def test_the_tables_are_what_the_refit_makes_of_the_evidence(name, made):
    with (growth_refit.TABLES / name.rpartition("/")[2]).open(encoding="utf-8", newline="") as stream:
        written = list(csv.DictReader(stream))

    fresh = made()
    assert [row["species"] for row in written] == [row["species"] for row in fresh]
    for column in ("rate_yr", "low", "high") if name == MORTALITY_TABLE else ("level", "level_spread_ln"):
        assert [float(row[column]) for row in written] == pytest.approx([float(row[column]) for row in fresh], rel=0.01, abs=2e-5)


def test_sites_left_out_lie_in_the_range_of_the_others():
    inside = [abs(one.log_rate - middle) <= growth_refit.Z90 * spread for one, middle, spread in growth_refit.left_out()]

    # Meant for nine in ten; 21 of 26 do; four of the misses are in Virginia, where more died than anywhere.
    assert np.mean(inside) >= 0.8


@pytest.mark.parametrize(("name", "spcd"), [("future_death_white", WHITE_OAK), ("future_death_red", RED_OAK)])
def test_the_futures_let_canopy_oaks_die_within_the_range_between_sites(name, spcd):
    low, high = (float(growth.mortality_yr(spcd, 20, death_z=z)) for z in (-1.645, 1.645))

    assert low <= defaults().number(name) <= high
