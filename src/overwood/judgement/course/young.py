"""The step of a young stand in words: the overwood is off, and the free oaks are counted."""

from __future__ import annotations

from overwood.judgement.course.branch import Case
from overwood.judgement.course.reasoned import Choice
from overwood.judgement.course.stage import last_cut
from overwood.judgement.gates import span, years_since
from overwood.judgement.reason import Reason


def _years_since_cut(case: Case) -> str:
    cut = last_cut(case.file)
    return f"{years_since(cut.started_on, case.on):.0f} years after the cut" if cut else "after the cut"


def _free(case: Case) -> dict[str, str | float]:
    """The free oaks beside those that are wanted."""
    wanted = case.rules.number("dominants_component_ac")
    return {"free": span(case.figures["free_oaks_ac"]), "when": _years_since_cut(case), "wanted": wanted}


def free_oaks_short(case: Case, branch: str) -> Choice:
    """The overwood is off, and the oaks lose their place."""
    free, wanted = case.figures["free_oaks_ac"], case.rules.number("dominants_component_ac")
    has_failed = free.high is not None and free.high < wanted
    return Choice(
        branch,
        [
            Reason("oak_failed" if has_failed else "oak_fails", _free(case)),
            Reason("competitors_hold", {"stems": span(case.figures["competitor_stems_3ft_ac"])}),
        ],
        short=Reason("free_oaks_few", _free(case)),
        title=Reason("release_few"),
        set_aside=[
            (
                "count on the oaks that are there",
                Reason("overtopped", {"share": span(case.figures["overtopped_share"])}),
            ),
            ("start again", Reason("seed_trees_sold")),
            ("plant", Reason("planted_outgrown")),
        ],
        follow_on=[Reason("write_choice_down"), Reason("look_again_young")],
        gates=("oak enough", "competitors under"),
        rules=("dominants_component_ac",),
    )


def free_oaks_hold(case: Case, branch: str) -> Choice:
    """The overwood is off, and the oaks hold their place."""
    return Choice(
        branch,
        [Reason("free_oaks_hold", _free(case))],
        short=Reason("free_oaks", _free(case)),
        follow_on=[Reason("crop_tree_cleaning")],
        gates=("oak enough", "competitors under"),
        rules=("dominants_component_ac",),
    )
