"""What a file or a typed form would do to the book, visit by visit: shown before anything is written, and told
after."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from overwood.desk import book
from overwood.ground import plausible
from overwood.ground.records import TABLES
from overwood.ground.units import FT2_PER_IN2_OF_DBH
from overwood.memory.exchange.proposal import RowSums
from overwood.science import survey

_ORDER = ("conflict", "replaces", "grows", "adds", "new", "same")
# Tallies of points: further lines at a point that has some already change what is known of it.
_TALLIES = ("trees", "seedlings")


@dataclass(frozen=True, kw_only=True)
class Change:
    """One field that would be another: texts as a person types them, "" for a blank; ``row`` is the stored record's
    identifier."""

    table: str
    key: str
    column: str
    before: str
    after: str
    row: str = ""

    def __str__(self) -> str:
        return f"{self.column} {self.before or 'blank'} -> {self.after or 'blank'}"


@dataclass(frozen=True, kw_only=True)
class VisitTotals:
    """A visit as a whole: points in the sample, stems tallied, and per-acre numbers where its rings allow them."""

    points: int
    stems: int
    ba_ft2_ac: float | None
    trees_ac: float | None

    @property
    def stocking_pct(self) -> float | None:
        """Stocking by basal area and trees per acre; None where either was not taken or there are no trees."""
        from overwood.science.overstory import stocking_from_stand_pct

        if not self.ba_ft2_ac or not self.trees_ac:
            return None
        return stocking_from_stand_pct(self.ba_ft2_ac, self.trees_ac)[0]


@dataclass(frozen=True, kw_only=True)
class VisitReview:
    """What comes in for one visit. ``rows`` counts by table what is new; ``clashes`` are keys that would be in dispute.

    ``grown`` are points of which the book held a tally and that get further lines of it. ``stays`` are lines of the
    book at points of the file that the file does not have.
    """

    visit: str
    stand: str
    kind: str
    visited_on: dt.date | None
    state: str
    rows: Mapping[str, int]
    same: int
    changes: tuple[Change, ...]
    clashes: tuple[str, ...]
    withdrawn: tuple[str, ...]
    grown: tuple[str, ...]
    stays: tuple[str, ...]
    before: VisitTotals | None
    after: VisitTotals
    # Stocking of a cruise that is more than can be believed; None where it is not.
    overfull_pct: float | None = None


def _overfull_pct(kind: str, after: VisitTotals) -> float | None:
    stocking = after.stocking_pct if kind == "cruise" else None
    return stocking if stocking is not None and stocking > plausible.limit("plausible_stocking_pct") else None


@dataclass(frozen=True, kw_only=True)
class RecordReview:
    """What comes in for one record outside visits."""

    table: str
    key: str
    mark: str
    state: str
    changes: tuple[Change, ...]


@dataclass(frozen=True, kw_only=True)
class Review:
    """What the whole would do, held against the book of ``data_version``."""

    visits: tuple[VisitReview, ...] = ()
    others: tuple[RecordReview, ...] = ()
    sums: RowSums | None = None
    data_version: str = ""
    is_typed: bool = False

    @property
    def replaces(self) -> tuple[str, ...]:
        """Marks of what needs a person's yes: visits by name, other records as table and key.

        A file that adds stems to points of a tally needs one too: it may be another tally of the same points.
        """
        asked = ("replaces", "conflict") if self.is_typed else ("replaces", "conflict", "grows")
        visits = [one.visit for one in self.visits if one.state in asked]
        return (*visits, *(one.mark for one in self.others if one.state in ("replaces", "conflict")))

    @property
    def adds_only(self) -> bool:
        """Whether nothing stored is changed, withdrawn or disputed."""
        return not self.replaces


@dataclass
class _Part:
    """What is collected under one mark."""

    rows: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    same: int = 0
    changes: list[Change] = field(default_factory=list)
    clashes: list[str] = field(default_factory=list)
    withdrawn: list[str] = field(default_factory=list)
    grown: dict[str, None] = field(default_factory=dict)
    stays: list[str] = field(default_factory=list)
    keys: dict[str, str] = field(default_factory=dict)
    was_there: bool = False

    @property
    def state(self) -> str:
        if self.clashes:
            return "conflict"
        if self.changes or self.withdrawn:
            return "replaces"
        if self.grown:
            return "grows"
        if sum(self.rows.values()) == 0:
            return "same"
        return "adds" if self.was_there else "new"


class Ledger:
    """Collects what an entry does, row by row, and makes the review of it."""

    def __init__(self) -> None:
        self.visits: dict[str, _Part] = defaultdict(_Part)
        self.others: dict[tuple[str, str], _Part] = defaultdict(_Part)
        self.before: dict[str, VisitTotals] = {}
        self.looked: set[str] = set()
        self.tallied: dict[str, set[tuple[str, str]]] = defaultdict(set)

    def part(self, table: str, key: tuple[Any, ...]) -> _Part:
        if TABLES[table].key[0] == "visit":
            return self.visits[str(key[0])]
        return self.others[table, " ".join(map(str, key))]

    def look_before(self, visits: Iterable[str]) -> None:
        """Take down the totals of visits that the book holds, before anything of them changes."""
        unseen = set(visits) - self.looked
        self.looked |= unseen
        self.before |= totals(unseen)
        for table in _TALLIES:
            self.tallied[table] |= _tallied(table, unseen)
        for visit in unseen & self.before.keys():
            self.visits[visit].was_there = True

    def add(self, table: str, key: tuple[Any, ...]) -> None:
        """Take down a row that is new to the book."""
        part = self.part(table, key)
        part.rows[table] += 1
        if table in _TALLIES and key[:2] in self.tallied[table]:
            part.grown[str(key[1])] = None

    def review(self, sums: RowSums | None, data_version: str, *, is_typed: bool) -> Review:
        """The review, once every row went in: to be asked before the transaction ends."""
        heads, after = _heads(self.visits), totals(self.visits)
        nothing = VisitTotals(points=0, stems=0, ba_ft2_ac=None, trees_ac=None)
        visits = [
            VisitReview(
                visit=visit,
                stand=heads[visit].stand if visit in heads else "",
                kind=heads[visit].kind if visit in heads else "",
                visited_on=heads[visit].visited_on if visit in heads else None,
                state=part.state,
                rows=dict(part.rows),
                same=part.same,
                changes=tuple(part.changes),
                clashes=tuple(part.clashes),
                withdrawn=tuple(part.withdrawn),
                grown=tuple(part.grown),
                stays=tuple(sorted(part.stays)),
                before=self.before.get(visit),
                after=after.get(visit, nothing),
                overfull_pct=_overfull_pct(heads[visit].kind if visit in heads else "", after.get(visit, nothing)),
            )
            for visit, part in self.visits.items()
        ]
        others = [
            RecordReview(table=table, key=key, mark=f"{table} {key}", state=part.state, changes=tuple(part.changes))
            for (table, key), part in self.others.items()
        ]
        visits.sort(key=lambda one: (_ORDER.index(one.state), one.visit))
        others.sort(key=lambda one: (_ORDER.index(one.state), one.mark))
        return Review(
            visits=tuple(visits), others=tuple(others), sums=sums, data_version=data_version, is_typed=is_typed
        )


def _tallied(table: str, visits: set[str]) -> set[tuple[str, str]]:
    """Visit and point of every line of a tally that is in force."""
    return {(visit, point) for visit, point in book.store.columns_of(table, ("visit", "point"), visits)}


def _heads(visits: Iterable[str]) -> dict[str, Any]:
    return {row.visit: row for row in book.store.in_slices("visits", "visit", set(visits))}


def totals(visits: Iterable[str]) -> dict[str, VisitTotals]:
    """Totals of the named visits that the current view holds.

    Sources: the expansion of a stem by ``science.survey``, as the evidence has it; live trees, points in the stand.
    """
    wanted = set(visits)
    heads = _heads(wanted)
    points = _points(
        book.store.columns_of(
            "points", ("visit", "point", "in_stand", "strip_length_ft", "baf_ft2_ac", "plot_area_ac"), heads
        )
    )
    rings: dict[str, list[Any]] = defaultdict(list)
    for ring in book.store.in_slices("rings", "visit", heads):
        rings[ring.visit].append(ring)
    trees: dict[str, list[Any]] = defaultdict(list)
    for row in book.store.columns_of("trees", ("visit", "point", "dbh_in", "stems", "edge_count", "status"), heads):
        trees[row[0]].append(row)
    young: dict[str, int] = defaultdict(int)
    for visit, stems in book.store.columns_of("seedlings", ("visit", "stems"), heads):
        young[visit] += stems or 0
    mapped = Counter(visit for (visit,) in book.store.columns_of("stems", ("visit",), heads))
    return {
        visit: _totals(points.get(visit, {}), rings[visit], trees[visit], young[visit] + mapped[visit])
        for visit in heads
    }


# Length of a strip, ft; factor, ft2/ac, and plot area, ac, where the point has one of its own for the overstory.
_PointSize = tuple[float | None, float | None, float | None]


def _points(rows: Iterable[tuple[Any, ...]]) -> dict[str, dict[str, _PointSize]]:
    """Points in the sample of each visit, with how large they are."""
    points: dict[str, dict[str, _PointSize]] = defaultdict(dict)
    for visit, point, in_stand, length, factor, area in rows:
        if in_stand is not False:
            points[visit][point] = (length, factor, area)
    return points


def _totals(points: dict[str, _PointSize], rings: list[Any], trees: list[tuple[Any, ...]], others: int) -> VisitTotals:
    stems = sum(row[3] or 1 for row in trees) + others
    taken = [ring for ring in rings if ring.layer != "reproduction"]
    if not points or not taken:
        return VisitTotals(points=len(points), stems=stems, ba_ft2_ac=None, trees_ac=None)
    live = [row for row in trees if row[5] != "dead" and row[1] in points]
    per_ac = np.zeros(len(live))
    dbh_in = np.array([row[2] for row in live], dtype=float)
    lines = np.array([(row[3] or 1) * (row[4] or 1) for row in live], dtype=float)
    size = np.array([points[row[1]] for row in live], dtype=float).reshape(-1, 3)
    free = np.ones(len(live), dtype=bool)
    for ring in taken:
        here = free & (dbh_in >= (ring.low_dbh_in or 0)) & (dbh_in < (ring.high_dbh_in or np.inf))
        per_ac[here] = lines[here] * _expansion(ring, dbh_in[here], size[here])
        free &= ~here
    ba_ft2_ac = float((per_ac * FT2_PER_IN2_OF_DBH * dbh_in**2).sum() / len(points))
    trees_ac = float(per_ac.sum() / len(points))
    if not np.isfinite([ba_ft2_ac, trees_ac]).all():
        return VisitTotals(points=len(points), stems=stems, ba_ft2_ac=None, trees_ac=None)
    return VisitTotals(points=len(points), stems=stems, ba_ft2_ac=ba_ft2_ac, trees_ac=trees_ac)


def _expansion(ring: Any, dbh_in: Any, size: Any) -> Any:
    """Trees per acre that each stem of a ring stands for; the overstory by the factor or plot area of its point where
    it has one."""
    length_ft, factor, area = size.T
    if ring.design == "prism":
        usual = survey.trees_per_acre_prism(ring.baf_ft2_ac or np.nan, dbh_in)
    elif ring.design == "fixed":
        usual = np.full(len(dbh_in), 1 / (ring.plot_area_ac or np.nan))
    else:
        usual = 1 / survey.strip_area_ac(ring.strip_width_ft or np.nan, length_ft)
    if ring.layer != "overstory":
        return usual
    own = np.where(np.isnan(factor), 1 / area, survey.trees_per_acre_prism(factor, dbh_in))
    return np.where(np.isnan(own), usual, own)
