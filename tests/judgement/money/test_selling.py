"""Lump sum or scale by the sampling error of a cruise."""

from __future__ import annotations

import re

import pytest

from overwood.ground.figure import Figure
from overwood.judgement import rules
from overwood.judgement.money import selling


@pytest.mark.parametrize(
    ("low", "high", "error", "way"),
    [
        # Half the width of the interval over the mean is what a cruise calls its sampling error (Avery and Burkhart, from memory).
        (5100.0, 6900.0, 15.0, "lump sum"),
        (5160.0, 7200.0, 17.0, "by scale"),
        (5101.0, 6902.0, 15.0, "lump sum"),
        (5100.0, 6908.0, 15.1, "by scale"),
    ],
)
def test_the_error_of_a_volume_is_half_its_interval_and_the_words_do_not_contradict_it(low, high, error, way):
    found = selling.method_of(Figure(name="sawtimber_bf_ac", value=6000.0, unit="bd ft/ac", low=low, high=high), rules.load())
    assert (found.way, found.error_pct) == (way, pytest.approx(error, abs=0.05))
    told, limit = (float(number) for number in re.findall(r"([0-9.]+)%", found.why))
    assert (told <= limit) == (way == "lump sum")
