"""What a stand's page draws: the numbers a step turns on against their limits, and the years of the stand."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from overwood.faces.telling.figures import labels
from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.ground.records import Operation, Visit
from overwood.judgement import gates
from overwood.judgement.course import Advice
from overwood.judgement.course.due import Due
from overwood.judgement.evidence.oak_verdict import stems_name
from overwood.judgement.gates.windows import Window
from overwood.judgement.rules import Rule, Rules

# Gates by what a step turns on, before the canopy is opened and after it.
_BEFORE = ("crop good", "midstory shades", "oak enough", "browse low")
_AFTER = ("oak enough", "competitors under", "low enough", "browse low")
_AFTER_STEPS = ("count", "settle", "release", "release_stems")
# The chip of each answer where "yes" and "no" would need the question beside them.
_CHIPS = {
    ("crop good", gates.YES): "enough",
    ("crop good", gates.NO): "too few",
    ("midstory shades", gates.YES): "shade the ground",
    ("midstory shades", gates.NO): "few enough",
    ("oak enough", gates.YES): "enough",
    ("oak enough", gates.NO): "not yet enough",
    ("browse low", gates.YES): "few",
    ("browse low", gates.NO): "too many",
    ("browse low", "fence_holds_more"): "the fence holds more",
    ("competitors under", gates.YES): "few",
    ("competitors under", gates.NO): "too many",
    ("low enough", gates.YES): "low enough to cut over",
    ("low enough", gates.NO): "too tall to cut over",
}
_LIMIT_WORDS = {"crop good": "wanted", "oak enough": "needed"}
_YEARS_BACK, _YEARS_ON = 4, 3
STRIP_YEARS = 5
_WIDTH, _LETTER = 1000.0, 7.2


@dataclass(frozen=True, kw_only=True)
class Gauge:
    """A figure against its limit: places are percents of the gauge's width; ``rule`` is the limit that may be moved."""

    gate: gates.Gate
    heading: str
    figure: Figure
    value: str
    interval: str
    chip: str
    limit: str
    at: float | None
    low: float
    high: float
    limit_at: float
    anchor: str
    good_from: float
    good_wide: float
    rule: Rule | None

    @property
    def step(self) -> float:
        """A step of the limit's slider that gives some twenty to two hundred places."""
        low, _, high = self.rule.span if self.rule else (0.0, 0.0, 1.0)
        return float(10.0 ** math.floor(math.log10((high - low) / 20.0))) if high > low else 1.0


def gauges(advice: Advice, rules: Rules) -> list[Gauge]:
    """The numbers that the step of a stand turns on."""
    by_name = {gate.name: gate for gate in advice.gates}
    wanted = _AFTER if advice.step in _AFTER_STEPS else _BEFORE
    return [_gauge(by_name[name], advice.figures, rules) for name in wanted]


def _gauge(gate: gates.Gate, figures: dict[str, Figure], rules: Rules) -> Gauge:
    figure, limit, rule = _against(gate, figures, rules)
    is_share = figure.unit == "share" or bool(rule and rule.unit.startswith("share"))
    scale = 100.0 if is_share else 1.0
    unit = "%" if is_share else figure.unit.replace("stems/ac", "an acre")
    said = partial(_in_words, unit=unit, scale=scale)
    ends = [end for end in (figure.low, figure.high) if end is not None]
    most = 1.0 if is_share else 1.15 * max([limit * 1.6, *ends, figure.number if figure.measured else 0.0])

    def place(value: float) -> float:
        return round(100.0 * min(max(value / most, 0.0), 1.0), 1)

    wants_more = gates.GATES[gate.name].yes_is_good and gate.name in _LIMIT_WORDS
    limit_at = place(limit)
    low, high = (place(end) if end is not None else edge for end, edge in ((figure.low, 0.0), (figure.high, 100.0)))
    has_span = figure.measured and bool(ends)
    return Gauge(
        gate=gate,
        heading=measures.prose(labels().get(figure.name, {}).get("gauge", "Young oaks")),
        figure=figure,
        value=_value(said(figure.number), unit) if figure.measured else "not measured",
        interval=_span(figure, said),
        chip=_CHIPS.get((gate.name, gate.code)) or _CHIPS.get((gate.name, gate.answer), gate.answer),
        limit=f"{said(limit)} {_LIMIT_WORDS.get(gate.name, 'at most')}",
        at=place(figure.number) if figure.measured else None,
        low=low if has_span else limit_at,
        high=high if has_span else limit_at,
        limit_at=limit_at,
        anchor="start" if limit_at < 25 else "end" if limit_at > 75 else "middle",
        good_from=limit_at if wants_more else 0.0,
        good_wide=100.0 - limit_at if wants_more else limit_at,
        rule=rule if figure.measured else None,
    )


def _against(gate: gates.Gate, figures: dict[str, Figure], rules: Rules) -> tuple[Figure, float, Rule | None]:
    """The figure that a gate turns on, and its limit; where two rules decide, the one that lies farther along."""
    pairs: dict[str, tuple[tuple[str, str], ...]] = {
        "crop good": (("crop_bearing_share", "crop_bearing_share"),),
        "midstory shades": (("midstory_stems_ac", "midstory_stems_ac"), ("midstory_ba_ft2_ac", "midstory_ba_ft2_ac")),
        "oak enough": ((stems_name(rules), "several_hundred_ac"), ("oak_stocked_4_5ft_share", "")),
        "browse low": (("browse_share", "browse_share"),),
        "competitors under": (("competitor_led_share", "competitor_led_share"),),
        "low enough": (("tallest_oak_ft", "latest_release_height_ft"),),
    }
    choices = []
    for name, rule in pairs[gate.name]:
        needed = figures["needed_stocked_share"]
        limit = rules.number(rule) if rule else float(needed.number) if needed.measured else math.nan
        share = figures[name].number / limit if figures[name].measured and limit else -1.0
        choices.append((-1.0 if math.isnan(share) else share, figures[name], limit, rules[rule] if rule else None))
    _, figure, limit, entry = max(choices, key=lambda one: one[0])
    return figure, limit, entry


def _value(number: str, unit: str) -> str:
    return measures.with_unit(number, measures.unit_word(unit)).replace("ft2", "ft²").replace("m2", "m²")


def _round(value: float) -> str:
    return f"{value:,.0f}" if value >= 10 or value == int(value) else f"{value:.1f}"


def _in_words(value: float, *, unit: str, scale: float) -> str:
    return _round(measures.convert(scale * value, unit))


def _span(figure: Figure, said: Callable[[float], str]) -> str:
    if not figure.measured or figure.low is None or figure.high is None:
        return ""
    return f"likely {said(figure.low)} to {said(figure.high)}"


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One thing on the line of years: where it lies, how wide it is, what it is."""

    x: float
    wide: float
    what: str
    style: str
    label: str = ""
    label_x: float = 0.0
    label_y: float = 0.0
    anchor: str = "start"


@dataclass(frozen=True, kw_only=True)
class Course:
    """The years of a stand: work done and advised above the line, looks taken and due below it."""

    years: tuple[tuple[int, float], ...]
    today: float
    work: tuple[Mark, ...]
    looks: tuple[Mark, ...]
    earlier: int
    words: str


@dataclass(frozen=True)
class _Scale:
    first: dt.date
    last: dt.date

    def x(self, day: dt.date) -> float:
        share = (day - self.first).days / max((self.last - self.first).days, 1)
        return round(_WIDTH * min(max(share, 0.0), 1.0), 1)

    def span(self, window: Window, least: float) -> tuple[float, float]:
        start, end = self.x(window.start), self.x(window.end)
        return min(start, _WIDTH - least), max(end - start, least)


def course(advice: Advice, due: Sequence[Due], work: Iterable[Operation], visits: Iterable[Visit]) -> Course:
    """The line of years of a stand, from some years back to some years on."""
    on = advice.on
    scale = _Scale(dt.date(on.year - _YEARS_BACK, 1, 1), dt.date(on.year + _YEARS_ON, 12, 31))
    done = sorted(work, key=lambda row: row.started_on)
    recent = [row for row in done if row.started_on >= scale.first]
    marks = [
        _mark(
            scale,
            Window(row.started_on, row.ended_on or row.started_on),
            f"{row.kind} {row.started_on:%b %Y}",
            "done",
            row.kind,
        )
        for row in recent
    ]
    marks += [
        _mark(scale, window, f"{advice.title}, {window}", style, label) for window, style, label in _advised(advice)
    ]
    seen = [row for row in visits if row.visited_on >= scale.first]
    looks = [
        Mark(x=scale.x(row.visited_on), wide=0.0, what=f"{row.kind} {row.visited_on:%b %Y}", style="seen")
        for row in seen
    ]
    looks += [
        Mark(x=scale.x(_middle(one.window)), wide=0.0, what=f"{one.what}, {one.window}", style="due")
        for one in _later(due, advice)
        if one.window.start <= scale.last
    ]
    years = range(scale.first.year, scale.last.year + 1)
    return Course(
        years=tuple((year, scale.x(dt.date(year, 7, 1))) for year in years),
        today=scale.x(on),
        work=tuple(_labelled(marks, scale.x(on))),
        looks=tuple(looks),
        earlier=len(done) - len(recent),
        words="; ".join(mark.what for mark in (*marks, *looks)),
    )


def _advised(advice: Advice) -> list[tuple[Window, str, str]]:
    style, label = ("likely", "in doubt") if advice.cut_in_doubt else ("now", "advised")
    marks = [(advice.window, style, label)] if advice.window else []
    return marks + ([(advice.second_window, "likely", "")] if advice.second_window else [])


def _later(due: Sequence[Due], advice: Advice) -> list[Due]:
    """What is due beside the step itself."""
    return [
        one
        for one in due
        if one.window not in (advice.window, advice.second_window) or not one.what.startswith(advice.title)
    ]


def _middle(window: Window) -> dt.date:
    return window.start + dt.timedelta(days=(window.end - window.start).days // 2)


def _mark(scale: _Scale, window: Window, what: str, style: str, label: str) -> Mark:
    x, wide = scale.span(window, 12.0)
    return Mark(x=x, wide=wide, what=what, style=style, label=label)


def _labelled(marks: list[Mark], today: float) -> list[Mark]:
    """Each label above its mark, a row higher where it would run into the one before; what is advised has its own on
    the right."""
    advised = [mark for mark in marks if mark.style in ("now", "likely")]
    right = max((mark.x + mark.wide for mark in advised), default=0.0) + 8.0
    ends, labels = [-1.0, -1.0, -1.0], []
    for mark in advised:
        labels.append(replace(mark, label_x=right, label_y=69.0))
    marks = [mark for mark in marks if mark not in advised]
    for mark in sorted(marks, key=lambda one: one.x):
        wide = _LETTER * len(mark.label)
        start = min(max(mark.x + mark.wide / 2 - wide / 2, 0.0), _WIDTH - wide)
        # The line of today would strike a name out.
        start = max(today - wide - 4, 0.0) if start < today < start + wide else start
        row = next((number for number, end in enumerate(ends) if start > end), 2)
        ends[row] = start + wide + 8
        labels.append(replace(mark, label_x=round(start, 1), label_y=46.0 - 15.0 * row))
    return labels


@dataclass(frozen=True, kw_only=True)
class Strip:
    """A row's own years, small: the step advised and what is due, from today on."""

    marks: tuple[Mark, ...]
    words: str


def strip(advice: Advice, due: Sequence[Due]) -> Strip:
    """The next five years of a stand in a row of the table; places are percents."""
    on = advice.on
    scale = _Scale(on, on.replace(year=on.year + STRIP_YEARS, day=min(on.day, 28)))
    marks = []
    for window, style, _ in _advised(advice):
        x, wide = scale.span(window, 12.0)
        marks.append(Mark(x=round(x / 10, 1), wide=round(wide / 10, 1), what=str(window), style=style))
    later = [one for one in _later(due, advice) if one.window.start <= scale.last]
    marks += [
        Mark(x=round(scale.x(_middle(one.window)) / 10, 1), wide=0.0, what=f"{one.what}, {one.window}", style="due")
        for one in later
    ]
    return Strip(marks=tuple(marks), words="; ".join(mark.what for mark in marks) or "nothing due")
