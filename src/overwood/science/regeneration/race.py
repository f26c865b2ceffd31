"""The race after the overwood goes: oak against its rivals on each growing space."""

from __future__ import annotations

import numpy as np

from overwood.science.regeneration.compiling import compiled, within
from overwood.science.regeneration.luck import PIONEER, chance
from overwood.science.regeneration.processes import (
    collar_in,
    oak_gain_ft,
    pioneer_gain_ft,
    success_chance,
    tolerant_gain_ft,
)
from overwood.science.regeneration.shapes import CARRIED_FT, KIND, NUMBER, OAK_FT, PIONEER_FT, SLOTS, STOUT, TOLERANT_FT
from overwood.science.regeneration.year import between, pioneer_arrival


@within
def _race(height, carried, gains, tolerant, pioneer, site_index_ft, p):  # type: ignore[no-untyped-def]
    """Height of the tallest rival over the oak's after some years in the open, both growing as in full sun."""
    for _ in range(int(p["race_yr"])):
        height += oak_gain_ft(height, carried, between(gains, carried), 1.0, 0.0, p)
        carried = max(carried, height)
        tolerant = tolerant + tolerant_gain_ft(1.0, site_index_ft, p) if tolerant > 0 else 0.0
        pioneer = pioneer + pioneer_gain_ft(1.0, site_index_ft, p) if pioneer > 0 else 0.0
    return max(tolerant, pioneer) / height, pioneer > tolerant


@compiled
def winners(floor, stand, released_ac, gains, p, seed, year):  # type: ignore[no-untyped-def]
    """Who leads at 20 if the overwood goes now, in shares of the spaces.

    Parameters
    ----------
    floor : Floor
        The floor before the last cut.
    stand : record
        The stand, by STAND.
    released_ac : float
        Oaks released from their rivals as crop trees at age 5 to 15 [1/ac], one on a space: the most promising of the
        stand, as a crew picks them.
    gains : array, shape (81,)
        As :func:`gain_table` gives it.
    p : record
        Parameters.
    seed, year : int
        Seed of the future and year of the run.

    Returns
    -------
    array, shape (species + 3,)
        Oaks by kind (planted ones last), then tolerant rivals and pioneers; what is missing to one has no leader of
        these.

    Notes
    -----
    A space holds one leader. Its oaks share a chance, that of the best of them, because what decides (rivals, felling)
    strikes them together (``sander1976``: 0.51 belongs to a stocked plot); felling losses of the last cut are part of
    it once.
    """
    kinds = len(floor.small) - 1
    won = np.zeros(kinds + 2)
    site = stand["site_index_ft"]
    comes = 1 - (1 - pioneer_arrival(1.0, site, p)) ** 3
    # Of each space: chance of its best oak, that once released, its kind, and what leads behind it.
    chances = np.zeros((len(floor.ground), 4))
    for space in range(len(floor.ground)):
        tolerant, pioneer = floor.ground[space, TOLERANT_FT], floor.ground[space, PIONEER_FT]
        if pioneer <= 0 and chance(seed, PIONEER, year, space, 9) < comes:
            pioneer = p["new_rival_ft"]
        best, helped, kind, other = 0.0, 0.0, 0, pioneer > tolerant
        for slot in range(SLOTS):
            if floor.stems[space, slot, NUMBER] > 0:
                times, behind = _race(
                    floor.stems[space, slot, OAK_FT],
                    floor.stems[space, slot, CARRIED_FT],
                    gains,
                    tolerant,
                    pioneer,
                    site,
                    p,
                )
                collar = collar_in(floor.stems[space, slot, CARRIED_FT], floor.stems[space, slot, STOUT], p)
                wins = success_chance(collar, times, 0.0, site, p)
                if wins > best:
                    best, kind, other = wins, int(floor.stems[space, slot, KIND]), behind
                    helped = success_chance(collar, times, 1.0, site, p)
        chances[space, 0], chances[space, 1], chances[space, 2] = best, helped, kind
        chances[space, 3] = (2 if other else 1) if max(tolerant, pioneer) > 0 else 0
    for space in range(len(floor.ground)):
        best, helped = chances[space, 0], chances[space, 1]
        if released_ac > 0:
            picked = min(
                max(released_ac * stand["space_ac"] * len(chances) - _more_promising(chances, space), 0.0), 1.0
            )
            best += picked * (helped - best)
        best *= 1 - p["logging_loss_share"]
        won[int(chances[space, 2])] += best
        if chances[space, 3] > 0:
            won[kinds + int(chances[space, 3]) - 1] += 1 - best
    for who in range(len(won)):
        won[who] /= len(floor.ground)
    return won


@compiled
def _more_promising(chances, space):  # type: ignore[no-untyped-def]
    """Spaces whose oak would do better when released than that of a space; of like ones those before it."""
    before = 0
    for other in range(len(chances)):
        more = chances[other, 1] - chances[space, 1]
        before += more > 0 or (more == 0 and other < space)
    return before
