"""A chosen plan on fresh paths of crops and weather, which all stands share: what comes of it, and how often days or
money run out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.plan.answer import Judgement, Load
from overwood.judgement.plan.columns import Column, Paths, Plot, column_of, paths_of, simulated
from overwood.judgement.plan.limits import Limits, over, periods
from overwood.judgement.plan.rows import BURN, CREW, MONEY
from overwood.judgement.rules import Rules

Array = NDArray[np.float64]
_LOW_PCT, _HIGH_PCT = 10, 90


@dataclass(frozen=True)
class Fresh:
    """A chosen column on fresh draws; a stand left alone has no paths."""

    column: Column
    paths: Paths | None


def fresh(plot: Plot, chosen: Column, rules: Rules, *, years: int, paths: int, seed: int) -> Fresh:
    """A chosen column drawn anew."""
    if chosen.as_course is None:
        return Fresh(chosen, None)
    came = simulated(plot, (chosen.as_course,), rules, draws=paths, seed=seed)[0]
    draws = paths_of(plot, chosen.as_course, came, rules, years)
    return Fresh(column_of(plot, chosen.as_course, draws, years), draws)


def judged(columns: Sequence[Fresh], limits: Limits, *, paths: int, seed: int, has_money: bool) -> Judgement:
    """What the plan comes to over the paths: acres of oak, and every load beside what there is."""
    oak = sum((one.column.area_ac * one.paths.oak for one in columns if one.paths is not None), np.zeros(paths))
    low, high = np.percentile(oak, [_LOW_PCT, _HIGH_PCT])
    kinds = [(CREW, limits.crew_days, "crew_days"), (BURN, limits.burn_days, "burn_days")]
    kinds += [(MONEY, limits.spend_usd, "spent_usd")] if has_money else []
    loads = {kind: _summed(columns, name, (paths, limits.years)) for kind, _, name in kinds}
    return Judgement(
        paths=paths,
        seed=seed,
        oak_ac=float(oak.mean()),
        oak_low_ac=float(low),
        oak_high_ac=float(high),
        loads=tuple(load for kind, capacity, _ in kinds for load in _loads(kind, loads[kind], capacity)),
        over_any_year={
            kind: float(
                np.any([_sum(loads[kind], one) > over(capacity, one) for one in periods(limits.years)], axis=0).mean()
            )
            for kind, capacity, _ in kinds
            if capacity
        },
        together_same_year=tuple((", ".join(group), _same_year(columns, group)) for group in limits.begin_together),
    )


def _summed(columns: Sequence[Fresh], name: str, shape: tuple[int, int]) -> Array:
    return np.asarray(sum((getattr(one.paths, name) for one in columns if one.paths is not None), np.zeros(shape)))


def _loads(kind: str, loads: Array, capacity: tuple[float, ...]) -> list[Load]:
    """Period by period, as the limits hold."""
    rows = []
    for period in periods(loads.shape[1]):
        load = _sum(loads, period)
        low, high = np.percentile(load, [_LOW_PCT, _HIGH_PCT])
        most = over(capacity, period) if capacity else None
        rows.append(
            Load(
                kind=kind,
                year=period[0],
                last_year=period[1],
                capacity=most,
                mean=float(load.mean()),
                low=float(low),
                high=float(high),
                over_chance=None if most is None else float((load > most).mean()),
            )
        )
    return rows


def _sum(loads: Array, period: tuple[int, int]) -> Array:
    """Loads of each path over a period, of shape (paths,)."""
    return np.asarray(loads[:, period[0] : period[1] + 1].sum(axis=1))


def _same_year(columns: Sequence[Fresh], group: tuple[str, ...]) -> float:
    """Chance that the first sales of a group all fall in one year of the plan."""
    sold = np.array([one.column.sold for one in columns if one.column.stand in group and one.paths is not None])
    if len(sold) < len(group):
        return 0.0
    return float(((sold >= 0).all(axis=0) & (sold == sold[0]).all(axis=0)).mean())
