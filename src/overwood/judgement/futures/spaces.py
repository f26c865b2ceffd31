"""Growing spaces of 1/735 acre made from plots of any size, so that a stand starts the same whatever plots it was
counted on.

Plots of that size are taken as they are. Of larger plots each stem falls on a space by its part of the plot; a smaller
plot is joined with what stands about it. Clumping is carried from one size to the other as clusters of stems do (a
Thomas process, ``thomas1949``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from overwood.ground.records import Seedling
from overwood.ground.species import by_code
from overwood.ground.units import FT2_PER_ACRE
from overwood.ground.vocabulary import HEIGHT_CLASSES
from overwood.judgement.evidence.reproduction import Count, height_ft
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science
from overwood.science import sample_size

# Spaces of a future at the least: fewer would add luck that a whole stand does not have.
FEWEST = 60
# Plots within so much of a space are taken as they are.
_ALIKE = 0.1
_VARIANTS = 24
_GOLDEN = (5**0.5 - 1) / 2


@dataclass(frozen=True)
class Stem:
    """One counted stem: height [ft], collar against that expected of it, species' place, and whether it is an oak, a
    pioneer or tolerant."""

    height_ft: float
    stout: float
    kind: int
    group: str


@dataclass(frozen=True)
class Made:
    """Growing spaces, so many in a row from each plot."""

    spaces: science.Counted
    per_plot: int


def from_count(count: Count, species: tuple[int, ...], rules: Rules, space_ac: float) -> Made:
    """Growing spaces from the plots of a count."""
    return made(_plots(count, species, rules), count.plot_ac, space_ac, rules.number("future_clump_radius_ft"))


def made(plots: list[list[Stem]], plot_ac: float, space_ac: float, clump_radius_ft: float) -> Made:
    """Growing spaces of ``space_ac`` from the stems of plots of ``plot_ac``."""
    if abs(plot_ac / space_ac - 1) <= _ALIKE:
        return Made(_packed(plots), 1)
    # Luck hangs on the count itself: the same count gives the same spaces, and two counts share none.
    rng = np.random.default_rng([len(plots), *(len(plot) for plot in plots)])
    change = _Change.of(plots, plot_ac, space_ac, clump_radius_ft)
    part = _thinned if plot_ac > space_ac else _joined
    return Made(
        _packed([part(plots, at, change, rng) for at in range(len(plots)) for _ in range(_VARIANTS)]), _VARIANTS
    )


@dataclass(frozen=True)
class _Change:
    """From plots to spaces: size of a space in plots, clumping k at both sizes, mean stems a plot, and all stems."""

    times: float
    plot_k: float
    space_k: float
    mean: float
    every: list[Stem]

    @staticmethod
    def of(plots: list[list[Stem]], plot_ac: float, space_ac: float, radius_ft: float) -> _Change:
        counts = np.array([len(plot) for plot in plots], dtype=float)
        k = sample_size.clumping_k(counts)
        k = float(k) if np.isfinite(k) and k > 0 else np.inf
        closer = nearness(plot_ac, radius_ft) / nearness(space_ac, radius_ft)
        every = [stem for plot in plots for stem in plot]
        return _Change(space_ac / plot_ac, k, k * closer, float(counts.mean()), every)


def nearness(area_ac: float, radius_ft: float) -> float:
    """How often two points of a round plot belong to one cluster, against two points in one place.

    The mean of exp(-r^2 / 4 s^2) over pairs of points of a disk, of which the clumping of counts is made in a Thomas
    process.
    """
    disk = np.sqrt(area_ac * FT2_PER_ACRE / np.pi)
    r = (np.arange(200) + 0.5) / 200 * 2 * disk
    half = np.clip(r / (2 * disk), 0, 1)
    # The density of the distance between two random points of a disk (line picking in a circle).
    density = 4 * r / (np.pi * disk**2) * (np.arccos(half) - half * np.sqrt(1 - half**2))
    return float((density * np.exp(-((r / (2 * radius_ft)) ** 2))).sum() / density.sum())


def _thinned(plots: list[list[Stem]], at: int, change: _Change, rng: np.random.Generator) -> list[Stem]:
    """The part of a larger plot that a space holds; closer up, clumps stand out more."""
    more = (1 + 1 / change.space_k) / (1 + 1 / change.plot_k) - 1
    dense = rng.gamma(1 / more, more) if more > 1e-9 else 1.0
    keep = min(change.times * dense, 1.0)
    return [stem for stem in plots[at] if rng.random() < keep]


def _joined(plots: list[list[Stem]], at: int, change: _Change, rng: np.random.Generator) -> list[Stem]:
    """A smaller plot with what stands about it: as much as its own stems and the clumping let expect."""
    own, about = plots[at], change.times - 1
    shared = change.plot_k / change.space_k if np.isfinite(change.plot_k) else 0.0
    alike = min(max((shared - 1 / change.times) / (1 - 1 / change.times), 0.0), 1.0)
    here = change.mean
    if np.isfinite(change.plot_k) and change.mean > 0:
        here = rng.gamma(change.plot_k + len(own)) / (change.plot_k / change.mean + 1)
    # A part of the ground about is as dense as the plot, the rest is drawn from the other plots.
    near = rng.poisson(here * about * alike)
    others = math.ceil(about)
    far = [
        stem
        for plot in rng.integers(0, len(plots), others)
        for stem in plots[plot]
        if rng.random() < (1 - alike) * about / others
    ]
    # What stands near a plot is as dense as it, but not a copy of its few stems: sizes are those of the stand.
    every = change.every
    return own + [every[pick] for pick in rng.integers(0, len(every), near)] + far if every else own


def _plots(count: Count, species: tuple[int, ...], rules: Rules) -> list[list[Stem]]:
    """Stems of each plot one by one; those of a height class spread over it."""
    place = {point.point: index for index, point in enumerate(count.points)}
    stems: list[list[Stem]] = [[] for _ in count.points]
    number = 0
    for line in count.lines:
        entry = by_code(line.species)
        group = "oak" if entry.is_oak else "pioneer" if entry.is_pioneer else "tolerant"
        kind = species.index(line.species) if entry.is_oak else -1
        for _ in range(line.stems):
            number += 1
            height = _spread(line, rules, (number * _GOLDEN) % 1.0)
            stems[place[line.point]].append(Stem(height, _stout(line, height, rules), kind, group))
    return stems


def _spread(line: Seedling, rules: Rules, share: float) -> float:
    """Height of a stem: as measured, or a place in its class, so that a class does not grow as one stem."""
    low, high = HEIGHT_CLASSES.get(line.height_class, (0.0, 0.0))
    if line.height_ft is not None or high > 20 or high <= low:
        return max(height_ft(line, rules), 0.1)
    return max(low + share * (high - low), 0.1)


def _stout(line: Seedling, height: float, rules: Rules) -> float:
    """The collar against that expected of the height; 1 where it was not measured."""
    if line.basal_diameter_in is None:
        return 1.0
    p = {
        "collar_in_at_1ft": rules.number("future_collar_in_at_1ft"),
        "collar_power": rules.number("future_collar_power"),
    }
    return float(line.basal_diameter_in / science.collar_in.py_func(height, 1.0, p))


def _packed(plots: list[list[Stem]]) -> science.Counted:
    """Stems in their places: the tallest each in one of its own, the others with the stems nearest in height; none is
    left out."""
    shape = (len(plots), science.SLOTS)
    number, heights, stout = np.zeros(shape), np.zeros(shape), np.ones(shape)
    kind, rivals = np.zeros(shape), np.zeros((2, len(plots)))
    for at, stems in enumerate(plots):
        oaks = sorted((stem for stem in stems if stem.group == "oak"), key=lambda stem: -stem.height_ft)
        for place, like in enumerate(_places(oaks)):
            number[at, place] = len(like)
            heights[at, place] = _mean([stem.height_ft for stem in like])
            stout[at, place], kind[at, place] = _mean([stem.stout for stem in like]), like[0].kind
        for row, group in enumerate(("tolerant", "pioneer")):
            rivals[row, at] = max((stem.height_ft for stem in stems if stem.group == group), default=0.0)
    return science.counted_of(number, heights, stout, kind, rivals)


def _mean(values: list[float]) -> float:
    """The mean; of one value, as of nearly every place, without numpy, which takes a hundred times as long."""
    return float(np.mean(values)) if len(values) > 1 else values[0]


def _places(oaks: list[Stem]) -> list[list[Stem]]:
    """Stems, tallest first, in at most SLOTS places."""
    alone = oaks[: science.SLOTS - 2]
    rest = oaks[science.SLOTS - 2 :]
    middle = (len(rest) + 1) // 2
    return [[stem] for stem in alone] + [part for part in (rest[:middle], rest[middle:]) if part]
