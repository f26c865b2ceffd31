"""The formulas of the spine: sampling, overstory, reproduction, acorns."""

from __future__ import annotations

from typing import Any

from overwood.desk.formulas.keys import Formula, Key, Values, stand_in
from overwood.ground.errors import Misuse
from overwood.judgement.rules import load
from overwood.science import acorns, overstory, reproduction, sample_size, survey


def _number(unit: str = "", **more: Any) -> Key:
    return Key(kind="number", unit=unit, **more)


_LEVEL = Key(kind="number", unit="confidence", above=0, high=0.9999, optional=True, default=0.90)
_POPULATION = Key(kind="number", unit="plots", above=0, optional=True)
_DBH = _number("in", above=0, high=100)
_SHARE = _number("share", low=0, high=1)
_SPECIES = Key(kind="species")


def _estimate(found: survey.Estimate, *, with_n: bool) -> Values:
    values: Values = {"mean": found.mean, "se": found.se, "low": found.low, "high": found.high}
    return values | ({"n": found.n} if with_n else {})


def _same_length(**lists: list[float]) -> None:
    if len({len(values) for values in lists.values()}) > 1:
        sizes = ", ".join(f"{name} has {len(values)}" for name, values in lists.items())
        raise Misuse(f"the lists differ in length: {sizes}.", remedy="Give one value of each for every class.")


def _basal_area(dbh_in: list[float], tpa: list[float]) -> Values:
    _same_length(dbh_in=dbh_in, tpa=tpa)
    ba = float((overstory.basal_area_ft2(dbh_in) * tpa).sum())
    return {"ba_ft2_ac": ba, "tpa": sum(tpa), "qmd_in": float(overstory.quadratic_mean_diameter_in(ba, sum(tpa)))}


def _stocking(dbh_in: list[float], tpa: list[float]) -> Values:
    _same_length(dbh_in=dbh_in, tpa=tpa)
    return {"stocking_pct": overstory.stocking_pct(dbh_in, tpa), "b_line_pct": overstory.b_line_pct(dbh_in, tpa)}


def _outside_chart(qmd: float) -> list[str]:
    low, high = overstory.STOCKING_CHART_QMD_IN
    return (
        []
        if low <= qmd <= high
        else [f"outside the published range: mean diameter {qmd:.1f} in., chart {low:g} to {high:g}"]
    )


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
        notes.append("outside the published range: fitted to trees of 5 in. and more")
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
    found = reproduction.stocked_plot_verdict(plots, stocked, sprouts_ac, level=level)
    return {
        name: getattr(found, name)
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
    found = acorns.fate(acorns_ac, insect_share=insect_share, buried_share=buried, survival_share=survival_share)
    return {"sound_ac": found.sound_ac, "germinants_ac": found.germinants_ac, "seedlings_ac": found.seedlings_ac}


def _stratified(
    means: list[float], variances: list[float], counts: list[float], areas: list[float], level: float
) -> Values:
    _same_length(means=means, variances=variances, counts=counts, areas=areas)
    return _estimate(survey.stratified_mean(means, variances, counts, areas, level=level), with_n=False)


SPINE = (
    Formula(
        name="plot-radius",
        about="radius of a circular plot",
        keys={"area_ac": _number("ac", above=0, high=100)},
        units={"radius_ft": "ft"},
        equation="radius = sqrt(43560 area / pi)",
        sources=("geometry",),
        status="published",
        compute=lambda area_ac: {"radius_ft": float(survey.plot_radius_ft(area_ac))},
    ),
    Formula(
        name="point-expansion",
        about="what a tree tallied with a prism stands for",
        keys={"baf_ft2_ac": _number("ft2/ac", above=0, high=120), "dbh_in": _DBH},
        units={"trees_per_acre": "trees/ac", "limiting_distance_ft": "ft"},
        equation="trees = BAF / (0.005454154 dbh^2); distance = dbh sqrt(43560 / BAF) / 24",
        sources=("grosenbaugh1952",),
        status="published",
        compute=lambda baf_ft2_ac, dbh_in: {
            "trees_per_acre": float(survey.trees_per_acre_prism(baf_ft2_ac, dbh_in)),
            "limiting_distance_ft": float(survey.limiting_distance_ft(baf_ft2_ac, dbh_in)),
        },
    ),
    Formula(
        name="sample-mean",
        about="mean of plots with its error",
        keys={"values": Key(kind="list"), "level": _LEVEL, "population": _POPULATION},
        units=dict.fromkeys(("mean", "se", "low", "high"), "as the values") | {"n": "plots"},
        equation="mean; se = sqrt((1 - n/N) s^2 / n); mean +- t(n-1) se",
        sources=("freese1962", "cochran1977"),
        status="memory",
        compute=lambda values, level, population: _estimate(
            survey.sample_mean(values, level=level, population=population), with_n=True
        ),
        notes=lambda values, **_: ["one plot gives no error"] if len(values) < 2 else [],
    ),
    Formula(
        name="stratified-mean",
        about="area-weighted mean of strata with its error",
        keys={
            "means": Key(kind="list"),
            "variances": Key(kind="list", low=0),
            "counts": Key(kind="list", low=1),
            "areas": Key(kind="list", above=0),
            "level": _LEVEL,
        },
        units=dict.fromkeys(("mean", "se", "low", "high"), "as the means"),
        equation="sum(W mean); se = sqrt(sum(W^2 s^2 / n)); degrees of freedom by Satterthwaite",
        sources=("cochran1977",),
        status="memory",
        compute=_stratified,
    ),
    Formula(
        name="proportion-interval",
        about="share of plots or trees with its interval",
        keys={"hits": Key(kind="whole", low=0), "n": Key(kind="whole", low=1), "level": _LEVEL},
        units=dict.fromkeys(("share", "low", "high"), "share"),
        equation="Wilson: (p + z^2/2n +- z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n)",
        sources=("wilson1927", "clopper1934"),
        status="memory",
        compute=_proportion,
        notes=_proportion_notes,
    ),
    Formula(
        name="plots-needed",
        about="plots for a wanted error of a mean",
        keys={
            "cv_pct": _number("%", above=0, high=1000),
            "error_pct": _number("%", above=0, high=500),
            "level": _LEVEL,
            "population": _POPULATION,
        },
        units={"plots": "plots"},
        equation="n = (t CV / E)^2, t iterated; with N: 1 / ((E / t CV)^2 + 1/N)",
        sources=("freese1962",),
        status="memory",
        compute=lambda cv_pct, error_pct, level, population: {
            "plots": sample_size.plots_needed(cv_pct, error_pct, level=level, population=population)
        },
    ),
    Formula(
        name="plots-for-proportion",
        about="plots for a wanted margin of a share",
        keys={"share": _SHARE, "margin": _number("share", above=0, high=1), "level": _LEVEL},
        units={"plots": "plots"},
        equation="n = z^2 p (1 - p) / margin^2",
        sources=("cochran1977",),
        status="memory",
        compute=lambda share, margin, level: {"plots": sample_size.plots_for_proportion(share, margin, level=level)},
    ),
    Formula(
        name="basal-area",
        about="basal area, trees and mean diameter of a tally",
        keys={"dbh_in": Key(kind="list", unit="in", above=0), "tpa": Key(kind="list", unit="trees/ac", low=0)},
        units={"ba_ft2_ac": "ft2/ac", "tpa": "trees/ac", "qmd_in": "in"},
        equation="BA = sum(0.005454154 dbh^2 tpa); QMD = sqrt(BA / tpa / 0.005454154)",
        sources=("geometry",),
        status="published",
        compute=_basal_area,
    ),
    Formula(
        name="stocking",
        about="stocking of upland oak-hickory from diameters, and the B-line of such diameters",
        keys={"dbh_in": Key(kind="list", unit="in", above=0), "tpa": Key(kind="list", unit="trees/ac", low=0)},
        units={"stocking_pct": "% of full stocking", "b_line_pct": "% of full stocking"},
        equation=(
            "sum(tpa (-0.00507 + 0.01698 dbh + 0.00317 dbh^2)); B = 100 stocking / sum(tpa (0.0175 + 0.0205 "
            "dbh + 0.0060 dbh^2))"
        ),
        sources=("gingrich1967", "krajicek1961"),
        status="memory",
        compute=_stocking,
        notes=lambda dbh_in, tpa: [
            *_outside_chart(float(_basal_area(dbh_in, tpa)["qmd_in"])),
            "stocking is published, the B-line rests on a crown equation from memory",
        ],
    ),
    Formula(
        name="stocking-from-stand",
        about="stocking where only basal area and trees per acre are known",
        keys={"ba_ft2_ac": _number("ft2/ac", above=0, high=500), "tpa": _number("trees/ac", above=0, high=20000)},
        units={"stocking_pct": "% of full stocking", "qmd_in": "in"},
        equation=(
            "QMD = sqrt(BA / tpa / 0.005454154); mean = -0.259 + 0.973 QMD; tpa (-0.00507 + 0.01698 mean + "
            "0.00317 QMD^2)"
        ),
        sources=("gingrich1967", "treearea_page"),
        status="published",
        compute=_from_stand,
        notes=lambda ba_ft2_ac, tpa: [
            *_outside_chart(overstory.stocking_from_stand_pct(ba_ft2_ac, tpa)[1]),
            "even-aged stands only: a midstory makes it too high",
        ],
    ),
    Formula(
        name="crown-width-open",
        about="crown of an open-grown oak or hickory",
        keys={"dbh_in": _DBH},
        units={"crown_width_ft": "ft", "crown_area_pct_ac": "% of an acre"},
        equation="width = 3.12 + 1.829 dbh; area = 0.0175 + 0.0205 dbh + 0.0060 dbh^2",
        sources=("krajicek1961",),
        status="memory",
        compute=lambda dbh_in: {
            "crown_width_ft": float(overstory.open_crown_width_ft(dbh_in)),
            "crown_area_pct_ac": float(overstory.open_crown_area_pct(dbh_in)),
        },
    ),
    Formula(
        name="crown-width",
        about="crown width of a tree grown in a stand",
        keys={
            "species": _SPECIES,
            "dbh_in": _DBH,
            "crown_ratio_pct": _number("%", low=0, high=100, optional=True),
            "hopkins_index": _number("days", low=-30, high=30, optional=True),
        },
        units={"crown_width_ft": "ft"},
        equation="b0 + b1 dbh + b2 dbh^2 + b3 crown ratio + b4 hopkins, at most 3.12 + 1.829 dbh",
        sources=("bechtold2003", "krajicek1961"),
        status="memory",
        compute=_crown_width,
        notes=_crown_notes,
    ),
    Formula(
        name="site-index",
        about="site index from age and height",
        keys={
            "species": _SPECIES,
            "age_yr": _number("yr", low=5, high=300),
            "height_ft": _number("ft", low=5, high=200),
        },
        units={"site_index_ft": "ft at 50 yr"},
        equation="height curve b1 S^b2 (1 - exp(b3 age))^(b4 S^b5) inverted for S",
        sources=("carmean1989",),
        status="memory",
        compute=lambda species, age_yr, height_ft: {
            "site_index_ft": float(overstory.site_index_ft(species, age_yr, height_ft))
        },
        notes=_site_notes,
    ),
    Formula(
        name="dominant-height",
        about="height of dominant trees from age and site index",
        keys={
            "species": _SPECIES,
            "age_yr": _number("yr", low=5, high=300),
            "site_index_ft": _number("ft", low=20, high=150),
        },
        units={"height_ft": "ft"},
        equation="b1 S^b2 (1 - exp(b3 age))^(b4 S^b5)",
        sources=("carmean1989",),
        status="memory",
        compute=lambda species, age_yr, site_index_ft: {
            "height_ft": float(overstory.dominant_height_ft(species, age_yr, site_index_ft))
        },
        notes=_site_notes,
    ),
    Formula(
        name="stump-sprout",
        about="share of oak stumps that sprout",
        keys={"species": _SPECIES, "dbh_in": _DBH, "shade": Key(kind="share or yes", low=0, high=1, optional=True)},
        units={"share": "share"},
        equation="table by species and dbh class 2-5, 6-11, 12-16, 17+ in., times shade",
        sources=("sander1977", "atwood2009"),
        status="memory",
        compute=_sprout,
        notes=_sprout_notes,
    ),
    Formula(
        name="random-stocking",
        about="share of plots stocked if stems fell at random",
        keys={"stems_ac": _number("stems/ac", low=0), "plots_per_acre": _number("plots/ac", above=0)},
        units={"share": "share"},
        equation="1 - exp(-stems / plots)",
        sources=("geometry",),
        status="published",
        compute=lambda stems_ac, plots_per_acre: {
            "share": float(reproduction.random_stocking(stems_ac, plots_per_acre))
        },
    ),
    Formula(
        name="reproduction-verdict",
        about="is the oak on the ground enough, by the stocked-plot rule",
        keys={
            "plots": Key(kind="whole", low=1),
            "stocked": Key(kind="whole", low=0),
            "sprouts_ac": _number("stumps/ac", low=0, high=2000, optional=True, default=0.0),
            "level": Key(kind="number", unit="confidence", above=0.5, high=0.9999, optional=True, default=0.90),
        },
        units={
            "stocked_share": "share",
            "low": "share",
            "high": "share",
            "needed_share": "share",
            "verdict": "",
            "dominants_at_20_ac": "stems/ac",
        },
        equation="needed = max(0, 433 - sprouts) / 735; Wilson bounds, one-sided; dominants = 0.509 (735 p + sprouts)",
        sources=("sander1976", "wilson1927"),
        status="memory",
        compute=_verdict,
        notes=lambda **_: [
            "plots of 1/735 acre, stocked by an oak of 4.5 ft and more; low and high are one-sided bounds at level"
        ],
    ),
    Formula(
        name="advance-success",
        about="chance that an advance oak becomes dominant",
        keys={
            "basal_diameter_in": _number("in", above=0, high=6),
            "site_index_ft": _number("ft", low=20, high=150),
            "k": _number("logit", low=-5, high=3, optional=True),
        },
        units={"share": "chance"},
        equation="logit = 1.18 + 2.24 ln(diameter) - 0.80 (site - 65) / 10 + k",
        sources=("sander1976", "spetich2002", "assumed"),
        status="assumption",
        compute=_advance,
        notes=lambda **_: ["a stand-in calibrated to two published rules: an assumption (dominance_*)"],
    ),
    Formula(
        name="acorn-fate",
        about="a crop followed to seedlings",
        keys={
            "acorns_ac": _number("acorns/ac", low=0),
            "insect_share": _SHARE,
            "buried": Key(kind="share or yes", low=0, high=1),
            "survival_share": _SHARE,
        },
        units={"sound_ac": "acorns/ac", "germinants_ac": "stems/ac", "seedlings_ac": "stems/ac"},
        equation=(
            "sound = acorns (1 - insects); germinants = sound (0.8 buried + 0.2 (1 - buried)); seedlings = "
            "germinants survival"
        ),
        sources=("brose2011",),
        status="published",
        compute=_fate,
        notes=lambda **_: ["survivals of one bumper crop in Pennsylvania"],
    ),
)
