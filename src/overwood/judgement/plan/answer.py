"""What a plan says: for every stand its course and the years of its works, the loads of every year, and how far to
trust it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar

from overwood.judgement.gates.windows import Window
from overwood.judgement.plan.clash import Clash
from overwood.judgement.plan.limits import Limits
from overwood.judgement.reason import Reason

# How far ahead a year is, and so what its works are.
ORDERS, PLANNED, SKETCH = "orders", "plan", "sketch"
_PLANNED_YEARS = 5


def standing(year: int) -> str:
    """What the works of a year (from 0) are: orders in the first, a plan to the fifth, a sketch behind."""
    return ORDERS if year == 0 else PLANNED if year < _PLANNED_YEARS else SKETCH


def season_words(year: int) -> str:
    """A year of the plan by the calendar years it lies in."""
    return f"{year}/{(year + 1) % 100:02d}"


@dataclass(frozen=True, kw_only=True)
class Work:
    """An operation in a year (from 0) of the plan, and the chance that it falls there."""

    operation: str
    year: int
    chance: float
    standing: str


@dataclass(frozen=True, kw_only=True)
class StandPlan:
    """What one stand does: its course, the calendar year it begins in, its chance of an oak stand on fresh draws, and
    its works.

    ``begins`` is None where it is left alone; ``drawn_chance`` is what the plan was chosen by; ``mark`` says which
    records it rests on. ``kind`` is the stand whose futures it was chosen by ("" for its own), ``kind_distance`` how
    far that is in standard deviations of the figures.
    """

    stand: str
    area_ac: float
    course: str
    begins: int | None
    oak_chance: float
    oak_error: float
    drawn_chance: float
    value_usd: float | None
    works: tuple[Work, ...]
    later_share: float
    mark: str = ""
    kind: str = ""
    kind_distance: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Load:
    """Days or money of a period beside what there is: mean, tenth and nine tenths over the paths, and how often it is
    passed. ``year`` to ``last_year`` (from 0) is one year, or the two of a sketch."""

    kind: str
    year: int
    last_year: int
    capacity: float | None
    mean: float
    low: float
    high: float
    over_chance: float | None


@dataclass(frozen=True, kw_only=True)
class CurvePoint:
    """One plan on the way from most oak to most money, by the draws it was chosen by."""

    oak_ac: float
    value_usd: float
    works: float
    is_this_plan: bool


@dataclass(frozen=True, kw_only=True)
class SettledPrice:
    """What a pin, or a stand left alone, costs: acres of oak stand and present value of the best plan without it, less
    this plan's."""

    kind: str
    subject: str
    oak_ac: float
    value_usd: float | None


@dataclass(frozen=True, kw_only=True)
class YearOrder:
    """A work of the first year. ``state`` says whether the advice on the stand names the same step."""

    stand: str
    operation: str
    area_ac: float
    chance: float
    waits_for: Reason | None
    crew_days: float
    burn_days: float
    spend_usd: float | None
    window: Window | None
    state: str
    advised: Reason
    cautions: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Differing:
    """A stand whose advice names a work that the plan does not begin in the first year."""

    stand: str
    advised: Reason
    planned: Reason


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A stand whose course or first year is another than in the plan before, and why."""

    stand: str
    before: Reason
    after: Reason
    why: Reason


@dataclass(frozen=True, kw_only=True)
class NotPlanned:
    """A stand of the property without a part in the plan, and why."""

    stand: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """The plan on fresh paths of crops and weather that every stand shares."""

    paths: int
    seed: int
    oak_ac: float
    oak_low_ac: float
    oak_high_ac: float
    loads: tuple[Load, ...]
    over_any_year: dict[str, float]
    together_same_year: tuple[tuple[str, float], ...]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A plan of a property."""

    on: dt.date
    years: int
    rules_version: str
    draws: int
    seed: int
    acres: float
    limits: Limits
    touching: tuple[tuple[str, str], ...]
    without_outline: tuple[str, ...]
    without_age: tuple[str, ...]
    price_list: str
    stands: tuple[StandPlan, ...]
    not_planned: tuple[NotPlanned, ...]
    oak_ac: float
    value_usd: float | None
    gap: float
    in_time: bool
    stopped: bool
    curve: tuple[CurvePoint, ...]
    settled: tuple[SettledPrice, ...]
    judged: Judgement
    orders: tuple[YearOrder, ...]
    differing: tuple[Differing, ...]
    before: int | None
    moved: tuple[Moved, ...]
    left_out: tuple[str, ...]
    free_works: tuple[str, ...]
    # Whether stands of a kind were chosen for again by their own futures, among the few best by the kind's.
    own_chosen: bool = False

    DERIVED: ClassVar = ("seasons",)

    @property
    def begin_year(self) -> int:
        return self.on.year

    @property
    def seasons(self) -> tuple[str, ...]:
        """The years of the plan by the calendar."""
        return tuple(season_words(self.begin_year + year) for year in range(self.years))


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """No plan keeps every limit: the fewest limits that clash."""

    clashes: tuple[Clash, ...]
    begin_year: int
