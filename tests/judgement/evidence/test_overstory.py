"""Evidence of the standing trees, from records made by hand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from overwood.ground.records import Crown, Point, Ring, SiteTree, Stand, StandFile, Stratum, Visit
from overwood.judgement.evidence import all_figures, layers, stock, tally
from overwood.judgement.rules import load
from records import cruise

ON = dt.date(2025, 10, 15)
RULES = load()


def test_a_prism_point_counts_its_factor_for_each_tree():
    figures = all_figures(cruise([("1", 802, 18.0), ("1", 802, 12.0), ("2", 833, 20.0)]), RULES, ON)

    assert figures["ba_ft2_ac"].value == pytest.approx(30 / 5)
    assert figures["ba_ft2_ac"].n == 5


def test_points_without_trees_are_zeros_and_points_outside_are_not_in_the_sample():
    file = cruise([("1", 802, 18.0)], points=("1", "2"))
    outside = Point(visit="c", point="3", in_stand=False)
    file = StandFile(**{**{f: getattr(file, f) for f in file.__dataclass_fields__}, "points": (*file.points, outside)})

    assert all_figures(file, RULES, ON)["ba_ft2_ac"].value == pytest.approx(5)


def test_a_walk_through_tree_counts_twice():
    once = all_figures(cruise([("1", 802, 18.0)]), RULES, ON)["ba_ft2_ac"].number
    twice = all_figures(cruise([("1", 802, 18.0, {"edge_count": 2})]), RULES, ON)["ba_ft2_ac"].number

    assert twice == pytest.approx(2 * once)


def test_dead_trees_are_not_counted():
    assert all_figures(cruise([("1", 802, 18.0, {"status": "dead"})]), RULES, ON)["trees_ac"].value == 0


def test_nested_rings_take_each_tree_by_its_dbh():
    rings = (
        Ring(visit="c", layer="overstory", design="prism", baf_ft2_ac=10.0, low_dbh_in=5.0),
        Ring(visit="c", layer="midstory", design="fixed", plot_area_ac=0.02, low_dbh_in=1.0, high_dbh_in=5.0),
    )
    figures = all_figures(cruise([("1", 316, 3.0), ("1", 316, 4.9), ("1", 802, 5.0)], rings=rings), RULES, ON)

    assert figures["midstory_stems_ac"].value == pytest.approx(2 / 0.02 / 5)
    assert figures["overwood_ba_ft2_ac"].value == pytest.approx(10 / 5)


def test_a_strip_counts_by_its_own_area():
    rings = (Ring(visit="c", layer="overstory", design="strip", strip_width_ft=66.0),)
    file = cruise([("1", 802, 18.0)], points=("1",), rings=rings)
    file = StandFile(
        **{**{f: getattr(file, f) for f in file.__dataclass_fields__}, "points": (Point(visit="c", point="1", strip_length_ft=660.0),)}
    )

    assert all_figures(file, RULES, ON)["trees_ac"].value == pytest.approx(1.0)


def _sized(file, *points):
    return replace(file, points=tuple(Point(visit="c", **point) for point in points))


def test_each_prism_point_counts_its_own_factor():
    file = cruise([("1", 802, 12.0), ("1", 802, 16.0), ("2", 802, 12.0)])
    figures = all_figures(_sized(file, {"point": "1"}, {"point": "2", "baf_ft2_ac": 20.0}), RULES, ON)

    # Point 1: 2 x 10; point 2: 1 x 20 ft2/ac. Trees an acre F / (pi d^2 / 576), d in inches: 12.732 + 7.162 and 25.465.
    assert figures["ba_ft2_ac"].value == pytest.approx((20 + 20) / 2)
    assert figures["trees_ac"].value == pytest.approx((12.732 + 7.162 + 25.465) / 2, abs=0.001)
    assert "of their own" in figures["ba_ft2_ac"].note


def test_each_plot_counts_by_its_own_area_and_the_midstory_ring_by_that_of_the_ring():
    rings = (
        Ring(visit="c", layer="overstory", design="fixed", plot_area_ac=0.1, low_dbh_in=5.0),
        Ring(visit="c", layer="midstory", design="fixed", plot_area_ac=0.02, low_dbh_in=1.0, high_dbh_in=5.0),
    )
    file = cruise([("1", 802, 12.0), ("2", 802, 12.0), ("2", 316, 3.0)], rings=rings)
    figures = all_figures(_sized(file, {"point": "1"}, {"point": "2", "plot_area_ac": 0.05}), RULES, ON)

    assert figures["overwood_ba_ft2_ac"].value == pytest.approx((10 + 20) / 2 * np.pi * 12**2 / 576, rel=1e-6)
    assert figures["midstory_stems_ac"].value == pytest.approx(1 / 0.02 / 2)


def test_a_prism_point_among_plots_counts_by_its_factor():
    rings = (Ring(visit="c", layer="overstory", design="fixed", plot_area_ac=0.1),)
    file = cruise([("1", 802, 12.0), ("2", 802, 12.0)], rings=rings)
    figures = all_figures(_sized(file, {"point": "1"}, {"point": "2", "baf_ft2_ac": 10.0}), RULES, ON)

    assert figures["ba_ft2_ac"].value == pytest.approx((10 * np.pi * 12**2 / 576 + 10) / 2, rel=1e-6)


def test_strata_are_weighted_by_their_areas():
    trees = [("1", 802, 18.0), ("2", 802, 18.0), ("3", 802, 18.0), ("3", 802, 18.0), ("4", 802, 18.0), ("4", 802, 18.0)]
    strata = (Stratum(stand="A", stratum="ridge", area_ac=30.0), Stratum(stand="A", stratum="cove", area_ac=10.0))
    file = cruise(trees, points=("1", "2", "3", "4"), strata=strata, stratum={"1": "ridge", "2": "ridge", "3": "cove", "4": "cove"})

    figure = all_figures(file, RULES, ON)["ba_ft2_ac"]

    assert figure.value == pytest.approx(0.75 * 10 + 0.25 * 20)
    assert "strata" in figure.method


def test_few_points_get_a_warning():
    assert "too few for an interval" in all_figures(cruise([("1", 802, 18.0)], points=("1", "2")), RULES, ON)["ba_ft2_ac"].note


def test_one_point_gives_a_figure_without_an_interval():
    figure = all_figures(cruise([("1", 802, 18.0)], points=("1",)), RULES, ON)["ba_ft2_ac"]

    assert (figure.value, figure.low, figure.high) == (10.0, None, None)


def test_the_midstory_is_the_tolerant_stems_below_the_canopy():
    trees = [
        ("1", 316, 3.0, {"crown_class": "overtopped"}),
        ("1", 316, 11.5, {"crown_class": "codominant"}),
        ("1", 316, 7.0, {"crown_class": "codominant"}),
        ("1", 621, 3.0, {"crown_class": "overtopped"}),
        ("1", 802, 3.0, {"crown_class": "overtopped"}),
        ("1", 318, 9.0, {"crown_class": "overtopped"}),
    ]
    taken = tally.cruise_of(cruise(trees), cruise(trees).visits[0])

    assert layers.midstory_mask(taken, RULES).tolist() == [True, False, False, False, False, True]


def test_the_shares_of_large_and_oak_trees():
    figures = all_figures(cruise([("1", 802, 22.0), ("2", 621, 15.0), ("3", 802, 16.0), ("4", 802, 21.0)]), RULES, ON)

    assert figures["oak_share"].value == pytest.approx(3 / 4)
    assert figures["large_share"].value == pytest.approx(2 / 4)
    assert figures["middle_share"].value == pytest.approx(2 / 4)


def test_mean_diameter_outside_the_chart_is_said():
    figures = all_figures(cruise([("1", 802, 18.0)]), RULES, ON)

    assert figures["overwood_qmd_in"].value == pytest.approx(18.0)
    assert "outside the published chart" in figures["b_line_ba_ft2_ac"].note


def test_dieback_above_the_limit_makes_a_declining_oak():
    trees = [("1", 806, 15.0, {"dieback_pct": 60.0}), ("2", 806, 15.0, {"dieback_pct": 10.0}), ("3", 802, 15.0)]
    figure = all_figures(cruise(trees), RULES, ON)["declining_share"]

    assert figure.value == pytest.approx(0.5)


def test_age_comes_from_cores_grown_to_the_day():
    visit = Visit(visit="s", stand="A", kind="site", visited_on=dt.date(2015, 10, 15))
    cores = tuple(
        SiteTree(id=f"k{n}", visit="s", tree=str(n), species=837, age_yr=age, height_ft=80.0) for n, age in enumerate((80.0, 84.0, 88.0))
    )
    file = cruise([("1", 802, 18.0)])
    file = StandFile(**{**{f: getattr(file, f) for f in file.__dataclass_fields__}, "visits": (*file.visits, visit), "site_trees": cores})

    figures = all_figures(file, RULES, ON)

    assert figures["age_yr"].value == pytest.approx(94, abs=0.1)
    assert figures["site_index_ft"].measured
    assert figures["site_index_ft"].n == 3


def test_a_crown_a_third_too_narrow_marks_a_poor_tree():
    crowns = tuple(
        Crown(
            id=f"w{n}",
            visit="c",
            tree=str(n),
            species=802,
            dbh_in=18.0,
            radius_north_ft=r,
            radius_east_ft=r,
            radius_south_ft=r,
            radius_west_ft=r,
        )
        for n, r in enumerate((16.0, 16.5, 9.0, 17.0))
    )
    figure = all_figures(cruise([("1", 802, 18.0)], crowns=crowns), RULES, ON)["small_crown_share"]

    assert figure.value == pytest.approx(1 / 4)


def test_nothing_measured_is_said_and_not_guessed():
    figures = all_figures(StandFile(stand=Stand(stand="A", property="P")), RULES, ON)

    assert all(not figure.measured for figure in figures.values())
    assert all(figure.note for figure in figures.values())


def test_a_breakdown_adds_up_to_the_whole():
    trees = [("1", 802, 18.0), ("2", 833, 12.0), ("3", 316, 3.0), ("4", 621, 20.0)]
    file = cruise(trees)
    total = all_figures(file, RULES, ON)["ba_ft2_ac"].number
    for by in stock.BREAKDOWNS:
        parts = stock.breakdown(file, RULES, by)
        assert sum(ba.number for ba, _ in parts.values()) == pytest.approx(total)


def test_the_rows_behind_a_figure_are_the_rows_counted():
    figures = all_figures(cruise([("1", 802, 18.0), ("1", 316, 3.0)]), RULES, ON)

    assert figures["oak_sprouts_ac"].inputs[0].rows == ("t0",)
    assert set(figures["ba_ft2_ac"].inputs[0].rows) == {"t0", "t1"}


def test_unknown_species_count_in_no_group_but_in_the_whole():
    figures = all_figures(cruise([("1", 999, 18.0), ("2", 802, 18.0)]), RULES, ON)

    assert figures["overwood_trees_ac"].number == pytest.approx(2 * 10 / 5 / (0.005454154 * 18**2))
    assert figures["oak_share"].value == pytest.approx(0.5)
    assert "unknown species" in figures["ba_ft2_ac"].note
