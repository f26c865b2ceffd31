"""Invented columns of a plan, made from a seed: for tests of the plan and for its bench."""

from __future__ import annotations

import itertools

import numpy as np

from overwood.judgement.plan import check, model, solving
from overwood.judgement.plan.columns import BURN, INJECTION, LEAVE_ALONE, OPERATIONS, REMOVAL, SEED_CUT, Column
from overwood.judgement.plan.limits import Limits, Pin

BEGIN = 2026
LEAST = model.Least(wait=0.005, work=0.01)


def column(stand, course="two cuts", start_yr=0, years=5, draws=4, **told):
    """A column that does nothing and costs nothing, but for what is told."""
    none = np.zeros(years)
    values = {
        "area_ac": 20.0, "oak_chance": 0.0, "oak_error": 0.0, "value_usd": 0.0, "chances": np.zeros((len(OPERATIONS), years)), "crew_days": none,
        "burn_days": none, "spent_usd": none, "earned_usd": none, "uncut": np.ones(years), "works": 0.0, "opened": np.full(draws, -1), "sold": np.full(draws, -1),
        "age_yr": 100.0,
    }  # fmt: skip
    return Column(stand=stand, course=course, start_yr=start_yr, **(values | told))


def _age(area):
    """Some stands grow old within a plan, most are old."""
    return 74 + area


def _drawn(rng, stand, area, course, start, years, draws):
    wait = rng.integers(0, 4, draws)
    cut = start + 1 + wait
    opened = cut + rng.integers(1, 5, draws)
    grid = np.arange(years)
    chances = np.zeros((len(OPERATIONS), years))
    chances[OPERATIONS.index(INJECTION)] = grid == start
    chances[OPERATIONS.index(BURN)] = 0.7 * (grid == start + 1) if course % 2 else 0
    chances[OPERATIONS.index(SEED_CUT)] = (cut[:, None] == grid).mean(axis=0)
    chances[OPERATIONS.index(REMOVAL)] = (opened[:, None] == grid).mean(axis=0)
    crew = area / 4 * chances[0] + area / 10 * chances[OPERATIONS.index(SEED_CUT)]
    return Column(
        stand=stand, course=f"course {course}", start_yr=start, area_ac=area, oak_chance=float(rng.uniform(0.1, 0.9)), oak_error=0.05,
        value_usd=float(area * rng.uniform(200, 2500) * 0.98**start), chances=chances, crew_days=crew,
        burn_days=np.ceil(area / 60) * chances[OPERATIONS.index(BURN)], spent_usd=area * 165 * chances[0], earned_usd=np.zeros(years),
        uncut=(cut[:, None] > grid).mean(axis=0), age_yr=_age(area), works=3.0, opened=np.where(opened < years, opened, -1), sold=np.where(cut < years, cut, -1),
    )  # fmt: skip


def invented(stands, courses, starts, years, seed, draws=40):
    """Columns of so many stands, each also left alone."""
    rng = np.random.default_rng(seed)
    columns = []
    for number in range(stands):
        name, area = f"S{number + 1}", float(rng.uniform(8, 60))
        columns.append(column(name, LEAVE_ALONE, years=years, draws=draws, area_ac=area, age_yr=_age(area)))
        columns += [_drawn(rng, name, area, course, start, years, draws) for course in range(courses) for start in starts]
    return columns


def bound_by(columns, years, seed):
    """Limits that bind these columns, and pairs of stands that touch."""
    rng = np.random.default_rng(seed)
    names = list(model.places_of(columns))
    acres = sum({column.stand: column.area_ac for column in columns}.values())
    listed = {
        "crew_days": (float(acres / 4 / years * rng.uniform(1, 3)),) * years, "burn_days": (float(rng.integers(0, 2)),) * years,
        "spend_usd": (float(acres * 165 / years * rng.uniform(1, 3)),) * years, "apart_yr": int(rng.integers(3, 6)),
        "old_share": float(rng.uniform(0.2, 0.6)), "pins": (Pin(stand=names[0], begin=BEGIN + 1),), "left_alone": (names[-1],),
        "begin_together": ((names[1], names[2]),),
    }  # fmt: skip
    told = {name: value for name, value in listed.items() if rng.random() < 0.5}
    if "apart_yr" in told and rng.random() < 0.7:
        told["largest_ac"] = float(rng.uniform(30, 110))
    limits = Limits(years=years, opening_chance=0.1, old_age_yr=85, **told)
    return limits, [(one, other) for one, other in itertools.pairwise(names)]


def best_by_hand(columns, limits, touching):
    """The largest objective over every choice of columns that the checker accepts; None where it accepts none."""
    by_stand = [[columns[place] for place in places] for places in model.places_of(columns).values()]
    names = list(model.places_of(columns))
    worth = {id(one): one.area_ac * (one.oak_chance - 0.005 * one.start_yr - 0.01 * one.works) for one in columns}
    for chosen in sorted(itertools.product(*by_stand), key=lambda some: -sum(worth[id(one)] for one in some)):
        if not check.breaches(chosen, names, limits, touching, BEGIN):
            return sum(worth[id(one)] for one in chosen)
    return None


def planned(columns, limits, touching, gap=0.0):
    """The model and what the solver makes of it."""
    made = model.model_of(columns, limits, touching, BEGIN, LEAST)
    return made, solving.solve(made, made.oak, solving.Solver(gap=gap))
