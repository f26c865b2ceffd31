"""Sums of money of simulated futures with the year each falls in: what work costs and what sales bring, an acre."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.futures.courses import Course
from overwood.science import regeneration as science

Array = NDArray[np.float64]
_RESULT = {name: at for at, name in enumerate(science.RESULTS)}
# A sale is marked, the last one too.
LAST_MARKING = "marking of the last cut"


class Trees(Protocol):
    """What standing trees bring in a year, before the fee of a sale [US$/ac]; years of shape (futures,)."""

    def whole(self, years: Array) -> Array:
        """All trees, where nothing is cut before."""

    def left(self, residual_ft2_ac: float, cut: Array, years: Array) -> Array:
        """What a cut to a basal area in one year leaves, in another."""


@dataclass(frozen=True)
class Money:
    """What standing timber is worth as it grows and work costs an acre, by work; work without a cost is free.

    ``fee_share`` of a sale goes to who sells it; ``paid_back_usd_ac`` comes by cost share a year after a work.
    """

    trees: Trees
    costs_usd_ac: dict[str, float]
    planted_each_usd: float
    rate: float
    crop_tree_age_yr: float
    fee_share: float = 0.0
    paid_back_usd_ac: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Sums:
    """Sums of one kind, US$ an acre at the prices of today, and the year of each; -1 where it never falls. Of shape
    (futures,)."""

    kind: str
    usd_ac: Array
    years: Array


def sums_of(course: Course, came: Array, money: Money) -> tuple[Sums, ...]:
    """Every dated sum of the futures of a course; costs are below zero, trees that stand on count nothing.

    ``came`` is of shape (futures, RESULTS and more). A course of several burns has them all in the year of the last.
    """
    return tuple(
        sums
        for sums in (
            *_work(course, came, money),
            *_paid_back(course, came, money),
            *_sales(course, came, money),
        )
        if np.any(sums.usd_ac)
    )


def _work(course: Course, came: Array, money: Money) -> Iterator[Sums]:
    cost, numbers, ones = money.costs_usd_ac, course.numbers, np.ones(len(came))
    released = came[:, _RESULT["release_year"]]
    yield Sums("injection", -cost.get("injection", 0.0) * ones, came[:, _RESULT["inject_year"]])
    yield Sums("burn", -cost.get("burn", 0.0) * came[:, _RESULT["burns"]], came[:, _RESULT["burn_year"]])
    # A seed cut of before the first year was marked before.
    yield Sums("marking", -cost.get("marking", 0.0) * ones, came[:, _RESULT["cut_year"]])
    yield Sums(LAST_MARKING, -cost.get("marking", 0.0) * ones, released)
    yield Sums("planting", -numbers["planted_ac"] * money.planted_each_usd * ones, came[:, _RESULT["plant_year"]])
    yield Sums("fence", -cost.get("fence", 0.0) * (numbers["fence"] > 0) * ones, numbers["start_yr"] * ones)
    weeding = -cost.get("weeding", 0.0) * (numbers["crop_trees"] > 0) * ones
    yield Sums("crop-tree release", weeding, _weeded(came, money))


def _weeded(came: Array, money: Money) -> Array:
    """The year of the crop-tree release, -1 where the overwood stays."""
    released = came[:, _RESULT["release_year"]]
    return np.where(released >= 0, released + money.crop_tree_age_yr, -1.0)


def _paid_back(course: Course, came: Array, money: Money) -> Iterator[Sums]:
    ones = np.ones(len(came))
    done = {
        "injection": (ones, came[:, _RESULT["inject_year"]]),
        "burn": (came[:, _RESULT["burns"]], came[:, _RESULT["burn_year"]]),
        "weeding": (ones * (course.numbers["crop_trees"] > 0), _weeded(came, money)),
    }
    for work, (times, year) in done.items():
        usd_ac = money.paid_back_usd_ac.get(work, 0.0)
        yield Sums(f"cost share of {work}", usd_ac * times, np.where(year >= 0, year + 1, -1.0))


def _sales(course: Course, came: Array, money: Money) -> Iterator[Sums]:
    released, cut = came[:, _RESULT["release_year"]], came[:, _RESULT["cut_year"]]
    sold = money.trees.whole(cut) - _standing(course, cut, cut, money)
    yield Sums("seed cut", _less_fee(money, np.where(cut >= 0, sold, 0.0)), cut)
    last = np.maximum(_standing(course, cut, released, money) - _kept(course, released, released, money), 0.0)
    yield Sums("removal cut", _less_fee(money, last), released)


def _standing(course: Course, cut: Array, years: Array, money: Money) -> Array:
    """Value of what stands in a year before the last cut; a seed cut of before the first year (or none) took nothing of
    what was tallied."""
    residual = course.numbers["residual_ft2_ac"]
    whole = money.trees.whole(years)
    if not residual:
        return whole
    return np.where((cut >= 0) & (cut <= years), money.trees.left(residual, cut, years), whole)


def _kept(course: Course, released: Array, years: Array, money: Money) -> Array:
    """Value in a year of what the last cut leaves for good."""
    kept = course.numbers["kept_ft2_ac"]
    return money.trees.left(kept, released, years) if kept else np.zeros(len(released))


def _less_fee(money: Money, usd_ac: Array) -> Array:
    return np.asarray(usd_ac * (1 - money.fee_share))


def uncut_usd_ac(money: Money, years: int) -> float:
    """Present value of all trees, grown on and sold in so many years [US$/ac]."""
    return float(_discounted(money, _less_fee(money, money.trees.whole(np.array([float(years)]))), float(years))[0])


def _discounted(money: Money, usd_ac: Array, years: Array | float) -> Array:
    return np.asarray(usd_ac * (1 + money.rate) ** -np.maximum(years, 0.0))


def value_within(course: Course, came: Array, money: Money, years: int) -> Array:
    """Present value an acre of each future of a plan of so many years, of shape (futures,): the dated sums that fall in
    it, and what stands at its end as if it were sold then."""
    cut, released = came[:, _RESULT["cut_year"]], came[:, _RESULT["release_year"]]
    end = np.full(len(came), float(years))
    stands = np.where(
        _falls(released, years),
        _kept(course, released, end, money),
        _standing(course, np.where(_falls(cut, years), cut, -1.0), end, money),
    )
    total = _discounted(money, _less_fee(money, stands), float(years))
    for sums in sums_of(course, came, money):
        total += np.where(_falls(sums.years, years), _discounted(money, sums.usd_ac, sums.years), 0.0)
    return total


def _falls(year: Array, years: int) -> NDArray[np.bool_]:
    return np.asarray((year >= 0) & (year < years))


def present_value(course: Course, came: Array, money: Money) -> Array:
    """Present value an acre of each future, of shape (futures,): every dated sum at the real rate."""
    total = np.zeros(len(came))
    for sums in sums_of(course, came, money):
        total += np.where(sums.years >= 0, _discounted(money, sums.usd_ac, sums.years), 0.0)
    return total
