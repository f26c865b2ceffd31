"""Light where there is no stem map: blocks drawn at random from the cruise, and what a marking rule leaves of their
light.

Each draw takes the cruise's points with replacement, so the spread holds the sampling error of the cruise, then trees
by what they stand for, and sets them at random with a least distance between trees of the main canopy.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overwood.ground.records import StandFile, Stem, StemMap, Visit
from overwood.ground.units import FT2_PER_ACRE
from overwood.judgement.crew_words import sentence
from overwood.judgement.evidence.layers import injected_of, overwood_mask
from overwood.judgement.evidence.tally import Cruise, Mask, cruise_of
from overwood.judgement.leave_rule import largest_oaks
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, block_of, field_of

_VISIT = "drawn"
_TRIES = 200


@dataclass(frozen=True)
class DrawnLight:
    """Mean light of one state over the draws, with the span nine tenths of them fall in.

    ``times`` is light over that of the first state in the same block: low, mean and high.
    """

    state: str
    ba_ft2_ac: float
    mean_pct: float
    low_pct: float
    high_pct: float
    draws: int
    times: tuple[float, float, float]


def drawn_light(
    file: StandFile, rules: Rules, residuals_ft2_ac: Sequence[float], *, seed: int
) -> tuple[DrawnLight, ...]:
    """Light of a cruised stand as it is, with the midstory out, and under the leave rule at each residual basal
    area."""
    visit = file.latest("cruise")
    assert visit is not None
    cruise = cruise_of(file, visit)
    main = overwood_mask(cruise, rules)
    # Stems below the canopy that nobody injects go on standing, and shading.
    let_be = ~main & ~injected_of(cruise.spcd, cruise.dbh_in, cruise.crown_class, rules)
    states = {sentence("state_cruised"): np.ones(len(main), dtype=bool), sentence("state_out"): main | let_be}
    left = {
        sentence("state_marked", ba=f"{residual:g}"): largest_oaks(cruise, rules, residual)
        for residual in residuals_ft2_ac
    }
    states |= {name: kept | let_be for name, kept in left.items() if kept.any()}
    masks = np.stack(list(states.values()))
    light, ba = file.once(
        ("drawn light", masks.tobytes(), seed), lambda: _drawn(file, cruise, masks, rules, seed), rules
    )
    times = light / light[:, :1]
    span = [np.percentile(light, 5, axis=0), np.percentile(light, 95, axis=0)]
    gains = np.stack([np.percentile(times, 5, axis=0), times.mean(axis=0), np.percentile(times, 95, axis=0)])
    return tuple(
        DrawnLight(
            state=name,
            ba_ft2_ac=float(ba[:, place].mean()),
            mean_pct=float(light[:, place].mean()),
            low_pct=float(span[0][place]),
            high_pct=float(span[1][place]),
            draws=len(light),
            times=(float(gains[0, place]), float(gains[1, place]), float(gains[2, place])),
        )
        for place, name in enumerate(states)
    )


def _drawn(file: StandFile, cruise: Cruise, states: Mask, rules: Rules, seed: int) -> tuple[NDArray[np.float64], ...]:
    """Mean light [%] and basal area [ft2/ac] of each draw and state; a state says which tallied trees stand."""
    rng, draws = np.random.default_rng(seed), int(rules.number("drawn_stand_draws"))
    light, ba, main = np.full((draws, len(states)), 100.0), np.zeros((draws, len(states))), overwood_mask(cruise, rules)
    for draw in range(draws):
        block, source = draw_block(file, cruise, main, rules, rng)
        if block is None:
            continue
        for place, kept in enumerate(states):
            standing = kept[source]
            light[draw, place] = 100 * field_of(block, standing, rules, 1.0).mean()
            ba[draw, place] = block.ba_ft2_ac[standing].sum()
    return light, ba


def draw_block(
    file: StandFile, cruise: Cruise, main: Mask, rules: Rules, rng: np.random.Generator
) -> tuple[Block | None, NDArray[np.int64]]:
    """One block drawn from a cruise, and which tallied tree each of its stems is a copy of; no block where points
    without trees came up."""
    acres = rules.number("drawn_stand_acres")
    side = math.sqrt(acres * FT2_PER_ACRE)
    times = np.bincount(rng.integers(0, cruise.n, size=cruise.n), minlength=cruise.n)
    weight = cruise.per_ac * times[cruise.point] / cruise.n
    count = max(1, round(float(weight.sum()) * acres)) if len(weight) and weight.sum() > 0 else 0
    if not count:
        return None, np.zeros(0, dtype=np.int64)
    source = np.sort(rng.choice(len(weight), size=count, p=weight / weight.sum()))
    places = _places(main[source], side, rules.number("drawn_stand_spacing_ft"), rng)
    stems = tuple(
        _stem(cruise, int(tree), number, place)
        for number, (tree, place) in enumerate(zip(source, places, strict=True), start=1)
    )
    made = replace(
        file,
        visits=(Visit(visit=_VISIT, stand=file.stand.stand, kind="stem map", visited_on=dt.date.min),),
        stem_maps=(StemMap(visit=_VISIT, width_ft=side, height_ft=side, edge="torus"),),
        stems=stems,
    )
    return block_of(made, rules), source


def _places(main: Mask, side: float, spacing: float, rng: np.random.Generator) -> list[tuple[float, float]]:
    """Random places; trees of the main canopy keep a distance from each other, the midstory none."""
    canopy_places: list[tuple[float, float]] = []
    places = []
    for canopy in main:
        x, y = (float(v) for v in rng.random(2) * side)
        for _ in range(_TRIES if canopy else 0):
            if all(_apart(x - u, y - v, side) >= spacing for u, v in canopy_places):
                break
            x, y = (float(v) for v in rng.random(2) * side)
        if canopy:
            canopy_places.append((x, y))
        places.append((x, y))
    return places


def _apart(dx: float, dy: float, side: float) -> float:
    return math.hypot(dx - side * round(dx / side), dy - side * round(dy / side))


def _stem(cruise: Cruise, tree: int, number: int, place: tuple[float, float]) -> Stem:
    of = cruise.trees[tree]
    return Stem(
        visit=_VISIT, stem=str(number), species=of.species, dbh_in=of.dbh_in, east_ft=place[0], north_ft=place[1],
        crown_class=of.crown_class, height_ft=of.height_ft,
    )  # fmt: skip
