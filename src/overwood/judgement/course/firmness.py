"""How firm a step is: the share of draws in which it stays, with limits within their ranges and figures within their error.

A draw asks the same stand again as another crew with other limits would: plots of the count are drawn again with replacement
(``efron1979``), every other figure moves along its own interval, and every limit is drawn from its range, its value the likeliest.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.ground.copies import with_fields
from overwood.ground.figure import Figure
from overwood.judgement import gates as g
from overwood.judgement import maturity as m
from overwood.judgement.course.branch import STEP_OF, Case, Margin, branch_of, margin_of, standing_by
from overwood.judgement.course.steps import all_steps
from overwood.judgement.evidence import oak_verdict
from overwood.judgement.evidence.counting import Count, count_of, tall_oaks
from overwood.judgement.rules import Rules
from overwood.science import reproduction as science
from overwood.science import survey

_GATES = ("cruise fresh", "midstory shades", "crop good", "oak enough")
_RULES = ("dominants_component_ac", "irreversible_plots")
# What one look measures, and which figures of it move together: figure, what moves it, and which way.
_LOOKS: dict[str, tuple[tuple[str, str, int], ...]] = {
    "cruise": (
        ("overwood_ba_ft2_ac", "density", 1),
        ("overwood_stocking_pct", "density", 1),
        ("large_share", "sizes", 1),
        ("middle_share", "sizes", -1),
        ("declining_share", "decline", 1),
    ),
    "cores": (("age_yr", "age", 1),),
    "midstory": (("midstory_stems_ac", "midstory", 1), ("midstory_ba_ft2_ac", "midstory", 1)),
    "acorns": (("crop_bearing_share", "crop", 1),),
    "count": (("free_oaks_ac", "free", 1),),
}
_LIMITS = "limits"
_LOOK_WORDS = {
    "cruise": "more points in the cruise",
    "cores": "more increment cores",
    "midstory": "the midstory on more points",
    "acorns": "a look at more oaks for acorns",
    "count": "more plots in the count",
}
# Changed draws that are asked again without the error of one look.
_ASKED_AGAIN = 20


@dataclass(frozen=True, kw_only=True)
class Firmness:
    """How often a step stays.

    ``stays`` is its share of the draws and ``others`` the steps of the rest with theirs, most first. ``look`` is the one whose
    error, left out, brings the step back in most of the draws that left it (``brings_back``); "limits" where it is no look but
    the office's own limits, "" where the step never changed. ``is_known`` is False where a look has too few points to set an error,
    ``is_firm`` where it stays in fewer draws than a step wants that cannot be taken back (``firm_least_share``).
    """

    draws: int
    stays: float
    others: tuple[tuple[str, float], ...]
    look: str
    brings_back: float
    is_known: bool
    is_firm: bool

    DERIVED: ClassVar = ("of_ten", "words")

    @property
    def in_doubt(self) -> bool:
        """Whether it is known not to be firm enough for what cannot be taken back."""
        return self.is_known and not self.is_firm

    @property
    def of_ten(self) -> str:
        """The share as a count out of ten, which says 10 only where every draw stayed."""
        tenths = round(10 * self.stays)
        almost = {10: "over 9 of 10", 0: "under 1 of 10"} if 0 < self.stays < 1 else {}
        return almost.get(tenths, f"{tenths} of 10")

    @property
    def words(self) -> str:
        """How firm, what the others say, and what would settle most of it."""
        if not self.is_known:
            return "not known: see the first doubt"
        words = self.of_ten
        named = [f"{all_steps()[step].title.lower()} ({share:.0%})" for step, share in self.others[:2]]
        if named:
            words += f"; the others say {' or '.join(named)}"
        return words + (f"; {self.settles}" if self.look else "")

    @property
    def settles(self) -> str:
        """What would settle most of it, in words; "" where nothing is open."""
        if not self.look:
            return ""
        if self.look == _LIMITS:
            return "what decides are the limits of the rulebook, more than any look"
        return f"{_LOOK_WORDS[self.look]} would settle most of it"


@dataclass(frozen=True)
class _Draws:
    """Everything that is drawn, by draw."""

    case: Case
    moves: Mapping[str, NDArray[np.float64]]
    tallies: tuple[oak_verdict.Tally, ...]
    sprouts: NDArray[np.float64]
    limits: tuple[Rules, ...]
    margin: Margin | None
    weights: Mapping[int, float]

    def step(self, draw: int, quiet: str = "") -> str:
        """The step in one draw; the error of the look ``quiet`` is left out."""
        rules = self.case.rules if quiet == _LIMITS else self.limits[draw]
        counted = quiet != "count" and self.margin is not None
        margin = (
            with_fields(self.margin, tally=self.tallies[draw], sprouts_ac=float(self.sprouts[draw]))
            if counted and self.margin
            else self.margin
        )
        return _step(self.case, self._figures(draw, quiet), rules, margin, self.weights)

    def _figures(self, draw: int, quiet: str) -> dict[str, Figure]:
        figures = dict(self.case.figures)
        for look, moved in _LOOKS.items():
            for name, strand, sign in moved if look != quiet else ():
                if figures[name].measured:
                    figures[name] = _moved(figures[name], sign * float(self.moves[strand][draw]), self.case.rules)
        return figures


def _step(case: Case, figures: dict[str, Figure], rules: Rules, margin: Margin | None, weights: Mapping[int, float]) -> str:
    """The step by these figures, limits and this count."""
    if margin is not None and figures["oak_verdict"].measured:
        side = oak_verdict.judge(margin.tally, margin.sprouts_ac, rules, follows_rule=margin.follows_rule).side
        figures["oak_verdict"] = with_fields(figures["oak_verdict"], value=science.SIDES[side])
    file, on = case.file, case.on
    gates = (
        g.cruise_fresh(file, figures, rules, on),
        g.midstory_shades(file, figures, rules, on),
        g.crop_good(file, figures, rules, on),
        g.oak_enough(file, figures, rules, on),
    )
    maturity = m.judge(file, figures, rules, weights)
    drawn = Case(file, figures, {gate.name: gate for gate in gates}, maturity, rules, on, case.outlook)
    return STEP_OF[branch_of(standing_by(drawn, margin))]


def firmness_of(case: Case, step: str, *, is_thin: bool) -> Firmness:
    """How firm a step of a stand is; ``is_thin`` where a look it rests on has fewer points than the rules want."""
    count = int(case.rules.number("firm_draws"))
    draws = _drawn(case, count)
    steps = [draws.step(draw) for draw in range(count)]
    changed = [draw for draw, other in enumerate(steps) if other != step]
    look, back = _settling(draws, step, changed[:_ASKED_AGAIN])
    others = Counter(steps[draw] for draw in changed).most_common()
    stays = 1 - len(changed) / count
    return Firmness(
        draws=count,
        stays=stays,
        is_firm=stays >= case.rules.number("firm_least_share"),
        others=tuple((name, number / count) for name, number in others),
        look=look,
        brings_back=back,
        is_known=not (is_thin or any(_has_no_error(case.figures[name]) for name in _read(case))),
    )


def _settling(draws: _Draws, step: str, changed: list[int]) -> tuple[str, float]:
    """The look without whose error most changed draws come back to the step, and their share."""
    if not changed:
        return "", 0.0
    back = {look: sum(draws.step(draw, look) == step for draw in changed) / len(changed) for look in (*_LOOKS, _LIMITS)}
    best = max(back, key=lambda look: back[look])
    return (best, back[best]) if back[best] > 0 else ("", 0.0)


def _read(case: Case) -> tuple[str, ...]:
    """Figures that the step hangs on and that a look measured."""
    return tuple(name for moved in _LOOKS.values() for name, _, _ in moved if case.figures[name].measured)


def _has_no_error(figure: Figure) -> bool:
    return figure.level is not None and not all(math.isfinite(end) for end in figure.ends)


def _drawn(case: Case, count: int) -> _Draws:
    # One seed, so that the same records always say the same.
    rng = np.random.default_rng(0)
    strands = dict.fromkeys(strand for moved in _LOOKS.values() for _, strand, _ in moved)
    moves = {strand: rng.standard_normal(count) for strand in strands}
    margin, sprouts = margin_of(case.file, case.figures, case.rules), case.figures["oak_sprouts_ac"]
    credited = np.array([_moved(sprouts, z, case.rules).number if sprouts.measured else 0.0 for z in rng.standard_normal(count)])
    visit = case.file.latest("reproduction")
    counted = count_of(case.file, visit) if visit else None
    return _Draws(
        case=case,
        moves=moves,
        tallies=tuple(_again(counted, margin.tally, case.rules, rng, count)) if counted is not None and margin is not None else (),
        sprouts=credited,
        limits=tuple(_limits(case, rng, count)),
        margin=margin,
        weights=m.overwood_by_species(case.file, case.rules),
    )


def _moved(figure: Figure, z: float, rules: Rules) -> Figure:
    """A figure as another crew might have found it: moved along its own interval, the interval with it."""
    low, high = figure.ends
    if not (math.isfinite(low) and math.isfinite(high)) or low == high:
        return figure
    side = (high - figure.number) if z > 0 else (figure.number - low)
    most = 1.0 if figure.unit == "share" else math.inf
    by = z * side / survey.z_quantile(figure.level or rules.number("interval_level"))
    value, low, high = (min(max(end + by, 0.0), most) for end in (figure.number, low, high))
    return with_fields(figure, value=value, low=low, high=high)


def _again(count: Count, tally: oak_verdict.Tally, rules: Rules, rng: np.random.Generator, draws: int) -> Iterator[oak_verdict.Tally]:
    """The count with its plots (or groups of plots) drawn again."""
    waist = count.per_plot(tall_oaks(count, rules.number("waist_high_ft")))
    tall = count.per_plot(tall_oaks(count, tables.constants(science.TABLE)["advance_height_ft"]))
    places = np.arange(count.n) if count.group is None else np.unique(count.group, return_inverse=True)[1]
    held = [np.bincount(places, weights=each) for each in (tall > 0, waist > 0, waist, np.ones(count.n))]
    number = len(held[0])
    for chosen in rng.integers(0, number, (draws, number)):
        stocked_tall, stocked_waist, stems, plots = (float(each[chosen].sum()) for each in held)
        yield with_fields(
            tally, plots=round(plots), stocked_tall=round(stocked_tall), stocked_waist=round(stocked_waist), stems_waist=stems
        )


def ranged(case: Case) -> list[str]:
    """Limits that the step may hang on and that have a range."""
    names = dict.fromkeys([*(rule for gate in _GATES for rule in g.GATES[gate].rules), *case.maturity.rules, *_RULES])
    return [name for name in names if case.rules[name].span[0] < case.rules[name].span[2]]


def _limits(case: Case, rng: np.random.Generator, draws: int) -> Iterator[Rules]:
    """The rules with every limit drawn from its range, its value the likeliest."""
    spans = {name: case.rules[name].span for name in ranged(case)}
    values: dict[str, Any] = {name: rng.triangular(*span, draws) for name, span in spans.items()}
    for draw in range(draws):
        yield case.rules.with_values({name: float(drawn[draw]) for name, drawn in values.items()})


def turning_limits(case: Case, step: str) -> tuple[tuple[str, float, str], ...]:
    """Limits that alone, at an end of their range, change the step: the limit, that end, and the step it gives."""
    margin, weights = margin_of(case.file, case.figures, case.rules), m.overwood_by_species(case.file, case.rules)
    turned = []
    for name in ranged(case):
        low, value, high = case.rules[name].span
        for end in (low, high):
            other = step if end == value else _step(case, dict(case.figures), case.rules.with_value(name, end), margin, weights)
            if other != step:
                turned.append((name, end, other))
    return tuple(turned)
