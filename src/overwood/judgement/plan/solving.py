"""The best plan of a model, by HiGHS through SciPy: whole where it is small, else among the columns that the relaxed
model speaks for."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.plan.model import ONE, Model, NoPlan, Pair, Row

Array = NDArray[np.float64]
Places = NDArray[np.int64]
USUAL_GAP, USUAL_SEARCH_S = 1 / 1000, 120
_OPTIMAL, _INFEASIBLE = 0, 2
# Up to so many columns the model is solved whole.
_WHOLE = 2_000
# A large model is searched to this gap at the least: what is nearer lies far within what the draws can tell.
_LARGE_GAP = 1 / 100
_ROUNDS, _EPS = 15, 1 / 1_000_000
# A round of exclusions that lowers the bound by less than this share is the last.
_WORTH = 1 / 5000
# So many columns of each stand are searched first.
_FIRST = 4


@dataclass(frozen=True)
class Solver:
    """How near to the best plan a search ends, as a share, and after how long at the latest."""

    gap: float = USUAL_GAP
    seconds: float = USUAL_SEARCH_S


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
    """The model without whole numbers: its bound, shares of the columns, what each costs at the least, rows with the
    exclusions it broke."""

    bound: float
    shares: Array
    loss: Array
    rows: tuple[Row, ...]


def solve(model: Model, objective: Array, solver: Solver, extra: Sequence[Row] = ()) -> Solution | None:
    """The plan with the largest objective; None where no plan keeps the limits. Raises NoPlan when the time ends before
    any plan is found."""
    rows = (*model.rows, *extra)
    if len(objective) <= _WHOLE:
        return _searched(rows, model.pairs, objective, np.arange(len(objective)), solver)
    end = time.monotonic() + solver.seconds
    relaxed = _relaxed(rows, model.pairs, objective, end)
    if relaxed is None:
        return None
    large = _Large(rows, model.pairs, objective, _ranks(relaxed, _stands(rows, len(objective))))
    return _widened(large, relaxed, Solver(max(solver.gap, _LARGE_GAP), end))


@dataclass(frozen=True)
class _Large:
    """A model that is too large to be solved whole; ``ranks`` says which columns of a stand cost the least, from 0."""

    rows: tuple[Row, ...]
    pairs: tuple[Pair, ...]
    objective: Array
    ranks: Places


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


def _widened(large: _Large, relaxed: _Relaxed, until: Solver) -> Solution | None:
    """The best plan among a few columns of each stand, and among twice as many until the gap is met, or all are in."""
    best: Solution | None = None
    count = _FIRST
    while (seconds := until.seconds - time.monotonic()) > 0:
        left = np.flatnonzero((large.ranks < count) | (relaxed.shares > _EPS))
        is_last = bool((large.ranks < count).all())
        if best is not None:
            # A column that costs more than a better plan may is in none.
            left = np.union1d(left[relaxed.loss[left] <= relaxed.bound - best.objective + _EPS], best.chosen)
        try:
            solution = _searched(
                large.rows,
                large.pairs,
                large.objective,
                left,
                Solver(until.gap / 2, seconds if is_last else seconds / 4),
            )
        except NoPlan:
            solution = None
        if solution is not None and (best is None or solution.objective > best.objective):
            best = Solution(
                solution.chosen, solution.objective, max(relaxed.bound, solution.objective), solution.in_time
            )
        if best is not None and best.gap <= until.gap:
            return replace(best, in_time=True)
        if is_last:
            return best if best is None or not (solution and solution.in_time) else _bounded(best, solution)
        count *= 2
    if best is None:
        raise NoPlan("no plan was found in the time given.", remedy="Give the search more time, or loosen a limit.")
    return replace(best, in_time=False)


def _bounded(best: Solution, last: Solution) -> Solution:
    """The best plan with the bound of the last search, which left out nothing that could be better."""
    return Solution(best.chosen, best.objective, min(best.bound, max(last.bound, best.objective)), in_time=True)


def _searched(
    rows: Sequence[Row], pairs: Iterable[Pair], objective: Array, left: Places, solver: Solver
) -> Solution | None:
    """The best plan among some columns."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    matrix, low, high = _matrix([*rows, *(row for pair in pairs for row in exclusions(pair, left))], len(objective))
    solution = milp(
        -objective[left],
        integrality=np.ones(len(left)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(matrix[:, left], low, high),
        options={"mip_rel_gap": solver.gap, "time_limit": solver.seconds},
    )
    if solution.status == _INFEASIBLE:
        return None
    if solution.x is None:
        raise NoPlan("no plan was found in the time given.", remedy="Give the search more time, or loosen a limit.")
    chosen = left[solution.x > 0.5]
    reached = float(objective[chosen].sum())
    return Solution(
        tuple(chosen.tolist()), reached, max(-float(solution.mip_dual_bound), reached), solution.status == _OPTIMAL
    )


def exclusions(pair: Pair, left: Places) -> Iterable[Row]:
    """Rows that keep a pair apart among some columns: sets of which each of the one excludes each of the other, as
    large as can be."""
    ones, others = np.isin(pair.ones, left), np.isin(pair.others, left)
    near = pair.is_near[np.ix_(ones, others)]
    seen = set()
    for excluded in np.unique(near[near.any(axis=1)], axis=0):
        mine = (near >= excluded).all(axis=1)
        theirs = near[mine].all(axis=0)
        if mine.tobytes() + theirs.tobytes() not in seen:
            seen.add(mine.tobytes() + theirs.tobytes())
            yield _one_of(pair, pair.ones[ones][mine], pair.others[others][theirs])


def _one_of(pair: Pair, ones: Places, others: Places) -> Row:
    held = (*ones.tolist(), *others.tolist())
    return Row(pair.key, held, (1.0,) * len(held), -np.inf, 1.0)


def _relaxed(rows: Sequence[Row], pairs: Sequence[Pair], objective: Array, end: float) -> _Relaxed | None:
    """The bound without whole numbers, with the exclusions that its own answer breaks; None where even that has no
    plan."""
    held, last = list(rows), np.inf
    for _ in range(_ROUNDS):
        solution = _linear(held, objective)
        if solution is None:
            return None
        bound = -float(solution.fun)
        broken = [row for pair in pairs for row in _broken(pair, solution.x)]
        if not broken or last - bound < _WORTH * abs(bound) or time.monotonic() > end:
            break
        held, last = [*held, *broken], bound
    # A column chosen whole costs at least its reduced cost.
    return _Relaxed(bound, solution.x, np.maximum(solution.lower.marginals, 0.0), tuple(held))


def _linear(rows: Sequence[Row], objective: Array) -> Any:
    """The best shares of columns; None where none keep the limits."""
    from scipy.optimize import linprog

    matrix, low, high = _matrix(rows, len(objective))
    is_even = low == high
    most, least = np.isfinite(high) & ~is_even, np.isfinite(low) & ~is_even
    solution = linprog(
        -objective,
        A_ub=_stacked(matrix[most], -matrix[least]),
        b_ub=np.concatenate([high[most], -low[least]]),
        A_eq=matrix[is_even],
        b_eq=low[is_even],
        bounds=(0, 1),
        method="highs",
    )
    return None if solution.status == _INFEASIBLE else solution


def _stacked(one: Any, other: Any) -> Any:
    from scipy.sparse import vstack

    return vstack([one, other], format="csr")


def _broken(pair: Pair, shares: Array) -> Iterable[Row]:
    """Exclusions that shares of columns break, found from the columns that are chosen in part."""
    mine, theirs = shares[pair.ones], shares[pair.others]
    if not (pair.is_near[mine > _EPS][:, theirs > _EPS]).any():
        return
    seen = set()
    for place in np.flatnonzero(mine > _EPS):
        excluded = pair.is_near[place]
        left = (pair.is_near >= excluded).all(axis=1)
        right = pair.is_near[left].all(axis=0)
        if mine[left].sum() + theirs[right].sum() > 1 + 10 * _EPS and left.tobytes() not in seen:
            seen.add(left.tobytes())
            yield _one_of(pair, pair.ones[left], pair.others[right])


def _matrix(rows: Sequence[Row], columns: int) -> tuple[Any, Array, Array]:
    from scipy.sparse import csr_array

    ends = np.cumsum([0, *(len(row.places) for row in rows)])
    places = np.array([place for row in rows for place in row.places], dtype=np.int32)
    weights = np.array([weight for row in rows for weight in row.weights])
    matrix = csr_array((weights, places, ends), shape=(len(rows), columns))
    return matrix, np.array([row.low for row in rows]), np.array([row.high for row in rows])
