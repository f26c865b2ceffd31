"""The oak gate of the advice asked of many floors in plain numpy, beside the compiled gate of the simulated forester."""

from __future__ import annotations

import numpy as np

from overwood.judgement.futures import start
from overwood.judgement.rules import load
from overwood.science import decisions
from overwood.science import regeneration as science

SPACE_AC = 1 / 735


def floors(count: int, seed: int):
    """Random floors from bare to crowded: stems of each place and their heights, and the sprouts expected an acre."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        shape = (int(rng.integers(2, 90)), science.SLOTS)
        number = np.where(rng.random(shape) < rng.random() ** 2, rng.integers(1, 6, shape), 0)
        stems = np.zeros((*shape, 6))
        stems[:, :, 0], stems[:, :, 1] = number, rng.gamma(2.0, rng.uniform(0.2, 2.5), shape)
        yield stems, float(rng.choice([0.0, 60.0, 300.0]))


def plain(stems: np.ndarray, sprouts_ac: float, gate: np.void) -> int:
    """Side of the gate, every space of a floor being seen: sums over the whole floor at once."""
    n, number, height = len(stems), stems[:, :, 0], stems[:, :, 1]
    waist = np.where(height >= gate["waist_ft"], number, 0.0).sum(axis=1)
    tall = (np.where(number > 0, height, 0.0).max(axis=1) >= gate["tall_ft"]).sum()
    low, high = decisions.share_ends(float(tall), float(n), gate["verdict_z"], gate["share_step"])
    needed = max(0.0, gate["advance_needed_ac"] - sprouts_ac) / gate["plots_per_acre"]
    ends = decisions.count_ends(float(waist.sum()), float(n), gate["verdict_z"], gate["clumping_k"])
    least, most = (float(end) / SPACE_AC for end in ends)
    by_density = decisions.density_side(waist.mean() / SPACE_AC, least, most, gate["needed_ac"], gate["least_ac"])
    clumped = decisions.is_clumped((waist > 0).mean(), gate["needed_ac"], SPACE_AC, gate["clumped_ratio"])
    return int(decisions.oak_side(decisions.side(low, high, needed), by_density, True, clumped))


def sides(count: int, seed: int) -> np.ndarray:
    """Plain and compiled side of so many floors, of shape (count, 2)."""
    gate = start.gate_row(load(), seen_share=1.1)[0]
    both = []
    for stems, sprouts_ac in floors(count, seed):
        floor = science.Floor(stems, np.zeros((len(stems), 3)), np.zeros((3, 3)))
        both.append((plain(stems, sprouts_ac, gate), science.oak_gate(floor, SPACE_AC, sprouts_ac, gate, 1, 0)[0]))
    return np.array(both)
