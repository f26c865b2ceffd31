"""The works of the first year as orders, held against the advice on each stand, and what moved since the plan
before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from overwood.judgement.course import Advice
from overwood.judgement.course.steps import ONE_ENTRY, all_steps, caution
from overwood.judgement.gates.windows import upcoming
from overwood.judgement.plan.answer import Differing, Moved, Plan, StandPlan, YearOrder, season_words
from overwood.judgement.plan.columns import (
    BURN,
    CROP_TREES,
    FENCE,
    INJECTION,
    LEAVE_ALONE,
    OPERATIONS,
    PLANTING,
    PREPARATORY,
    REMOVAL,
    SEED_CUT,
    Column,
    Workload,
)  # fmt: skip
from overwood.judgement.reason import Reason
from overwood.judgement.rules import Rules

# What an order of the first year is beside the advice on its stand.
ORDERED, WAITS, HELD, UNNAMED = "ordered", "waits for its gate", "held", "not named by the advice"
# The step of the advice that is the same work; a burn, planting and a fence are no steps of the advice.
_STEP = {
    INJECTION: "inject",
    SEED_CUT: "seed_cut",
    REMOVAL: "release",
    ONE_ENTRY: "release",
    CROP_TREES: "release_stems",
}
# A preparatory cut is no step of the advice either, but is felled in the season and under the cautions of a seed cut.
_LIKE = {**_STEP, PREPARATORY: "seed_cut"}
_WINDOW = {BURN: "window_burn"}
_CAUTIONS = {BURN: ("burn", "burn_law", "snags", "field"), PLANTING: ("field",), FENCE: ("field", "boundary")}
# What a work that is not sure waits for.
_GATES = {
    BURN: "waits_for_burn_day",
    SEED_CUT: "waits_for_crop",
    REMOVAL: "waits_for_oak",
    PREPARATORY: "waits_for_works",
    PLANTING: "waits_for_seed_cut",
    CROP_TREES: "waits_for_removal",
}
# A share of draws from which a work is as good as sure, and below which it is not listed.
SURE, LISTED = 995 / 1000, 5 / 1000


@dataclass(frozen=True)
class Ordering:
    """What the orders of one stand are made from: its column on fresh draws, workload and advice, and what works cost
    now, with prices."""

    column: Column
    work: Workload
    advice: Advice
    first_usd: dict[str, float] | None


def orders_of(orderings: Iterable[Ordering], rules: Rules) -> tuple[YearOrder, ...]:
    """Every work that may fall in the first year, the surest first, stand by stand."""
    listed = [order for one in orderings for order in _of_stand(one, rules)]
    return tuple(sorted(listed, key=lambda order: (_RANK[order.state], order.stand, -order.chance)))


_RANK = {ORDERED: 0, UNNAMED: 1, WAITS: 2, HELD: 3}


def _of_stand(one: Ordering, rules: Rules) -> Iterable[YearOrder]:
    column = one.column
    for place, operation in enumerate(OPERATIONS):
        chance = float(column.chances[place, 0])
        if chance < LISTED:
            continue
        step = all_steps().get(_LIKE.get(operation, ""))
        window = step.window if step else _WINDOW.get(operation, "")
        yield YearOrder(
            stand=column.stand,
            operation=operation,
            area_ac=column.area_ac,
            chance=chance,
            waits_for=Reason(_GATES[operation]) if chance < SURE and operation in _GATES else None,
            crew_days=one.work.crew_days.get(operation, 0.0) * _trees(operation, column),
            burn_days=one.work.burn_days if operation == BURN else 0.0,
            spend_usd=None if one.first_usd is None else one.first_usd.get(operation, 0.0),
            window=upcoming(rules, window, one.advice.on) if window else None,
            state=_state(operation, chance, one.advice),
            advised=one.advice.heading,
            cautions=step.cautions if step else tuple(caution(name) for name in _CAUTIONS.get(operation, ())),
        )


def differing(orderings: Iterable[Ordering], stands: Sequence[StandPlan]) -> tuple[Differing, ...]:
    """Stands whose advice names a work of the plan's kinds now, and whose plan has none of it in the first year."""
    planned = {one.stand: _planned(one) for one in stands}
    rows = []
    for one in orderings:
        same = [place for place, operation in enumerate(OPERATIONS) if _STEP.get(operation) == one.advice.step]
        if same and not any(one.column.chances[place, 0] >= LISTED for place in same):
            stand = one.column.stand
            rows.append(Differing(stand=stand, advised=one.advice.heading, planned=planned[stand]))
    return tuple(rows)


def _trees(operation: str, column: Column) -> float:
    """Planting is by the tree."""
    return column.as_course.numbers["planted_ac"] if operation == PLANTING and column.as_course else 1.0


def _state(operation: str, chance: float, advice: Advice) -> str:
    if operation not in _LIKE:
        return UNNAMED if chance >= SURE else WAITS
    if advice.step == _STEP.get(operation) and not advice.cut_in_doubt:
        return ORDERED
    return HELD if chance >= SURE else WAITS


def moved_since(
    before: Plan, stands: Sequence[StandPlan], rules_version: str, named: Iterable[str]
) -> tuple[Moved, ...]:
    """Stands planned otherwise than in the plan before, by course and calendar year, each with the first reason that
    holds."""
    old = {one.stand: one for one in before.stands}
    new = {one.stand: one for one in stands}
    limits = set(named) ^ set(before.limits.stands())
    rows = []
    for stand in sorted({*old, *new}):
        then, now = _planned(old.get(stand)), _planned(new.get(stand))
        if then != now:
            rows.append(
                Moved(
                    stand=stand,
                    before=then,
                    after=now,
                    why=_why(stand, old, new, before.rules_version != rules_version, limits),
                )
            )
    return tuple(rows)


def _planned(one: StandPlan | None) -> Reason:
    if one is None:
        return Reason("not_planned")
    if one.begins is None:
        return Reason("planned_alone", {"course": LEAVE_ALONE})
    return Reason("planned_from", {"course": one.course, "begins": season_words(one.begins)})


def _why(
    stand: str, old: Mapping[str, StandPlan], new: Mapping[str, StandPlan], has_new_rules: bool, limits: set[str]
) -> Reason:
    """The first reason that holds why a stand is planned otherwise than before."""
    if stand not in old:
        return Reason("newly_planned")
    if stand not in new:
        return Reason("no_longer_planned")
    if stand in limits:
        return Reason("limit_names_it")
    if old[stand].mark != new[stand].mark:
        return Reason("records_changed")
    return Reason("rules_changed" if has_new_rules else "others_made_room")


def years_of(column: Column) -> list[tuple[str, int, float]]:
    """Operation, year and chance of every work of a column that is worth a line."""
    listed = [
        (operation, int(year), float(column.chances[place, year]))
        for place, operation in enumerate(OPERATIONS)
        for year in np.flatnonzero(column.chances[place] >= LISTED)
    ]
    return sorted(listed, key=lambda one: (one[1], OPERATIONS.index(one[0])))
