"""A second look at a plan by other means than made it: every limit held against the chosen columns, one by one, in
plain sums."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from overwood.judgement.plan.columns import LEAVE_ALONE, Column
from overwood.judgement.plan.limits import Limits, periods

_SLACK = 1 / 1_000_000


def breaches(
    chosen: Sequence[Column],
    stands: Iterable[str],
    limits: Limits,
    touching: Sequence[tuple[str, str]],
    begin_year: int,
) -> list[str]:
    """What a plan breaks, in words; nothing where it keeps every limit."""
    breaches = []
    names = [column.stand for column in chosen]
    if sorted(names) != sorted(stands):
        breaches.append("not every stand has one course")
    by_stand = {column.stand: column for column in chosen}
    breaches += [words for words in _loads(chosen, limits)]
    breaches += [
        f"{one} and {other} are opened too close upon each other"
        for one, other in touching
        if _is_near(by_stand[one], by_stand[other], limits)
    ]
    breaches += list(_too_large(chosen, limits, touching))
    for pin in limits.pins:
        column = by_stand[pin.stand]
        wrong_year = pin.begin is not None and (
            column.course == LEAVE_ALONE or begin_year + column.start_yr != pin.begin
        )
        if (pin.course and column.course != pin.course) or wrong_year:
            breaches.append(f"{pin.stand} is not as it is pinned")
    breaches += [f"{stand} is not left alone" for stand in limits.left_alone if by_stand[stand].course != LEAVE_ALONE]
    for group in limits.begin_together:
        if len({-1 if by_stand[stand].course == LEAVE_ALONE else by_stand[stand].start_yr for stand in group}) > 1:
            breaches.append(f"{', '.join(group)} do not begin together")
    value = math.fsum(column.value_usd for column in chosen)
    if limits.value_at_least_usd is not None and value < limits.value_at_least_usd - _SLACK * max(abs(value), 1.0):
        breaches.append(f"the plan is worth {value:.0f}, less than {limits.value_at_least_usd:.0f}")
    return breaches


def _loads(chosen: Sequence[Column], limits: Limits) -> Iterable[str]:
    acres = math.fsum(column.area_ac for column in chosen)
    for first, last in periods(limits.years):
        span = range(first, last + 1)
        for name, capacity in (
            ("crew_days", limits.crew_days),
            ("burn_days", limits.burn_days),
            ("spent_usd", limits.spend_usd),
        ):
            if capacity:
                load = math.fsum(float(getattr(column, name)[year]) for column in chosen for year in span)
                most = math.fsum(capacity[year] for year in span)
                if load > most + _SLACK * max(most, 1.0):
                    yield f"{name} of year {first + 1}: {load:.3f} of {most:.3f}"
        old = math.fsum(
            column.area_ac * float(column.uncut[last]) for column in chosen if column.age_yr >= limits.old_age_yr - last
        )
        if old < limits.old_share * acres - _SLACK * acres:
            yield f"old trees at the end of year {last + 1}: {old:.1f} of {limits.old_share * acres:.1f} acres"


def _is_near(one: Column, other: Column, limits: Limits) -> bool:
    """Whether two stands may not be opened as they are; with a largest opening, groups are looked at instead."""
    pairs = list(zip(one.opened.tolist(), other.opened.tolist(), strict=True))
    near = sum(1 for a, b in pairs if a >= 0 and b >= 0 and abs(a - b) < limits.apart_yr)
    return not limits.largest_ac and limits.apart_yr > 0 and near > limits.opening_chance * len(pairs) + _SLACK


def _too_large(chosen: Sequence[Column], limits: Limits, touching: Sequence[tuple[str, str]]) -> Iterable[str]:
    """Every group of touching stands, grown stand by stand, that is opened within the years on too many acres."""
    if not limits.largest_ac:
        return
    acres = {column.stand: column.area_ac for column in chosen}
    years = {column.stand: dict(enumerate(column.opened.tolist())) for column in chosen}
    touches = {stand: {b for a, b in (*touching, *((b, a) for a, b in touching)) if a == stand} for stand in acres}
    most = limits.opening_chance * len(chosen[0].opened) + _SLACK
    waiting: list[frozenset[str]] = [frozenset((stand,)) for stand in acres]
    seen: set[frozenset[str]] = set()
    while waiting:
        group = waiting.pop()
        opened = [[years[stand][draw] for stand in group] for draw in years[next(iter(group))]]
        near = sum(1 for one in opened if min(one) >= 0 and max(one) - min(one) < limits.apart_yr)
        if near <= most:
            continue
        size = math.fsum(acres[stand] for stand in group)
        if size > limits.largest_ac + _SLACK:
            yield f"{', '.join(sorted(group))} are opened together on {size:.1f} acres"
            return
        grown = {group | {stand} for one in group for stand in touches[one] - group}
        waiting += grown - seen
        seen |= grown
