"""What is told of how a foreign sheet was read, before anything of it is stored; no book."""

import pytest

from foreign_files import FLOOR, LEFT, PLACE, PRISM, proposed
from overwood.desk import as_read
from overwood.faces import readings
from overwood.ground.errors import Problem
from overwood.memory.exchange.proposing import apply

CRUISE = """Miller tract,,,,
BAF 10,,,,
Plot,Species,DBH (in),Crown,Look
1,WO,14.2,D,
,WO,12.0,C,
,"do",8.4,?,
2,WO,16.3,D,x
,RM,6.1,S,
"""
FLOOR_SHEET = """Plot,Maple <0.5ft,Maple 1-3ft
1,22,8
2,,3
"""


def reading(text, **said):
    proposal = proposed(text, **said)
    assert not proposal.open_questions, [one.key for one in proposal.open_questions]
    (read,) = as_read.of(proposal, apply(proposal).parts)
    return read


@pytest.fixture(scope="module")
def cruise():
    return reading(CRUISE, settings={**PLACE, **LEFT})


def test_each_heading_tells_what_it_comes_to(cruise):
    told = {one.heading: readings.column(one) for one in cruise.columns}
    assert told == {
        "Plot": "1 (1), 2 (1); 3 blank",
        "Species": "WO = white oak (3), do = white oak (1), RM = red maple (1)",
        "DBH (in)": "6.1 to 16.3 in, middle 12 (5 cells)",
        "Crown": "D = dominant (2), C = codominant (1), ? (1), S = overtopped (1)",
        "Look": "x (1); 4 blank",
    }


@pytest.mark.parametrize(
    "told",
    [
        "Plot: blank or ditto in 3 lines, taken from above or from an answer (row 5 as 1, row 6 as 1, row 8 as 2)",
        "Species: blank or ditto in 1 line, taken from above or from an answer (row 6 as white oak)",
        "stand, which no heading says: K1 (5 lines); as answered",
        "5 lines say nothing of stems: each is one tree",
        "5 lines say nothing of status: each is a live tree",
        "Crown: nothing is read of 1 written cell (row 6: ?)",
        "baf_ft2_ac is 10: the title says 'Miller tract BAF 10'",
    ],
)
def test_what_no_cell_of_a_line_says_is_told_with_its_lines(cruise, told):
    assert told in cruise.inferred


def test_whole_lines_show_what_is_written_beside_what_is_read(cruise):
    # 10 / (0.005454 x 6.1 squared) = 49.27 trees an acre: Grosenbaugh 1952, a point sample's expansion.
    told = [readings.line(one, "trees") for one in cruise.lines]
    assert (
        "Row 8 (counts for most):  | RM | 6.1 | S → point 2, red maple, dbh 6.1 in, overtopped, live, 1 stem; "
        "stands for 49.3 stems/ac at its point"
    ) in told
    assert (
        readings.tally(cruise)
        == "overstory: 2 points, 5 records (2 to 3 a point, middle 2.5, most on 1), 5 stems, 52 stems/ac, 25.0 ft2/ac basal area"
    )


def test_counts_of_young_stems_are_told_by_their_heading_and_their_acre():
    read = reading(FLOOR_SHEET, settings=FLOOR)
    assert readings.column(read.columns[2]) == "3 to 8, middle 5.5, 11 in all (2 cells)"
    assert read.columns[2].column == "stems of maple spp. 1-3"
    # 33 stems on two plots of 1/1000 ac.
    assert readings.tally(read) == "reproduction: 2 points, 3 records (1 to 2 a point, middle 1.5, most on 1), 33 stems, 16,500 stems/ac"


def test_a_dead_tree_is_shown_and_a_blank_state_is_told():
    text = "Plot,Species,DBH (in),Status\n1,WO,14,L\n1,WO,9,D\n2,WO,12,\n2,WO,11,L\n"
    read = reading(text, settings=PRISM)
    assert ("dead or cull", 3) in [(one.why, one.row) for one in read.lines]
    assert "Status: blank in 1 line: each is a live tree" in read.inferred
    # Three live trees of a prism of 10 on two points.
    assert read.ba_ft2_ac == pytest.approx(15)


@pytest.mark.parametrize(
    ("refused", "sum_of"),
    [((2,), "overstory: 1 point, 1 record, 1 stems, 8 stems/ac, 10.0 ft2/ac"), ((2, 3), "overstory: 0 points, 0 records, 0 stems")],
)
def test_rows_that_are_refused_are_in_no_sum_and_no_line(refused, sum_of):
    proposal = proposed("Plot,Sp,DBH (in)\n1,WO,14000\n2,BO,15\n", settings=PRISM)
    parts = apply(proposal).parts
    (sheet,) = {(part.file, part.sheet) for part in parts if part.table == "trees"}
    faults = [Problem(what="A value cannot be taken.", file=sheet[0], sheet=sheet[1], row=row) for row in refused]

    (read,) = as_read.of(proposal, parts, faults)

    assert readings.tally(read).startswith(sum_of)
    assert not {one.row for one in read.lines} & set(refused)
