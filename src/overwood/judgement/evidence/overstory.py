"""Figures of the standing trees: density, stocking, composition, midstory, crowns, age, site and health."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from overwood.ground import measures
from overwood.ground.copies import with_fields
from overwood.ground.figure import Figure, Figures, Input, unmeasured
from overwood.ground.records import Crown, StandFile
from overwood.ground.species import by_code
from overwood.judgement.evidence import looked, site
from overwood.judgement.evidence.layers import midstory_mask, oak_mask, overwood_mask
from overwood.judgement.evidence.looked import ALL_TREES, OAKS, OTHERS
from overwood.judgement.evidence.tally import (
    Array,
    Cruise,
    Mask,
    cruise_of,
    looks_of,
    one_more,
    ratio_figure,
    share_figure,
    tallied_mean,
    tally_input,
)
from overwood.judgement.rules import Rules
from overwood.science import density, reproduction
from overwood.science import overstory as science

_NO_CRUISE = "no cruise of this stand is in the book"
_FIGURES = (
    ("ba_ft2_ac", "ft2/ac"),
    ("trees_ac", "trees/ac"),
    ("qmd_in", "in"),
    ("overwood_ba_ft2_ac", "ft2/ac"),
    ("overwood_trees_ac", "trees/ac"),
    ("overwood_qmd_in", "in"),
    ("overwood_stocking_pct", "%"),
    ("stocking_pct", "%"),
    ("b_line_ba_ft2_ac", "ft2/ac"),
    ("c_line_ba_ft2_ac", "ft2/ac"),
    ("a_line_ba_ft2_ac", "ft2/ac"),
    ("oak_share", "share"),
    ("large_share", "share"),
    ("middle_share", "share"),
    ("midstory_stems_ac", "stems/ac"),
    ("midstory_ba_ft2_ac", "ft2/ac"),
    ("injection_stems_ac", "stems/ac"),
    ("sapling_stems_ac", "stems/ac"),
    ("declining_share", "share"),
    ("crown_cover_pct", "%"),
    ("mean_crown_width_ft", "ft"),
    ("oak_sprouts_ac", "stumps/ac"),
)


def figures(file: StandFile, rules: Rules, on: dt.date) -> Figures:
    """Every figure of the latest cruise, of the crowns measured, and of age and site."""
    stand = Figures().add(
        (name for name, _ in _FIGURES), lambda: {name: unmeasured(name, _NO_CRUISE, unit) for name, unit in _FIGURES}
    )
    for kind, parts in (("cruise", _OF_CRUISE), ("midstory", _OF_MIDSTORY)):
        if visit := file.latest(kind):
            for make, names in parts.items():
                stand.add(names, partial(make, cruise_of(file, visit), rules))
    stand.add(("age_yr",), lambda: {"age_yr": site.age(file, on, rules)})
    stand.add(("site_index_ft",), lambda: {"site_index_ft": site.site_index(file, rules)})
    return stand.add(("small_crown_share",), lambda: {"small_crown_share": _small_crowns(file, rules)})


@dataclass(frozen=True)
class Sizes:
    """The stems a figure speaks of: kinds, and dbh from ``low_in`` up to ``high_in``; a gap from ``needed_from_in`` up
    leaves it unmeasured."""

    kinds: frozenset[str]
    low_in: float
    high_in: float
    needed_from_in: float


def midstory_sizes(rules: Rules, low: str = "midstory_low_dbh_in") -> Sizes:
    """Sizes that must have been looked at before anything is said of the midstory."""
    return Sizes(frozenset({OTHERS}), rules.number(low), rules.number("midstory_high_dbh_in"), rules.number(low))


def _canopy_sizes(rules: Rules, kinds: frozenset[str] = ALL_TREES) -> Sizes:
    return Sizes(kinds, rules.number("overwood_low_dbh_in"), math.inf, rules.number("canopy_looked_from_in"))


def _every_size(rules: Rules) -> Sizes:
    return Sizes(ALL_TREES, rules.number("midstory_low_dbh_in"), math.inf, rules.number("canopy_looked_from_in"))


def mean_of(
    cruise: Cruise,
    rules: Rules,
    name: str,
    unit: str,
    amount: Array,
    mask: Mask,
    method: str,
    sizes: Sizes | None = None,
    **more: Any,
) -> Figure:
    notes = list(cruise.notes)
    if sizes is not None:
        if missing := not_looked_at(cruise, rules, sizes):
            if lacking := _lacking(cruise, rules, sizes):
                return unmeasured(name, lacking, unit)
            notes.append(missing)
        if not mask.any():
            more["one"] = one_more(cruise, rules, sizes.low_in, sizes.high_in, _AMOUNT.get(unit, lambda dbh: 0.0))
    return tallied_mean(
        name, unit, cruise, amount, used=mask, rules=rules, method=method, note="; ".join(notes), **more
    )


_AMOUNT: dict[str, Callable[[float], float]] = {
    "ft2/ac": lambda dbh: float(science.basal_area_ft2(dbh)),
    "stems/ac": lambda dbh: 1.0,
    "trees/ac": lambda dbh: 1.0,
}


def _lacking(cruise: Cruise, rules: Rules, sizes: Sizes) -> str:
    """What a figure cannot do without and the cruise did not look at, in words; nothing where it can be told."""
    needed = with_fields(sizes, low_in=max(sizes.low_in, sizes.needed_from_in))
    return not_looked_at(cruise, rules, sizes) if not_looked_at(cruise, rules, needed) else ""


def canopy_not_looked_at(cruise: Cruise, rules: Rules) -> str:
    """What a cruise did not look at of the main canopy's oaks, in words; nothing where it can be told."""
    return _lacking(cruise, rules, _canopy_sizes(rules, frozenset({OAKS})))


def not_looked_at(cruise: Cruise, rules: Rules, sizes: Sizes) -> str:
    """What a cruise did not look at of some sizes and kinds, in words; nothing where it looked at all of them."""
    looks, visit = looks_of(cruise, rules), cruise.visit.visit
    if not looks:
        return f"visit {visit} does not say how its trees were taken in"
    kinds = looked.kinds_missed(looks, sizes.kinds)
    if kinds:
        return f"visit {visit} did not look for {' and '.join(sorted(kinds))}"
    gap = looked.size_missed(looks, sizes.kinds, sizes.low_in, sizes.high_in)
    if gap is None:
        return ""
    upper = "or larger" if gap[1] == math.inf else f"to {measures.digits(gap[1], 'in.', 'g')}"
    guess = next((look for look in looks if not look.is_said and look.low >= gap[1]), None)
    sizes_in = f"{measures.digits(gap[0], 'in.', 'g')} {upper} {measures.unit_word('in.')}"
    words = f"stems of {sizes_in} dbh were not looked at on {visit}"
    if guess is None:
        return words
    smallest = min(cruise.smallest_dbh_in.values(), default=math.inf)
    return f"{words}: its ring does not say the least dbh taken in" + (
        f", and the smallest tree tallied has {measures.amount(smallest, 'in.', 'g')}"
        if math.isfinite(smallest)
        else ""
    )


_WHOLE = "basal area 0.005454 dbh2 of each tree times what it stands for"
_GINGRICH: dict[str, Any] = {"sources": ("gingrich1967",), "status": "published"}


def _density(cruise: Cruise, rules: Rules) -> dict[str, Figure]:
    """How dense all live trees stand."""
    everything, sizes = np.ones(len(cruise.trees), dtype=bool), _every_size(rules)
    each, one = science.basal_area_ft2(cruise.dbh_in), np.ones(len(cruise.trees))
    figures = {
        "ba_ft2_ac": mean_of(cruise, rules, "ba_ft2_ac", "ft2/ac", each, everything, _WHOLE, sizes),
        "trees_ac": mean_of(
            cruise, rules, "trees_ac", "trees/ac", one, everything, "what each tallied tree stands for", sizes
        ),
        "stocking_pct": mean_of(
            cruise, rules, "stocking_pct", "%", density.tree_area_pct(cruise.dbh_in), everything,
            "tree-area equation over every live tree", sizes, **_GINGRICH,
        ),
    }  # fmt: skip
    return figures | {"qmd_in": _mean_diameter(figures)}


def _canopy_density(cruise: Cruise, rules: Rules) -> dict[str, Figure]:
    """How dense the main canopy stands, and the lines at its mean diameter."""
    overwood, sizes = overwood_mask(cruise, rules), _canopy_sizes(rules)
    each, one = science.basal_area_ft2(cruise.dbh_in), np.ones(len(cruise.trees))
    figures = {
        "overwood_ba_ft2_ac": mean_of(
            cruise, rules, "overwood_ba_ft2_ac", "ft2/ac", each, overwood, _WHOLE, sizes
        ),
        "overwood_trees_ac": mean_of(
            cruise, rules, "overwood_trees_ac", "trees/ac", one, overwood, "trees of the main canopy", sizes
        ),
        "overwood_stocking_pct": mean_of(
            cruise, rules, "overwood_stocking_pct", "%", density.tree_area_pct(cruise.dbh_in), overwood,
            "tree-area equation -0.00507 + 0.01698 dbh + 0.00317 dbh2 (dbh in the inches of the paper, % of an acre), "
            "summed over the trees", sizes, **_GINGRICH,
        ),
    }  # fmt: skip
    return figures | _lines(figures, rules)


def _mean_diameter(figures: dict[str, Figure]) -> Figure:
    """Quadratic mean diameter of every live tree taken in."""
    ba, trees = figures["ba_ft2_ac"], figures["trees_ac"]
    if not ba.measured or not trees.measured or trees.number <= 0:
        return unmeasured("qmd_in", ba.note or "no tree was tallied", "in")
    inputs = (Input(name=ba.name, figure=ba.name), Input(name=trees.name, figure=trees.name))
    value = float(science.quadratic_mean_diameter_in(ba.number, trees.number))
    return Figure(
        name="qmd_in", value=value, unit="in", n=ba.n, method="sqrt(BA / trees / 0.005454)", inputs=inputs, note=ba.note
    )


def _lines(figures: dict[str, Figure], rules: Rules) -> dict[str, Figure]:
    """Quadratic mean diameter and the A, B and C lines at that diameter."""
    ba, trees = figures["overwood_ba_ft2_ac"], figures["overwood_trees_ac"]
    inputs = (Input(name=ba.name, figure=ba.name), Input(name=trees.name, figure=trees.name))
    if not ba.measured or not trees.measured or ba.number <= 0:
        missing = "no tree of the main canopy was tallied"
        names = ("overwood_qmd_in", "a_line_ba_ft2_ac", "b_line_ba_ft2_ac", "c_line_ba_ft2_ac")
        return {name: unmeasured(name, missing) for name in names}
    qmd = float(science.quadratic_mean_diameter_in(ba.number, trees.number))
    levels = science.stocking_levels(qmd)
    low, high = density.STOCKING_CHART_QMD_IN
    outside = (
        ""
        if low <= qmd <= high
        else f"outside the published chart of {measures.span(low, high, 'in.', 'g')} mean diameter"
    )
    line: dict[str, Any] = {
        "inputs": (Input(name="overwood_qmd_in", figure="overwood_qmd_in"),),
        "n": ba.n,
        "note": outside,
    }
    sources = ("gingrich1967", "krajicek1961", "treearea_page")
    c_line = levels.b_ba_ft2_ac - rules.number("c_line_below_b_ft2_ac")
    return {
        "overwood_qmd_in": Figure(
            name="overwood_qmd_in", value=qmd, unit="in", n=ba.n, method="sqrt(BA / trees / 0.005454)", inputs=inputs
        ),
        "a_line_ba_ft2_ac": Figure(
            name="a_line_ba_ft2_ac", value=levels.a_ba_ft2_ac, unit="ft2/ac", method="100% of the tree-area equation",
            sources=("gingrich1967", "treearea_page"), status="published", **line,
        ),
        "b_line_ba_ft2_ac": Figure(
            name="b_line_ba_ft2_ac", value=levels.b_ba_ft2_ac, unit="ft2/ac", method="open-grown crowns just closed",
            sources=sources, status="memory", **line,
        ),
        "c_line_ba_ft2_ac": Figure(
            name="c_line_ba_ft2_ac", value=c_line, unit="ft2/ac", method="B-line less a set basal area",
            sources=("handbook_sref",), status="assumption", **line,
        ),
    }  # fmt: skip


def _midstory(cruise: Cruise, rules: Rules) -> dict[str, Figure]:
    """The midstory, from the newest look at it."""
    each, one = science.basal_area_ft2(cruise.dbh_in), np.ones(len(cruise.trees))
    midstory, sizes = midstory_mask(cruise, rules), midstory_sizes(rules)
    rule = "shade-tolerant stems below the main canopy (rulebook: midstory_*)"
    return {
        "midstory_stems_ac": mean_of(cruise, rules, "midstory_stems_ac", "stems/ac", one, midstory, rule, sizes),
        "midstory_ba_ft2_ac": mean_of(cruise, rules, "midstory_ba_ft2_ac", "ft2/ac", each, midstory, rule, sizes),
    }


def _below(cruise: Cruise, rules: Rules) -> dict[str, Figure]:
    """Other stems under the main canopy, and those thick enough to inject."""
    midstory, overwood = midstory_mask(cruise, rules), overwood_mask(cruise, rules)
    one, low = np.ones(len(cruise.trees)), rules.number("midstory_low_dbh_in")
    treatable = midstory & (cruise.dbh_in >= rules.number("injection_low_dbh_in"))
    sapling = ~midstory & ~overwood
    return {
        "injection_stems_ac": mean_of(
            cruise,
            rules,
            "injection_stems_ac",
            "stems/ac",
            one,
            treatable,
            "midstory stems thick enough to inject",
            midstory_sizes(rules, "injection_low_dbh_in"),
        ),
        "sapling_stems_ac": mean_of(
            cruise,
            rules,
            "sapling_stems_ac",
            "stems/ac",
            one,
            sapling,
            "stems under the main canopy that are not midstory",
            Sizes(ALL_TREES, low, rules.number("overwood_low_dbh_in"), low),
        ),
    }


def _canopy_shares(cruise: Cruise, rules: Rules) -> dict[str, Figure]:
    """Parts of the overwood's basal area."""
    overwood, each = overwood_mask(cruise, rules), science.basal_area_ft2(cruise.dbh_in)
    large, middle = rules.number("mature_large_dbh_in"), rules.number("mature_middle_dbh_in")
    total, missed = cruise.totals(np.where(overwood, each, 0.0)), _lacking(cruise, rules, _canopy_sizes(rules))

    def share(name: str, mask: Mask, method: str) -> Figure:
        if missed:
            return unmeasured(name, missed, "share")
        part, inputs = cruise.totals(np.where(overwood & mask, each, 0.0)), (tally_input(cruise, overwood & mask),)
        return ratio_figure(
            name,
            part,
            total,
            rules=rules,
            method=method,
            inputs=inputs,
            is_whole=cruise.is_map,
            group=cruise.group,
            looks=int(overwood.sum()),
        )

    return {
        "oak_share": share("oak_share", oak_mask(cruise), "oak part of overwood basal area"),
        "large_share": share(
            "large_share",
            cruise.dbh_in >= large,
            f"overwood basal area in trees of {measures.amount(large, 'in.', 'g')} or larger",
        ),
        "middle_share": share(
            "middle_share",
            (cruise.dbh_in >= middle) & (cruise.dbh_in < large),
            f"overwood basal area in trees of {measures.span(middle, large, 'in.', 'g')}",
        ),
    }


def crown_ratio_pct(cruise: Cruise, rules: Rules) -> Array:
    """Measured live crown ratio, or the assumed one of the crown class (codominant where none was noted)."""
    assumed = {
        name: rules.number(f"crown_ratio_{name}_pct")
        for name in ("dominant", "codominant", "intermediate", "overtopped")
    }
    filled = np.array([assumed.get(str(name) or "codominant", assumed["codominant"]) for name in cruise.crown_class])
    return np.where(np.isnan(cruise.crown_ratio_pct), filled, cruise.crown_ratio_pct) if len(filled) else filled


def _crowns_from_dbh(cruise: Cruise, rules: Rules) -> dict[str, Figure]:
    overwood, ratio = overwood_mask(cruise, rules), crown_ratio_pct(cruise, rules)
    width, index = np.zeros(len(ratio)), rules.number("hopkins_index")
    for code in np.unique(cruise.spcd):
        of = cruise.spcd == code
        width[of] = science.crown_width_ft(int(code), cruise.dbh_in[of], crown_ratio_pct=ratio[of], hopkins_index=index)
    area = science.crown_area_pct_ac(width) if len(width) else width
    total = mean_of(
        cruise,
        rules,
        "crown_area_pct",
        "%",
        area,
        overwood,
        "crown areas from dbh, species and crown ratio, summed",
        _canopy_sizes(rules),
    )
    if not total.measured:
        gone = {name: unmeasured(name, total.note) for name in ("crown_cover_pct", "mean_crown_width_ft")}
        return {"crown_area_pct": total, **gone}
    bounds = [
        None if edge is None else float(science.cover_from_crown_area_pct(edge)) for edge in (total.low, total.high)
    ]
    cover = Figure(
        name="crown_cover_pct",
        value=float(science.cover_from_crown_area_pct(total.number)),
        unit="%",
        low=bounds[0],
        high=bounds[1],
        level=total.level,
        n=total.n,
        method="100 (1 - exp(-crown area / 100)): crowns overlapping by chance",
        sources=("bechtold2003", "geometry"),
        inputs=(Input(name="crown_area_pct", figure="crown_area_pct"),),
        status="assumption",
    )
    mean = ratio_figure(
        "mean_crown_width_ft",
        cruise.totals(np.where(overwood, width, 0.0)),
        cruise.totals(np.where(overwood, 1.0, 0.0)),
        rules=rules,
        method="crown width of the main canopy from dbh, species and crown ratio",
        inputs=(tally_input(cruise, overwood),),
        is_whole=cruise.is_map,
        group=cruise.group,
        unit="ft",
        sources=("bechtold2003",),
        status="assumption",
    )
    return {"crown_area_pct": total, "crown_cover_pct": cover, "mean_crown_width_ft": mean}


def _health(cruise: Cruise, rules: Rules) -> dict[str, Figure]:
    judged = overwood_mask(cruise, rules) & oak_mask(cruise) & ~np.isnan(cruise.dieback_pct)
    if not judged.any():
        return {"declining_share": unmeasured("declining_share", "no crown dieback was noted on oaks", "share")}
    limit = rules.number("decline_dieback_pct")
    sick = judged & (np.nan_to_num(cruise.dieback_pct) > limit)
    one = np.ones(len(cruise.trees))
    figure = ratio_figure(
        "declining_share",
        cruise.totals(np.where(sick, one, 0.0)),
        cruise.totals(np.where(judged, one, 0.0)),
        rules=rules,
        method=f"overwood oaks with more than {limit:g}% crown dieback",
        inputs=(tally_input(cruise, judged),),
        is_whole=cruise.is_map,
        group=cruise.group,
        looks=int(judged.sum()),
    )
    return {"declining_share": figure}


def sprout_shares(cruise: Cruise) -> Array:
    """Chance of a sprout for each tallied tree in full light; zero for trees that are not oaks."""
    shares = np.zeros(len(cruise.trees))
    for code in np.unique(cruise.spcd[oak_mask(cruise)]):
        of = cruise.spcd == code
        shares[of] = reproduction.stump_sprout_share(int(code), cruise.dbh_in[of], shade_multiplier=1.0)
    return shares


def _sprouts(cruise: Cruise, rules: Rules) -> dict[str, Figure]:
    mask = overwood_mask(cruise, rules) & oak_mask(cruise)
    figure = mean_of(
        cruise,
        rules,
        "oak_sprouts_ac",
        "stumps/ac",
        sprout_shares(cruise),
        mask,
        "overwood oaks times the share of stumps of their species and dbh that sprout, all cut at once",
        _canopy_sizes(rules, frozenset({OAKS})),
        sources=("sander1977",),
        status="memory",
    )
    return {"oak_sprouts_ac": figure}


# What is worked out together from the cruise, and what from the newest look at the midstory.
_OF_CRUISE = {
    _density: ("ba_ft2_ac", "trees_ac", "stocking_pct", "qmd_in"),
    _canopy_density: (
        *("overwood_ba_ft2_ac", "overwood_trees_ac", "overwood_stocking_pct", "overwood_qmd_in"),
        *("a_line_ba_ft2_ac", "b_line_ba_ft2_ac", "c_line_ba_ft2_ac"),
    ),
    _canopy_shares: ("oak_share", "large_share", "middle_share"),
    _crowns_from_dbh: ("crown_area_pct", "crown_cover_pct", "mean_crown_width_ft"),
    _health: ("declining_share",),
    _sprouts: ("oak_sprouts_ac",),
}
_OF_MIDSTORY = {
    _midstory: ("midstory_stems_ac", "midstory_ba_ft2_ac"),
    _below: ("injection_stems_ac", "sapling_stems_ac"),
}


def crown_width_of(crown: Crown) -> float:
    """Mean crown diameter of four radii, ft."""
    return (crown.radius_north_ft + crown.radius_east_ft + crown.radius_south_ft + crown.radius_west_ft) / 2


def _small_crowns(file: StandFile, rules: Rules) -> Figure:
    oaks = [crown for crown in file.crowns if by_code(crown.species).is_oak]
    if not oaks:
        return unmeasured("small_crown_share", "no crown radii of oaks were measured", "share")
    limit = rules.number("crown_small_share")
    small = 0
    for crown in oaks:
        expected = science.crown_width_ft(
            crown.species,
            crown.dbh_in,
            crown_ratio_pct=rules.number("crown_ratio_codominant_pct"),
            hopkins_index=rules.number("hopkins_index"),
        )
        small += crown_width_of(crown) < limit * float(expected)
    return share_figure(
        "small_crown_share",
        small,
        len(oaks),
        rules=rules,
        method=f"oaks whose crown is narrower than {limit:g} of what their dbh lets expect",
        inputs=(Input(name="crowns", value=len(oaks), unit="rows", rows=tuple(crown.id for crown in oaks)),),
        note="such trees are in poor health and seed poorly",
    )
