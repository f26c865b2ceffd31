"""The draws of how firm a step is, of one stand or of many at once: what is drawn, and the step of every draw.

A draw asks the same stand again as another crew with other limits would: plots of the count are drawn again with
replacement (``efron1979``), every other figure moves along its own interval, and every limit is drawn from its range,
its value the likeliest.
"""

from __future__ import annotations

import datetime as dt
import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground.copies import with_fields
from overwood.ground.figure import Figure
from overwood.ground.records import Visit
from overwood.judgement import gates as g
from overwood.judgement.course import standings
from overwood.judgement.course.branch import STEP_OF, Case, Margin, margin_of
from overwood.judgement.course.stage import STAGES, stage
from overwood.judgement.evidence import acorns, oak_verdict
from overwood.judgement.evidence.counting import Count, count_of
from overwood.judgement.gates import maturity as m
from overwood.judgement.rules import Rules
from overwood.science import survey

_GATES = ("cruise fresh", "midstory shades", "crop good", "oak enough")
_RULES = ("dominants_component_ac", "irreversible_plots")
# What one look measures, and which figures of it move together: figure, what moves it, and which way.
LOOKS: dict[str, tuple[tuple[str, str, int], ...]] = {
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
LIMITS = "limits"
_MOVED = tuple((look, *moved) for look, figures in LOOKS.items() for moved in figures)
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
# A tally for a stand whose count is not judged: its verdict is not read.
_NO_TALLY = dict.fromkeys(("plots", "plot_ac", "places"), 1.0) | dict.fromkeys(
    ("stocked_tall", "stocked_waist", "stems_waist", "sprouts_ac"), 0.0
)
# What no draw moves.
_STILL = (
    *("stage", "cruise_yr", "c_line_ba_ft2_ac", "midstory_yr", "injected", "injected_since", "crop_trees"),
    *("crop_doubted", "count_yr", "is_judged", "reaches"),
)


@dataclass(frozen=True)
class Draws:
    """Everything that is drawn of a stand, by draw; the last place is the stand as it was measured."""

    case: Case
    base: standings.Cases
    moves: Mapping[str, Array]
    tallies: standings.Tallies | None
    limits: Mapping[str, Array]

    @property
    def measured(self) -> int:
        """The place of the stand as it was measured."""
        return len(self.moves["density"]) - 1

    def all(self) -> Asked:
        """Every draw."""
        drawn = slice(0, self.measured)
        limits = {name: values[drawn] for name, values in self.limits.items()}
        return Asked(self, dict.fromkeys(LOOKS, drawn), limits, self.measured)

    def ends_and_without(self, draws: list[int]) -> tuple[list[tuple[str, float, str]], dict[str, list[str]]]:
        """The step of each end of a limit's range, all else as measured; and the steps of some draws, each time
        without the error of one look, or with the limits as they stand."""
        spans = {name: self.case.rules[name].span for name in self.limits}
        ends = [(name, end) for name, (low, value, high) in spans.items() for end in (low, high) if end != value]
        looks, again, first = (*LOOKS, LIMITS), len(draws), len(ends)
        if not ends and not draws:
            return [], {}
        drawn = np.append(np.full(first, self.measured), np.tile(np.array(draws, dtype=np.int64), len(looks)))
        quiet = np.append(np.full(first, -1), np.repeat(np.arange(len(looks)), again))
        places = {look: np.where(quiet == place, self.measured, drawn) for place, look in enumerate(looks)}
        limits = {name: values[places[LIMITS]] for name, values in self.limits.items()}
        for place, (name, end) in enumerate(ends):
            limits[name][place] = end
        (steps,) = steps_of([Asked(self, places, limits, len(drawn))])
        without = {look: steps[first + place * again :][:again] for place, look in enumerate(looks)} if draws else {}
        return [(*end, step) for end, step in zip(ends, steps[:first], strict=True)], without


@dataclass(frozen=True)
class Asked:
    """Draws of a stand that are asked for their steps: which place of what each look found, and the limits."""

    draws: Draws
    places: Mapping[str, Any]
    limits: Mapping[str, Array]
    count: int


def steps_of(asked: Sequence[Asked]) -> list[list[str]]:
    """The step of each draw asked of each of some stands, all of one book of rules, worked out at once."""
    sizes = [one.count for one in asked]
    if not sum(sizes):
        return [[] for _ in asked]
    cases, limits = _Columns(asked, sizes).cases_and_limits()
    steps = [STEP_OF[branch] for branch in np.broadcast_to(standings.standings_of(cases, limits).branch, sum(sizes))]
    ends = np.cumsum(sizes).tolist()
    return [steps[end - size : end] for end, size in zip(ends, sizes, strict=True)]


class _Columns:
    """Draws of several stands below each other."""

    def __init__(self, asked: Sequence[Asked], sizes: Sequence[int]) -> None:
        self.asked, self.sizes, self.rules = asked, sizes, asked[0].draws.case.rules

    def each(self, values: Sequence[Any]) -> Any:
        """A column from one value a stand."""
        return np.repeat(np.array(values), self.sizes)

    def joined(self, columns: Sequence[Array]) -> Array:
        """A column from a column a stand."""
        return np.concatenate(columns) if len(columns) > 1 else columns[0]

    def cases_and_limits(self) -> tuple[standings.Cases, standings.Limits]:
        bases = [one.draws.base for one in self.asked]
        still = {name: self.each([getattr(base, name) for base in bases]) for name in _STILL}
        cases = standings.Cases(**still, **self._moved(), tallies=self._tallies(), **self._overwood())
        return cases, self._limits()

    def _moved(self) -> dict[str, Any]:
        """Every figure with an error, moved along its interval."""
        moved: dict[str, Any] = {}
        for look, name, strand, sign in _MOVED:
            figures = [one.draws.case.figures[name] for one in self.asked]
            number = self.each([figure.number for figure in figures])
            ends = [figure.ends if figure.measured else (math.nan, math.nan) for figure in figures]
            low, high = (self.each([end[side] for end in ends]) for side in (0, 1))
            z = sign * self.joined([one.draws.moves[strand][one.places[look]] for one in self.asked])
            moves = np.isfinite(low) & np.isfinite(high) & (low != high)
            quantile = self.each([_quantile(figure, self.rules) for figure in figures])
            is_share = self.each([figure.unit == "share" for figure in figures])

            def along(value: Array) -> Array:
                with np.errstate(invalid="ignore"):
                    drawn = _along(value, (number, low, high), z, quantile, is_share)  # noqa: B023 - used at once
                return np.where(moves, drawn, value)  # noqa: B023 - used at once

            values = (number, low, high) if name in _SPANS else (number,)
            told = [along(value) for value in values]
            moved[_COLUMNS.get(name, name)] = standings.Spans(*told) if name in _SPANS else told[0]
        return moved

    def _tallies(self) -> standings.Tallies | None:
        """The counts drawn again, where any is judged."""
        held = [one.draws.tallies for one in self.asked]
        if not any(held):
            return None
        columns: dict[str, Any] = {
            name: self.joined(
                [
                    np.full(one.count, blank)
                    if tallies is None
                    else getattr(tallies, name)[one.places["count"]]
                    if name in _DRAWN_TALLIES
                    else np.full(one.count, getattr(tallies, name)[0])
                    for one, tallies in zip(self.asked, held, strict=True)
                ]
            )
            for name, blank in _NO_TALLY.items()
        }
        rule = self.each([tallies is not None and tallies.follows_rule for tallies in held])
        return standings.Tallies(**columns, follows_rule=rule)

    def _overwood(self) -> dict[str, Any]:
        """Overwood and rotation age of the first, second, third ... species of each stand; none weighs nothing."""
        held = [list(one.draws.base.weights.items()) for one in self.asked]
        weights, years = {}, {}
        for place in range(max(map(len, held))):
            species = [of[place] if place < len(of) else (0, 0.0) for of in held]
            weights[place] = self.each([weight for _, weight in species])
            names = [m.rotation_name(code) for code, _ in species]
            years[place] = self.joined([self._limit(one, name) for one, name in zip(self.asked, names, strict=True)])
        return {"weights": weights, "rotation_yr": years}

    def _limit(self, one: Asked, name: str) -> Array:
        return one.limits[name] if name in one.limits else np.full(one.count, self.rules.number(name))

    def _limits(self) -> standings.Limits:
        names = dict.fromkeys(name for one in self.asked for name in one.limits)
        return standings.Limits(
            self.rules, {name: self.joined([self._limit(one, name) for one in self.asked]) for name in names}
        )


def _quantile(figure: Figure, rules: Rules) -> float:
    return survey.z_quantile(figure.level or rules.number("interval_level"))


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


@dataclass(frozen=True)
class _Chances:
    """What chance alone says of a stand: moves of the looks, luck of the sprouts, how often each place of a count is
    drawn again, and the limits. As it was measured comes last."""

    moves: Mapping[str, Array]
    luck: Array
    places: Array
    limits: tuple[Array, ...]


@functools.lru_cache(maxsize=64)
def _chances(count: int, places: int, spans: tuple[tuple[float, float, float], ...]) -> _Chances:
    """The same for all stands with so many places in their count (0 without one) and these limits: of one seed, so
    that the same records always say the same."""
    rng = np.random.default_rng(0)
    strands = dict.fromkeys(strand for moved in LOOKS.values() for _, strand, _ in moved)
    moves = {strand: np.append(rng.standard_normal(count), 0.0) for strand in strands}
    luck = np.append(rng.standard_normal(count), 0.0)
    drawn = rng.integers(0, places, (count, places)) if places else np.zeros((count, 0), dtype=np.int64)
    chosen = np.array([np.bincount(row, minlength=places) for row in drawn], dtype=float)
    limits = tuple(np.append(rng.triangular(*span, count), span[1]) for span in spans)
    for each in (*moves.values(), luck, chosen, *limits):
        each.flags.writeable = False
    return _Chances(moves, luck, chosen, limits)


def draws_of(case: Case, count: int) -> Draws:
    """What is drawn of a stand, so many times."""
    margin, names = margin_of(case.file, case.figures, case.rules), ranged(case)
    visit, sprouts = case.file.latest("reproduction"), case.figures["oak_sprouts_ac"]
    counted, base, tallies = count_of(case.file, visit) if visit else None, cases_of(case), None
    chances = _chances(count, counted.places if counted else 0, tuple(case.rules[name].span for name in names))
    if counted is not None and margin is not None:
        credited = _moved(sprouts, chances.luck, case.rules) if sprouts.measured else 0.0
        tallies = _again(counted, margin, case.rules, chances.places)
        seen = np.append(np.broadcast_to(np.asarray(credited, dtype=float), count + 1)[:-1], margin.sprouts_ac)
        tallies = with_fields(tallies, sprouts_ac=seen)
    limits = dict(zip(names, chances.limits, strict=True))
    return Draws(case, base, chances.moves, tallies if base.tallies is not None else None, limits)


def _moved(figure: Figure, z: Array, rules: Rules) -> Any:
    """A figure as other crews might have found it."""
    low, high = figure.ends
    if not (math.isfinite(low) and math.isfinite(high)) or low == high:
        return figure.number
    quantile = _quantile(figure, rules)
    return _along(figure.number, (figure.number, low, high), z, quantile, figure.unit == "share")


def _along(value: Any, span: tuple[Any, Any, Any], z: Array, quantile: Any, is_share: Any) -> Array:
    """A number, or an end of its interval, moved along that interval (value, low, high) by so many errors ``z``."""
    number, low, high = span
    side = np.where(z > 0, high - number, number - low)
    moved = np.maximum(value + z * side / quantile, 0.0)
    return np.where(is_share, np.minimum(moved, 1.0), moved)


def _again(count: Count, margin: Margin, rules: Rules, times: Array) -> standings.Tallies:
    """The count with its plots (or groups of plots) drawn again so many times each, a tally for each draw."""
    waist, tall = oak_verdict.tall_by_plot(count, rules)
    places = np.arange(count.n) if count.group is None else np.unique(count.group, return_inverse=True)[1]
    held = [np.bincount(places, weights=each) for each in (tall > 0, waist > 0, waist, np.ones(count.n))]
    # Whole numbers, so that no sum is rounded.
    tally, drawn = tallies_of(margin), (times @ np.array(held).T).T
    names = ("stocked_tall", "stocked_waist", "stems_waist", "plots")
    # As it was counted comes last.
    return with_fields(
        tally, **{name: np.append(each, getattr(tally, name)) for name, each in zip(names, drawn, strict=True)}
    )


def ranged(case: Case) -> list[str]:
    """Limits that the step may hang on and that have a range."""
    names = dict.fromkeys([*(rule for gate in _GATES for rule in g.GATES[gate].rules), *case.maturity.rules, *_RULES])
    return [name for name in names if case.rules[name].span[0] < case.rules[name].span[2]]
