"""Where seasons or advice conflict. The conflict is shown with both aims; the person decides."""

from __future__ import annotations

from dataclasses import dataclass

from overwood.ground import measures
from overwood.ground.records import StandFile
from overwood.judgement.course.steps import Step
from overwood.judgement.gates import Figures
from overwood.judgement.gates.windows import Window, open_days
from overwood.judgement.rules import Rules


@dataclass(frozen=True, kw_only=True)
class Conflict:
    """Two aims that pull apart, and what is left where they meet."""

    what: str
    ours: str
    theirs: str
    source: str
    days_left: int | None = None
    code: str = ""


def conflicts_of(file: StandFile, step: Step, window: Window | None, figures: Figures, rules: Rules) -> list[Conflict]:
    """Conflicts of a step with what has been seen in the stand."""
    seen = {row.kind for row in file.sightings}
    conflicts: list[Conflict] = []
    if step.fells and window is not None and "roost tree" in seen:
        conflicts.append(_roost_season(window, rules))
    if step.opens and "roost tree" in seen:
        conflicts += _roost_cover(figures, rules)
    if step.opens and "defoliation" in seen:
        conflicts += _moth(figures, rules)
    if step.fells and window is not None and "oak wilt" in seen:
        left = open_days(window, rules, closed="oak_wilt_no_wounds")
        conflicts.append(
            Conflict(
                what="oak wilt season",
                code="oak_wilt",
                ours=f"{step.title.lower()}, {window}",
                theirs=_oak_wilt(rules),
                source="oakwilt",
                days_left=sum(part.days for part in left),
            )
        )
    if step.fells and window is not None and "soft ground" in seen:
        conflicts.append(_soft_ground(file, step, window))
    if "stream" in seen and step.fells:
        conflicts.append(
            Conflict(
                what="stream strip",
                ours=step.title.lower(),
                theirs="a strip along the stream stays uncut and undriven; its width is the state's",
                source="practice",
            )
        )
    return conflicts


def _words(rules: Rules, name: str) -> str:
    first, last = rules[name].window
    return f"{first} to {last}"


def _oak_wilt(rules: Rules) -> str:
    longer, shorter = _words(rules, "oak_wilt_no_wounds"), _words(rules, "oak_wilt_no_wounds_other")
    return f"no fresh oak wounds {longer}; another state says {shorter}, the longer window is kept"


def _roost_season(window: Window, rules: Rules) -> Conflict:
    left = open_days(window, rules, allowed="roost_tree_felling")
    return Conflict(
        what="roost trees: season",
        code="roost_season",
        ours=f"felling, {window}",
        theirs=f"hazard and snag trees only {_words(rules, 'roost_tree_felling')} where listed bats may roost",
        source="batguide",
        days_left=sum(part.days for part in left),
    )


def _roost_cover(figures: Figures, rules: Rules) -> list[Conflict]:
    cover, ba = figures["crown_cover_pct"], figures["overwood_ba_ft2_ac"]
    keep, residual = rules.number("roost_canopy_closure_pct"), rules.number("seed_cut_residual_low_ft2_ac")
    if not cover.measured or not ba.measured or ba.number <= residual:
        return []
    after = cover.number * residual / ba.number
    if after >= keep:
        return []
    return [
        Conflict(
            what="roost trees: canopy",
            ours=f"about {measures.amount(residual, 'ft2/ac')} and part sun, roughly {after:.0f}% crown cover",
            theirs=f"at least {keep:.0f}% canopy closure in bat summer habitat",
            source="batguide",
        )
    ]


def _moth(figures: Figures, rules: Rules) -> list[Conflict]:
    share, limit = figures["oak_share"], rules.number("moth_favoured_share")
    if not share.measured or share.number < limit:
        return []
    return [
        Conflict(
            what="defoliators",
            ours=f"an oak stand again (oak is {share.number:.0%} of the overwood)",
            theirs=f"less than {limit:.0%} of favored species, oaks among them; no cut during an outbreak",
            source="mothguide",
        )
    ]


def _soft_ground(file: StandFile, step: Step, window: Window) -> Conflict:
    seen = sorted(row.seen_on for row in file.sightings if row.kind == "soft ground")
    days = ", ".join(sorted({f"{day:%b %Y}" for day in seen}))
    return Conflict(
        what="soft ground",
        ours=f"{step.title.lower()}, {window}",
        theirs=f"the ground was too soft to skid in {days}: wait for frost or dry ground and stop when ruts form",
        source="field",
    )
