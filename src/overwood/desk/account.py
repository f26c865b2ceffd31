"""What one entry has to account for: every row of what came in, what became of it, and every fault."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from overwood.desk.incoming import Report
from overwood.desk.review import Ledger
from overwood.ground.errors import BadRecords, Problem
from overwood.memory.exchange.proposal import RowSums
from overwood.memory.exchange.reading import Sheet

# Faults kept of one file, each some kilobytes beside its row: our own limit.
MOST_FAULTS, _FIRST = 50_000, 20


class Account:
    """The report, the ledger of changes, and the sums of one entry."""

    def __init__(self, report: Report, *, synced: bool) -> None:
        self.report, self.synced = report, synced
        self.ledger = Ledger()
        self.touched: dict[str, set[str]] = defaultdict(set)
        self.sums, self.blamed = RowSums(rows=0), 0
        self.refused: set[tuple[str, int]] = set()
        self.stored: set[tuple[str, int]] = set()
        self.already: set[tuple[str, int]] = set()
        self.named: dict[tuple[str, str], tuple[Any, ...]] = {}
        # Whether the rows are of a foreign sheet, whose sums its reading keeps.
        self.foreign = False

    def warn(self, sheet: Sheet, what: str) -> None:
        self.report.problems.append(Problem(what=what, file=sheet.file, sheet=sheet.name, severity="warning"))

    def fault(
        self, sheet: Sheet, row: int | None, column: str, what: str, *, found: str = "", remedy: str = ""
    ) -> None:
        problem = Problem(
            what=what, file=sheet.file, sheet=sheet.name, row=row, column=column, found=found, remedy=remedy
        )
        self.blame([problem])

    def blame(self, problems: list[Problem]) -> None:
        """Note what is wrong; a file that is wrong everywhere is given up, since nobody mends so much row by row.
        Raises BadRecords when there are more faults than are kept."""
        self.report.problems += problems
        self.blamed += sum(1 for one in problems if one.severity == "error")
        if self.blamed > MOST_FAULTS:
            said = (
                f"{self.report.file} has more than {MOST_FAULTS:,} faults and was given up; nothing was stored, "
                "nothing waits."
            )
            remedy = "Look at the first of them: a column or a unit is likely wrong in every row."
            raise BadRecords(said, tuple(self.report.faults[:_FIRST]), remedy=remedy)

    def refuse(self, sheet: Sheet, rows: list[int]) -> None:
        if self.foreign:
            self.refused |= {(sheet.name, row) for row in rows}
        else:
            self.sums += RowSums(rows=len(rows), refused=len(rows))

    def take(self, sheet: Sheet, row: int, *, stored: bool) -> None:
        """One row went in, or was there already."""
        if self.foreign:
            (self.stored if stored else self.already).add((sheet.name, row))
        else:
            self.sums += RowSums(rows=1, stored=int(stored), already=int(not stored))
