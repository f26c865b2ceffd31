"""The tally summary: volume and value of a stand on one or two pages."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from overwood.desk.timber import StandTimber
from overwood.faces.papers import press
from overwood.faces.telling import figures
from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.judgement.course.steps import caution
from overwood.judgement.evidence.timber import SpeciesSum


def write(stand_timber: StandTimber, on: dt.date, target: Path) -> None:
    """Write the summary as PDF."""
    press.set_pdf("tally_summary/tally.typ", content(stand_timber, on), target)


def content(stand_timber: StandTimber, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    valued = stand_timber.valued
    area = f", {measures.with_us(stand_timber.area_ac, 'acres', 'g')}" if stand_timber.area_ac else ""
    return {
        "title": f"Tally summary, stand {stand_timber.stand}",
        "subtitle": (
            f"{valued.sawtimber_bf_ac.n} points{area}, as of {on.day} {on:%B %Y}, log rule "
            f"{measures.log_rule_words(valued.timber.log_rule)}"
        ),
        "footer": "Overwood. Not an appraisal.",
        "rows": [row(line.species, line.product, line.grade, line.volume, line.value) for line in valued.lines],
        "species": [_species(one) for one in valued.species],
        "sums": sums(stand_timber),
        "area": measures.unit_word("An acre"),
        "boards_unit": measures.unit_word("bd ft/ac"),
        "money_unit": measures.unit_word("US$/ac"),
        "notes": [
            f"Trees by merchantable {measures.digits(16, 'ft', 'g')}-{measures.unit_word('ft')} logs and "
            "form class, butt logs by quality as the cruiser noted it.",
            *valued.notes,
        ],
        "cautions": [caution("money"), caution("field")],
    }


def row(species: str, product: str, grade: str, volume: Figure, value: Figure | None) -> dict[str, str]:
    """One line of volume as plain text."""
    low, high = ("" if end is None else measures.digits(end, volume.unit, ",.0f") for end in (volume.low, volume.high))
    places = 0 if volume.unit == "bd ft/ac" else 1
    worth = measures.digits(value.number, "US$/ac", ",.0f") if value else "no price"
    return {
        "species": species,
        "product": product,
        "grade": grade or "-",
        "volume": measures.digits(volume.number, volume.unit, f",.{places}f"),
        "span": f"{low} to {high}" if low and high else "",
        "unit": measures.unit_word(volume.unit),
        "value": worth,
    }


def _species(one: SpeciesSum) -> dict[str, str]:
    """One species in sum as plain text."""
    boards, span, _ = figures.shown(one.boards)
    worth, likely, _ = figures.shown(one.value) if one.value else ("no price", "", "")
    return {"species": one.species, "boards": boards, "span": span, "value": worth, "likely": likely}


def sums(stand_timber: StandTimber) -> list[str]:
    """Sawtimber by each rule and the value, as sentences."""
    lines = [
        f"Sawtimber by {measures.log_rule_words(rule)}: {measures.amount(figure.number, 'bd ft an acre', ',.0f')}"
        + (
            (
                f", likely between {measures.digits(figure.low, 'bd ft/ac', ',.0f')} and "
                f"{measures.digits(figure.high, 'bd ft/ac', ',.0f')}."
            )
            if figure.low is not None and figure.high is not None
            else "."
        )
        for rule, figure in stand_timber.valued.by_rule.items()
    ]
    value = stand_timber.valued.value_usd_ac
    if value is not None and value.low is not None and value.high is not None and stand_timber.price_list is not None:
        lines.append(
            f"Value about {measures.amount(value.number, 'US$ an acre', ',.0f')}, likely between "
            f"{measures.digits(value.low, 'US$/ac', ',.0f')} and "
            f"{measures.digits(value.high, 'US$/ac', ',.0f')}; "
            f"prices: {stand_timber.price_list.source}, {stand_timber.price_list.date}."
        )
    for figure in stand_timber.totals:
        amount, span, unit = figures.shown(figure)
        area = measures.with_us(stand_timber.area_ac or 0.0, "acres", "g")
        lines.append(f"On all {area}, taken as known: {amount} {unit}, likely between {span.replace(' to ', ' and ')}.")
    if stand_timber.valued.unpriced:
        lines.append(f"Not priced, so not in the value: {', '.join(stand_timber.valued.unpriced)}.")
    return lines
