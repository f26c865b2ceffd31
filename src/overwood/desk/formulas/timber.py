"""The formulas of timber, growth and money."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from overwood.desk.formulas.keys import Values, stand_in
from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.judgement.evidence.growing import response
from overwood.judgement.rules import load
from overwood.science import growth, money, timber


def _log(rule: str, diameter_in: float, length_ft: float, large_end_in: float | None) -> Values:
    if rule == "smalian":
        if large_end_in is None:
            raise Misuse(
                "smalian needs large_end_in.",
                remedy="Give the diameter of the large end; huber takes the middle alone.",
            )
        return {"volume": float(timber.smalian_ft3(diameter_in, large_end_in, length_ft)), "unit": "ft3"}
    if large_end_in is not None:
        raise Misuse(f"{rule} takes one diameter.", remedy="Leave large_end_in out.")
    if rule == "huber":
        return {"volume": float(timber.huber_ft3(diameter_in, length_ft)), "unit": "ft3"}
    if rule == "scribner-c":
        return {"volume": timber.scribner_decimal_c_bf(diameter_in, length_ft), "unit": "bd ft"}
    return {"volume": float(timber.BOARD_RULES[rule](diameter_in, length_ft)), "unit": "bd ft"}


def _log_notes(rule: str, diameter_in: float, length_ft: float, **_: Any) -> list[str]:
    notes = []
    if rule in ("scribner", "doyle", "international-1/4", "international-1/8"):
        notes.append("diameter is that of the small end inside bark")
    if rule == "scribner" and not (6 <= diameter_in <= 44 and 10 <= length_ft <= 24):
        notes.append(f"outside the published range: {measures.span(6, 44, 'in.')}, {measures.span(10, 24, 'ft')}")
    if rule.startswith("international"):
        notes.append("printed tables round to the nearest 5")
    return notes


def _tree(rule: str, dbh_in: float, logs: float, form_class: float | None) -> Values:
    form = load().number("form_class_pct") if form_class is None else form_class
    return {"volume_bf": float(timber.tree_bf(rule, dbh_in, logs, form))}


def _tree_notes(dbh_in: float, form_class: float | None, **_: Any) -> list[str]:
    low, high = timber.TREE_DBH_IN
    notes = [] if low <= dbh_in <= high else [f"outside the published range: {low:g} to {high:g} in."]
    return notes + (["form class assumed (form_class_pct)"] if form_class is None else [])


def _cubic(species: int, dbh_in: float, height_ft: float) -> Values:
    top = load().number("cubic_top_in")
    if dbh_in <= top:
        raise Misuse(f"dbh_in={dbh_in:g} is not above the top of {top:g} in. (cubic_top_in).")
    return {
        "volume_ft3": float(timber.tree_cubic_ft3(dbh_in, timber.merchantable_height_ft(dbh_in, height_ft, top_in=top)))
    }


def _growth(
    species: int, dbh_in: float, site_index_ft: float, ba_ft2_ac: float, ba_larger_ft2_ac: float | None
) -> Values:
    larger = load().number("ba_larger_share") * ba_ft2_ac if ba_larger_ft2_ac is None else ba_larger_ft2_ac
    answers = response(load(), site_index_ft)
    faster = growth.site_response(answers) * growth.thinning_response(ba_ft2_ac, answers)
    return {
        "growth_in_yr": faster * float(growth.diameter_growth_in_yr(species, dbh_in, larger, growth_z=answers.growth_z))
    }


def _growth_notes(species: int, ba_larger_ft2_ac: float | None, **_: Any) -> list[str]:
    notes = [
        "one unmanaged Virginia site, its level pooled with a second forest for oaks, hickories and red maple",
        "site index and thinning enter by assumptions (growth_site_power, release_growth_multiplier)",
        f"single trees vary by {growth.growth_error_in_yr(species):.2f} in. a year",
    ]
    if ba_larger_ft2_ac is None:
        notes.append("basal area of larger trees assumed (ba_larger_share)")
    return notes + stand_in(species, growth.GROWTH_TABLE)


def _stream(amounts: list[float], years: list[float]) -> None:
    if len(amounts) != len(years):
        raise Misuse(f"amounts has {len(amounts)} and years has {len(years)}.", remedy="Give a year for every amount.")


def _npv(amounts: list[float], years: list[float], rate: float) -> Values:
    _stream(amounts, years)
    return {"npv": money.net_present_value(amounts, years, rate)}


def _irr(amounts: list[float], years: list[float]) -> Values:
    _stream(amounts, years)
    rates = money.rates_of_return(amounts, years)
    if not rates:
        raise Misuse("the stream has no rate of return.", remedy="It needs a cost and an income.")
    if len(rates) > 1:
        several = ", ".join(f"{rate:.2%}" for rate in rates)
        raise Misuse(
            f"the stream turns between cost and income {money.sign_changes(amounts, years)} times and has "
            f"{len(rates)} rates "
            f"of return: {several}.",
            remedy="None of them ranks it: compare present values at your own rate.",
        )
    return {"rate": rates[0]}


COMPUTE: dict[str, Callable[..., Values]] = {
    "log-volume": _log,
    "tree-volume": _tree,
    "tree-cubic": _cubic,
    "height-from-dbh": lambda species, dbh_in: {"height_ft": float(timber.height_ft(species, dbh_in, scale=1.0))},
    "biomass": lambda species, dbh_in: {"dry_lb": float(timber.biomass_dry_lb(species, dbh_in))},
    "bark-thickness": lambda species, dbh_in: {"bark_in": float(timber.bark_thickness_in(species, dbh_in))},
    "bark-at-foot": lambda species, dbh_in: {
        name: float(timber.foot_bark_in(species, dbh_in, end))
        for name, end in (("bark_in", "ratio"), ("low_in", "low"), ("high_in", "high"))
    },
    "diameter-growth": _growth,
    "npv": _npv,
    "annual-equivalent": lambda npv, rate, years: {"amount": money.annual_equivalent(npv, rate, years)},
    "land-expectation": lambda net_income, rotation_yr, rate: {
        "lev": money.land_expectation_value(net_income, rotation_yr, rate)
    },
    "rate-of-return": _irr,
}
NOTES: dict[str, Callable[..., list[str]]] = {
    "log-volume": _log_notes,
    "tree-volume": _tree_notes,
    "height-from-dbh": lambda species, **_: [
        "own fit to one tall Virginia site; scale it to your own heights",
        *stand_in(species, timber.trees.HEIGHT_TABLE),
    ],
    "biomass": lambda species, **_: stand_in(species, timber.wood.WOOD_TABLE),
    "bark-thickness": lambda species, **_: [
        "an average of the stem, for volume and not for heat",
        *stand_in(species, timber.wood.WOOD_TABLE),
    ],
    "bark-at-foot": lambda species, **_: stand_in(species, timber.wood.FOOT_TABLE),
    "diameter-growth": _growth_notes,
}
