"""The written prescription: the paper a silviculturist signs."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from pathlib import Path
from typing import Any

from overwood.desk.prescription import Prescription, Treatment, Wanted
from overwood.faces.papers import outline, press
from overwood.faces.papers.owner_brief import sentence, sources_of
from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.ground.vocabulary import as_written
from overwood.judgement.course.steps import caution
from overwood.judgement.evidence.stock import StockTable
from overwood.judgement.gates import GATES

_MOST_SPECIES, _MOST_COURSES = 12, 6


def write(prescription: Prescription, on: dt.date, target: Path) -> None:
    """Write the prescription as PDF."""
    press.set_pdf("prescription/prescription.typ", content(prescription, on), target)


def content(prescription: Prescription, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    advice, stand, owner = prescription.advice, prescription.file.stand, prescription.file.property
    shape, scale = outline.of_stand(prescription.file)
    return {
        "title": f"Prescription, stand {prescription.stand}",
        "subtitle": f"{advice.name}, {owner.name if owner and owner.name else stand.property}"
        + (f", {measures.with_us(stand.area_ac, 'acres', 'g')}" if stand.area_ac else ", acreage to be completed")
        + f"; {on.day} {on:%B %Y}",
        "footer": (
            f"Overwood, rulebook {advice.rulebook_version}. A draft until it is signed; not an appraisal and "
            "not a promise."
        ),
        "objective": owner.objective
        if owner and owner.objective
        else "No aim of the owner is written down: ask, and write it down, before this is signed.",
        "place": _place(prescription),
        "map": shape,
        "scale": scale,
        "found": [
            sentence(advice.what_it_is),
            sentence(f"How firm the next step is: {advice.firm.words}"),
            *(sentence(doubt.words) for doubt in advice.doubts),
        ],
        "stock": _stock(prescription.stock) if prescription.stock else None,
        "floor": _floor(prescription.floor),
        "wanted": [_wanted(row) for row in prescription.wanted],
        "why": [sentence(text) for text in advice.why],
        "set_aside": [
            {"choice": sentence(choice), "because": sentence(because)} for choice, because in advice.set_aside
        ],
        "courses": _courses(prescription),
        "area": measures.unit_word("an acre"),
        "money_unit": measures.unit_word("US$/ac"),
        "courses_note": _courses_note(prescription),
        "money": _money(prescription),
        "money_note": _money_note(prescription),
        "treatments": [_treatment(number, row) for number, row in enumerate(prescription.treatments, start=1)],
        "guide": {name: [sentence(text) for text in texts] for name, texts in prescription.guide.items()},
        "noted": [sentence(text) for text in (*prescription.ground, *prescription.noted)]
        or ["Nothing of the kind is noted for this stand."],
        "not_looked_up": [sentence(f"not done yet: {text}") for text in prescription.not_looked_up],
        "watched": [{"what": row.what, "when": row.when, "opens": row.opens} for row in prescription.watched],
        "would_change": [sentence(text) for text in advice.would_change] or ["A fresh look at the stand."],
        "cautions": _cautions(prescription),
        "sources": sources_of(advice.figures),
    }


def _place(prescription: Prescription) -> list[str]:
    stand = prescription.file.stand
    place = (
        f"slope {stand.slope_pct:g}%" if stand.slope_pct is not None else "slope not noted",
        f"aspect {stand.aspect_deg:g} degrees"
        if stand.aspect_deg is not None
        else "aspect not noted"
        if stand.slope_pct
        else "level",
        _site(prescription.advice.figures["site_index_ft"]),
        _age(prescription.advice.figures["age_yr"]),
    )
    return [sentence("; ".join(place)), *([sentence(stand.note)] if stand.note else [])]


def _site(figure: Figure) -> str:
    return (
        f"site index {measures.amount(figure.number, 'ft')} at 50 years" if figure.measured else "site index not known"
    )


def _age(figure: Figure) -> str:
    return f"about {figure.number:.0f} years old" if figure.measured else "age not known"


def _span(figure: Figure, places: int = 0) -> str:
    """A figure with its interval: '139.9 (122 to 162)', '12% (7 to 21)'."""
    if not figure.measured:
        return "not measured"
    scale = 100 if figure.unit == "share" else 1
    number, *span = (
        measures.digits(scale * one, figure.unit, f",.{places}f")
        for one in (figure.number, figure.low, figure.high)
        if one is not None
    )
    ends = f" ({span[0]} to {span[1]})" if len(span) == 2 else ""
    return measures.with_unit(number, "%" if figure.unit == "share" or figure.unit.startswith("%") else "", ends)


def _stock(table: StockTable) -> dict[str, Any]:
    limits = [measures.digits(low, "in.", "g") for low in table.classes_in]
    sizes = [*(f"{low}-{after}" for low, after in pairwise(limits)), f"{limits[-1]}+"]
    shown, rest = table.rows[:_MOST_SPECIES], table.rows[_MOST_SPECIES:]
    rows = [
        [row.species, *map(_trees, row.trees_ac), _span(row.all_trees_ac), _span(row.ba_ft2_ac, 1)] for row in shown
    ]
    if rest:
        cells = [sum(row.trees_ac[place] for row in rest) for place in range(len(sizes))]
        sums = [
            measures.digits(sum(getattr(row, name).number for row in rest), unit, f".{places}f")
            for name, unit, places in (("all_trees_ac", "trees/ac", 0), ("ba_ft2_ac", "ft2/ac", 1))
        ]
        rows.append([f"{len(rest)} more species", *map(_trees, cells), *sums])
    heads = ["Species", *sizes, f"All, {measures.unit_word('trees/ac')}", f"Basal area, {measures.unit_word('ft2/ac')}"]
    return {
        "visit": table.visit,
        "heads": heads,
        "rows": rows,
        "dbh_unit": measures.unit_word("inches"),
        "area": measures.unit_word("an acre"),
    }


def _trees(cell: float) -> str:
    return measures.digits(cell, "trees/ac") if cell else "-"


def _floor(classes: dict[str, dict[str, Figure]]) -> dict[str, Any] | None:
    if not classes:
        return None
    heights = list(next(iter(classes.values())))
    return {
        "heads": ["Kind", *map(as_written, heights)],
        "height_unit": "" if measures.is_metric() else " in feet",
        "area": measures.unit_word("an acre"),
        "rows": [
            [kind, *(_span(prescription[height]) for height in heights)] for kind, prescription in classes.items()
        ],
    }


def _wanted(row: Wanted) -> dict[str, str]:
    unit = measures.unit_word(row.now.unit)
    # A percent sign stands at the number already.
    unit = "" if unit == "share" else f" {unit.removeprefix('%').strip()}"
    return {
        "what": row.what,
        "wanted": row.wanted,
        "now": f"{_span(row.now, 1 if row.now.unit == 'ft' else 0)}{unit if row.now.measured else ''}",
        "rule": row.rule,
    }


def _courses(prescription: Prescription) -> list[list[str]]:
    if prescription.futures is None:
        return []
    ranked = sorted(prescription.futures.outcomes, key=lambda one: -one.oak_stand_chance)[:_MOST_COURSES]
    return [
        [
            one.course.name,
            f"{10 * one.oak_stand_chance:.1f} ({10 * one.oak_stand_span[0]:.0f} to {10 * one.oak_stand_span[1]:.0f})",
            _oaks(one.dominant_oaks_ac),
            "never" if one.years_to_release is None else f"{one.years_to_release[1]:.0f} yr",
        ]
        for one in ranked
    ]


def _oaks(span_ac: tuple[float, float, float]) -> str:
    """Middle, low and high of a density: '41 (12 to 80)'."""
    low, middle, high = (measures.digits(one, "stems/ac") for one in span_ac)
    return f"{middle} ({low} to {high})"


def _usd(value_ac: float) -> str:
    return measures.digits(value_ac, "US$/ac", ",.0f")


def _courses_note(prescription: Prescription) -> str:
    if prescription.futures is None:
        return (
            "The futures of this stand were not run, or not with the records as they are now: run them before "
            "this is signed."
        )
    return (
        f"{prescription.futures.futures:,} futures each; the seed moves a chance by less than "
        f"{100 * prescription.futures.seed_error:.1f} points. "
        "Dominant oaks here come of seedlings, sprouts and small oaks too; the stocked-plot rule counts today's tall "
        f"oaks and stumps alone. {prescription.futures_name}"
    )


def _money(prescription: Prescription) -> list[list[str]]:
    if prescription.money is None:
        return []
    rate = prescription.money.rate
    return [
        [choice.name, _usd(choice.npv[rate]), f"{_usd(choice.low)} to {_usd(choice.high)}"]
        for choice in prescription.money.choices
    ]


def _money_note(prescription: Prescription) -> str:
    if prescription.money is not None:
        return (
            f"Worth now at {prescription.money.rate:.0%} a year above inflation, of timber less the costs of your "
            f"list, from low to high prices ({prescription.money.price_list}); land is not in it. Doing nothing sells "
            "nothing: it is 0 by definition."
        )
    if prescription.advice.step == "measure":
        return "Nothing is weighed in money: the figures are too old, or absent."
    return "No price list was given, so nothing is weighed in money."


def _treatment(number: int, row: Treatment) -> dict[str, Any]:
    return {
        "head": f"{number}. {row.title}" + (", later" if row.is_later else ""),
        "season": row.season,
        "specification": [sentence(text) for text in row.specification],
        "accepted": [sentence(text) for text in row.accepted],
        "opens": [
            {
                "question": gate.question,
                "wanted": "yes" if GATES[gate.name].yes_is_good else "no",
                "answer": gate.answer,
                "why": sentence(gate.why),
            }
            for gate in row.opens
        ],
    }


def _cautions(prescription: Prescription) -> list[str]:
    listed = [text for row in prescription.treatments for text in row.cautions]
    return list(
        dict.fromkeys(
            [*prescription.advice.cautions, *listed, caution("boundary"), caution("season"), caution("forecast")]
        )
    )
