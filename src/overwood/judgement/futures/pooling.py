"""What other stands teach: how far stands differ is fitted from their own counts, and they count for as much as that
allows.

Each stand's counts alone give every parameter a normal likelihood (its posterior over its prior). The range is what is
thought of any stand; a share of its variance is each stand's own, the rest common to all. That share is learned from
the stands over a grid. What comes out for a new stand is a mixture over the share: no narrower than the range where
stands have nothing in common (partial pooling, ``gelman2013``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
# Shares of the variance that are tried, and the weight of what is thought of them before any stand is seen, in stands.
_GRID, _THOUGHT = 40, 2.0


@dataclass(frozen=True)
class Estimate:
    """What one stand's counts alone say of a parameter, on the scale of its prior spread; ``precision`` 0 says
    nothing."""

    mean: float
    precision: float


@dataclass(frozen=True)
class Pooled:
    """A parameter of a new stand by its range and the other stands: middle and standard error; how far stands differ;
    on its own scale."""

    name: str
    middle: float
    error: float
    between: float


@dataclass(frozen=True)
class Taught:
    """What one other stand's counts give the draws: their weights, and by parameter where they lie after the counts."""

    weight: Array
    after: dict[str, Array]


def estimate(values: Array, weight: Array, after: Array | None = None) -> Estimate:
    """A parameter's likelihood from its draws (prior), their weights after a stand's counts, and where they lie
    then."""
    centre, spread = float(values.mean()), float(values.std())
    scaled = ((values if after is None else after) - centre) / spread
    mean = float(weight @ scaled)
    variance = float(weight @ (scaled - mean) ** 2)
    precision = max(0.0, 1 / variance - 1) if variance > 0 else 0.0
    return Estimate(mean * (1 + precision) / precision if precision > 0 else 0.0, precision)


@dataclass(frozen=True)
class Mixture:
    """What is thought of a new stand, share by share: weight of each share of the variance that is a stand's own, and
    the stand's middle and variance then, on the scale of the range (middle 0, variance 1)."""

    share: Array
    weight: Array
    middle: Array
    variance: Array

    @property
    def moments(self) -> tuple[float, float]:
        """Middle and variance of the whole."""
        middle = float(self.weight @ self.middle)
        return middle, float(self.weight @ (self.variance + (self.middle - middle) ** 2))

    @property
    def between(self) -> float:
        """Mean scatter between stands."""
        return float(self.weight @ self.share**0.5)

    def log_ratio(self, scaled: Array) -> Array:
        """Logarithm of the mixture's density over that of the range, at values on its scale."""
        each = np.exp(-0.5 * (scaled[:, None] - self.middle) ** 2 / self.variance) / self.variance**0.5
        return np.asarray(np.log(np.maximum(each @ self.weight, 1e-300)) + 0.5 * scaled**2)


def pooled(estimates: Sequence[Estimate], own_share: float) -> Mixture:
    """What the other stands' estimates say of a new one.

    ``own_share`` is the share of a parameter's variance thought to be each stand's own before seeing any (mean of a
    beta distribution; a half makes every share as likely).
    """
    share = np.array([own_share])
    if 0 < own_share < 1:
        share = (np.arange(_GRID) + 0.5) / _GRID
    thought = (
        share ** (_THOUGHT * own_share - 1) * (1 - share) ** (_THOUGHT * (1 - own_share) - 1)
        if len(share) > 1
        else np.ones(1)
    )
    informed = [one for one in estimates if one.precision > 0]
    means, errors = np.array([one.mean for one in informed]), 1 / np.array([one.precision for one in informed])
    # Each estimate about what is common to all stands: its own error and the stand's own part.
    at, common = errors + share[:, None], 1 - share
    known, pull = (1 / at).sum(axis=1), (means / at).sum(axis=1)
    # Marginal normal likelihood, with what is common integrated out.
    fit = -0.5 * (np.log(at).sum(axis=1) + np.log1p(common * known) + (means**2 / at).sum(axis=1))
    fit += 0.5 * common * pull**2 / (1 + common * known)
    weight = thought * np.exp(fit - fit.max())
    left = common / (1 + common * known)
    return Mixture(share, weight / weight.sum(), left * pull, left + share)


def log_prior(
    names: Sequence[str], parameters: Array, others: Sequence[Taught], rules: Rules
) -> tuple[Array, tuple[Pooled, ...]]:
    """What the other stands' counts add to each draw's log likelihood, and what they say of each parameter.

    ``parameters`` is of shape (draws, parameters); each of ``others`` is what one other stand's counts give the draws.
    """
    total, said = np.zeros(len(parameters)), []
    for name in names:
        values = parameters[:, science.PARAMETERS.index(name)]
        if np.ptp(values) == 0 or not others:
            continue
        estimates = [estimate(values, other.weight, other.after[name]) for other in others]
        if not any(one.precision > 0 for one in estimates):
            continue
        mixture = pooled(estimates, rules.number("learn_own_share"))
        centre, spread = float(values.mean()), float(values.std())
        total += mixture.log_ratio((values - centre) / spread)
        middle, variance = mixture.moments
        said.append(Pooled(name, centre + spread * middle, spread * variance**0.5, spread * mixture.between))
    return total, tuple(said)
