"""Light and marking as a person asks for them: on a stem map where there is one, from the cruise where there is none."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from overwood.desk.answers import Question, all_files, stand_file
from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.ground.species import by_code
from overwood.ground.units import FT_PER_M
from overwood.judgement import evidence as judged
from overwood.judgement import leave_rule, marking, marking_bound, stem_map
from overwood.judgement.drawn_stand import DrawnLight, drawn_light
from overwood.judgement.evidence.tally import cruise_of
from overwood.judgement.leave_rule import RuleSheet
from overwood.judgement.light_fit import Fit, fit_extinction
from overwood.judgement.marking import Marking, Wants
from overwood.judgement.marking_bound import TradeOff
from overwood.judgement.marking_check import Check, check
from overwood.judgement.rules import Rules
from overwood.judgement.stem_map import Block, Light

_FIGURES = ("floor_light_pct", "floor_light_curve_pct", "floor_light_no_midstory_pct")
_NO_MAP = "There is no stem map, so these are stand averages: a map of crowns tells where the light falls."
_DRAW_SEED = 1
_TREE_COLUMNS = ("stem", "call", "species", "dbh_in", "east_ft", "north_ft", "score", *(f"score_{part}" for part in stem_map.PARTS))


@dataclass(frozen=True)
class FloorLight:
    """The light of a stand: what was read or the curve gives, and the states of its stem map."""

    stand: str
    figures: dict[str, Figure]
    block: Block | None
    states: tuple[Light, ...]
    drawn: tuple[DrawnLight, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Marked:
    """A marking of a stem map."""

    stand: str
    block: Block
    wants: Wants
    marking: Marking
    later: Light
    years: int


def light(name: str, ask: Question) -> FloorLight:
    """The light on the floor of a stand.

    Raises
    ------
    NotFound
        when the stand has neither light readings, nor a cruise, nor a stem map.
    """
    file = stand_file(name).as_of(ask.on)
    known = judged.all_figures(file, ask.rules, ask.on)
    figures = {key: known[key] for key in _FIGURES if known[key].measured}
    if not _has_map(file):
        if not figures:
            raise NotFound(f"{name} has neither light readings, nor a cruise, nor a stem map by {ask.on}.", remedy="Bring one of them in.")
        return FloorLight(name, figures, None, (), drawn(file, ask, marking.default_wants(ask.rules)), (_NO_MAP,))
    block = stem_map.block_of(file, ask.rules)
    band = marking.default_wants(ask.rules).band
    everything = block.midstory | block.overwood
    states = [stem_map.light_of(block, everything, ask.rules, "uncut", band=band)]
    if block.midstory.any():
        states.append(stem_map.light_of(block, block.overwood, ask.rules, "midstory out", band=band))
    return FloorLight(name, figures, block, tuple(states), (), _notes(block, states, ask.rules))


def _ground(block: Block) -> str:
    east, north = block.gradient
    slope = "on level ground (the stand has no slope or aspect noted)" if not (east or north) else "on the stand's slope and aspect"
    return f"Share of the season's light, sky and sun, of open level ground; {slope}. Ground flora is not in it."


def drawn(file: StandFile, ask: Question, wanted: Wants) -> tuple[DrawnLight, ...]:
    """Light of blocks drawn from the cruise; empty where the stand was never cruised or its cruise holds no tree."""
    visit = file.latest("cruise")
    if visit is None or not cruise_of(file, visit).trees:
        return ()
    return drawn_light(file, ask.rules, [wanted.middle_ba_ft2_ac], seed=_DRAW_SEED)


def _has_map(file: StandFile) -> bool:
    return file.latest("stem map") is not None


def _notes(block: Block, states: list[Light], rules: Rules) -> tuple[str, ...]:
    guessed, most = int((~block.measured).sum()), rules.number("midstory_light_gain_pct")
    notes = [_ground(block)]
    if guessed:
        notes.append(f"{guessed} of {len(block.stems)} crowns are predicted from dbh: after a cut, measured radii matter most.")
    if len(states) == 1:
        notes.append("The map holds no midstory: what grows below the main canopy takes more light than this shows.")
    elif (gain := states[1].mean_pct - states[0].mean_pct) > most:
        notes.append(f"Taking the midstory adds {gain:.0f} points here, more than the {most:g} or so of the trade: check the crowns drawn.")
    return tuple(notes)


def wants(ask: Question, *, light_pct: tuple[float, float] | None, ba_ft2_ac: tuple[float, float] | None, cover: float | None) -> Wants:
    """What a marking should reach: the rulebook's wants, changed where a person says otherwise."""
    found = marking.default_wants(ask.rules)
    if light_pct:
        found = replace(found, light_low_pct=light_pct[0], light_high_pct=light_pct[1])
    if ba_ft2_ac:
        found = replace(found, ba_low_ft2_ac=ba_ft2_ac[0], ba_high_ft2_ac=ba_ft2_ac[1])
    return found if cover is None else replace(found, seed_cover_share=cover)


def mark(
    name: str, ask: Question, wanted: Wants, *, seed: int, moves: int, years: int, progress: Callable[[int, float], bool] | None = None
) -> Marked:
    """Choose the leave trees of a stem map.

    Raises
    ------
    NotFound
        when the stand has no stem map.
    Misuse
        when wants cannot be met together.
    """
    block = stem_map.block_of(stand_file(name).as_of(ask.on), ask.rules)
    found = marking.search(block, wanted, ask.rules, seed=seed, moves=moves, progress=progress)
    later = stem_map.light_of(block, found.leave, ask.rules, f"{years} years on", band=wanted.band, years=years)
    return Marked(name, block, wanted, found, later, years)


def trade_off(marked: Marked, ask: Question, *, seed: int, moves: int, progress: Callable[[int, float], bool] | None = None) -> TradeOff:
    """What even light costs in the score of the trees kept."""
    return marking_bound.trade_off(marked.block, marked.wants, ask.rules, seed=seed, moves=moves, progress=progress)


def fit(name: str, ask: Question) -> Fit:
    """The scale on extinction that brings the stem map to the stand's own light readings.

    Raises
    ------
    NotFound
        when the stand has no stem map or no readings.
    """
    file = stand_file(name).as_of(ask.on)
    block = stem_map.block_of(file, ask.rules)
    return fit_extinction(block, judged.all_figures(file, ask.rules, ask.on)["floor_light_pct"], ask.rules)


def has_map(name: str, ask: Question) -> bool:
    """Whether the stand has a stem map."""
    return _has_map(stand_file(name).as_of(ask.on))


def marking_check(name: str, ask: Question, wanted: Wants) -> Check:
    """Judge the latest marking check of a stand.

    Raises
    ------
    NotFound
        when there is no marking check.
    """
    file = stand_file(name).as_of(ask.on)
    return check(file, ask.rules, ba_low_ft2_ac=wanted.ba_low_ft2_ac, ba_high_ft2_ac=wanted.ba_high_ft2_ac)


def mapped_stands(ask: Question) -> list[str]:
    """Stands of the book with a stem map by the day asked."""
    return [name for name, file in all_files().items() if _has_map(file.as_of(ask.on))]


def rule_sheet(name: str, ask: Question, wanted: Wants) -> RuleSheet:
    """The marking rule for a crew where there is no stem map.

    Raises
    ------
    NotFound
        when the stand was never cruised.
    """
    file = stand_file(name).as_of(ask.on)
    if file.latest("cruise") is None:
        raise NotFound(f"{name} has neither a stem map nor a cruise by {ask.on}.", remedy="Bring one in with `overwood import`.")
    return leave_rule.rule_sheet(file, ask.rules, wanted.middle_ba_ft2_ac)


def drawn_of(name: str, ask: Question, wanted: Wants) -> tuple[DrawnLight, ...]:
    """Light of blocks drawn from a stand's cruise, now and under the marking rule."""
    return drawn(stand_file(name).as_of(ask.on), ask, wanted)


def tree_rows(marked: Marked) -> list[dict[str, str | float]]:
    """Every stem of the map with its call and its score part by part, best first."""
    block, leave = marked.block, marked.marking.leave
    order = sorted(range(len(block.stems)), key=lambda place: (not leave[place], -block.score[place]))
    return [_tree_row(block, place, bool(leave[place])) for place in order]


def _tree_row(block: Block, place: int, leave: bool) -> dict[str, str | float]:
    stem = block.stems[place]
    call = "leave" if leave else "inject" if block.inject[place] else "let be" if block.midstory[place] else "take"
    parts = {f"score_{part}": round(points, 2) for part, points in block.parts[place].items()}
    return {
        "stem": stem.stem,
        "call": call,
        "species": by_code(stem.species).common_name,
        "dbh_in": stem.dbh_in,
        "east_ft": stem.east_ft,
        "north_ft": stem.north_ft,
        "score": round(float(block.score[place]), 2),
        **parts,
    }


def write_gpx(marked: Marked, target: Path) -> int:
    """The leave trees as waypoints, and how many; east and north of the map are taken as true.

    Raises
    ------
    NotFound
        when the map's corner has no longitude and latitude.
    """
    from pyproj import Geod

    from overwood.memory.exchange import gpx

    corner = marked.block.map
    if corner.longitude_deg is None or corner.latitude_deg is None:
        raise NotFound(
            f"the stem map {marked.block.visit} has no place on the earth.",
            remedy="Give longitude_deg and latitude_deg of the block's south-west corner in the sheet stem_maps.",
        )
    stems = [stem for stem, leave in zip(marked.block.stems, marked.marking.leave, strict=True) if leave]
    away = [math.hypot(stem.east_ft, stem.north_ft) / FT_PER_M for stem in stems]
    azimuth = [math.degrees(math.atan2(stem.east_ft, stem.north_ft)) for stem in stems]
    n = len(stems)
    east, north, _ = Geod(ellps="WGS84").fwd([corner.longitude_deg] * n, [corner.latitude_deg] * n, azimuth, away)
    named = [(f"{marked.stand}-{stem.stem}", x, y) for stem, x, y in zip(stems, east, north, strict=True)]
    target.write_bytes(gpx.waypoints(f"leave trees of {marked.stand}", named))
    return n


def write_trees(marked: Marked, target: Path) -> None:
    """The tree list as csv."""
    with target.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, fieldnames=_TREE_COLUMNS)
        writer.writeheader()
        writer.writerows(tree_rows(marked))
