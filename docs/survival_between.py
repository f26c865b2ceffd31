"""How light keeps young oaks alive, and how far studies of the same thing lie apart: yearly survival by light and size.

Each study's survival is put on the logit scale and freed of its stems' size; a line over what light does is fitted with every study off it by its
own amount (a random effect), so that the slope comes from floors of one study set side by side, not from studies of different woods.
Survival after a last cut is left out: it holds the stems that felling broke, which the simulation takes off by itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from overwood.ground import tables
from overwood.judgement.rules import Rules
from overwood.science.regeneration.processes import carbon_share

TABLE = "judgement/futures/survival_studies.csv"


@dataclass(frozen=True)
class Survival:
    """Yearly survival of a stem of one foot in dense shade and in all light it can use, spread between and within studies on the logit scale."""

    dark: float
    lit: float
    between: float
    within: float
    log_likelihood: float

    @property
    def stand(self) -> float:
        """How far a floor lies from the mean of all, on the logit scale."""
        return math.hypot(self.between, self.within)


def by_light(rules: Rules) -> Callable[[float], float]:
    """What light does for survival in the simulation, 0 to 1."""
    dark, half = rules.number("future_light_dark"), rules.number("future_light_half")
    return lambda light: float(carbon_share.py_func(light, dark, half))


def survival_between_studies(rules: Rules, share: Callable[[float], float]) -> Survival:
    """The fit over all studies of the table by restricted maximum likelihood (Patterson and Thompson 1971)."""
    from scipy.optimize import minimize

    rows = tables.rows(TABLE)
    survival, height = (np.array([float(row[name]) for row in rows]) for name in ("survival_yr", "height_ft"))
    lit = np.array([share(float(row["light"])) for row in rows])
    logit = np.log(survival / (1 - survival)) - rules.number("future_survival_size_logit") * np.log(
        np.minimum(height, rules.number("future_survival_size_ft"))
    )
    design = np.column_stack([1 - lit, lit])
    same = np.equal.outer(*[np.array([row["study"] for row in rows])] * 2)

    def parts(spreads: np.ndarray) -> tuple[float, np.ndarray]:
        cover = spreads[0] ** 2 * same + spreads[1] ** 2 * np.eye(len(rows))
        inner = design.T @ np.linalg.solve(cover, design)
        ends = np.linalg.solve(inner, design.T @ np.linalg.solve(cover, logit))
        left = logit - design @ ends
        return -(np.linalg.slogdet(cover)[1] + np.linalg.slogdet(inner)[1] + left @ np.linalg.solve(cover, left)) / 2, ends

    best = minimize(lambda spreads: -parts(spreads)[0], (0.5, 0.5), bounds=[(0.0, 3.0), (0.05, 3.0)])
    likelihood, ends = parts(best.x)
    dark, bright = 1 / (1 + np.exp(-ends))
    return Survival(float(dark), float(bright), float(best.x[0]), float(best.x[1]), float(likelihood))
