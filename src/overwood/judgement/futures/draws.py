"""What nobody knows, drawn: every parameter from its range with the stated value as the mean of what is drawn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
# Which entry of the assumptions each parameter is drawn from; a parameter that is not named here is ``future_`` and its
# name.
_ENTRIES = {
    "crop_mean_ac": "future_crop_ac",
    "good_crop_chance": "good_crop_chance",
    "insect_share": "insect_loss_share",
    "buried_share": "buried_share",
    "light_lasts_yr": "injection_light_lasts_yr",
    "midstory_multiplier": "light_midstory_multiplier",
    "logging_loss_share": "logging_loss_share",
    "dominance_b0": "dominance_b0",
    "dominance_ln_diameter": "dominance_ln_diameter",
    "dominance_site_10ft": "dominance_site_10ft",
    "sprout_shade": "sprout_shade_multiplier",
    "burn_growing_times": "burn_growing_season_factor",
}
# Parameters that are constants of a table of the science floor and are not drawn.
_CONSTANTS = {
    "curve_b0": "science/tables/light.csv",
    "curve_b1": "science/tables/light.csv",
    "overwinter_buried": "science/tables/acorns.csv",
    "overwinter_unburied": "science/tables/acorns.csv",
}
SOURCES = {name: _ENTRIES.get(name, f"future_{name}") for name in science.PARAMETERS if name not in _CONSTANTS}


def quantiles(low: float, mean: float, high: float, shares: Array, close: float) -> Array:
    """Values of a range at shares of its draws: a beta distribution over the range whose mean is the value.

    ``close`` is how closely draws keep to their mean (the assumption ``future_draws_close``). Where the value lies near
    an end they keep closer to it, so that they do not pile up at the end.
    """
    if low >= high:
        return np.full(np.shape(shares), mean)
    from scipy.special import betaincinv

    middle = min(max((mean - low) / (high - low), 1e-3), 1 - 1e-3)
    close = max(close, 1 / min(middle, 1 - middle))
    return low + (high - low) * np.asarray(betaincinv(middle * close, (1 - middle) * close, shares))


def varied(rules: Rules) -> tuple[str, ...]:
    """Parameters whose range is not a point, in order."""
    return tuple(name for name, entry in SOURCES.items() if rules[entry].span[0] < rules[entry].span[2])


def from_shares(rules: Rules, shares: Array, oak_share: float) -> Array:
    """Parameter sets at given shares of each range, of shape (sets, parameters); ``shares`` of (sets, varied
    parameters)."""
    place = {name: at for at, name in enumerate(varied(rules))}
    sets = np.empty((len(shares), len(science.PARAMETERS)))
    for at, name in enumerate(science.PARAMETERS):
        if name in _CONSTANTS:
            sets[:, at] = tables.constants(_CONSTANTS[name])[name]
        elif name in place:
            sets[:, at] = quantiles(
                *rules[SOURCES[name]].span, shares[:, place[name]], rules.number("future_draws_close")
            )
        else:
            sets[:, at] = rules.number(SOURCES[name])
    sets[:, science.PARAMETERS.index("crop_mean_ac")] *= oak_share
    return sets


def draw_parameters(rules: Rules, oak_share: float, sets: int, rng: np.random.Generator) -> Array:
    """So many draws of every parameter, each range cut into as many equal parts as there are draws; of shape (sets,
    parameters)."""
    from scipy.stats import qmc

    names = varied(rules)
    shares = qmc.LatinHypercube(d=len(names), rng=rng).random(sets) if names else np.zeros((sets, 0))
    return from_shares(rules, shares, oak_share)


def means(rules: Rules, oak_share: float = 1.0) -> Array:
    """The stated values as one set of parameters, of shape (1, parameters)."""
    fixed = {
        name: tables.constants(_CONSTANTS[name])[name] if name in _CONSTANTS else rules.number(SOURCES[name])
        for name in science.PARAMETERS
    }
    fixed["crop_mean_ac"] *= oak_share
    return np.array([[fixed[name] for name in science.PARAMETERS]])
