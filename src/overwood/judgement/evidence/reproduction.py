"""Figures of the floor: stocked plots, stems per acre, clumping, competitors, browse, and the verdict on the oak."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from overwood.ground import tables
from overwood.ground.figure import Figure, Input, unmeasured
from overwood.ground.records import HEIGHT_CLASSES, Point, Ring, Seedling, StandFile, Visit
from overwood.ground.species import by_code
from overwood.judgement.evidence.tally import Array, mean_figure, share_figure
from overwood.judgement.rules import Rules
from overwood.science import decisions, survey
from overwood.science import reproduction as science

HEIGHTS_FT = (1.0, 3.0, 4.5)
_NO_COUNT = "no reproduction count of this stand is in the book"
_RULE_PLOTS = 735
_COMPETITORS = {316: "red maple", 318: "sugar maple", 621: "yellow-poplar", 531: "American beech"}


@dataclass(frozen=True)
class Count:
    """The reproduction plots of one visit."""

    visit: Visit
    ring: Ring
    points: tuple[Point, ...]
    lines: tuple[Seedling, ...]

    @property
    def n(self) -> int:
        return len(self.points)

    @property
    def plot_ac(self) -> float:
        return float(self.ring.plot_area_ac or float("nan"))

    @property
    def follows_rule_plot(self) -> bool:
        """Whether the plots are of the size the stocked-plot rule was made for."""
        return abs(self.plot_ac * _RULE_PLOTS - 1) < 0.05

    def per_plot(self, lines: list[Seedling]) -> Array:
        place = {point.point: index for index, point in enumerate(self.points)}
        counts = np.zeros(self.n)
        for line in lines:
            counts[place[line.point]] += line.stems
        return counts


def height_ft(line: Seedling, rules: Rules) -> float:
    """Height of a tally line: as measured, or the middle of its class (open_class_height_ft for the open last class)."""
    if line.height_ft is not None:
        return float(line.height_ft)
    low, high = HEIGHT_CLASSES.get(line.height_class, (0.0, 0.0))
    return rules.number("open_class_height_ft") if high > 20 else (low + high) / 2


def low_height_ft(line: Seedling) -> float:
    """The height a line has reached for certain: as measured, or the lower limit of its class."""
    if line.height_ft is not None:
        return float(line.height_ft)
    return HEIGHT_CLASSES.get(line.height_class, (0.0, 0.0))[0]


def count_of(file: StandFile, visit: Visit, *, fenced: bool = False) -> Count | None:
    """The plots of one visit, outside a deer fence or inside; None without any, or where the visit does not say how large they were."""
    ring = next((r for r in file.rings if r.visit == visit.visit and r.layer == "reproduction"), None)
    points = tuple(p for p in file.points if p.visit == visit.visit and p.in_stand is not False and bool(p.fenced) == fenced)
    if ring is None or not points:
        return None
    names = {point.point for point in points}
    lines = tuple(line for line in file.seedlings if line.visit == visit.visit and line.point in names)
    return Count(visit, ring, points, lines)


def figures(file: StandFile, rules: Rules, on: dt.date, sprouts: Figure, site_index: Figure) -> dict[str, Figure]:
    """Every figure of the latest count."""
    visit = file.latest("reproduction")
    count = count_of(file, visit) if visit else None
    if count is None:
        missing = _NO_COUNT if visit is None else f"visit {visit.visit} does not say how large its plots were"
        return {name: unmeasured(name, missing) for name in NAMES}
    found = _stems(count, rules) | _stocked(count, rules) | _competition(count, rules) | _health(count, rules)
    found |= _verdict(count, rules, sprouts, found)
    found["expected_dominants_ac"] = _expected_dominants(count, rules, sprouts, site_index)
    return found


NAMES = (
    "oak_stems_1ft_ac",
    "oak_stems_3ft_ac",
    "oak_stems_4_5ft_ac",
    "oak_stocked_1ft_share",
    "oak_stocked_3ft_share",
    "oak_stocked_4_5ft_share",
    "oak_stems_3ft_bound_ac",
    "clumping_k",
    "spread_ratio",
    "overtopped_share",
    "competitor_stems_3ft_ac",
    "browse_share",
    "tallest_oak_ft",
    "burnable_collar_share",
    "free_oaks_ac",
    "needed_stocked_share",
    "oak_verdict",
    "plots_to_settle",
    "dominants_at_20_ac",
    "expected_dominants_ac",
)


def _label(height: float) -> str:
    return f"{height:g}".replace(".", "_") + "ft"


def _oaks(count: Count, at_least_ft: float) -> list[Seedling]:
    return [x for x in count.lines if by_code(x.species).is_oak and low_height_ft(x) >= at_least_ft and x.stems > 0]


def _rows(count: Count, lines: list[Seedling], name: str = "") -> tuple[Input, ...]:
    label = name or f"reproduction tally of {count.visit.visit}"
    return (
        Input(name=label, value=len(lines), unit="rows", rows=tuple(line.id for line in lines)),
        Input(name="plots", value=count.n, unit="plots", rows=tuple(point.id for point in count.points)),
    )


def _stems(count: Count, rules: Rules) -> dict[str, Figure]:
    found = {}
    for height in HEIGHTS_FT:
        lines = _oaks(count, height)
        name = f"oak_stems_{_label(height)}_ac"
        found[name] = mean_figure(
            name,
            "stems/ac",
            count.per_plot(lines) / count.plot_ac,
            count.points,
            rules=rules,
            method=f"oaks at least {height:g} ft tall on plots of 1/{1 / count.plot_ac:.0f} acre",
            inputs=_rows(count, lines),
            note=_few_plots(count, rules),
        )
    return found


def _few_plots(count: Count, rules: Rules) -> str:
    fewest = int(rules.number("fewest_reproduction_plots"))
    return f"{count.n} plots; at least {fewest} are wanted for a stand" if count.n < fewest else ""


def _stocked(count: Count, rules: Rules) -> dict[str, Figure]:
    found = {}
    for height in HEIGHTS_FT:
        lines = _oaks(count, height)
        stocked = int((count.per_plot(lines) > 0).sum())
        name = f"oak_stocked_{_label(height)}_share"
        found[name] = share_figure(
            name,
            stocked,
            count.n,
            rules=rules,
            method=f"plots with an oak at least {height:g} ft tall",
            inputs=_rows(count, lines),
            note=_few_plots(count, rules),
        )
    counts = count.per_plot(_oaks(count, rules.number("waist_high_ft")))
    k = survey.clumping_k(counts)
    missing = "too few oaks to see how they are spread"
    if np.isnan(k):
        return found | {name: unmeasured(name, missing) for name in ("clumping_k", "spread_ratio")}
    random = float(science.random_stocking(counts.mean(), 1))
    ratio = float((counts > 0).mean() / random)
    clumped = ratio < rules.number("clumped_ratio")
    inputs = _rows(count, _oaks(count, rules.number("waist_high_ft")))
    found["clumping_k"] = Figure(
        name="clumping_k", value=min(k, 1e6), n=count.n, method="k of the negative binomial by moments", inputs=inputs
    )
    found["spread_ratio"] = Figure(
        name="spread_ratio",
        value=ratio,
        unit="ratio",
        n=count.n,
        method="stocked plots over those that random spread of the same stems would stock",
        sources=("geometry",),
        inputs=inputs,
        note="the oaks stand in clumps: their number looks better than their spread" if clumped else "",
    )
    return found


def _competition(count: Count, rules: Rules) -> dict[str, Figure]:
    height = rules.number("waist_high_ft")
    rivals = [x for x in count.lines if not by_code(x.species).is_oak and low_height_ft(x) >= height and x.stems > 0]
    over, judged, free = _overtopped_plots(count, rules)
    rule = tables.constants(science.TABLE)["competitive_height"]
    overtopped = share_figure(
        "overtopped_share",
        over,
        judged,
        rules=rules,
        method=f"plots whose best oak (1 ft and taller) is noted as overtopped or under {rule:g} of the tallest rival",
        inputs=_rows(count, list(count.lines)),
    )
    free_oaks = mean_figure(
        "free_oaks_ac",
        "stems/ac",
        free / count.plot_ac,
        count.points,
        rules=rules,
        method="best oak of each plot that is 4.5 ft or taller and not overtopped",
        inputs=_rows(count, list(count.lines)),
        sources=("spetich2002",),
    )
    competitors = mean_figure(
        "competitor_stems_3ft_ac",
        "stems/ac",
        count.per_plot(rivals) / count.plot_ac,
        count.points,
        rules=rules,
        method=f"stems of other species at least {height:g} ft tall",
        inputs=_rows(count, rivals),
    )
    return {"overtopped_share": overtopped, "free_oaks_ac": free_oaks, "competitor_stems_3ft_ac": competitors}


def _overtopped_plots(count: Count, rules: Rules) -> tuple[int, int, Array]:
    """Plots whose best oak is overtopped, plots judged, and for each plot whether it holds a free tall oak."""
    rule = tables.constants(science.TABLE)["competitive_height"]
    free = np.zeros(count.n)
    over = judged = 0
    for index, point in enumerate(count.points):
        here = [x for x in count.lines if x.point == point.point and x.stems > 0]
        oaks = [x for x in here if by_code(x.species).is_oak and low_height_ft(x) >= 1]
        if not oaks:
            continue
        best = max(oaks, key=lambda x: height_ft(x, rules))
        rival = max((height_ft(x, rules) for x in here if not by_code(x.species).is_oak), default=0.0)
        under = best.place == "overtopped" or (best.place != "free" and height_ft(best, rules) < rule * rival)
        judged, over = judged + 1, over + under
        free[index] = not under and low_height_ft(best) >= 4.5
    return over, judged, free


def _health(count: Count, rules: Rules) -> dict[str, Figure]:
    oaks = [x for x in _oaks(count, 0.0) if x.browsed is not None]
    stems, bitten = sum(x.stems for x in oaks), sum(x.browsed or 0 for x in oaks)
    browse = share_figure("browse_share", bitten, stems, rules=rules, method="oak stems with bitten tips", inputs=_rows(count, oaks))
    if not oaks:
        browse = unmeasured("browse_share", "browse was not noted", "share")
    measured = [x for x in _oaks(count, rules.number("waist_high_ft")) if x.basal_diameter_in is not None]
    limit = rules.number("burn_collar_in")
    thick = [x for x in measured if (x.basal_diameter_in or 0) >= limit]
    collar = share_figure(
        "burnable_collar_share",
        len(thick),
        len(measured),
        rules=rules,
        method=f"measured oaks of 3 ft and taller with a collar of {limit:g} in. and more",
        inputs=_rows(count, measured),
    )
    if not measured:
        collar = unmeasured("burnable_collar_share", "no basal diameters of oaks 3 ft and taller", "share")
    tall = _oaks(count, 0.0)
    tallest = max(tall, key=lambda x: x.height_ft if x.height_ft is not None else low_height_ft(x), default=None)
    if tallest is None:
        height = unmeasured("tallest_oak_ft", "no oak was counted", "ft")
    else:
        value = float(tallest.height_ft) if tallest.height_ft is not None else low_height_ft(tallest)
        note = "" if tallest.height_ft is not None else "lower limit of its height class; not measured"
        height = Figure(
            name="tallest_oak_ft", value=value, unit="ft", n=count.n, method="tallest oak on the plots",
            inputs=_rows(count, [tallest]), note=note,
        )  # fmt: skip
    return {"browse_share": browse, "burnable_collar_share": collar, "tallest_oak_ft": height}


def _verdict(count: Count, rules: Rules, sprouts: Figure, found: dict[str, Figure]) -> dict[str, Figure]:
    """The stocked-plot rule and the trade's several-hundred rule, each with its one-sided bound."""
    level = rules.number("verdict_level")
    credited = sprouts.number if sprouts.measured else 0.0
    tall = found["oak_stocked_4_5ft_share"]
    stocked = round(tall.number * count.n)
    by_plots = science.stocked_plot_verdict(count.n, stocked, credited, level=level)
    density = _density_verdict(count, rules)
    waist = count.per_plot(_oaks(count, rules.number("waist_high_ft")))
    clumped = decisions.is_clumped(float((waist > 0).mean()), float(waist.mean()), rules.number("clumped_ratio"))
    verdict = science.SIDES[decisions.oak_side(by_plots.side, density.side, count.follows_rule_plot, clumped)]
    needed = Figure(
        name="needed_stocked_share",
        value=by_plots.needed_share,
        unit="share",
        low=None if sprouts.high is None else science.needed_stocked_share(sprouts.high),
        high=None if sprouts.low is None else science.needed_stocked_share(sprouts.low),
        level=sprouts.level,
        n=sprouts.n,
        method="(433 - sprouting stumps) / 735",
        sources=("sander1976",),
        inputs=(Input(name="oak_sprouts_ac", figure="oak_sprouts_ac"),),
        status="memory",
        note="" if sprouts.measured else "no cruise: no stump sprouts credited",
    )
    words = _verdict_words(count, by_plots, density, rules, clumped=clumped)
    bound = Figure(
        name="oak_stems_3ft_bound_ac",
        value=density.stems_ac,
        unit="stems/ac",
        low=density.low,
        high=density.high if density.high < float("inf") else None,
        level=level,
        n=count.n,
        method="oaks 3 ft and taller with one-sided bounds, as the verdict uses them",
        sources=("freese1962",),
        inputs=(Input(name="oak_stems_3ft_ac", figure="oak_stems_3ft_ac"),),
    )
    return {
        "needed_stocked_share": needed,
        "oak_stems_3ft_bound_ac": bound,
        "oak_verdict": Figure(
            name="oak_verdict",
            value=verdict,
            n=count.n,
            method=words,
            sources=("sander1976", "practice", "wilson1927"),
            inputs=tuple(
                Input(name=name, figure=name)
                for name in ("oak_stocked_4_5ft_share", "needed_stocked_share", "oak_stems_3ft_bound_ac", "spread_ratio")
            ),
            note=_verdict_note(count, by_plots, sprouts, verdict, rules),
            status="memory",
        ),
        "plots_to_settle": _to_settle(count, rules, by_plots, density, verdict),
        "dominants_at_20_ac": _dominants(count, by_plots, tall, sprouts),
    }


@dataclass(frozen=True)
class _Density:
    stems_ac: float
    low: float
    high: float
    side: int

    @property
    def verdict(self) -> str:
        return science.SIDES[self.side]


def _density_verdict(count: Count, rules: Rules) -> _Density:
    level, rule = rules.number("verdict_level"), rules["several_hundred_ac"]
    counts = count.per_plot(_oaks(count, rules.number("waist_high_ft"))) / count.plot_ac
    mean, low, high = float(counts.mean()), 0.0, float("inf")
    if count.n > 1:
        t = float(survey.t_quantile(2 * level - 1, count.n - 1))
        low, high = decisions.mean_ends(float(counts.sum()), float((counts**2).sum()), count.n, t)
    return _Density(mean, low, high, decisions.density_side(mean, low, high, rule.number, rule.span[0]))


def _verdict_words(count: Count, plots: science.Verdict, density: _Density, rules: Rules, *, clumped: bool) -> str:
    level = rules.number("verdict_level")
    words = (
        f"stocked plots 4.5 ft and taller {plots.stocked_share:.0%} ({plots.low:.0%} to {plots.high:.0%}, one-sided "
        f"{level:.0%}) against {plots.needed_share:.1%} needed: {plots.verdict}"
        if count.follows_rule_plot
        else "the stocked-plot rule is not used: the plots are not 1/735 acre"
    )
    words += (
        f"; stems 3 ft and taller {density.stems_ac:.0f}/ac ({density.low:.0f} to {density.high:.0f}) against "
        f"{rules.number('several_hundred_ac'):.0f}, lower bound at least {rules['several_hundred_ac'].low:.0f}: "
        f"{density.verdict}"
    )
    return words + ("; the oaks stand in clumps, so their number alone does not pass" if clumped else "")


def _verdict_note(count: Count, plots: science.Verdict, sprouts: Figure, verdict: str, rules: Rules) -> str:
    if verdict != "adequate" or not count.follows_rule_plot or plots.verdict != "adequate":
        return ""
    margin = plots.low - plots.needed_share
    notes = (
        [f"narrow: the lower bound clears the need by {100 * margin:.1f} points"] if margin < rules.number("narrow_margin_share") else []
    )
    if sprouts.low is not None and plots.low < science.needed_stocked_share(sprouts.low):
        notes.append("with stump sprouts at the low end of their error it would not pass")
    return "; ".join(notes)


def _to_settle(count: Count, rules: Rules, plots: science.Verdict, density: _Density, verdict: str) -> Figure:
    if verdict != "unsure":
        return Figure(name="plots_to_settle", value=0, unit="plots", n=count.n, method="the verdict is settled")
    level, rule = rules.number("verdict_level"), rules["several_hundred_ac"]
    answers = []
    if count.follows_rule_plot and plots.verdict == "unsure":
        answers.append(science.plots_to_settle_share(plots.stocked_share, plots.needed_share, level=level))
    if density.verdict == "unsure":
        k = survey.clumping_k(count.per_plot(_oaks(count, rules.number("waist_high_ft"))))
        target = float(rule.low or 0) if density.stems_ac >= rule.number else rule.number
        answers.append(science.plots_to_settle_density(density.stems_ac, target, count.plot_ac, min(k, 1e6), level=level))
    known = [number for number in answers if number is not None]
    if not known:
        return unmeasured("plots_to_settle", "what was seen sits on the threshold; no number of plots settles it", "plots")
    return Figure(
        name="plots_to_settle",
        value=min(known),
        unit="plots in all",
        n=count.n,
        method="plots at which the one-sided bound clears the rule, with the clumping seen, if what was seen is true",
        sources=("wilson1927", "cochran1977"),
        inputs=(Input(name="oak_verdict", figure="oak_verdict"), Input(name="clumping_k", figure="clumping_k")),
    )


def _dominants(count: Count, plots: science.Verdict, tall: Figure, sprouts: Figure) -> Figure:
    scale = science.success_per_stocked_plot() * _RULE_PLOTS
    credit = science.success_per_stocked_plot() * (sprouts.number if sprouts.measured else 0.0)
    if not count.follows_rule_plot:
        return unmeasured("dominants_at_20_ac", "the rule needs plots of 1/735 acre", "stems/ac")
    return Figure(
        name="dominants_at_20_ac",
        value=plots.dominants_at_20_ac,
        unit="stems/ac",
        low=None if tall.low is None else scale * tall.low + credit,
        high=None if tall.high is None else scale * tall.high + credit,
        level=tall.level,
        n=count.n,
        method="0.51 (735 stocked share + sprouting stumps), if the overwood went now",
        sources=("sander1976",),
        inputs=(
            Input(name=tall.name, figure=tall.name),
            Input(name="oak_sprouts_ac", figure="oak_sprouts_ac"),
        ),
        status="memory",
        note="before any loss to logging",
    )


def _expected_dominants(count: Count, rules: Rules, sprouts: Figure, site_index: Figure) -> Figure:
    """Chance of each plot's best measured oak by the stand-in model, at most one tree a plot, less logging loss."""
    name = "expected_dominants_ac"
    oaks = [x for x in _oaks(count, 0.5) if x.basal_diameter_in is not None]
    if not oaks or not site_index.measured:
        missing = "basal diameters of oaks" if not oaks else "a site index"
        return unmeasured(name, f"needs {missing}", "stems/ac")
    chance = np.zeros(count.n)
    place = {point.point: index for index, point in enumerate(count.points)}
    for line in oaks:
        value = float(
            science.advance_success(
                line.basal_diameter_in or 0.0,
                site_index.number,
                b0=rules.number("dominance_b0"),
                b_ln_diameter=rules.number("dominance_ln_diameter"),
                b_site_10ft=rules.number("dominance_site_10ft"),
                k=rules.number("dominance_competition"),
            )
        )
        index = place[line.point]
        chance[index] = max(chance[index], value)
    kept = 1 - rules.number("logging_loss_share")
    credit = science.success_per_stocked_plot() * (sprouts.number if sprouts.measured else 0.0)
    return mean_figure(
        name,
        "stems/ac",
        kept * chance / count.plot_ac + credit,
        count.points,
        rules=rules,
        method="chance of the best oak of each plot by basal diameter and site, less logging loss, plus stump sprouts",
        inputs=(*_rows(count, oaks), Input(name="site_index_ft", figure="site_index_ft")),
        sources=("assumed",),
        status="assumption",
        note="a stand-in model calibrated to two published rules; see dominance_* in the assumptions",
    )


def by_class(file: StandFile, rules: Rules) -> dict[str, dict[str, Figure]]:
    """Stems per acre of oak and of each competitor by height class, from the latest count."""
    visit = file.latest("reproduction")
    count = count_of(file, visit) if visit else None
    if count is None:
        return {}
    groups: dict[str, list[Seedling]] = {"oak": [], **{name: [] for name in _COMPETITORS.values()}, "other": []}
    for line in count.lines:
        name = "oak" if by_code(line.species).is_oak else _COMPETITORS.get(line.species, "other")
        groups[name].append(line)
    found: dict[str, dict[str, Figure]] = {}
    for group, lines in groups.items():
        if not lines:
            continue
        found[group] = {}
        for label in HEIGHT_CLASSES:
            chosen = [x for x in lines if _class_of(x) == label]
            found[group][label] = mean_figure(
                f"{group} {label} ft",
                "stems/ac",
                count.per_plot(chosen) / count.plot_ac,
                count.points,
                rules=rules,
                method="stems of the class on the plots",
                inputs=_rows(count, chosen),
            )
    return found


def _class_of(line: Seedling) -> str:
    if line.height_class:
        return line.height_class
    height = float(line.height_ft or 0)
    return next(label for label, (low, high) in HEIGHT_CLASSES.items() if low <= height < high)
