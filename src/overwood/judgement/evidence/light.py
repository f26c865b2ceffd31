"""Figures of the light on the floor: readings where there are some, the planning curve beside them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from overwood.ground import tables
from overwood.ground.copies import with_fields
from overwood.ground.figure import Figure, Input, unmeasured
from overwood.ground.records import LightReading, StandFile
from overwood.ground.vocabulary import CUT_KINDS
from overwood.judgement.rules import Rules
from overwood.science import light as science
from overwood.science import survey
from overwood.science.light.curve import TABLE

_CURVE_NOTE = (
    "a planning curve through seven measured stands of three studies, which lie up to half its value off it; "
    "read the light, or map the crowns, before relying on it"
)


NAMES = ("floor_light_pct", "floor_light_curve_pct")


def figures(file: StandFile, rules: Rules, standing: Mapping[str, Figure]) -> dict[str, Figure]:
    """Light now: readings where there are some, else the planning curve, which is told beside them."""
    ba, below = standing["overwood_ba_ft2_ac"], standing["midstory_ba_ft2_ac"]
    if not ba.measured:
        curve = unmeasured("floor_light_pct", "neither light readings nor a cruise", "% of full sun")
    else:
        curve = from_curve("floor_light_pct", ba, rules, midstory_ba_ft2_ac=below.number if below.measured else 0.0)
        if not below.measured:
            curve = _either_way(curve, ba, rules, below.note)
    return {
        "floor_light_pct": _readings(file, rules) or curve,
        "floor_light_curve_pct": with_fields(curve, name="floor_light_curve_pct"),
    }


def _either_way(bare: Figure, ba: Figure, rules: Rules, why: str) -> Figure:
    """Light where nobody looked for a midstory: from the low end with the usual one to the high end without."""
    below = from_curve(bare.name, ba, rules, midstory_ba_ft2_ac=rules.number("light_midstory_ba_ft2_ac"))
    return with_fields(
        bare, low=below.low, note=f"{why}: the value supposes no midstory, the low end the usual one; {bare.note}"
    )


def midstory_share(ba_ft2_ac: float, rules: Rules) -> float:
    """Share of the light below the main canopy that a midstory lets through."""
    usual = {
        "usual_share": rules.number("light_midstory_multiplier"),
        "usual_ba_ft2_ac": rules.number("light_midstory_ba_ft2_ac"),
    }
    return float(science.midstory_share(ba_ft2_ac, **usual))


def from_curve(name: str, ba: Figure, rules: Rules, *, midstory_ba_ft2_ac: float = 0.0) -> Figure:
    """Light by the planning curve from the basal area of the main canopy and of the midstory."""
    multiplier, fit = midstory_share(midstory_ba_ft2_ac, rules), tables.constants(TABLE)
    value = float(science.from_basal_area_pct(ba.number, midstory_multiplier=multiplier))
    error = rules.number("light_curve_error_share")
    return Figure(
        name=name,
        value=value,
        unit="% of full sun",
        low=value * (1 - error),
        high=min(100.0, value * (1 + error)),
        n=ba.n,
        method=(
            f"exp({fit['curve_b0']:g} {fit['curve_b1']:+g} BA) times {multiplier:.2f} for the midstory; the "
            "band is an assumption"
        ),
        sources=("cunningham2011", "grayson2012", "schweitzer2006"),
        inputs=(Input(name=ba.name, figure=ba.name), Input(name="midstory_ba_ft2_ac", figure="midstory_ba_ft2_ac")),
        note=_CURVE_NOTE,
        status="assumption",
    )


def usable_readings(file: StandFile, measures: tuple[str, ...]) -> tuple[LightReading, ...]:
    """Readings of the latest day that measure one of these, unless trees were cut or killed since."""
    days = {visit.visit: visit.visited_on for visit in file.visits}
    work = file.done("injection", "burn", *CUT_KINDS)
    changed_on = max((row.ended_on or row.started_on for row in work), default=dt.date.min)
    usable = [
        row for row in file.light_readings if (row.measures or "light") in measures and days[row.visit] > changed_on
    ]
    last = max((days[row.visit] for row in usable), default=None)
    return tuple(row for row in usable if days[row.visit] == last)


def _readings(file: StandFile, rules: Rules) -> Figure | None:
    rows = usable_readings(file, ("light",))
    if not rows:
        return None
    last = next(visit.visited_on for visit in file.visits if visit.visit == rows[0].visit)
    level = rules.number("interval_level")
    estimate = survey.sample_mean([row.light_pct for row in rows], level=level)
    return Figure(
        name="floor_light_pct",
        value=estimate.mean,
        unit="% of full sun",
        low=None if len(rows) < 2 else max(0.0, estimate.low),
        high=None if len(rows) < 2 else estimate.high,
        level=level if len(rows) > 1 else None,
        n=len(rows),
        method=f"mean of {len(rows)} light readings of {last:%d %b %Y}",
        sources=("field",),
        inputs=(Input(name="light readings", value=len(rows), unit="rows", rows=tuple(row.id for row in rows)),),
    )
