"""Kinds of stand: where there are many stands, the futures of a few are those of all that are like them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground.figure import Figure

Array = NDArray[np.float64]
# Site class, overwood, oak pool and competitors of a stand, by its figures.
_FIGURES = (
    "site_index_ft", "overwood_ba_ft2_ac", "oak_stocked_1ft_share", "oak_stocked_3ft_share", "competitor_led_share",
    "browse_share",
)  # fmt: skip
MOST_KINDS = 500
_ROUNDS = 20


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
    numbers = [figures[name].number if figures[name].measured else np.nan for name in _FIGURES]
    return Traits((stand["midstory"] > 0, stand["opened_yr"] >= 0), tuple(map(float, numbers)))


def kinds_of(stands: Sequence[Traits], most: int) -> list[Kind]:
    """The kind of each stand, of at most so many, but one at the least for each that must be the same.

    k-medoids (from memory of Kaufman and Rousseeuw 1987): from the stands that lie farthest apart (from memory of
    Gonzalez 1985), each is moved to the stand with the least sum of distances to its own, until none moves. What is not
    known is taken as the mean.
    """
    if len(stands) <= most:
        return [Kind(place, 0.0) for place in range(len(stands))]
    points = _scaled(np.array([one.figures for one in stands]))
    kinds: list[Kind] = [Kind(0, 0.0)] * len(stands)
    groups = sorted({one.same for one in stands})
    for same in groups:
        own = np.array([place for place, one in enumerate(stands) if one.same == same])
        apart = np.linalg.norm(points[own][:, None] - points[own], axis=2)
        count = max(1, (most - len(groups)) * len(own) // len(stands) + 1)
        medoids = _medoids(apart, min(count, len(own)))
        nearest = medoids[apart[:, medoids].argmin(axis=1)]
        for place, (stand, medoid) in enumerate(zip(own.tolist(), nearest.tolist(), strict=True)):
            kinds[stand] = Kind(int(own[medoid]), float(apart[place, medoid]))
    return kinds


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
