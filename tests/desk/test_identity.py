"""What goes out comes in the same: import, export and import again keeps every value, for every table and field of the contract."""

from __future__ import annotations

import datetime as dt
import shutil

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, Phase, given, settings

from conftest import TODAY
from overwood.desk import entering, importing, session
from overwood.desk.incoming import Incoming
from overwood.ground.records import TABLES
from overwood.memory.book import store

KEYS = {"property": ["P1"], "stand": ["A", "B 2"], "visit": ["v1", "v2", "ünï"], "point": ["1", "2"], "tree": ["1", "2"]}
# Words that a spreadsheet, a csv reader or a number parser is known to take for something else.
TRAPS = (
    "=1+1",
    "'quoted",
    "-5 acres",
    "@me",
    "nan",
    "null",
    "None",
    "inf",
    "007",
    "1e5",
    "5/6",
    "one\ntwo",
    'say "hi", then',
    "none",
    "\ufeffmark",
)
WORDS = st.one_of(
    st.sampled_from(TRAPS),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=12).filter(
        lambda text: text == text.strip() and text.lower() != "clear"
    ),
)


def cell(name, column):
    """Any text that may stand in a column, and blank."""
    if name in KEYS:
        return st.sampled_from(KEYS[name])
    if column.choices:
        given_cell = st.sampled_from(column.choices)
    elif column.kind in ("number", "integer"):
        low, high = column.low if column.low is not None else -1e6, column.high if column.high is not None else 1e6
        ints = st.integers(int(-(-low // 1)), int(min(high, 2**31 - 1) // 1)).map(str)
        given_cell = ints if column.kind == "integer" else st.one_of(ints, st.floats(low, high, allow_nan=False).map(repr))
    elif column.kind == "date":
        given_cell = st.dates(dt.date(1990, 1, 1), TODAY).map(str)
    elif column.kind == "boolean":
        given_cell = st.sampled_from(("yes", "no"))
    elif column.kind == "species":
        given_cell = st.sampled_from(("802", "833", "zigzag bush", "white oak", "999"))
    elif column.kind == "outline":
        given_cell = st.just("POLYGON ((-80 38, -79.99 38, -79.99 38.01, -80 38.01, -80 38))")
    elif column.kind == "fuel":
        given_cell = st.sampled_from(("FM9", "TL6"))
    else:
        given_cell = WORDS
    return given_cell if column.required else st.one_of(st.just(""), given_cell)


def rows_of(table):
    row = st.fixed_dictionaries({name: cell(name, column) for name, column in table.columns.items()})
    return st.lists(row, min_size=1, max_size=4, unique_by=lambda one: tuple(one[key] for key in table.key))


RECORDS = st.fixed_dictionaries({name: rows_of(table) for name, table in TABLES.items()})


def rows_held():
    return {name: sorted(repr(row[1:]) for row in store.raw_rows(name)) for name in TABLES}


@pytest.mark.slow
@settings(max_examples=8, deadline=None, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
@given(records=RECORDS)
def test_what_goes_out_of_a_book_comes_into_another_the_same(empty_book_file, tmp_path_factory, records):
    folder = tmp_path_factory.mktemp("identity")
    for name in ("one", "two"):
        shutil.copy(empty_book_file, folder / f"{name}.sqlite3")
    session.open_book(folder / "one.sqlite3")
    coming = Incoming(name="made up", digest="made up", sheets=entering.typed_sheets("made up", records))
    entering.write(coming, today=TODAY, leave_out_faulty=True)
    before = rows_held()
    session.export(folder / "out.zip")

    session.open_book(folder / "two.sqlite3")
    report = importing.bring_in(folder / "out.zip", today=TODAY)

    assert [str(fault) for fault in report.faults] == []
    assert rows_held() == before
    session.close()
