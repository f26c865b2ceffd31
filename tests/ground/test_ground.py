"""Units, figures, species, problems."""

from __future__ import annotations

import math

import pydantic
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from overwood.desk import telling
from overwood.faces.telling import shape
from overwood.ground import species, units
from overwood.ground.errors import Problem
from overwood.ground.figure import Figure, Input, unmeasured


@pytest.mark.parametrize(
    ("source", "target", "value", "expected"),
    [
        ("cm", "in", 2.54, 1.0),
        ("m", "ft", 0.3048, 1.0),
        ("ha", "ac", 1.0, 2.471053814671653),
        # 16.1 m2/ha are 70.1 ft2/ac, 5.3 m2/ha 23.1 ft2/ac; computed apart from the program.
        ("m2/ha", "ft2/ac", 16.1, 70.13),
        ("m2/ha", "ft2/ac", 5.3, 23.087),
        # 58,199 acorns/ha are 23,552 an acre (Greenberg 2021).
        ("stems/ha", "stems/ac", 58199, 23552.3),
        ("degC", "degF", 100.0, 212.0),
        ("ft", "m", 10.0, 3.048),
    ],
)
def test_exact_factors(source, target, value, expected):
    assert units.conversion(source, target)(value) == pytest.approx(expected, rel=1e-4)


@settings(deadline=None)
@given(st.floats(0.01, 1e6), st.sampled_from(units._CONVERSIONS))
def test_there_and_back_is_the_same(value, known):
    assert known.back(known(value)) == pytest.approx(value, rel=1e-9)


def test_units_that_do_not_meet_are_refused():
    with pytest.raises(KeyError, match="no conversion from 'ft' to 'ac'"):
        units.conversion("ft", "ac")


def test_a_figure_survives_json_and_keeps_to_its_schema():
    figure = Figure(
        name="x", value=1.5, unit="ft", low=1.0, high=2.0, level=0.9, n=3, inputs=(Input(name="rows", rows=("a", "b")),), sources=("field",)
    )

    plain = telling.plain(figure)

    assert pydantic.TypeAdapter(Figure).validate_python(plain) == figure
    assert set(plain) == set(shape(Figure).model_json_schema()["required"])


def test_a_number_json_cannot_carry_becomes_null():
    assert telling.plain(Figure(name="x", value=math.nan, high=math.inf))["value"] is None


def test_an_unmeasured_figure_says_what_is_missing():
    figure = unmeasured("x", "no cruise", "ft")

    assert (figure.measured, figure.note, figure.status) == (False, "no cruise", "unmeasured")
    assert math.isnan(figure.number)


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("802", 802),
        ("QUAL", 802),
        ("white-oak", 802),
        (" Quercus  ALBA ", 802),
        ("WO", 802),
        ("Yellow Poplar", 621),
        ("0316", 316),
        ("Quercus prinus", 832),
    ],
)
def test_a_species_is_found_by_any_name(written, code):
    assert species.match(written).spcd == code


@pytest.mark.parametrize("written", ["RO", "red oak", "HM", "ironwood", "poplar"])
def test_an_ambiguous_name_is_never_guessed(written):
    found = species.match(written)

    assert found.ambiguous
    assert len(found.choices) > 1


def test_a_misspelt_name_gets_the_nearest():
    assert species.match("nothern red oak").nearest == "northern red oak"
    assert species.match("xyzzy").nearest == ""


@settings(deadline=None)
@given(st.text(max_size=30))
def test_any_text_can_be_asked_for_a_species(written):
    found = species.match(written)

    assert found.spcd is None or found.spcd in species.all_species()


def test_a_problem_reads_as_a_sentence():
    problem = Problem(
        what="A value cannot be taken.", file="a.csv", row=3, column="dbh_in", found="x", expected="a number", remedy="Mend it."
    )

    assert str(problem) == "a.csv, row 3, column dbh_in: A value cannot be taken. Found 'x'. Expected a number. Mend it."
