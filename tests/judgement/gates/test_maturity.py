"""What the main species of an overwood is."""

from __future__ import annotations

import itertools

from overwood.judgement.gates.maturity import rotation_of
from overwood.judgement.rules import load


def test_the_order_of_a_tally_never_decides_which_of_two_equally_heavy_species_is_the_main_one():
    """A prism makes ties: trees of any size weigh the same, but for the last digit."""
    weights = {802: 40336.22877720998, 806: 40336.228777209984, 621: 40336.22877720997, 318: 12.0}
    found = {rotation_of(dict(order), load(), 61.0) for order in itertools.permutations(weights.items())}
    assert len(found) == 1
    assert found.pop().main == "scarlet oak"
