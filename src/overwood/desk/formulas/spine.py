"""The formulas of the spine: sampling, overstory, reproduction, acorns."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from overwood.desk.formulas.density import outside_chart
from overwood.desk.formulas.keys import Values, same_length, stand_in
from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.judgement.rules import load
from overwood.science import acorns, density, overstory, reproduction, sample_size, survey


def _estimate(estimate: survey.Estimate, *, with_n: bool) -> Values:
    values: Values = {"mean": estimate.mean, "se": estimate.se, "low": estimate.low, "high": estimate.high}
    return values | ({"n": estimate.n} if with_n else {})


def _from_stand(ba_ft2_ac: float, tpa: float) -> Values:
    stocking, qmd = overstory.stocking_from_stand_pct(ba_ft2_ac, tpa)
    return {"stocking_pct": stocking, "qmd_in": qmd}


def _crown_width(species: int, dbh_in: float, crown_ratio_pct: float | None, hopkins_index: float | None) -> Values:
    rules = load()
    ratio = rules.number("crown_ratio_codominant_pct") if crown_ratio_pct is None else crown_ratio_pct
    hopkins = rules.number("hopkins_index") if hopkins_index is None else hopkins_index
    return {
        "crown_width_ft": float(overstory.crown_width_ft(species, dbh_in, crown_ratio_pct=ratio, hopkins_index=hopkins))
    }


def _crown_notes(species: int, dbh_in: float, crown_ratio_pct: float | None, **_: Any) -> list[str]:
    notes = stand_in(species, overstory.CROWN_TABLE)
    if crown_ratio_pct is None:
        notes.append("crown ratio assumed (crown_ratio_codominant_pct)")
    if dbh_in < 5:
        notes.append(f"outside the published range: fitted to trees of {measures.amount(5, 'in.')} or larger")
    return notes


def _site_notes(species: int, age_yr: float, site_index_ft: float | None = None, **_: Any) -> list[str]:
    notes = stand_in(species, overstory.SITE_TABLE)
    low, high = overstory.SITE_AGES_YR
    if not low <= age_yr <= high:
        notes.append(f"outside the published range: ages {low:g} to {high:g}")
    if site_index_ft is not None and not 40 <= site_index_ft <= 90:
        notes.append("outside the published range: site index 40 to 90")
    return notes


def _sprout(species: int, dbh_in: float, shade: float | None) -> Values:
    times = 1.0 if shade is None else shade
    return {"share": float(reproduction.stump_sprout_share(species, dbh_in, shade_multiplier=times))}


def _sprout_notes(species: int, shade: float | None, **_: Any) -> list[str]:
    notes = stand_in(species, reproduction.SPROUT_TABLE)
    return notes + (
        [f"shade multiplier {shade:g} is an assumption (sprout_shade_multiplier)"] if shade not in (None, 1.0) else []
    )


def _verdict(plots: int, stocked: int, sprouts_ac: float, level: float) -> Values:
    if stocked > plots:
        raise Misuse(f"stocked={stocked} of plots={plots}.", remedy="stocked is at most plots.")
    verdict = reproduction.stocked_plot_verdict(plots, stocked, sprouts_ac, level=level)
    return {
        name: getattr(verdict, name)
        for name in ("stocked_share", "low", "high", "needed_share", "verdict", "dominants_at_20_ac")
    }


def _proportion(hits: int, n: int, level: float) -> Values:
    if hits > n:
        raise Misuse(f"hits={hits} of n={n}.", remedy="hits is at most n.")
    low, high = survey.wilson_interval(hits, n, level=level)
    return {"share": hits / n, "low": float(low), "high": float(high)}


def _proportion_notes(hits: int, n: int, level: float) -> list[str]:
    low, high = survey.exact_interval(hits, n, level=level)
    return [
        f"Wilson interval; the exact one is {low:.4f} to {high:.4f}",
        "a one-sided bound at 90% is the bound at level 0.80",
    ]


def _advance(basal_diameter_in: float, site_index_ft: float, k: float | None) -> Values:
    rules = load()
    share = reproduction.advance_success(
        basal_diameter_in,
        site_index_ft,
        b0=rules.number("dominance_b0"),
        b_ln_diameter=rules.number("dominance_ln_diameter"),
        b_site_10ft=rules.number("dominance_site_10ft"),
        k=rules.number("dominance_competition") if k is None else k,
    )
    return {"share": float(share)}


def _fate(acorns_ac: float, insect_share: float, buried: float, survival_share: float) -> Values:
    fate = acorns.fate(acorns_ac, insect_share=insect_share, buried_share=buried, survival_share=survival_share)
    return {"sound_ac": fate.sound_ac, "germinants_ac": fate.germinants_ac, "seedlings_ac": fate.seedlings_ac}


def _stratified(
    means: list[float], variances: list[float], counts: list[float], areas: list[float], level: float
) -> Values:
    same_length(means=means, variances=variances, counts=counts, areas=areas)
    return _estimate(survey.stratified_mean(means, variances, counts, areas, level=level), with_n=False)


COMPUTE: dict[str, Callable[..., Values]] = {
    "plot-radius": lambda area_ac: {"radius_ft": float(survey.plot_radius_ft(area_ac))},
    "point-expansion": lambda baf_ft2_ac, dbh_in: {
        "trees_per_acre": float(survey.trees_per_acre_prism(baf_ft2_ac, dbh_in)),
        "limiting_distance_ft": float(survey.limiting_distance_ft(baf_ft2_ac, dbh_in)),
    },
    "sample-mean": lambda values, level, population: _estimate(
        survey.sample_mean(values, level=level, population=population), with_n=True
    ),
    "stratified-mean": _stratified,
    "proportion-interval": _proportion,
    "plots-needed": lambda cv_pct, error_pct, level, population: {
        "plots": sample_size.plots_needed(cv_pct, error_pct, level=level, population=population)
    },
    "plots-for-proportion": lambda share, margin, level: {
        "plots": sample_size.plots_for_proportion(share, margin, level=level)
    },
    "stocking-from-stand": _from_stand,
    "crown-width-open": lambda dbh_in: {
        "crown_width_ft": float(overstory.open_crown_width_ft(dbh_in)),
        "crown_area_pct_ac": float(density.open_crown_area_pct(dbh_in)),
    },
    "crown-width": _crown_width,
    "site-index": lambda species, age_yr, height_ft: {
        "site_index_ft": float(overstory.site_index_ft(species, age_yr, height_ft))
    },
    "dominant-height": lambda species, age_yr, site_index_ft: {
        "height_ft": float(overstory.dominant_height_ft(species, age_yr, site_index_ft))
    },
    "stump-sprout": _sprout,
    "random-stocking": lambda stems_ac, plots_per_acre: {
        "share": float(reproduction.random_stocking(stems_ac, plots_per_acre))
    },
    "reproduction-verdict": _verdict,
    "advance-success": _advance,
    "acorn-fate": _fate,
}
NOTES: dict[str, Callable[..., list[str]]] = {
    "sample-mean": lambda values, **_: ["one plot gives no error"] if len(values) < 2 else [],
    "proportion-interval": _proportion_notes,
    "stocking-from-stand": lambda ba_ft2_ac, tpa: [
        *outside_chart(overstory.stocking_from_stand_pct(ba_ft2_ac, tpa)[1]),
        "even-aged stands only: a midstory makes it too high",
    ],
    "crown-width": _crown_notes,
    "site-index": _site_notes,
    "dominant-height": _site_notes,
    "stump-sprout": _sprout_notes,
}
