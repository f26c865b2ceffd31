"""Foreign sheets read from text to tables, for the tests beside: no book, no desk."""

from __future__ import annotations

import collections
import io

import openpyxl

from overwood.memory.exchange import checking, proposing, reading
from overwood.memory.exchange.proposal import Answers, Known, KnownStand, Proposal

K = Known(stands=tuple(KnownStand(stand=f"K{number}", property="millrun") for number in range(1, 8)), properties=("millrun",))
PLACE = {"stand": "K1", "visited_on": "2025-05-14"}
PRISM = {**PLACE, "baf_ft2_ac": "10"}
# Nothing of the columns that are not read is wanted.
LEFT = {"columns_left": "left out"}
FLOOR = {"stand": "K3", "visited_on": "2025-08-01", "plot_area_ac": "0.001"}


def sheets(text, name="sheet.csv"):
    return reading.read_file(name, text.encode() if isinstance(text, str) else text)


def proposed(text, name="sheet.csv", known=K, remembered=None, **said) -> Proposal:
    return proposing.propose(sheets(text, name), Answers(**said), remembered or {}, known)


def read(text, name="sheet.csv", known=K, remembered=None, **said):
    return proposing.apply(proposed(text, name, known, remembered, **said))


def rows(applied, table):
    """The rows of a table as dictionaries of text."""
    return [row for part in applied.parts if part.table == table for row in part.frame.to_dicts()]


def workbook(tables):
    """A workbook of rows by the names of their sheets."""
    book, stream = openpyxl.Workbook(), io.BytesIO()
    book.remove(book.active)
    for name, lines in tables.items():
        sheet = book.create_sheet(name)
        for line in lines:
            sheet.append(line)
    book.save(stream)
    return stream.getvalue()


def question(proposal, key):
    return next(one for one in proposal.questions if one.key == key)


def fates(applied):
    return {one.row: one.fate for one in applied.fates}


def counts(applied):
    return collections.Counter(fates(applied).values())


ROW = checking.ROW
