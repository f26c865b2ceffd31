"""From the records of one visit to arrays: which points, which trees, and what each stands for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground.figure import Figure, Input, unmeasured
from overwood.ground.records import Point, Ring, StandFile, Tree, Visit
from overwood.ground.species import UNKNOWN
from overwood.judgement.rules import Rules
from overwood.science import survey

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Cruise:
    """The live trees of one cruise as arrays, with the points as the sample."""

    visit: Visit
    points: tuple[Point, ...]
    trees: tuple[Tree, ...]
    point: NDArray[np.int64]
    spcd: NDArray[np.int64]
    dbh_in: Array
    per_ac: Array
    crown_class: NDArray[np.str_]
    dieback_pct: Array
    crown_ratio_pct: Array
    strata_areas: dict[str, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def n(self) -> int:
        return len(self.points)

    def rows(self, mask: Mask | None = None) -> tuple[str, ...]:
        """Identifiers of the tally rows behind a selection."""
        chosen = range(len(self.trees)) if mask is None else np.flatnonzero(mask)
        return tuple(self.trees[place].id for place in chosen)

    def totals(self, amount: Array) -> Array:
        """Per-acre total of each point; points with no such tree are zeros."""
        return survey.point_totals(self.point, amount * self.per_ac, self.n)


def cruise_of(file: StandFile, visit: Visit) -> Cruise:
    """The cruise of one visit. Points outside the stand are not in the sample; trees no ring takes in are left out."""
    points = tuple(p for p in file.points if p.visit == visit.visit and p.in_stand is not False)
    place = {point.point: index for index, point in enumerate(points)}
    rings = [ring for ring in file.rings if ring.visit == visit.visit and ring.layer != "reproduction"]
    tallied = [t for t in file.trees if t.visit == visit.visit and t.point in place and t.status != "dead"]
    taken = [(tree, ring) for tree in tallied if (ring := _ring_of(tree.dbh_in, rings)) is not None]
    notes = []
    if len(taken) < len(tallied):
        notes.append(f"{len(tallied) - len(taken)} trees fit no plot ring by dbh and were not counted")
    if any(tree.species == UNKNOWN for tree in tallied):
        notes.append("trees of unknown species are counted, in no species group")
    trees = tuple(tree for tree, _ in taken)
    per_ac = [_expansion(tree, ring, points[place[tree.point]]) for tree, ring in taken]
    return Cruise(
        visit=visit,
        points=points,
        trees=trees,
        point=np.array([place[tree.point] for tree in trees], dtype=np.int64),
        spcd=np.array([tree.species for tree in trees], dtype=np.int64),
        dbh_in=np.array([tree.dbh_in for tree in trees], dtype=float),
        per_ac=np.array(per_ac, dtype=float),
        crown_class=np.array([tree.crown_class for tree in trees], dtype=np.str_),
        dieback_pct=np.array([_or_nan(tree.dieback_pct) for tree in trees], dtype=float),
        crown_ratio_pct=np.array([_or_nan(tree.crown_ratio_pct) for tree in trees], dtype=float),
        strata_areas={row.stratum: float(row.area_ac or 0) for row in file.strata},
        notes=tuple(notes),
    )


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else float(value)


def _ring_of(dbh_in: float, rings: Sequence[Ring]) -> Ring | None:
    return next((r for r in rings if (r.low_dbh_in or 0) <= dbh_in < (r.high_dbh_in or float("inf"))), None)


def _expansion(tree: Tree, ring: Ring, point: Point) -> float:
    """Trees per acre one tally line stands for, with its stems and its edge count."""
    lines = tree.stems * tree.edge_count
    if ring.design == "prism":
        return lines * float(survey.trees_per_acre_prism(ring.baf_ft2_ac or 0, tree.dbh_in))
    if ring.design == "fixed":
        return lines / float(ring.plot_area_ac or float("nan"))
    area = survey.strip_area_ac(ring.strip_width_ft or float("nan"), point.strip_length_ft or float("nan"))
    return lines / float(area)


def mean_figure(
    name: str,
    unit: str,
    totals: Array,
    points: Sequence[Point],
    *,
    rules: Rules,
    strata_areas: dict[str, float] | None = None,
    method: str,
    inputs: tuple[Input, ...] = (),
    sources: tuple[str, ...] = (),
    status: str = "measured",
    note: str = "",
) -> Figure:
    """A per-acre mean over points as a Figure: stratified where the points name strata with areas."""
    level = rules.number("interval_level")
    estimate, how = _estimate(totals, points, strata_areas or {}, level)
    if estimate.n == 0:
        return unmeasured(name, "no plot or point fell in the stand", unit)
    fewest = int(rules.number("fewest_points_for_interval"))
    notes = [note] if note else []
    if estimate.n < fewest:
        notes.append(f"{estimate.n} points are too few for an interval to be trusted; {fewest} at least")
    low, high = (None, None) if np.isnan(estimate.se) else (max(0.0, estimate.low), estimate.high)
    return Figure(
        name=name,
        value=estimate.mean,
        unit=unit,
        low=low,
        high=high,
        level=level if low is not None else None,
        n=estimate.n,
        method=f"{method}; {how}",
        sources=("freese1962", *sources),
        inputs=(*inputs, *standard_error(estimate.se, unit)),
        note="; ".join(notes),
        status=status,
    )


def tally_input(cruise: Cruise, used: Mask | None = None) -> Input:
    """The tally rows behind a figure."""
    rows = cruise.rows(used)
    return Input(name=f"tree tally of {cruise.visit.visit}", value=len(rows), unit="rows", rows=rows)


def tallied_mean(name: str, unit: str, cruise: Cruise, amount: Array, *, used: Mask, rules: Rules, method: str, **more: Any) -> Figure:
    """A per-acre mean of an amount of each tallied tree; ``used`` says which trees stand behind it."""
    totals, inputs = cruise.totals(amount), (tally_input(cruise, used),)
    return mean_figure(
        name, unit, totals, cruise.points, rules=rules, strata_areas=cruise.strata_areas, method=method, inputs=inputs, **more
    )


def standard_error(se: float, unit: str) -> tuple[Input, ...]:
    """The standard error as an input that a figure shows; nothing where one point allows none."""
    return () if np.isnan(se) else (Input(name="standard error", value=float(se), unit=unit),)


def _estimate(totals: Array, points: Sequence[Point], strata_areas: dict[str, float], level: float) -> tuple[survey.Estimate, str]:
    names = [point.stratum for point in points]
    strata = sorted(set(names))
    if len(strata) > 1 and all(strata_areas.get(name) for name in strata):
        parts = [totals[[n == name for n in names]] for name in strata]
        variances = [part.var(ddof=1) if len(part) > 1 else 0.0 for part in parts]
        estimate = survey.stratified_mean(
            [part.mean() for part in parts],
            variances,
            [len(part) for part in parts],
            [strata_areas[name] for name in strata],
            level=level,
        )
        return estimate, f"area-weighted over {len(strata)} strata, t-interval by Satterthwaite"
    return survey.sample_mean(totals, level=level), "mean over points, t-interval"


def ratio_figure(
    name: str,
    top: Array,
    bottom: Array,
    *,
    rules: Rules,
    method: str,
    inputs: tuple[Input, ...],
    unit: str = "share",
    sources: tuple[str, ...] = (),
    status: str = "measured",
) -> Figure:
    """One total divided by another measured on the same points: a share, or a mean a tree."""
    n, level = len(top), rules.number("interval_level")
    if n == 0 or bottom.sum() <= 0:
        return unmeasured(name, "nothing to divide by was tallied", unit)
    ratio, se = survey.ratio_of_means(top, bottom) if n > 1 else (float(top.sum() / bottom.sum()), float("nan"))
    half = float(survey.t_quantile(level, n - 1)) * se if n > 1 else float("nan")
    high = ratio + half if unit != "share" else min(1.0, ratio + half)
    return Figure(
        name=name,
        value=ratio,
        unit=unit,
        low=None if n < 2 else max(0.0, ratio - half),
        high=None if n < 2 else high,
        level=level if n > 1 else None,
        n=n,
        method=f"{method}; ratio of means over points, t-interval",
        sources=("cochran1977", *sources),
        inputs=(*inputs, *standard_error(se, unit)),
        status=status,
    )


def share_figure(name: str, hits: int, n: int, *, rules: Rules, method: str, inputs: tuple[Input, ...] = (), note: str = "") -> Figure:
    """A share of plots or trees with the score interval."""
    if n == 0:
        return unmeasured(name, "nothing was looked at", "share")
    level = rules.number("interval_level")
    low, high = survey.wilson_interval(hits, n, level=level)
    return Figure(
        name=name,
        value=hits / n,
        unit="share",
        low=float(low),
        high=float(high),
        level=level,
        n=n,
        method=f"{method}; {hits} of {n}, Wilson interval",
        sources=("wilson1927",),
        inputs=inputs,
        note=note,
    )
