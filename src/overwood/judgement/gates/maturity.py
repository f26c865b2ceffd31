"""Thin, wait or regenerate: the evidence for each, by rules that all stand in the rulebook."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from overwood.ground.doubt import Doubt
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.ground.species import by_code
from overwood.judgement.evidence import layers, tally
from overwood.judgement.gates import Figures
from overwood.judgement.reason import Reason
from overwood.judgement.rules import Rule, Rules

# Digits of the share of a species beyond which two are as heavy as each other.
SHARE_DIGITS = 9
_ROTATION = {
    802: "white_oak", 833: "northern_red_oak", 837: "black_oak", 806: "scarlet_oak", 832: "chestnut_oak",
    621: "yellow_poplar",
}  # fmt: skip


@dataclass(frozen=True)
class Maturity:
    """The judgement and its reasons, each with the rule it rests on."""

    verdict: str
    reasons: tuple[Reason, ...]
    against: tuple[Doubt, ...]
    rules: tuple[str, ...]


@dataclass(frozen=True)
class Rotation:
    """Rotation of the main species, and how much of the overwood is past its own."""

    main: str
    years: float
    past_share: float
    past: tuple[str, ...]
    assumed: tuple[str, ...] = ()


def rotation_of(weight: Mapping[int, float], rules: Rules, age_yr: float) -> Rotation:
    """Weigh the overwood by species (``overwood_by_species``) against each species' own rotation age."""
    total = sum(weight.values())
    if not total:
        return Rotation("unknown", rules.number("rotation_other_yr"), 0.0, ())
    years = {code: _rotation_rule(code, rules).number for code in weight}
    # Prism points make ties: of species as heavy as each other the one with the shorter rotation, whatever the order of
    # the tally.
    main = max(weight, key=lambda code: (round(weight[code] / total, SHARE_DIGITS), -years[code], -code))
    past = sorted((code for code in weight if age_yr >= years[code]), key=lambda code: -weight[code])
    share = sum(weight[code] for code in past) / total
    named = tuple(f"{by_code(code).common_name} ({years[code]:.0f})" for code in past if weight[code] / total >= 0.05)
    guessed = sorted(
        {f"{by_code(code).common_name}" for code in past if _rotation_rule(code, rules).status == "assumption"}
    )
    return Rotation(by_code(main).common_name, years[main], share, named, tuple(guessed))


def rotation_name(code: int) -> str:
    """The rule that holds the rotation age of a species."""
    return f"rotation_{_ROTATION.get(code, 'other')}_yr"


def _rotation_rule(code: int, rules: Rules) -> Rule:
    return rules[rotation_name(code)]


def overwood_by_species(file: StandFile, rules: Rules) -> dict[int, float]:
    """Overwood of the latest cruise by species code, as the sum of squared diameters an acre [in2/ac]."""
    visit = file.latest("cruise")
    if visit is None:
        return {}
    cruise = tally.cruise_of(file, visit)
    overwood = layers.overwood_mask(cruise, rules)
    return layers.once_by_sizes(cruise, rules, "overwood by species", lambda: _by_species(cruise, overwood))


def _by_species(cruise: tally.Cruise, overwood: tally.Mask) -> dict[int, float]:
    weight: dict[int, float] = defaultdict(float)
    for code, dbh, per_ac in zip(
        *(each[overwood].tolist() for each in (cruise.spcd, cruise.dbh_in, cruise.per_ac)), strict=True
    ):
        weight[code] += dbh**2 * per_ac
    return dict(weight)


def judge(file: StandFile, figures: Figures, rules: Rules, weights: Mapping[int, float] | None = None) -> Maturity:
    """Weigh age, size, stocking, decline and oak share; ``weights`` are the overwood by species, where they are at
    hand."""
    age, weight = figures["age_yr"], overwood_by_species(file, rules) if weights is None else weights
    rotation = rotation_of(weight, rules, age.number if age.measured else 0.0)
    reasons, doubts = _for_regenerating(figures, rules, age, rotation)
    used = (
        "mature_age_yr",
        "past_rotation_share",
        "mature_large_share",
        "decline_share",
        "c_line_below_b_ft2_ac",
        "thin_above_pct",
        "thin_youngest_yr",
        "thin_years_before_rotation",
        *sorted({rotation_name(code) for code in weight}),
    )
    if reasons:
        return Maturity("regenerate", tuple(reasons), tuple(doubts), used)
    thin, why_not = _for_thinning(figures, rules, age, rotation.years)
    if thin:
        return Maturity("thin", tuple(thin), tuple(doubts), used)
    return Maturity("wait", tuple(why_not), tuple(doubts), used)


def _for_regenerating(
    figures: Figures, rules: Rules, age: Figure, rotation: Rotation
) -> tuple[list[Reason], list[Doubt]]:
    reasons: list[Reason] = []
    doubts: list[Doubt] = []
    mature = rules.number("mature_age_yr")
    large, middle = figures["large_share"], figures["middle_share"]
    big, few = rules.number("mature_large_share"), rules.number("mature_middle_share")
    thick, medium = rules.number("mature_large_dbh_in"), rules.number("mature_middle_dbh_in")
    sizes = Reason("mature_sizes", {"large": large.number, "middle": middle.number, "thick": thick, "medium": medium})
    if not age.measured:
        doubts.append(Doubt("age_unknown"))
    elif rotation.past_share >= rules.number("past_rotation_share"):
        past = {"age_yr": age.number, "share": rotation.past_share, "species": ", ".join(rotation.past)}
        # Which of the rotation ages that decide nobody published.
        assumed = {"assumed": ", ".join(rotation.assumed)} if rotation.assumed else {}
        reasons.append(Reason("past_rotation_assumed" if assumed else "past_rotation", past | assumed))
    elif age.number > mature and large.measured and large.number >= big and middle.number <= few:
        reasons.append(Reason("mature_by_rule", {"age_yr": age.number, "sizes": sizes}))
    else:
        doubts.append(
            Doubt("before_rotation", {"age_yr": age.number, "species": rotation.main, "rotation_yr": rotation.years})
        )
    if large.measured and not (large.number >= big and middle.number <= few):
        doubts.append(Doubt("small_sizes", {"sizes": sizes}))
    decline = figures["declining_share"]
    if decline.measured and decline.number > rules.number("decline_share"):
        dieback = rules.number("decline_dieback_pct")
        reasons.append(Reason("declining", {"share": decline.number, "limit": dieback}))
    ba, c_line = figures["overwood_ba_ft2_ac"], figures["c_line_ba_ft2_ac"]
    if ba.measured and c_line.measured and ba.number < c_line.number:
        reasons.append(Reason("under_c_line", {"ba": ba.number, "c_line": c_line.number}))
    return reasons, doubts


def _for_thinning(figures: Figures, rules: Rules, age: Figure, rotation: float) -> tuple[list[Reason], list[Reason]]:
    stocking, above = figures["overwood_stocking_pct"], rules.number("thin_above_pct")
    if not stocking.measured:
        return [], [Reason("stocking_unknown")]
    if stocking.number < above:
        return [], [Reason("stocking_low", {"stocking": stocking.number, "limit": above})]
    if age.measured and age.number < rules.number("thin_youngest_yr"):
        return [], [Reason("too_young_to_thin", {"age_yr": age.number})]
    before = rules.number("thin_years_before_rotation")
    if age.measured and age.number > rotation - before:
        return [], [Reason("near_rotation", {"age_yr": age.number, "years": before})]
    crowded = {"stocking": stocking.number, "b_line": figures["b_line_ba_ft2_ac"].number}
    if not age.measured:
        return [Reason("crowded_age_unknown", crowded)], []
    ba = figures["overwood_ba_ft2_ac"].number
    return [Reason("crowded", crowded | {"ba": ba, "age_yr": age.number})], []
