"""From the records of one visit to arrays: which points, which trees, and what each stands for."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from overwood.ground import measures
from overwood.ground.deciding import covers_stand, inside_ac, is_inside
from overwood.ground.figure import Figure, Input, unmeasured
from overwood.ground.once import Once
from overwood.ground.records import Point, Ring, StandFile, Stem, StemMap, Tree, Visit
from overwood.ground.species import UNKNOWN
from overwood.judgement.evidence import looked
from overwood.judgement.rules import Rules
from overwood.science import intervals, survey

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


Group = NDArray[np.int64] | None


def group_of(names: Sequence[str]) -> Group:
    """A number for each named group, and one of its own for what stands alone; None where all stand alone."""
    if not any(names):
        return None
    _, group = np.unique(
        [f"in {name}" if name else f"alone {place}" for place, name in enumerate(names)], return_inverse=True
    )
    return group.astype(np.int64)


@dataclass(frozen=True)
class Cruise(Once):
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
    rings: tuple[Ring, ...] = ()
    smallest_dbh_in: dict[str, float] = field(default_factory=dict)

    @property
    def n(self) -> int:
        return len(self.points)

    @functools.cached_property
    def group(self) -> Group:
        """The group or line each point stands in; None where all stand alone."""
        return group_of([point.cluster for point in self.points])

    @property
    def is_map(self) -> bool:
        """Whether every stem was mapped, so that there is no sampling error."""
        return self.visit.kind == "stem map"

    def rows(self, mask: Mask | None = None) -> tuple[str, ...]:
        """Identifiers of the tally rows behind a selection."""
        return self._ids if mask is None else tuple(itertools.compress(self._ids, mask.tolist()))

    @functools.cached_property
    def _ids(self) -> tuple[str, ...]:
        return tuple(tree.id for tree in self.trees)

    def totals(self, amount: Array) -> Array:
        """Per-acre total of each point; points with no such tree are zeros."""
        return survey.point_totals(self.point, amount * self.per_ac, self.n)


def cruise_of(file: StandFile, visit: Visit) -> Cruise:
    """The cruise of one visit. Points outside the stand are not in the sample; trees no ring takes in are left out."""
    return file.once(("cruise", visit.visit), lambda: _cruise_of(file, visit))


def _cruise_of(file: StandFile, visit: Visit) -> Cruise:
    if visit.kind == "stem map":
        return _mapped(file, visit)
    points = tuple(p for p in file.points if p.visit == visit.visit and p.in_stand is not False)
    place = {point.point: index for index, point in enumerate(points)}
    rings = looked.nested([ring for ring in file.rings if ring.visit == visit.visit and ring.layer != "reproduction"])
    tallied = [t for t in file.trees if t.visit == visit.visit and t.point in place]
    ringed = [(tree, ring) for tree in tallied if (ring := _ring_of(tree.dbh_in, rings)) is not None]
    taken = [(tree, ring) for tree, ring in ringed if tree.status != "dead"]
    trees = tuple(tree for tree, _ in taken)
    return _cruise(
        file, visit, points, trees, [place[tree.point] for tree in trees], _expansions(taken,
            [points[place[tree.point]] for tree in trees]),
        notes=(*_cruise_notes(tallied, trees, rings), *_own_size_notes(points)), rings=rings,
        smallest_dbh_in=_smallest(ringed),
    )  # fmt: skip


def _mapped(file: StandFile, visit: Visit) -> Cruise:
    """A stem map as a cruise of everything in it: one plot of the size of the block inside its buffer."""
    block = next((row for row in file.stem_maps if row.visit == visit.visit), None)
    if block is None:
        return _cruise(file, visit, (), (), [], [])
    stems = [stem for stem in file.stems if stem.visit == visit.visit and is_inside(block, stem.east_ft, stem.north_ft)]
    trees = [_tree_of(stem) for stem in stems]
    ring = next((row for row in file.rings if row.visit == visit.visit and row.layer != "reproduction"), None)
    ring = ring or Ring(visit=visit.visit, layer="overstory", design="fixed", plot_area_ac=inside_ac(block))
    smallest = {ring.layer: min(tree.dbh_in for tree in trees)} if trees else {}
    notes = (
        ("trees of unknown species are counted, in no species group",)
        if any(t.species == UNKNOWN for t in trees)
        else ()
    )
    return _cruise(
        file, visit, (Point(visit=visit.visit, point="map"),), trees, [0] * len(trees),
        [1 / inside_ac(block)] * len(trees),
        notes=(*notes, *_part_mapped(file, block)), rings=(ring,), smallest_dbh_in=smallest,
    )  # fmt: skip


def _tree_of(stem: Stem) -> Tree:
    ratio: float | None = None
    if stem.height_ft and stem.crown_base_ft is not None:
        ratio = 100 * max(stem.height_ft - stem.crown_base_ft, 0.0) / stem.height_ft
    return Tree(
        id=stem.id, visit=stem.visit, point="map", tree=stem.stem, species=stem.species, dbh_in=stem.dbh_in,
        crown_class=stem.crown_class,
        height_ft=stem.height_ft, crown_ratio_pct=ratio, dieback_pct=stem.dieback_pct, grade=stem.grade,
    )  # fmt: skip


def _part_mapped(file: StandFile, block: StemMap) -> tuple[str, ...]:
    if covers_stand(file.stand.area_ac, block):
        return ()
    of = f" of {measures.digits(file.stand.area_ac, 'ac', 'g')}" if file.stand.area_ac else ""
    return (
        f"the map covers {measures.digits(inside_ac(block), 'ac', '.3g')}{of} "
        f"{measures.unit_word('acres')}: figures are of the mapped block",
    )


def _cruise_notes(tallied: Sequence[Tree], taken: Sequence[Tree], rings: Sequence[Ring]) -> tuple[str, ...]:
    live = [tree for tree in tallied if tree.status != "dead"]
    notes = []
    if len(taken) < len(live):
        notes.append(f"{len(live) - len(taken)} trees fit no plot ring by dbh and were not counted")
    if any(tree.species == UNKNOWN for tree in live):
        notes.append("trees of unknown species are counted, in no species group")
    if len(rings) > 1 and all(ring.low_dbh_in is None and ring.high_dbh_in is None for ring in rings):
        notes.append("the rings do not say which sizes each takes in: every tree is counted by the first")
    return tuple(notes)


def _own_size_notes(points: Sequence[Point]) -> tuple[str, ...]:
    sizes = {(point.baf_ft2_ac, point.plot_area_ac) for point in points} - {(None, None)}
    return ("points with a factor or plot area of their own are reckoned with it",) if sizes else ()


def _smallest(ringed: Sequence[tuple[Tree, Ring]]) -> dict[str, float]:
    """The thinnest stem tallied on each ring, dead ones too: it speaks where a ring does not say its least dbh."""
    smallest: dict[str, float] = {}
    for tree, ring in ringed:
        smallest[ring.layer] = min(smallest.get(ring.layer, tree.dbh_in), tree.dbh_in)
    return smallest


def looks_of(cruise: Cruise, rules: Rules) -> tuple[looked.Look, ...]:
    """What each ring of a cruise took in."""
    smallest = cruise.smallest_dbh_in.get
    return cruise.once(
        ("looks", *(rules.number(name) for name in looked.LIMITS)),
        lambda: tuple(looked.tree_look(ring, smallest(ring.layer), rules) for ring in cruise.rings),
    )


def _cruise(
    file: StandFile,
    visit: Visit,
    points: Sequence[Point],
    trees: Sequence[Tree],
    point: list[int],
    per_ac: ArrayLike,
    **more: Any,
) -> Cruise:
    return Cruise(
        visit=visit,
        points=tuple(points),
        trees=tuple(trees),
        point=np.array(point, dtype=np.int64),
        spcd=np.array([tree.species for tree in trees], dtype=np.int64),
        dbh_in=np.array([tree.dbh_in for tree in trees], dtype=float),
        per_ac=np.array(per_ac, dtype=float),
        crown_class=np.array([tree.crown_class for tree in trees], dtype=np.str_),
        dieback_pct=np.array([tree.dieback_pct for tree in trees], dtype=float),
        crown_ratio_pct=np.array([tree.crown_ratio_pct for tree in trees], dtype=float),
        strata_areas={row.stratum: float(row.area_ac or 0) for row in file.strata},
        **more,
    )


def _ring_of(dbh_in: float, rings: Sequence[Ring]) -> Ring | None:
    for ring in rings:
        if (ring.low_dbh_in or 0) <= dbh_in < (ring.high_dbh_in or math.inf):
            return ring
    return None


def _expansions(taken: Sequence[tuple[Tree, Ring]], points: Sequence[Point]) -> Array:
    """Trees per acre that each tally line stands for, at its point: those of prisms all at once."""
    at = [_ring_at(point, ring) for (_, ring), point in zip(taken, points, strict=True)]
    is_prism = np.array([ring.design == "prism" for ring in at], dtype=bool)
    per_ac, lines = np.zeros(len(taken)), np.array([tree.stems * tree.edge_count for tree, _ in taken], dtype=float)
    baf, dbh = (
        np.array([ring.baf_ft2_ac or 0.0 for ring in at]),
        np.array([tree.dbh_in for tree, _ in taken], dtype=float),
    )
    per_ac[is_prism] = lines[is_prism] * survey.trees_per_acre_prism(baf[is_prism], dbh[is_prism])
    for place in np.flatnonzero(~is_prism):
        per_ac[place] = _expansion(*taken[int(place)], points[int(place)])
    return per_ac


def _expansion(tree: Tree, ring: Ring, point: Point) -> float:
    """Trees per acre one tally line stands for, with its stems and its edge count."""
    lines = tree.stems * tree.edge_count
    ring = _ring_at(point, ring)
    if ring.design == "prism":
        return lines * float(survey.trees_per_acre_prism(ring.baf_ft2_ac or 0, tree.dbh_in))
    if ring.design == "fixed":
        return lines / float(ring.plot_area_ac or float("nan"))
    area = survey.strip_area_ac(ring.strip_width_ft or float("nan"), point.strip_length_ft or float("nan"))
    return lines / float(area)


def _ring_at(point: Point, ring: Ring) -> Ring:
    """The ring as it was laid out at a point: the overstory may have a factor or plot area of its own there."""
    if ring.layer != "overstory" or not (point.baf_ft2_ac or point.plot_area_ac):
        return ring
    design = "prism" if point.baf_ft2_ac else "fixed"
    return replace(ring, design=design, baf_ft2_ac=point.baf_ft2_ac, plot_area_ac=point.plot_area_ac)


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
    one: float = 0.0,
    is_whole: bool = False,
) -> Figure:
    """A per-acre mean over points as a Figure: stratified where the points name strata with areas.

    ``one`` is what one more stem would add to the total of its point, so that a count of nothing keeps an upper bound.
    Of a map of every stem (``is_whole``) the total is known.
    """
    if is_whole:
        return Figure(
            name=name, value=float(totals.mean()), unit=unit, method=f"{method}; every stem mapped, no sampling error",
            sources=sources, inputs=inputs, status=status, note=note,
        )  # fmt: skip
    level = rules.number("interval_level")
    estimate, how = _estimate(totals, points, strata_areas or {}, level, one)
    if estimate.n == 0:
        return unmeasured(name, "no plot or point fell in the stand", unit)
    notes = [note] if note else []
    notes += _few_points(estimate, rules)
    return Figure(
        name=name,
        value=estimate.mean,
        unit=unit,
        low=_finite(estimate.low),
        high=_finite(estimate.high),
        level=level,
        n=estimate.n,
        method=f"{method}; {how}",
        sources=("freese1962", "mccullagh1989", *sources),
        inputs=(*inputs, *standard_error(estimate.se, unit)),
        note="; ".join(notes),
        status=status,
    )


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _few_points(estimate: survey.Estimate, rules: Rules) -> list[str]:
    fewest = int(rules.number("fewest_points_for_interval"))
    if estimate.n < fewest:
        return [f"{estimate.n} points are too few for an interval to be trusted; {fewest} at least"]
    return []


def tally_input(cruise: Cruise, used: Mask | None = None) -> Input:
    """The tally rows behind a figure."""
    rows = cruise.rows(used)
    return Input(name=f"tree tally of {cruise.visit.visit}", value=len(rows), unit="rows", rows=rows)


def tallied_mean(
    name: str, unit: str, cruise: Cruise, amount: Array, *, used: Mask, rules: Rules, method: str, **more: Any
) -> Figure:
    """A per-acre mean of an amount of each tallied tree that is ``used``; they stand behind it."""
    if "one" not in more and used.any():
        more["one"] = float((amount * cruise.per_ac)[used].max())
    totals, inputs = cruise.totals(np.where(used, amount, 0.0)), (tally_input(cruise, used),)
    return mean_figure(
        name, unit, totals, cruise.points, rules=rules, strata_areas=cruise.strata_areas, method=method, inputs=inputs,
        is_whole=cruise.is_map, **more,
    )  # fmt: skip


def one_more(cruise: Cruise, rules: Rules, low_in: float, high_in: float, amount: Callable[[float], float]) -> float:
    """The most that one stem between two sizes would stand for an acre at its point; 0 where no ring sets a limit."""
    most = 0.0
    for ring, look in zip(cruise.rings, looks_of(cruise, rules), strict=True):
        low, high = max(low_in, look.low), min(high_in, look.high)
        if low >= high or (high == math.inf and ring.design != "prism"):
            continue
        sizes = [low or 0.5] if high == math.inf else [low or 0.5, high]
        stems = [Tree(species=UNKNOWN, dbh_in=size) for size in sizes]
        most = max(
            most,
            *(amount(stem.dbh_in) * max(_expansion(stem, ring, point) for point in cruise.points) for stem in stems),
        )
    return most


def standard_error(se: float, unit: str) -> tuple[Input, ...]:
    """The standard error as an input that a figure shows; nothing where one point allows none."""
    return () if np.isnan(se) else (Input(name="standard error", value=float(se), unit=unit),)


def _estimate(
    totals: Array, points: Sequence[Point], strata_areas: dict[str, float], level: float, one: float
) -> tuple[survey.Estimate, str]:
    group = group_of([point.cluster for point in points])
    strata = sorted({point.stratum for point in points})
    seen = "score interval for counts" if totals.any() else "none seen: exact upper bound of a count"
    if group is not None:
        seen = f"{np.unique(group).size} groups or lines of points as the sample, {seen}"
    if len(strata) > 1 and all(strata_areas.get(name) for name in strata):
        names = np.array([point.stratum for point in points])
        estimate = _stratified(totals, names, group, {name: strata_areas[name] for name in strata}, level, one)
        return estimate, f"area-weighted over {len(strata)} strata, {seen}, Satterthwaite's degrees of freedom"
    return intervals.tally_mean(totals, level=level, one=one, group=group), f"mean over points, {seen}"


def _stratified(
    totals: Array, names: NDArray[np.str_], group: Group, strata_areas: dict[str, float], level: float, one: float
) -> survey.Estimate:
    """Strata weighted by their areas, the groups of points within each as its sample."""
    areas, parts = np.array(list(strata_areas.values())), []
    for name in strata_areas:
        here = names == name
        draws = np.arange(here.sum()) if group is None else group[here]
        parts.append((intervals.group_mean(totals[here], draws), np.unique(draws).size, int(here.sum())))
    draws = [number for _, number, _ in parts]
    variances = [0.0 if math.isnan(part.se) else part.se**2 * number for part, number, _ in parts]
    estimate = survey.stratified_mean([part.mean for part, _, _ in parts], variances, draws, areas, level=level)
    heaviest = one * float((areas / areas.sum() / [plots for _, _, plots in parts]).max())
    return replace(intervals.with_skewed_ends(estimate, level=level, one=heaviest), n=len(totals))


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
    is_whole: bool = False,
    looks: int = 0,
    group: Group = None,
) -> Figure:
    """One total divided by another measured on the same points: a share, or a mean a tree. Of a map of every stem there
    is no error.

    ``looks`` is how many stems were judged; it counts where none or all of them have it, and the points show no spread.
    Points of one ``group`` are one draw.
    """
    if group is not None:
        top, bottom = (survey.point_totals(group, each, int(group.max()) + 1) for each in (top, bottom))
    n, level = len(top), rules.number("interval_level")
    if n == 0 or bottom.sum() <= 0:
        return unmeasured(name, "nothing to divide by was tallied", unit)
    ratio, se = survey.ratio_of_means(top, bottom) if n > 1 else (float(top.sum() / bottom.sum()), float("nan"))
    half = float(survey.t_quantile(level, n - 1)) * se if n > 1 else float("nan")
    low, high = max(0.0, ratio - half), ratio + half if unit != "share" else min(1.0, ratio + half)
    if unit == "share" and ratio in (0, 1) and n > 1:
        low, high = intervals.none_or_all(ratio == 1, max(looks, n), n, level=level)
    return Figure(
        name=name,
        value=ratio,
        unit=unit,
        low=None if n < 2 else low,
        high=None if n < 2 else high,
        level=None if is_whole else level,
        n=None if is_whole else n,
        method=f"{method}; "
        + ("every stem mapped, no sampling error" if is_whole else "ratio of means over points, t-interval"),
        sources=("cochran1977", *sources),
        inputs=(*inputs, *standard_error(se, unit)),
        status=status,
    )


def share_figure(
    name: str,
    hits: int,
    n: int,
    *,
    rules: Rules,
    method: str,
    inputs: tuple[Input, ...] = (),
    note: str = "",
    places: tuple[Array, Array] | None = None,
) -> Figure:
    """A share of plots, stems or trees; ``places`` gives hits and looks of each plot or place where several were looked
    at together."""
    if n == 0:
        return unmeasured(name, "nothing was looked at", "share")
    level = rules.number("interval_level")
    by_place = (np.repeat([1.0, 0.0], [hits, n - hits]), np.ones(n)) if places is None else places
    low, high = intervals.share_interval(*by_place, level=level)
    how = f"{hits} of {n}, score interval" + ("" if places is None else f", {len(by_place[0])} places as the sample")
    return Figure(
        name=name,
        value=hits / n,
        unit="share",
        low=float(low),
        high=float(high),
        level=level,
        n=n,
        method=f"{method}; {how}",
        sources=("wilson1927", "newcombe1998one", *(() if places is None else ("korn1998",))),
        inputs=inputs,
        note=note,
    )
