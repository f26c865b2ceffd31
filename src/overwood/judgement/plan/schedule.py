"""A plan made: columns of every stand, the best choice under the limits, what stands against money, what settled stands
cost, its judgement."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from overwood.ground.errors import Misuse
from overwood.judgement.course import Advice
from overwood.judgement.futures.courses import Course
from overwood.judgement.plan import check, clash, judging, orders, solving
from overwood.judgement.plan import model as models
from overwood.judgement.plan.answer import (
    CurvePoint,
    NotPlanned,
    Plan,
    Refusal,
    SettledPrice,
    StandPlan,
    Work,
    standing,
)  # fmt: skip
from overwood.judgement.plan.columns import (
    COST_ENTRIES,
    LATEST_START_YR,
    OPERATIONS,
    PLANTING,
    Asked,
    Column,
    Futures,
    Plot,
    columns_of,
    countable,
    futures_of,
    simulated,
)
from overwood.judgement.plan.judging import Fresh
from overwood.judgement.plan.kinds import MOST_KINDS, Kind, kinds_of
from overwood.judgement.plan.limits import Limits, check_stands, periods
from overwood.judgement.plan.model import Least, Model
from overwood.judgement.plan.rows import ALONE, PIN
from overwood.judgement.plan.solving import Solution, Solver
from overwood.judgement.rules import Rules

# What is done, and a word on it; False stops the work.
Step = Callable[[int, str], bool]
# Plans between the most oak and the most money, both ends with them.
_POINTS = 5
# Columns of a stand planned by its kind that are looked at again by its own futures.
_OWN_COLUMNS = 6


@dataclass(frozen=True, kw_only=True)
class Property:
    """All stands to be planned, with the advice on each and a mark of its records; those that cannot be; pairs that
    touch."""

    plots: tuple[Plot, ...]
    advice: Mapping[str, Advice]
    marks: Mapping[str, str]
    not_planned: tuple[NotPlanned, ...]
    touching: tuple[tuple[str, str], ...]
    without_outline: tuple[str, ...]
    price_list: str


@dataclass(frozen=True, kw_only=True)
class Terms:
    """How a plan is made: rules, courses, limits, draws to choose by, paths to judge by, of how many kinds of stand
    futures are run, and how long to search."""

    on: dt.date
    rules: Rules
    courses: tuple[Course, ...]
    limits: Limits
    draws: int
    paths: int
    seed: int
    kinds: int = MOST_KINDS
    solver: Solver = field(default_factory=Solver)

    @property
    def asked(self) -> Asked:
        return Asked(years=self.limits.years, draws=self.draws, seed=self.seed)

    @property
    def least(self) -> Least:
        return Least(self.rules.number("plan_wait_points"), self.rules.number("plan_work_points"))

    @property
    def starts(self) -> tuple[int, ...]:
        """Years (from 0) in which courses may begin: the first of each period, and those that pins name."""
        pinned = [pin.begin - self.on.year for pin in self.limits.pins if pin.begin is not None]
        listed = [first for first, _ in periods(self.limits.years)] + pinned
        return tuple(sorted({year for year in listed if 0 <= year <= min(LATEST_START_YR, self.limits.years - 1)}))


def steps_of(plots: int) -> int:
    """How many steps a plan of so many stands has, for its progress."""
    return 2 * plots + 2


def make_plan(land: Property, terms: Terms, step: Step, before: tuple[int, Plan] | None = None) -> Plan | Refusal:
    """The plan of a property, or the fewest limits that clash.

    ``before`` is the plan kept last, with its number; the search begins at it. A stop keeps the best plan found,
    without its curve and prices.

    Raises Misuse when no stand can be planned, a limit needs prices that are not named, or it is stopped before there
    is a plan; BadRule when a limit names a stand that is not planned; NoPlan when a pin matches nothing its stand can
    do, or no plan was found in time.
    """
    _check(land, terms)
    kinds = _kinds(land, terms)
    columns = _columns(land, kinds, terms, step)
    made = models.model_of(columns, terms.limits, land.touching, terms.on.year, terms.least)
    searching = replace(terms.solver, goes_on=lambda: step(len(land.plots), "search"))
    best = solving.solve(made, made.oak, searching, start=_start(columns, before, terms.on.year))
    if best is None:
        return Refusal(clashes=clash.clash_of(made, terms.solver), begin_year=terms.on.year)
    own = _by_own_futures(land, kinds, terms, step, _Searched(columns, made, best))
    if own is not None:
        columns, made, best = own.columns, own.model, own.best
    goes_on = step(len(land.plots) + 1, "first plan")
    curve = _curve(made, best, terms.solver) if goes_on and land.price_list else ()
    settled = _settled(made, best, terms.solver, bool(land.price_list)) if goes_on else ()
    chosen = [columns[place] for place in best.chosen]
    _must_pass(chosen, land, terms)
    fresh = _drawn_anew(land, chosen, terms, step)
    told = _Made(chosen, best, curve, settled, fresh, not goes_on, kinds, own is not None)
    return _told(land, terms, told, before)


@dataclass(frozen=True)
class _Searched:
    """Columns, the model made of them, and the best choice."""

    columns: list[Column]
    model: Model
    best: Solution


def _by_own_futures(
    land: Property, kinds: Sequence[Kind], terms: Terms, step: Step, by_kinds: _Searched
) -> _Searched | None:
    """The choice made again where stands were planned by their kind: each by its own futures, among the column chosen
    for it and the few best of its kind. None where each had its own, none of these keeps the limits, or it is
    stopped."""
    if all(kind.place == place for place, kind in enumerate(kinds)):
        return None
    chosen = {by_kinds.columns[place].stand: by_kinds.columns[place] for place in by_kinds.best.chosen}
    by_stand: dict[str, list[Column]] = {}
    for column in by_kinds.columns:
        by_stand.setdefault(column.stand, []).append(column)
    columns: list[Column] = []
    for place, (plot, kind) in enumerate(zip(land.plots, kinds, strict=True)):
        if kind.place == place:
            columns += by_stand[plot.stand]
            continue
        if not step(len(land.plots), f"own futures of {plot.stand}"):
            return None
        few = _best_few(by_stand[plot.stand], chosen[plot.stand])
        came = simulated(plot, few, terms.rules, draws=terms.draws, seed=terms.seed)
        columns += columns_of(plot, Futures(few, came), terms.rules, terms.asked)
    made = models.model_of(columns, terms.limits, land.touching, terms.on.year, terms.least)
    same = {(one.stand, one.course, one.start_yr) for one in chosen.values()}
    start = [place for place, one in enumerate(columns) if (one.stand, one.course, one.start_yr) in same]
    searching = replace(terms.solver, goes_on=lambda: step(len(land.plots), "search by own futures"))
    best = solving.solve(made, made.oak, searching, start=start)
    return None if best is None else _Searched(columns, made, best)


def _best_few(columns: Sequence[Column], chosen: Column) -> tuple[Course, ...]:
    """The chosen column and the best of the best courses by the kind, as courses begun."""
    best: dict[str, Column] = {}
    for column in sorted(columns, key=lambda one: -one.oak_chance):
        if not column.is_idle:
            best.setdefault(column.course, column)
    few = [chosen, *(one for one in best.values() if one is not chosen)][:_OWN_COLUMNS]
    return tuple(one.as_course for one in few if one.as_course is not None)


def _start(columns: Sequence[Column], before: tuple[int, Plan] | None, begin_year: int) -> list[int]:
    """The columns that the plan before chose, as far as they are there still: the search begins at them."""
    if before is None:
        return []
    chosen = {(one.stand, one.course, one.begins) for one in before[1].stands}
    return [
        place
        for place, column in enumerate(columns)
        if (column.stand, column.course, None if column.is_idle else begin_year + column.start_yr) in chosen
    ]


@dataclass(frozen=True)
class _Made:
    chosen: list[Column]
    best: Solution
    curve: tuple[CurvePoint, ...]
    settled: tuple[SettledPrice, ...]
    found: list[Fresh]
    stopped: bool
    kinds: list[Kind]
    own_chosen: bool


def _check(land: Property, terms: Terms) -> None:
    if not land.plots:
        reasons = "; ".join(f"{one.stand}: {one.reason}" for one in land.not_planned)
        raise Misuse("no stand can be planned.", remedy=reasons or "Bring records in first.")
    if terms.limits.needs_prices and not land.price_list:
        raise Misuse("the limits name money, and no price list is named.", remedy="Name one, or take the money out.")
    check_stands(terms.limits, [plot.stand for plot in land.plots])


def _kinds(land: Property, terms: Terms) -> list[Kind]:
    """The stand whose futures each stand is planned by: its own, or that of its kind where there are more."""
    traits = [plot.traits for plot in land.plots if plot.traits is not None]
    if len(traits) < len(land.plots):
        return [Kind(place, 0.0) for place in range(len(land.plots))]
    return kinds_of(traits, terms.kinds)


def _columns(land: Property, kinds: Sequence[Kind], terms: Terms, step: Step) -> list[Column]:
    columns: list[Column] = []
    futures: dict[int, Futures] = {}
    waiting = Counter(kind.place for kind in kinds)
    for done, (plot, kind) in enumerate(zip(land.plots, kinds, strict=True)):
        if not step(done, f"futures of {plot.stand}"):
            raise Misuse(
                "stopped before the futures of every stand were run, so there is no plan to keep.",
                remedy="Begin again.",
            )
        if kind.place not in futures:
            of_kind = land.plots[kind.place]
            futures[kind.place] = futures_of(of_kind, terms.courses, terms.starts, terms.rules, terms.asked)
        columns += columns_of(plot, futures[kind.place], terms.rules, terms.asked)
        waiting[kind.place] -= 1
        if not waiting[kind.place]:
            del futures[kind.place]
    return columns


def _curve(made: Model, best: Solution, solver: Solver) -> tuple[CurvePoint, ...]:
    """Plans from the most oak to the most money: the oak that is left where the plan must be worth so much more."""
    richest = solving.solve(made, made.value, solver)
    if richest is None:
        return ()
    own = _point(made, best, is_this_plan=True)
    most = float(made.value[list(richest.chosen)].sum())
    points: list[CurvePoint] = []
    start = richest.chosen
    # Each plan is worth enough for the one before it, whose search begins at it.
    for part in range(_POINTS - 1, 0, -1):
        least = own.value_usd + (most - own.value_usd) * part / (_POINTS - 1)
        # The last point gives the solver the room of its own gap.
        row = models.value_row(made.columns, least - abs(most) * solver.gap)
        solution = solving.solve(made, made.oak, solver, extra=(row,), start=start)
        if solution:
            points, start = [_point(made, solution, is_this_plan=False), *points], solution.chosen
    return tuple(dict.fromkeys([own, *points]))


def _point(made: Model, solution: Solution, *, is_this_plan: bool) -> CurvePoint:
    oak, value = _comes_to(made, solution)
    works = sum(made.columns[place].works for place in solution.chosen)
    return CurvePoint(oak_ac=oak, value_usd=value, works=works, is_this_plan=is_this_plan)


def _comes_to(made: Model, solution: Solution) -> tuple[float, float]:
    chosen = [made.columns[place] for place in solution.chosen]
    return sum(column.oak_ac for column in chosen), sum(column.value_usd for column in chosen)


def _settled(made: Model, best: Solution, solver: Solver, has_money: bool) -> tuple[SettledPrice, ...]:
    """Each pin and each stand left alone priced: the best plan without it, less this one."""
    oak, value = _comes_to(made, best)
    prices = []
    for key in (key for key in made.keys if key.kind in (PIN, ALONE)):
        freer = solving.solve(models.without(made, (key,)), made.oak, solver, start=best.chosen)
        if freer is not None:
            more_oak, more_value = _comes_to(made, freer)
            gain = more_value - value if has_money else None
            prices.append(SettledPrice(kind=key.kind, subject=key.subject, oak_ac=more_oak - oak, value_usd=gain))
    return tuple(prices)


def _must_pass(chosen: list[Column], land: Property, terms: Terms) -> None:
    """No plan is told that the second checker does not accept."""
    broken = check.breaches(chosen, [plot.stand for plot in land.plots], terms.limits, land.touching, terms.on.year)
    if broken:
        raise AssertionError(f"the plan breaks its own limits: {'; '.join(broken)}")


def _drawn_anew(land: Property, chosen: list[Column], terms: Terms, step: Step) -> list[Fresh]:
    by_stand = {column.stand: column for column in chosen}
    fresh = []
    for done, plot in enumerate(land.plots):
        step(len(land.plots) + 1 + done, f"judging {plot.stand}")
        column = by_stand[plot.stand]
        fresh.append(
            judging.fresh(plot, column, terms.rules, years=terms.limits.years, paths=terms.paths, seed=terms.seed + 1)
        )
    return fresh


def _told(land: Property, terms: Terms, made: _Made, before: tuple[int, Plan] | None) -> Plan:
    has_money = bool(land.price_list)
    by_stand = {one.column.stand: one for one in made.found}
    of_kind = {
        plot.stand: (land.plots[kind.place].stand, kind.distance)
        for plot, kind in zip(land.plots, made.kinds, strict=True)
        if land.plots[kind.place] is not plot
    }
    stands = tuple(
        replace(
            _stand_plan(column, by_stand[column.stand].column, terms.on.year, has_money),
            mark=land.marks.get(column.stand, ""),
            kind=of_kind.get(column.stand, ("", 0.0))[0],
            kind_distance=of_kind.get(column.stand, ("", 0.0))[1],
        )
        for column in made.chosen
    )
    ordering = [
        orders.Ordering(
            one.column,
            plot.work,
            land.advice[plot.stand],
            None if not has_money else one.paths.first_usd if one.paths else {},
        )
        for plot in land.plots
        for one in (by_stand[plot.stand],)
    ]
    return Plan(
        on=terms.on,
        years=terms.limits.years,
        rules_version=terms.rules.version,
        draws=terms.draws,
        seed=terms.seed,
        acres=sum(plot.area_ac for plot in land.plots),
        limits=terms.limits,
        touching=land.touching,
        without_outline=land.without_outline,
        without_age=tuple(plot.stand for plot in land.plots if plot.age_yr is None),
        price_list=land.price_list,
        stands=stands,
        not_planned=land.not_planned,
        oak_ac=sum(column.oak_ac for column in made.chosen),
        value_usd=sum(one.column.value_usd for one in made.found) if has_money else None,
        gap=made.best.gap,
        in_time=made.best.in_time,
        stopped=made.stopped,
        own_chosen=made.own_chosen,
        curve=made.curve,
        settled=made.settled,
        judged=judging.judged(made.found, terms.limits, paths=terms.paths, seed=terms.seed + 1, has_money=has_money),
        orders=orders.orders_of(ordering, terms.rules),
        differing=orders.differing(ordering, stands),
        before=before[0] if before else None,
        moved=orders.moved_since(before[1], stands, terms.rules.version, terms.limits.stands()) if before else (),
        free_works=_free(land, stands) if has_money else (),
        left_out=tuple(course.name for course in terms.courses if not countable(course)),
    )


def _free(land: Property, stands: Sequence[StandPlan]) -> tuple[str, ...]:
    """Planned works that the price list has no cost for."""
    planned = {work.operation for stand in stands for work in stand.works}
    moneys = [plot.money for plot in land.plots if plot.money is not None]
    costs = {
        name: max(
            (money.planted_each_usd if name == PLANTING else money.costs_usd_ac.get(entry, 0.0) for money in moneys),
            default=0.0,
        )
        for name, entry in COST_ENTRIES.items()
    }
    return tuple(name for name in OPERATIONS if name in planned and costs.get(name) == 0)


def _stand_plan(chosen: Column, drawn: Column, begin_year: int, has_money: bool) -> StandPlan:
    works = tuple(
        Work(operation=operation, year=year, chance=chance, standing=standing(year))
        for operation, year, chance in orders.years_of(drawn)
    )
    return StandPlan(
        stand=chosen.stand,
        area_ac=chosen.area_ac,
        course=chosen.course,
        begins=None if chosen.is_idle else begin_year + chosen.start_yr,
        oak_chance=drawn.oak_chance,
        oak_error=drawn.oak_error,
        drawn_chance=chosen.oak_chance,
        value_usd=drawn.value_usd if has_money else None,
        works=works,
        later_share=float((drawn.opened < 0).mean()) if not chosen.is_idle else 0.0,
    )
