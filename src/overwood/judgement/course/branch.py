"""Which branch of the course a stand stands on: decided from the answers of the gates alone, by codes, without a word
of English."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from overwood.ground.records import StandFile
from overwood.judgement import gates as g
from overwood.judgement.course.outlook import Outlook
from overwood.judgement.course.stage import stage
from overwood.judgement.evidence import oak_verdict
from overwood.judgement.evidence.counting import count_of
from overwood.judgement.gates.maturity import Maturity
from overwood.judgement.rules import Rules

# Each branch and the step it names.
STEP_OF = {
    "cruise_needed": "measure",
    "free_oaks_short": "release_stems",
    "free_oaks_hold": "count",
    "young_uncounted": "count",
    "thin": "thin",
    "wait": "wait",
    "enough_by_too_few_plots": "settle",
    "oak_enough": "release",
    "count_unsettled": "settle",
    "count_needed": "count",
    "opened_too_little": "count",
    "no_course_reaches": "weigh",
    "midstory_shades": "inject",
    "injection_unchecked": "check_injection",
    "midstory_unknown": "measure",
    "crop_good": "seed_cut",
    "crop_unknown": "check_acorns",
    "crop_poor": "check_acorns",
}


@dataclass(frozen=True, kw_only=True)
class Standing:
    """Everything the next step hangs on."""

    stage: str
    maturity: str
    cruise: str
    oak: str
    midstory: str
    crop: str
    # Enough oak, but by so few plots that a cut should wait.
    by_too_few_plots: bool = False
    injected: bool = False
    # Whether a course of the kept forecast reaches the wanted chance of oak; None where none was run.
    reaches: bool | None = None
    # Young stand: are the free oaks fewer than wanted; None where they were not counted.
    free_oaks_short: bool | None = None


# Steps that are paid for in the hope of oak.
_PAID = ("inject", "seed_cut")


def branch_of(at: Standing) -> str:
    """The branch of a standing: what the gates say, unless the forecast gives no course a chance and the step costs
    money."""
    branch = gates_branch(at)
    return "no_course_reaches" if at.reaches is False and STEP_OF[branch] in _PAID else branch


def gates_branch(at: Standing) -> str:
    """The branch by the gates alone, read in the order of the course: the first that decides."""
    if at.cruise != g.YES:
        return "cruise_needed"
    if at.stage == "released":
        return _young(at)
    if at.stage != "opened" and at.maturity != "regenerate":
        return at.maturity
    if at.oak == g.YES:
        return "enough_by_too_few_plots" if at.by_too_few_plots else "oak_enough"
    if at.oak == g.UNSURE:
        return "count_unsettled"
    if at.oak in g.UNKNOWN:
        return "count_needed"
    return "opened_too_little" if at.stage == "opened" else _prepare(at)


def _young(at: Standing) -> str:
    """The overwood is off: do the oaks hold their place?"""
    if at.free_oaks_short is None or at.oak == g.TOO_OLD:
        return "young_uncounted"
    return "free_oaks_short" if at.free_oaks_short else "free_oaks_hold"


def _prepare(at: Standing) -> str:
    """Not enough oak and the canopy still whole: midstory first, then a crop, then the seed cut."""
    if at.midstory in (g.YES, g.UNSURE):
        return "midstory_shades"
    if at.midstory in g.UNKNOWN:
        return "injection_unchecked" if at.injected and at.midstory == g.TOO_OLD else "midstory_unknown"
    return {g.YES: "crop_good", g.NO: "crop_poor"}.get(at.crop, "crop_unknown")


@dataclass(frozen=True, kw_only=True)
class Margin:
    """What the margin in plots is worked out from: the tally, sprouts credited to it, and whether its plots are the
    rule's."""

    tally: oak_verdict.Tally
    sprouts_ac: float
    follows_rule: bool

    def is_too_thin(self, rules: Rules) -> bool:
        """A cut cannot be undone: it wants a margin in plots, not in points."""
        plots = oak_verdict.turning_plots(self.tally, self.sprouts_ac, rules, follows_rule=self.follows_rule)
        return plots is not None and plots <= rules.number("irreversible_plots")


def margin_of(file: StandFile, figures: g.Figures, rules: Rules) -> Margin | None:
    """The margin of the latest count; None where nothing was counted."""
    visit = file.latest("reproduction")
    count, sprouts = count_of(file, visit) if visit else None, figures["oak_sprouts_ac"]
    if count is None:
        return None
    credited = sprouts.number if sprouts.measured else 0.0
    return Margin(tally=oak_verdict.tally_of(count, rules), sprouts_ac=credited, follows_rule=count.follows_rule_plot)


def standing_of(case: Case) -> Standing:
    """The standing of a stand, by its gates and its kept forecast."""
    return standing_by(case, margin_of(case.file, case.figures, case.rules))


def standing_by(case: Case, margin: Margin | None) -> Standing:
    """The standing by the gates of a case, with the margin of its count."""
    file, gates, rules = case.file, case.gates, case.rules
    oak = gates["oak enough"].answer
    return Standing(
        stage=stage(file),
        maturity=case.maturity.verdict,
        cruise=gates["cruise fresh"].answer,
        oak=oak,
        midstory=gates["midstory shades"].answer,
        crop=gates["crop good"].answer,
        by_too_few_plots=oak == g.YES and margin is not None and margin.is_too_thin(rules),
        injected=bool(file.done("injection")),
        reaches=case.outlook.reaches(rules) if case.outlook else None,
        free_oaks_short=_is_short(case.figures, rules),
    )


def _is_short(figures: g.Figures, rules: Rules) -> bool | None:
    """Whether the free oaks of a young stand are fewer than wanted; None where they were not counted."""
    free = figures["free_oaks_ac"]
    return free.number < rules.number("dominants_component_ac") if free.measured else None


@dataclass(frozen=True)
class Case:
    """What the words of a branch are made from."""

    file: StandFile
    figures: g.Figures
    gates: dict[str, g.Gate]
    maturity: Maturity
    rules: Rules
    on: dt.date
    outlook: Outlook | None = None

    def answer(self, gate: str) -> str:
        return self.gates[gate].answer
