"""A draft burn plan: gates, prescription, values at risk, the parts published lists ask for, go or no go, contacts."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from overwood.desk.fire import Burn, cautions
from overwood.faces.papers import burn_calendar, outline, press
from overwood.ground import measures, tables
from overwood.judgement.fire.card import NOT_FILLED_IN, UNFILLED
from overwood.judgement.net_ground import kept_out

_WARNING = (
    "Draft. It holds no leave to burn. A certified burn manager completes, signs and carries it, under the "
    "law and permit of the place; "
    "blanks are for that person."
)

# Columns of the computed fire and of what it costs, by what they are and their US unit.
_BEHAVIOUR = (("Spread, ", "ch/h"), ("Flame, ", "ft"), ("", "Btu/ft/s"))
_LOST = (("Boards", "bd ft/ac"), ("Value", "US$/ac"))


def _words() -> dict[str, Any]:
    return tables.words("faces/papers/burn_plan/words.toml")


def write(burn: Burn, on: dt.date, target: Path, warnings: Sequence[str] = ()) -> None:
    """Write the draft as PDF; ``warnings`` stand below its gates."""
    press.set_pdf("burn_plan/plan.typ", content(burn, on, warnings), target)


def content(burn: Burn, on: dt.date, warnings: Sequence[str] = ()) -> dict[str, Any]:
    """Everything the template prints."""
    shape, scale = outline.of_stand(burn.file)
    texts = _words()["texts"]
    return {
        "title": f"Burn plan, draft, stand {burn.stand}",
        "subtitle": (
            f"Drafted {on.day} {on:%B %Y} for a burn about {burn.gates.planned_on.day} {burn.gates.planned_on:%B %Y}"
        ),
        "footer": "Overwood. Draft for a certified burn manager; no leave to burn.",
        "warning": _WARNING,
        "gates": [
            {
                "answer": gate.answer.capitalize(),
                "question": gate.question,
                "why": f"{gate.why}. {gate.settle or ''}".rstrip(),
            }
            for gate in burn.gates.gates
        ],
        "warnings": list(warnings),
        "override": burn.gates.override,
        "card": [{"what": line.label, "range": line.words} for line in burn.card],
        "days_note": _days_note(burn),
        "behaviour": [
            {
                "fuel": block.fuel,
                "technique": kind.technique,
                "spread": measures.digits(kind.spread_ch_h, "ch/h", ".1f"),
                "flame": measures.digits(kind.flame_ft, "ft", ".1f"),
                "intensity": measures.digits(kind.intensity_btu_ft_s, "Btu/ft/s"),
            }
            for block in burn.days
            for kind in block.behaviour
        ],
        "behaviour_heads": [
            "Fuel",
            "Firing",
            *(f"{what}{measures.unit_word(unit)}" for what, unit in _BEHAVIOUR),
        ],
        "calendar": press.svg({"vconcat": [burn_calendar.chart(block) for block in burn.days]}) if burn.days else "",
        "risk": _risk(burn),
        "risk_heads": [
            "Firing",
            "Debris",
            "Sawtimber wounded, %",
            *(f"{what} lost, {measures.unit_word(unit)}" for what, unit in _LOST),
        ],
        "risk_notes": _risk_notes(burn),
        "chapters": _chapters(burn),
        "map": shape,
        "scale": scale,
        "go": [_worded(text, burn) for text in texts["go"]],
        "contacts": texts["contacts"],
        "cautions": list(cautions()),
    }


def _days_note(burn: Burn) -> str:
    if not burn.days:
        return "No weather file was read: days are not counted."
    parts = [
        f"{block.fuel} {block.mean_days:.1f} days a season ({min(block.counts)} to {max(block.counts)})"
        for block in burn.days
    ]
    years = ", ".join(str(season.year) for season in burn.days[0].seasons)
    return f"In past weather ({years}): {'; '.join(parts)}. The fuel model matters more than the hour."


def _risk(burn: Burn) -> list[dict[str, str]]:
    """Likely loss of each technique with its span."""
    if burn.harm is None:
        return []
    return [
        {
            "technique": loss.technique,
            "debris": loss.debris,
            "wounded": _span([100 * share for share in loss.wounded_share]),
            "boards": _span(loss.boards_bf_ac, "bd ft/ac"),
            "value": "no prices" if loss.value_usd_ac is None else _span(loss.value_usd_ac, "US$/ac"),
        }
        for loss in burn.harm.losses
    ]


def _span(three: Sequence[float], unit: str = "%") -> str:
    low, middle, high = (measures.digits(value, unit, ",.0f") for value in three)
    return f"{middle} ({low} to {high})"


def _risk_notes(burn: Burn) -> list[str]:
    if burn.harm is None:
        return ["The stand was never cruised: values at risk are not known."]
    published = burn.harm.published_usd_ac
    beside = (
        []
        if published is None
        else [f"by the published share of a burn: {_span(published, 'US$/ac')} {measures.unit_word('US$/ac')}"]
    )
    return [*beside, *burn.harm.notes]


def _chapters(burn: Burn) -> list[dict[str, Any]]:
    """The parts in chapters, numbered through."""
    parts = [(part["chapter"], _part(number, part, burn)) for number, part in enumerate(_words()["part"], start=1)]
    return [
        {"heading": heading, "parts": [part for _, part in group]}
        for heading, group in itertools.groupby(parts, lambda pair: pair[0])
    ]


def _part(number: int, part: dict[str, str], burn: Burn) -> dict[str, Any]:
    lines = _lines(part["fill"], burn)
    return {
        "number": number,
        "heading": part["heading"],
        "hint": part["hint"],
        "lines": lines,
        "blank": not lines or bool(part["hint"]),
    }


def _lines(fill: str, burn: Burn) -> list[str]:
    stand, texts = burn.file.stand, _words()["texts"]
    if fill == "area":
        place = [
            f"stand {stand.stand} {stand.name}".strip(),
            measures.with_us(stand.area_ac, "acres", "g") if stand.area_ac else "acreage not noted",
        ]
        if stand.slope_pct is not None:
            place.append(
                f"slope {stand.slope_pct:g}%"
                + ("" if stand.aspect_deg is None else f", facing {stand.aspect_deg:g} degrees")
            )
        place += kept_out(burn.file)
        return [*place, f"fuel models to be looked at: {', '.join(burn.fuels)}"]
    if fill == "season":
        return [
            f"about {burn.gates.planned_on.day} {burn.gates.planned_on:%B %Y}, between the first and last "
            "hour of the prescription",
            "stop at bud swell",
        ]
    if fill == "law":
        # A person with the paper in the hand has no command to give.
        return [burn.law.words.replace(UNFILLED, f"{NOT_FILLED_IN}, and fill them in before this plan is signed.")]
    return [_worded(text, burn) for text in texts[fill]] if fill else []


def _worded(text: str, burn: Burn) -> str:
    return measures.prose(text.format(**burn.plan_numbers))
