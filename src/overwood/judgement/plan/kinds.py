"""Kinds of stand: where there are many stands, the futures of a few are those of all that are like them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground.figure import Figure

Array = NDArray[np.float64]
# Site class, overwood, oak pool and competitors of a stand, by its figures.
FIGURES = (
    "site_index_ft", "overwood_ba_ft2_ac", "oak_stocked_1ft_share", "oak_stocked_3ft_share", "competitor_led_share",
    "browse_share",
)  # fmt: skip
MOST_KINDS = 500
_ROUNDS = 20
# Stands of one group among which those are sought that stand for others: their distances fit in 32 MB.
_ABLE = 2_000
# Stands whose distances are taken at once.
_AT_ONCE = 5_000


@dataclass(frozen=True)
class Traits:
    """What tells stands apart: what must be the same in a kind (a midstory, an opening before), and figures, not a
    number where one is not known."""

    same: tuple[bool, ...]
    figures: tuple[float, ...]


@dataclass(frozen=True)
class Kind:
    """The place of the stand whose futures are taken, and how far from it a stand is, in standard deviations of the
    figures over all stands."""

    place: int
    distance: float


def traits_of(figures: Mapping[str, Figure], stand: Mapping[str, float]) -> Traits:
    """The traits of a stand by its figures and by where its futures start."""
    numbers = [figures[name].number if figures[name].measured else np.nan for name in FIGURES]
    return Traits((stand["midstory"] > 0, stand["opened_yr"] >= 0), tuple(map(float, numbers)))


def kinds_of(stands: Sequence[Traits], most: int) -> list[Kind]:
    """The kind of each stand, of at most so many, but one at the least for each that must be the same.

    k-medoids (from memory of Kaufman and Rousseeuw 1987): from the stands that lie farthest apart (from memory of
    Gonzalez 1985), each is moved to the stand with the least sum of distances to its own, until none moves. What is not
    known is taken as the mean.
    """
    if len(stands) <= most:
        return [Kind(place, 0.0) for place in range(len(stands))]
    codes = {same: code for code, same in enumerate(sorted({one.same for one in stands}))}
    of = kinds_by(np.array([codes[one.same] for one in stands]), np.array([one.figures for one in stands]), most)
    return [Kind(place, distance) for place, distance in zip(of[0].tolist(), of[1].tolist(), strict=True)]


def kinds_by(same: NDArray[np.int64], figures: Array, most: int) -> tuple[NDArray[np.int64], Array]:
    """The same by columns: the place of the stand that stands for each stand, and its distance.

    Among very many stands those that may stand for others are an even choice of some thousands.
    """
    points, codes = _scaled(figures), np.unique(same)
    places, distances = np.zeros(len(same), dtype=np.int64), np.zeros(len(same))
    for code in codes:
        own = np.flatnonzero(same == code)
        able = own[np.unique(np.linspace(0, len(own) - 1, min(len(own), _ABLE)).astype(np.int64))]
        apart = _apart(points[able], points[able])
        count = max(1, (most - len(codes)) * len(own) // len(same) + 1)
        medoids = able[_medoids(apart, min(count, len(able)))]
        for first in range(0, len(own), _AT_ONCE):
            some = own[first : first + _AT_ONCE]
            far = _apart(points[some], points[medoids])
            nearest = far.argmin(axis=1)
            places[some], distances[some] = medoids[nearest], far[np.arange(len(some)), nearest]
    return places, distances


def _apart(some: Array, others: Array) -> Array:
    """Distances between stands."""
    square = np.zeros((len(some), len(others)))
    for one, other in zip(some.T, others.T, strict=True):
        square += np.subtract.outer(one, other) ** 2
    return np.sqrt(square)


def _scaled(figures: Array) -> Array:
    """Figures in standard deviations from their mean."""
    known = np.isfinite(figures)
    count = np.maximum(known.sum(axis=0), 1)
    mean = np.where(known, figures, 0.0).sum(axis=0) / count
    apart = np.where(known, figures - mean, 0.0)
    spread = np.sqrt((apart**2).sum(axis=0) / count)
    return np.asarray(apart / np.where(spread > 0, spread, 1.0))


def _medoids(apart: Array, count: int) -> NDArray[np.int64]:
    """Which stands stand for the others, by all distances between them."""
    chosen = [int(apart.sum(axis=0).argmin())]
    while len(chosen) < count:
        chosen.append(int(apart[:, chosen].min(axis=1).argmax()))
    medoids = np.array(sorted(chosen))
    for _ in range(_ROUNDS):
        nearest = apart[:, medoids].argmin(axis=1)
        held = [np.flatnonzero(nearest == place) for place in range(len(medoids))]
        moved = np.array(sorted(int(own[apart[np.ix_(own, own)].sum(axis=0).argmin()]) for own in held if len(own)))
        if np.array_equal(moved, medoids):
            break
        medoids = moved
    return medoids
