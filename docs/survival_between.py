"""How far studies of the same thing lie apart: yearly survival of young oaks by light and size, with a spread between studies.

Each study's survival is put on the logit scale and freed of its stems' size; a line over light between dense shade and enough is fitted with
every study off it by its own amount (a random effect). What is left between the studies is how far a stand may lie from their mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overwood.ground import tables
from overwood.judgement.rules import Rules
from overwood.science.regeneration.processes import lit_share

TABLE = "judgement/futures/survival_studies.csv"


@dataclass(frozen=True)
class Survival:
    """Yearly survival of a stem of one foot in dense shade and in light enough, and the spread between studies on the logit scale."""

    dark: float
    lit: float
    between: float
    studies: int


def survival_between_studies(rules: Rules) -> Survival:
    """The fit over all studies of the table."""
    rows = tables.rows(TABLE)
    survival, height, light = (np.array([float(row[name]) for row in rows]) for name in ("survival_yr", "height_ft", "light"))
    size = rules.number("future_survival_size_logit") * np.log(np.minimum(height, 4.5))
    logit = np.log(survival / (1 - survival)) - size
    ends = rules.number("future_light_dark"), rules.number("future_light_lit")
    lit = np.array([lit_share.py_func(one, *ends) for one in light])
    design = np.column_stack([1 - lit, lit])
    line, *_ = np.linalg.lstsq(design, logit, rcond=None)
    # The error within a study is small beside what lies between them, so that what is left over is the spread between studies.
    left = logit - design @ line
    between = float(np.sqrt((left**2).sum() / (len(rows) - 2)))
    dark, bright = 1 / (1 + np.exp(-line))
    return Survival(float(dark), float(bright), between, len(rows))
