"""Values as they are said, in US and in metric units; factors by NIST Special Publication 811 (2008), appendix B.8, as printed there."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from overwood.ground import measures

# US unit, metric unit, and how many of the second are one of the first, with the digits of the printed table.
NIST_SP_811 = [
    ("in.", "cm", 2.54),
    ("ft", "m", 0.3048),
    ("miles", "km", 1.609344),
    ("mi/h", "km/h", 1.609344),
    ("ft2", "m2", 0.09290304),
    ("ft3", "m3", 0.02831685),
    ("gal", "L", 3.785412),
    ("lb", "kg", 0.4535924),
    ("tons", "t", 0.9071847),
    ("ac", "ha", 0.4046873),  # The table's acre is of survey feet: 4 parts in a million more than the international one.
    ("Btu/ft/s", "kW/m", 1.055056 / 0.3048),
    ("ch/h", "m/min", 20.11684 / 60),
    # What is counted or paid on an area: one acre is 0.4046873 ha.
    ("stems/ac", "stems/ha", 1 / 0.4046873),
    ("US$ an acre", "US$ a hectare", 1 / 0.4046873),
    ("bd ft/ac", "bd ft/ha", 1 / 0.4046873),
    ("ft2/ac", "m2/ha", 0.09290304 / 0.4046873),
    ("gal/ac", "L/ha", 3.785412 / 0.4046873),
]


@pytest.mark.parametrize(("us", "metric", "factor"), NIST_SP_811)
def test_each_unit_turns_by_the_printed_factor(us, metric, factor):
    turn = measures.metric_of(us)

    assert turn.word == metric
    assert turn.factor == pytest.approx(factor, rel=5e-6)


@pytest.mark.parametrize(
    ("words", "metric"),
    [
        # By hand: 119 x 0.229568 = 27.32; 4.5 x 30.48 = 137.16; 16 x 2.54 = 40.64; 400 x 2.471054 = 988.4; 28 x 0.404686 = 11.33.
        (lambda: measures.amount(119, "ft2/ac"), "27.3 m2/ha"),
        (lambda: measures.amount(4.5, "ft", "g"), "1.37 m"),
        (lambda: measures.amount(16, "in.", "g"), "41 cm"),
        (lambda: measures.amount(400, "stems/ac"), "988 stems/ha"),
        (lambda: measures.amount(28, "acres", "g"), "11.3 hectares"),
        (lambda: measures.span(60, 80, "ft2/ac"), "13.8 to 18.4 m2/ha"),
        # (50 - 32) / 1.8 = 10 and (95 - 32) / 1.8 = 35.
        (lambda: measures.span(50, 95, "F", "g"), "10 to 35 C"),
        (lambda: measures.plot_size(1 / 735), "5.51 m2"),
        (lambda: measures.with_us(80, "ft2/ac"), "18.4 m2/ha (80 ft2/ac)"),
        (lambda: measures.class_words(3, 4.5, "ft"), "0.9-1.37 m"),
        (lambda: measures.class_words(10, math.inf, "ft"), "3 m or taller"),
        # A log rule has no cubic meters: the board feet stay, the acre turns.
        (lambda: measures.amount(2000, "bd ft/ac", ",.0f"), "4,942 bd ft/ha"),
        (lambda: measures.amount(33, "%"), "33%"),
        (lambda: measures.prose("within {50 ft}; {14 to 20 in.}; {1/735 acre}"), "within 15.2 m; 36 to 51 cm; 5.51 m2"),
    ],
)
def test_values_converted_by_hand_come_out_the_same(words, metric):
    with measures.in_units(measures.METRIC):
        assert words() == metric


def test_us_units_are_said_where_nobody_asked_for_others():
    assert measures.amount(119, "ft2/ac") == "119 ft2/ac"
    assert measures.prose("within {50 ft}; {1/735 acre}") == "within 50 ft; 1/735 acre"
    with measures.in_units(measures.METRIC):
        measures.amount(1, "ft")
    assert measures.system() == measures.US


@settings(deadline=None)
@given(st.floats(0.05, 1e5), st.sampled_from([unit for unit, _, _ in NIST_SP_811]), st.sampled_from([".0f", ".1f", ".2f"]))
def test_a_metric_value_leads_back_to_the_us_value_within_half_of_its_last_place(value, unit, form):
    with measures.in_units(measures.METRIC):
        metric = float(measures.digits(value, unit, form))

    turn, places = measures.metric_of(unit), int(form[1])
    said_in_us = (metric - turn.offset) / turn.factor
    assert abs(said_in_us - value) <= 0.5 * 10**-places * (1 + 1e-9)


@given(st.floats(0.05, 1e5), st.sampled_from([unit for unit, _, _ in NIST_SP_811]))
def test_what_is_typed_in_metric_is_the_same_limit_in_us_units(value, unit):
    turn = measures.metric_of(unit)

    assert measures.back(value * turn.factor, unit) == pytest.approx(value, rel=1e-5)


def test_a_script_turns_values_as_the_sentences_do():
    assert measures.for_script("ft2/ac") == {"factor": 1.0, "more": 0, "word": "ft²/ac"}
    with measures.in_units(measures.METRIC):
        turn = measures.for_script("ft2/ac")

        assert (turn["word"], turn["more"]) == ("m²/ha", 1)
        assert f"{119 * turn['factor']:.{turn['more']}f}" == measures.digits(119, "ft2/ac")


def test_another_system_is_refused():
    with pytest.raises(ValueError, match="no system of units"), measures.in_units("furlongs"):
        pass
