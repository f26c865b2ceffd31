"""Openings of touching stands: which columns of two exclude each other, and which groups come to more acres than the
largest opening may have."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.plan.columns import Column
from overwood.judgement.plan.limits import Limits
from overwood.judgement.plan.rows import APART, LARGEST, Key, Row

Array = NDArray[np.float64]
Places = NDArray[np.int64]
Years = NDArray[np.int8]
_EPS = 1 / 1_000_000
# Groups told at once of those that begin at one stand: their rows break most of the others too.
_AT_ONCE = 3
# A row of a group grows by what breaks the limit with every choice of the others, up to so many choices.
_MOST_CHOICES = 300


@dataclass(frozen=True)
class Pair:
    """Columns of two touching stands, and which of the one exclude which of the other, of shape (ones, others)."""

    key: Key
    ones: Places
    others: Places
    is_near: NDArray[np.bool_]

    def exclusions(self, left: Places) -> Iterable[Row]:
        """Rows that keep the pair apart among some columns: sets of which each of the one excludes each of the other,
        as large as can be."""
        ones, others = np.isin(self.ones, left), np.isin(self.others, left)
        near = self.is_near[np.ix_(ones, others)]
        seen = set()
        for excluded in np.unique(near[near.any(axis=1)], axis=0):
            mine = (near >= excluded).all(axis=1)
            theirs = near[mine].all(axis=0)
            if mine.tobytes() + theirs.tobytes() not in seen:
                seen.add(mine.tobytes() + theirs.tobytes())
                yield self._one_of(self.ones[ones][mine], self.others[others][theirs])

    def broken(self, shares: Array) -> Iterable[Row]:
        """Exclusions that shares of columns break, found from the columns that are chosen in part."""
        mine, theirs = shares[self.ones], shares[self.others]
        if not (self.is_near[mine > _EPS][:, theirs > _EPS]).any():
            return
        seen = set()
        for place in np.flatnonzero(mine > _EPS):
            left = (self.is_near >= self.is_near[place]).all(axis=1)
            right = self.is_near[left].all(axis=0)
            if mine[left].sum() + theirs[right].sum() > 1 + 10 * _EPS and left.tobytes() not in seen:
                seen.add(left.tobytes())
                yield self._one_of(self.ones[left], self.others[right])

    def _one_of(self, ones: Places, others: Places) -> Row:
        return _at_most(self.key, [*ones.tolist(), *others.tolist()], 1)


def _at_most(key: Key, places: Sequence[int], most: int) -> Row:
    return Row(key, tuple(places), (1.0,) * len(places), -np.inf, float(most))


@dataclass(frozen=True)
class Openings:
    """Which stands touch, and what may be opened of them within the years: one, or up to so many acres.

    Of three and more there are too many groups to hold each from the start: ``found`` are the rows of those that some
    choice has broken.
    """

    columns: tuple[Column, ...] = field(repr=False)
    places: Mapping[str, Sequence[int]] = field(repr=False)
    limits: Limits
    touching: tuple[tuple[str, str], ...]
    found: list[Row] = field(default_factory=list, repr=False)

    @cached_property
    def _areas(self) -> dict[str, float]:
        return {stand: self.columns[own[0]].area_ac for stand, own in self.places.items()}

    @cached_property
    def _near(self) -> dict[str, list[str]]:
        near: dict[str, set[str]] = {stand: set() for stand in self.places}
        for one, other in self.touching:
            near[one].add(other)
            near[other].add(one)
        return {stand: sorted(others) for stand, others in near.items()}

    def too_large(self) -> Iterable[Row]:
        """A stand that alone is larger than the largest opening is not opened."""
        for stand, own in self.places.items():
            if self._passes(self._areas[stand]):
                held = [place for place in own if self._often((self.columns[place].opened >= 0).mean())]
                yield _at_most(Key(LARGEST, stand), held, 0)

    def pairs(self) -> Iterable[Pair]:
        """Touching stands with the columns that would too often be opened close upon each other."""
        largest = self.limits.largest_ac
        for one, other in sorted({tuple(sorted(pair)) for pair in self.touching}):
            if largest and (
                not self._passes(self._areas[one] + self._areas[other])
                or any(self._passes(self._areas[stand]) for stand in (one, other))
            ):
                continue
            ones, others = self.places[one], self.places[other]
            chances = _near_chances(self._opened(ones), self._opened(others), self.limits.apart_yr)
            is_near = chances > self.limits.opening_chance
            if is_near.any():
                key = Key(LARGEST if largest else APART, f"{one} and {other}")
                yield Pair(key, np.array(ones), np.array(others), is_near)

    def broken(self, chosen: Sequence[int]) -> list[Row]:
        """Rows that a choice breaks, one for each group of three stands and more that it opens within the years on too
        many acres."""
        if not self.limits.largest_ac:
            return []
        by_stand = {self.columns[place].stand: place for place in chosen}
        years = {stand: self.columns[place].opened for stand, place in by_stand.items()}
        groups: set[frozenset[str]] = set()
        for stand in sorted(by_stand):
            begun = _Group((stand,), self._areas[stand], years[stand], years[stand])
            for number, group in enumerate(self._grown(begun, years, set())):
                groups.add(frozenset(group))
                if number + 1 == _AT_ONCE:
                    break
        rows = [row for group in sorted(groups, key=sorted) for row in self._rows(sorted(group), by_stand)]
        self.found.extend(rows)
        return rows

    def _grown(
        self, group: _Group, years: Mapping[str, Places], seen: set[frozenset[str]]
    ) -> Iterator[tuple[str, ...]]:
        """Groups that grow from one by stands that touch it, opened together too often and on too many acres."""
        for stand in sorted({other for one in group.stands for other in self._near[one]} - set(group.stands)):
            more = group.joined(stand, self._areas[stand], years[stand])
            if frozenset(more.stands) in seen or not self._often(more.together(self.limits.apart_yr).mean()):
                continue
            seen.add(frozenset(more.stands))
            if self._passes(more.area_ac):
                yield more.stands
            else:
                yield from self._grown(more, years, seen)

    def _rows(self, stands: Sequence[str], by_stand: Mapping[str, int]) -> Iterable[Row]:
        """Columns of a group of which any choice opens it too often, as this one does: not one of each.

        They begin as those that are opened in the same years of enough draws as the chosen ones, and grow by every
        column that breaks the limit with all the others; once from each stand, for each gives another row.
        """
        apart, places = self.limits.apart_yr, [np.array(self.places[stand], dtype=np.int64) for stand in stands]
        chosen = np.array([self.columns[by_stand[stand]].opened for stand in stands])
        draws = np.flatnonzero((chosen >= 0).all(axis=0) & (np.ptp(chosen, axis=0) < apart))
        opened = [self._opened(self.places[stand]) for stand in stands]
        first = chosen[:, draws].min(axis=0)
        same = [(one[:, draws] >= first) & (one[:, draws] < first + apart) for one in opened]
        need = int(self.limits.opening_chance * chosen.shape[1] + _EPS) + 1
        most = np.argsort(-np.sum([one.sum(axis=0) for one in same], axis=0), kind="stable")[:need]
        begun = [one[:, most].all(axis=1) for one in same]
        groups = set()
        for turn in range(len(stands)):
            held = list(begun)
            for place in (*range(turn, len(stands)), *range(turn)):
                held[place] = held[place] | self._break_with_all(opened[place], opened, held, place)
            if (mark := b"".join(one.tobytes() for one in held)) not in groups:
                groups.add(mark)
                listed = np.concatenate([own[one] for own, one in zip(places, held, strict=True)])
                yield _at_most(Key(LARGEST, ", ".join(stands)), listed.tolist(), len(stands) - 1)

    def _break_with_all(
        self, candidates: Years, opened: Sequence[Years], held: Sequence[NDArray[np.bool_]], but: int
    ) -> NDArray[np.bool_]:
        """Which columns of a stand break the limit with every choice of what is held of the others; none where there
        are too many choices to look at each."""
        others = [one[own] for place, (one, own) in enumerate(zip(opened, held, strict=True)) if place != but]
        if np.prod([len(one) for one in others]) > _MOST_CHOICES:
            return np.zeros(len(candidates), dtype=bool)
        first = last = others[0]
        for one in others[1:]:
            first = np.minimum(first[:, None], one).reshape(-1, one.shape[1])
            last = np.maximum(last[:, None], one).reshape(-1, one.shape[1])
        near = [
            (np.minimum(first, own) >= 0) & (np.maximum(last, own) - np.minimum(first, own) < self.limits.apart_yr)
            for own in candidates
        ]
        return np.array([self._often(one.mean(axis=1).min()) for one in near])

    def _opened(self, places: Sequence[int]) -> Years:
        return np.array([self.columns[place].opened for place in places], dtype=np.int8)

    def _passes(self, area_ac: float) -> bool:
        return 0 < self.limits.largest_ac < area_ac - _EPS

    def _often(self, share: float) -> bool:
        return share > self.limits.opening_chance + _EPS


@dataclass(frozen=True)
class _Group:
    """Stands that touch, their acres, and the first and last year in which they are opened in each draw, -1 first where
    one never is."""

    stands: tuple[str, ...]
    area_ac: float
    first: Places
    last: Places

    def joined(self, stand: str, area_ac: float, opened: Places) -> _Group:
        first, last = np.minimum(self.first, opened), np.maximum(self.last, opened)
        return _Group((*self.stands, stand), self.area_ac + area_ac, first, last)

    def together(self, apart_yr: int) -> NDArray[np.bool_]:
        return np.asarray((self.first >= 0) & (self.last - self.first < apart_yr))


def _near_chances(left: Years, right: Years, apart_yr: int) -> Array:
    """Chances of all pairs, of shape (ones, others)."""
    near_chances = np.empty((len(left), len(right)))
    for place, opened in enumerate(left):
        near = (opened >= 0) & (right >= 0) & (np.abs(right - opened) < apart_yr)
        near_chances[place] = near.mean(axis=1)
    return near_chances
