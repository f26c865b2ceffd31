"""What the simulation takes and gives: named numbers of a future, a course, a stand and a gate, as records compiled
code can read."""

from __future__ import annotations

from collections import namedtuple

import numpy as np

# Places on a growing space. A place holds any number of like stems, so no oak is ever left out.
SLOTS = 8
# Years a seedling may stay small before it shares its place with the older ones.
YOUNG_YEARS = 16
WHITE, RED = 0, 1
# Every parameter of one future.
PARAMETERS = (
    "survival_dark", "survival_lit", "survival_size_logit", "survival_size_ft", "survival_stand_logit",
    "chestnut_shade_logit", "light_dark", "light_half",
    "browse_survival_logit", "browse_growth", "browse_line_ft",
    "light_no_gain", "light_full", "dieback_share", "growth_open_ft_yr", "growth_size_power", "growth_most_ft_yr",
    "growth_sprout_times",
    "growth_site_power", "plot_spread_ln", "year_spread_ln", "seedling_ft", "established_ft", "new_rival_ft",
    "tolerant_shade_ft_yr", "tolerant_full_ft_yr", "tolerant_light", "tolerant_arrival", "rival_site_power",
    "rival_shade",
    "pioneer_ft_yr", "pioneer_light", "pioneer_survival_dark", "pioneer_full_light", "pioneer_arrival",
    "pioneer_site_power",
    "crop_mean_ac", "good_crop_chance", "crop_after_good", "crop_together", "crop_good_times", "bearing_good",
    "bearing_poor",
    "insect_share", "buried_share", "overwinter_buried", "overwinter_unburied", "acorns_by_ba_power",
    "curve_b0", "curve_b1", "light_times", "light_lasts_yr", "light_kept_share",
    "midstory_multiplier", "midstory_broken", "midstory_fade", "inject_share", "inject_from_ft",
    "logging_loss_share", "seed_cut_loss", "collar_in_at_1ft", "collar_power",
    "dominance_b0", "dominance_ln_diameter", "dominance_site_10ft", "dominance_rival", "dominance_weeded", "race_yr",
    "kept_shade", "sprout_to_dominance", "sprout_shade", "dominant_loss_10yr",
    "burn_oak_small", "burn_oak_large", "burn_collar_in", "burn_young", "burn_tolerant", "burn_pioneer",
    "burn_growing_times", "burn_growing_oak_times",
    "burn_midstory", "topkill_ft", "topkill_share", "burn_escape_ft", "burn_chance", "burn_patience_yr", "planted_ft",
    "planted_collar_in", "no_cut_above_times", "prep_yr",
    "canopy_growth", "canopy_release", "death_white", "death_red", "death_other",
)  # fmt: skip
# The numbers of a course.
PLAN = (
    "cut_year", "inject", "burns", "burn_after_yr", "crop_wait_yr", "residual_ft2_ac", "count_from_yr",
    "release_wait_yr",
    "release_anyway", "planted_ac", "prep_ft2_ac", "kept_ft2_ac", "fence", "crop_trees", "one_cut", "start_yr",
)  # fmt: skip
# Each oak species of the stand: its group (WHITE or RED), its basal area in the canopy, its stumps expected to sprout,
# and how much better its established stems bear shade (1 for chestnut oak, 0 for others).
OAK = ("group", "ba_ft2_ac", "sprouts_ac", "bears_shade")
# The rest of the stand at the start; ``opened_yr`` is -1 where it was never cut, ``good_crop_ago_yr`` where no good
# crop is on record.
STAND = (
    "space_ac", "other_ba_ft2_ac", "midstory", "midstory_before", "site_index_ft", "opened_yr", "ba_before_ft2_ac",
    "good_crop_ago_yr",
    "browse_share",
)  # fmt: skip
# What the simulated forester's gates need, all from the rulebook; the quantiles are those of its confidence levels.
GATE = (
    "needed_ac", "least_ac", "waist_ft", "tall_ft", "too_tall_ft", "advance_needed_ac", "plots_per_acre",
    "same_plot_share", "clumped_ratio", "clumping_k", "share_step",
    "verdict_z", "sampled_share", "group_share", "crop_trees", "crop_bearing_share", "crop_z", "burn_wait_yr",
    "burn_collar_in", "burn_majority", "age_yr",
)  # fmt: skip
# The canopy as it changes, an array: basal area of three classes, their sum now and at the start, oaks at the start,
# oaks that bore this autumn, midstory left, light before the last opening and its year, whether it was ever cut, share
# of the oak canopy felled before the last cut, browse; and how many these are.
WHITE_BA, RED_BA, OTHER_BA, BA, WHOLE_BA, WHOLE_OAK, BORE_WHITE, BORE_RED = range(8)
MID, BEFORE, OPENED, WAS_CUT, FELLED_FIRST, BROWSE, CANOPY = range(8, 15)
# What comes of a future (a year is -1 where that never came, burn_year is that of the last burn); behind these stand
# the dominants of each oak species, planted ones apart.
RESULTS = (
    "release_year", "dominant_oaks_ac", "oaks_at_release_ac", "crops_missed", "inject_year", "burns", "cut_year",
    "planted",
    "years_waited", "tolerant_wins_ac", "pioneer_wins_ac", "burn_year", "prep_year", "plant_year",
    "dominant_planted_ac",
)  # fmt: skip
# What is seen of a pool each year: oaks an acre of 1, 3 and 4.5 ft or taller, all oaks, the first stems alive and their
# mean height, tallest rivals on average, light, midstory left, spaces with an oak of 1 ft, side of the oak gate, spaces
# with a tolerant rival and with a pioneer, mean pioneer, mean collar and share topkilled of the first stems; in the
# last year who would lead if the overwood went.
SEEN = (
    "oaks_1ft_ac", "oaks_3ft_ac", "oaks_4_5ft_ac", "oaks_ac", "first_alive", "first_ft", "rival_ft", "light",
    "midstory", "stocked", "gate",
    "tolerant_share", "pioneer_share", "pioneer_ft", "first_collar_in", "topkilled",
    "oak_leads", "tolerant_leads", "pioneer_leads",
)  # fmt: skip


def _dtype(names: tuple[str, ...]) -> np.dtype[np.void]:
    return np.dtype([(name, np.float64) for name in names])


# Columns of the stems of a place: how many like stems, their height and the greatest their root has carried [ft], the
# collar against that expected of it, kind (the place of the species among the stand's oaks, one past the last for
# planted oaks), and a name that their luck hangs on.
NUMBER, OAK_FT, CARRIED_FT, STOUT, KIND, NAME = range(6)
# Columns of the ground of a space: the tallest rivals [ft], and a lasting vigor about a mean of one.
TOLERANT_FT, PIONEER_FT, VIGOR = range(3)
# Rows behind the small seedlings of each species: what those of each age have gained, and the most they had [ft].
GAINED, MOST = -2, -1
# Growing spaces as they were counted: stems (spaces, SLOTS, 6) and ground (spaces, 3); and what was seen of the first
# autumns' acorn crops (autumns, 2 oak groups, 3): trees bearing, trees looked at, side of the crop gate.
Counted = namedtuple("Counted", "stems ground crops")
# The floor of one future as it changes, and its small seedlings expected on a space (species + 2, YOUNG_YEARS).
Floor = namedtuple("Floor", "stems ground small")


def counted_of(
    number: np.ndarray, height_ft: np.ndarray, stout: np.ndarray, kind: np.ndarray, rivals_ft: np.ndarray
) -> Counted:
    """Growing spaces from what stands in their places; no crop was looked at.

    Parameters
    ----------
    number, height_ft, stout, kind : array, shape (spaces, SLOTS)
        Like stems of each place, their height [ft], collar against that expected of it, and species.
    rivals_ft : array, shape (2, spaces)
        Tallest tolerant and pioneer rival [ft].

    Returns
    -------
    Counted
        As the simulation takes it.

    Examples
    --------
    >>> one = np.ones((2, SLOTS))
    >>> counted_of(one, one, one, one, np.zeros((2, 2))).stems.shape
    (2, 8, 6)
    """
    name = np.broadcast_to(np.arange(SLOTS, dtype=np.float64), np.shape(number))
    stems = np.stack([number, height_ft, height_ft, stout, kind, name], axis=-1).astype(np.float64)
    ground = np.column_stack([rivals_ft[0], rivals_ft[1], np.ones(len(number))]).astype(np.float64)
    return Counted(np.ascontiguousarray(stems), np.ascontiguousarray(ground), np.zeros((0, 2, 3)))


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
    >>> rows(np.arange(8.0).reshape(2, 4), OAK)["group"].tolist()
    [0.0, 4.0]
    """
    table = np.ascontiguousarray(np.atleast_2d(np.asarray(values, dtype=np.float64)))
    if table.shape[1] != len(names):
        raise ValueError(f"{table.shape[1]} numbers for {len(names)} names")
    return table.view(_dtype(names)).reshape(len(table))
