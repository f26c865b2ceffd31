"""The simulated forester: samples of the floor and looks at the crop, judged by the very gates of the advice
(``science.decisions``), compiled."""

from __future__ import annotations

from typing import Any

from overwood.science import decisions
from overwood.science.regeneration.compiling import compiled
from overwood.science.regeneration.luck import ACORN_LOOK, SAMPLE, chance, poisson_count
from overwood.science.regeneration.processes import collar_in
from overwood.science.regeneration.shapes import CARRIED_FT, NUMBER, OAK_FT, SLOTS, STOUT, WHITE

_share_ends: Any = compiled(decisions.share_ends)
_count_ends: Any = compiled(decisions.count_ends)
_side: Any = compiled(decisions.side)
_density_side: Any = compiled(decisions.density_side)
_is_clumped: Any = compiled(decisions.is_clumped)
_oak_side: Any = compiled(decisions.oak_side)
fire_spares: Any = compiled(decisions.fire_spares)


@compiled
def _met(gate, seed, year, space):  # type: ignore[no-untyped-def]
    """Plots of a count that fall on ground like a space's: each space stands for many alike, so it may be met more than
    once; where every space is seen, once."""
    share = gate["sampled_share"]
    return 1 if share > 1.0 else poisson_count(share, chance(seed, SAMPLE, year, space, 0))


@compiled
def oak_gate(floor, space_ac, sprouts_ac, gate, seed, year):  # type: ignore[no-untyped-def]
    """The advice's question whether there is enough oak, asked of a count of part of the spaces.

    Parameters
    ----------
    floor : Floor
        The truth, of which a sample is seen.
    space_ac : float
        Size of a space [ac].
    sprouts_ac : float
        Oak stumps expected to sprout [1/ac].
    gate : record
        Thresholds and quantiles, by GATE.
    seed, year : int
        Seed of the future and year of the run; each year another sample.

    Returns
    -------
    tuple
        Side (1, 0 or -1), and the tallest oak seen [ft].
    """
    n, waist, stocked, tall, tallest = 0, 0.0, 0, 0, 0.0
    for space in range(len(floor.ground)):
        met = _met(gate, seed, year, space)
        if met == 0:
            continue
        here, highest = 0.0, 0.0
        for slot in range(SLOTS):
            if floor.stems[space, slot, NUMBER] > 0:
                here += (
                    floor.stems[space, slot, NUMBER] if floor.stems[space, slot, OAK_FT] >= gate["waist_ft"] else 0.0
                )
                highest = max(highest, floor.stems[space, slot, OAK_FT])
        n, waist, tallest = n + met, waist + met * here, max(tallest, highest)
        stocked, tall = stocked + met * (here > 0), tall + met * (highest >= gate["tall_ft"])
    if n < 2:
        return 0, tallest
    low, high = _share_ends(float(tall), float(n), gate["verdict_z"], gate["share_step"])
    needed = max(0.0, gate["advance_needed_ac"] - sprouts_ac) / gate["plots_per_acre"]
    least, most = _count_ends(waist, float(n), gate["verdict_z"], gate["clumping_k"])
    by_density = _density_side(
        waist / n / space_ac, least / space_ac, most / space_ac, gate["needed_ac"], gate["least_ac"]
    )
    clumped = _is_clumped(stocked / n, gate["needed_ac"], space_ac, gate["clumped_ratio"])
    follows = abs(space_ac * gate["plots_per_acre"] - 1) < gate["same_plot_share"]
    return _oak_side(_side(low, high, needed), by_density, follows, clumped), tallest


@compiled
def collar_gate(floor, gate, p, seed, year):  # type: ignore[no-untyped-def]
    """The advice's collar rule for a burn: most of the tall oaks seen have a stout root; without tall oaks there is
    nothing to go by.

    Parameters
    ----------
    floor : Floor
        The truth, of which a sample is seen.
    gate, p : record
        Thresholds, by GATE, and parameters.
    seed, year : int
        Seed of the future and year of the run.

    Returns
    -------
    bool
        True where the rule is met.
    """
    stems, stout = 0.0, 0.0
    for space in range(len(floor.ground)):
        met = _met(gate, seed, year, space)
        if met > 0:
            for slot in range(SLOTS):
                if floor.stems[space, slot, NUMBER] > 0 and floor.stems[space, slot, OAK_FT] >= gate["waist_ft"]:
                    collar = collar_in(floor.stems[space, slot, CARRIED_FT], floor.stems[space, slot, STOUT], p)
                    stems += met * floor.stems[space, slot, NUMBER]
                    stout += met * floor.stems[space, slot, NUMBER] if collar >= gate["burn_collar_in"] else 0.0
    return stems > 0 and stout >= gate["burn_majority"] * stems


@compiled
def crop_gate(good, crops, white_share, gate, p, seed, year):  # type: ignore[no-untyped-def]
    """The advice's question whether the crop is good enough, asked of so many trees of each group.

    Parameters
    ----------
    good : array of 0 or 1, shape (2,)
        The truth, by group.
    crops : array, shape (autumns, 2, 3)
        What was seen of the first autumns' crops by group: trees bearing, trees looked at, side of the gate.
    white_share : float
        White oaks' part of the oak canopy, 0 to 1; a group that is a small part is not looked at.
    gate, p : record
        Thresholds and quantiles, by GATE, and parameters: shares of trees bearing.
    seed, year : int
        Seed of the future and year of the run.

    Returns
    -------
    tuple
        Side of the better group, and whether either seemed to bear by the share alone.
    """
    best, bears = -1, False
    trees = int(gate["crop_trees"])
    for group in range(2):
        if (white_share if group == WHITE else 1 - white_share) < gate["group_share"]:
            continue
        if year < len(crops) and crops[year, group, 1] > 0:
            best = max(best, int(crops[year, group, 2]))
            bears = bears or crops[year, group, 0] / crops[year, group, 1] >= gate["crop_bearing_share"]
            continue
        seen = 0
        for tree in range(trees):
            seen += chance(seed, ACORN_LOOK, year, group, tree) < (
                p["bearing_good"] if good[group] else p["bearing_poor"]
            )
        low, high = _share_ends(float(seen), float(trees), gate["crop_z"], gate["share_step"])
        best = max(best, _side(low, high, gate["crop_bearing_share"]))
        bears = bears or seen / trees >= gate["crop_bearing_share"]
    return best, bears
