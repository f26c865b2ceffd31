"""The ledger: one tree's change costs its own shadows, undoing it restores every bit, and the sum is the field itself."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from crowns import halves, made, one_openness, stand
from overwood.science.light import apart, field, sky
from overwood.science.light.ledger import Ledger
from overwood.science.light.raster import EDGES, Raster

FLOOR = Raster.near(60.0, 60.0, 3.0)
WAYS = sky.sky_directions(60, "overcast")
# The ledger keeps optical depth in whole steps of 1/256: with so few directions they round off within this.
STEPS = 1e-3


def ledger(crowns, edge="torus"):
    return Ledger(crowns, WAYS, FLOOR, edge=edge)


def without(crowns, gone):
    keep = np.ones(len(crowns.x), dtype=bool)
    keep[list(gone)] = False
    return field.Crowns(*(getattr(crowns, f.name)[keep] for f in dataclasses.fields(crowns)))


@pytest.mark.parametrize("edge", EDGES)
@pytest.mark.parametrize("kind", [stand, halves, one_openness])
def test_the_ledger_is_the_field(edge, kind):
    crowns = kind(11, 60)

    np.testing.assert_allclose(ledger(crowns, edge).light, made(crowns, edge), atol=STEPS)


def test_a_cut_tree_leaves_the_field_of_the_others():
    crowns, gone = stand(12, 60), [3, 17, 44]
    book = ledger(crowns)

    for tree in gone:
        book.flip(tree)

    np.testing.assert_allclose(book.light, made(without(crowns, gone)), atol=STEPS)
    assert sorted(np.flatnonzero(~book.standing)) == gone


@settings(deadline=None, max_examples=25)
@given(order=st.permutations(range(12)))
def test_trees_given_back_in_any_order_restore_every_bit(order):
    book = ledger(stand(13, 12))
    before_depth, before_light = book.depth.copy(), book.light.copy()

    for tree in range(12):
        book.flip(tree)
    np.testing.assert_allclose(book.light, 1.0, atol=1e-12)
    for tree in order:
        book.flip(tree)
    assert (book.depth == before_depth).all()
    book.settle()

    assert (book.light == before_light).all()


def test_the_steps_of_depth_cost_less_than_a_hundredth_of_a_percent_point():
    crowns, ways = stand(18, 80), sky.sky_directions(400, "overcast")
    book, exact = Ledger(crowns, ways, FLOOR, edge="torus"), field.light_field(crowns, ways, FLOOR, edge="torus")

    np.testing.assert_allclose(book.light, exact, rtol=0, atol=1e-4)


def test_crowns_too_thick_for_fine_steps_are_kept_in_wider_ones():
    # Forty crowns above each other, each as dark as any is kept: sums of 40 x 16 units.
    thick = dataclasses.replace(one_openness(17, 40), x=np.full(40, 30.0), y=np.full(40, 30.0), fixed=np.full(40, 20.0))
    book = ledger(thick)

    assert book.shadows.passes[256] < np.exp(-1.5)
    np.testing.assert_allclose(book.light, made(thick), atol=STEPS)
    for tree in range(1, 40):
        book.flip(tree)
    np.testing.assert_allclose(book.light, made(without(thick, range(1, 40))), atol=STEPS)


def test_after_eight_thousand_changes_nothing_has_drifted():
    # Light check 28: the same 800 trees out and in five times change the light by less than 1e-9.
    book = ledger(stand(14, 800))
    before = book.light.copy()

    for _ in range(5):
        for _ in range(2):
            for tree in range(800):
                book.flip(tree)

    assert np.abs(book.light - before).max() < 1e-9


def pushed(x, radius, *, edge="open", centre=(10.0, 10.0)):
    """Two crowns on one east-west line, 3 m half depth, in a block of 100 m."""
    columns = (np.array(column, dtype=float) for column in (x, (50, 50), radius, centre, (3, 3)))
    return apart.relaxed(*columns, width_m=100.0, height_m=100.0, edge=edge, rounds=30, share=0.3, most=0.5)


def test_overlapping_crowns_move_apart_by_at_most_half_a_radius():
    x, y = pushed([50, 53], [4, 4])

    assert x[1] - x[0] == pytest.approx(3 + 2 * 2, abs=0.6)
    assert abs(x[0] - 50) <= 2 + 1e-9
    assert (y == 50).all()


def test_crowns_apart_or_at_other_heights_stay():
    x, _ = pushed([20, 60], [4, 4])
    assert (x == [20, 60]).all()

    moved, _ = pushed([50, 52], [4, 4], centre=(4.0, 20.0))
    assert (moved == [50, 52]).all()


def test_a_torus_has_neighbours_across_its_edge():
    x, _ = pushed([1, 99], [4, 4], edge="torus")
    assert x[0] > 1
    assert x[1] < 99

    alone, _ = pushed([1, 99], [4, 4])
    assert (alone == [1, 99]).all()


def test_back_and_forth_over_six_thousand_flips_leaves_the_light():
    book, rng = ledger(stand(15, 200)), np.random.default_rng(16)
    before, order = book.light.copy(), rng.integers(0, 200, 3_000)

    for tree in [*order, *order[::-1]]:
        book.flip(int(tree))
    assert np.abs(book.light - before).max() < 1e-9
    book.settle()

    assert np.abs(book.light - before).max() < 1e-14
