"""Crowns and gaps of a canopy seen from above, against crowns that are known."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

import canopy as seen
from overwood.science.canopy import Settings, by_tiles, crown_width_m, crowns_of, gaps_of
from overwood.science.canopy.crowns import tiles
from overwood.science.light.crowns import Crowns

SETTINGS = Settings(cell_m=1.0, smooth_m=1.0, least_height_m=5.0, reach_share=0.5, crown_share=0.5, widest_radius_m=10.0)


def _domes(places, radius=4.0, top=25.0):
    x, y = (np.array([place[axis] for place in places], dtype=float) for axis in (0, 1))
    full = np.full(len(places), radius)
    return Crowns(x, y, np.full(len(places), top - 6.0), full, full, np.full(len(places), 6.0), np.full(len(places), 0.4))


def _closed(seed, side=200.0, spacing=7.0):
    """Crowns that touch, on a jittered grid, 18 to 30 m tall."""
    rng = np.random.default_rng(seed)
    across = np.arange(spacing / 2, side, spacing)
    x, y = (axis.ravel() + rng.uniform(-1.5, 1.5, len(across) ** 2) for axis in np.meshgrid(across, across))
    radius, top = rng.uniform(3, 5, len(x)), rng.uniform(18, 30, len(x))
    return Crowns(x, y, top - 6, radius, radius, np.full(len(x), 6.0), np.full(len(x), 0.4))


def test_crowns_that_stand_apart_are_found_where_they_stand_and_as_large_as_they_are():
    crowns = _domes([(20, 20), (50, 20), (35, 45)])
    found = crowns_of(seen.surface(crowns, 70, 70), SETTINGS)

    assert len(found) == 3
    of = seen.matches(found.column + 0.5, 70 - found.row - 0.5, found.height_m, crowns)
    assert sorted(of) == [0, 1, 2]
    # A disc of 4 m radius is 50.3 m2; its rim is cut by cells of 1 m.
    assert found.area_m2 == pytest.approx(math.pi * 16, rel=0.12)
    assert found.height_m == pytest.approx(25.0, abs=0.3)


def test_two_tops_nearer_than_their_reach_are_one_crown():
    reach = 0.5 * float(crown_width_m(25.0)) / 2
    near, apart = ([(30.0, 30.0), (30.0 + step, 30.0)] for step in (0.7 * reach, 4 * reach))

    assert len(crowns_of(seen.surface(_domes(near), 60, 60), SETTINGS)) == 1
    assert len(crowns_of(seen.surface(_domes(apart), 60, 60), SETTINGS)) == 2


@pytest.mark.parametrize("side", [31, 64, 150])
def test_tiles_give_the_crowns_of_the_whole_raster_each_once(side):
    surface = seen.surface(_closed(3), 200, 200, noise_m=0.5, seed=4)
    surface[60:70, 90:120] = np.nan
    whole, parts = crowns_of(surface, SETTINGS), by_tiles(surface, SETTINGS, side)

    assert len(whole) > 300
    for column in dataclasses.fields(whole):
        # Middles are means of numbers counted from the tile's own corner: the same but for the last digit.
        assert getattr(parts, column.name) == pytest.approx(getattr(whole, column.name), rel=1e-12), column.name
    assert np.array_equal(whole.area_m2, parts.area_m2)


def test_a_crown_on_a_seam_is_counted_once_and_whole():
    surface = seen.surface(_domes([(30, 30)]), 60, 60)
    # The top lies on the corner where four tiles meet.
    found = by_tiles(surface, SETTINGS, 30)

    assert len(found) == 1
    assert found.area_m2[0] == crowns_of(surface, SETTINGS).area_m2[0]


def test_tiles_cover_every_cell_once():
    count = np.zeros((23, 41), dtype=int)
    for _, own in tiles(count.shape, 10, 3):
        count[own] += 1
    assert (count == 1).all()


def test_flat_tops_and_rasters_in_whole_meters_make_one_crown_a_tree():
    crowns = _domes([(20, 20), (50, 20), (35, 45)])
    whole_meters = np.round(seen.surface(crowns, 70, 70))
    flat = np.minimum(whole_meters, 23.0)

    assert len(crowns_of(whole_meters, SETTINGS)) == len(crowns_of(flat, SETTINGS)) == 3


def test_what_was_not_seen_is_neither_crown_nor_gap_nor_drags_its_neighbors_down():
    surface = seen.surface(_domes([(20, 20), (50, 20)]), 70, 40)
    hidden = surface.copy()
    hidden[:, 24:40] = np.nan
    found = crowns_of(hidden, SETTINGS)

    assert len(found) == 2
    assert found.height_m == pytest.approx(crowns_of(surface, SETTINGS).height_m)
    inside = np.ones(surface.shape, dtype=bool)
    gaps = gaps_of(hidden, inside, cell_m=1.0, below_m=3.0, least_m2=20.0)
    assert gaps.area_m2.sum() == pytest.approx(float((hidden < 3.0).sum()), rel=0.05)
    assert len(crowns_of(np.full((30, 30), np.nan, dtype=np.float32), SETTINGS)) == 0


def test_gaps_are_the_stands_own_and_the_largest_comes_first():
    surface = np.full((60, 60), 22.0, dtype=np.float32)
    surface[10:20, 10:30] = 0.5
    surface[40:44, 40:44] = 1.5
    surface[:, 55:] = 0.0
    inside = np.ones(surface.shape, dtype=bool)
    inside[:, 50:] = False
    gaps = gaps_of(surface, inside, cell_m=2.0, below_m=3.0, least_m2=30.0)

    assert gaps.area_m2.tolist() == [800.0, 64.0]
    assert (gaps.row[0], gaps.column[0]) == (14.5, 19.5)


def test_order_of_work_and_place_of_the_raster_change_no_crown():
    surface = seen.surface(_closed(5, side=90), 90, 90)
    moved = np.zeros((120, 120), dtype=np.float32)
    moved[17:107, 11:101] = surface
    here, there = crowns_of(surface, SETTINGS), crowns_of(moved, SETTINGS)
    inner = []
    for one, down, right in ((here, 0, 0), (there, 17, 11)):
        row, column = one.top_row - down, one.top_column - right
        inner.append(one.taken((row > 20) & (row < 70) & (column > 20) & (column < 70)))

    assert len(inner[0]) > 20
    assert np.array_equal(inner[0].top_row + 17, inner[1].top_row)
    assert np.array_equal(inner[0].area_m2, inner[1].area_m2)


def test_the_width_that_sets_the_reach_is_that_of_the_paper():
    # Popescu and Wynne 2004, deciduous trees, from memory: 3.09632 + 0.00895 h^2; 20 m gives 6.676 m.
    assert float(crown_width_m(20.0)) == pytest.approx(6.67632)
