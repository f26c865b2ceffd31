"""A fault in one cell stops its row and changes no other."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from foreign_files import FLOOR, PLACE, PRISM, ROW, proposed, read

SHEETS = {
    "trees": ("Plot,Tree,Sp,DBH (in)", ["1,1,WO,18", "1,2,BO,14.5", "2,1,RM,8", "2,2,WO,21", "3,1,YP,16"], PRISM),
    "seedlings": ("Plot,Line,Species,Ht class,Count", ["1,1,WO,1-3,2", "1,2,RM,3-4.5,5", "2,1,BO,1-3,3", "3,1,WO,1-3,1"], FLOOR),
    "acorn_trees": ("Tree,Species,DBH (in),Acorns", ["1,WO,18,0", "2,BO,20,12", "3,WO,16,4"], PLACE),
    "stems": (
        "Tag,Species,DBH (in),Azimuth (deg),Distance (ft)",
        ["1,WO,18,10,33", "2,BO,20,120,48.5", "3,RM,8,300,12"],
        {**PLACE, "edge": "open", "width_ft": "200", "height_ft": "200", "from_east_ft": "100", "from_north_ft": "100"},
    ),
    "stands": ("Stand,Name,Acres,Aspect,Slope %", ["K1,ridge,20,180,35", "K2,cove,12.5,20,10", "K3,bench,8,90,5"], {"property": "millrun"}),
}


def _others(table, head, lines, said, spared):
    parts = [part for part in read("\n".join([head, *lines, ""]), settings=said).parts if part.table == table]
    return {
        row[ROW]: {name: cell for name, cell in row.items() if cell}
        for part in parts
        for row in part.frame.to_dicts()
        if row[ROW] != spared
    }


@pytest.mark.slow
@pytest.mark.parametrize("table", SHEETS)
@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_a_fault_in_one_cell_changes_no_other_row(table, data):
    head, lines, said = SHEETS[table]
    at = data.draw(st.integers(0, len(lines) - 1))
    cells = lines[at].split(",")
    column = data.draw(st.integers(cells.index(next(cell for cell in cells if cell.isalpha())), len(cells) - 1))
    cells[column] = data.draw(st.sampled_from(("?", "zebra tree", "-3", "x9", "1e9")))
    bent = [*lines[:at], ",".join(cells), *lines[at + 1 :]]

    # A class of no known meaning is asked about first.
    assume(not proposed("\n".join([head, *bent, ""]), settings=said).open_questions)
    assert _others(table, head, bent, said, at + 2) == _others(table, head, lines, said, at + 2)
