"""The tally summary: volume and value of a stand on one or two pages."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.desk.timber import StandTimber
from overwood.faces.papers import press
from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.judgement.course.steps import caution


def write(found: StandTimber, on: dt.date, target: Path) -> None:
    """Write the summary as PDF."""
    press.set_pdf("tally_summary/tally.typ", content(found, on), target)


def content(found: StandTimber, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    valued = found.valued
    area = f", {measures.amount(found.area_ac, 'acres', 'g')}" if found.area_ac else ""
    return {
        "title": f"Tally summary, stand {found.stand}",
        "subtitle": f"{valued.sawtimber_bf_ac.n} points{area}, as of {on.day} {on:%B %Y}, log rule {valued.timber.log_rule}",
        "footer": "Overwood. Not an appraisal.",
        "rows": [row(line.species, line.product, line.grade, line.volume, line.value) for line in valued.lines],
        "sums": sums(found),
        "notes": ["Trees by merchantable 16-ft logs and form class, butt logs by quality as the cruiser noted it.", *valued.notes],
        "cautions": [caution("money"), caution("field")],
    }


def row(species: str, product: str, grade: str, volume: Figure, value: Figure | None) -> dict[str, str]:
    """One line of volume as plain text."""
    span = f"{volume.low:,.0f} to {volume.high:,.0f}" if volume.low is not None and volume.high is not None else ""
    places = 0 if volume.unit == "bd ft/ac" else 1
    worth = f"{value.number:,.0f}" if value else "no price"
    return {
        "species": species,
        "product": product,
        "grade": grade or "-",
        "volume": f"{volume.number:,.{places}f}",
        "span": span,
        "unit": volume.unit,
        "value": worth,
    }


def sums(found: StandTimber) -> list[str]:
    """Sawtimber by each rule and the value, as sentences."""
    lines = [
        f"Sawtimber by {rule}: {figure.number:,.0f} bd ft an acre"
        + (f", likely between {figure.low:,.0f} and {figure.high:,.0f}." if figure.low is not None and figure.high is not None else ".")
        for rule, figure in found.valued.by_rule.items()
    ]
    value = found.valued.value_usd_ac
    if value is not None and value.low is not None and value.high is not None and found.price_list is not None:
        lines.append(
            f"Value about {measures.amount(value.number, 'US$ an acre', ',.0f')}, likely between {value.low:,.0f} and {value.high:,.0f}; "
            f"prices: {found.price_list.source}, {found.price_list.date}."
        )
    if found.valued.unpriced:
        lines.append(f"Not priced, so not in the value: {', '.join(found.valued.unpriced)}.")
    return lines
