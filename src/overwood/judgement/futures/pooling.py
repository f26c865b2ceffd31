"""What other stands teach: how far stands differ is fitted from their own counts, and they count for as much as that
allows.

Each stand's counts alone give every parameter a normal likelihood (its posterior over its prior). Stands are taken to
scatter about a common value; the scatter is integrated over a grid, weighed by how well it explains the stands and by a
prior that it is small. What comes out for a new stand is a normal likelihood of its own, broad where the stands differ
(partial pooling, ``gelman2013``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
_GRID = 41


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


def pooled(estimates: Sequence[Estimate], usual_scatter: float) -> tuple[float, float, float]:
    """Middle, variance for a new stand and mean scatter between stands, from the other stands' estimates.

    ``usual_scatter`` is the scatter between stands thought likely before seeing any, as a part of the prior spread
    (half normal).
    """
    told = [one for one in estimates if one.precision > 0]
    if not told:
        return 0.0, float("inf"), usual_scatter
    means = np.array([one.mean for one in told])
    errors = 1 / np.array([one.precision for one in told])
    grid = np.linspace(0, 3 * usual_scatter, _GRID) if usual_scatter > 0 else np.zeros(1)
    at = errors + grid[:, None] ** 2
    precision = (1 / at).sum(axis=1)
    middle = (means / at).sum(axis=1) / precision
    fit = -0.5 * (np.log(at).sum(axis=1) + np.log(precision) + ((means - middle[:, None]) ** 2 / at).sum(axis=1))
    fit -= 0.5 * (grid / usual_scatter) ** 2 if usual_scatter > 0 else 0.0
    weight = np.exp(fit - fit.max())
    weight /= weight.sum()
    centre = float(weight @ middle)
    variance = float(weight @ (1 / precision + grid**2 + (middle - centre) ** 2))
    return centre, variance, float(weight @ grid)


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
        middle, variance, between = pooled(
            [estimate(values, other.weight, other.after[name]) for other in others],
            rules.number("learn_between_stands"),
        )
        if np.isinf(variance):
            continue
        centre, spread = float(values.mean()), float(values.std())
        scaled = (values - centre) / spread
        total -= (scaled - middle) ** 2 / (2 * variance)
        # Beside the range, whose middle is 0 and variance 1 on this scale.
        said.append(
            Pooled(
                name,
                centre + spread * middle / (1 + variance),
                spread * (variance / (1 + variance)) ** 0.5,
                spread * between,
            )
        )
    return total, tuple(said)
