"""The notice for sealed bids: what is for sale, where, and the terms that an attorney completes."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.faces.papers import outline, press
from overwood.ground import measures, tables
from overwood.ground.records import StandFile
from overwood.ground.units import BF_PER_MBF
from overwood.judgement.course.steps import caution
from overwood.judgement.money.sale import Sale, SaleLine
from overwood.judgement.net_ground import kept_out

_CLASS_IN = 4
# The log by which the form class and the volume tables count.
_LOG_FT = 16
_BLANKS = ("Bidder", "Address", "Lump sum, or price for each product", "Signature and date")


def _words() -> dict[str, Any]:
    return tables.words("faces/papers/sale_notice/words.toml")


def write(sale: Sale, file: StandFile, on: dt.date, target: Path) -> None:
    """Write the notice as PDF."""
    press.set_pdf("sale_notice/notice.typ", content(sale, file, on), target)


def content(sale: Sale, file: StandFile, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    words = _words()
    shape, scale = outline.of_stand(file)
    owner = file.property.name if file.property else file.stand.property
    return {
        "title": "Timber for sale by sealed bids",
        "subtitle": (
            f"Stand {sale.stand} of {owner}, {on.day} {on:%B %Y}. Draft: not an offer until the seller signs it."
        ),
        "footer": "Overwood. Volumes are estimates, not guarantees; not an appraisal.",
        "invite": words["invite"],
        "tract": _tract(sale, file),
        "map": shape,
        "scale": scale,
        "rows": [
            {
                "species": line.species,
                "product": line.product,
                "grade": line.grade or "-",
                "trees": f"{line.trees:,}",
                **_total(line),
            }
            for line in sale.lines
        ],
        "sums": [
            {"species": row.species, "trees": f"{row.trees:,}", "boards": f"{row.boards_bf / BF_PER_MBF:,.1f}"}
            for row in sale.species
        ]
        + [{"species": "In all", "trees": f"{sale.trees:,}", "boards": f"{sale.boards_bf / BF_PER_MBF:,.1f}"}],
        "classes": _classes(sale),
        "dbh_head": f"dbh, {measures.unit_word('in.')}",
        "rule": measures.log_rule_words(sale.log_rule),
        "volume_note": _volume_note(sale),
        "terms": [{"item": item, "text": text or "to be completed"} for item, text in words["terms"]],
        "conditions": words["conditions"],
        "cautions": [caution(name) for name in ("felling", "boundary", "season", "snags", "money")],
        "blanks": list(_BLANKS),
    }


def _classes(sale: Sale) -> list[list[str]]:
    """Trees and board feet by species and diameter, in classes of 4 inches, in order."""
    sums: dict[tuple[str, int], list[float]] = {}
    for tree in sale.each_tree:
        low = int(tree.dbh_in // _CLASS_IN) * _CLASS_IN
        row = sums.setdefault((tree.species, low), [0.0, 0.0])
        row[0], row[1] = row[0] + 1, row[1] + tree.boards_bf
    return [
        [species, measures.limits(f"{low}-{low + _CLASS_IN}", "in."), f"{trees:.0f}", f"{boards / BF_PER_MBF:,.1f}"]
        for (species, low), (trees, boards) in sorted(sums.items())
    ]


def _total(line: SaleLine) -> dict[str, str]:
    """What the marked trees hold, board feet in thousands."""
    if line.unit == "bd ft":
        return {"total": f"{line.amount / BF_PER_MBF:,.1f}", "unit": "MBF"}
    return {"total": measures.digits(line.amount, line.unit, ",.1f"), "unit": measures.unit_word(line.unit)}


def _tract(sale: Sale, file: StandFile) -> list[str]:
    stand = file.stand
    parts = [
        f"Stand {stand.stand} {stand.name}",
        measures.with_us(stand.area_ac, "acres", "g") if stand.area_ac else "acreage to be completed",
    ]
    if stand.slope_pct is not None:
        parts.append(f"slope about {stand.slope_pct:g}%")
    logs = f"{measures.amount(_LOG_FT, 'ft', 'g').replace(' ', '-')} logs"
    parts.append(f"log rule {measures.log_rule_words(sale.log_rule)}, trees by {logs} and form class")
    if sale.mapped_ac is not None:
        mapped = measures.with_us(sale.mapped_ac, "acres", ".1f")
        parts.append(f"the marked trees stand on {mapped} of it that were mapped tree by tree")
    parts.append(f"for sale: {sale.trees} marked trees, by {sale.marking}, and no other tree")
    return [*parts, *kept_out(file)]


def _volume_note(sale: Sale) -> str:
    others = ", ".join(
        f"{boards / BF_PER_MBF:,.1f} MBF by {measures.log_rule_words(rule)}"
        for rule, boards in sale.by_rule.items()
        if rule != sale.log_rule
    )
    return (
        f"Sawtimber of the marked trees {sale.boards_bf / BF_PER_MBF:,.1f} MBF by "
        f"{measures.log_rule_words(sale.log_rule)} ({others}). Every marked tree is "
        "counted once, so there is no sampling error; logs and form that were not measured are assumed, as noted: "
        + "; ".join(sale.notes)
        + "."
    )
