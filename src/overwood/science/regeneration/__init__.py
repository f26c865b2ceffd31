"""Young stems under an overwood, year by year: processes, and a floor of plots under a course of treatment."""

from overwood.science.regeneration.floor import (
    GATE,
    PARAMETERS,
    PLAN,
    RESULTS,
    SLOTS,
    many_futures,
    many_pools,
    one_future,
    pool_years,
)
from overwood.science.regeneration.processes import (
    crop_years,
    floor_light,
    germinants_ac,
    growth_share,
    oak_gain_ft,
    poplar_gain_ft,
    success_chance,
    tolerant_gain_ft,
    yearly_survival,
)

__all__ = [
    "GATE",
    "PARAMETERS",
    "PLAN",
    "RESULTS",
    "SLOTS",
    "crop_years",
    "floor_light",
    "germinants_ac",
    "growth_share",
    "many_futures",
    "many_pools",
    "oak_gain_ft",
    "one_future",
    "pool_years",
    "poplar_gain_ft",
    "success_chance",
    "tolerant_gain_ft",
    "yearly_survival",
]
