"""How good a marking could be if light were left aside, and what even light costs: a linear bound and a curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import Misuse
from overwood.judgement.marking.leave_trees import may_stay
from overwood.judgement.marking.places import seed_reach
from overwood.judgement.marking.search import Effort, Marking, mean_score, prepared, run
from overwood.judgement.marking.wants import Wants
from overwood.judgement.money.stem_value import Worth
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block

if TYPE_CHECKING:
    from scipy.sparse import csr_array

# Times the weight of the assumptions.
WEIGHTS_TRIED = (0, 1 / 4, 1, 4, 16)


@dataclass(frozen=True)
class Step:
    """One marking of the curve: how much quality counted, and what came of it."""

    weight: float
    share_in_band: float
    mean_quality: float
    residual_ba_ft2_ac: float
    gap_share: float
    value_kept_usd_ac: float | None
    sale_usd_ac: float | None


@dataclass(frozen=True)
class TradeOff:
    """The curve, with the greatest mean quality any marking with these wants but the light can have."""

    by: str
    bound: float
    steps: tuple[Step, ...]


def quality_of(block: Block, worth: Worth, by: str) -> NDArray[np.float64]:
    """What a tree counts for each square foot it holds: its score, or its value. Raises Misuse when value is asked for
    and there are no prices."""
    if by == "score":
        return block.score
    if worth.value_usd is None:
        raise Misuse("light against value needs prices.", remedy="Name your price list with --prices.")
    return worth.value_usd / (block.ba_ft2_ac * block.acres)


def best_mean(block: Block, wants: Wants, rules: Rules, quality: NDArray[np.float64]) -> float:
    """An upper bound on the mean quality of a marking that meets basal area and seed cover, whatever its light.

    A linear programme (HiGHS): each tree may stay in part. The mean is a ratio, so shares are scaled by the inverse of
    the basal area left, which is a variable of its own. Other wants only lower what can be reached.

    Raises Misuse when the wants cannot be met together.
    """
    trees = np.flatnonzero(block.overwood)
    ba = block.ba_ft2_ac[trees]
    must = np.array([block.stems[place].must for place in trees], dtype="<U5")
    reach = seed_cover(block, rules, trees)
    must[~may_stay(block, wants)[trees]] = "cut"
    return _ratio_programme(ba, quality[trees], must, reach, wants)


def seed_cover(block: Block, rules: Rules, trees: NDArray[np.int64]) -> csr_array:
    """Which cells inside the buffer the oaks among some trees reach; of shape (cells, trees)."""
    from scipy import sparse

    reach = [
        cells if block.oak[tree] else cells[:0]
        for tree, cells in zip(trees, seed_reach(block, rules, trees), strict=True)
    ]
    raster = block.raster(rules)
    owner = np.repeat(np.arange(len(trees)), [len(cells) for cells in reach])
    whole = sparse.csr_array(
        (np.ones(len(owner)), (np.concatenate(reach), owner)), shape=(raster.rows * raster.columns, len(trees))
    )
    return whole[np.arange(raster.rows * raster.columns).reshape(raster.shape)[block.core(rules)].ravel()]


def _ratio_programme(
    ba: NDArray[np.float64], score: NDArray[np.float64], must: NDArray[np.str_], reach: csr_array, wants: Wants
) -> float:
    """Variables: scaled share of each tree, scaled cover of each cell, the scale itself (one over the basal area
    left)."""
    from scipy import optimize, sparse

    cells, n = reach.shape
    one, cell_ones = sparse.eye_array(n), sparse.eye_array(cells)
    scale_n, scale_c = -np.ones((n, 1)), -np.ones((cells, 1))
    rows = [
        sparse.hstack([one, sparse.csr_array((n, cells)), scale_n]),  # no tree stays more than whole
        sparse.hstack([sparse.csr_array((cells, n)), cell_ones, scale_c]),  # no cell is covered more than once
        sparse.hstack([-reach, cell_ones, sparse.csr_array((cells, 1))]),  # a cell is covered by the oaks that reach it
        sparse.csr_array(np.concatenate([np.zeros(n), -np.ones(cells), [wants.seed_cover_share * cells]])[None, :]),
    ]
    fixed = [sparse.csr_array(np.concatenate([ba, np.zeros(cells + 1)])[None, :])]
    leave = np.flatnonzero(must == "leave")
    if len(leave):
        fixed.append(sparse.hstack([one.tocsr()[leave], sparse.csr_array((len(leave), cells)), scale_n[leave]]))
    upper = [(0.0, 0.0) if call == "cut" else (0.0, None) for call in must]
    limits = [*upper, *[(0.0, None)] * cells, (1 / wants.ba_high_ft2_ac, 1 / max(wants.ba_low_ft2_ac, 1e-9))]
    done = optimize.linprog(
        -np.concatenate([score * ba, np.zeros(cells + 1)]),
        A_ub=sparse.vstack(rows),
        b_ub=np.zeros(n + 2 * cells + 1),
        A_eq=sparse.vstack(fixed),
        b_eq=np.concatenate([[1.0], np.zeros(len(leave))]),
        bounds=limits,
        method="highs",
    )
    return float(-done.fun) if done.status == 0 else float("nan")


def trade_off(block: Block, wants: Wants, rules: Rules, worth: Worth, effort: Effort, by: str) -> TradeOff:
    """Markings with the score, or the value, of what is kept counting ever more against the light wanted."""
    quality = quality_of(block, worth, by)
    state = prepared(block, wants, rules, worth, quality)
    bound, steps, base = best_mean(block, wants, rules, quality), [], rules.number("marking_quality_weight")
    for times in WEIGHTS_TRIED:
        # Past the default, light counts less rather than quality more, or quality would buy itself free of the other
        # wants.
        state.weights |= {"quality": base * min(1, times), "light": 1 / max(1, times)}
        marking = run(state, rules, worth, effort)
        steps.append(_step(marking, base * times, bound, mean_score(quality, block.ba_ft2_ac, marking.leave)))
    return TradeOff(by, bound, tuple(steps))


def _step(marked: Marking, weight: float, bound: float, mean: float) -> Step:
    return Step(
        weight=weight,
        share_in_band=marked.light_after.share_in_band,
        mean_quality=mean,
        residual_ba_ft2_ac=marked.residual_ba_ft2_ac,
        gap_share=(bound - mean) / bound,
        value_kept_usd_ac=marked.value_kept_usd_ac,
        sale_usd_ac=marked.sale_usd_ac,
    )
