"""Counts set beside each other: what grew, lived and came between visits; two people on the same plots; inside and
outside a fence."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from overwood.ground import measures
from overwood.ground.records import StandFile, Visit
from overwood.ground.species import by_code
from overwood.judgement.evidence.looked import OAKS
from overwood.judgement.evidence.reproduction import HEIGHTS_FT, Count, count_of, height_ft, low_height_ft
from overwood.judgement.gates import years_since
from overwood.judgement.rules import Rules
from overwood.science import reproduction
from overwood.science.comparison import independent_difference, paired_difference, share_difference
from overwood.science.intervals import share_interval
from overwood.science.survey import Estimate


@dataclass(frozen=True)
class Measure:
    """One comparison: what, its unit, before and after (or one and the other), the difference with its interval, and
    what it means."""

    what: str
    unit: str
    before: float
    after: float
    low: float
    high: float
    word: str


@dataclass(frozen=True)
class Between:
    """Two visits of the floor: the same plots again, or new ones."""

    first: str
    later: str
    first_on: dt.date
    later_on: dt.date
    years: float
    same_plots: bool
    plots: int
    measures: tuple[Measure, ...]
    note: str = "stems are not tagged: lived and came are told by plots, growth by the tallest oak of a plot"


@dataclass(frozen=True)
class Twice:
    """Plots that two people counted."""

    count: str
    recount: str
    observers: tuple[str, str]
    plots: int
    measures: tuple[Measure, ...]


@dataclass(frozen=True)
class Fence:
    """Plots inside a deer fence beside those outside, of one visit."""

    visit: str
    on: dt.date
    fenced: int
    open: int
    measures: tuple[Measure, ...]


def between_visits(file: StandFile, rules: Rules) -> tuple[Between, ...]:
    """Growth, survival and recruitment between each count and the next."""
    counts = [count for visit in file.visits_of("reproduction") if (count := count_of(file, visit)) is not None]
    return tuple(_between(first, later, rules) for first, later in pairwise(counts))


def _between(first: Count, later: Count, rules: Rules) -> Between:
    shared = [point.point for point in first.points if point.point in {p.point for p in later.points}]
    same = len(shared) >= rules.number("same_plots_share") * min(first.n, later.n) and reproduction.same_plot_size(
        first.plot_ac, later.plot_ac
    )
    years = years_since(first.visit.visited_on, later.visit.visited_on)
    level = rules.number("interval_level")
    measures: list[Measure | None] = [_small(first, later, shared if same else None, level)]
    measures += [_stems(first, later, height, shared if same else None, level) for height in HEIGHTS_FT]
    if same:
        measures += _plot_histories(first, later, shared, years, rules)
    plots = len(shared) if same else first.n + later.n
    return Between(
        first.visit.visit, later.visit.visit, first.visit.visited_on, later.visit.visited_on, years, same, plots,
        tuple(measure for measure in measures if measure is not None),
    )  # fmt: skip


def _small(first: Count, later: Count, shared: list[str] | None, level: float) -> Measure | None:
    """Oaks under a foot, where both counts looked for them."""
    if first.not_looked_at(frozenset({OAKS}), 0.0, 1.0) or later.not_looked_at(frozenset({OAKS}), 0.0, 1.0):
        return None
    before, after = (_per_ac(count, 0.0, shared) - _per_ac(count, 1.0, shared) for count in (first, later))
    return _compared(f"oaks under {measures.amount(1, 'ft', 'g')}", before, after, shared, level)


def _per_ac(count: Count, height: float, points: list[str] | None = None) -> np.ndarray:
    """Oaks an acre of a height, plot by plot, of all plots or of those named in that order."""
    each = (
        count.per_plot([x for x in count.lines if by_code(x.species).is_oak and low_height_ft(x) >= height])
        / count.plot_ac
    )
    if points is None:
        return each
    place = {point.point: at for at, point in enumerate(count.points)}
    return each[[place[name] for name in points]]


def _stems(first: Count, later: Count, height: float, shared: list[str] | None, level: float) -> Measure:
    before, after = _per_ac(first, height, shared), _per_ac(later, height, shared)
    return _compared(f"oaks of {measures.amount(height, 'ft', 'g')} or taller", before, after, shared, level)


def _compared(what: str, before: np.ndarray, after: np.ndarray, shared: list[str] | None, level: float) -> Measure:
    """Stems an acre, plot by plot, of two counts; in pairs where the plots are the same."""
    difference = paired_difference if shared else independent_difference
    gap = difference(before, after, level=level)
    return _measure(what, "stems/ac", float(before.mean()), float(after.mean()), gap, ("more", "fewer"))


def _measure(what: str, unit: str, before: float, after: float, gap: Estimate, words: tuple[str, str]) -> Measure:
    low, high = (gap.low, gap.high) if np.isfinite(gap.se) else (float("-inf"), float("inf"))
    word = words[0] if low > 0 else words[1] if high < 0 else "no sure difference"
    return Measure(what, unit, before, after, low, high, word)


def _tallest(count: Count, rules: Rules) -> dict[str, float]:
    """Height of the tallest oak of each plot that has one."""
    tallest: dict[str, float] = {}
    for line in count.lines:
        if by_code(line.species).is_oak and line.stems > 0:
            tallest[line.point] = max(tallest.get(line.point, 0.0), height_ft(line, rules))
    return tallest


def _plot_histories(first: Count, later: Count, shared: list[str], years: float, rules: Rules) -> list[Measure | None]:
    """Growth of the best oak, plots that kept an oak of a foot, and plots that got one."""
    level = rules.number("interval_level")
    before, after = _tallest(first, rules), _tallest(later, rules)
    had = [name for name in shared if before.get(name, 0.0) >= 1.0]
    names = [name for name in had if after.get(name, 0.0) >= 1.0]
    bare = [name for name in shared if name not in had]
    came = [name for name in bare if after.get(name, 0.0) >= 1.0]
    growth = None
    if len(names) > 1 and years > 0:
        start, end = np.array([before[name] for name in names]), np.array([after[name] for name in names])
        gap = paired_difference(start, end, level=level)
        growth = Measure(
            "tallest oak of a plot",
            "ft",
            float(start.mean()),
            float(end.mean()),
            gap.low,
            gap.high,
            f"{measures.amount(gap.mean / years, 'ft a year', '+.2f')}",
        )
    return [
        growth,
        _share(f"plots that kept an oak of {measures.amount(1, 'ft', 'g')} or taller", len(names), len(had), level),
        _share(f"plots with a new oak of {measures.amount(1, 'ft', 'g')} or taller", len(came), len(bare), level),
    ]


def _share(what: str, hits: int, n: int, level: float) -> Measure | None:
    if n == 0:
        return None
    low, high = share_interval([1] * hits + [0] * (n - hits), [1] * n, level=level)
    return Measure(what, "plots", float(n), float(hits), float(low), float(high), f"{hits} of {n}")


def counted_twice(file: StandFile, rules: Rules) -> tuple[Twice, ...]:
    """Recounts by another person beside the count they check."""
    rows = []
    for visit in file.visits_of("recount"):
        nearest = _nearest(file, visit, rules.number("recount_days"))
        recount = count_of(file, visit)
        count = count_of(file, nearest) if nearest else None
        if count is None or recount is None or nearest is None:
            continue
        shared = [point.point for point in count.points if point.point in {p.point for p in recount.points}]
        if len(shared) < 2:
            continue
        rows.append(
            Twice(
                nearest.visit,
                visit.visit,
                (nearest.observer, visit.observer),
                len(shared),
                _twice(count, recount, shared, rules),
            )
        )
    return tuple(rows)


def _nearest(file: StandFile, recount: Visit, days: float) -> Visit | None:
    near = [v for v in file.visits_of("reproduction") if abs((v.visited_on - recount.visited_on).days) <= days]
    return min(near, key=lambda v: abs((v.visited_on - recount.visited_on).days), default=None)


def _twice(count: Count, recount: Count, shared: list[str], rules: Rules) -> tuple[Measure, ...]:
    level, words = rules.number("interval_level"), ("the recount finds more", "the recount finds fewer")
    rows = []
    for height in (0.0, *HEIGHTS_FT):
        one, other = _per_ac(count, height, shared), _per_ac(recount, height, shared)
        name = f"oaks of {measures.amount(height, 'ft', 'g')} or taller" if height else "all oaks"
        rows.append(
            _measure(
                name,
                "stems/ac",
                float(one.mean()),
                float(other.mean()),
                paired_difference(one, other, level=level),
                words,
            )
        )
    mine, theirs = _tallest(count, rules), _tallest(recount, rules)
    both = [name for name in shared if name in mine and name in theirs]
    if len(both) > 1:
        one, other = np.array([mine[name] for name in both]), np.array([theirs[name] for name in both])
        gap = paired_difference(one, other, level=level)
        words = ("the recount reads taller", "the recount reads shorter")
        rows.append(_measure("tallest oak of a plot", "ft", float(one.mean()), float(other.mean()), gap, words))
    return tuple(rows)


def fences(file: StandFile, rules: Rules) -> tuple[Fence, ...]:
    """Plots inside a deer fence beside those outside, visit by visit."""
    fences = []
    for visit in file.visits_of("reproduction"):
        outside, inside = count_of(file, visit), count_of(file, visit, fenced=True)
        if outside is not None and inside is not None:
            fences.append(Fence(visit.visit, visit.visited_on, inside.n, outside.n, _fence(outside, inside, rules)))
    return tuple(fences)


def _fence(outside: Count, inside: Count, rules: Rules) -> tuple[Measure, ...]:
    level, words = rules.number("interval_level"), ("more inside the fence", "fewer inside the fence")
    rows = []
    for height in HEIGHTS_FT:
        one, other = _per_ac(outside, height), _per_ac(inside, height)
        gap = independent_difference(one, other, level=level)
        rows.append(
            _measure(
                f"oaks of {measures.amount(height, 'ft', 'g')} or taller",
                "stems/ac",
                float(one.mean()),
                float(other.mean()),
                gap,
                words,
            )
        )
    one, other = (np.array(list(_tallest(count, rules).values())) for count in (outside, inside))
    if one.size and other.size:
        gap = independent_difference(one, other, level=level)
        words = ("taller inside the fence", "shorter inside the fence")
        rows.append(_measure("tallest oak of a plot", "ft", float(one.mean()), float(other.mean()), gap, words))
    bitten = [_browsed(count) for count in (outside, inside)]
    if bitten[0][1] and bitten[1][1]:
        rows.append(_browse(bitten[0], bitten[1], level))
    return tuple(rows)


def _browsed(count: Count) -> tuple[int, int]:
    lines = [x for x in count.lines if by_code(x.species).is_oak and x.browsed is not None]
    return sum(x.browsed or 0 for x in lines), sum(x.stems for x in lines)


def _browse(outside: tuple[int, int], inside: tuple[int, int], level: float) -> Measure:
    _, low, high = share_difference(*outside, *inside, level=level)
    word = "more bitten inside" if low > 0 else "fewer bitten inside" if high < 0 else "no sure difference"
    out, within = (100 * bitten / stems for bitten, stems in (outside, inside))
    return Measure("oak stems bitten", "%", out, within, 100 * low, 100 * high, word)
