"""Kinds of stand: few stands are each their own, many share the futures of the stand most like them, and the distance is told."""

from __future__ import annotations

import numpy as np

from overwood.judgement.plan.kinds import Traits, kinds_of


def _stands(*figures, same=(True, False)):
    return [Traits(same, tuple(map(float, row))) for row in figures]


def test_as_many_kinds_as_stands_leave_each_its_own():
    stands = _stands((70, 90), (80, 60), (60, 100))
    assert [(kind.place, kind.distance) for kind in kinds_of(stands, 3)] == [(0, 0), (1, 0), (2, 0)]


def test_stands_in_clumps_are_of_the_kind_in_the_middle_of_their_clump():
    rng = np.random.default_rng(1)
    middles = np.array([(50.0, 40.0), (70.0, 90.0), (90.0, 140.0)])
    stands = _stands(*(middle + rng.normal(0, 1, 2) for middle in middles for _ in range(7)))
    kinds = kinds_of(stands, 3)
    assert [len({kind.place for kind in kinds[first : first + 7]}) for first in (0, 7, 14)] == [1, 1, 1]
    assert len({kind.place for kind in kinds}) == 3
    assert all(kinds[kind.place].distance == 0 for kind in kinds) and max(kind.distance for kind in kinds) < 0.5


def test_a_midstory_and_an_opening_are_never_another_kinds_and_what_is_unknown_is_the_mean():
    shaded, open_ = _stands((70, 90), (70, 91), (np.nan, 92)), _stands((70, 90), (71, 90), same=(False, False))
    kinds = kinds_of([*shaded, *open_], 2)
    assert {kind.place < 3 for kind in kinds[:3]} == {True} and {kind.place >= 3 for kind in kinds[3:]} == {True}
    assert all(np.isfinite(kind.distance) for kind in kinds)


def test_no_more_kinds_than_are_asked_for_and_the_same_each_time():
    rng = np.random.default_rng(2)
    stands = [Traits((bool(n % 2), bool(n % 3)), tuple(row)) for n, row in enumerate(rng.normal(size=(200, 6)))]
    kinds = kinds_of(stands, 20)
    assert len({kind.place for kind in kinds}) <= 20
    assert kinds == kinds_of(stands, 20)
