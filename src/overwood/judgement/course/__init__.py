"""The next step of a stand: which, when, why, how sure, what would change it, and what was set aside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from overwood.ground.doubt import Doubt
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement import gates as g
from overwood.judgement import waiting
from overwood.judgement.course.branch import Case, branch_of, standing_of
from overwood.judgement.course.choice import choose
from overwood.judgement.course.conflicts import Conflict, conflicts_of
from overwood.judgement.course.firmness import Drawn, Firmness, drawn_of
from overwood.judgement.course.outlook import Outlook
from overwood.judgement.course.reasoned import Choice
from overwood.judgement.course.stage import describe, stage
from overwood.judgement.course.steps import Step, all_steps
from overwood.judgement.evidence import figures_asked
from overwood.judgement.gates import maturity as m
from overwood.judgement.gates.windows import Window, upcoming
from overwood.judgement.net_ground import net_area_ac
from overwood.judgement.prices import PriceList
from overwood.judgement.reason import Reason
from overwood.judgement.rules import Rules


@dataclass(frozen=True, kw_only=True)
class Advice:
    """Everything advice says about one stand on one day.

    ``cut_in_doubt`` says that the step fells and is known not to be firm: title and kind of ``work`` then ask for a
    look first.
    """

    stand: str
    name: str
    area_ac: float | None
    on: dt.date
    what_it_is: str
    stage: str
    step: str
    branch: str
    heading: Reason
    work: str
    cut_in_doubt: bool
    window: Window | None
    second_window: Window | None
    in_short: Reason
    why: tuple[Reason, ...]
    doubts: tuple[Doubt, ...]
    firm: Firmness
    would_change: tuple[Reason, ...]
    thresholds: tuple[Reason, ...]
    missing: tuple[str, ...]
    measure_next: tuple[Reason, ...]
    set_aside: tuple[tuple[str, Reason], ...]
    cautions: tuple[str, ...]
    conflicts: tuple[Conflict, ...]
    gates: tuple[g.Gate, ...]
    maturity: m.Maturity
    follow_on: tuple[Reason, ...]
    outlook: Outlook | None
    overridden: str
    rulebook_version: str
    # Acres that work goes on: less than the stand's where streams, roads and sites are kept out.
    treated_ac: float | None = field(repr=False, metadata={"inner": True})
    figures: dict[str, Figure] = field(repr=False, metadata={"inner": True})

    DERIVED: ClassVar = ("title", "why_in_one_line")

    @property
    def title(self) -> str:
        """The step in words."""
        return self.heading.words

    @property
    def why_in_one_line(self) -> str:
        """The reason in short, in words."""
        return self.in_short.words


@dataclass(frozen=True)
class Decision:
    """What is decided of a stand before a word more is made of it than the list of many stands shows."""

    case: Case
    choice: Choice
    drawn: Drawn

    @property
    def name(self) -> str:
        """The stand's name, or its code where it has none."""
        return self.case.file.stand.name or self.case.file.stand.stand

    @property
    def step(self) -> Step:
        """What is to be done."""
        return all_steps()[self.choice.step]

    @property
    def in_doubt(self) -> bool:
        """Whether the step fells and is known not to be firm."""
        return self.step.fells and self.drawn.in_doubt

    @property
    def heading(self) -> Reason:
        """The step, a look first where it is a cut in doubt."""
        if self.choice.title is not None and not self.in_doubt:
            return self.choice.title
        title = self.step.title_in_doubt if self.in_doubt else self.step.title
        return Reason("titled", {"step": self.step.name, "title": title})

    @property
    def work(self) -> str:
        """What kind of work the step is; a cut in doubt is a look first."""
        return "look" if self.in_doubt else self.step.work

    @property
    def window(self) -> Window | None:
        """When the step can be done."""
        return self.choice.window or self._upcoming(self.step.window)

    @property
    def second_window(self) -> Window | None:
        """When else in the year it can be done."""
        return self._upcoming(self.step.second_window)

    def _upcoming(self, rule: str) -> Window | None:
        return upcoming(self.case.rules, rule, self.case.on) if rule else None

    @property
    def what_it_is(self) -> str:
        """The stand in a line."""
        return describe(self.case.file, self.case.figures, self.case.rules, self.case.maturity.verdict)

    @property
    def missing(self) -> tuple[str, ...]:
        """What was not looked at, or too long ago."""
        return tuple(_missing(self.case.figures, self.case.gates))


def chosen(file: StandFile, rules: Rules, on: dt.date, outlook: Outlook | None = None) -> tuple[Case, Choice]:
    """Judge the gates of a stand and choose the next step; figures that none of it asks for are not worked out."""
    known = file.as_of(on)
    figures = figures_asked(known, rules, on)
    gates, judged = g.all_gates(known, figures, rules, on), m.judge(known, figures, rules)
    case = Case(known, figures, gates, judged, rules, on, outlook)
    return case, choose(case, branch_of(standing_of(case)))


def decided(stands: Sequence[tuple[Case, Choice]]) -> list[Decision]:
    """Chosen steps with how firm each is, drawn for all at once; of one book of rules."""
    drawn = drawn_of([(case, choice.step, choice.is_thin) for case, choice in stands])
    return [Decision(case, choice, one) for (case, choice), one in zip(stands, drawn, strict=True)]


def advise(
    file: StandFile,
    rules: Rules,
    on: dt.date,
    *,
    prices: PriceList | None = None,
    outlook: Outlook | None = None,
    unread: tuple[Doubt, ...] = (),
) -> Advice:
    """Judge the gates and name the next step.

    With a price list what waiting costs is told in the stand's own money; with the outlook of its kept forecast no
    money step is advised that leads to no oak stand under any course. ``unread`` says which kept forecast is passed
    over, and why.
    """
    (decision,) = decided([chosen(file, rules, on, outlook)])
    case, choice, step, firm = decision.case, decision.choice, decision.step, decision.drawn.told()
    known, figures, gates, window = case.file, dict(case.figures), case.gates, decision.window
    return Advice(
        stand=known.stand.stand,
        name=decision.name,
        area_ac=known.stand.area_ac,
        treated_ac=net_area_ac(known),
        on=on,
        what_it_is=decision.what_it_is,
        stage=stage(known),
        step=choice.step,
        branch=choice.branch,
        heading=decision.heading,
        work=decision.work,
        cut_in_doubt=decision.in_doubt,
        window=window,
        second_window=decision.second_window,
        in_short=choice.short,
        why=tuple(choice.why),
        doubts=(*(_not_firm(firm) if decision.in_doubt else ()), *choice.doubts, *unread),
        firm=firm,
        would_change=tuple(choice.would_change),
        thresholds=_thresholds(case, firm),
        missing=decision.missing,
        measure_next=tuple(_measure_next(choice, gates)),
        set_aside=tuple(choice.set_aside),
        cautions=step.cautions,
        conflicts=tuple(conflicts_of(known, step, window, figures, rules)),
        gates=tuple(gates.values()),
        maturity=case.maturity,
        follow_on=(
            *choice.follow_on,
            *(_cost_of_waiting(known, rules, prices) if choice.waits else ()),
        ),
        outlook=outlook,
        overridden=_override(known),
        rulebook_version=rules.version,
        figures=figures,
    )


def _cost_of_waiting(file: StandFile, rules: Rules, prices: PriceList | None) -> tuple[Reason, ...]:
    cost = waiting.waiting(file, rules, prices)
    numbers = {"growth_share_yr": cost.growth_share_yr, "cost_share": cost.cost_share} if cost else {}
    return (Reason("waiting", {**numbers, "why": waiting.words(cost, rules)}),)


def _not_firm(firm: Firmness) -> tuple[Doubt, ...]:
    """A cut cannot be taken back: one that stays in too few draws says so first."""
    return (Doubt("not_firm_open" if firm.look else "not_firm", {"of_ten": firm.of_ten, "settles": firm.settles}),)


def _override(file: StandFile) -> str:
    """What a person decided against the advice, if the last decision was of that kind."""
    if not file.decisions:
        return ""
    last = max(file.decisions, key=lambda row: row.decided_on)
    if not last.overridden:
        return ""
    return (
        f"{last.decided_on:%d %b %Y}: {last.chosen_step} instead of {last.advised_step or 'the advice'}, "
        f"because {last.reason}"
    )


_MISSING_WORDS = {
    "overwood_ba_ft2_ac": "a cruise",
    "age_yr": "age (cores)",
    "oak_verdict": "a reproduction count",
    "declining_share": "crown dieback",
    "small_crown_share": "crown radii",
    "burnable_collar_share": "collars of tall oaks",
    "browse_share": "browse",
    "crop_bearing_share": "this fall's acorn survey",
}
_EXPIRED_WORDS = {
    "cruise fresh": "a fresh cruise",
    "oak enough": "a fresh count",
    "midstory shades": "a fresh midstory tally",
}


def _missing(figures: g.Figures, gates: dict[str, g.Gate]) -> list[str]:
    words = [word for name, word in _MISSING_WORDS.items() if not figures[name].measured]
    return words + [_EXPIRED_WORDS.get(gate.name, gate.name) for gate in gates.values() if gate.answer == g.TOO_OLD]


def _measure_next(choice: Choice, gates: dict[str, g.Gate]) -> list[Reason]:
    """What to measure, the gates the choice rests on first."""
    first = [gates[name] for name in choice.gates if name in gates]
    open_gates = [gate for gate in first if gate.answer in (g.UNSURE, *g.UNKNOWN)]
    open_gates += [gate for gate in gates.values() if gate not in first and gate.answer in g.UNKNOWN]
    tasks = list(choice.measure)
    # A task of the choice may go on from what its gate asks for.
    continued = [task.values.get("settle") for task in tasks]
    for gate in open_gates:
        if gate.settle is not None and gate.settle not in (*tasks, *continued):
            tasks.append(gate.settle)
    return tasks


def _thresholds(case: Case, firm: Firmness) -> tuple[Reason, ...]:
    """Limits that alone, within their own range, would change the step."""
    reasons = []
    for name, end, other in firm.turning:
        rule = case.rules[name]
        limit = {"threshold": name, "rule": rule.short, "to": end, "now": rule.number, "unit": rule.unit}
        step = all_steps()[other].title.lower()
        reasons.append(Reason("share_turns" if rule.is_share else "limit_turns", {**limit, "step": step}))
    return tuple(reasons)
