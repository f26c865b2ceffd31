"""Sums of money of simulated futures with the year each falls in: what work costs and what sales bring, an acre."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.futures.courses import Course
from overwood.science import regeneration as science

Array = NDArray[np.float64]
_RESULT = {name: at for at, name in enumerate(science.RESULTS)}


@dataclass(frozen=True)
class Money:
    """What standing timber is worth and work costs an acre, by work; work without a cost is free."""

    value_usd_ac: float
    costs_usd_ac: dict[str, float]
    planted_each_usd: float
    growth_share_yr: float
    rate: float
    crop_tree_age_yr: float


@dataclass(frozen=True)
class Sums:
    """Sums of one kind, US$ an acre at the prices of today, and the year of each; -1 where it never falls. Of shape
    (futures,)."""

    kind: str
    usd_ac: Array
    years: Array


def sums_of(course: Course, came: Array, ba_ft2_ac: float, money: Money) -> tuple[Sums, ...]:
    """Every dated sum of the futures of a course; costs are below zero, trees that stand on count nothing.

    ``came`` is of shape (futures, RESULTS and more). A course of several burns has them all in the year of the last.
    """
    return tuple(
        sums for sums in (*_work(course, came, money), *_sales(course, came, ba_ft2_ac, money)) if np.any(sums.usd_ac)
    )


def _work(course: Course, came: Array, money: Money) -> Iterator[Sums]:
    cost, numbers, ones = money.costs_usd_ac, course.numbers, np.ones(len(came))
    released = came[:, _RESULT["release_year"]]
    yield Sums("injection", -cost.get("injection", 0.0) * ones, came[:, _RESULT["inject_year"]])
    yield Sums("burn", -cost.get("burn", 0.0) * came[:, _RESULT["burns"]], came[:, _RESULT["burn_year"]])
    # A seed cut of before the first year was marked before.
    yield Sums("marking", -cost.get("marking", 0.0) * ones, came[:, _RESULT["cut_year"]])
    yield Sums("planting", -numbers["planted_ac"] * money.planted_each_usd * ones, came[:, _RESULT["plant_year"]])
    yield Sums("fence", -cost.get("fence", 0.0) * (numbers["fence"] > 0) * ones, numbers["start_yr"] * ones)
    weeded = np.where(released >= 0, released + money.crop_tree_age_yr, -1.0)
    yield Sums("crop-tree release", -cost.get("weeding", 0.0) * (numbers["crop_trees"] > 0) * ones, weeded)


def _sales(course: Course, came: Array, ba_ft2_ac: float, money: Money) -> Iterator[Sums]:
    released, cut, numbers = came[:, _RESULT["release_year"]], came[:, _RESULT["cut_year"]], course.numbers
    grown = 1 + money.growth_share_yr
    sold = 1 - min(numbers["residual_ft2_ac"] / ba_ft2_ac, 1.0) if numbers["residual_ft2_ac"] else 0.0
    left = np.maximum(1 - np.where(cut >= 0, sold, 0.0) - min(numbers["kept_ft2_ac"] / ba_ft2_ac, 1.0), 0.0)
    yield Sums("seed cut", money.value_usd_ac * sold * grown ** np.maximum(cut, 0.0), cut)
    yield Sums("removal cut", money.value_usd_ac * left * grown ** np.maximum(released, 0.0), released)


def present_value(course: Course, came: Array, ba_ft2_ac: float, money: Money) -> Array:
    """Present value an acre of each future, of shape (futures,): every dated sum at the real rate."""
    total = np.zeros(len(came))
    for sums in sums_of(course, came, ba_ft2_ac, money):
        total += np.where(sums.years >= 0, sums.usd_ac * (1 + money.rate) ** -np.maximum(sums.years, 0.0), 0.0)
    return total
