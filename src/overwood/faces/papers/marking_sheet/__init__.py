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


def write(found: desk.Marked, on: dt.date, target: Path) -> None:
    """Write the sheet of a marked stem map as PDF."""
    press.set_pdf("marking_sheet/map.typ", content(found, on), target)


def write_rule(found: RuleSheet, drawn: Sequence[StateLight], on: dt.date, target: Path, snags: str = "") -> None:
    """Write the rule sheet of a stand without a map as PDF."""
    press.set_pdf("marking_sheet/rule.typ", rule_content(found, drawn, on, snags), target)


def content(found: desk.Marked, on: dt.date) -> dict[str, Any]:
    """Everything the template of a map prints."""
    block, made = found.block, found.marking
    everything = np.ones(len(block.stems), dtype=bool)
    return {
        "title": f"Marking sheet, stand {found.stand}",
        "subtitle": f"Stem map {block.visit}, {block.acres:.1f} acres, as of {on.day} {on:%B %Y}",
        "footer": "Overwood. Mark what you see in the crown, not only what the list says.",
        "before": press.svg(light_map.chart(block, made.light_before, everything, side_px=300)),
        "after": press.svg(light_map.chart(block, made.light_after, made.leave, side_px=300)),
        "plans": [
            press.svg(light_map.chart(block, made.light_after, made.leave, side_px=620, numbers=True, panel=panel))
            for panel in light_map.panels(block)
        ],
        "sums": _sums(found),
        "rows": [_row(row) for row in desk.tree_rows(found) if row["call"] == "leave"],
        "cautions": _cautions(found.snags),
    }


def _cautions(snags: str) -> list[str]:
    """The usual cautions, led by stems injected here before."""
    return [*([snags] if snags else []), *(caution(name) for name in _CAUTIONS)]


def _row(row: dict[str, str | float]) -> dict[str, str]:
    return {name: f"{value:.1f}" if isinstance(value, float) else str(value) for name, value in row.items()}


def _sums(found: desk.Marked) -> list[str]:
    made, wants = found.marking, found.wants
    after, later = made.light_after, found.later
    lines = [
        f"Leave {int(made.leave.sum())} trees, {made.leave_trees_ac:.0f} an acre, {made.residual_ba_ft2_ac:.0f} ft2 of basal area an acre.",
        f"The floor gets {after.mean_pct:.0f} % of full sun ({after.wide_pct:.0f} if crowns are wider than drawn, {after.narrow_pct:.0f} if "
        f"narrower); {after.share_in_band:.0%} of the ground lies between {wants.light_low_pct:g} and {wants.light_high_pct:g} %.",
        f"{found.years} years on, as crowns close: about {later.mean_pct:.0f} % ({found.later_range_pct[0]:.0f} to {found.later_range_pct[1]:.0f}). Season's light of sky and sun, as a share of open level ground.",
        f"To be sold: about {made.sale_bf_ac:,.0f} board feet an acre ({made.log_rule}, logs assumed from dbh; not for the contract).",
        f"A leave oak is within reach of {made.seed_cover_share:.0%} of the ground.",
        f"Chosen by a search of {made.moves:,} moves, seed {made.seed}. Score: crown, acorns, species, health, stem; parts are in the tree list.",
    ]
    return [*lines, *(f"Short of what was wanted: {text}." for text in made.shortfalls)]


def rule_content(found: RuleSheet, drawn: Sequence[StateLight], on: dt.date, snags: str = "") -> dict[str, Any]:
    """Everything the template of a rule prints."""
    return {
        "title": f"Marking rule, stand {found.stand}",
        "subtitle": f"Tried on the cruise {found.visit}, as of {on.day} {on:%B %Y}; there is no stem map",
        "footer": "Overwood. Mark what you see in the crown, not only what the rule says.",
        "leave": found.leave,
        "take": found.take,
        "rows": [{name: value if isinstance(value, str) else f"{value:.1f}" for name, value in vars(row).items()} for row in found.rows],
        "sums": [
            _said("Left", found.leave_ba_ft2_ac),
            _said("Trees left", found.leave_trees_ac),
            _said("Taken of the main canopy", found.take_ba_ft2_ac),
            _said("Light afterwards", found.light_pct),
            *(f"Light {one.state}: {one.mean_pct:.0f} % of full sun, {one.low_pct:.0f} to {one.high_pct:.0f}." for one in drawn[:2]),
            *([f"{found.light_pct.note}."] if found.light_pct.note else []),
            *(f"Short of what was wanted: {text}." for text in found.shortfalls),
        ],
        "cautions": _cautions(snags),
    }


def _said(what: str, figure: Figure) -> str:
    if not figure.measured:
        return f"{what}: not known."
    span = f", likely between {figure.low:.0f} and {figure.high:.0f}" if figure.low is not None and figure.high is not None else ""
    return f"{what}: {figure.number:.0f} {figure.unit}{span}."
