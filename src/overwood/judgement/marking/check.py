"""Points taken while the crew marks: is what stays on target, and is it the right kind of tree?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overwood.ground.errors import NotFound
from overwood.ground.records import StandFile
from overwood.ground.species import by_code
from overwood.judgement.evidence.layers import oak_mask
from overwood.judgement.evidence.tally import Array, Cruise, Mask, cruise_of
from overwood.judgement.leave_rule import largest_oaks
from overwood.judgement.rules import Rules
from overwood.science import overstory as science
from overwood.science import sequential
from overwood.science.sequential import Looked

KIND = "marking check"
_UPPER = ("dominant", "codominant")


@dataclass(frozen=True)
class Share:
    """Part of the basal area of the trees marked to stay, beside the plan's; None where no plan can be drawn."""

    what: str
    marked: float
    planned: float | None


@dataclass(frozen=True)
class Check:
    """Verdict on the marking so far."""

    visit: str
    looked: Looked
    ba_low_ft2_ac: float
    ba_high_ft2_ac: float
    points_ba_ft2_ac: tuple[float, ...]
    shares: tuple[Share, ...]
    verdict: str
    advice: str


def check(file: StandFile, rules: Rules, *, ba_low_ft2_ac: float, ba_high_ft2_ac: float) -> Check:
    """Judge the latest marking check against the basal area wanted and the trees the rule would leave. Raises NotFound
    when there is no marking check, or none of its points lies in the stand."""
    visit = file.latest(KIND)
    remedy = (
        "Bring one in: a visit of kind 'marking check' with rings, points and, as trees, only those the crew leaves."
    )
    if visit is None:
        raise NotFound(f"{file.stand.stand} has no marking check.", remedy=remedy)
    cruise = cruise_of(file, visit)
    if cruise.n == 0:
        raise NotFound(f"the marking check {visit.visit} has no point in the stand.", remedy=remedy)
    totals = cruise.totals(science.basal_area_ft2(cruise.dbh_in))
    looked = sequential.judge(
        totals,
        ba_low_ft2_ac,
        ba_high_ft2_ac,
        error=rules.number("marking_check_error"),
        step=int(rules.number("marking_check_step")),
        looks=int(rules.number("marking_check_looks")),
    )
    verdict, advice = _words(looked)
    return Check(
        visit=visit.visit,
        looked=looked,
        ba_low_ft2_ac=ba_low_ft2_ac,
        ba_high_ft2_ac=ba_high_ft2_ac,
        points_ba_ft2_ac=tuple(float(total) for total in totals),
        shares=_shares(cruise, _planned(file, rules, (ba_low_ft2_ac + ba_high_ft2_ac) / 2)),
        verdict=verdict,
        advice=advice,
    )


def _words(looked: Looked) -> tuple[str, str]:
    if looked.verdict == "inside":
        return "on target", "Go on marking as you do."
    if looked.verdict == "below":
        return "off target: too little stays", "Stop. Leave more trees, and go over what is marked."
    if looked.verdict == "above":
        return (
            "off target: too much stays",
            "Stop. Take more trees, smaller and poorer ones first, and go over what is marked.",
        )
    if looked.verdict == "undecided":
        return (
            "undecided",
            "The mean sits near an end of what is wanted: move towards its middle, and begin a new check.",
        )
    return "take more points", f"Take points up to {looked.next_look} in all, then ask again."


def _planned(file: StandFile, rules: Rules, residual_ba_ft2_ac: float) -> tuple[Cruise, Mask] | None:
    visit = file.latest("cruise")
    if visit is None:
        return None
    cruise = cruise_of(file, visit)
    return cruise, largest_oaks(cruise, rules, residual_ba_ft2_ac)


def _shares(cruise: Cruise, plan: tuple[Cruise, Mask] | None) -> tuple[Share, ...]:
    marked = _mix(cruise, np.ones(len(cruise.trees), dtype=bool))
    planned = _mix(*plan) if plan else {}
    return tuple(Share(what, value, planned.get(what)) for what, value in marked.items())


def _mix(cruise: Cruise, chosen: Mask) -> dict[str, float]:
    ba = science.basal_area_ft2(cruise.dbh_in) * cruise.per_ac * chosen
    groups = np.array([by_code(int(code)).oak_group for code in cruise.spcd], dtype=np.str_)
    kinds: dict[str, Mask] = {
        "oak": oak_mask(cruise),
        "white oak group": groups == "white",
        "red oak group": groups == "red",
    }
    # A tree without its class is not known to be of a lower one.
    if len(cruise.trees) and np.all(cruise.crown_class != ""):
        kinds["dominant and codominant"] = np.isin(cruise.crown_class, _UPPER)
    return {what: _part(ba, mask) for what, mask in kinds.items()}


def _part(ba: Array, mask: Mask) -> float:
    whole = float(ba.sum())
    return float(ba[mask].sum()) / whole if whole > 0 else 0.0
