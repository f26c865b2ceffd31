"""Planning anew each autumn, with the crop known, beside a plan made once: invented stands, the program's own model, solver and checker.

A stand is injected, then its seed cut waits for a good crop and no longer than it may. Its chance of an oak stand is good after a good crop,
else poor; what is not cut within the years comes to nothing. Both ways know the crop of the year they are in, and neither the next. Crew days
bind; what a year cannot take waits for the next.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

import plans
from overwood.judgement.plan import check, model
from overwood.judgement.plan.columns import LEAVE_ALONE
from overwood.judgement.plan.limits import Limits

GOOD_CROP = 0.3
INJECT_AC_DAY, MARK_AC_DAY = 4.0, 10.0


@dataclass(frozen=True)
class Floor:
    """A stand as it is: acres, chances of oak after a good and a poor crop, the years of its injection and its cut."""

    name: str
    area_ac: float
    good: float
    poor: float
    injected: int | None = None
    cut: int | None = None


@dataclass(frozen=True)
class Land:
    """Stands, years, crew days a year, and the longest wait for a crop."""

    floors: tuple[Floor, ...]
    years: int
    crew_days: float
    wait: int


def land(stands, years, seed, wait):
    """Crews suffice for about half of the stands in the years there are."""
    rng = np.random.default_rng(seed)
    floors = tuple(
        Floor(f"S{n + 1}", float(rng.uniform(10, 50)), float(rng.uniform(0.5, 0.9)), float(rng.uniform(0.05, 0.3))) for n in range(stands)
    )
    work = sum(one.area_ac for one in floors) * (1 / INJECT_AC_DAY + 1 / MARK_AC_DAY)
    return Land(floors, years, max(0.5 * work / years, max(one.area_ac for one in floors) / INJECT_AC_DAY), wait)


def _column(of, floor, injected, first, now, is_good):
    """Injected in a year, cut in the first good crop from ``first`` on, or when the wait is over; loads and chances from ``now`` on."""
    crew, oak, left, last = np.zeros(of.years), 0.0, 1.0, min(first + of.wait, of.years - 1)
    if injected >= now:
        crew[injected] += floor.area_ac / INJECT_AC_DAY
    opened = np.full(10, -1)
    for year in range(first, last + 1):
        good = float(is_good) if year == now else GOOD_CROP
        goes = 1.0 if year == last else good
        crew[year] += left * goes * floor.area_ac / MARK_AC_DAY
        oak += left * (good * floor.good + (goes - good) * floor.poor)
        left *= 1 - goes
    return plans.column(
        floor.name, f"from {first}", injected, of.years, area_ac=floor.area_ac, oak_chance=oak, crew_days=crew, opened=opened, works=0.0
    )


def chosen(of, now, is_good):
    """The plan of every stand as it is in a year whose crop is known: year of injection and first year of the cut, None where left alone."""
    columns, means = [], []
    for floor in of.floors:
        columns.append(plans.column(floor.name, LEAVE_ALONE, 0, of.years, area_ac=floor.area_ac))
        means.append(None)
        if floor.cut is None:
            begun = range(now, of.years - 1) if floor.injected is None else (floor.injected,)
            ways = [(injected, first) for injected in begun for first in range(max(injected + 1, now), of.years)]
            ways = [way for way in ways if not of.wait or floor.injected is not None or way[1] == way[0] + 1]
            columns += [_column(of, floor, *way, now, is_good) for way in ways]
            means += ways
    limits = Limits(years=of.years, crew_days=(of.crew_days,) * of.years)
    made = model.model_of(columns, limits, [], plans.BEGIN, model.Least(wait=0.0, work=0.0))
    found = plans.solving.solve(made, made.oak, plans.solving.Solver(gap=0.01))
    picked = [columns[place] for place in found.chosen]
    assert check.breaches(picked, [floor.name for floor in of.floors], limits, [], plans.BEGIN) == []
    return {columns[place].stand: means[place] for place in found.chosen}


def _carried_out(of, plan, now, is_good):
    """The stands after the works of a year, as many as the crews can do, the dearest to the oak first."""
    days, done = of.crew_days, {}
    for floor in sorted(of.floors, key=lambda one: -one.area_ac * one.good):
        way = plan.get(floor.name)
        if way is None or floor.cut is not None:
            continue
        goes = floor.injected is not None and way[1] <= now and (is_good or now >= min(way[1] + of.wait, of.years - 1))
        begins = floor.injected is None and way[0] <= now
        takes = floor.area_ac / MARK_AC_DAY if goes else floor.area_ac / INJECT_AC_DAY if begins else 0.0
        if takes and takes <= days + 1e-9:
            days -= takes
            done[floor.name] = replace(floor, **({"cut": now} if goes else {"injected": now}))
    return replace(of, floors=tuple(done.get(floor.name, floor) for floor in of.floors))


def oak_ac(of, crops, *, rolling):
    """Acres of oak stand on a path of crops, by a plan made once or anew each year."""
    plan = {}
    for now, is_good in enumerate(crops):
        if rolling or now == 0:
            plan = chosen(of, now, is_good)
        of = _carried_out(of, plan, now, is_good)
    return sum(one.area_ac * (one.good if crops[one.cut] else one.poor) for one in of.floors if one.cut is not None)


def compared(stands, years, paths, seed=1, wait=0):
    """Acres of oak stand by the fixed plan and by rolling, path by path."""
    of, rng = land(stands, years, seed, wait), np.random.default_rng(seed)
    drawn = [[bool(good) for good in rng.random(years) < GOOD_CROP] for _ in range(paths)]
    return [(oak_ac(of, crops, rolling=False), oak_ac(of, crops, rolling=True)) for crops in drawn]
