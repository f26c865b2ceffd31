"""Where a stand is on its course, from what has been done to it, and what it is in one line."""

from __future__ import annotations

from overwood.ground import measures
from overwood.ground.records import Operation, StandFile
from overwood.ground.vocabulary import CUT_KINDS, OPENING_KINDS, REMOVAL_KINDS
from overwood.judgement.gates import Figures
from overwood.judgement.rules import Rules

STAGES = ("untreated", "midstory treated", "opened", "released")


def stage(file: StandFile) -> str:
    """untreated, midstory treated, opened (a seed cut was made) or released (the overwood is off)."""
    if file.done(*REMOVAL_KINDS):
        return "released"
    if file.done(*OPENING_KINDS):
        return "opened"
    return "midstory treated" if file.done("injection") else "untreated"


def last_cut(file: StandFile) -> Operation | None:
    cuts = file.done(*CUT_KINDS)
    return cuts[-1] if cuts else None


def describe(file: StandFile, figures: Figures, rules: Rules, maturity: str) -> str:
    """What the stand is, in one line of the trade's words."""
    if not figures["overwood_ba_ft2_ac"].measured:
        return "not cruised"
    if stage(file) == "released":
        cut = last_cut(file)
        year = f" of {cut.started_on.year}" if cut else ""
        return (
            f"young stand after the cut{year}, "
            f"{measures.amount(figures['overwood_ba_ft2_ac'].number, 'ft2/ac')} of old trees left"
        )
    age = figures["age_yr"]
    size = {"regenerate": "mature", "thin": "immature", "wait": "growing"}[maturity]
    kind = "oak" if figures["oak_share"].number >= rules.number("oak_share_for_oak_stand") else "mixed hardwood"
    words = [f"{size} {kind}"]
    if stage(file) == "opened":
        words = [f"shelterwood-cut {kind}"]
    if age.measured:
        words.append(f"{age.number:.0f} yr")
    words.append(f"{measures.amount(figures['overwood_ba_ft2_ac'].number, 'ft2/ac')}")
    words.append(f"{figures['overwood_stocking_pct'].number:.0f}% stocked")
    words.append(f"oak {figures['oak_share'].number:.0%}")
    return ", ".join(words)
