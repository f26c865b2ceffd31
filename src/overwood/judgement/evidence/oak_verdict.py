"""The verdict on the oak: the stocked-plot rule and the trade's several-hundred rule, each with its one-sided bound.

Every part only rises with the oaks counted: one oak more never turns the verdict against the oak.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Mapping
from dataclasses import dataclass

from overwood.ground import measures, tables
from overwood.ground.copies import with_fields
from overwood.ground.doubt import Doubt
from overwood.ground.figure import Figure, Input, doubted, unmeasured
from overwood.judgement.evidence.counting import Count
from overwood.judgement.evidence.tally import Array
from overwood.judgement.rules import Rules
from overwood.science import decisions, survey
from overwood.science import reproduction as science

NAMES = ("needed_stocked_share", "oak_verdict", "plots_to_settle", "dominants_at_20_ac")


@dataclass(frozen=True)
class Tally:
    """What the verdict reads off a count: plots, those stocked at 4.5 ft and at waist height, and oaks at waist
    height."""

    plots: int
    plot_ac: float
    stocked_tall: float
    stocked_waist: float
    stems_waist: float
    places: float

    def shifted(self, plots: int) -> Tally:
        """The same count with so many plots more (or fewer) that hold an oak, of the stems such plots hold here."""
        each = self.stems_waist / self.stocked_waist if self.stocked_waist else 1.0
        return Tally(
            self.plots, self.plot_ac, _within(self.stocked_tall + plots, self.plots),
            _within(self.stocked_waist + plots, self.plots),
            max(self.stems_waist + plots * each, 0.0), self.places,
        )  # fmt: skip


def _within(hits: float, plots: int) -> float:
    return min(max(hits, 0), plots)


@dataclass(frozen=True)
class Verdict:
    """Both rules applied to a tally; sides are 1 (enough), 0 (unsure) and -1 (too little)."""

    plots: science.Verdict
    stems_ac: float
    low_ac: float
    high_ac: float
    by_density: int
    clumped: bool
    side: int


def tally_of(count: Count, rules: Rules) -> Tally:
    """The numbers of a count that the verdict rests on."""
    return count.once(("tally", rules.number("waist_high_ft")), lambda: _tally_of(count, rules))


def _tally_of(count: Count, rules: Rules) -> Tally:
    waist, tall = tall_by_plot(count, rules)
    return Tally(
        count.n, count.plot_ac, int((tall > 0).sum()), int((waist > 0).sum()), float(waist.sum()), count.places
    )


def tall_by_plot(count: Count, rules: Rules) -> tuple[Array, Array]:
    """Oaks on each plot at waist height, and at the height of the stocked-plot rule."""
    heights = rules.number("waist_high_ft"), tables.constants(science.TABLE)["advance_height_ft"]
    return count.oaks_by_plot(heights[0]), count.oaks_by_plot(heights[1])


def judge(tally: Tally, sprouts_ac: float, rules: Rules, *, follows_rule: bool) -> Verdict:
    """Apply both rules to a tally."""
    level, rule, worth = rules.number("verdict_level"), rules["several_hundred_ac"], worth_of(tally, rules)
    by_plots = science.stocked_plot_verdict(tally.plots * worth, tally.stocked_tall * worth, sprouts_ac, level=level)
    low, high = stems_ends(tally.stems_waist * worth, tally.plots * worth, tally.plot_ac, rules)
    mean = tally.stems_waist / tally.plots / tally.plot_ac
    by_density = decisions.density_side(mean, low, high, rule.number, rule.span[0])
    stocked = tally.stocked_waist / tally.plots
    clumped = decisions.is_clumped(stocked, rule.number, tally.plot_ac, rules.number("clumped_ratio"))
    side = decisions.oak_side(by_plots.side, by_density, follows_rule, clumped)
    return Verdict(by_plots, mean, low, high, by_density, clumped, side)


def worth_of(tally: Tally, rules: Rules) -> float:
    """What a plot is worth beside a lone one.

    Plots in groups are worth fewer by an assumed likeness: one measured on them would move with every oak.
    """
    return 1 / (1 + (tally.plots / tally.places - 1) * rules.number("verdict_alike"))


def stems_ends(stems: float, plots: float, plot_ac: float, rules: Rules) -> tuple[float, float]:
    """One-sided bounds of oaks an acre by their number on so many plots; the upper one may be infinite."""
    z = survey.z_quantile(2 * rules.number("verdict_level") - 1)
    low, high = decisions.count_ends(stems, plots, z, rules.number("verdict_clumping_k"))
    return low / plot_ac, high / plot_ac


def stems_name(rules: Rules) -> str:
    """The figure of the oaks an acre that the verdict judges."""
    return f"oak_stems_{rules.number('waist_high_ft'):g}ft_ac".replace(".", "_")


def judged(figure: Figure, count: Count, rules: Rules, total: float) -> Figure:
    """A figure of the oaks counted with the bounds that a verdict takes of it, so that it has one span wherever it is
    told.

    ``total`` is the oaks on all plots, or of a share the plots that hold one. The level is that of both bounds at once.
    """
    level, worth = rules.number("verdict_level"), worth_of(tally_of(count, rules), rules)
    if figure.unit == "share":
        low, high = science.share_bounds(total * worth, count.n * worth, level=level)
        how, sources = f"{total:.0f} of {count.n}", ("wilson1927", "newcombe1998one")
    else:
        low, high = stems_ends(total * worth, count.n * worth, count.plot_ac, rules)
        how = f"clumping of {rules.number('verdict_clumping_k'):g} assumed (verdict_clumping_k)"
        sources = ("mccullagh1989", "garwood1936")
    alike = () if worth == 1 else (f"{count.places} places, their plots alike by verdict_alike",)
    return with_fields(
        figure, low=low, high=high if math.isfinite(high) else None, level=2 * level - 1, sources=(*sources, "assumed"),
        method="; ".join((figure.method, how, *alike, f"one-sided {level:.0%} bounds, as the verdict takes them")),
    )  # fmt: skip


def figures(count: Count, rules: Rules, sprouts: Figure, oaks: Mapping[str, Figure]) -> dict[str, Figure]:
    """The verdict with what it rests on; unmeasured where the count did not look for the oaks it turns on."""
    for name in (stems_name(rules), "oak_stocked_4_5ft_share"):
        if not oaks[name].measured:
            return {missing: unmeasured(missing, oaks[name].note) for missing in NAMES}
    tally, credited = tally_of(count, rules), sprouts.number if sprouts.measured else 0.0
    verdict = judge(tally, credited, rules, follows_rule=count.follows_rule_plot)
    return {
        "needed_stocked_share": _needed(count, verdict, sprouts),
        "oak_verdict": _figure(count, tally, verdict, sprouts, rules),
        "plots_to_settle": _to_settle(count, tally, verdict, credited, rules),
        "dominants_at_20_ac": _dominants(count, verdict.plots, oaks["oak_stocked_4_5ft_share"], sprouts),
    }


def _needed(count: Count, verdict: Verdict, sprouts: Figure) -> Figure:
    if not count.follows_rule_plot:
        return unmeasured(
            "needed_stocked_share", f"the stocked-plot rule needs plots of {measures.plot_size(1 / 735)}", "share"
        )
    return Figure(
        name="needed_stocked_share",
        value=verdict.plots.needed_share,
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


def _figure(count: Count, tally: Tally, verdict: Verdict, sprouts: Figure, rules: Rules) -> Figure:
    names = ("oak_stocked_4_5ft_share", "needed_stocked_share") if count.follows_rule_plot else ()
    figure = Figure(
        name="oak_verdict",
        value=science.SIDES[verdict.side],
        n=count.n,
        method=_words(count, verdict, rules),
        sources=("sander1976", "practice", "wilson1927") if count.follows_rule_plot else ("practice",),
        inputs=tuple(Input(name=name, figure=name) for name in (*names, stems_name(rules), "spread_ratio")),
        status="memory",
    )
    return doubted(figure, (*_narrow(count, tally, verdict, sprouts, rules), *_by_sprouts(count, verdict, sprouts)))


def _words(count: Count, verdict: Verdict, rules: Rules) -> str:
    level, rule, plots = rules.number("verdict_level"), rules["several_hundred_ac"], verdict.plots
    words = (
        f"stocked plots {measures.amount(4.5, 'ft', 'g')} or taller {plots.stocked_share:.0%} "
        f"({plots.low:.0%} to {plots.high:.0%}, one-sided "
        f"{level:.0%}) against {plots.needed_share:.1%} needed: {plots.verdict}"
        if count.follows_rule_plot
        else f"the stocked-plot rule is not used: the plots are not {measures.plot_size(1 / 735)}"
    )
    low, high = (_density(end) if math.isfinite(end) else "no limit" for end in (verdict.low_ac, verdict.high_ac))
    words += (
        f"; stems {measures.amount(rules.number('waist_high_ft'), 'ft', 'g')} or taller "
        f"{measures.amount(verdict.stems_ac, '/ac', ',.0f').replace(' /', '/')} ({low} to {high}, one-sided "
        f"{level:.0%}) against {_density(rule.number)}, lower bound at least {_density(rule.span[0])}: "
        f"{science.SIDES[verdict.by_density]}"
    )
    return words + (
        "; the oaks stand on too few plots, so their number alone does not pass"
        if verdict.clumped and verdict.by_density >= 0
        else ""
    )


def _density(stems_ac: float) -> str:
    return measures.digits(stems_ac, "stems/ac", ",.0f")


def turning_plots(tally: Tally, sprouts_ac: float, rules: Rules, *, follows_rule: bool) -> int | None:
    """Fewest plots, up to ``narrow_plots``, whose turn the other way would change the verdict; None where it takes
    more."""
    now = judge(tally, sprouts_ac, rules, follows_rule=follows_rule).side
    for plots in range(1, int(rules.number("narrow_plots")) + 1):
        if any(
            judge(tally.shifted(step), sprouts_ac, rules, follows_rule=follows_rule).side != now
            for step in (-plots, plots)
        ):
            return plots
    return None


def turning_tally(tally: Tally, sprouts_ac: float, rules: Rules, *, follows_rule: bool) -> Tally | None:
    """The nearest count that would turn the verdict, with fewer plots stocked where it is enough and more where it is
    not."""
    now = judge(tally, sprouts_ac, rules, follows_rule=follows_rule).side
    step = -1 if now > 0 else 1
    for plots in range(1, tally.plots + 1):
        other = tally.shifted(step * plots)
        side = judge(other, sprouts_ac, rules, follows_rule=follows_rule).side
        if (side < 1) if now > 0 else (side == 1):
            return other
    return None


def _narrow(count: Count, tally: Tally, verdict: Verdict, sprouts: Figure, rules: Rules) -> tuple[Doubt, ...]:
    """Whether a few plots more or fewer would turn the verdict, or one of its two rules."""
    credited = sprouts.number if sprouts.measured else 0.0
    plots = turning_plots(tally, credited, rules, follows_rule=count.follows_rule_plot)
    if verdict.side == 0:
        return ()
    if plots is not None:
        return (Doubt("fewer_plots" if verdict.side > 0 else "more_plots", {"plots": plots}),)
    plots = (
        _rule_margin(tally, credited, rules)
        if count.follows_rule_plot and verdict.side > 0 and verdict.plots.side > 0
        else None
    )
    return () if plots is None else (Doubt("rule_by_plots", {"plots": plots}),)


def _rule_margin(tally: Tally, sprouts_ac: float, rules: Rules) -> int | None:
    """Fewest stocked plots, up to ``narrow_plots``, without which the stocked-plot rule would no longer pass."""
    steps = range(1, int(rules.number("narrow_plots")) + 1)
    return next(
        (step for step in steps if judge(tally.shifted(-step), sprouts_ac, rules, follows_rule=True).plots.side < 1),
        None,
    )


def _by_sprouts(count: Count, verdict: Verdict, sprouts: Figure) -> tuple[Doubt, ...]:
    if verdict.side <= 0 or not count.follows_rule_plot or verdict.plots.side <= 0 or sprouts.low is None:
        return ()
    if verdict.plots.low >= science.needed_stocked_share(sprouts.low):
        return ()
    return (Doubt("rule_by_sprouts"),)


def _settled_at(count: Count, tally: Tally, sprouts_ac: float, rules: Rules) -> int | None:
    """Plots at which the verdict itself is settled if they go on as these do; None within a hundred times as many."""

    def is_open(plots: int) -> bool:
        times = plots / tally.plots
        counts = (tally.stocked_tall * times, tally.stocked_waist * times, tally.stems_waist * times)
        like = Tally(plots, tally.plot_ac, *counts, places=tally.places * times)
        return judge(like, sprouts_ac, rules, follows_rule=count.follows_rule_plot).side == 0

    most = 100 * tally.plots
    if is_open(most):
        return None
    return bisect.bisect_left(range(most), True, lo=tally.plots, key=lambda plots: not is_open(plots))


def _to_settle(count: Count, tally: Tally, verdict: Verdict, sprouts_ac: float, rules: Rules) -> Figure:
    if verdict.side != 0:
        return Figure(name="plots_to_settle", value=0, unit="plots", n=count.n, method="the verdict is settled")
    more = _settled_at(count, tally, sprouts_ac, rules)
    if more is None:
        return unmeasured(
            "plots_to_settle", "what was seen sits on the threshold; no number of plots settles it", "plots"
        )
    return Figure(
        name="plots_to_settle",
        # A count of fewer plots is doubted whatever it says.
        value=max(more, int(rules.number("fewest_reproduction_plots"))),
        unit="plots in all",
        n=count.n,
        method="fewest plots at which the verdict is settled by its own bounds, if what was seen is true, and no fewer "
        "than the rulebook wants of a count",
        sources=("wilson1927", "mccullagh1989"),
        inputs=(Input(name="oak_verdict", figure="oak_verdict"),),
    )


def _dominants(count: Count, plots: science.Verdict, tall: Figure, sprouts: Figure) -> Figure:
    scale = science.success_per_stocked_plot() * tables.constants(science.TABLE)["plots_per_acre"]
    credit = science.success_per_stocked_plot() * (sprouts.number if sprouts.measured else 0.0)
    if not count.follows_rule_plot:
        return unmeasured("dominants_at_20_ac", f"the rule needs plots of {measures.plot_size(1 / 735)}", "stems/ac")
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
