"""A plan as a choice of one column for each stand under limits: rows of a mixed-integer model, solved by HiGHS through SciPy."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import OverwoodError
from overwood.judgement.plan.columns import Column
from overwood.judgement.plan.limits import Limits, Pin, over, periods

Array = NDArray[np.float64]
# Kinds of limits, in the order in which a clash names them.
ONE, CREW, BURN, MONEY, APART, OLD, TOGETHER, PIN, ALONE, VALUE = KINDS = (
    "one course a stand", "crew days", "burn days", "money", "openings apart", "old trees", "begin together", "pin", "left alone", "value",
)  # fmt: skip
_INFEASIBLE, _OPTIMAL = 2, 0
USUAL_GAP, USUAL_SOLVER_S = 0.001, 120.0


class NoPlan(OverwoodError):
    """No plan keeps every limit, or none was found in the time given."""


@dataclass(frozen=True)
class Key:
    """Which limit a row holds: its kind, the stands it names, and the first year of its period (from 0; -1 where it names none)."""

    kind: str
    subject: str = ""
    year: int = -1


@dataclass(frozen=True)
class Row:
    """Sum of weights of chosen columns, between two ends."""

    key: Key
    places: tuple[int, ...]
    weights: tuple[float, ...]
    low: float
    high: float


@dataclass(frozen=True)
class Model:
    """Columns of all stands, rows of all limits, and what a year's wait must gain."""

    columns: tuple[Column, ...] = field(repr=False)
    rows: tuple[Row, ...] = field(repr=False)
    wait_points: float

    @property
    def oak(self) -> Array:
        """What is made as large as can be: expected acres of oak stand, less what a year's wait must gain at the least."""
        return np.array([column.oak_ac - self.wait_points * column.area_ac * column.start_yr for column in self.columns])

    @property
    def value(self) -> Array:
        return np.array([column.value_usd for column in self.columns])


@dataclass(frozen=True)
class Solution:
    """Chosen columns, what they come to, the bound no plan passes, and the gap between the two as a share."""

    chosen: tuple[int, ...]
    objective: float
    bound: float
    gap: float
    in_time: bool


@dataclass(frozen=True)
class Solver:
    """How near to the best plan a search ends, and after how long at the latest."""

    gap: float = USUAL_GAP
    seconds: float = USUAL_SOLVER_S


def model_of(columns: Sequence[Column], limits: Limits, touching: Iterable[tuple[str, str]], begin_year: int, wait_points: float) -> Model:
    """The model of some columns under limits; ``touching`` are pairs of stands, ``begin_year`` the calendar year of the first year.

    Raises
    ------
    NoPlan
        when a pin matches nothing its stand can do.
    """
    places = places_of(columns)
    rows = [
        *_one_each(places),
        *_capacity(columns, limits),
        *_apart(columns, places, limits, touching),
        *_old(columns, limits),
        *_together(columns, places, limits),
        *(_pinned(columns, places, pin, begin_year) for pin in limits.pins),
        *(_left_alone(columns, places, stand) for stand in limits.left_alone),
    ]
    if limits.value_at_least_usd is not None:
        rows.append(value_row(columns, limits.value_at_least_usd))
    return Model(tuple(columns), tuple(rows), wait_points)


def places_of(columns: Sequence[Column]) -> dict[str, list[int]]:
    """Where the columns of each stand are."""
    found: dict[str, list[int]] = {}
    for place, column in enumerate(columns):
        found.setdefault(column.stand, []).append(place)
    return found


def _one_each(places: dict[str, list[int]]) -> Iterable[Row]:
    return (Row(Key(ONE, stand), tuple(own), (1.0,) * len(own), 1.0, 1.0) for stand, own in places.items())


def _capacity(columns: Sequence[Column], limits: Limits) -> Iterable[Row]:
    """Expected days and money within what there is, period by period."""
    listed = ((CREW, limits.crew_days, "crew_days"), (BURN, limits.burn_days, "burn_days"), (MONEY, limits.spend_usd, "spent_usd"))
    for kind, capacity, name in listed:
        for period in periods(limits.years) if capacity else ():
            loads = [over(getattr(column, name), period) for column in columns]
            yield _at_most(Key(kind, year=period[0]), loads, over(capacity, period))


def _at_most(key: Key, weights: Iterable[float], high: float) -> Row:
    held = [(place, float(weight)) for place, weight in enumerate(weights) if weight]
    return Row(key, tuple(place for place, _ in held), tuple(weight for _, weight in held), -np.inf, high)


def _old(columns: Sequence[Column], limits: Limits) -> Iterable[Row]:
    """Acres uncut at the end of each period, as a share of all planned acres."""
    if limits.old_share <= 0:
        return
    areas = {column.stand: column.area_ac for column in columns}
    for period in periods(limits.years):
        held = [(place, column.area_ac * float(column.uncut[period[1]])) for place, column in enumerate(columns)]
        held = [(place, acres) for place, acres in held if acres]
        least = limits.old_share * sum(areas.values())
        key = Key(OLD, year=period[0])
        yield Row(key, tuple(place for place, _ in held), tuple(acres for _, acres in held), least, np.inf)


def _together(columns: Sequence[Column], places: dict[str, list[int]], limits: Limits) -> Iterable[Row]:
    """The second and every later stand of a group begins in a year as often as the first; left alone counts as a year of its own."""
    for group in limits.begin_together:
        first, *others = group
        begins = {_begin(columns[place]) for stand in group for place in places[stand]}
        for other in others:
            for begin in sorted(begins):
                plus = [place for place in places[first] if _begin(columns[place]) == begin]
                minus = [place for place in places[other] if _begin(columns[place]) == begin]
                weights = (1.0,) * len(plus) + (-1.0,) * len(minus)
                yield Row(Key(TOGETHER, ", ".join(group), max(begin, -1)), (*plus, *minus), weights, 0.0, 0.0)


def _begin(column: Column) -> int:
    return -1 if column.is_idle else column.start_yr


def _pinned(columns: Sequence[Column], places: dict[str, list[int]], pin: Pin, begin_year: int) -> Row:
    held = [place for place in places[pin.stand] if fits(columns[place], pin, begin_year)]
    if not held:
        listed = sorted({f"{columns[place].course} from {begin_year + columns[place].start_yr}" for place in places[pin.stand]})
        raise NoPlan(f"nothing {pin.stand} can do is what its pin asks for ({pin.words}).", remedy=f"It can: {'; '.join(listed)}.")
    return Row(Key(PIN, pin.words), tuple(held), (1.0,) * len(held), 1.0, 1.0)


def fits(column: Column, pin: Pin, begin_year: int) -> bool:
    """Whether a column is what a pin settles."""
    as_named = not pin.course or column.course == pin.course
    return as_named and (pin.begin is None or (not column.is_idle and begin_year + column.start_yr == pin.begin))


def _left_alone(columns: Sequence[Column], places: dict[str, list[int]], stand: str) -> Row:
    held = [place for place in places[stand] if columns[place].is_idle]
    return Row(Key(ALONE, stand), tuple(held), (1.0,) * len(held), 1.0, 1.0)


def value_row(columns: Sequence[Column], least_usd: float) -> Row:
    """The plan's present value, at the least."""
    held = [(place, column.value_usd) for place, column in enumerate(columns) if column.value_usd]
    return Row(Key(VALUE), tuple(place for place, _ in held), tuple(usd for _, usd in held), least_usd, np.inf)


def near_chance(one: Column, other: Column, apart_yr: int) -> float:
    """Chance that two stands are opened within fewer years than ``apart_yr``, over the draws both share."""
    both = (one.opened >= 0) & (other.opened >= 0)
    return float((both & (np.abs(one.opened - other.opened) < apart_yr)).mean())


def _near_chances(ones: Sequence[Column], others: Sequence[Column], apart_yr: int) -> Array:
    """Chances of all pairs, of shape (ones, others)."""
    left, right = np.array([one.opened for one in ones]), np.array([other.opened for other in others])
    found = np.empty((len(left), len(right)))
    for place, opened in enumerate(left):
        near = (opened >= 0) & (right >= 0) & (np.abs(right - opened) < apart_yr)
        found[place] = near.mean(axis=1)
    return found


def _apart(columns: Sequence[Column], places: dict[str, list[int]], limits: Limits, touching: Iterable[tuple[str, str]]) -> Iterable[Row]:
    """Pairs of columns of touching stands that would too often be opened close upon each other exclude one another."""
    if limits.apart_yr <= 0:
        return
    for one, other in sorted({tuple(sorted(pair)) for pair in touching}):
        ones, others = places[one], places[other]
        chances = _near_chances([columns[place] for place in ones], [columns[place] for place in others], limits.apart_yr)
        yield from _excluded(Key(APART, f"{one} and {other}"), ones, others, chances > limits.opening_chance)


def _excluded(key: Key, ones: list[int], others: list[int], is_near: NDArray[np.bool_]) -> Iterable[Row]:
    """Columns of the first stand that exclude the very same columns of the second share a row."""
    by_mark = sorted(range(len(ones)), key=lambda place: is_near[place].tobytes())
    for _, group in groupby(by_mark, key=lambda place: is_near[place].tobytes()):
        alike = list(group)
        excluded = [others[place] for place in np.flatnonzero(is_near[alike[0]])]
        if excluded:
            held = (*(ones[place] for place in alike), *excluded)
            yield Row(key, held, (1.0,) * len(held), -np.inf, 1.0)


def solve(model: Model, objective: Array, solver: Solver, extra: Sequence[Row] = ()) -> Solution | None:
    """The plan with the largest objective; None where no plan keeps the limits.

    Raises
    ------
    NoPlan
        when the time ends before any plan is found.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    rows = (*model.rows, *extra)
    matrix, low, high = _matrix(rows, len(model.columns))
    options = {"mip_rel_gap": solver.gap, "time_limit": solver.seconds}
    found = milp(
        -objective,
        integrality=np.ones(len(objective)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(matrix, low, high),
        options=options,
    )
    if found.status == _INFEASIBLE:
        return None
    if found.x is None:
        raise NoPlan(f"no plan was found within {solver.seconds:g} s.", remedy="Give the search more time, or loosen a limit.")
    chosen = tuple(int(place) for place in np.flatnonzero(found.x > 0.5))
    reached = float(objective[list(chosen)].sum())
    bound = max(-float(found.mip_dual_bound), reached)
    return Solution(chosen, reached, bound, (bound - reached) / max(abs(bound), 1e-9), found.status == _OPTIMAL)


def _matrix(rows: Sequence[Row], columns: int) -> tuple[object, Array, Array]:
    from scipy.sparse import csr_array

    ends = np.cumsum([0, *(len(row.places) for row in rows)])
    places = np.array([place for row in rows for place in row.places], dtype=np.int32)
    weights = np.array([weight for row in rows for weight in row.weights])
    matrix = csr_array((weights, places, ends), shape=(len(rows), columns))
    return matrix, np.array([row.low for row in rows]), np.array([row.high for row in rows])


def without(model: Model, keys: Iterable[Key]) -> Model:
    """The model without some limits."""
    gone = set(keys)
    return Model(model.columns, tuple(row for row in model.rows if row.key not in gone), model.wait_points)
