"""The next step of a stand: which, when, why, how sure, what would change it, and what was set aside."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement import gates as g
from overwood.judgement import maturity as m
from overwood.judgement import waiting
from overwood.judgement.course.choice import Choice, choose
from overwood.judgement.course.conflicts import Conflict, conflicts_of
from overwood.judgement.course.stage import describe, stage
from overwood.judgement.course.steps import all_steps
from overwood.judgement.evidence import all_figures
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules
from overwood.judgement.windows import Window, upcoming


@dataclass(frozen=True, kw_only=True)
class Advice:
    """Everything advice says about one stand on one day."""

    stand: str
    name: str
    area_ac: float | None
    on: dt.date
    what_it_is: str
    stage: str
    step: str
    title: str
    window: Window | None
    second_window: Window | None
    why_in_one_line: str
    why: tuple[str, ...]
    doubts: tuple[str, ...]
    sure: str
    would_change: tuple[str, ...]
    thresholds: tuple[str, ...]
    missing: tuple[str, ...]
    measure_next: tuple[str, ...]
    set_aside: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    conflicts: tuple[Conflict, ...]
    gates: tuple[g.Gate, ...]
    maturity: m.Maturity
    follow_on: tuple[str, ...]
    overridden: str
    rulebook_version: str
    figures: dict[str, Figure] = field(repr=False)

    def to_dict(self) -> dict[str, Any]:
        """A JSON-ready object without the figures."""
        return {
            "stand": self.stand,
            "name": self.name,
            "area_ac": self.area_ac,
            "on": self.on.isoformat(),
            "what_it_is": self.what_it_is,
            "stage": self.stage,
            "step": self.step,
            "title": self.title,
            "window": _plain_window(self.window),
            "second_window": _plain_window(self.second_window),
            "why_in_one_line": self.why_in_one_line,
            "why": list(self.why),
            "doubts": list(self.doubts),
            "sure": self.sure,
            "would_change": list(self.would_change),
            "thresholds": list(self.thresholds),
            "missing": list(self.missing),
            "measure_next": list(self.measure_next),
            "set_aside": [{"choice": choice, "because": because} for choice, because in self.set_aside],
            "cautions": list(self.cautions),
            "conflicts": [vars(conflict) for conflict in self.conflicts],
            "gates": [vars(gate) | {"rules": list(gate.rules)} for gate in self.gates],
            "maturity": {"verdict": self.maturity.verdict, "reasons": list(self.maturity.reasons)},
            "follow_on": list(self.follow_on),
            "overridden": self.overridden,
            "rulebook_version": self.rulebook_version,
        }


def _plain_window(window: Window | None) -> dict[str, str] | None:
    return {"start": window.start.isoformat(), "end": window.end.isoformat()} if window else None


def all_gates(file: StandFile, figures: g.Figures, rules: Rules, on: dt.date) -> dict[str, g.Gate]:
    """Every gate of a stand, by name, in the order of the course."""
    found = (
        g.cruise_fresh(file, rules, on),
        g.midstory_shades(file, figures, rules, on),
        g.crop_good(file, figures, rules, on),
        g.burn_safe(file, figures, rules, on),
        g.free_of_invasives(file, rules, on),
        g.oak_enough(file, figures, rules, on),
        g.low_enough(figures, rules),
        g.competitors_under(figures, rules),
        g.browse_low(figures, rules),
    )
    return {gate.name: gate for gate in found}


def advise(file: StandFile, rules: Rules, on: dt.date, *, try_rules: bool = True, prices: PriceList | None = None) -> Advice:
    """Judge the gates and name the next step; with a price list what waiting costs is told in the stand's own money.

    ``try_rules`` also tries each threshold the step rests on at both ends of its range, which asks the question anew a
    dozen times.
    """
    known = file.as_of(on)
    figures = all_figures(known, rules, on)
    found, judged = all_gates(known, figures, rules, on), m.judge(known, figures, rules)
    choice = choose(known, figures, found, judged, rules, on)
    step = all_steps()[choice.step]
    window = choice.window or (upcoming(rules, step.window, on) if step.window else None)
    second = upcoming(rules, step.second_window, on) if step.second_window else None
    flips = _flips(known, rules, on, choice, found) if try_rules else ()
    return Advice(
        stand=known.stand.stand,
        name=known.stand.name or known.stand.stand,
        area_ac=known.stand.area_ac,
        on=on,
        what_it_is=describe(known, figures, rules, on, judged.verdict),
        stage=stage(known),
        step=choice.step,
        title=choice.title or step.title,
        window=window,
        second_window=second,
        why_in_one_line=choice.short,
        why=tuple(choice.why),
        doubts=tuple(choice.doubts),
        sure=_how_sure(choice, flips, tried=try_rules),
        would_change=tuple(choice.would_change),
        thresholds=flips,
        missing=tuple(_missing(figures, found)),
        measure_next=tuple(_measure_next(choice, found)),
        set_aside=tuple(choice.set_aside),
        cautions=step.cautions,
        conflicts=tuple(conflicts_of(known, step, window, figures, rules)),
        gates=tuple(found.values()),
        maturity=judged,
        follow_on=(*choice.follow_on, *((waiting.words(waiting.waiting(known, rules, prices), rules),) if choice.waits else ())),
        overridden=_override(known, choice.step),
        rulebook_version=rules.version,
        figures=figures,
    )


def _how_sure(choice: Choice, flips: tuple[str, ...], *, tried: bool) -> str:
    """How sure the step is: clear only where no threshold within its own range changes it."""
    if not choice.sure.startswith("clear"):
        return choice.sure
    if not tried:
        return f"{choice.sure} (the ranges of the thresholds not tried)"
    return "not clear: a threshold within its own range changes the step" if flips else choice.sure


def _override(file: StandFile, step: str) -> str:
    """What a person decided against the advice, if the last decision was of that kind."""
    if not file.decisions:
        return ""
    last = max(file.decisions, key=lambda row: row.decided_on)
    if not last.overridden:
        return ""
    return f"{last.decided_on:%d %b %Y}: {last.chosen_step} instead of {last.advised_step or 'the advice'}, because {last.reason}"


_MISSING_WORDS = {
    "overwood_ba_ft2_ac": "a cruise",
    "age_yr": "age (cores)",
    "oak_verdict": "a reproduction count",
    "declining_share": "crown dieback",
    "small_crown_share": "crown radii",
    "burnable_collar_share": "collars of tall oaks",
    "browse_share": "browse",
    "crop_bearing_share": "this autumn's acorn check",
}
_UNIT_WORDS = frozenset({"ac", "ft2", "ft", "in", "pct", "yr", "deg", "usd"})
_EXPIRED_WORDS = {"cruise fresh": "a fresh cruise", "oak enough": "a fresh count", "midstory shades": "a fresh midstory tally"}


def _missing(figures: g.Figures, found: dict[str, g.Gate]) -> list[str]:
    words = [word for name, word in _MISSING_WORDS.items() if not figures[name].measured]
    return words + [_EXPIRED_WORDS.get(gate.name, gate.name) for gate in found.values() if gate.state == "expired"]


def _measure_next(choice: Choice, found: dict[str, g.Gate]) -> list[str]:
    """What to measure, the gates the choice rests on first."""
    first = [found[name] for name in choice.gates if name in found]
    tasks = [gate.settle for gate in first if gate.state in ("unsure", "unmeasured", "expired") and gate.settle]
    tasks += [g.settle for g in found.values() if g not in first and g.state in ("unmeasured", "expired") and g.settle]
    return list(dict.fromkeys([*choice.measure, *tasks]))


def _plain_name(rule: str) -> str:
    """The name of a rule without its unit, which is said beside its number."""
    words = rule.split("_")
    while len(words) > 1 and words[-1] in _UNIT_WORDS:
        words.pop()
    return " ".join(words)


def _flips(file: StandFile, rules: Rules, on: dt.date, choice: Choice, found: dict[str, g.Gate]) -> tuple[str, ...]:
    """Thresholds that would change the step within their own stated range."""
    names = dict.fromkeys(name for gate in choice.gates if gate in found for name in found[gate].rules)
    said = []
    for name in (*names, *choice.rules):
        rule = rules[name]
        for end in (rule.low, rule.high):
            if end is None or end == rule.value:
                continue
            tried = rules.with_value(name, end)
            figures = all_figures(file, tried, on)
            other = choose(file, figures, all_gates(file, figures, tried, on), m.judge(file, figures, tried), tried, on)
            if other.step != choice.step:
                title = all_steps()[other.step].title.lower()
                said.append(f"{_plain_name(name)} at {end:g} instead of {rule.number:g} {rule.unit}: {title}")
    return tuple(said)
