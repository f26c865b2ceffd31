"""What the simulation takes and gives: named numbers of a future, a course, a stand and a gate, as records compiled code can read."""

from __future__ import annotations

from collections import namedtuple

import numpy as np

SLOTS = 5
YOUNG_YEARS = 3
WHITE, RED = 0, 1
# Every parameter of one future.
PARAMETERS = (
    "seedling_survival8_dark", "seedling_survival8_lit", "established_survival_dark", "established_survival_lit",
    "light_dark", "light_lit", "light_no_gain", "light_seedling", "light_established", "light_sprout", "established_ft",
    "growth_seedling_ft_yr", "growth_established_ft_yr", "growth_sprout_ft_yr", "growth_tolerant_ft_yr", "growth_poplar_ft_yr",
    "tolerant_light", "tolerant_full_ft_yr", "tolerant_arrival", "pioneer_light", "pioneer_survival_dark", "pioneer_full_light",
    "pioneer_arrival", "new_stem_ft", "plot_spread_ln", "year_spread_ln",
    "crop_mean_ac", "good_crop_chance", "crop_after_good", "crop_together", "crop_good_times", "crop_poor_times", "bearing_good", "bearing_poor",
    "insect_share", "buried_share", "overwinter_buried", "overwinter_unburied", "acorns_by_ba_power",
    "curve_b0", "curve_b1", "light_lasts_yr", "light_kept_share", "midstory_multiplier",
    "logging_loss_share", "seed_cut_loss", "browse_growth", "browse_line_ft",
    "dominance_b0", "dominance_ln_diameter", "dominance_site_10ft", "dominance_overtopped", "overtopped_times", "collar_in_at_4_5ft", "kept_shade",
    "sprout_to_dominance", "sprout_shade", "burn_oak_small", "burn_oak_large", "burn_large_ft", "burn_young", "burn_rivals", "topkill_ft", "burn_chance",
    "planted_ft", "no_cut_above_times", "prep_yr", "canopy_growth", "canopy_release", "death_white", "death_red", "death_other",
    "dominant_loss_10yr",
)  # fmt: skip
# The numbers of a course.
PLAN = (
    "cut_year", "inject", "burns", "crop_wait_yr", "residual_ft2_ac", "count_from_yr", "release_wait_yr", "release_anyway",
    "planted_ac", "prep_ft2_ac", "kept_ft2_ac",
)  # fmt: skip
# Each oak species of the stand: its group (WHITE or RED), its basal area in the canopy, and its stumps expected to sprout.
OAK = ("group", "ba_ft2_ac", "sprouts_ac")
# The rest of the stand at the start; ``opened_yr`` is -1 where it was never cut.
STAND = (
    "plot_ac", "other_ba_ft2_ac", "midstory", "site_index_ft", "opened_yr", "ba_before_ft2_ac", "good_crop_ago_yr",
)  # fmt: skip
# What the simulated forester's gates need, all from the rulebook; the quantiles are those of its confidence levels.
GATE = (
    "needed_ac", "least_ac", "waist_ft", "tall_ft", "too_tall_ft", "advance_needed_ac", "plots_per_acre", "clumped_ratio", "clumping_k", "share_step",
    "verdict_z", "sampled_share", "group_share", "crop_trees", "crop_bearing_share", "crop_z", "burn_wait_yr", "age_yr",
)  # fmt: skip
# The canopy as it changes, held as an array of one record, because a record alone does not keep its memory in compiled code: basal area of three classes, their sum now and at the start, oaks at the start, midstory, light and year of the last opening.
CANOPY = ("white", "red", "other", "ba", "whole_ba", "whole_oak", "shade", "before", "opened", "was_cut")
# What comes of a future; behind these stand the dominants of each oak species, planted ones apart.
RESULTS = (
    "release_year", "dominant_oaks_ac", "oaks_at_release_ac", "crops_missed", "inject_year", "burns", "cut_year", "planted",
    "dominant_planted_ac",
)  # fmt: skip
# Chances of a year, common to all courses: white crop, red crop, whether they go together, burn weather.
LUCK = ("white", "red", "together", "burn")


def _dtype(names: tuple[str, ...]) -> np.dtype[np.void]:
    return np.dtype([(name, np.float64) for name in names])


PARAMETER_ROW, PLAN_ROW, STAND_ROW, OAK_ROW, GATE_ROW, CANOPY_ROW = map(_dtype, (PARAMETERS, PLAN, STAND, OAK, GATE, CANOPY))

# Counted plots: oak heights and what their roots have carried [ft], kinds (plots, SLOTS): the place of the species among the
# stand's oaks, one past the last for planted oaks; tallest rivals [ft] (plots,).
Counted = namedtuple("Counted", "oak root kind tolerant pioneer")
# The floor of one future as it changes; ``young`` is the seedlings expected on a plot (species, YOUNG_YEARS),
# ``vigour`` a lasting factor of each plot.
Floor = namedtuple("Floor", "oak root kind young tolerant pioneer vigour")


def rows(values: np.ndarray, names: tuple[str, ...]) -> np.ndarray:
    """Rows of numbers as records.

    Parameters
    ----------
    values : array, shape (n, len(names)) or (len(names),)
        Numbers in the order of the names.
    names : tuple of str
        PARAMETERS, PLAN, STAND, OAK or GATE.

    Returns
    -------
    array, shape (n,)
        Records.

    Raises
    ------
    ValueError
        when the number of columns is another.

    Examples
    --------
    >>> rows(np.arange(22.0).reshape(2, 11), PLAN)["inject"].tolist()
    [1.0, 12.0]
    """
    table = np.ascontiguousarray(np.atleast_2d(np.asarray(values, dtype=np.float64)))
    if table.shape[1] != len(names):
        raise ValueError(f"{table.shape[1]} numbers for {len(names)} names")
    return table.view(_dtype(names)).reshape(len(table))
