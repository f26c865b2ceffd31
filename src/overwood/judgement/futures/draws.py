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
    # A design asks for the same shares over and over.
    asked, place = np.unique(shares, return_inverse=True)
    return np.asarray(low + (high - low) * betaincinv(middle * close, (1 - middle) * close, asked))[place]


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
    return from_shares(rules, even_shares(sets, len(varied(rules)), rng.spawn(1)[0]), oak_share)


def even_shares(rows: int, columns: int, rng: np.random.Generator) -> Array:
    """Shares between 0 and 1, of shape (rows, columns): each column has one in each of as many equal parts as there are
    rows (``mckay1979``)."""
    within = rng.uniform(size=(rows, columns))
    parts = np.tile(np.arange(1, rows + 1), (columns, 1))
    for part in parts:
        rng.shuffle(part)
    return np.asarray((parts.T - within) / rows)


def not_told(values: Array, parameters: Array) -> Array:
    """What of the values of each draw, of shape (draws, values), no parameter tells by itself, in a straight line over
    its ranks.

    Where draws are even over each range, that alone moves a mean with the seed (``stein1987``). It is made greater by
    the parameters fitted, so that its variance is that of the population; where draws are too few for a fit, only the
    mean is taken off.
    """
    drawn = parameters[:, np.ptp(parameters, axis=0) > 0]
    fitted = np.column_stack([np.ones(len(drawn)), np.argsort(np.argsort(drawn, axis=0), axis=0) / len(drawn)])
    if len(drawn) < 2 * fitted.shape[1]:
        fitted = fitted[:, :1]
    basis, _ = np.linalg.qr(fitted)
    left = (len(drawn) - 1) / (len(drawn) - fitted.shape[1])
    return np.asarray((values - basis @ (basis.T @ values)) * left**0.5)


def means(rules: Rules, oak_share: float = 1.0) -> Array:
    """The stated values as one set of parameters, of shape (1, parameters)."""
    fixed = {
        name: tables.constants(_CONSTANTS[name])[name] if name in _CONSTANTS else rules.number(SOURCES[name])
        for name in science.PARAMETERS
    }
    fixed["crop_mean_ac"] *= oak_share
    return np.array([[fixed[name] for name in science.PARAMETERS]])
