"""Light after stems are taken: computed from the stand, never less than before, and without jumps."""

from __future__ import annotations

import numpy as np
import pytest

from conftest import DEMO_DAY
from overwood.desk import answers
from overwood.judgement import injection
from overwood.judgement.evidence import light as evidence_light
from overwood.judgement.light.gain import gain
from overwood.judgement.rules import load
from records import cruise

RULES = load()
CANOPY = [
    ("1", 802, 16.0, {"crown_class": "codominant"}),
    ("1", 833, 18.0, {"crown_class": "dominant"}),
    ("2", 802, 15.0, {"crown_class": "codominant"}),
]


@pytest.mark.slow
def test_the_more_stems_go_the_more_light_is_gained():
    below = [("2", 316, dbh, {"crown_class": "overtopped"}) for dbh in (3.0, 4.0, 5.0)]
    file = cruise(CANOPY + below)

    gains = [gain(file, RULES, lambda spcd, dbh_in, crown_class, up_to=up_to: dbh_in <= up_to).mean for up_to in (2.0, 3.0, 4.0, 5.0)]

    assert gains[0] == 1
    assert (np.diff(gains) > 0).all()


@pytest.mark.slow
@pytest.mark.parametrize("stand", ["S1", "S4"])
def test_an_injection_never_darkens_a_stand(demo_book, stand):
    order = injection.order(answers.stand_file(stand).as_of(DEMO_DAY), RULES, DEMO_DAY)
    before, after = order.light_before_pct, order.light_after_pct

    assert after.likely > before.number
    assert after.low >= before.low
    assert before.number <= after.likely <= after.high <= 100


def test_each_stem_of_the_midstory_takes_light_and_none_makes_it_jump():
    # The light of the planning curve as a midstory grows by a square foot at a time.
    areas = np.arange(0, 41)
    shares = [evidence_light.midstory_share(float(ba), RULES) for ba in areas]
    steps = -np.diff(shares)

    assert shares[0] == 1
    assert shares[20] == pytest.approx(RULES.number("light_midstory_multiplier"))
    assert (steps > 0).all()
    assert steps.max() < 0.025
