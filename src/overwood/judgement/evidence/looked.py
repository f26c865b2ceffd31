"""What a visit looked for: the sizes and kinds its rings took in. What was not looked at is never counted as none."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from overwood.ground.records import Ring
from overwood.judgement.rules import Rules

OAKS, OTHERS, INVASIVES = "oaks", "other trees", "invasives"
ALL_TREES = frozenset({OAKS, OTHERS})
# The rules that what a ring took in hangs on.
LIMITS = ("midstory_low_dbh_in", "canopy_looked_from_in")


@dataclass(frozen=True)
class Look:
    """What one ring took in: kinds, and sizes from ``low`` (included) up to ``high``; inches of dbh, or feet tall on
    the floor."""

    kinds: frozenset[str]
    low: float
    high: float
    is_said: bool = True


def kinds_of(ring: Ring) -> frozenset[str]:
    """The kinds a ring looked for; all trees, and not the invasives, where it does not say."""
    named = {word.strip().lower() for word in ring.looked_for.split(";") if word.strip()}
    return frozenset(named) if named else ALL_TREES


def nested(rings: Sequence[Ring]) -> tuple[Ring, ...]:
    """The rings of a cruise with a blank limit filled where the next ring says it: sizes are taken in by one ring
    each."""
    lows = [ring.low_dbh_in for ring in rings if ring.low_dbh_in]
    highs = [ring.high_dbh_in for ring in rings if ring.high_dbh_in]
    filled = []
    for ring in rings:
        low, high = ring.low_dbh_in, ring.high_dbh_in
        if not low and ring.layer == "overstory" and highs:
            low = max((edge for edge in highs if edge != high), default=low)
        if not high and ring.layer == "midstory":
            high = min((edge for edge in lows if edge > (low or 0)), default=high)
        filled.append(replace(ring, low_dbh_in=low, high_dbh_in=high))
    return tuple(filled)


def tree_look(ring: Ring, smallest_dbh_in: float | None, rules: Rules) -> Look:
    """The look of one ring of a cruise; where it does not say its least dbh, the smallest stem tallied on it says it,
    to the whole inch.

    Trees of the canopy's size are taken in by every overstory ring, whether one was met or not.
    """
    high = ring.high_dbh_in or math.inf
    if ring.low_dbh_in is not None:
        return Look(kinds_of(ring), ring.low_dbh_in, high)
    if ring.layer == "midstory":
        return Look(kinds_of(ring), rules.number("midstory_low_dbh_in"), high)
    least = math.inf if smallest_dbh_in is None else float(math.floor(smallest_dbh_in))
    return Look(kinds_of(ring), min(least, high, rules.number("canopy_looked_from_in")), high, is_said=False)


def floor_look(ring: Ring, shortest_ft: float | None) -> Look:
    """The look of the plots of a count; without a least height it is a foot, or less where a shorter stem was
    counted."""
    high = ring.high_height_ft or math.inf
    if ring.low_height_ft is not None:
        return Look(kinds_of(ring), ring.low_height_ft, high)
    least = 1.0 if shortest_ft is None or shortest_ft >= 1.0 else 0.0
    return Look(kinds_of(ring), least, high, is_said=False)


def size_missed(looks: Iterable[Look], kinds: frozenset[str], low: float, high: float) -> tuple[float, float] | None:
    """The first sizes between two that no ring looked at for all of some kinds; None where all were looked at."""
    reached = low
    for look in sorted((look for look in looks if kinds <= look.kinds), key=lambda look: look.low):
        if look.low > reached:
            return reached, min(look.low, high)
        reached = max(reached, look.high)
        if reached >= high:
            return None
    return (reached, high) if reached < high else None


def kinds_missed(looks: Iterable[Look], kinds: frozenset[str]) -> frozenset[str]:
    """Kinds that no ring looked for."""
    return kinds.difference(*(look.kinds for look in looks))
