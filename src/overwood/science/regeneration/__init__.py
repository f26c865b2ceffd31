"""Young stems under an overwood, year by year: processes, and a floor of growing spaces under a course of treatment."""

from overwood.science.regeneration.course import many_futures
from overwood.science.regeneration.forester import collar_gate, crop_gate, oak_gate
from overwood.science.regeneration.luck import STAND_BIT
from overwood.science.regeneration.pieces import compile_pieces
from overwood.science.regeneration.pool import HISTORY, many_pools, pool_years
from overwood.science.regeneration.processes import (
    collar_in,
    crop_chance,
    crop_chance_seen,
    crop_years,
    floor_light,
    germinants_ac,
    growth_share,
    oak_gain_ft,
    open_gain_ft,
    pioneer_gain_ft,
    success_chance,
    tolerant_gain_ft,
    yearly_survival,
)
from overwood.science.regeneration.shapes import (
    GATE,
    OAK,
    PARAMETERS,
    PLAN,
    RED,
    RESULTS,
    SEEN,
    SLOTS,
    STAND,
    WHITE,
    Counted,
    Floor,
    counted_of,
    rows,
)
