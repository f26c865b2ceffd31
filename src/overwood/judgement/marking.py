"""Which trees stay: a search on the true light field that takes one tree at a time, seeded and repeatable."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import Misuse
from overwood.ground.units import FT_PER_M, M2_PER_ACRE
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, Light, light_of, season
from overwood.science.light import past_boles
from overwood.science.light.field import Ledger

Mask = NDArray[np.bool_]
_SETTLE_EVERY = 2_000


@dataclass(frozen=True, kw_only=True)
class Wants:
    """What a marking should reach."""

    light_low_pct: float
    light_high_pct: float
    ba_low_ft2_ac: float
    ba_high_ft2_ac: float
    seed_cover_share: float
    both_oak_groups: bool = True

    @property
    def band(self) -> tuple[float, float]:
        """The light wanted, in percent."""
        return self.light_low_pct, self.light_high_pct

    @property
    def middle_ba_ft2_ac(self) -> float:
        """The middle of the basal area wanted."""
        return (self.ba_low_ft2_ac + self.ba_high_ft2_ac) / 2


@dataclass(frozen=True)
class Marking:
    """A marking with what it leaves and the light it gives."""

    leave: Mask
    residual_ba_ft2_ac: float
    leave_trees_ac: float
    seed_cover_share: float
    mean_score: float
    score_kept_share: float
    light_before: Light
    light_no_midstory: Light
    light_after: Light
    moves: int
    seed: int
    shortfalls: tuple[str, ...]


def default_wants(rules: Rules) -> Wants:
    """What the rulebook asks of a seed cut."""
    return Wants(
        light_low_pct=rules.number("light_low_pct"),
        light_high_pct=rules.number("light_high_pct"),
        ba_low_ft2_ac=rules.number("seed_cut_residual_low_ft2_ac"),
        ba_high_ft2_ac=rules.number("seed_cut_residual_high_ft2_ac"),
        seed_cover_share=rules.number("seed_cover_share"),
    )


def check_wants(block: Block, wants: Wants) -> None:
    """Refuse wants that cannot be met together, saying which.

    Raises
    ------
    Misuse
        naming the conflict.
    """
    must = np.array([stem.must for stem in block.stems])
    kept, free = block.ba_ft2_ac[must == "leave"].sum(), block.ba_ft2_ac[(must != "cut") & block.overwood].sum()
    if not (block.oak & block.overwood).any():
        raise Misuse("there is no oak in the main canopy of this map.", remedy="A seed cut needs oaks to leave.")
    if kept > wants.ba_high_ft2_ac:
        raise Misuse(
            f"trees that must stay hold {kept:.0f} ft2/ac, above the {wants.ba_high_ft2_ac:g} wanted.",
            remedy="Free some, or want more basal area.",
        )
    if free < wants.ba_low_ft2_ac:
        raise Misuse(
            f"only {free:.0f} ft2/ac may stay, under the {wants.ba_low_ft2_ac:g} wanted.",
            remedy="Want less basal area, or free trees that must be cut.",
        )
    if wants.light_low_pct >= wants.light_high_pct or wants.ba_low_ft2_ac >= wants.ba_high_ft2_ac:
        raise Misuse("the lower end of a want lies above its upper end.")


def mean_score(score: NDArray[np.float64], ba: NDArray[np.float64], kept: Mask) -> float:
    """Mean score of the trees kept, weighted by basal area; 0 where none is kept."""
    return float((score * ba)[kept].sum() / max(ba[kept].sum(), 1e-9))


def seed_reach(block: Block, shape: tuple[int, ...], rules: Rules) -> Mask:
    """Which cells of the floor lie within reach of each stem's crown; of shape (stems, rows, columns)."""
    crowns, spacing, beyond = block.crowns, rules.number("light_spacing_m"), rules.number("seed_tree_reach_ft") / FT_PER_M
    width, height = block.map.width_ft / FT_PER_M, block.map.height_ft / FT_PER_M
    px, py = (np.arange(shape[1]) + 0.5) * spacing, (np.arange(shape[0]) + 0.5) * spacing
    found = np.zeros((len(crowns.x), *shape), dtype=bool)
    for tree, (x, y, a, b) in enumerate(zip(crowns.x, crowns.y, crowns.a, crowns.b, strict=True)):
        gx, gy = px[None, :] - x, py[:, None] - y
        if block.map.edge == "torus":
            gx, gy = gx - width * np.round(gx / width), gy - height * np.round(gy / height)
        found[tree] = (gx / (a + beyond)) ** 2 + (gy / (b + beyond)) ** 2 <= 1
    return found


class _Search:
    """State of the search: the ledger of light, basal area and seed cover, and the worth of it all."""

    def __init__(self, block: Block, wants: Wants, rules: Rules, quality_weight: float) -> None:
        self.block, self.wants = block, wants
        self.weights = {name: rules.number(f"marking_{name}_weight") for name in ("ba", "cover", "one_group")}
        self.weights["quality"] = quality_weight
        self.trees = np.flatnonzero(block.overwood)
        ways = past_boles(season(block, rules), self._boles())
        self.ledger = Ledger(block.crowns.taken(self.trees), ways, **block.ground(rules))
        self.ba = block.ba_ft2_ac[self.trees]
        self.score = block.score[self.trees] / max(block.score[self.trees].max(), 1e-9)
        self.oak = block.oak[self.trees]
        self.reach = seed_reach(block, self.ledger.light.shape, rules)[self.trees]
        self.covered = np.zeros(self.ledger.light.shape, dtype=np.int32)
        for tree in np.flatnonzero(self.oak):
            self.covered[self.reach[tree]] += 1

    def _boles(self) -> float:
        """Boles of the basal area wanted: they dim the floor by a few hundredths, so each flip leaves them as they are."""
        middle, main = self.wants.middle_ba_ft2_ac, self.block.overwood
        whole = float(self.block.ba_ft2_ac[main].sum())
        return float(self.block.bole_m2[main].sum()) / (self.block.acres * M2_PER_ACRE) * middle / whole

    def flip(self, tree: int) -> None:
        self.ledger.flip(tree)
        if self.oak[tree]:
            self.covered[self.reach[tree]] += 1 if self.ledger.standing[tree] else -1

    @property
    def cover(self) -> float:
        return float((self.covered > 0).mean())

    @property
    def basal_area(self) -> float:
        return float(self.ba[self.ledger.standing].sum())

    def worth(self) -> float:
        """Area in the band, a little for the quality kept, less what basal area and seed cover fall short."""
        light, w = self.ledger.light, self.wants
        inside = ((light >= w.light_low_pct / 100) & (light <= w.light_high_pct / 100)).mean()
        kept = self.ledger.standing
        quality = mean_score(self.score, self.ba, kept)
        ba = self.basal_area
        off = max(0.0, w.ba_low_ft2_ac - ba, ba - w.ba_high_ft2_ac) / w.ba_high_ft2_ac
        short = max(0.0, w.seed_cover_share - self.cover)
        groups = self.block.white[self.trees][kept & self.oak]
        one_group = w.both_oak_groups and len(groups) > 0 and (groups.all() or not groups.any())
        weight = self.weights
        return float(inside + weight["quality"] * quality - weight["ba"] * off - weight["cover"] * short - weight["one_group"] * one_group)


def search(
    block: Block,
    wants: Wants,
    rules: Rules,
    *,
    seed: int,
    moves: int,
    progress: Callable[[int, float], bool] | None = None,
    quality_weight: float | None = None,
) -> Marking:
    """Mark a block: start from the best-scored trees, then flip single trees as the light field answers.

    ``progress`` is called with the moves made and the best worth; it stops the search by returning False.
    """
    check_wants(block, wants)
    if quality_weight is None:
        quality_weight = rules.number("marking_quality_weight")
    state, rng = _Search(block, wants, rules, quality_weight), np.random.default_rng(seed)
    must = np.array([block.stems[place].must for place in state.trees])
    _start(state, must)
    open_trees = np.flatnonzero(must == "")
    hot, cold = rules.number("marking_heat_first"), rules.number("marking_heat_last")
    worth = state.worth()
    best, best_standing, made = worth, state.ledger.standing.copy(), 0
    picks, chances = rng.integers(0, max(len(open_trees), 1), size=moves), rng.random(moves)
    for made in range(1, moves + 1 if len(open_trees) else 1):
        heat = hot * (cold / hot) ** (made / moves)
        tree = int(open_trees[picks[made - 1]])
        state.flip(tree)
        tried = state.worth()
        if tried >= worth or chances[made - 1] < math.exp((tried - worth) / heat):
            worth = tried
            if worth > best:
                best, best_standing = worth, state.ledger.standing.copy()
        else:
            state.flip(tree)
        if made % _SETTLE_EVERY == 0:
            state.ledger.settle()
        if progress is not None and made % 100 == 0 and not progress(made, best):
            break
    for place in np.flatnonzero(best_standing != state.ledger.standing):
        state.flip(int(place))
    return _marking(block, state, wants, rules, made, seed)


def _start(state: _Search, must: NDArray[np.str_]) -> None:
    """Leave the best-scored trees down to the middle of the wanted basal area."""
    middle = state.wants.middle_ba_ft2_ac
    total = float(state.ba[must == "leave"].sum())
    order = sorted(range(len(must)), key=lambda tree: (must[tree] != "leave", must[tree] == "cut", -state.score[tree]))
    for tree in order:
        stays = must[tree] == "leave" or (must[tree] != "cut" and total + state.ba[tree] <= middle)
        if must[tree] != "leave" and stays:
            total += float(state.ba[tree])
        if not stays:
            state.flip(tree)


def _marking(block: Block, state: _Search, wants: Wants, rules: Rules, moves: int, seed: int) -> Marking:
    leave = np.zeros(len(block.stems), dtype=bool)
    leave[state.trees[state.ledger.standing]] = True
    everything = np.ones(len(block.stems), dtype=bool)
    after = light_of(block, leave, rules, "after the marking", band=wants.band)
    short = []
    if not wants.ba_low_ft2_ac <= state.basal_area <= wants.ba_high_ft2_ac:
        short.append(f"basal area {state.basal_area:.0f} ft2/ac, wanted {wants.ba_low_ft2_ac:g} to {wants.ba_high_ft2_ac:g}")
    if state.cover < wants.seed_cover_share:
        short.append(f"seed cover {state.cover:.0%}, wanted {wants.seed_cover_share:.0%}")
    kept_score = block.score[block.overwood]
    return Marking(
        leave=leave,
        residual_ba_ft2_ac=float(block.ba_ft2_ac[leave].sum()),
        leave_trees_ac=float(leave.sum() / block.acres),
        seed_cover_share=state.cover,
        mean_score=mean_score(block.score, block.ba_ft2_ac, leave),
        score_kept_share=float(block.score[leave].sum() / kept_score.sum()),
        light_before=light_of(block, everything, rules, "uncut", band=wants.band),
        light_no_midstory=light_of(block, block.overwood, rules, "midstory out", band=wants.band),
        light_after=after,
        moves=moves,
        seed=seed,
        shortfalls=tuple(short),
    )
