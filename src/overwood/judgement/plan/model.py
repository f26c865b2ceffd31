"""A plan as a choice of one column for each stand under limits: the rows of a mixed-integer model. ``solving`` solves
it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.plan.columns import Column
from overwood.judgement.plan.limits import Limits, Pin, over, periods
from overwood.judgement.plan.openings import Openings, Pair
from overwood.judgement.plan.rows import (
    ALONE,
    BURN,
    CREW,
    MONEY,
    OLD,
    ONE,
    PIN,
    TOGETHER,
    VALUE,
    Key,
    NoPlan,
    Row,
)  # fmt: skip

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Least:
    """The chance of an oak stand that a year's wait, and a work, must gain to be planned: what is less the draws cannot
    tell."""

    wait: float
    work: float

    def of(self, column: Column) -> float:
        return self.wait * column.start_yr + self.work * column.works


@dataclass(frozen=True)
class Model:
    """Columns of all stands, rows of all limits but openings, pairs of stands whose openings lie apart, what waits and
    works must gain, and the openings whose groups are held as they are broken (None for none)."""

    columns: tuple[Column, ...] = field(repr=False)
    rows: tuple[Row, ...] = field(repr=False)
    pairs: tuple[Pair, ...] = field(repr=False)
    least: Least
    openings: Openings | None = field(default=None, repr=False)

    @property
    def keys(self) -> tuple[Key, ...]:
        """Every limit once."""
        return tuple(dict.fromkeys([*(row.key for row in self.rows), *(pair.key for pair in self.pairs)]))

    @property
    def oak(self) -> Array:
        """What is made as large as can be: expected acres of oak stand, less what waits and works must gain at the
        least."""
        return np.array([column.oak_ac - column.area_ac * self.least.of(column) for column in self.columns])

    @property
    def value(self) -> Array:
        """Present value of every column."""
        return np.array([column.value_usd for column in self.columns])


def model_of(
    columns: Sequence[Column], limits: Limits, touching: Iterable[tuple[str, str]], begin_year: int, least: Least
) -> Model:
    """The model of some columns under limits; ``touching`` are pairs of stands, ``begin_year`` the calendar year of the
    first year. Raises NoPlan when a pin matches nothing its stand can do."""
    places = places_of(columns)
    rows = [
        *_one_each(places),
        *_capacity(columns, limits),
        *_old(columns, limits),
        *_together(columns, places, limits),
        *(_pinned(columns, places, pin, begin_year) for pin in limits.pins),
        *(_left_alone(columns, places, stand) for stand in limits.left_alone),
    ]
    if limits.value_at_least_usd is not None:
        rows.append(value_row(columns, limits.value_at_least_usd))
    if limits.apart_yr <= 0:
        return Model(tuple(columns), tuple(rows), (), least)
    openings = Openings(tuple(columns), places, limits, tuple(touching))
    return Model(tuple(columns), (*rows, *openings.too_large()), tuple(openings.pairs()), least, openings)


def places_of(columns: Sequence[Column]) -> dict[str, list[int]]:
    """Where the columns of each stand are."""
    places: dict[str, list[int]] = {}
    for place, column in enumerate(columns):
        places.setdefault(column.stand, []).append(place)
    return places


def _one_each(places: dict[str, list[int]]) -> Iterable[Row]:
    return (Row(Key(ONE, stand), tuple(own), (1.0,) * len(own), 1.0, 1.0) for stand, own in places.items())


def _capacity(columns: Sequence[Column], limits: Limits) -> Iterable[Row]:
    """Expected days and money within what there is, period by period."""
    listed = (
        (CREW, limits.crew_days, "crew_days"),
        (BURN, limits.burn_days, "burn_days"),
        (MONEY, limits.spend_usd, "spent_usd"),
    )
    for kind, capacity, name in listed:
        for period in periods(limits.years) if capacity else ():
            loads = [over(getattr(column, name), period) for column in columns]
            yield _at_most(Key(kind, year=period[0]), loads, over(capacity, period))


def _at_most(key: Key, weights: Iterable[float], high: float) -> Row:
    held = [(place, float(weight)) for place, weight in enumerate(weights) if weight]
    return Row(key, tuple(place for place, _ in held), tuple(weight for _, weight in held), -np.inf, high)


def _old(columns: Sequence[Column], limits: Limits) -> Iterable[Row]:
    """Acres of old overwood at the end of each period, as a share of all planned acres."""
    if limits.old_share <= 0:
        return
    areas = {column.stand: column.area_ac for column in columns}
    for first, last in periods(limits.years):
        held = [
            (place, column.area_ac * float(column.uncut[last]))
            for place, column in enumerate(columns)
            if column.age_yr + last >= limits.old_age_yr
        ]
        held = [(place, acres) for place, acres in held if acres]
        least = limits.old_share * sum(areas.values())
        key = Key(OLD, year=first)
        yield Row(key, tuple(place for place, _ in held), tuple(acres for _, acres in held), least, np.inf)


def _together(columns: Sequence[Column], places: dict[str, list[int]], limits: Limits) -> Iterable[Row]:
    """The second and every later stand of a group begins in a year as often as the first; left alone counts as a year
    of its own."""
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
        begun: dict[str, set[int]] = {}
        for place in places[pin.stand]:
            begun.setdefault(columns[place].course, set()).add(begin_year + columns[place].start_yr)
        listed = [f"{course} from {', '.join(map(str, sorted(years)))}" for course, years in sorted(begun.items())]
        raise NoPlan(
            f"nothing {pin.stand} can do is what its pin asks for ({pin.words}).",
            remedy=f"It can: {'; '.join(listed)}.",
        )
    here = columns[held[0]].course
    words = pin.words if pin.course in ("", here) else f"{pin.words}, here {here!r}"
    return Row(Key(PIN, words), tuple(held), (1.0,) * len(held), 1.0, 1.0)


def fits(column: Column, pin: Pin, begin_year: int) -> bool:
    """Whether a column is what a pin settles, by its name on the stand or by one of the file of courses."""
    names = (column.course, *(column.as_course.listed if column.as_course else ()))
    as_named = not pin.course or pin.course in names
    return as_named and (pin.begin is None or (not column.is_idle and begin_year + column.start_yr == pin.begin))


def _left_alone(columns: Sequence[Column], places: dict[str, list[int]], stand: str) -> Row:
    held = [place for place in places[stand] if columns[place].is_idle]
    return Row(Key(ALONE, stand), tuple(held), (1.0,) * len(held), 1.0, 1.0)


def value_row(columns: Sequence[Column], least_usd: float) -> Row:
    """The plan's present value, at the least."""
    held = [(place, column.value_usd) for place, column in enumerate(columns) if column.value_usd]
    return Row(Key(VALUE), tuple(place for place, _ in held), tuple(usd for _, usd in held), least_usd, np.inf)


def without(model: Model, keys: Iterable[Key]) -> Model:
    """The model without some limits."""
    gone = set(keys)
    return replace(
        model,
        rows=tuple(row for row in model.rows if row.key not in gone),
        pairs=tuple(pair for pair in model.pairs if pair.key not in gone),
    )


def settled(model: Model) -> Model:
    """The model with the groups of openings that were found broken so far as plain rows, and no look for more."""
    if model.openings is None:
        return model
    return replace(model, rows=(*model.rows, *model.openings.found), openings=None)
