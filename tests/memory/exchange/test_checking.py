"""Checking is total: any text gets a verdict, and the vectorised verdict is the one a plain reading gives."""

from __future__ import annotations

import datetime as dt
import math

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from overwood.ground.records import TABLES
from overwood.memory.exchange import checking

TODAY = dt.date(2026, 1, 15)
CELL = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["", "802", "RO", "red oak", "12.5", "-1", "0", "1e3", "nan", "yes", "no", "2025-05-01", "2024-02-30", "3-4.5", "1-3"]),
    st.floats(allow_nan=False).map(str),
)


@st.composite
def rows_of(draw, table):
    names = list(TABLES[table].columns)
    rows = draw(st.lists(st.lists(CELL, min_size=len(names), max_size=len(names)), min_size=1, max_size=6))
    return pl.DataFrame({checking.ROW: range(2, 2 + len(rows)), **{n: [r[i] for r in rows] for i, n in enumerate(names)}})


@pytest.mark.slow
@pytest.mark.parametrize("table", TABLES)
@given(data=st.data())
@settings(max_examples=25, deadline=None)
def test_any_text_gets_a_verdict(table, data):
    frame = data.draw(rows_of(table))

    found = checking.check(TABLES[table], frame, file="f", sheet=table, today=TODAY)

    good, bad = set(found.good[checking.ROW].to_list()), set(found.bad_rows)
    blank = {row[0] for row in frame.iter_rows() if not any((cell or "").strip() for cell in row[1:])}
    assert not good & bad
    assert good | bad == set(frame[checking.ROW].to_list()) - blank
    assert bad == {p.row for p in found.problems if p.severity == "error"}


def _plain_number(text: str, low: float, high: float) -> bool:
    try:
        value = float(text.strip())
    except ValueError:
        return False
    return math.isfinite(value) and low <= value <= high and "_" not in text


@pytest.mark.slow
@given(
    st.lists(st.one_of(st.floats(-10, 200).map(lambda v: f"{v:.2f}"), st.text("0123456789.-+eE _x", max_size=6)), min_size=1, max_size=30)
)
@settings(max_examples=80, deadline=None)
def test_numbers_are_judged_as_a_plain_reading_does(cells):
    frame = pl.DataFrame({
        checking.ROW: range(len(cells)), "visit": ["v"] * len(cells), "point": ["1"] * len(cells),
        "tree": [str(n) for n in range(len(cells))], "species": ["802"] * len(cells), "dbh_in": cells,
    })  # fmt: skip

    found = checking.check(TABLES["trees"], frame, file="f", sheet="trees", today=TODAY)

    expected = [n for n, cell in enumerate(cells) if _plain_number(cell, 0.5, 100)]
    assert found.good[checking.ROW].to_list() == expected


def test_a_message_says_where_what_and_what_to_do():
    frame = pl.DataFrame({checking.ROW: [7], "visit": ["v"], "point": ["1"], "tree": ["1"], "species": ["RO"], "dbh_in": ["12"]})

    problem = checking.check(TABLES["trees"], frame, file="cruise.xlsx", sheet="trees", today=TODAY).problems[0]

    assert str(problem).startswith("cruise.xlsx, trees, row 7, column species: A value cannot be taken. Found 'RO'.")
    assert "northern red oak = 833" in problem.remedy


def _checked(table, **cells):
    frame = pl.DataFrame({checking.ROW: [2], **{name: [cell] for name, cell in cells.items()}})
    return checking.check(TABLES[table], frame, file="f.csv", sheet=table, today=TODAY)


@pytest.mark.parametrize(
    # The 13 models of Anderson 1982 (USDA Forest Service INT-122) are numbered; the others have letters.
    ("written", "code"),
    [("9", "FM9"), ("9.0", "FM9"), ("fm 9", "FM9"), ("FM13", "FM13"), ("tl-6", "TL6"), ("SB2", "SB2")],
)
def test_a_fuel_model_is_read_as_its_published_code(written, code):
    found = _checked("fuels", visit="v", point="1", fuel_model=written)

    assert found.good["fuel_model"].to_list() == [code]


@pytest.mark.parametrize("written", ["14", "0", "FM99", "leaves"])
def test_a_name_that_is_no_fuel_model_is_a_fault_with_row_and_column(written):
    (problem,) = _checked("fuels", visit="v", point="1", fuel_model=written).problems

    assert (problem.row, problem.column, problem.found) == (2, "fuel_model", written)


@pytest.mark.parametrize(("day", "errors"), [("9998-12-31", 1), ("2027-06-01", 1), ("2026-12-31", 0), ("1899-12-31", 1), ("1960-05-01", 0)])
def test_a_visit_more_than_a_year_ahead_or_absurdly_early_is_a_fault(day, errors):
    found = _checked("visits", visit="v", stand="s", kind="cruise", visited_on=day)

    assert len([p for p in found.problems if p.severity == "error"]) == errors


@pytest.mark.parametrize("name", ["Tract 3/4", "a\\b", ".."])
def test_a_stand_whose_name_no_address_can_carry_is_a_fault(name):
    (problem,) = _checked("stands", stand=name, property="p").problems

    assert problem.column == "stand"


@pytest.mark.parametrize("cell", ["nan", "inf", "-inf", "1e999", "NaN"])
def test_numbers_that_are_none_are_refused(cell):
    assert _checked("trees", visit="v", point="1", tree="1", species="802", dbh_in=cell).bad_rows == [2]
    assert _checked("operations", operation="o", stand="s", kind="burn", state="done", started_on="2025-04-01", cost_usd=cell).bad_rows == [
        2
    ]


@pytest.mark.parametrize(("ratio", "bad"), [("0", False), ("0.3", True), ("0.99", True), ("1", False), ("35", False), ("", False)])
def test_a_share_among_percents_of_crown_is_refused_at_its_line(ratio, bad):
    found = _checked("trees", visit="v", point="1", tree="1", species="802", dbh_in="12", crown_ratio_pct=ratio)

    assert found.bad_rows == ([2] if bad else [])
    assert [problem.column for problem in found.problems] == (["crown_ratio_pct"] if bad else [])


@pytest.mark.parametrize(
    "state,day,what",
    [
        ("done", "2099-01-01", "Work that is done lies more than a year ahead."),
        ("planned", "9998-12-31", "The work lies too far ahead."),
        ("done", "1850-01-01", "A value cannot be taken."),
        ("done", "2020-01-01", ""),
        ("planned", "2099-01-01", ""),
    ],
)
def test_work_that_is_done_lies_behind_and_plans_within_a_life_of_trees(state, day, what):
    found = _checked("operations", operation="x", stand="A", kind="seed cut", state=state, started_on=day)

    assert [problem.what for problem in found.problems if problem.severity == "error"] == ([what] if what else [])
    assert found.bad_rows == ([2] if what else [])
    assert not any("days" in problem.remedy for problem in found.problems)


@pytest.mark.parametrize("blank", ["\x1f", "\x1c \x85", "\u2028", "\u3000"])
def test_a_row_of_separators_alone_is_a_blank_row(blank):
    frame = pl.DataFrame({checking.ROW: [2], **{name: [blank] for name in TABLES["visits"].columns}})

    found = checking.check(TABLES["visits"], frame, file="f", sheet="visits", today=TODAY)

    assert (found.bad_rows, found.problems, found.good.height) == ([], [], 0)


@pytest.mark.parametrize(("cell", "hint"), [("2,5", "If 2.5 is meant, write it so."), ("~20", "If 20 is meant, write that alone.")])
def test_a_number_that_cannot_be_taken_names_what_was_likely_meant(cell, hint):
    found = _checked("seedlings", visit="v", point="1", line="1", species="802", height_class="1-3", stems=cell)

    assert [problem.remedy for problem in found.problems] == [hint]


def test_a_sighting_whose_words_alone_name_oak_wilt_is_asked_about():
    cells = {
        "sighting": ["a", "b"],
        "stand": ["S", "S"],
        "seen_on": ["2025-06-01"] * 2,
        "kind": ["snag", "oak wilt"],
        "subject": ["Oak Wilt pocket", ""],
    }

    found = checking.check(TABLES["sightings"], pl.DataFrame({checking.ROW: [2, 3], **cells}), file="f", sheet="sightings", today=TODAY)

    assert [(problem.row, problem.column, problem.severity) for problem in found.problems] == [(2, "kind", "warning")]
