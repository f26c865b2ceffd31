"""The search for leave trees, compiled: one tree flips at a time, and every sum it is judged by follows in the same
step."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overwood.science.light.ledger import Shadows, change
from overwood.science.light.shadow import kernel

Array = NDArray[np.float64]
# Light by few directions may change by more than there is by all: no ratio is taken to nought.
_DARK = 1e-6
# Places of the running sums; the sums of the further wants follow.
INSIDE, BA, QUALITY_BA, COVERED, OAKS, WHITE, KEPT, CLOSE, MORE = range(9)


class Terms(NamedTuple):
    """What does not change during a search: shadows, seed reach, neighbors, amounts of each tree, wants and weights."""

    shadows: Shadows
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
    light_soft: float
    slack: float
    cover: float
    light_weight: float
    quality_weight: float
    cover_weight: float
    group_weight: float
    spacing_weight: float


class Standing(NamedTuple):
    """What changes: depth by cell and way, light, what each cell counts inside the band, trees standing, oaks over each
    cell, near leave trees, sums; of each tree and cell the share of light that its next flip would leave, as last seen;
    and room for light guessed and what it counts.
    """

    depth: NDArray[np.uint16]
    light: Array
    counted: Array
    standing: NDArray[np.bool_]
    covered: NDArray[np.int32]
    close: NDArray[np.int64]
    sums: Array
    ratio: NDArray[np.float32]
    guessed: Array
    guess_counts: Array


@kernel
def flip(terms, now, tree):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Cut a standing tree or put a cut one back; light and every sum follow."""
    _shade(terms, now, tree)
    _count(terms, now, tree)


@kernel
def _count(terms, now, tree):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """A flip without its light: every other sum, and whether the tree stands."""
    sign = -1 if now.standing[tree] else 1
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
    now.standing[tree] = not now.standing[tree]


@kernel
def _shade(terms, now, tree):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """The light of a flip, the ground inside the band, and by how much the tree would change each cell back."""
    shadows, standing, more = terms.shadows, now.standing[tree], 0.0
    entry = shadows.first[tree]
    for at in range(shadows.over[tree], shadows.over[tree + 1]):
        cell, count, before = shadows.touched[at], shadows.counts[at], now.light[shadows.touched[at]]
        after = before + change(shadows, now.depth[cell], entry, count, standing)
        entry += count
        now.light[cell], now.ratio[at] = after, before / max(after, _DARK)
        counts = inside(terms, after) if terms.core[cell] else 0.0
        more += counts - now.counted[cell]
        now.counted[cell] = counts
    now.sums[INSIDE] += more


@kernel
def _guess(terms, now, tree, other):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """What the ground inside the band changes by, if each tree dims each cell by the share it did when last looked at;
    ``other`` is -1 where one tree flips alone."""
    if other < 0:
        return _guess_one(terms, now, now.light, now.counted, tree, False)
    cells, first = terms.shadows.touched, terms.shadows.over[other]
    for at in range(terms.shadows.strong[other] - first):
        cell = cells[first + at]
        now.guessed[cell], now.guess_counts[cell] = now.light[cell], now.counted[cell]
    more = _guess_one(terms, now, now.light, now.counted, tree, True)
    return more + _guess_one(terms, now, now.guessed, now.guess_counts, other, False)


@kernel
def _guess_one(terms, now, light, counted, tree, keep):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """The same for one tree, from some light and what its cells count; what comes of it is kept where another tree
    follows."""
    cells, first, more = terms.shadows.touched, terms.shadows.over[tree], 0.0
    for at in range(terms.shadows.strong[tree] - first):
        cell = cells[first + at]
        after = light[cell] * now.ratio[first + at]
        counts = inside(terms, after) if terms.core[cell] else 0.0
        more += counts - counted[cell]
        if keep:
            now.guessed[cell], now.guess_counts[cell] = after, counts
    return more


@kernel
def inside(terms, light):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Part of a cell that counts as inside the band: 1 well inside, 0 well outside, half at an end."""
    within = min(light - terms.light_low, terms.light_high - light)
    return min(max(within / terms.light_soft + 0.5, 0.0), 1.0)


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
    best = _at_best(terms, now.sums[INSIDE], now.sums[QUALITY_BA], now.sums[BA], cells)
    return best - shortfall(terms, now, cells)


@kernel
def _at_best(terms, within, quality_ba, ba, cells):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """The worth where no other want falls short."""
    return terms.light_weight * within / cells + terms.quality_weight * quality_ba / max(ba, 1e-9)


@kernel
def look(terms, now):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Flip every tree there and back, so that how much it dims each cell is known."""
    for tree in range(len(now.standing)):
        flip(terms, now, tree)
        flip(terms, now, tree)


@kernel
def _guessed_worth(terms, now, tree, other, cells, bar):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """What a move is worth by a guess of its light; where that stays below ``bar`` however the other wants fare, these
    are not counted."""
    was, ba, quality_ba = now.sums[INSIDE], now.sums[BA], now.sums[QUALITY_BA]
    within = was + _guess(terms, now, tree, other)
    for turned in (tree, other):
        if turned >= 0:
            more = -terms.ba[turned] if now.standing[turned] else terms.ba[turned]
            ba, quality_ba = ba + more, quality_ba + more * terms.quality[turned]
    most = _at_best(terms, within, quality_ba, ba, cells)
    if most < bar:
        return most
    _count_both(terms, now, tree, other)
    now.sums[INSIDE] = within
    value = worth(terms, now, cells)
    now.sums[INSIDE] = was
    _count_both(terms, now, tree, other)
    return value


@kernel
def _count_both(terms, now, tree, other):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Flips without their light; ``other`` is -1 where one tree flips alone."""
    _count(terms, now, tree)
    if other >= 0:
        _count(terms, now, other)


@kernel
def _flip_both(terms, now, tree, other):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """One flip, or two."""
    flip(terms, now, tree)
    if other >= 0:
        flip(terms, now, other)


@kernel
def anneal(terms, now, trees, others, chances, heats, cells, best, best_standing):  # type: ignore[no-untyped-def]  # pragma: no cover - compiled
    """Some moves in a row; ``best`` holds whether the best so far meets every want but the light, and its worth.

    A move is guessed first; only where the guess comes near to what would be taken is the light itself worked out, and
    that decides.
    """
    value, made = worth(terms, now, cells), 0
    for move in range(len(trees)):
        tree, other = trees[move], others[move]
        # Another tree changes places with this one where one of the two stands and the other does not.
        if other >= 0 and now.standing[tree] == now.standing[other]:
            other = -1
        bar = value + heats[move] * math.log(max(chances[move], 1e-300))
        # A guess is off by some part of a cell too, however cold it is.
        near = bar - terms.slack * (heats[move] + terms.light_weight / (3 * cells))
        if _guessed_worth(terms, now, tree, other, cells, near) < near:
            continue
        made += 1
        _flip_both(terms, now, tree, other)
        tried = worth(terms, now, cells)
        if tried < bar:
            _flip_both(terms, now, tree, other)
            continue
        value = tried
        meets = 1.0 if shortfall(terms, now, cells) < 1e-12 else 0.0
        if meets > best[0] or (meets == best[0] and value > best[1]):
            best[0], best[1] = meets, value
            # Element by element: the compiler checks a whole array's shape by way of its own text functions, 3 CPU s.
            for each in range(len(best_standing)):
                best_standing[each] = now.standing[each]
    return made
