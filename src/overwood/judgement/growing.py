"""A tallied stand grown on: the trees of a cruise some years later, after a cut or without one."""

from __future__ import annotations

import dataclasses

import numpy as np

from overwood.judgement.evidence.tally import Cruise, Mask
from overwood.judgement.rules import Rules
from overwood.science import growth


def grown(cruise: Cruise, rules: Rules, years: int, *, standing: Mask | None = None, cut_yr: int | None = None) -> Cruise:
    """The trees of a cruise so many years on; competition from those standing, released some years after a cut."""
    if years == 0:
        return cruise
    stays = np.ones(len(cruise.trees), dtype=bool) if standing is None else standing
    release = np.ones(years)
    if cut_yr is not None:
        release[max(cut_yr + int(rules.number("release_lag_yr")), 0) :] = rules.number("release_growth_multiplier")
    scale = 1 / max(cruise.n, 1)
    per_ac = np.where(stays, cruise.per_ac, 0.0) * scale
    dbh, trees = growth.project(cruise.spcd, cruise.dbh_in, per_ac, years, release=release)
    return dataclasses.replace(cruise, dbh_in=dbh, per_ac=trees / scale)
