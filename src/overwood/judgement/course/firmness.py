"""How firm a step is: the share of draws in which it stays, with limits within their ranges and figures within their
error.

A draw asks the same stand again as another crew with other limits would: plots of the count are drawn again with
replacement (``efron1979``), every other figure moves along its own interval, and every limit is drawn from its range,
its value the likeliest.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures
from overwood.ground.copies import with_fields
from overwood.ground.figure import Figure
from overwood.ground.records import Visit
from overwood.judgement import gates as g
from overwood.judgement.course import standings
from overwood.judgement.course.branch import STEP_OF, Case, Margin, margin_of
from overwood.judgement.course.stage import STAGES, stage
from overwood.judgement.course.steps import all_steps
from overwood.judgement.evidence import acorns, oak_verdict
from overwood.judgement.evidence.counting import Count, count_of
from overwood.judgement.gates import maturity as m
from overwood.judgement.rules import Rules
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
Array = NDArray[np.float64]
_LIMITS = "limits"
_STRANDS = {look: tuple(strand for _, strand, _ in moved) for look, moved in _LOOKS.items()}
# Of a tally, what a draw changes.
_DRAWN_TALLIES = ("plots", "stocked_tall", "stocked_waist", "stems_waist", "sprouts_ac")
# Figures read with their ends and by their value alone, and the columns that have another name.
_SPANS = ("midstory_stems_ac", "midstory_ba_ft2_ac", "crop_bearing_share")
_VALUES = (
    *(
        "overwood_ba_ft2_ac",
        "c_line_ba_ft2_ac",
        "overwood_stocking_pct",
        "large_share",
        "middle_share",
        "declining_share",
    ),
    *("age_yr", "free_oaks_ac"),
)
_COLUMNS = {"overwood_stocking_pct": "stocking_pct", "crop_bearing_share": "crop"}
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

    ``stays`` is its share of the draws and ``others`` the steps of the rest with theirs, most first. ``look`` is the
    one whose error, left out, brings the step back in most of the draws that left it (``brings_back``); "limits" where
    it is no look but the office's own limits, "" where the step never changed. ``is_known`` is False where a look has
    too few points to set an error, ``is_firm`` where it stays in fewer draws than a step wants that cannot be taken
    back (``firm_least_share``).
    """

    draws: int
    stays: float
    others: tuple[tuple[str, float], ...]
    look: str
    brings_back: float
    is_known: bool
    is_firm: bool
    # Where the limits decide: what those are of that change the step alone, with their quantities marked.
    limits: tuple[str, ...] = ()
    # Limits that alone, at an end of their range, change the step: the limit, that end, and the step it gives.
    turning: tuple[tuple[str, float, str], ...] = field(default=(), repr=False, metadata={"inner": True})

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
            named = f": {', '.join(map(measures.prose, self.limits))}" if self.limits else ""
            return f"what decides is where the limits are set, more than any look{named}"
        return f"{_LOOK_WORDS[self.look]} would settle most of it"


@dataclass(frozen=True)
class _Draws:
    """Everything that is drawn, by draw; the last place is the stand as it was measured."""

    case: Case
    base: standings.Cases
    moves: Mapping[str, Array]
    tallies: standings.Tallies | None
    limits: Mapping[str, Array]

    def steps(self) -> tuple[list[str], list[tuple[str, float, str]]]:
        """The step of every draw; and that of each end of a limit's range, all else as measured."""
        count = len(self.moves["density"]) - 1
        spans = {name: self.case.rules[name].span for name in self.limits}
        ends = [(name, end) for name, (low, value, high) in spans.items() for end in (low, high) if end != value]
        drawn = np.minimum(np.arange(count + len(ends)), count)
        limits = {name: values[drawn] for name, values in self.limits.items()}
        for place, (name, end) in enumerate(ends, start=count):
            limits[name][place] = end
        steps = self._asked(lambda _: drawn, limits)
        return steps[:count], [(*end, step) for end, step in zip(ends, steps[count:], strict=True)]

    def steps_without(self, draws: list[int]) -> dict[str, list[str]]:
        """The steps of some draws, each time without the error of one look, or with the limits as they stand."""
        looks, again, measured = (*_LOOKS, _LIMITS), len(draws), len(self.moves["density"]) - 1
        drawn, quiet = np.tile(draws, len(looks)), np.repeat(np.arange(len(looks)), again)
        places = {look: np.where(quiet == place, measured, drawn) for place, look in enumerate(looks)}
        limits = {name: values[places[_LIMITS]] for name, values in self.limits.items()}
        steps = self._asked(places.__getitem__, limits)
        return {look: steps[place * again : (place + 1) * again] for place, look in enumerate(looks)}

    def _asked(self, places: Callable[[str], NDArray[np.int64]], limits: Mapping[str, Array]) -> list[str]:
        """The steps under these limits, what each look found being drawn at its ``places``."""
        moves = {strand: self.moves[strand][places(look)] for look, strands in _STRANDS.items() for strand in strands}
        cases = with_fields(self.base, **_moved_figures(self.case, moves))
        if self.tallies is not None:
            chosen = {name: getattr(self.tallies, name)[places("count")] for name in _DRAWN_TALLIES}
            cases = with_fields(cases, tallies=with_fields(self.tallies, **chosen))
        branches = standings.standings_of(cases, standings.Limits(self.case.rules, limits)).branch
        return [STEP_OF[branch] for branch in np.broadcast_to(branches, len(places("count")))]


def _moved_figures(case: Case, moves: Mapping[str, Array]) -> dict[str, Any]:
    """The columns of figures whose errors move, with a place for each draw."""
    moved: dict[str, Any] = {}
    for look in _LOOKS.values():
        for name, strand, sign in look:
            if strand in moves and case.figures[name].measured:
                column, move = _COLUMNS.get(name, name), _spans_moved if name in _SPANS else _moved
                moved[column] = move(case.figures[name], sign * moves[strand], case.rules)
    return moved


def cases_of(case: Case) -> standings.Cases:
    """One stand as one case of the columns, as it was measured."""
    figures = case.figures
    values: dict[str, Any] = {_COLUMNS.get(name, name): figures[name].number for name in _VALUES}
    spans: dict[str, Any] = {_COLUMNS.get(name, name): _spans(figures[name]) for name in _SPANS}
    return standings.Cases(**values, **spans, weights=m.overwood_by_species(case.file, case.rules), **_looked_at(case))


def _spans(figure: Figure) -> standings.Spans:
    if figure.measured:
        return standings.Spans(figure.number, *figure.ends)
    return standings.Spans(math.nan, math.nan, math.nan)


def _looked_at(case: Case) -> dict[str, Any]:
    """What of a stand no draw moves: its stage, how old each look is, and whether it speaks."""
    file, on, figures, rules = case.file, case.on, case.figures, case.rules
    below, treated, margin = file.latest("midstory"), file.done("injection"), margin_of(file, figures, rules)
    spoken, looked = acorns.check_of(file, acorns.crop_year(on), rules), figures["crop_bearing_share"].n
    return {
        "stage": STAGES.index(stage(file)),
        "cruise_yr": _years(file.latest("cruise"), on),
        "midstory_yr": _years(below, on),
        "injected": bool(treated),
        "injected_since": bool(treated) and below is not None and treated[-1].started_on > below.visited_on,
        "crop_trees": math.inf if looked is None else looked,
        "crop_doubted": spoken is not None and spoken.out_of_season,
        "count_yr": _years(file.latest("reproduction"), on),
        "is_judged": figures["oak_verdict"].measured,
        "reaches": int(case.outlook.reaches(rules)) if case.outlook else 2,
        "tallies": tallies_of(margin) if margin and figures["oak_verdict"].measured else None,
    }


def _years(visit: Visit | None, on: dt.date) -> float:
    return math.nan if visit is None else g.years_since(visit.visited_on, on)


def tallies_of(margin: Margin) -> standings.Tallies:
    """The tally of one count as columns of one case."""
    tally = {name: np.array([float(value)]) for name, value in vars(margin.tally).items()}
    return standings.Tallies(**tally, sprouts_ac=np.array([margin.sprouts_ac]), follows_rule=margin.follows_rule)


def firmness_of(case: Case, step: str, *, is_thin: bool) -> Firmness:
    """How firm a step of a stand is; ``is_thin`` where a look it rests on has fewer points than the rules want."""
    count = int(case.rules.number("firm_draws"))
    draws = _drawn(case, count)
    steps, at_ends = draws.steps()
    changed = [draw for draw, other in enumerate(steps) if other != step]
    look, back = _settling(draws, step, changed[:_ASKED_AGAIN])
    others = Counter(steps[draw] for draw in changed).most_common()
    stays = 1 - len(changed) / count
    turning = tuple(one for one in at_ends if one[-1] != step)
    return Firmness(
        draws=count,
        stays=stays,
        is_firm=stays >= case.rules.number("firm_least_share"),
        others=tuple((name, number / count) for name, number in others),
        look=look,
        brings_back=back,
        limits=tuple(dict.fromkeys(case.rules[name].short for name, _, _ in turning)) if look == _LIMITS else (),
        turning=turning,
        is_known=not (is_thin or any(_has_no_error(case.figures[name]) for name in _read(case))),
    )


def _settling(draws: _Draws, step: str, changed: list[int]) -> tuple[str, float]:
    """The look without whose error most changed draws come back to the step, and their share."""
    if not changed:
        return "", 0.0
    back = {look: steps.count(step) / len(changed) for look, steps in draws.steps_without(changed).items()}
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
    moves = {strand: np.append(rng.standard_normal(count), 0.0) for strand in strands}
    margin, luck = margin_of(case.file, case.figures, case.rules), np.append(rng.standard_normal(count), 0.0)
    visit, sprouts = case.file.latest("reproduction"), case.figures["oak_sprouts_ac"]
    counted, base, tallies = count_of(case.file, visit) if visit else None, cases_of(case), None
    if counted is not None and margin is not None:
        credited = _moved(sprouts, luck, case.rules) if sprouts.measured else 0.0
        tallies = _again(counted, margin, case.rules, rng, count)
        seen = np.append(np.broadcast_to(np.asarray(credited, dtype=float), count + 1)[:-1], margin.sprouts_ac)
        tallies = with_fields(tallies, sprouts_ac=seen)
    limits = {
        name: np.append(rng.triangular(*case.rules[name].span, count), case.rules[name].number) for name in ranged(case)
    }
    return _Draws(case, base, moves, tallies if base.tallies is not None else None, limits)


def _spans_moved(figure: Figure, z: Array, rules: Rules) -> standings.Spans:
    """A figure moved along its own interval, and the interval with it."""
    return standings.Spans(*(_moved(figure, z, rules, end) for end in (figure.number, *figure.ends)))


def _moved(figure: Figure, z: Array, rules: Rules, end: float | None = None) -> Any:
    """A figure, or an end of its interval, as other crews might have found it."""
    low, high, value = *figure.ends, figure.number if end is None else end
    if not (math.isfinite(low) and math.isfinite(high)) or low == high:
        return value
    side = np.where(z > 0, high - figure.number, figure.number - low)
    moved = np.maximum(value + z * side / survey.z_quantile(figure.level or rules.number("interval_level")), 0.0)
    return np.minimum(moved, 1.0) if figure.unit == "share" else moved


def _again(count: Count, margin: Margin, rules: Rules, rng: np.random.Generator, draws: int) -> standings.Tallies:
    """The count with its plots (or groups of plots) drawn again, a tally for each draw."""
    waist, tall = oak_verdict.tall_by_plot(count, rules)
    places = np.arange(count.n) if count.group is None else np.unique(count.group, return_inverse=True)[1]
    held = [np.bincount(places, weights=each) for each in (tall > 0, waist > 0, waist, np.ones(count.n))]
    chosen = rng.integers(0, len(held[0]), (draws, len(held[0])))
    tally, drawn = tallies_of(margin), (each[chosen].sum(axis=1) for each in held)
    names = ("stocked_tall", "stocked_waist", "stems_waist", "plots")
    # As it was counted comes last.
    return with_fields(
        tally, **{name: np.append(each, getattr(tally, name)) for name, each in zip(names, drawn, strict=True)}
    )


def ranged(case: Case) -> list[str]:
    """Limits that the step may hang on and that have a range."""
    names = dict.fromkeys([*(rule for gate in _GATES for rule in g.GATES[gate].rules), *case.maturity.rules, *_RULES])
    return [name for name in names if case.rules[name].span[0] < case.rules[name].span[2]]
