"""The best plan of a model, by HiGHS: whole where it is small, else among the columns that the relaxed model speaks
for."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.plan.engine import End, Engine, until
from overwood.judgement.plan.model import Model
from overwood.judgement.plan.openings import Openings, Pair
from overwood.judgement.plan.rows import ONE, NoPlan, Row

Array = NDArray[np.float64]
Places = NDArray[np.int64]
USUAL_GAP, USUAL_SEARCH_S = 1 / 1000, 120
# Up to so many columns the model is solved whole.
_WHOLE = 2_000
# A large model is searched to this gap at the least: what is nearer lies far within what the draws can tell.
_LARGE_GAP = 1 / 100
_ROUNDS, _EPS = 15, 1 / 1_000_000
# A round of exclusions that lowers the bound by less than this share is the last.
_WORTH = 1 / 5000
# So many columns of each stand are searched first.
_FIRST = 4


def _always() -> bool:
    return True


@dataclass(frozen=True)
class Solver:
    """How near to the best plan a search ends, as a share, after how long at the latest, and whether a person lets it
    go on."""

    gap: float = USUAL_GAP
    seconds: float = USUAL_SEARCH_S
    goes_on: Callable[[], bool] = _always


@dataclass(frozen=True)
class Solution:
    """Chosen columns, what they come to, the bound no plan passes, and the gap between the two as a share."""

    chosen: tuple[int, ...]
    objective: float
    bound: float
    in_time: bool

    @property
    def gap(self) -> float:
        return (self.bound - self.objective) / max(abs(self.bound), 1e-9)


@dataclass(frozen=True)
class _Relaxed:
    """The model without whole numbers: its bound, shares of the columns, and what each costs at the least."""

    bound: float
    shares: Array
    loss: Array


def solve(
    model: Model, objective: Array, solver: Solver, extra: Sequence[Row] = (), start: Sequence[int] = ()
) -> Solution | None:
    """The plan with the largest objective; None where no plan keeps the limits.

    ``start`` are columns to begin at, of some stands or of all. A search that is stopped, or ends by its time, gives
    the best plan found. Raises NoPlan when there is none yet.
    """
    goes_on = until(time.monotonic() + solver.seconds, solver.goes_on)
    search = _Search((*model.rows, *extra), model.pairs, model.openings, objective, goes_on)
    if len(objective) <= _WHOLE:
        return search.best(np.arange(len(objective)), _Until(solver.gap), start)
    relaxed = _relaxed(search)
    if relaxed is None:
        return None
    ranks = _ranks(relaxed, _stands(model.rows, len(objective)))
    return _widened(search, ranks, relaxed, replace(solver, gap=max(solver.gap, _LARGE_GAP)), start)


@dataclass(frozen=True)
class _Until:
    """When a search among some columns ends: at a gap, at a plan that is good enough, or after some seconds."""

    gap: float
    enough: float = np.inf
    seconds: float = np.inf


@dataclass(frozen=True)
class _Search:
    """A model under search."""

    rows: tuple[Row, ...]
    pairs: tuple[Pair, ...]
    openings: Openings | None
    objective: Array
    goes_on: Callable[[], bool]

    @property
    def held(self) -> tuple[Row, ...]:
        """Rows of all limits, and of the groups of openings that were found broken so far."""
        return (*self.rows, *(self.openings.found if self.openings else ()))

    def best(self, left: Places, until_: _Until, start: Sequence[int]) -> Solution | None:
        """The best plan among some columns, with the groups of openings held that it would break."""
        rows = [*self.held, *(row for pair in self.pairs for row in pair.exclusions(left))]
        engine = Engine(rows, self.objective, left, until(time.monotonic() + until_.seconds, self.goes_on))
        engine.whole(until_.gap, until_.enough)
        engine.begin_at(start)
        while True:
            answer = engine.run()
            if answer.end == End.NOTHING:
                return None
            chosen = left[answer.shares > 1 / 2] if answer.shares is not None else None
            broken = self.openings.broken(chosen.tolist()) if self.openings and chosen is not None else []
            if not broken and chosen is not None:
                break
            if answer.end == End.EARLY:
                raise _none_yet()
            engine.add(broken)
        reached = float(self.objective[chosen].sum())
        return Solution(tuple(chosen.tolist()), reached, max(answer.bound, reached), answer.end == End.DONE)


def _stands(rows: Sequence[Row], columns: int) -> Places:
    stands = np.zeros(columns, dtype=np.int64)
    for number, row in enumerate(row for row in rows if row.key.kind == ONE):
        stands[list(row.places)] = number
    return stands


def _ranks(relaxed: _Relaxed, stands: Places) -> Places:
    """The rank of each column among those of its stand: first what the relaxed model chooses, then what costs it the
    least."""
    order = np.lexsort((relaxed.loss, -relaxed.shares, stands))
    firsts = np.flatnonzero(np.diff(stands[order], prepend=-1))
    ranks = np.empty(len(stands), dtype=np.int64)
    ranks[order] = np.arange(len(stands)) - np.repeat(firsts, np.diff(firsts, append=len(stands)))
    return ranks


def _widened(
    search: _Search, ranks: Places, relaxed: _Relaxed, solver: Solver, start: Sequence[int]
) -> Solution | None:
    """The best plan among a few columns of each stand, and among twice as many until the gap is met, or all are in."""
    best: Solution | None = None
    count, end = _FIRST, time.monotonic() + solver.seconds
    while search.goes_on():
        left = np.flatnonzero((ranks < count) | (relaxed.shares > _EPS))
        is_last = bool((ranks < count).all())
        if best is not None:
            # A column that costs more than a better plan may is in none.
            left, start = left[relaxed.loss[left] <= relaxed.bound - best.objective + _EPS], best.chosen
        left = np.union1d(left, np.array(start, dtype=np.int64))
        near = solver.gap / 2
        ends = _Until(
            near, relaxed.bound - near * abs(relaxed.bound), np.inf if is_last else (end - time.monotonic()) / 4
        )
        try:
            solution = search.best(left, ends, start)
        except NoPlan:
            solution = None
        if solution is not None and (best is None or solution.objective > best.objective):
            best = replace(solution, bound=max(relaxed.bound, solution.objective))
        if best is not None and best.gap <= solver.gap:
            return replace(best, in_time=True)
        if is_last:
            return best if best is None or not (solution and solution.in_time) else _bounded(best, solution)
        count *= 2
    if best is None:
        raise _none_yet()
    return replace(best, in_time=False)


def _bounded(best: Solution, last: Solution) -> Solution:
    """The best plan with the bound of the last search, which left out nothing that could be better."""
    return replace(best, bound=min(best.bound, max(last.bound, best.objective)), in_time=True)


def _relaxed(search: _Search) -> _Relaxed | None:
    """The bound without whole numbers, with the exclusions that its own answer breaks; None where even that has no
    plan. Raises NoPlan when it is stopped before there is a bound."""
    engine = Engine(search.held, search.objective, np.arange(len(search.objective)), search.goes_on)
    last, relaxed = np.inf, None
    for _ in range(_ROUNDS):
        answer = engine.run()
        if answer.end == End.NOTHING:
            return None
        if answer.end == End.EARLY or answer.shares is None:
            raise _none_yet()
        # A column chosen whole costs at least its reduced cost.
        relaxed = _Relaxed(answer.bound, answer.shares, answer.loss)
        broken = [row for pair in search.pairs for row in pair.broken(answer.shares)]
        if not broken or last - answer.bound < _WORTH * abs(answer.bound):
            break
        engine.add(broken)
        last = answer.bound
    return relaxed


def _none_yet() -> NoPlan:
    return NoPlan("no plan was found in the time given.", remedy="Give the search more time, or loosen a limit.")
