"""The step of a young stand in words: the overwood is off, and the free oaks are counted."""

from __future__ import annotations

from overwood.ground import measures
from overwood.judgement.course.branch import Case
from overwood.judgement.course.reasoned import Choice
from overwood.judgement.course.stage import last_cut
from overwood.judgement.gates import span, years_since


def _years_since_cut(case: Case) -> str:
    cut = last_cut(case.file)
    return f"{years_since(cut.started_on, case.on):.0f} years after the cut" if cut else "after the cut"


def free_oaks_short(case: Case, branch: str) -> Choice:
    """The overwood is off, and the oaks lose their place."""
    free, wanted = case.figures["free_oaks_ac"], case.rules.number("dominants_component_ac")
    has_failed = free.high is not None and free.high < wanted
    opening = "oak has failed here" if has_failed else "oak is failing here, by what was counted"
    return Choice(
        branch,
        [
            f"{opening}: {span(free)} of free oak {measures.amount(4.5, 'ft', 'g')} or taller "
            f"{_years_since_cut(case)}, {measures.digits(wanted, 'stems/ac')} wanted for an oak component",
            f"competitors hold the ground: {span(case.figures['competitor_stems_3ft_ac'])} of other species "
            f"above {measures.amount(3, 'ft', 'g')}",
        ],
        short=(
            f"{span(free)} of free oak {measures.amount(4.5, 'ft', 'g')}, "
            f"{measures.digits(wanted, 'stems/ac')} wanted; competitors hold the ground"
        ),
        title="Release the few free oaks and deaden the culls, or accept the mix",
        set_aside=[
            (
                "count on the oaks that are there",
                f"{span(case.figures['overtopped_share'])} of oak plots are overtopped",
            ),
            ("start again", "a new shelterwood needs oak seed trees, and the best were sold"),
            ("plant", "planted oak is outgrown here unless it is weeded for years"),
        ],
        follow_on=["write the owner's choice down as the decision", "look again at age 15 to 20"],
        gates=("oak enough", "competitors under"),
        rules=("dominants_component_ac",),
    )


def free_oaks_hold(case: Case, branch: str) -> Choice:
    """The overwood is off, and the oaks hold their place."""
    free, wanted = case.figures["free_oaks_ac"], case.rules.number("dominants_component_ac")
    return Choice(
        branch,
        [
            f"{span(free)} of free oak {measures.amount(4.5, 'ft', 'g')} or taller "
            f"{_years_since_cut(case)}, {measures.digits(wanted, 'stems/ac')} wanted"
        ],
        short=(
            f"{span(free)} of free oak {measures.amount(4.5, 'ft', 'g')}, {measures.digits(wanted, 'stems/ac')} wanted"
        ),
        follow_on=["crop-tree cleaning of the best oaks at age 10 to 20"],
        gates=("oak enough", "competitors under"),
        rules=("dominants_component_ac",),
    )
