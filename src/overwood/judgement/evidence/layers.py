"""The layers of a stand: main canopy, midstory and what is injected, told of any list of stems as the rulebook says."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from overwood.ground.species import by_code
from overwood.judgement.evidence.tally import Array, Cruise, Mask
from overwood.judgement.rules import Rules

T = TypeVar("T")
# The crown classes of the main canopy.
UPPER = ("dominant", "codominant")
# The rules that the layers of a cruise hang on.
_LAYER_LIMITS = ("midstory_high_dbh_in", "midstory_low_dbh_in", "overwood_low_dbh_in")


def midstory_mask(cruise: Cruise, rules: Rules) -> Mask:
    """Shade-tolerant stems below the main canopy, as the rulebook says."""
    return once_by_sizes(
        cruise, rules, "midstory", lambda: midstory_of(cruise.spcd, cruise.dbh_in, cruise.crown_class, rules)
    )


def overwood_mask(cruise: Cruise, rules: Rules) -> Mask:
    """Trees of the main canopy."""
    return once_by_sizes(
        cruise, rules, "overwood", lambda: overwood_beside(midstory_mask(cruise, rules), cruise.dbh_in, rules)
    )


def once_by_sizes(cruise: Cruise, rules: Rules, what: str, work: Callable[[], T]) -> T:
    """What hangs on a cruise and on the rules of its layers alone, worked out once."""
    return cruise.once((what, *(rules.number(name) for name in _LAYER_LIMITS)), work)


def midstory_of(spcd: NDArray[np.int64], dbh_in: Array, crown_class: NDArray[np.str_], rules: Rules) -> Mask:
    """The midstory of any list of stems."""
    in_canopy = np.isin(crown_class, UPPER)
    return midstory_by(spcd, dbh_in, crown_class == "overtopped", in_canopy, rules)


def midstory_by(spcd: NDArray[np.int64], dbh_in: Array, is_overtopped: Mask, in_canopy: Mask, rules: Rules) -> Mask:
    """The midstory of a list of stems, by what their crown classes say."""
    tolerant = species_mask(spcd, lambda code: by_code(code).is_tolerant or "understory" in by_code(code).stand_role)
    below = (dbh_in < rules.number("midstory_high_dbh_in")) | is_overtopped
    return tolerant & below & ~in_canopy & (dbh_in >= rules.number("midstory_low_dbh_in"))


def injected_of(spcd: NDArray[np.int64], dbh_in: Array, crown_class: NDArray[np.str_], rules: Rules) -> Mask:
    """Stems to inject of any list: midstory from the smallest size worth a cut; never an oak."""
    oak = species_mask(spcd, lambda code: by_code(code).is_oak)
    return midstory_of(spcd, dbh_in, crown_class, rules) & ~oak & (dbh_in >= rules.number("injection_low_dbh_in"))


def overwood_of(spcd: NDArray[np.int64], dbh_in: Array, crown_class: NDArray[np.str_], rules: Rules) -> Mask:
    """The main canopy of any list of stems."""
    return overwood_beside(midstory_of(spcd, dbh_in, crown_class, rules), dbh_in, rules)


def overwood_beside(midstory: Mask, dbh_in: Array, rules: Rules) -> Mask:
    """The main canopy of a list of stems, its midstory being known."""
    return ~midstory & (dbh_in >= rules.number("overwood_low_dbh_in"))


def species_mask(spcd: NDArray[np.int64], ask: Callable[[int], bool]) -> Mask:
    """Which of a list of stems are of species that answer a question with yes; each species is asked once."""
    if not len(spcd):
        return np.zeros(0, dtype=bool)
    codes = np.flatnonzero(np.bincount(spcd))
    says = np.zeros(codes[-1] + 1, dtype=bool)
    says[codes] = [ask(int(code)) for code in codes]
    return says[spcd]


def white_oak_mask(spcd: NDArray[np.int64]) -> Mask:
    """Oaks of the white oak group."""
    return species_mask(spcd, lambda code: by_code(code).oak_group == "white")


def oak_mask(cruise: Cruise) -> Mask:
    """Oaks of any layer."""
    return cruise.once(("oaks",), lambda: species_mask(cruise.spcd, lambda code: by_code(code).is_oak))
