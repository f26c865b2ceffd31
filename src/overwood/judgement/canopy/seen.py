"""The whole answer of a look from above: crowns, gaps, what was missed, light, and what it is refused for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile, Visit
from overwood.ground.units import FT_PER_M
from overwood.ground.vocabulary import CUT_KINDS
from overwood.judgement import evidence as judged
from overwood.judgement.canopy import surface as above
from overwood.judgement.canopy.answer import CanopyMap, Refusal, SizeSeen
from overwood.judgement.canopy.checking import ground_check
from overwood.judgement.canopy.light import light_from_above
from overwood.judgement.canopy.surface import Array, Surface
from overwood.judgement.evidence.overstory import midstory_sizes, not_looked_at
from overwood.judgement.evidence.tally import Cruise, cruise_of, tallied_mean
from overwood.judgement.evidence.timber import heights_ft
from overwood.judgement.rules import Rules

# Lower ends of the classes of height in which crowns and the cruise's trees are set side by side, feet.
_CLASSES_FT = (0, 20, 40, 60, 80, 100)
_TALL_PCT = 90

_UNSEEN = (
    "Stems below other crowns: of a closed stand most stems do not show; set beside the cruise, each "
    "height says how many were missed.",
    "The midstory, the forest floor, species, dbh, health and crown base: none is in a height above the ground.",
    "Two trees whose crowns grew together are one crown here, and a wide oak with several leaders may be several.",
)
_REFUSALS = (
    Refusal(
        question="midstory shades",
        reason="seen_from_above_only",
        words=(
            "Whether the midstory shades the forest floor is not answered from above: it stands below what was seen. "
            "Count it on the ground."
        ),
    ),
    Refusal(
        question="marking",
        reason="proposed_crowns_only",
        words="No tree is marked from proposed crowns: they have no species and no dbh. Map the stems on the ground.",
    ),
)


@dataclass(frozen=True, kw_only=True)
class Flight:
    """The file, what it is, and the day it was flown."""

    file: str
    digest: str
    kind: str
    flown_on: dt.date
    unit: str
    seen_share: float
    notes: tuple[str, ...]


def map_of(file: StandFile, flight: Flight, surface: Surface, rules: Rules, on: dt.date) -> CanopyMap:
    """A stand seen from above, set beside its cruise. Raises Misuse when the flight lies after the day of the question,
    or the canopy is far lower or higher than the cruise's trees."""
    if flight.flown_on > on:
        raise Misuse(
            f"{flight.file} was flown on {flight.flown_on}, after {on}.",
            remedy="Correct --flown, or ask for a later day.",
        )
    known, crowns = file.as_of(on), above.crowns_around(surface, rules)
    own = above.of_the_stand(crowns, surface)
    visit = known.latest("cruise")
    cruise = cruise_of(known, visit) if visit is not None else None
    if cruise is not None and cruise.trees and own.any():
        _must_fit(flight, crowns.height_m[own] * FT_PER_M, cruise, rules)
    light, lacking = None, _light_lacking(known, flight, cruise, rules)
    if cruise is not None and not lacking:
        light = light_from_above(known, cruise, surface, crowns, own, rules)
    lacking += ": light from crowns alone would be too high, so none is given" if lacking else ""
    proposed, gaps = above.proposed(crowns, surface), above.gaps(surface, rules)
    figures = judged.all_figures(file, rules, on)
    return CanopyMap(
        stand=file.stand.stand, file=flight.file, file_digest=flight.digest, kind=flight.kind,
        flown_on=flight.flown_on, unit=flight.unit,
        cell_m=surface.cell_m, acres=surface.acres, seen_share=flight.seen_share, crowns=proposed, gaps=gaps,
        crowns_ac=len(proposed) / surface.acres,
        covered_share=above.share_of_seen(surface, rules.number("canopy_least_height_ft") / FT_PER_M),
        gap_share=sum(gap.area_ac for gap in gaps) / surface.acres,
        sizes=_sizes(crowns.height_m[own] * FT_PER_M, surface.acres, cruise, rules) if cruise is not None else (),
        light=light, light_lacking=lacking, floor_light=figures["floor_light_pct"],
        unseen=_UNSEEN, refusals=_REFUSALS, check=ground_check(proposed, rules),
        notes=(*flight.notes, *_notes(known, flight, visit, rules), *_split(len(proposed) / surface.acres,
            figures["overwood_trees_ac"])), rules_version=rules.version,
    )  # fmt: skip


def _must_fit(flight: Flight, crown_ft: Array, cruise: Cruise, rules: Rules) -> None:
    """Feet taken for meters, and a raster of another place, show where the tall trees of the cruise are known."""
    tall = float(np.percentile(crown_ft, _TALL_PCT))
    expected = _tall_of(cruise)
    ratio = tall / expected
    if rules.number("canopy_height_ratio_low") <= ratio <= rules.number("canopy_height_ratio_high"):
        return
    raise Misuse(
        f"{flight.file} shows crowns of {measures.amount(tall, 'ft')} where the tall trees of "
        f"{cruise.visit.visit} have {measures.amount(expected, 'ft')}.",
        remedy=f"Check the unit of its heights (read as {flight.unit}), its place, and the day of the flight.",
    )


def _tall_of(cruise: Cruise) -> float:
    """Height that nine tenths of the cruise's basal area stay under [ft]."""
    height = heights_ft(cruise, cruise.dbh_in)[0]
    order = np.argsort(height, kind="stable")
    weight = np.cumsum((cruise.per_ac * cruise.dbh_in**2)[order])
    return float(height[order][np.searchsorted(weight, weight[-1] * _TALL_PCT / 100)])


def _sizes(crown_ft: Array, acres: float, cruise: Cruise, rules: Rules) -> tuple[SizeSeen, ...]:
    """Crowns and trees by class of height, the tallest first."""
    height = heights_ft(cruise, cruise.dbh_in)[0]
    ends = (*_CLASSES_FT[1:], None)
    rows = []
    for low, high in reversed(list(zip(_CLASSES_FT, ends, strict=True))):
        most = np.inf if high is None else high
        in_class = (height >= low) & (height < most)
        trees = tallied_mean(
            f"trees_{low}_ft_ac", "trees/ac", cruise, in_class.astype(float), used=in_class, rules=rules,
            method="cruised trees whose height, measured or by the curve, lies in the class",
        )  # fmt: skip
        count = float(((crown_ft >= low) & (crown_ft < most)).sum()) / acres
        rows.append(
            SizeSeen(from_ft=float(low), to_ft=None if high is None else float(high), crowns_ac=count, trees_ac=trees)
        )
    return tuple(rows)


def _light_lacking(file: StandFile, flight: Flight, cruise: Cruise | None, rules: Rules) -> str:
    if cruise is None or not cruise.trees:
        return "there is no cruise of this stand"
    if missing := not_looked_at(cruise, rules, midstory_sizes(rules)):
        return missing
    since = min(flight.flown_on, cruise.visit.visited_on)
    work = [row for row in file.done(*CUT_KINDS, "injection", "burn") if (row.ended_on or row.started_on) > since]
    if work:
        return f"{work[-1].kind} of {work[-1].started_on} lies after the flight or the cruise"
    return ""


def _notes(file: StandFile, flight: Flight, visit: Visit | None, rules: Rules) -> list[str]:
    notes = []
    cut = [row for row in file.done(*CUT_KINDS) if (row.ended_on or row.started_on) > flight.flown_on]
    if cut:
        notes.append(f"{cut[-1].kind} of {cut[-1].started_on} came after the flight: crowns are shown that may be gone")
    if visit is not None:
        years = abs((visit.visited_on - flight.flown_on).days) / 365.25
        if years > rules.number("canopy_years_apart_yr"):
            notes.append(f"flight and cruise lie {years:.0f} years apart: trees grew and fell between them")
    return notes


def _split(crowns_ac: float, trees_ac: Figure) -> tuple[str, ...]:
    """More crowns than the cruise's main canopy has trees: crowns in pieces, or a thin cruise."""
    if not trees_ac.measured or crowns_ac <= (trees_ac.number if trees_ac.high is None else trees_ac.high):
        return ()
    return (
        f"{measures.amount(crowns_ac, 'crowns an acre')} are more than the "
        f"{measures.digits(trees_ac.number, 'trees/ac')} trees of the main canopy that the cruise counts: "
        "crowns may have come apart, or the cruise is thin",
    )
