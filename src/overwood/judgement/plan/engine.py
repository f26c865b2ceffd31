"""HiGHS as the plan asks it: a model of some columns that takes more rows, begins at a plan, and can be stopped."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.plan.rows import Row

Array = NDArray[np.float64]
Places = NDArray[np.int64]


class End(Enum):
    """How a run ended: at its aim, because nothing keeps the rows, or before."""

    DONE, NOTHING, EARLY = range(3)


@dataclass(frozen=True)
class Answer:
    """Shares of the columns (None where a run that ended early has none), what each costs at the least, and the bound
    that no choice passes."""

    end: End
    shares: Array | None
    loss: Array
    bound: float


class Engine:
    """A model to be made as large as can be; ``goes_on`` is asked while it runs, and ends it by False."""

    def __init__(self, rows: Sequence[Row], objective: Array, left: Places, goes_on: Callable[[], bool]) -> None:
        import highspy

        self._known, self._goes_on, self._is_whole = highspy, goes_on, False
        self._highs = _quiet(highspy)()
        self._local = np.full(len(objective), -1)
        self._local[left] = np.arange(len(left))
        self._highs.addVars(len(left), np.zeros(len(left)), np.ones(len(left)))
        self._highs.changeColsCost(len(left), np.arange(len(left), dtype=np.int32), -objective[left])
        self._highs.setOptionValue("threads", 1)
        for kind in (self._highs.cbMipInterrupt, self._highs.cbSimplexInterrupt):
            kind.subscribe(self._asked)
        self.add(rows)

    def _asked(self, event: Any) -> None:
        if not self._goes_on():
            event.interrupt()

    def add(self, rows: Sequence[Row]) -> None:
        """Hold more rows, of the columns that are in it."""
        places = self._local[np.array([place for row in rows for place in row.places], dtype=np.int64)]
        weights = np.array([weight for row in rows for weight in row.weights], dtype=float)
        row_of = np.repeat(np.arange(len(rows)), [len(row.places) for row in rows])[places >= 0]
        firsts = np.searchsorted(row_of, np.arange(len(rows))).astype(np.int32)
        ends = np.array([(row.low, row.high) for row in rows], dtype=float).reshape(-1, 2)
        held = places[places >= 0].astype(np.int32)
        self._highs.addRows(
            len(rows), ends[:, 0].copy(), ends[:, 1].copy(), len(held), firsts, held, weights[places >= 0]
        )

    def whole(self, gap: float, enough: float) -> None:
        """Choose each column whole or not at all, to a gap, or until a choice comes to enough."""
        self._is_whole, every = True, np.arange(self._highs.getNumCol(), dtype=np.int32)
        self._highs.changeColsIntegrality(len(every), every, np.full(len(every), 1, dtype=np.uint8))
        self._highs.setOptionValue("mip_rel_gap", gap)
        self._highs.setOptionValue("objective_target", -enough)

    def begin_at(self, start: Sequence[int]) -> None:
        """Begin at some columns, of all stands or of some, where they keep the rows."""
        if begun := [place for place in self._local[list(start)] if place >= 0]:
            self._highs.setSolution(len(begun), np.array(begun, dtype=np.int32), np.ones(len(begun)))

    def run(self) -> Answer:
        """Run it."""
        self._highs.run()
        status, solution, info = self._highs.getModelStatus(), self._highs.getSolution(), self._highs.getInfo()
        known = self._known.HighsModelStatus
        ends = {known.kOptimal: End.DONE, known.kObjectiveTarget: End.DONE, known.kInfeasible: End.NOTHING}
        end = ends.get(status, End.EARLY)
        is_held = info.primal_solution_status == self._known.SolutionStatus.kSolutionStatusFeasible
        shares = np.array(solution.col_value) if is_held else None
        bound = info.mip_dual_bound if self._is_whole else info.objective_function_value
        return Answer(end, shares, np.maximum(np.array(solution.col_dual), 0.0), -bound)


def _quiet(highspy: Any) -> Any:
    """HiGHS without its lines on the terminal, which it prints as soon as it is made."""

    class Quiet(highspy.Highs):
        def enableCallbacks(self) -> None:  # noqa: N802  the solver's own name
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()

    return Quiet


def until(end: float, goes_on: Callable[[], bool]) -> Callable[[], bool]:
    """Whether a search goes on: until a moment of ``time.monotonic``, and while a person lets it. Who has stopped it
    is not asked again."""
    stopped = False

    def goes() -> bool:
        nonlocal stopped
        stopped = stopped or not goes_on()
        return not stopped and time.monotonic() < end

    return goes
