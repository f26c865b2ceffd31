"""Rows of random sheets: every row has one fate, the sums close, and a fault in one cell touches no other row."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from foreign_files import FLOOR, K, fates, read, rows
from overwood.memory.exchange import proposing, reading
from overwood.memory.exchange.proposal import Answers, RowFate, RowSums

HEAD = ["Plot", "Species", "Ht class", "Count", "Remarks"]
SAID = {
    **FLOOR,
    "blank_species": "unknown",
    "blank_count": "0",
    "plots_again": "same",
    "plot_names": "as written",
    "empty_plots": "as written",
}
good_row = st.tuples(
    st.sampled_from("123456789"), st.sampled_from(["WO", "RM", "white oak", "BO"]), st.sampled_from(["<0.5", "1-3", "3-4.5", "1-3'"]),
    st.integers(1, 30).map(str), st.sampled_from(["", "browsed", "by the road"]),
)  # fmt: skip
cell = st.sampled_from(
    [
        "",
        "none",
        "-",
        "0",
        "WO",
        "Total",
        "checked by J",
        '"',
        "do.",
        "4",
        "1-3",
        "|||",
        "Plot 7",
        "x",
        "12.5",
        "Species",
        "Plot: 7",
        "BAF: 10",
        "DBH (in)",
        "WO 2",
    ]
)
any_row = st.one_of(good_row.map(list), st.lists(cell, min_size=0, max_size=5))
slip = st.sampled_from(["??", "-4", "nan", "inf", "1e999", "12+", "lots", "9" * 40])


def _csv(lines):
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([HEAD, *lines])
    return text.getvalue()


@settings(max_examples=60, deadline=None)
@given(st.lists(any_row, min_size=1, max_size=25))
@example([["|||"], ["|||"]])
@example([["1", "WO", "1-3", "2", ""], ["", "", "", "", "a remark"], [], ["2"], ["Total", "", "", "9"]])
def test_every_row_with_anything_in_it_has_one_fate_and_the_sums_close(lines):
    proposal = proposing.propose(reading.read_file("a.csv", _csv(lines).encode()), Answers(settings=SAID), {}, K)
    told = [one for sheet in proposal.sheets for one in sheet.fates]

    filled = [number for number, line in enumerate(lines, start=2) if any(one.strip() for one in line)]
    assert sorted(one.row for one in told) == [1, *filled]
    sums = RowSums.of(told)
    assert sums.closes
    assert sums.rows == len(filled) + 1


def _lines_of(applied):
    return {(row["__row"], row["point"], row["species"], row["height_class"], row["stems"]) for row in rows(applied, "seedlings")}


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(st.lists(good_row.map(list), min_size=2, max_size=15), st.data())
def test_a_fault_in_one_cell_never_loses_or_changes_another_row(lines, data):
    at = data.draw(st.integers(0, len(lines) - 1))
    column = data.draw(st.sampled_from([1, 3]))
    hurt = [list(line) for line in lines]
    hurt[at][column] = data.draw(slip)

    before, after = read(_csv(lines), settings=SAID), read(_csv(hurt), settings=SAID)

    others = {line for line in _lines_of(before) if line[0] != at + 2}
    assert {line for line in _lines_of(after) if line[0] != at + 2} == others
    assert set(fates(after)) == set(fates(before))


@given(st.lists(st.sampled_from(["tally", "empty", "title", "heading", "total", "note", "refused"]), max_size=40), st.data())
def test_sums_of_rows_close_whatever_the_book_refuses_or_holds(names, data):
    told = [RowFate(sheet="s", row=number, fate=name) for number, name in enumerate(names)]
    some = st.sets(st.sampled_from([("s", number) for number in range(len(names))]) if names else st.nothing())

    sums = RowSums.of(told, refused=data.draw(some), already=data.draw(some))

    assert sums.closes
    assert sums.rows == len(names)
