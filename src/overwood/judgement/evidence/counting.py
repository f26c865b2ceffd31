"""The plots of one count of the floor, and what they took in."""

from __future__ import annotations

import functools
import math
import statistics
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures, tables
from overwood.ground.figure import Input
from overwood.ground.once import Once
from overwood.ground.records import Point, Ring, Seedling, StandFile, Visit
from overwood.ground.species import by_code
from overwood.ground.vocabulary import HEIGHT_CLASSES
from overwood.judgement.evidence import looked
from overwood.judgement.evidence.tally import Array, Group, group_of
from overwood.judgement.rules import Rules
from overwood.science import reproduction as science
from overwood.science import survey

HEIGHTS_FT = (1.0, 3.0, 4.5)
# The height in the name of the figure on competitors.
RIVAL_FT = HEIGHTS_FT[1]


@dataclass(frozen=True)
class Count(Once):
    """The reproduction plots of one visit."""

    visit: Visit
    ring: Ring
    points: tuple[Point, ...]
    lines: tuple[Seedling, ...]
    # Areas of the plots in their order, where they differ.
    areas_ac: tuple[float, ...] = ()

    @property
    def n(self) -> int:
        return len(self.points)

    @property
    def plot_ac(self) -> float:
        """Area of a plot; of plots that differ the mean, so that a mean count over it is all stems over all ground."""
        return sum(self.areas_ac) / self.n if self.areas_ac else float(self.ring.plot_area_ac or float("nan"))

    @property
    def follows_rule_plot(self) -> bool:
        """Whether the plots are of the size the stocked-plot rule was made for."""
        return all(science.same_plot_size(area, rule_plot_ac()) for area in self.areas_ac or (self.plot_ac,))

    @functools.cached_property
    def look(self) -> looked.Look:
        """Heights and kinds the plots took in."""
        heights = [low_height_ft(line) for line in self.lines if line.stems > 0]
        return looked.floor_look(self.ring, min(heights, default=None))

    def not_looked_at(self, kinds: frozenset[str], low_ft: float, high_ft: float) -> str:
        """What of some kinds and heights was not looked at, in words; nothing where all was."""
        missed = looked.kinds_missed((self.look,), kinds)
        if missed:
            return f"count {self.visit.visit} did not look for {' and '.join(sorted(missed))}"
        gap = looked.size_missed((self.look,), kinds, low_ft, high_ft)
        if gap is None:
            return ""
        upper = "or taller" if gap[1] == math.inf else f"to {measures.amount(gap[1], 'ft', 'g')}"
        return f"stems of {measures.amount(gap[0], 'ft', 'g')} {upper} were not counted on {self.visit.visit}"

    def not_reached(self, kinds: frozenset[str], at_ft: float) -> str:
        """Why stems of a height were not counted at all, in words; nothing where they were, if perhaps not the
        tallest."""
        if at_ft < self.look.high and kinds <= self.look.kinds and at_ft >= self.look.low:
            return ""
        return self.not_looked_at(kinds, at_ft, math.inf)

    @functools.cached_property
    def group(self) -> Group:
        """The group or line each plot stands in; None where all stand alone."""
        return group_of([point.cluster for point in self.points])

    @property
    def places(self) -> int:
        """How many groups and lone plots there are."""
        return self.n if self.group is None else int(np.unique(self.group).size)

    def by_place(self, has: Array) -> tuple[Array, Array] | None:
        """Plots that have it and plots looked at, place by place; None where every plot stands alone."""
        if self.group is None:
            return None
        return survey.point_totals(self.group, has, self.places), survey.point_totals(
            self.group, np.ones(self.n), self.places
        )

    def per_plot(self, lines: list[Seedling]) -> Array:
        counts = np.zeros(self.n)
        np.add.at(counts, self.plots_of(lines), [line.stems for line in lines])
        return counts

    def plots_of(self, lines: list[Seedling]) -> NDArray[np.int64]:
        """The plot that each line stands on, by its place."""
        return np.array([self._place[line.point] for line in lines], dtype=np.int64)

    def oaks_by_plot(self, at_least_ft: float) -> Array:
        """Oaks of a height or taller on each plot; nobody writes into it."""
        return self.once(("oaks by plot", at_least_ft), lambda: self.per_plot(tall_oaks(self, at_least_ft)))

    @functools.cached_property
    def _place(self) -> dict[str, int]:
        return {point.point: index for index, point in enumerate(self.points)}

    @functools.cached_property
    def plots_input(self) -> Input:
        """The plots, as every figure of the count shows them."""
        return Input(name="plots", value=self.n, unit="plots", rows=tuple(point.id for point in self.points))

    @functools.cached_property
    def seen(self) -> tuple[tuple[bool, float, Seedling], ...]:
        """Each line of stems: whether of oaks, and the height it has reached for certain [ft]."""
        oaks = {code: by_code(code).is_oak for code in {one.species for one in self.lines}}
        return tuple((oaks[one.species], low_height_ft(one), one) for one in self.lines if one.stems > 0)


def height_ft(line: Seedling, rules: Rules) -> float:
    """Height of a tally line: as measured, or the middle of its class (open_class_height_ft for the open last
    class)."""
    if line.height_ft is not None:
        return float(line.height_ft)
    low, high = HEIGHT_CLASSES.get(line.height_class, (0.0, 0.0))
    return rules.number("open_class_height_ft") if high > 20 else (low + high) / 2


def low_height_ft(line: Seedling) -> float:
    """The height a line has reached for certain: as measured, or the lower limit of its class."""
    if line.height_ft is not None:
        return float(line.height_ft)
    return HEIGHT_CLASSES.get(line.height_class, (0.0, 0.0))[0]


def count_of(file: StandFile, visit: Visit, *, fenced: bool = False) -> Count | None:
    """The plots of one visit, outside a deer fence or inside; None without any, or where the visit does not say how
    large they were."""
    return file.once(("count", visit.visit, fenced), lambda: _count_of(file, visit, fenced))


def _count_of(file: StandFile, visit: Visit, fenced: bool) -> Count | None:
    ring = next((r for r in file.rings if r.visit == visit.visit and r.layer == "reproduction"), None)
    points = tuple(
        p for p in file.points if p.visit == visit.visit and p.in_stand is not False and bool(p.fenced) == fenced
    )
    if ring is None or not ring.plot_area_ac or not points:
        return None
    names = {point.point for point in points}
    lines = tuple(line for line in file.seedlings if line.visit == visit.visit and line.point in names)
    return Count(visit, ring, points, lines, _areas(file, ring, points))


def _areas(file: StandFile, ring: Ring, points: tuple[Point, ...]) -> tuple[float, ...]:
    """Areas of plots that differ; a size of a point's own speaks of the overstory where the visit tallied one."""
    if any(other.visit == ring.visit and other.layer == "overstory" for other in file.rings):
        return ()
    areas = tuple(float(point.plot_area_ac or ring.plot_area_ac or math.nan) for point in points)
    return areas if len(set(areas)) > 1 or areas[0] != ring.plot_area_ac else ()


def rule_plot_ac() -> float:
    """The plot that the stocked-plot rule was made for [ac]."""
    return 1 / tables.constants(science.TABLE)["plots_per_acre"]


def plot_ac(file: StandFile, visit: Visit | None) -> float:
    """Size of most plots of a count [ac]; that of the rule where there was none."""
    count = count_of(file, visit) if visit else None
    if count is None:
        return rule_plot_ac()
    return statistics.mode(count.areas_ac) if count.areas_ac else count.plot_ac


def tall_oaks(count: Count, at_least_ft: float) -> list[Seedling]:
    """Oak lines of a height or taller; nobody writes into it."""
    return count.once(
        ("oaks", at_least_ft), lambda: [line for is_oak, low, line in count.seen if is_oak and low >= at_least_ft]
    )


def plot_inputs(count: Count, lines: list[Seedling], name: str = "") -> tuple[Input, ...]:
    """The tally rows and the plots behind a figure."""
    label = name or f"reproduction tally of {count.visit.visit}"
    return (
        Input(name=label, value=len(lines), unit="rows", rows=tuple(line.id for line in lines)),
        count.plots_input,
    )


def tall_rivals(count: Count) -> list[Seedling]:
    """Lines of other species as tall as the figure's name says, whatever an office calls waist high."""
    return [line for is_oak, low_ft, line in count.seen if not is_oak and low_ft >= RIVAL_FT]
