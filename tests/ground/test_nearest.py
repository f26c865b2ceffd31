"""A name that was likely meant is offered; a far one is not."""

from __future__ import annotations

import pytest

from overwood.ground.nearest import nearest

FIGURES = ("ba_ft2_ac", "trees_ac", "oak_sprouts_ac", "stocking_pct", "overwood_ba_ft2_ac", "bearing_white_share")


@pytest.mark.parametrize(
    ("word", "meant"),
    [("ba", "ba_ft2_ac"), ("BA", "ba_ft2_ac"), ("stocking", "stocking_pct"), ("tres_ac", "trees_ac"), ("nosuch", ""), ("b", ""), ("", "")],
)
def test_a_near_name_is_offered_and_a_far_one_is_not(word, meant):
    assert nearest(word, FIGURES) == meant
