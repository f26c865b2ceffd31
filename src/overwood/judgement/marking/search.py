"""Which trees stay: a search on the true light field that takes one tree at a time, seeded and repeatable."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from overwood.ground.units import M2_PER_ACRE
from overwood.judgement.crew_words import Sentence, sentence
from overwood.judgement.marking.leave_trees import may_stay, to_inject
from overwood.judgement.marking.places import grounds_of, neighbours, seed_reach
from overwood.judgement.marking.wants import Wants, check_wants, stocking_of
from overwood.judgement.money.stem_value import Worth, worth_of
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, Light, lights_of, search_season, season
from overwood.science.light import Directions, annealing, past_boles
from overwood.science.light.field import light_field
from overwood.science.light.ledger import Ledger
from overwood.science.light.shadow import seen

Mask = NDArray[np.bool_]
_PHASES, _STEP = 6, 100
# Phases that begin after this share of the moves begin with the light by every direction: before, too much changes.
_EXACT_FROM = 0.5
# Moves that try an exchange with one of so many trees nearest by, as a share.
_EXCHANGED, _NEAREST = 0.5, 9
# A large block is searched ground by ground, for what is kept of one fits the machine's nearest memory, so many
# times in each phase.
_ROUNDS = 5


@dataclass(frozen=True)
class Marking:
    """A marking with what it leaves and the light it gives."""

    leave: Mask = field(repr=False, metadata={"inner": True})
    residual_ba_ft2_ac: float
    leave_trees_ac: float
    seed_cover_share: float
    mean_score: float
    score_kept_share: float
    stocking_pct: float
    too_close_share: float
    sale_bf_ac: float
    log_rule: str
    sale_usd_ac: float | None
    value_kept_usd_ac: float | None
    light_before: Light
    light_no_midstory: Light
    light_after: Light
    light_not_injected: Light
    moves: int
    seed: int
    shortfalls: tuple[str, ...]


def mean_score(score: NDArray[np.float64], ba: NDArray[np.float64], kept: Mask) -> float:
    """Mean score of the trees kept, weighted by basal area; 0 where none is kept."""
    return float((score * ba)[kept].sum() / max(ba[kept].sum(), 1e-9))


class Search:
    """State of the search: the ledger of light, basal area, seed cover, spacing and money, and the worth of it all."""

    def __init__(self, block: Block, wants: Wants, rules: Rules, worth: Worth, quality: NDArray[np.float64]) -> None:
        self.block, self.wants = block, wants
        self.weights = {
            name: rules.number(f"marking_{name}_weight")
            for name in ("quality", "ba", "cover", "one_group", "spacing", "short")
        }
        self.weights["light"] = 1.0
        self.soft = rules.number("marking_soft_last_pct") / 100
        self.slack = rules.number("marking_guess_heats")
        ground = grounds_of(block)
        self.trees = np.flatnonzero(block.overwood)
        self.trees = self.trees[np.argsort(ground[self.trees], kind="stable")]
        self.ground = ground[self.trees]
        self.open = may_stay(block, wants)[self.trees] & np.array(
            [block.stems[place].must == "" for place in self.trees], dtype=bool
        )
        self.season, self.gradient = search_season(block, rules), block.gradient
        ways = past_boles(self.season, self._boles())
        # Stems that are let be stand and shade throughout; they come last and are never flipped.
        shading = np.concatenate((self.trees, np.flatnonzero(block.let_be)))
        self.ledger = Ledger(block.crowns.taken(shading), ways, **block.ground(rules))
        self.ratio = np.ones(len(self.ledger.shadows.touched), dtype=np.float32)
        self.guessed, self.guess_counts = np.zeros((2, self.ledger.light.size))
        self.core = block.core(rules)
        self.ba = block.ba_ft2_ac[self.trees]
        self.quality = quality[self.trees] / max(quality[self.trees].max(), 1e-9)
        self.oak = block.oak[self.trees]
        self.reach = seed_reach(block, rules, self.trees)
        self.covered = np.zeros(self.ledger.light.size, dtype=np.int32)
        for tree in np.flatnonzero(self.oak):
            self.covered[self.reach[tree]] += 1
        self.stocking = stocking_of(block)[self.trees]
        # Poles too small to leave or to sell are injected: whether they stand or not, nothing of them is sold.
        self.sold = ~to_inject(block, wants, np.zeros(len(block.stems), dtype=bool))[self.trees]
        self.volume = np.where(self.sold, worth.volume_bf[self.trees], 0.0) / block.acres
        self.value = None if worth.value_usd is None else worth.value_usd[self.trees] / block.acres
        self.shares = self._shares()
        self.near = neighbours(block, self.trees, wants.spacing_ft)
        self.close = np.array([len(near) for near in self.near], dtype=np.int64)

    def _boles(self) -> float:
        """Boles of the basal area wanted: they dim the floor by a few hundredths, so each flip leaves them as they
        are."""
        middle, main = self.wants.middle_ba_ft2_ac, self.block.overwood
        whole = float(self.block.ba_ft2_ac[main].sum())
        return float(self.block.bole_m2[main].sum()) / (self.block.acres * M2_PER_ACRE) * middle / whole

    def light(self) -> NDArray[np.float64]:
        """Light on the floor cell by cell [share], dimmed by the boles of what stands and not of the basal area
        wanted."""
        return self.ledger.weighed(seen(self._dimmed(self.season), self.gradient)[:, 3])

    def _stands(self) -> Mask:
        """Stems that shade, among all of the block."""
        standing = self.block.let_be.copy()
        standing[self.trees[self.kept]] = True
        return standing

    def _dimmed(self, ways: Directions) -> Directions:
        """Directions past the boles of what stands."""
        boles = float(self.block.bole_m2[self._stands()].sum())
        return past_boles(ways, boles / (self.block.acres * M2_PER_ACRE))

    def settle(self, rules: Rules, *, exact: bool) -> None:
        """Sum the light anew; ``exact`` takes it by every direction of the light shown, so that the flips that follow
        are off by the little that the few directions of a search say wrong of them alone."""
        self.ledger.settle()
        if exact:
            # Asked alone and not from what is held: states laid together may differ in the last digit.
            ways, crowns = self._dimmed(season(self.block, rules)), self.block.crowns.taken(self._stands())
            self.ledger.light[:] = light_field(crowns, ways, **self.block.ground(rules))

    def flip(self, tree: int) -> None:
        self.ledger.flip(tree)
        first, stop = self.ledger.shadows.over[tree : tree + 2]
        self.ratio[first:stop] = 1 / self.ratio[first:stop]
        change = 1 if self.ledger.standing[tree] else -1
        self.close[self.near[tree]] += change
        if self.oak[tree]:
            self.covered[self.reach[tree]] += change

    def stand_as(self, standing: Mask) -> None:
        """Flip the trees that differ."""
        for tree in np.flatnonzero(standing != self.kept):
            self.flip(int(tree))

    @property
    def kept(self) -> Mask:
        return self.ledger.standing[: len(self.trees)]

    @property
    def cover(self) -> float:
        return float((self.covered.reshape(self.ledger.light.shape)[self.core] > 0).mean())

    @property
    def basal_area(self) -> float:
        return float(self.ba[self.kept].sum())

    @property
    def too_close(self) -> float:
        """Share of the leave trees that have another within the spacing wanted."""
        leave = self.kept
        return float((self.close[leave] > 0).mean()) if leave.any() else 0.0

    def sums(self) -> dict[str, tuple[float, float, float]]:
        """What basal area, stocking, sale volume and value kept come to, with the ends wanted."""
        leave, w, most = self.kept, self.wants, float("inf")
        ends = {"basal area": (self.basal_area, w.ba_low_ft2_ac, w.ba_high_ft2_ac)}
        if w.stocking_high_pct:
            ends["stocking"] = (float(self.stocking[leave].sum()), w.stocking_low_pct, w.stocking_high_pct)
        if w.least_sale_bf_ac:
            ends["sale volume"] = (float(self.volume[~leave].sum()), w.least_sale_bf_ac, most)
        if w.least_value_kept_usd_ac and self.value is not None:
            ends["value kept"] = (float(self.value[leave].sum()), w.least_value_kept_usd_ac, most)
        for name, over in self.shares.items():
            ends[name] = (1 + float(over[leave].sum()), 1.0, most)
        return ends

    def _shares(self) -> dict[str, NDArray[np.float64]]:
        """For each end of a species' share, how far each tree kept lifts the sum above what that end asks, by the basal
        area wanted.

        A share is a ratio; that the sum over the trees kept is not below zero says the same and goes tree by tree.
        """
        ends, spcd = {}, self.block.spcd[self.trees]
        for share in self.wants.shares:
            of_it = spcd == share.spcd
            ends[f"least {share.species}"] = self.ba * (of_it - share.low_share) / self.wants.middle_ba_ft2_ac
            ends[f"most {share.species}"] = self.ba * (share.high_share - of_it) / self.wants.middle_ba_ft2_ac
        return ends

    def share_of(self, spcd: int) -> float:
        """A species' part of the basal area left."""
        leave = self.kept
        return float(self.ba[leave & (self.block.spcd[self.trees] == spcd)].sum() / max(self.ba[leave].sum(), 1e-9))

    @property
    def cells(self) -> int:
        """Cells of the floor inside the buffer."""
        return int(self.ledger.light[self.core].size)

    def terms(self) -> annealing.Terms:
        """The search as the compiled kernels take it, with the weights of now."""
        w, weight, ledger = self.wants, self.weights, self.ledger
        kept_amounts = {
            "basal area": self.ba,
            "stocking": self.stocking,
            "sale volume": -self.volume,
            "value kept": self.value,
            **self.shares,
        }
        sums = self.sums()
        core = np.zeros(ledger.light.shape, dtype=np.bool_)
        core[self.core] = True
        reach = [cells if oak else cells[:0] for oak, cells in zip(self.oak, self.reach, strict=True)]
        return annealing.Terms(
            shadows=ledger.shadows, core=core.ravel(),
            reach_first=_first(reach), reach=np.concatenate(reach), near_first=_first(self.near),
            near=np.concatenate(self.near),
            oak=self.oak, white=self.block.white[self.trees], ba=self.ba, quality=self.quality,
            amounts=np.array([kept_amounts[name] for name in sums]),
            base=_reals(self.volume.sum() if name == "sale volume" else name in self.shares for name in sums),
            low=_reals(low for _, low, _ in sums.values()), high=_reals(high for _, _, high in sums.values()),
            weight=_reals(weight["ba" if name == "basal area" else "short"] for name in sums),
            light_low=w.light_low_pct / 100, light_high=w.light_high_pct / 100, light_soft=self.soft,
            slack=self.slack, cover=float(w.seed_cover_share),
            light_weight=float(weight["light"]), quality_weight=float(weight["quality"]),
            cover_weight=float(weight["cover"]),
            group_weight=float(weight["one_group"] * w.both_oak_groups),
            spacing_weight=float(weight["spacing"] * (w.spacing_ft > 0)),
        )  # fmt: skip

    def standing(self, terms: annealing.Terms) -> annealing.Standing:
        """What changes in a search, with its running sums made anew; the arrays are this search's own."""
        leave, ledger, light = self.kept, self.ledger, self.ledger.light.ravel()
        inside = np.where(terms.core, self.inside(light), 0.0)
        covered, close = terms.core & (self.covered > 0), leave & (self.close > 0)
        oak = leave & self.oak
        counts = (inside.sum(), self.ba[leave].sum(), (self.ba * self.quality)[leave].sum(), covered.sum(), oak.sum())
        sums = np.array(
            [*counts, (oak & terms.white).sum(), leave.sum(), close.sum(), *terms.amounts[:, leave].sum(axis=1)],
            dtype=np.float64,
        )
        return annealing.Standing(
            ledger.depth, light, inside, leave, self.covered, self.close, sums, self.ratio, self.guessed,
            self.guess_counts,
        )  # fmt: skip

    def inside(self, light: NDArray[np.float64]) -> NDArray[np.float64]:
        """Part of each cell that counts as inside the light wanted: half at an end, whole or none well away from it."""
        ends = np.minimum(light - self.wants.light_low_pct / 100, self.wants.light_high_pct / 100 - light)
        return np.clip(ends / self.soft + 0.5, 0.0, 1.0)

    def worth(self) -> float:
        """Area in the band, a little for the quality kept, less what each other want falls short."""
        short = self.short()
        weight, inside = self.weights, float(self.inside(self.ledger.light[self.core]).mean())
        total = weight["light"] * inside + weight["quality"] * mean_score(self.quality, self.ba, self.kept)
        return total - short

    def short(self) -> float:
        """What basal area, seed cover, spacing, oak groups and the other sums fall short, weighted; 0 where all are
        met."""
        w, leave, weight, total = self.wants, self.kept, self.weights, 0.0
        for name, (got, low, high) in self.sums().items():
            scale = high if math.isfinite(high) else low
            total += weight["ba" if name == "basal area" else "short"] * max(0.0, low - got, got - high) / scale
        total += weight["cover"] * max(0.0, w.seed_cover_share - self.cover)
        groups = self.block.white[self.trees][leave & self.oak]
        total += weight["one_group"] * (w.both_oak_groups and len(groups) > 0 and (groups.all() or not groups.any()))
        return total + weight["spacing"] * self.too_close if w.spacing_ft else total


def _reals(values: Iterable[float]) -> NDArray[np.float64]:
    """Ends that are typed as whole numbers are of the same kind as others, so that the search compiles once."""
    return np.array([*values], dtype=np.float64)


def _first(parts: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    """Where each part begins once all lie end to end."""
    return np.concatenate(([0], np.cumsum([len(part) for part in parts]))).astype(np.int64)


@dataclass(frozen=True)
class Effort:
    """How long a search goes on; ``progress`` is called with the moves made and the best worth, and stops it by
    returning False."""

    seed: int
    moves: int
    progress: Callable[[int, float], bool] | None = None


def prepared(
    block: Block, wants: Wants, rules: Rules, worth: Worth | None = None, quality: NDArray[np.float64] | None = None
) -> Search:
    """A search ready to run, after its wants were checked; ``quality`` is what a tree counts, its score if left out.
    Raises Misuse when wants cannot be met together."""
    worth = worth or worth_of(block, rules, None)
    poles = to_inject(block, wants, np.zeros(len(block.stems), dtype=bool))
    sellable = replace(worth, volume_bf=np.where(poles, 0.0, worth.volume_bf))
    check_wants(block, wants, may_stay(block, wants), sellable)
    return Search(block, wants, rules, worth, block.score if quality is None else quality)


def search(block: Block, wants: Wants, rules: Rules, effort: Effort, worth: Worth | None = None) -> Marking:
    """Mark a block: start from the best-scored trees, then flip single trees as the light field answers."""
    worth = worth or worth_of(block, rules, None)
    return run(prepared(block, wants, rules, worth), rules, worth, effort)


def run(state: Search, rules: Rules, worth: Worth, effort: Effort) -> Marking:
    """Run a prepared search from its start; it may be run again with other weights."""
    rng, moves = np.random.default_rng(effort.seed), effort.moves
    must = np.array([state.block.stems[place].must for place in state.trees])
    state.stand_as(start(state, must))
    state.ledger.settle()
    trees, made = np.flatnonzero(state.open), 0
    picks, chances = rng.integers(0, max(len(trees), 1), size=moves), rng.random(moves)
    # Stable, so that moves of one ground keep their order.
    rounds = np.arange(moves) // max(1, moves // (_PHASES * _ROUNDS))
    picks = picks[np.lexsort((state.ground[trees[picks]], rounds))]
    others = exchanges(state, trees, picks, rng)
    hot, cold = rules.number("marking_heat_first"), rules.number("marking_heat_last")
    heats = hot * (cold / hot) ** (np.arange(1, moves + 1) / moves)
    best, best_standing = np.zeros(2), state.kept.copy()
    for first, stop, soft in _phases(moves if len(trees) else 0, rules):
        # Each phase goes on from the best of the one before; a marking that meets every want but the light goes before
        # any that does not.
        state.stand_as(best_standing)
        state.settle(rules, exact=first >= _EXACT_FROM * moves)
        state.soft = soft
        terms = state.terms()
        now = state.standing(terms)
        if first == 0:
            annealing.look(terms, now)
        best[:] = state.short() == 0, state.worth()
        while made < stop:
            span = slice(made, min(made + _STEP, stop))
            annealing.anneal(
                terms,
                now,
                trees[picks[span]],
                others[span],
                chances[span],
                heats[span],
                state.cells,
                best,
                best_standing,
            )
            made = span.stop
            if effort.progress and made % _STEP == 0 and not effort.progress(made, float(best[1])):
                break
        else:
            continue
        break
    state.stand_as(best_standing)
    return _marking(state, rules, worth, made, effort.seed)


def _phases(moves: int, rules: Rules) -> Iterator[tuple[int, int, float]]:
    """First and last move of each part of a search, and how wide the ends of the light wanted are in it [share].

    Wide at first, so that ground near the light wanted draws the search too; narrow at last.
    """
    wide, narrow = rules.number("marking_soft_first_pct") / 100, rules.number("marking_soft_last_pct") / 100
    ends = np.arange(_PHASES + 1) * moves // _PHASES // _STEP * _STEP
    ends[-1] = moves
    for phase, (first, stop) in enumerate(itertools.pairwise(ends.tolist())):
        if first < stop:
            yield first, stop, wide * (narrow / wide) ** (phase / (_PHASES - 1))


def exchanges(
    state: Search, trees: NDArray[np.int64], picks: NDArray[np.int64], rng: np.random.Generator
) -> NDArray[np.int64]:
    """For every other move a near tree that the picked one may change places with, -1 for none."""
    from scipy.spatial import cKDTree

    others = np.full(len(picks), -1, dtype=np.int64)
    if len(trees) < 2:
        return others
    crowns = state.block.crowns
    places = np.column_stack((crowns.x, crowns.y))[state.trees[trees]]
    near = cKDTree(places).query(places, min(_NEAREST, len(trees)))[1]
    pick, half = rng.integers(1, near.shape[1], size=len(picks)), rng.random(len(picks)) < _EXCHANGED
    others[half] = trees[near[picks[half], pick[half]]]
    return others


def start(state: Search, must: NDArray[np.str_]) -> Mask:
    """Leave oaks until seed cover is met, then the trees of best quality, to the middle of the wanted basal area."""
    stays, order = must == "leave", sorted(np.flatnonzero(state.open), key=lambda tree: -state.quality[tree])
    covered = np.zeros(len(state.covered), dtype=bool)
    for tree in np.flatnonzero(stays & state.oak):
        covered[state.reach[tree]] = True
    core = np.zeros(state.ledger.light.shape, dtype=bool)
    core[state.core] = True
    inside, total = core.ravel(), float(state.ba[stays].sum())
    for seeding in (True, False):
        for tree in order:
            met = covered[inside].mean() >= state.wants.seed_cover_share
            new = bool(state.oak[tree]) and not covered[state.reach[tree]].all()
            if stays[tree] or total + state.ba[tree] > state.wants.middle_ba_ft2_ac or (seeding and (met or not new)):
                continue
            stays[tree], total = True, total + float(state.ba[tree])
            if state.oak[tree]:
                covered[state.reach[tree]] = True
    return stays


def _marking(state: Search, rules: Rules, worth: Worth, moves: int, seed: int) -> Marking:
    block, wants = state.block, state.wants
    leave = np.zeros(len(block.stems), dtype=bool)
    leave[state.trees[state.kept]] = True
    everything, inject = np.ones(len(block.stems), dtype=bool), to_inject(block, wants, leave)
    kept_score, sold = block.score[block.overwood], block.overwood & ~leave & ~inject
    value, left = worth.value_usd, leave | block.let_be
    states = {"uncut": everything, "midstory out": block.without_midstory, "after the marking": left}
    light = lights_of(block, {**states, "after it, nothing injected": left | inject}, rules, band=wants.band)
    return Marking(
        leave=leave,
        residual_ba_ft2_ac=float(block.ba_ft2_ac[leave].sum()),
        leave_trees_ac=float(leave.sum() / block.acres),
        seed_cover_share=state.cover,
        mean_score=mean_score(block.score, block.ba_ft2_ac, leave),
        score_kept_share=float(block.score[leave].sum() / kept_score.sum()),
        stocking_pct=float(stocking_of(block)[leave].sum()),
        too_close_share=state.too_close,
        sale_bf_ac=float(worth.volume_bf[sold].sum() / block.acres),
        log_rule=worth.log_rule,
        sale_usd_ac=None if value is None else float(value[sold].sum() / block.acres),
        value_kept_usd_ac=None if value is None else float(value[leave].sum() / block.acres),
        light_before=light["uncut"],
        light_no_midstory=light["midstory out"],
        light_after=light["after the marking"],
        light_not_injected=light["after it, nothing injected"],
        moves=moves,
        seed=seed,
        shortfalls=_shortfalls(state),
    )


def as_left(block: Block, wants: Wants, rules: Rules, worth: Worth, leave: Mask) -> Marking:
    """The report of a marking made elsewhere; nothing is searched."""
    state = Search(block, wants, rules, worth, block.score)
    state.stand_as(leave[state.trees])
    return _marking(state, rules, worth, 0, 0)


_ROUNDING = 1e-9
_CODES = {
    "basal area": "short_ba",
    "stocking": "short_stocking",
    "sale volume": "short_sale",
    "value kept": "short_value",
}


def _shortfalls(state: Search) -> tuple[str, ...]:
    """What was wanted and not reached, in words."""
    short = [
        _span_short(_CODES[name], got, low, high)
        for name, (got, low, high) in state.sums().items()
        if name in _CODES and not low <= got <= high
    ]
    for share in state.wants.shares:
        part = state.share_of(share.spcd)
        if not share.low_share - _ROUNDING <= part <= share.high_share + _ROUNDING:
            ends = {"low": f"{share.low_share:.0%}", "high": f"{share.high_share:.0%}"}
            short.append(sentence("short_share", species=share.species, got=f"{part:.0%}", **ends))
    if state.cover < state.wants.seed_cover_share:
        short.append(sentence("short_cover", got=f"{state.cover:.0%}", low=f"{state.wants.seed_cover_share:.0%}"))
    if state.wants.spacing_ft and state.too_close:
        short.append(sentence("short_spacing", got=f"{state.too_close:.0%}", ft=f"{state.wants.spacing_ft:g}"))
    return tuple(short)


def _span_short(code: str, got: float, low: float, high: float) -> Sentence:
    """A sum that lies outside what was wanted of it."""
    if math.isfinite(high):
        return sentence(code, got=f"{got:,.0f}", low=f"{low:,.0f}", high=f"{high:,.0f}")
    return sentence(f"{code}_least", got=f"{got:,.0f}", low=f"{low:,.0f}")
