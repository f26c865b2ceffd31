"""The cut list for the logger: every marked tree in walking order, with its volume, and the totals by species."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.desk.timber import CutList, CutRow
from overwood.faces.papers import language, press
from overwood.faces.papers.language import ENGLISH
from overwood.ground import measures

_CAUTIONS = ("felling", "snags", "boundary", "season")


def write(made: CutList, on: dt.date, target: Path, tongue: str = ENGLISH) -> None:
    """Write the list as PDF."""
    press.set_pdf("cut_list/list.typ", content(made, on, tongue), target)


def content(made: CutList, on: dt.date, tongue: str = ENGLISH) -> dict[str, Any]:
    """Everything the template prints."""
    words, sale = language.words("cut_list", tongue), made.sale
    mapped = all(row.strip is not None for row in made.rows)
    sums = [[words.species(row.species), f"{row.trees:,}", f"{row.boards_bf:,.0f}"] for row in sale.species]
    return words.frame(
        title=words.line("title", stand=made.stand),
        heading=words.text("title", stand=made.stand),
        subtitle=words.text("subtitle_map" if mapped else "subtitle", trees=sale.trees, marking=sale.marking, day=on),
        headings={name: words.text(f"head_{name}") for name in ("list", "totals")},
        how=words.text("how" if mapped else "how_plain", rule=measures.log_rule_words(sale.log_rule)),
        heads=words.texts("heads" if mapped else "heads_plain"),
        mapped=mapped,
        rows=[_row(row, mapped) for row in made.rows],
        totals_heads=words.texts("totals_heads"),
        totals=[*sums, [words.text("all"), f"{sale.trees:,}", f"{sale.boards_bf:,.0f}"]],
        check=words.texts("check"),
        cautions=[words.caution(name) for name in _CAUTIONS],
    )


def _row(row: CutRow, mapped: bool) -> list[str]:
    tree = row.tree
    last = [tree.species, measures.digits(tree.dbh_in, "in.", ".1f")], [f"{tree.boards_bf:,.0f}", "□"]
    if not mapped:
        return [tree.tree, *last[0], *last[1]]
    place = [measures.digits(side, "ft") for side in (row.east_ft, row.north_ft) if side is not None]
    return [str(row.strip), tree.tree, *last[0], *place, *last[1]]
