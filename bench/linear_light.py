"""The marking as an integer programme on light made linear, for HiGHS: what a general solver finds in its time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize, sparse

from overwood.judgement.marking import bound as marking_bound
from overwood.judgement.marking import search as marking
from overwood.judgement.money.stem_value import worth_of
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, light_of

_TINY = 1e-4


@dataclass(frozen=True)
class Solved:
    """Share of the ground in the light wanted by the true light field, and what the solver thought and proved."""

    share_in_band: float
    thought: float
    bound: float
    residual_ba_ft2_ac: float


def solve(block: Block, wants: marking.Wants, rules: Rules, seconds: float, rounds: int = 3) -> Solved | None:
    """The best of some rounds, the light made linear anew about each round's own choice."""
    state = marking.prepared(block, wants, rules, worth_of(block, rules, None))
    state.stand_as(marking.start(state, np.array([block.stems[place].must for place in state.trees])))
    best = None
    for _ in range(rounds):
        found = _round(state, block, wants, rules, seconds / rounds)
        if found is None:
            break
        best = found if best is None or found.share_in_band > best.share_in_band else best
    return best


def _round(state: marking.Search, block: Block, wants: marking.Wants, rules: Rules, seconds: float) -> Solved | None:
    """Make ln(light) linear about what stands, let HiGHS choose trees, let them stand, and judge the choice on the true field."""
    must = np.array([block.stems[place].must for place in state.trees])
    state.ledger.settle()
    standing, slopes = state.kept.copy(), []
    base = np.log(state.ledger.light[state.core].ravel())
    for tree in range(len(state.trees)):
        state.flip(tree)
        changed = np.log(state.ledger.light[state.core].ravel())
        state.flip(tree)
        slopes.append((base - changed) * (1 if standing[tree] else -1))
    effect = np.array(slopes).T
    cells, n = effect.shape
    fixed = base - effect @ standing
    low, high = np.log(wants.light_low_pct / 100), np.log(wants.light_high_pct / 100)
    reach = marking_bound.seed_cover(block, rules, state.trees)
    most, least = fixed + np.maximum(effect, 0).sum(axis=1), fixed + np.minimum(effect, 0).sum(axis=1)
    one, none = sparse.eye_array(cells), sparse.csr_array((cells, cells))
    up, down = np.maximum(most - high, 0), np.maximum(low - least, 0)
    ba = np.concatenate([state.ba, np.zeros(2 * cells)])
    cover = np.concatenate([np.zeros(n + cells), np.ones(cells) / cells])
    rows = [
        optimize.LinearConstraint(sparse.hstack([sparse.csr_array(effect), sparse.diags_array(up), none]), -np.inf, high + up - fixed),
        optimize.LinearConstraint(sparse.hstack([sparse.csr_array(effect), -sparse.diags_array(down), none]), low - down - fixed, np.inf),
        optimize.LinearConstraint(sparse.hstack([-reach, none, one]), -np.inf, 0),
        optimize.LinearConstraint(ba[None, :], wants.ba_low_ft2_ac, wants.ba_high_ft2_ac),
        optimize.LinearConstraint(cover[None, :], wants.seed_cover_share, np.inf),
    ]
    aim = -np.concatenate([_TINY * state.quality, np.ones(cells) / cells, np.zeros(cells)])
    whole = np.concatenate([np.ones(n + cells), np.zeros(cells)])
    most_kept = np.concatenate([state.open | (must == "leave"), np.ones(2 * cells)]).astype(float)
    bounds = optimize.Bounds(0, most_kept)
    done = optimize.milp(aim, constraints=rows, integrality=whole, bounds=bounds, options={"time_limit": seconds})
    if done.x is None:
        return None
    leave = np.zeros(len(block.stems), dtype=bool)
    leave[state.trees[done.x[:n] > 0.5]] = True
    state.stand_as(leave[state.trees])
    true = light_of(block, leave, rules, "", band=wants.band)
    return Solved(true.share_in_band, float(done.x[n : n + cells].mean()), -float(done.mip_dual_bound), float(block.ba_ft2_ac[leave].sum()))
