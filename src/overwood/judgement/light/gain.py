"""What taking some stems does to the light of a stand, from its stem map or from blocks drawn from its cruise."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement.evidence.layers import injected_of, overwood_mask
from overwood.judgement.evidence.tally import Cruise, Mask, cruise_of
from overwood.judgement.light.drawn_stand import DrawnLight, draw_block
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, block_of, field_of
from overwood.science import light as science

SEED = 1
_FULL_PCT = 100.0
# Which of some stems go, asked by species, diameter and crown class.
Picked = Callable[[NDArray[np.int64], NDArray[np.float64], NDArray[np.str_]], Mask]


@dataclass(frozen=True)
class Gain:
    """Light after over light before: mean, and the span nine in ten blocks (or crowns a tenth narrower and wider) fall
    in."""

    low: float
    mean: float
    high: float
    source: str


@dataclass(frozen=True)
class StateLight:
    """Light on the floor in one state of a stand: the one figure that every room tells, and beside it what the others
    say.

    The figure of the stand as it stands is its readings, else the planning curve, which is fitted to the level of
    measured stands. With the midstory out it is this times what the stem map, or blocks drawn from the cruise, gain;
    after a cut too where there are readings, else the blocks' own level. ``model_pct`` is that model's level alone,
    ``curve_pct`` the curve's.
    """

    state: str
    ba_ft2_ac: float | None
    mean_pct: float
    low_pct: float
    high_pct: float
    method: str
    model_pct: float
    curve_pct: float | None

    @property
    def gap_pct(self) -> float:
        """How far the methods lie apart, in points."""
        said = [self.mean_pct, self.model_pct, *([] if self.curve_pct is None else [self.curve_pct])]
        return max(said) - min(said)

    DERIVED: ClassVar = ("gap_pct",)


def state_light(
    state: str, now: Figure, times: Gain, model_pct: float, ba_ft2_ac: float | None, curve_pct: float | None
) -> StateLight:
    """The light of a state, from the light as it stands and how many times lighter the state is."""
    low, high = (now.number if end is None else end for end in (now.low, now.high))
    is_now = times.low == times.high == 1.0
    method = (
        now.method if is_now else f"the light as it stands ({now.method}) times {times.mean:.2f}, by {times.source}"
    )
    return StateLight(
        state=state,
        ba_ft2_ac=ba_ft2_ac,
        mean_pct=min(now.number * times.mean, _FULL_PCT),
        low_pct=low * times.low,
        high_pct=min(high * times.high, _FULL_PCT),
        method=method,
        model_pct=model_pct,
        curve_pct=curve_pct,
    )


def drawn_states(now: Figure, drawn: Sequence[DrawnLight]) -> tuple[StateLight, ...]:
    """The light of the states of a cruised stand: as it stands, with the midstory out, and marked."""
    source = f"{drawn[0].draws} blocks drawn from the cruise" if drawn else ""
    states = [
        state_light(one.state, now, Gain(*one.times, source), one.mean_pct, one.ba_ft2_ac, None) for one in drawn[:2]
    ]
    return (*states, *(_marked(now, one, source) for one in drawn[2:]))


def _marked(now: Figure, one: DrawnLight, source: str) -> StateLight:
    """The light after a cut: from readings, where there are some; else by the blocks' own level, for it hangs on the
    trees that stay."""
    curve = float(science.from_basal_area_pct(one.ba_ft2_ac, midstory_multiplier=1.0))
    if now.status == "measured":
        return state_light(one.state, now, Gain(*one.times, source), one.mean_pct, one.ba_ft2_ac, curve)
    return StateLight(one.state, one.ba_ft2_ac, one.mean_pct, one.low_pct, one.high_pct, source, one.mean_pct, curve)


def mapped_midstory_out(now: Figure, file: StandFile, rules: Rules, model_pct: float) -> StateLight:
    """The light of a mapped stand with the stems to inject gone."""
    times = gain(file, rules, lambda spcd, dbh_in, crown_class: injected_of(spcd, dbh_in, crown_class, rules))
    return state_light("midstory out", now, times, model_pct, None, None)


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
    gone = picked(cruise.spcd, cruise.dbh_in, cruise.crown_class)
    return file.once(("light gain", gone.tobytes()), lambda: _drawn(file, cruise, gone, rules), rules)


def _drawn(file: StandFile, cruise: Cruise, gone: Mask, rules: Rules) -> Gain:
    main, draws = overwood_mask(cruise, rules), int(rules.number("drawn_stand_draws"))
    rng = np.random.default_rng(SEED)
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
