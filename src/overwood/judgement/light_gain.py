"""What taking some stems does to the light of a stand, from its stem map or from blocks drawn from its cruise."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground.records import StandFile
from overwood.judgement.drawn_stand import draw_block
from overwood.judgement.evidence.overstory import overwood_mask
from overwood.judgement.evidence.tally import Mask, cruise_of
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, block_of, field_of

_SEED = 1
# Which of some stems go, asked by species, diameter and crown class.
Picked = Callable[[NDArray[np.int64], NDArray[np.float64], NDArray[np.str_]], Mask]


@dataclass(frozen=True)
class Gain:
    """Light after over light before: mean, and the span nine in ten blocks (or crowns a tenth narrower and wider) fall in."""

    low: float
    mean: float
    high: float
    source: str


def gain(file: StandFile, rules: Rules, picked: Picked) -> Gain:
    """How many times lighter the floor is with the picked stems gone; never under 1."""
    if file.latest("stem map") is not None:
        block = block_of(file, rules)
        gone = picked(*_columns(block))
        if gone.any():
            error = rules.number("crown_radius_error_share")
            return _gain([_ratio(block, gone, rules, scale) for scale in (1 - error, 1.0, 1 + error)], "the stem map")
    return _of_draws(file, rules, picked)


def _of_draws(file: StandFile, rules: Rules, picked: Picked) -> Gain:
    visit = file.latest("cruise")
    assert visit is not None
    cruise = cruise_of(file, visit)
    main, draws = overwood_mask(cruise, rules), int(rules.number("drawn_stand_draws"))
    gone, rng = picked(cruise.spcd, cruise.dbh_in, cruise.crown_class), np.random.default_rng(_SEED)
    blocks = (draw_block(file, cruise, main, rules, rng) for _ in range(draws))
    return _gain(
        [1.0 if block is None else _ratio(block, gone[source], rules, 1.0) for block, source in blocks],
        f"{draws} blocks drawn from the cruise",
    )


def _ratio(block: Block, gone: Mask, rules: Rules, radius_scale: float) -> float:
    everything = np.ones(len(gone), dtype=bool)
    before, after = (float(field_of(block, standing, rules, radius_scale).mean()) for standing in (everything, ~gone))
    return max(after / before, 1.0)


def _gain(ratios: list[float], source: str) -> Gain:
    low, high = np.percentile(ratios, [5, 95])
    return Gain(float(low), float(np.mean(ratios)), float(high), source)


def _columns(block: Block) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.str_]]:
    return (
        np.array([stem.species for stem in block.stems], dtype=np.int64),
        np.array([stem.dbh_in for stem in block.stems]),
        np.array([stem.crown_class for stem in block.stems], dtype=np.str_),
    )
