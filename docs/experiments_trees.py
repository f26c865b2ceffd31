"""Published outcomes of standing trees and of stumps: what the fire room, the growth room and the sprouting table say together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.fire import harm
from overwood.judgement.futures.draws import quantiles
from overwood.judgement.rules import Rules
from overwood.science import growth, reproduction, timber

Array = NDArray[np.float64]
# What a burn's harm to trees is drawn from, of a head fire over ground without slash; the growth room's spread between sites comes beside it.
_BURN = (
    "burn_heating_head_min", "burn_share_burned", "burn_heating_log_sd", "burn_wound_floor",
    "burn_death_small", "burn_death_middle", "burn_death_large",
)  # fmt: skip


def listed(row: dict[str, str]) -> tuple[list[int], float, float]:
    """Species in equal parts and the ends of their sizes (dbh in inches of trees, height in feet of young ones), from ``802 833: 8 to 20``."""
    codes, sizes = row["trees"].split(":")
    low, high = sizes.split(" to ")
    return [int(code) for code in codes.split()], float(low), float(high)


def stumps_alive(row: dict[str, str], rules: Rules, draws: int, seed: int) -> Array:
    """Share of stumps with a living sprout some years after a full cut, of a parent of every whole inch.

    Sprouts are not followed by year. All that sprout (the published table by species and dbh) is the most that can live, those of which a sprout
    leads at 20 the least; where between the two the share lies is drawn evenly.
    """
    codes, low, high = listed(row)
    dbh, rng = np.arange(low, high + 1), np.random.default_rng(seed)
    sprouted = float(np.mean([reproduction.stump_sprout_share(code, dbh, shade_multiplier=1.0) for code in codes]))
    leads = quantiles(*rules["future_sprout_to_dominance"].span, rng.random(draws), rules.number("future_draws_close"))
    return np.asarray(sprouted * (leads + (1 - leads) * rng.random(draws)))


def standing_lost(row: dict[str, str], rules: Rules, draws: int, seed: int) -> tuple[Array, Array]:
    """Share of standing trees dead after so many years and burns, and after as many years without a burn, a tree of every whole inch."""
    codes, low, high = listed(row)
    rng, close = np.random.default_rng(seed), rules.number("future_draws_close")
    drawn = {name: quantiles(*rules[name].span, rng.random(draws), close) for name in _BURN}
    barks, site = rng.random(draws), rng.normal(size=draws)
    burned, unburned = np.empty(draws), np.empty(draws)
    dbh, burns, years = np.arange(low, high + 1), row["work"].count("burn"), float(row["years_run"])
    for at in range(draws):
        tried = rules.with_values({name: float(values[at]) for name, values in drawn.items()})
        live = np.array([1 - growth.mortality_yr(code, dbh, death_z=float(site[at])) for code in codes]) ** years
        stand = (
            np.array([1 - harm.chances(dbh, dbh * _bark(code, barks[at], close), "head", "cleared", tried)[1] for code in codes]) ** burns
        )
        burned[at], unburned[at] = 1 - np.mean(live * stand), 1 - np.mean(live)
    return burned, unburned


def _bark(code: int, at: float, close: float) -> Array:
    """Bark at the foot over dbh at a share of its range."""
    low, ratio, high = (float(timber.foot_bark_in(code, 1.0, end)) for end in ("low", "ratio", "high"))
    return quantiles(low, ratio, high, np.array(at), close)
