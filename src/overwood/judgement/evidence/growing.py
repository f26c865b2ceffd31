"""A tallied stand grown on: the trees of a cruise some years later, after a cut or without one."""

from __future__ import annotations

import dataclasses

from overwood.judgement.evidence.tally import Cruise, Mask
from overwood.judgement.rules import Rules
from overwood.science import growth

# Species whose lag after a cut was seen in print; the others share one.
_LAGS = {837: "release_lag_black_oak_yr", 806: "release_lag_scarlet_oak_yr"}


def response(rules: Rules, site_index_ft: float | None = None) -> growth.Response:
    """What growth and death answer to, by the rules in force and the stand's site."""
    return growth.Response(
        full_ba_ft2_ac=rules.number("growth_full_ba_ft2_ac"),
        thinned_share=rules.number("growth_thinned_share"),
        thinned_gain=rules.number("release_growth_multiplier"),
        site_reference_ft=rules.number("growth_site_reference_ft"),
        site_power=rules.number("growth_site_power"),
        death_red=rules.number("death_crowding_red"),
        death_other=rules.number("death_crowding_other"),
        growth_z=rules.number("growth_site_z"),
        death_z=rules.number("death_site_z"),
        site_index_ft=site_index_ft,
        lag_yr={spcd: int(rules.number(name)) for spcd, name in _LAGS.items()},
        other_lag_yr=int(rules.number("release_lag_yr")),
    )


def grown(
    cruise: Cruise, years: int, answers: growth.Response, *, standing: Mask | None = None, cut_yr: int | None = None
) -> Cruise:
    """The trees of a cruise so many years on; a cut takes those not ``standing`` in its year, at once if none is
    named."""
    if years == 0 and standing is None:
        return cruise
    cut = None if standing is None else growth.Cut(year=cut_yr or 0, stays=standing)
    scale = 1 / max(cruise.n, 1)
    dbh, trees = growth.project(cruise.spcd, cruise.dbh_in, cruise.per_ac * scale, years, response=answers, cut=cut)
    return dataclasses.replace(cruise, dbh_in=dbh, per_ac=trees / scale)
