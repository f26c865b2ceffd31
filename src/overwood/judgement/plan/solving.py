"""The best plan of a model, by HiGHS through SciPy: whole where it is small, else among the columns that the relaxed
model speaks for."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
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
# A dive settles this part of the stands that are chosen in parts, until so few are left; so many more are freed where
# that was too few.
_SETTLED_SHARE, _LEFT, _FREED = 3 / 20, 8, 6


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
    """The plan with the largest objective; None where no plan keeps the limits.

    Raises
    ------
    NoPlan
        when the time ends before any plan is found.
    """
    rows = (*model.rows, *extra)
    if len(objective) <= _WHOLE:
        return _searched(rows, model.pairs, objective, np.arange(len(objective)), solver)
    end = time.monotonic() + solver.seconds
    relaxed = _relaxed(rows, model.pairs, objective, end)
    if relaxed is None:
        return None
    stands = _stands(rows, len(objective))
    dived = _dived(relaxed, model.pairs, objective, stands, end)
    return _freed(
        _Large(rows, model.pairs, objective, stands), relaxed, dived, Solver(max(solver.gap, _LARGE_GAP), end)
    )


@dataclass(frozen=True)
class _Large:
    """A model that is too large to be solved whole; ``stands`` says which stand each column is of."""

    rows: tuple[Row, ...]
    pairs: tuple[Pair, ...]
    objective: Array
    stands: Places


def _stands(rows: Sequence[Row], columns: int) -> Places:
    stands = np.zeros(columns, dtype=np.int64)
    for number, row in enumerate(row for row in rows if row.key.kind == ONE):
        stands[list(row.places)] = number
    return stands


def _dived(relaxed: _Relaxed, pairs: Sequence[Pair], objective: Array, stands: Places, end: float) -> Array:
    """Shares of the relaxed model with more and more stands settled on their largest share, until few are chosen in
    parts."""
    shares, rows, open_, part = relaxed.shares, list(relaxed.rows), np.ones(len(objective)), _SETTLED_SHARE
    while time.monotonic() < end:
        largest = _largest(shares, stands)
        if len(largest) <= _LEFT:
            break
        settled = largest[: max(1, int(part * len(largest)))]
        tried = open_.copy()
        tried[np.isin(stands, stands[settled])] = 0.0
        tried[settled] = 1.0
        found = _linear(rows, objective, tried)
        if found is None and len(settled) == 1:
            # What cannot be settled so is closed, and the dive goes on.
            tried = open_.copy()
            tried[settled] = 0.0
            found = _linear(rows, objective, tried)
            if found is None:
                break
        elif found is None:
            part /= 2
            continue
        shares, open_ = found.x, tried
        rows += [row for pair in pairs for row in _broken(pair, shares)]
    return shares


def _largest(shares: Array, stands: Places) -> list[int]:
    """The largest share of each stand that is chosen in parts, the surest first."""
    parted = np.unique(stands[(shares > _EPS) & (shares < 1 - _EPS)])
    largest = [int(np.argmax(np.where(stands == stand, shares, -1.0))) for stand in parted]
    return sorted(largest, key=lambda place: -shares[place])


def _freed(large: _Large, relaxed: _Relaxed, shares: Array, until: Solver) -> Solution | None:
    """Whole plans near a dive: stands chosen in parts are free, and more of them until the gap is met, or all are."""
    best: Solution | None = None
    parted = np.unique(large.stands[(shares > _EPS) & (shares < 1 - _EPS)])
    # The stands that could as well do something else come first.
    second = np.array(
        [np.sort(relaxed.loss[large.stands == stand])[:2].sum() for stand in range(large.stands.max() + 1)]
    )
    order = [*parted, *(stand for stand in np.argsort(second, kind="stable") if stand not in set(parted.tolist()))]
    count = max(len(parted), _LEFT)
    while (seconds := until.seconds - time.monotonic()) > 0:
        is_last = count >= len(order)
        left = np.flatnonzero(np.isin(large.stands, order[:count]) | (shares > 0.5))
        if best is not None:
            left = np.union1d(left[relaxed.loss[left] <= relaxed.bound - best.objective + _EPS], best.chosen)
        try:
            found = _searched(
                large.rows,
                large.pairs,
                large.objective,
                left,
                Solver(until.gap / 4, seconds if is_last else seconds / 4),
            )
        except NoPlan:
            found = None
        if found is not None and (best is None or found.objective > best.objective):
            best = Solution(found.chosen, found.objective, max(relaxed.bound, found.objective), found.in_time)
        if best is not None and best.gap <= until.gap:
            return best
        if is_last:
            return best if best is None or not (found and found.in_time) else _bounded(best, found)
        shares = _shares_of(best, shares)
        count = min(count + _FREED, len(order)) if best is not None else min(2 * count, len(order))
    if best is None:
        raise NoPlan("no plan was found in the time given.", remedy="Give the search more time, or loosen a limit.")
    return Solution(best.chosen, best.objective, best.bound, in_time=False)


def _shares_of(best: Solution | None, shares: Array) -> Array:
    """The best plan as shares, where there is one."""
    if best is None:
        return shares
    whole = np.zeros(len(shares))
    whole[list(best.chosen)] = 1.0
    return whole


def _bounded(best: Solution, last: Solution) -> Solution:
    """The best plan with the bound of the last search, which left out nothing that could be better."""
    return Solution(best.chosen, best.objective, min(best.bound, max(last.bound, best.objective)), in_time=True)


def _searched(
    rows: Sequence[Row], pairs: Iterable[Pair], objective: Array, left: Places, solver: Solver
) -> Solution | None:
    """The best plan among some columns."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    matrix, low, high = _matrix([*rows, *(row for pair in pairs for row in exclusions(pair, left))], len(objective))
    found = milp(
        -objective[left],
        integrality=np.ones(len(left)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(matrix[:, left], low, high),
        options={"mip_rel_gap": solver.gap, "time_limit": solver.seconds},
    )
    if found.status == _INFEASIBLE:
        return None
    if found.x is None:
        raise NoPlan("no plan was found in the time given.", remedy="Give the search more time, or loosen a limit.")
    chosen = left[found.x > 0.5]
    reached = float(objective[chosen].sum())
    return Solution(
        tuple(chosen.tolist()), reached, max(-float(found.mip_dual_bound), reached), found.status == _OPTIMAL
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
        found = _linear(held, objective, np.ones(len(objective)))
        if found is None:
            return None
        bound = -float(found.fun)
        broken = [row for pair in pairs for row in _broken(pair, found.x)]
        if not broken or last - bound < _WORTH * abs(bound) or time.monotonic() > end:
            break
        held, last = [*held, *broken], bound
    # A column chosen whole costs at least its reduced cost.
    return _Relaxed(bound, found.x, np.maximum(found.lower.marginals, 0.0), tuple(held))


def _linear(rows: Sequence[Row], objective: Array, most_share: Array) -> Any:
    """The best shares of columns, each up to its most; None where none keep the limits."""
    from scipy.optimize import linprog

    matrix, low, high = _matrix(rows, len(objective))
    is_even = low == high
    most, least = np.isfinite(high) & ~is_even, np.isfinite(low) & ~is_even
    found = linprog(
        -objective,
        A_ub=_stacked(matrix[most], -matrix[least]),
        b_ub=np.concatenate([high[most], -low[least]]),
        A_eq=matrix[is_even],
        b_eq=low[is_even],
        bounds=np.column_stack([np.zeros(len(objective)), most_share]),
        method="highs",
    )
    return None if found.status == _INFEASIBLE else found


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
