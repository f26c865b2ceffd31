"""Scalars and arrays alike, and the edges of the equations."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize

from overwood.ground import tables
from overwood.ground.species import serving
from overwood.science import acorns, density, overstory, reproduction, sample_size, survey


def test_scalars_give_scalars_and_arrays_give_arrays():
    for function in (overstory.basal_area_ft2, density.tree_area_pct, overstory.open_crown_width_ft, survey.plot_radius_ft):
        assert np.ndim(function(0.1)) == 0
        assert function(np.array([0.1, 0.2])).shape == (2,)


@settings(deadline=None)
@given(st.integers(1, 200), st.floats(0.5, 0.99))
def test_a_share_lies_inside_its_interval(n, level):
    for hits in {0, n // 3, n}:
        low, high = survey.wilson_interval(hits, n, level=level)
        assert 0 <= low <= hits / n + 1e-12
        assert hits / n <= high + 1e-12 and high <= 1


@settings(deadline=None)
@given(st.lists(st.floats(0, 300), min_size=2, max_size=40))
def test_more_of_the_same_plots_never_widen_the_interval(values):
    one, two = survey.sample_mean(values, level=0.9), survey.sample_mean(values * 2, level=0.9)

    assert two.se <= one.se + 1e-9


@settings(deadline=None)
@given(st.floats(3, 24))
def test_the_b_line_lies_between_half_and_two_thirds_of_full_stocking(dbh):
    assert 50 < density.b_line_pct([dbh], [100]) < 66


@settings(deadline=None)
@given(st.sampled_from([802, 833, 837, 806, 832]), st.floats(40, 90), st.floats(20, 100))
def test_site_index_undoes_dominant_height(spcd, site, age):
    height = overstory.dominant_height_ft(spcd, age, site)

    assert float(overstory.site_index_ft(spcd, age, height)) == pytest.approx(site, abs=1e-6)


@pytest.mark.parametrize("spcd", [int(row["spcd"]) for row in tables.rows(overstory.SITE_TABLE)])
def test_site_index_is_the_root_of_the_height_curve_at_every_age_and_height(spcd):
    """Beside SciPy's bracketing search; what lies beyond 5 to 200 ft is the end of that span."""
    for age, height in itertools.product((1, 8, 25, 60, 140, 600), (1, 12, 40, 85, 130, 220)):

        def over(site, age=age, height=height):
            return float(overstory.dominant_height_ft(spcd, age, site)) - height

        ends = (5.0, 200.0)
        wanted = ends[0] if over(ends[0]) > 0 else ends[1] if over(ends[1]) < 0 else optimize.brentq(over, *ends, xtol=1e-12)
        assert float(overstory.site_index_ft(spcd, age, height)) == pytest.approx(wanted, rel=1e-9), (age, height)


def test_a_species_without_a_curve_is_refused():
    with pytest.raises(KeyError, match="no site index curve for flowering dogwood"):
        overstory.dominant_height_ft(491, 50, 60)


def test_other_oaks_borrow_the_lower_table_of_their_group():
    assert serving(reproduction.SPROUT_TABLE, 823) == 802
    assert serving(reproduction.SPROUT_TABLE, 812) == 837
    with pytest.raises(KeyError, match="covers oaks"):
        serving(reproduction.SPROUT_TABLE, 316)


def test_a_forest_crown_is_never_wider_than_an_open_one():
    dbh = np.linspace(2, 40, 50)
    for spcd in (802, 316, 491, 972):
        assert (overstory.crown_width_ft(spcd, dbh, crown_ratio_pct=90, hopkins_index=0) <= overstory.open_crown_width_ft(dbh)).all()


def test_clumping_without_information_is_nan_and_random_counts_are_infinite():
    assert np.isnan(sample_size.clumping_k([0, 0, 0]))
    assert np.isnan(sample_size.clumping_k([3]))
    assert sample_size.clumping_k([1, 1, 1, 1]) == np.inf


def test_bearers_without_spread_are_all_alike():
    ranked = acorns.rank_bearers([[5, 5], [5, 5], [5, 5]])

    assert ranked.shrunken.tolist() == [0, 0, 0]


@pytest.mark.parametrize(("index", "word"), [(0, "poor"), (2, "poor"), (2.1, "fair"), (6, "good"), (6.1, "excellent"), (9, "bumper")])
def test_classes_of_the_visual_index(index, word):
    # Whitehead 1969 scale, from memory: to 2 poor, to 4 fair, to 6 good, to 8 excellent, above bumper.
    assert acorns.class_from_index(index) == word


@pytest.mark.parametrize(
    ("group", "count", "word"),
    [("white", 18, "excellent"), ("white", 6, "fair"), ("white", 5.9, "poor"), ("red", 16, "good"), ("red", 7, "poor")],
)
def test_classes_of_the_limb_count(group, count, word):
    # Sharp 1958, from memory: white oaks 18/12/6, red oaks 24/16/8 acorns a 24-in. branch end.
    assert acorns.class_from_limbs(group, count) == word


def test_a_crown_covers_the_circle_of_its_width():
    # A circle of 20 ft is 314.159 ft2 of an acre of 43,560.
    assert float(overstory.crown_area_pct_ac(20.0)) == pytest.approx(100 * 314.159 / 43_560, rel=1e-5)


def test_bearers_are_shrunk_by_the_variance_between_trees_over_all_of_it():
    # By hand, one-way analysis of variance of log counts centred by year: within 0.5 with 2 degrees of freedom, between 4.5 - 0.5/2.
    found = acorns.rank_bearers(np.expm1([[0.0, 2.0], [4.0, 4.0]]))

    assert found.mean.tolist() == pytest.approx([-1.5, 1.5])
    assert found.shrinkage == pytest.approx(4.25 / 4.5)
    assert found.shrunken.tolist() == pytest.approx([-1.5 * 4.25 / 4.5, 1.5 * 4.25 / 4.5])
