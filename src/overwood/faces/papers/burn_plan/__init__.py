"""A draft burn plan: gates, prescription, values at risk, the parts published lists ask for, go or no go, contacts."""

from __future__ import annotations

import datetime as dt
import functools
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from overwood.desk.fire import Burn, cautions
from overwood.faces.papers import burn_calendar, outline, press

_HERE = Path(__file__).resolve().parent
_WARNING = (
    "Draft. It holds no leave to burn. A certified burn manager completes, signs and carries it, under the law and permit of the place; "
    "blanks are for that person."
)


@functools.cache
def _words() -> dict[str, Any]:
    return tomllib.loads((_HERE / "words.toml").read_text(encoding="utf-8"))


def write(found: Burn, on: dt.date, target: Path) -> None:
    """Write the draft as PDF."""
    press.set_pdf("burn_plan/plan.typ", content(found, on), target)


def content(found: Burn, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    shape, scale = outline.drawn(found.file.stand.boundary_wkt)
    texts = _words()["texts"]
    return {
        "title": f"Burn plan, draft, stand {found.stand}",
        "subtitle": f"Drafted {on.day} {on:%B %Y} for a burn about {found.gates.planned_on.day} {found.gates.planned_on:%B %Y}",
        "footer": "Overwood. Draft for a certified burn manager; no leave to burn.",
        "warning": _WARNING,
        "gates": [
            {"answer": gate.answer.capitalize(), "question": gate.question, "why": f"{gate.why}. {gate.settle}".strip()}
            for gate in found.gates.gates
        ],
        "override": found.gates.override,
        "card": [{"what": line.what, "range": line.words} for line in found.card],
        "days_note": _days_note(found),
        "behaviour": [
            {
                "fuel": block.fuel,
                "technique": kind.technique,
                "spread": f"{kind.spread_ch_h:.1f}",
                "flame": f"{kind.flame_ft:.1f}",
                "intensity": f"{kind.intensity_btu_ft_s:.0f}",
            }
            for block in found.days
            for kind in block.behaviour
        ],
        "calendar": press.svg({"vconcat": [burn_calendar.chart(block) for block in found.days]}) if found.days else "",
        "risk": _risk(found),
        "risk_notes": _risk_notes(found),
        "parts": [_part(number, part, found) for number, part in enumerate(_words()["part"], start=1)],
        "map": shape,
        "scale": scale,
        "go": texts["go"],
        "contacts": texts["contacts"],
        "cautions": list(cautions()),
    }


def _days_note(found: Burn) -> str:
    if not found.days:
        return "No weather file was read: days are not counted."
    parts = [f"{block.fuel} {block.mean_days:.1f} days a season ({min(block.counts)} to {max(block.counts)})" for block in found.days]
    years = ", ".join(str(season.year) for season in found.days[0].seasons)
    return f"In past weather ({years}): {'; '.join(parts)}. The fuel model matters more than the hour."


def _risk(found: Burn) -> list[dict[str, str]]:
    """Likely loss of each technique with its span."""
    if found.harm is None:
        return []
    return [
        {
            "technique": loss.technique,
            "debris": loss.debris,
            "wounded": _span([100 * share for share in loss.wounded_share]),
            "boards": _span(loss.boards_bf_ac),
            "value": "no prices" if loss.value_usd_ac is None else _span(loss.value_usd_ac),
        }
        for loss in found.harm.losses
    ]


def _span(three: Sequence[float]) -> str:
    return f"{three[1]:,.0f} ({three[0]:,.0f} to {three[2]:,.0f})"


def _risk_notes(found: Burn) -> list[str]:
    if found.harm is None:
        return ["The stand was never cruised: values at risk are not known."]
    published = found.harm.published_usd_ac
    beside = [] if published is None else [f"by the published share of a burn: {_span(published)} US$/ac"]
    return [*beside, *found.harm.notes]


def _part(number: int, part: dict[str, str], found: Burn) -> dict[str, Any]:
    lines = _lines(part["fill"], found)
    return {"number": number, "heading": part["heading"], "hint": part["hint"], "lines": lines, "blank": not lines or bool(part["hint"])}


def _lines(fill: str, found: Burn) -> list[str]:
    stand, texts = found.file.stand, _words()["texts"]
    if fill == "area":
        place = [f"stand {stand.stand} {stand.name}".strip(), f"{stand.area_ac:g} acres" if stand.area_ac else "acreage not noted"]
        if stand.slope_pct is not None:
            place.append(f"slope {stand.slope_pct:g} %" + ("" if stand.aspect_deg is None else f", facing {stand.aspect_deg:g} degrees"))
        return [*place, f"fuel models to be looked at: {', '.join(found.fuels)}"]
    if fill == "season":
        return [
            f"about {found.gates.planned_on.day} {found.gates.planned_on:%B %Y}, between the first and last hour of the card",
            "stop at bud swell",
        ]
    if fill == "law":
        return [found.law.words]
    return list(texts[fill]) if fill else []
