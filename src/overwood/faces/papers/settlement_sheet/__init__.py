"""The settlement after a sale: scaled against marked by species, what to look into, what the difference teaches."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.faces.papers import language, press
from overwood.faces.papers.language import ENGLISH, Text, Words
from overwood.ground import measures
from overwood.judgement.money.settlement import Settlement


def write(made: Settlement, on: dt.date, target: Path, tongue: str = ENGLISH) -> None:
    """Write the sheet as PDF."""
    press.set_pdf("settlement_sheet/sheet.typ", content(made, on, tongue), target)


def content(made: Settlement, on: dt.date, tongue: str = ENGLISH) -> dict[str, Any]:
    """Everything the template prints."""
    words = language.words("settlement_sheet", tongue)
    rows = [_row(_named(row.species, words), row, words) for row in made.rows]
    far = [row for row in made.rows if row.verdict.code != "settle_near"]
    return words.frame(
        title=words.line("title", stand=made.stand),
        heading=words.text("title", stand=made.stand),
        subtitle=words.text(
            "subtitle",
            tickets=made.tickets,
            trees=made.trees,
            marking=made.marking,
            day=on,
            rule=measures.log_rule_words(made.log_rule),
        ),
        headings={name: words.text(f"head_{name}") for name in ("rows", "look", "lessons")},
        heads=words.texts("heads"),
        rows=[*rows, _row(words.text("all"), made, words)],
        limit=words.text("limit", pct=f"{100 * made.limit_share:g}"),
        look=[words.text("look", species=row.species, text=row.verdict) for row in far],
        lessons=[words.framed("lesson", text) for text in made.lessons],
        cautions=[words.caution("money")],
        blanks=words.texts("blanks"),
    )


def _named(names: str, words: Words) -> str:
    return ", ".join(map(words.species, names.split(", ")))


def _row(name: Text, row: Any, words: Words) -> list[Text]:
    gap: Text = words.line("nothing") if row.gap_share is None else f"{100 * row.gap_share:+.0f}"
    return [name, f"{row.trees:,}", f"{row.marked_bf:,.0f}", f"{row.scaled_bf:,.0f}", gap]
