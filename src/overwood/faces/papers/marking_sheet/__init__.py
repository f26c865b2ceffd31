"""The marking sheet for the crew: what stays and why, the floor before and after, the list of leave trees; or the rule."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from overwood.desk import marking as desk
from overwood.faces.papers import light_map, press
from overwood.ground.figure import Figure
from overwood.judgement.course.steps import caution
from overwood.judgement.leave_rule import RuleSheet
from overwood.judgement.light_gain import StateLight

_CAUTIONS = ("felling", "snags", "boundary", "herbicide", "field")


def write(marked: desk.Marked, on: dt.date, target: Path) -> None:
    """Write the sheet of a marked stem map as PDF."""
    press.set_pdf("marking_sheet/map.typ", content(marked, on), target)


def write_rule(rule: RuleSheet, drawn: Sequence[StateLight], on: dt.date, target: Path, snags: str = "") -> None:
    """Write the rule sheet of a stand without a map as PDF."""
    press.set_pdf("marking_sheet/rule.typ", rule_content(rule, drawn, on, snags), target)


def content(marked: desk.Marked, on: dt.date) -> dict[str, Any]:
    """Everything the template of a map prints."""
    block, made = marked.block, marked.marking
    everything = np.ones(len(block.stems), dtype=bool)
    return {
        "title": f"Marking sheet, stand {marked.stand}",
        "subtitle": f"Stem map {block.visit}, {block.acres:.1f} acres, as of {on.day} {on:%B %Y}",
        "footer": "Overwood. Mark what you see in the crown, not only what the list says.",
        "before": press.svg(light_map.chart(block, made.light_before, everything, side_px=300)),
        "after": press.svg(light_map.chart(block, made.light_after, made.leave, side_px=300)),
        "plans": [
            press.svg(light_map.chart(block, made.light_after, made.leave, side_px=620, numbers=True, panel=panel))
            for panel in light_map.panels(block)
        ],
        "sums": _sums(marked),
        "rows": [_row(row) for row in desk.tree_rows(marked) if row["call"] == "leave"],
        "cautions": _cautions(marked.snags),
    }


def _cautions(snags: str) -> list[str]:
    """The usual cautions, led by stems injected here before."""
    return [*([snags] if snags else []), *(caution(name) for name in _CAUTIONS)]


def _row(row: dict[str, str | float]) -> dict[str, str]:
    return {name: f"{value:.1f}" if isinstance(value, float) else str(value) for name, value in row.items()}


def _sums(marked: desk.Marked) -> list[str]:
    made, wants = marked.marking, marked.wants
    after, later = made.light_after, marked.later
    lines = [
        f"Leave {int(made.leave.sum())} trees, {made.leave_trees_ac:.0f} an acre, {made.residual_ba_ft2_ac:.0f} ft2 of basal area an acre.",
        f"The floor gets {after.mean_pct:.0f} % of full sun ({after.wide_pct:.0f} if crowns are wider than drawn, {after.narrow_pct:.0f} if "
        f"narrower); {after.share_in_band:.0%} of the ground lies between {wants.light_low_pct:g} and {wants.light_high_pct:g} %.",
        f"{marked.years} years on, as crowns close: about {later.mean_pct:.0f} % ({marked.later_range_pct[0]:.0f} to {marked.later_range_pct[1]:.0f}). Season's light of sky and sun, as a share of open level ground.",
        f"To be sold: about {made.sale_bf_ac:,.0f} board feet an acre ({made.log_rule}, logs assumed from dbh; not for the contract).",
        f"A leave oak is within reach of {made.seed_cover_share:.0%} of the ground.",
        f"Chosen by a search of {made.moves:,} moves, seed {made.seed}. Score: crown, acorns, species, health, stem; parts are in the tree list.",
    ]
    return [*lines, *(f"Short of what was wanted: {text}." for text in made.shortfalls)]


def rule_content(rule: RuleSheet, drawn: Sequence[StateLight], on: dt.date, snags: str = "") -> dict[str, Any]:
    """Everything the template of a rule prints."""
    return {
        "title": f"Marking rule, stand {rule.stand}",
        "subtitle": f"Tried on the cruise {rule.visit}, as of {on.day} {on:%B %Y}; there is no stem map",
        "footer": "Overwood. Mark what you see in the crown, not only what the rule says.",
        "leave": rule.leave,
        "take": rule.take,
        "rows": [{name: value if isinstance(value, str) else f"{value:.1f}" for name, value in vars(row).items()} for row in rule.rows],
        "sums": [
            _said("Left", rule.leave_ba_ft2_ac),
            _said("Trees left", rule.leave_trees_ac),
            _said("Taken of the main canopy", rule.take_ba_ft2_ac),
            _said("Light afterwards", rule.light_pct),
            *(f"Light {one.state}: {one.mean_pct:.0f} % of full sun, {one.low_pct:.0f} to {one.high_pct:.0f}." for one in drawn[:2]),
            *([f"{rule.light_pct.note}."] if rule.light_pct.note else []),
            *(f"Short of what was wanted: {text}." for text in rule.shortfalls),
        ],
        "cautions": _cautions(snags),
    }


def _said(what: str, figure: Figure) -> str:
    if not figure.measured:
        return f"{what}: not known."
    span = f", likely between {figure.low:.0f} and {figure.high:.0f}" if figure.low is not None and figure.high is not None else ""
    return f"{what}: {figure.number:.0f} {figure.unit}{span}."
