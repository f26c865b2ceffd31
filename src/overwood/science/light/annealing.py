"""The search for leave trees, compiled: one tree flips at a time, and every sum it is judged by follows in the same
step."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overwood.science.light.shadow import kernel

Array = NDArray[np.float64]
# Places of the running sums; the sums of the further wants follow.
INSIDE, BA, QUALITY_BA, COVERED, OAKS, WHITE, KEPT, CLOSE, MORE = range(9)


class Terms(NamedTuple):
    """What does not change during a search: shadows, seed reach, neighbors, amounts of each tree, wants and weights."""

    first: NDArray[np.int64]
    place: NDArray[np.int32]
    factor: NDArray[np.float32]
    ways: int
    core: NDArray[np.bool_]
    reach_first: NDArray[np.int64]
    reach: NDArray[np.int64]
    near_first: NDArray[np.int64]
    near: NDArray[np.int64]
    oak: NDArray[np.bool_]
    white: NDArray[np.bool_]
    ba: Array
    quality: Array
    amounts: Array
    base: Array
    low: Array
    high: Array
    weight: Array
    light_low: float
    light_high: float
    cover: float
    light_weight: float
    quality_weight: float
    cover_weight: float
    group_weight: float
    spacing_weight: float


class Standing(NamedTuple):
    """What changes: what passes by cell and direction, light, trees standing, oaks over each cell, near leave trees,
    sums."""

    passing: Array
    light: Array
    standing: NDArray[np.bool_]
    covered: NDArray[np.int32]
    close: NDArray[np.int64]
    sums: Array


@kernel
def flip(terms, now, tree):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Cut a standing tree or put a cut one back; light and every sum follow."""
    standing = now.standing[tree]
    sign = -1 if standing else 1
    _turn(terms, now, tree, standing)
    if terms.oak[tree]:
        for at in range(terms.reach_first[tree], terms.reach_first[tree + 1]):
            cell = terms.reach[at]
            before = now.covered[cell] > 0
            now.covered[cell] += sign
            if terms.core[cell]:
                now.sums[COVERED] += (now.covered[cell] > 0) - before
    for at in range(terms.near_first[tree], terms.near_first[tree + 1]):
        other = terms.near[at]
        before = now.close[other] > 0
        now.close[other] += sign
        if now.standing[other]:
            now.sums[CLOSE] += (now.close[other] > 0) - before
    now.sums[CLOSE] += sign * (now.close[tree] > 0)
    now.sums[BA] += sign * terms.ba[tree]
    now.sums[QUALITY_BA] += sign * terms.ba[tree] * terms.quality[tree]
    now.sums[OAKS] += sign * terms.oak[tree]
    now.sums[WHITE] += sign * (terms.oak[tree] and terms.white[tree])
    now.sums[KEPT] += sign
    for want in range(len(terms.low)):
        now.sums[MORE + want] += sign * terms.amounts[want, tree]
    now.standing[tree] = not standing


@kernel
def _turn(terms, now, tree, standing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Take a standing tree's factors out of what passes, or multiply them in; the light changes by the difference."""
    cell, stop, change = -1, 0, 0.0
    for entry in range(terms.first[tree], terms.first[tree + 1]):
        at = terms.place[entry]
        if at >= stop:
            if cell >= 0:
                _change(terms, now, cell, change)
            cell, change = at // terms.ways, 0.0
            stop = (cell + 1) * terms.ways
        before = now.passing[at]
        after = before / terms.factor[entry] if standing else before * terms.factor[entry]
        now.passing[at] = after
        change += after - before
    if cell >= 0:
        _change(terms, now, cell, change)


@kernel
def _change(terms, now, cell, change):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    before = now.light[cell]
    after = before + change
    now.light[cell] = after
    if terms.core[cell]:
        was = terms.light_low <= before <= terms.light_high
        now.sums[INSIDE] += (terms.light_low <= after <= terms.light_high) - was


@kernel
def shortfall(terms, now, cells):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """What the wants other than light fall short, weighted; 0 where all are met."""
    total = 0.0
    for want in range(len(terms.low)):
        got = terms.base[want] + now.sums[MORE + want]
        scale = terms.high[want] if math.isfinite(terms.high[want]) else terms.low[want]
        total += terms.weight[want] * max(0.0, terms.low[want] - got, got - terms.high[want]) / scale
    total += terms.cover_weight * max(0.0, terms.cover - now.sums[COVERED] / cells)
    if now.sums[OAKS] > 0 and (now.sums[WHITE] == 0 or now.sums[WHITE] == now.sums[OAKS]):
        total += terms.group_weight
    if now.sums[KEPT] > 0:
        total += terms.spacing_weight * now.sums[CLOSE] / now.sums[KEPT]
    return total


@kernel
def worth(terms, now, cells):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Area in the band, a little for the quality kept, less what each other want falls short."""
    mean = now.sums[QUALITY_BA] / max(now.sums[BA], 1e-9)
    light = terms.light_weight * now.sums[INSIDE] / cells
    return light + terms.quality_weight * mean - shortfall(terms, now, cells)


@kernel
def _move(terms, now, tree, other):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Flip a tree, and with it another where one of the two stands and the other does not: an exchange of places."""
    exchange = other >= 0 and now.standing[tree] != now.standing[other]
    flip(terms, now, tree)
    if exchange:
        flip(terms, now, other)
    return exchange


@kernel
def anneal(terms, now, trees, others, chances, heats, cells, best, best_standing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Some moves in a row; ``best`` holds whether the best so far meets every want but the light, and its worth."""
    value = worth(terms, now, cells)
    for move in range(len(trees)):
        exchange = _move(terms, now, trees[move], others[move])
        tried = worth(terms, now, cells)
        if tried >= value or chances[move] < math.exp((tried - value) / heats[move]):
            value = tried
            meets = 1.0 if shortfall(terms, now, cells) < 1e-12 else 0.0
            if meets > best[0] or (meets == best[0] and value > best[1]):
                best[0], best[1] = meets, value
                best_standing[:] = now.standing
        else:
            flip(terms, now, trees[move])
            if exchange:
                flip(terms, now, others[move])
