"""The sheet for the check after a cut: what should stand, how to look, what the last check showed, and lines to write
on."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.desk.marking import AfterCut
from overwood.faces.papers import language, press
from overwood.faces.papers.language import ENGLISH, Part, Text, Words
from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.judgement.marking.residual_check import Residual

_LINES = 20


def write(after: AfterCut, on: dt.date, target: Path, tongue: str = ENGLISH) -> None:
    """Write the sheet as PDF."""
    press.set_pdf("residual_sheet/sheet.typ", content(after, on, tongue), target)


def content(after: AfterCut, on: dt.date, tongue: str = ENGLISH) -> dict[str, Any]:
    """Everything the template prints."""
    words = language.words("residual_sheet", tongue)
    check = after.check
    return words.frame(
        title=words.line("title", stand=after.stand),
        heading=words.text("title", stand=after.stand),
        subtitle=words.text("subtitle", name=after.name, day=on),
        headings={name: words.text(f"head_{name}") for name in ("wanted", "how", "next", "tally")},
        wanted=[
            words.text("wanted_ba", low=f"{after.ba_low_ft2_ac:g}", high=f"{after.ba_high_ft2_ac:g}")
            if after.ba_low_ft2_ac
            else words.text("wanted_off", most=f"{after.ba_high_ft2_ac:g}"),
            words.text("wanted_damage", pct=f"{100 * after.limit_share:g}"),
        ],
        how=[words.text(name) for name in ("how_points", "how_damage", "how_type")],
        head_found=words.text("head_found", day=after.checked_on) if check else "",
        seen=_seen(check, words) if check else [],
        next=[words.sentence(text) for text in check.advice] if check else [],
        cautions=[words.caution(name) for name in ("snags", "felling", "money")],
        heads=words.texts("heads"),
        lines=_LINES,
        blanks=words.texts("blanks"),
    )


def _seen(check: Residual, words: Words) -> list[Text]:
    ba, damage = check.verdicts
    hurt = check.damage_share
    return [
        words.text(
            "seen_ba", value=measures.digits(check.ba_ft2_ac.number, "ft2/ac"), span=_span(check.ba_ft2_ac), verdict=ba
        ),
        words.text("seen_damage", value=f"{100 * hurt.number:.0f}", span=_span(hurt, 100.0), verdict=damage)
        if hurt.measured
        else words.text("seen_damage_unknown", verdict=damage),
        words.text("seen_oak", pct=f"{100 * check.oak_ba_share:.0f}"),
        *([words.text("seen_missing", trees=check.not_looked_at)] if check.not_looked_at else []),
    ]


def _span(figure: Figure, scale: float = 1.0) -> Part:
    """The interval of a figure as part of a text."""
    if figure.low is None or figure.high is None:
        return Part("no_span")
    low, high = (measures.digits(scale * end, figure.unit) for end in (figure.low, figure.high))
    return Part("span", {"low": low, "high": high})
