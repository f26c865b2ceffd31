"""Sheets of the corpus with random cells, rows and columns spoiled: read, asked about or refused, never a crash, no row without a fate."""

from __future__ import annotations

import csv
import io
import random

import pytest

from corpus import agency, case, consultant, landowner, strangers, traps
from foreign_files import K
from overwood.ground.errors import OverwoodError
from overwood.memory.exchange import below, proposing, reading
from overwood.memory.exchange.proposal import Answers

assert all((agency, consultant, landowner, strangers, traps))
JUNK = (
    "", "none", "-", '"', "do.", "Total", "12+", "<1", "1-3'", "5/6/2025", "45791", "RO", "WO*", "snag", "|||", "nan", "1e400", "clear",
    "Plot 3", "Stand: K2", "n=4", "1,200", "1,5", "0", "x", "Y", '18"', "5'6\"", "BAF 10", "4 m2", "K9", "=1+1", "May 2025", "DBH (cm)", "3-Jan",
)  # fmt: skip


def _spoiled(rows, chance):
    rows = [["" if cell is None else str(cell) for cell in row] for row in rows]
    for _ in range(chance.randint(0, 6)):
        kind, at = chance.random(), chance.randrange(len(rows) or 1)
        if kind < 0.6 and rows and rows[at]:
            rows[at][chance.randrange(len(rows[at]))] = chance.choice(JUNK)
        elif kind < 0.75:
            rows.insert(at, [chance.choice(JUNK) for _ in range(chance.randint(0, 7))])
        elif kind < 0.85 and rows:
            rows.pop(at)
        else:
            rows = [row[: at % 8] + row[at % 8 + 1 :] for row in rows]
    return rows


def _sheets(one, chance):
    made = []
    for name, rows in one.sheets.items():
        text = io.StringIO()
        csv.writer(text).writerows(_spoiled(rows, chance))
        if text.getvalue().strip():
            made += reading.read_file(f"{name}.csv", text.getvalue().encode())
    return made


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1, 5))
def test_a_spoiled_sheet_is_read_asked_about_or_refused(seed):
    chance = random.Random(seed)
    for name in chance.sample(list(case.MAKERS), 25):
        one = case.made(name)
        said = Answers(settings=one.said.settings, codes=one.said.codes, units=one.said.units, columns=one.said.columns)
        try:
            _, strange = proposing.sort_out(_sheets(one, chance))
            for answers in (Answers(), said):
                proposal = proposing.propose(strange, answers, {}, K)
                _every_row_has_a_fate(proposal, strange)
                if not proposal.open_questions:
                    proposing.apply(proposal)
        except OverwoodError as refusal:
            assert str(refusal)


def _every_row_has_a_fate(proposal, strange):
    parts = [part for sheet in strange for part in below.apart(sheet)]
    for told, sheet in zip(proposal.sheets, parts, strict=True):
        assert sorted(one.row for one in told.fates) == [row for row, cells in sheet.rows() if any(cell.strip() for cell in cells)]
