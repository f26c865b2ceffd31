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
