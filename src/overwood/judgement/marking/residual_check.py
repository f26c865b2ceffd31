"""After the cut: does what stands lie within what was wanted, and how much of it did the logging hurt?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure, unmeasured
from overwood.ground.records import StandFile
from overwood.judgement.crew_words import Sentence, sentence
from overwood.judgement.evidence.layers import oak_mask
from overwood.judgement.evidence.tally import Cruise, cruise_of, ratio_figure, tallied_mean
from overwood.judgement.rules import Rules
from overwood.science import overstory as science

KIND = "residual check"


@dataclass(frozen=True)
class Residual:
    """What stands after a cut, what of it is hurt, and the verdict on each."""

    visit: str
    points: int
    trees: int
    ba_ft2_ac: Figure
    ba_low_ft2_ac: float
    ba_high_ft2_ac: float
    oak_ba_share: float
    damage_share: Figure
    slight_share: float
    limit_share: float
    not_looked_at: int
    verdicts: tuple[str, ...]
    advice: tuple[str, ...]


def judge(file: StandFile, rules: Rules, *, ba_low_ft2_ac: float, ba_high_ft2_ac: float) -> Residual:
    """Judge the latest residual check against the basal area wanted and the limit on severe damage. Raises NotFound
    when there is no residual check, or none of its points holds a tree."""
    visit = file.latest(KIND)
    remedy = (
        "Bring one in: a visit of kind 'residual check' with rings, points and trees, and damage none, slight "
        "or severe for each tree."
    )
    if visit is None:
        raise NotFound(f"{file.stand.stand} has no residual check.", remedy=remedy)
    cruise = cruise_of(file, visit)
    if not cruise.trees:
        raise NotFound(f"the residual check {visit.visit} tallies no tree.", remedy=remedy)
    ba = science.basal_area_ft2(cruise.dbh_in)
    left = tallied_mean(
        "residual_ba_ft2_ac",
        "ft2/ac",
        cruise,
        ba,
        used=ba > 0,
        rules=rules,
        method="basal area of the trees that stand after the cut",
    )
    hurt, limit = _damage(cruise, rules), rules.number("damage_limit_share")
    verdicts, advice = zip(_ba_verdict(left, ba_low_ft2_ac, ba_high_ft2_ac), _damage_verdict(hurt, limit), strict=True)
    weight = ba * cruise.per_ac
    return Residual(
        visit=visit.visit,
        points=cruise.n,
        trees=len(cruise.trees),
        ba_ft2_ac=left,
        ba_low_ft2_ac=ba_low_ft2_ac,
        ba_high_ft2_ac=ba_high_ft2_ac,
        oak_ba_share=float(weight[oak_mask(cruise)].sum() / weight.sum()),
        damage_share=hurt,
        slight_share=float(_shares(cruise, "slight")),
        limit_share=limit,
        not_looked_at=sum(tree.damage == "" for tree in cruise.trees),
        verdicts=verdicts,
        advice=tuple(dict.fromkeys(advice)),
    )


def _shares(cruise: Cruise, damage: str) -> float:
    """Share of the trees looked at, each times what it stands for."""
    seen = np.array([tree.damage != "" for tree in cruise.trees])
    damaged = np.array([tree.damage == damage for tree in cruise.trees])
    return float((cruise.per_ac * damaged).sum() / max((cruise.per_ac * seen).sum(), 1e-9))


def _damage(cruise: Cruise, rules: Rules) -> Figure:
    """Share of the trees looked at that are severely hurt, a ratio over the points."""
    seen = np.array([float(tree.damage != "") for tree in cruise.trees])
    severe = np.array([float(tree.damage == "severe") for tree in cruise.trees])
    if not seen.any():
        return unmeasured("severe_damage_share", "no tree's damage was noted", "share")
    return ratio_figure(
        "severe_damage_share",
        cruise.totals(severe),
        cruise.totals(seen),
        rules=rules,
        method="severely hurt trees over trees looked at, each times what it stands for",
        inputs=(),
        sources=("field",),
        looks=int(seen.sum()),
    )


def _ba_verdict(left: Figure, low: float, high: float) -> tuple[Sentence, Sentence]:
    ends = left.ends
    if ends[1] < low:
        return sentence("ba_low"), sentence("ba_low_do")
    if ends[0] > high:
        return sentence("ba_high"), sentence("ba_high_do")
    if low <= ends[0] and ends[1] <= high:
        return sentence("ba_fits"), sentence("as_built_do")
    return sentence("ba_unsure"), sentence("more_points_do")


def _damage_verdict(hurt: Figure, limit: float) -> tuple[Sentence, Sentence]:
    if not hurt.measured:
        return sentence("damage_unknown"), sentence("damage_unknown_do")
    low, high = hurt.ends
    if low > limit:
        return sentence("damage_over"), sentence("damage_over_do")
    if high <= limit:
        return sentence("damage_within"), sentence("as_built_do")
    return sentence("damage_unsure"), sentence("more_points_do")
