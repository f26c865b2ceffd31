"""Crowns from a file: every fault is named by row and column."""

from __future__ import annotations

import pytest

from overwood.desk.formulas.light import read_crowns
from overwood.ground.errors import BadRecords, Misuse

HEAD = "x_m,y_m,centre_m,a_m,b_m,c_m,k_per_m\n"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("1,1,10,3,3,12,0.4\n", "row 2, column c_m: The crown reaches into the ground"),
        ("1,1,10,3,3,4,0.4\n1,1,9,3,3,4,0.4\n", "row 3, column x_m: Two stems stand on one place"),
        ("1,one,10,3,3,4,0.4\n", "row 2, column y_m"),
        ("1,1,10,-3,3,4,0.4\n", "row 2, column a_m"),
        ("1,1,10,3,3,4\n", "row 2, column k_per_m"),
    ],
)
def test_a_bad_crown_is_named(tmp_path, rows, words):
    (tmp_path / "t.csv").write_text(HEAD + rows)

    with pytest.raises(BadRecords) as caught:
        read_crowns(tmp_path / "t.csv")

    assert words in " ".join(map(str, caught.value.problems))


def test_a_file_that_is_not_there_is_misuse(tmp_path):
    with pytest.raises(Misuse, match="cannot be read"):
        read_crowns(tmp_path / "none.csv")
