"""Figures of the floor: stocked plots, stems per acre, clumping, competitors and browse; the verdict is in
``oak_verdict``."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures, tables
from overwood.ground.copies import with_fields
from overwood.ground.figure import Figure, Figures, Input, unmeasured
from overwood.ground.records import Seedling, StandFile
from overwood.ground.species import by_code
from overwood.ground.vocabulary import HEIGHT_CLASSES
from overwood.judgement.evidence import oak_verdict
from overwood.judgement.evidence.counting import (
    HEIGHTS_FT,
    RIVAL_FT,
    Count,
    count_of,
    height_ft,
    low_height_ft,
    plot_inputs,
    tall_oaks,
    tall_rivals,
)
from overwood.judgement.evidence.looked import ALL_TREES, OAKS, OTHERS
from overwood.judgement.evidence.tally import Array, mean_figure, share_figure
from overwood.judgement.rules import Rules
from overwood.science import decisions, intervals, sample_size, survey
from overwood.science import reproduction as science

_NO_COUNT = "no reproduction count of this stand is in the book"
_COMPETITORS = {316: "red maple", 318: "sugar maple", 621: "yellow-poplar", 531: "American beech"}


def figures(file: StandFile, rules: Rules, standing: Mapping[str, Figure]) -> Figures:
    """Every figure of the latest count, beside the figures of the standing trees."""
    visit = file.latest("reproduction")
    count = count_of(file, visit) if visit else None
    if count is None:
        missing = _NO_COUNT if visit is None else f"visit {visit.visit} does not say how large its plots were"
        return Figures().add(NAMES, lambda: {name: unmeasured(name, missing) for name in NAMES})
    floor = Figures()

    def alone(name: str, make: Callable[..., Figure], *more: Any) -> None:
        floor.add((name,), lambda: {name: make(count, *more)})

    alone("oak_stems_under_1ft_ac", _small_oaks, rules)
    for height in heights_told(rules):
        alone(f"oak_stems_{_label(height)}_ac", _taller, height, rules)
    for height in HEIGHTS_FT:
        alone(f"oak_stocked_{_label(height)}_share", _stocked, height, rules)
    floor.add(_SPREAD, lambda: _spread(count, rules))
    floor.add(_COMPETITION, lambda: _competition(count, rules))
    alone("competitor_stems_3ft_ac", _rivals, rules)
    alone("browse_share", _browse, rules)
    alone("burnable_collar_share", _collars, rules)
    alone("tallest_oak_ft", _tallest)
    floor.add(oak_verdict.NAMES, lambda: oak_verdict.figures(count, rules, standing["oak_sprouts_ac"], floor))
    alone("expected_dominants_ac", _expected_dominants, rules, standing)
    return floor


_SPREAD = ("clumping_k", "spread_ratio")
_COMPETITION = ("overtopped_share", "competitor_led_share", "free_oaks_ac")
NAMES = (
    "oak_stems_under_1ft_ac",
    "oak_stems_1ft_ac",
    "oak_stems_3ft_ac",
    "oak_stems_4_5ft_ac",
    "oak_stocked_1ft_share",
    "oak_stocked_3ft_share",
    "oak_stocked_4_5ft_share",
    *_SPREAD,
    *_COMPETITION[:2],
    "competitor_stems_3ft_ac",
    "browse_share",
    "tallest_oak_ft",
    "burnable_collar_share",
    _COMPETITION[2],
    "expected_dominants_ac",
    *oak_verdict.NAMES,
)


def over_time(file: StandFile, rules: Rules) -> tuple[tuple[dt.date, dict[float, Figure]], ...]:
    """Oaks an acre of each height [ft] or taller in every count, the oldest first."""
    counts = [count for visit in file.visits_of("reproduction") if (count := count_of(file, visit)) is not None]
    heights = heights_told(rules)
    return tuple((one.visit.visited_on, {height: _taller(one, height, rules) for height in heights}) for one in counts)


def heights_told(rules: Rules) -> list[float]:
    """Heights [ft] from which oaks are told, the lowest first."""
    return sorted({*HEIGHTS_FT, rules.number("waist_high_ft")})


def _label(height: float) -> str:
    return f"{height:g}".replace(".", "_") + "ft"


def _taller(count: Count, height: float, rules: Rules) -> Figure:
    """Oaks of a height or taller."""
    name, lines, kinds = f"oak_stems_{_label(height)}_ac", tall_oaks(count, height), frozenset({OAKS})
    if count.not_reached(kinds, height):
        return unmeasured(name, count.not_looked_at(kinds, height, math.inf), "stems/ac")
    stems = float(count.oaks_by_plot(height).sum())
    tall, plots = measures.amount(height, "ft", "g"), measures.plot_size(count.plot_ac)
    figure = Figure(
        name=name, value=stems / count.n / count.plot_ac, unit="stems/ac", n=count.n, inputs=plot_inputs(count, lines),
        method=f"oaks at least {tall} tall on plots of {plots}",
        note=_notes(count.not_looked_at(kinds, height, math.inf), _several_sizes(count), _few_plots(count, rules)),
    )  # fmt: skip
    return oak_verdict.judged(figure, count, rules, stems)


def _notes(*words: str) -> str:
    return "; ".join(word for word in words if word)


def _small_oaks(count: Count, rules: Rules) -> Figure:
    """Oaks under a foot: what a burn would harm, and what a good crop leaves."""
    lines = [x for x in tall_oaks(count, 0.0) if low_height_ft(x) < 1.0]
    return _density_of(
        count,
        rules,
        "oak_stems_under_1ft_ac",
        lines,
        (frozenset({OAKS}), 0.0, 1.0),
        f"oaks under {measures.amount(1, 'ft', 'g')} tall",
    )


def _density_of(
    count: Count, rules: Rules, name: str, lines: list[Seedling], sizes: tuple[frozenset[str], float, float], what: str
) -> Figure:
    """Stems an acre of some lines; unmeasured where the plots did not look for all of the kinds and heights."""
    kinds, low_ft, high_ft = sizes
    missing = count.not_looked_at(kinds, low_ft, high_ft)
    if missing and (high_ft < math.inf or count.not_reached(kinds, low_ft)):
        return unmeasured(name, missing, "stems/ac")
    return mean_figure(
        name,
        "stems/ac",
        count.per_plot(lines) / count.plot_ac,
        count.points,
        rules=rules,
        method=f"{what} on plots of {measures.plot_size(count.plot_ac)}",
        inputs=plot_inputs(count, lines),
        note=_notes(missing, _several_sizes(count), _few_plots(count, rules)),
        one=1 / count.plot_ac,
    )


def _few_plots(count: Count, rules: Rules) -> str:
    fewest = int(rules.number("fewest_reproduction_plots"))
    return f"{count.n} plots; at least {fewest} are wanted for a stand" if count.n < fewest else ""


def _several_sizes(count: Count) -> str:
    sizes = sorted(set(count.areas_ac))
    if len(sizes) < 2:
        return ""
    span = measures.plot_sizes(sizes[0], sizes[-1])
    return (
        f"plots of {len(sizes)} sizes ({span}): {measures.unit_word('stems an acre')} are all stems over all "
        "ground, and a larger plot is stocked more easily"
    )


def _stocked(count: Count, height: float, rules: Rules) -> Figure:
    """Plots with an oak of a height or taller."""
    name = f"oak_stocked_{_label(height)}_share"
    missing = count.not_reached(frozenset({OAKS}), height)
    if missing:
        return unmeasured(name, missing, "share")
    stocked = int((count.oaks_by_plot(height) > 0).sum())
    share = Figure(
        name=name, value=stocked / count.n, unit="share", n=count.n,
        inputs=plot_inputs(count, tall_oaks(count, height)),
        method=f"plots with an oak at least {measures.amount(height, 'ft', 'g')} tall",
        note=_notes(_several_sizes(count), _few_plots(count, rules)),
    )  # fmt: skip
    return oak_verdict.judged(share, count, rules, stocked)


def _spread(count: Count, rules: Rules) -> dict[str, Figure]:
    """How the taller oaks are spread: their clumping, and plots stocked against those that the number wanted would
    stock at random."""
    lines = tall_oaks(count, rules.number("waist_high_ft"))
    counts = count.per_plot(lines)
    k = sample_size.clumping_k(counts)
    if np.isnan(k):
        missing = "too few oaks to see how they are spread"
        return {name: unmeasured(name, missing) for name in _SPREAD}
    wanted = rules.number("several_hundred_ac")
    ratio = float((counts > 0).mean()) / decisions.stocked_by(wanted, count.plot_ac)
    short = ratio < rules.number("clumped_ratio")
    inputs = plot_inputs(count, lines)
    return {
        "clumping_k": Figure(
            name="clumping_k",
            value=min(k, 1e6),
            n=count.n,
            method="k of the negative binomial by moments",
            inputs=inputs,
        ),
        "spread_ratio": Figure(
            name="spread_ratio",
            value=ratio,
            unit="ratio",
            n=count.n,
            method=(
                f"plots stocked at {measures.amount(rules.number('waist_high_ft'), 'ft', 'g')} over those that "
                f"{measures.amount(wanted, 'stems/ac', 'g')} at random would stock"
            ),
            sources=("geometry",),
            inputs=inputs,
            note="the oaks stand on too few plots: their number alone does not pass" if short else "",
        ),
    }


def _competition(count: Count, rules: Rules) -> dict[str, Figure]:
    leads = _leads(count, rules)
    under, judged = leads.overtopped, leads.with_oak
    rule = tables.constants(science.TABLE)["competitive_height"]
    overtopped = share_figure(
        "overtopped_share",
        int(under.sum()),
        int(judged.sum()),
        rules=rules,
        method=(
            f"plots with an oak of {measures.amount(1, 'ft', 'g')} or taller, where all are noted as "
            f"overtopped or under {rule:g} of the tallest rival"
        ),
        inputs=plot_inputs(count, list(count.lines)),
        places=_judged_by_place(count, under, judged),
    )
    led = _competitor_led(count, leads, rules)
    if OTHERS not in count.look.kinds:
        missing = count.not_looked_at(ALL_TREES, 1.0, math.inf)
        overtopped, led = (unmeasured(name, missing, "share") for name in ("overtopped_share", "competitor_led_share"))
    return dict(zip(_COMPETITION, (overtopped, led, _free_oaks(count, leads.free_tall, rules)), strict=True))


def _rivals(count: Count, rules: Rules) -> Figure:
    return _density_of(
        count, rules, "competitor_stems_3ft_ac", tall_rivals(count), (frozenset({OTHERS}), RIVAL_FT, math.inf),
        f"stems of other species at least {measures.amount(RIVAL_FT, 'ft', 'g')} tall",
    )  # fmt: skip


def _competitor_led(count: Count, leads: Leads, rules: Rules) -> Figure:
    """Share of the plots where a young tree leads that a competitor leads: it only falls with an oak more.

    Plots in groups are worth fewer by an assumed likeness, as in the verdict on the oak: one measured on the plots
    would move with every oak.
    """
    name, level = "competitor_led_share", rules.number("interval_level")
    hits, looks = float(leads.by_competitor.sum()), float((leads.by_competitor + leads.by_oak).sum())
    if not looks:
        return unmeasured(name, f"no tree of {measures.amount(1, 'ft', 'g')} or taller stands on the plots", "share")
    worth = 1 / (1 + (count.n / count.places - 1) * rules.number("verdict_alike"))
    low, high = decisions.share_ends(hits * worth, looks * worth, survey.z_quantile(level), intervals.share_step())
    how = "" if worth == 1 else f", {count.places} places, their plots alike by verdict_alike"
    return Figure(
        name=name, value=hits / looks, unit="share", low=low, high=high, level=level, n=int(looks),
        method=f"plots with no free oak of {measures.amount(1, 'ft', 'g')} where a competitor of "
            f"{measures.amount(1, 'ft', 'g')} stands, of plots where either does; {hits:.0f} of {looks:.0f}, "
        f"score interval{how}",
        sources=("wilson1927", "newcombe1998one", *(() if worth == 1 else ("assumed",))), inputs=plot_inputs(count,
            list(count.lines)),
    )  # fmt: skip


def _judged_by_place(count: Count, under: Array, judged: Array) -> tuple[Array, Array] | None:
    if count.group is None:
        return None
    hits, looks = (survey.point_totals(count.group, each, count.places) for each in (under, judged))
    return hits[looks > 0], looks[looks > 0]


def _free_oaks(count: Count, free: Array, rules: Rules) -> Figure:
    """Free tall oaks an acre, at most one a plot, so that the interval is that of the share of plots."""
    share = share_figure(
        "free_oaks_ac", int(free.sum()), count.n, places=count.by_place(free), rules=rules,
        method=f"plots with an oak {measures.amount(4.5, 'ft', 'g')} or taller that is not overtopped, one oak each",
        inputs=plot_inputs(count, list(count.lines)),
    )  # fmt: skip
    low, high = (end / count.plot_ac for end in share.ends)
    return with_fields(
        share,
        value=share.number / count.plot_ac,
        unit="stems/ac",
        low=low,
        high=high,
        sources=(*share.sources, "spetich2002"),
    )


@dataclass(frozen=True)
class Leads:
    """Who leads on each plot, as 0 or 1: a plot is led by an oak, by a competitor, or by nobody where no tree of 1 ft
    stands."""

    by_oak: Array
    by_competitor: Array
    with_oak: Array
    free_tall: Array

    @property
    def overtopped(self) -> Array:
        """Plots with an oak and none that keeps up."""
        return self.with_oak - self.by_oak


def _leads(count: Count, rules: Rules) -> Leads:
    """Plots by who leads: a free oak of 1 ft, else a competitor of 1 ft.

    An oak noted as overtopped brings its competitor with it, whether or not that one was tallied.
    """
    rule, lines = tables.constants(science.TABLE)["competitive_height"], [line for _, _, line in count.seen]
    is_oak, low = np.array([one[0] for one in count.seen], dtype=bool), np.array([one[1] for one in count.seen])
    plot, noted = count.plots_of(lines), np.array([line.place for line in lines], dtype=np.str_)
    height, rival = np.array([height_ft(line, rules) for line in lines]), np.zeros(count.n)
    np.maximum.at(rival, plot[~is_oak], height[~is_oak])
    keeps_up = (noted == "free") | ((noted != "overtopped") & (height >= rule * rival[plot]))

    def plots_with(chosen: NDArray[np.bool_]) -> Array:
        return (np.bincount(plot[chosen], minlength=count.n) > 0).astype(float)

    oak, free = is_oak & (low >= 1), is_oak & (low >= 1) & keeps_up
    by_oak, with_oak = plots_with(free), plots_with(oak)
    led = (by_oak == 0) & (plots_with(low >= 1) > 0)
    return Leads(by_oak, led.astype(float), with_oak, plots_with(free & (low >= 4.5)))


def _by_plot(count: Count, lines: list[Seedling], hits: list[int], looks: list[int]) -> tuple[Array, Array]:
    """Stems that have it and stems looked at, plot by plot: stems of one plot, or of plots in one group, are alike."""
    group = {point.point: str(place) for place, point in enumerate(count.points)}
    if count.group is not None:
        group = {point.point: str(place) for place, point in zip(count.group, count.points, strict=True)}
    _, plot = np.unique([group[line.point] for line in lines], return_inverse=True)
    return np.bincount(plot, weights=hits).astype(float), np.bincount(plot, weights=looks).astype(float)


def _browse(count: Count, rules: Rules) -> Figure:
    oaks = [x for x in tall_oaks(count, 0.0) if x.browsed is not None]
    if not oaks:
        bare = not tall_oaks(count, 0.0)
        return unmeasured(
            "browse_share", "no oak was counted to look at for browse" if bare else "browse was not noted", "share"
        )
    bitten, stems = [x.browsed or 0 for x in oaks], [x.stems for x in oaks]
    return share_figure(
        "browse_share", sum(bitten), sum(stems), rules=rules, method="oak stems with bitten tips",
        inputs=plot_inputs(count, oaks),
        places=_by_plot(count, oaks, bitten, stems),
    )  # fmt: skip


def _collars(count: Count, rules: Rules) -> Figure:
    tall = tall_oaks(count, rules.number("waist_high_ft"))
    measured = [x for x in tall if x.basal_diameter_in is not None]
    limit = rules.number("burn_collar_in")
    if not measured:
        height = rules.number("waist_high_ft")
        missing = (
            f"no basal diameters of oaks {measures.amount(height, 'ft', 'g')} or taller"
            if tall
            else f"no oak of {measures.amount(height, 'ft', 'g')} or taller was counted"
        )
        return unmeasured("burnable_collar_share", missing, "share")
    thick = [int((x.basal_diameter_in or 0) >= limit) for x in measured]
    return share_figure(
        "burnable_collar_share",
        sum(thick),
        len(measured),
        rules=rules,
        method=(
            f"measured oaks of {measures.amount(rules.number('waist_high_ft'), 'ft', 'g')} or taller with a collar of "
            f"{measures.amount(limit, 'in.', 'g')} or larger"
        ),
        inputs=plot_inputs(count, measured),
        places=_by_plot(count, measured, thick, [1] * len(measured)),
    )


def _tallest(count: Count) -> Figure:
    tall = tall_oaks(count, 0.0)
    tallest = max(tall, key=lambda x: x.height_ft if x.height_ft is not None else low_height_ft(x), default=None)
    if tallest is None:
        return unmeasured("tallest_oak_ft", "no oak was counted", "ft")
    value = float(tallest.height_ft) if tallest.height_ft is not None else low_height_ft(tallest)
    note = "" if tallest.height_ft is not None else "lower limit of its height class; not measured"
    return Figure(
        name="tallest_oak_ft", value=value, unit="ft", n=count.n, method="tallest oak on the plots",
        inputs=plot_inputs(count, [tallest]), note=note,
    )  # fmt: skip


def _expected_dominants(count: Count, rules: Rules, standing: Mapping[str, Figure]) -> Figure:
    """Chance of each plot's best measured oak by the stand-in model, at most one tree a plot, less logging loss."""
    name, sprouts, site_index = "expected_dominants_ac", standing["oak_sprouts_ac"], standing["site_index_ft"]
    oaks = [x for x in tall_oaks(count, 0.5) if x.basal_diameter_in is not None]
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
        inputs=(*plot_inputs(count, oaks), Input(name="site_index_ft", figure="site_index_ft")),
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
    by_group: dict[str, dict[str, Figure]] = {}
    for group, lines in groups.items():
        if not lines:
            continue
        by_group[group] = {}
        for label in HEIGHT_CLASSES:
            chosen = [x for x in lines if _class_of(x) == label]
            by_group[group][label] = mean_figure(
                f"{group} {label} ft",
                "stems/ac",
                count.per_plot(chosen) / count.plot_ac,
                count.points,
                rules=rules,
                method="stems of the class on the plots",
                inputs=plot_inputs(count, chosen),
            )
    return by_group


def _class_of(line: Seedling) -> str:
    if line.height_class:
        return line.height_class
    height = float(line.height_ft or 0)
    return next(label for label, (low, high) in HEIGHT_CLASSES.items() if low <= height < high)
