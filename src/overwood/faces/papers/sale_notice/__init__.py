"""The notice for sealed bids: what is for sale, where, and the terms that counsel completes."""

from __future__ import annotations

import datetime as dt
import functools
import tomllib
from pathlib import Path
from typing import Any

from overwood.desk.timber import StandTimber
from overwood.faces.papers import outline, press
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement.course.steps import caution

_HERE = Path(__file__).resolve().parent
_BLANKS = ("Bidder", "Address", "Lump sum, or price for each product", "Signature and date")


@functools.cache
def _words() -> dict[str, Any]:
    return tomllib.loads((_HERE / "words.toml").read_text(encoding="utf-8"))


def write(found: StandTimber, file: StandFile, on: dt.date, target: Path) -> None:
    """Write the notice as PDF."""
    press.set_pdf("sale_notice/notice.typ", content(found, file, on), target)


def content(found: StandTimber, file: StandFile, on: dt.date) -> dict[str, Any]:
    """Everything the template prints."""
    words, area = _words(), found.area_ac or 1.0
    shape, scale = outline.drawn(file.stand.boundary_wkt)
    owner = file.property.name if file.property else file.stand.property
    return {
        "title": "Timber for sale by sealed bids",
        "subtitle": f"Stand {found.stand} of {owner}, {on.day} {on:%B %Y}. Draft: not an offer until the seller signs it.",
        "footer": "Overwood. Volumes are estimates, not guarantees; not an appraisal.",
        "invite": words["invite"],
        "tract": _tract(found, file),
        "map": shape,
        "scale": scale,
        "rows": [
            {
                "species": line.species,
                "product": line.product,
                "grade": line.grade or "-",
                **_total(line.volume, area),
            }
            for line in found.valued.lines
            if line.volume.number * area >= 1
        ],
        "volume_note": _volume_note(found),
        "terms": [{"item": item, "text": text or "to be completed"} for item, text in words["terms"]],
        "conditions": words["conditions"],
        "cautions": [caution(name) for name in ("felling", "boundary", "season", "snags", "money")],
        "blanks": list(_BLANKS),
    }


def _total(volume: Figure, area_ac: float) -> dict[str, str]:
    """What stands on the sale area, board feet in thousands."""
    if volume.unit == "bd ft/ac":
        return {"total": f"{volume.number * area_ac / 1000:,.1f}", "unit": "MBF"}
    return {"total": f"{volume.number * area_ac:,.0f}", "unit": volume.unit.removesuffix("/ac")}


def _tract(found: StandTimber, file: StandFile) -> list[str]:
    stand = file.stand
    parts = [f"Stand {stand.stand} {stand.name}", f"{found.area_ac:g} acres" if found.area_ac else "acreage to be completed"]
    if stand.slope_pct is not None:
        parts.append(f"slope about {stand.slope_pct:g} %")
    parts.append(f"log rule {found.valued.timber.log_rule}, trees by 16-ft logs and form class")
    if found.method:
        parts.append(f"suggested way of sale: {found.method.way} ({found.method.why})")
    return parts


def _volume_note(found: StandTimber) -> str:
    total, area = found.valued.sawtimber_bf_ac, found.area_ac or 1.0
    if total.low is None or total.high is None:
        return "From one point: no error can be given."
    return (
        f"Sawtimber in all {total.number * area / 1000:,.0f} MBF, likely between {total.low * area / 1000:,.0f} and {total.high * area / 1000:,.0f} "
        f"(9 times of 10), from {total.n} points of the whole stand; the sale is of marked trees."
    )
