"""What a cruiser looks for first: plots, trees, basal area, trees an acre, mean diameter, and how good the sample
is."""

from __future__ import annotations

from dataclasses import dataclass

from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement.evidence.tally import cruise_of
from overwood.judgement.rules import Rules
from overwood.science import sample_size, survey


@dataclass(frozen=True, kw_only=True)
class CruiseSummary:
    """The head of the evidence; what one point or a map of every stem does not allow is None."""

    visit: str
    points: int
    trees: int
    ba_ft2_ac: Figure
    trees_ac: Figure
    qmd_in: Figure
    cv_pct: float | None
    sampling_error_pct: float | None
    points_needed: int | None
    error_wanted_pct: float
    level: float


def summary_of(file: StandFile, figures: dict[str, Figure], rules: Rules) -> CruiseSummary | None:
    """The head of the evidence from the cruise that decides; None without one."""
    visit = file.latest("cruise")
    if visit is None:
        return None
    cruise, ba, level = cruise_of(file, visit), figures["ba_ft2_ac"], rules.number("interval_level")
    cv = _cv_pct(ba)
    wanted = rules.number("sampling_error_wanted_pct")
    return CruiseSummary(
        visit=visit.visit,
        points=cruise.n,
        trees=sum(tree.stems for tree in cruise.trees),
        ba_ft2_ac=ba,
        trees_ac=figures["trees_ac"],
        qmd_in=figures["qmd_in"],
        cv_pct=cv,
        sampling_error_pct=None
        if cv is None or ba.n is None
        else cv * float(survey.t_quantile(level, ba.n - 1)) / ba.n**0.5,
        points_needed=None if not cv else sample_size.plots_needed(cv, wanted, level=level),
        error_wanted_pct=wanted,
        level=level,
    )


def _cv_pct(ba: Figure) -> float | None:
    """Coefficient of variation of basal area between points."""
    error = next((entry.value for entry in ba.inputs if entry.name == "standard error"), None)
    if not isinstance(error, float) or not ba.n or not ba.number:
        return None
    return 100 * error * ba.n**0.5 / ba.number
