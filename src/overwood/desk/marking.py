"""Marking as a person asks for it: tree by tree on a stem map, or as a rule where there is none."""

from __future__ import annotations

import csv
import datetime as dt
import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from overwood.desk import kept, light
from overwood.desk.answers import Question, advice, all_files, stand_file
from overwood.desk.kept import NamedAnswer
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.figure import Figure, unmeasured
from overwood.ground.records import StandFile, Stem
from overwood.ground.species import by_code
from overwood.ground.units import FT_PER_M
from overwood.ground.vocabulary import REMOVAL_KINDS
from overwood.judgement import evidence as judged
from overwood.judgement import leave_rule, stem_map, walking
from overwood.judgement.course.stage import last_cut
from overwood.judgement.crew_words import sentence
from overwood.judgement.evidence.tally import cruise_of
from overwood.judgement.injection import snag_note
from overwood.judgement.leave_rule import RuleSheet
from overwood.judgement.light.gain import StateLight
from overwood.judgement.marking import bound as marking_bound
from overwood.judgement.marking import residual_check
from overwood.judgement.marking import rows as marking_rows
from overwood.judgement.marking import search as marking
from overwood.judgement.marking.bound import TradeOff
from overwood.judgement.marking.check import Check, check
from overwood.judgement.marking.leave_trees import calls
from overwood.judgement.marking.search import Effort, Marking
from overwood.judgement.marking.wants import Wants, default_wants, thinned_ba_ft2_ac
from overwood.judgement.money.stem_value import Worth, worth_of
from overwood.judgement.net_ground import kept_out
from overwood.judgement.prices import PriceList
from overwood.judgement.stem_map import Block, Light
from overwood.judgement.walking import Strips

_TREE_COLUMNS = (
    "stem",
    "call",
    "species",
    "dbh_in",
    "east_ft",
    "north_ft",
    "score",
    *(f"score_{part}" for part in stem_map.PARTS),
)


@dataclass(frozen=True)
class WalkedStem:
    """A stem and the strip from which a crew comes to it."""

    strip: int
    stem: Stem


@dataclass(frozen=True)
class Marked:
    """A marking of a stem map."""

    stand: str
    block: Block = field(repr=False, metadata={"inner": True})
    wants: Wants
    marking: Marking
    later: Light
    later_range_pct: tuple[float, float]
    years: int
    worth: Worth = field(repr=False, metadata={"inner": True})
    strips: Strips = field(repr=False, metadata={"inner": True})
    warnings: tuple[str, ...] = ()
    DERIVED: ClassVar = ("stem_map", "acres", "trees")

    @property
    def stem_map(self) -> str:
        """The visit that mapped the stems."""
        return self.block.visit

    @property
    def acres(self) -> float:
        """Ground of the map [acre]."""
        return self.block.acres

    @property
    def calls(self) -> list[str]:
        """What becomes of each stem of the map: leave, take, inject or let be."""
        return calls(self.block, self.wants, self.marking.leave)

    def walk(self, call: str) -> list[WalkedStem]:
        """The stems of one call in the order a crew walks them."""
        picked = [stem for stem, each in zip(self.block.stems, self.calls, strict=True) if each == call]
        east, north = (
            np.array([getattr(stem, name) for stem in picked], dtype=float) for name in ("east_ft", "north_ft")
        )
        number = self.strips.of(east)
        return [WalkedStem(int(number[place]), picked[place]) for place in walking.order(east, north, self.strips)]

    @property
    def trees(self) -> list[dict[str, str | float]]:
        """Every stem with its call."""
        return tree_rows(self)


def wants(ask: Question, *, rows: Sequence[str] = (), **asked: Any) -> Wants:
    """What a marking should reach: the rulebook's wants, changed where a person says otherwise, and the constraints of
    ``rows``.

    ``light_pct``, ``ba_ft2_ac`` and ``stocking_pct`` are pairs, ``cover`` a share; other names are those of Wants. None
    asks for the default.
    """
    wants, pairs = (
        default_wants(ask.rules),
        {"light_pct": "light_{}_pct", "ba_ft2_ac": "ba_{}_ft2_ac", "stocking_pct": "stocking_{}_pct"},
    )
    for name, value in asked.items():
        if value is None:
            continue
        if name in pairs:
            wants = replace(
                wants, **{pairs[name].format(end): each for end, each in zip(("low", "high"), value, strict=True)}
            )
        else:
            wants = replace(wants, **{"seed_cover_share" if name == "cover" else name: value})
    return marking_rows.read(rows, wants)


def check_rows(name: str, ask: Question, rows: Sequence[str]) -> Wants:
    """The wants with the constraints of some rows; refuses what cannot be read, or names trees the map has not. Raises
    Misuse naming the row or the trees."""
    wanted = wants(ask, rows=rows)
    marking_rows.with_stays(stand_file(name).as_of(ask.on), wanted)
    return wanted


def constraints(marked: Marked) -> list[str]:
    """What the constraints asked for by rows came to."""
    block, leave, asked = marked.block, marked.marking.leave, marked.wants
    whole = max(float(block.ba_ft2_ac[leave].sum()), 1e-9)
    shares = {share: float(block.ba_ft2_ac[leave & (block.spcd == share.spcd)].sum()) / whole for share in asked.shares}
    said = [
        f"{share.species}: {part:.0%} of the basal area left (wanted {share.low_share:.0%} to {share.high_share:.0%})"
        for share, part in shares.items()
    ]
    said += [f"wildlife trees that stay: {', '.join(asked.wildlife)}"] if asked.wildlife else []
    said += [
        (
            f"main canopy uncut within {measures.amount(edge.width_ft, 'ft', 'g')} of "
            f"{'every' if edge.side == 'every' else f'the {edge.side}'} side"
        )
        for edge in asked.edges
    ]
    return said


FORMS = marking_rows.FORMS


def rows_of(path: Path) -> list[str]:
    """Rows of a marking rules file. Raises NotFound when it cannot be read as text."""
    try:
        return path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError):
        raise NotFound(
            f"{path} cannot be read as text.", remedy="Write one constraint a row: " + "; ".join(marking_rows.FORMS)
        ) from None


def mark(
    name: str, ask: Question, wanted: Wants, effort: Effort, *, years: int, prices: PriceList | None = None
) -> Marked:
    """Choose the leave trees of a stem map. Raises NotFound when the stand has no stem map; Misuse when wants cannot be
    met together."""
    file = marking_rows.with_stays(stand_file(name).as_of(ask.on), wanted)
    block = stem_map.block_of(file, ask.rules)
    worth = worth_of(block, ask.rules, prices)
    best = marking.search(block, wanted, ask.rules, effort, worth)
    return _marked(name, ask, wanted, (block, worth, best), years)


def _later_range(block: Block, standing: stem_map.Mask, ask: Question, years: int) -> tuple[float, float]:
    """Mean light some years on, for crowns that close as fast and as slowly as the assumption's range says."""
    slow, _, fast = ask.rules["crown_closing_ft_yr"].span
    tried = (ask.rules.with_value("crown_closing_ft_yr", pace) for pace in (fast, slow))
    dark, light_ = (
        100 * float(stem_map.field_of(block, standing, rules, 1.0, years)[block.core(rules)].mean()) for rules in tried
    )
    return dark, light_


def default_moves(name: str, ask: Question) -> int:
    """Moves of the search where nobody says how many: so many for each stem of the map."""
    file = stand_file(name).as_of(ask.on)
    visit = file.latest("stem map")
    stems = sum(visit is not None and stem.visit == visit.visit for stem in file.stems)
    return max(1, stems) * int(ask.rules.number("marking_moves_stem"))


def marked_as(
    name: str, ask: Question, wanted: Wants, leave: Collection[str], *, years: int, prices: PriceList | None = None
) -> Marked:
    """The report of a marking that is made already: which stems stay, by their numbers; nothing is searched. Raises
    NotFound when the stand has no stem map; Misuse when a stem to leave is not in the map's main canopy."""
    file = stand_file(name).as_of(ask.on)
    block = stem_map.block_of(file, ask.rules)
    stays = np.array([stem.stem in set(leave) for stem in block.stems], dtype=bool) & block.overwood
    unknown = sorted(set(leave) - {stem.stem for stem, kept in zip(block.stems, stays, strict=True) if kept})
    if unknown:
        raise Misuse(
            f"trees {', '.join(unknown[:8])} are not in the main canopy of {name}.",
            remedy="Midstory is injected, not marked.",
        )
    worth = worth_of(block, ask.rules, prices)
    made = marking.as_left(block, wanted, ask.rules, worth, stays)
    return _marked(name, ask, wanted, (block, worth, made), years)


def on_table(
    name: str,
    ask: Question,
    called: dict[str, list[str]],
    made: dict[str, Any],
    prices: PriceList | None,
    wanted: Wants,
) -> NamedAnswer[dict[str, list[str]]]:
    """A marking by the names of its stems, as it lies in the book with how it was made: the name that every paper of it
    bears."""
    settings = {"made": made, "wants": wanted, "prices": kept.list_named(prices)}
    return kept.lay(stand_file(name).stand.stand, "marking", ask, settings, lambda: called)


def to_sell(name: str, ask: Question, wanted: Wants, leave: Collection[str]) -> set[str]:
    """Stems that a marking takes and sells, by their numbers: not what stays, and not the poles and midstory that are
    injected. Raises NotFound when the stand has no stem map."""
    block = stem_map.block_of(stand_file(name).as_of(ask.on), ask.rules)
    stays = np.array([stem.stem in leave for stem in block.stems], dtype=bool) & block.overwood
    return {stem.stem for stem, call in zip(block.stems, calls(block, wanted, stays), strict=True) if call == "take"}


def _marked(name: str, ask: Question, wanted: Wants, marked: tuple[Block, Worth, Marking], years: int) -> Marked:
    block, worth, made = marked
    standing = made.leave | block.let_be
    later = stem_map.light_of(block, standing, ask.rules, f"{years} years on", band=wanted.band, years=years)
    laid = walking.strips(block.map.width_ft, ask.rules.number("marking_strip_ft"))
    closing = _later_range(block, standing, ask, years)
    return Marked(name, block, wanted, made, later, closing, years, worth, laid, warnings(name, ask))


def trade_off(marked: Marked, ask: Question, effort: Effort, by: str) -> TradeOff:
    """What even light costs in the score, or the value, of the trees kept. Raises Misuse when value is asked for and
    the marking was made without prices."""
    return marking_bound.trade_off(marked.block, marked.wants, ask.rules, marked.worth, effort, by)


def has_map(name: str, ask: Question) -> bool:
    """Whether the stand has a stem map."""
    return light.has_stem_map(stand_file(name).as_of(ask.on))


def mapped_share(name: str, ask: Question) -> float:
    """How much of a stand its stem map covers: 0 without one, 1 where the stand has no acres to compare with."""
    file = stand_file(name).as_of(ask.on)
    if not light.has_stem_map(file):
        return 0.0
    acres = file.stand.area_ac
    return min(1.0, stem_map.block_of(file, ask.rules).acres / acres) if acres else 1.0


def marking_check(name: str, ask: Question, wanted: Wants) -> Check:
    """Judge the latest marking check of a stand. Raises NotFound when there is no marking check."""
    file = stand_file(name).as_of(ask.on)
    return check(file, ask.rules, ba_low_ft2_ac=wanted.ba_low_ft2_ac, ba_high_ft2_ac=wanted.ba_high_ft2_ac)


def residual(name: str, ask: Question, wanted: Wants) -> residual_check.Residual:
    """Judge what a cut left, and what it hurt, from the latest residual check of a stand. Raises NotFound when there is
    no residual check."""
    low, high = _left_by_the_cut(name, ask, wanted)
    return residual_check.judge(stand_file(name).as_of(ask.on), ask.rules, ba_low_ft2_ac=low, ba_high_ft2_ac=high)


def _left_by_the_cut(name: str, ask: Question, wanted: Wants) -> tuple[float, float]:
    """Low and high basal area [ft2/ac] that the cut which is checked should leave: of the last cut where one was
    checked, else of the next step. What a person asks for goes before; a removal cut leaves reserve trees at most."""
    asked, usual = ((one.ba_low_ft2_ac, one.ba_high_ft2_ac) for one in (wanted, default_wants(ask.rules)))
    file, advised = stand_file(name).as_of(ask.on), advice(name, ask)
    cut = last_cut(file) if file.latest(residual_check.KIND) else None
    kind = cut.kind if cut else advised.step
    if asked != usual:
        return asked
    if kind in (*REMOVAL_KINDS, "release"):
        return 0.0, ask.rules["reserve_ba_ft2_ac"].span[2]
    if kind in ("thinning", "thin"):
        low, _, high = thinned_ba_ft2_ac(advised.figures, ask.rules)
        return float(round(low)), float(round(high))
    return asked


@dataclass(frozen=True)
class AfterCut:
    """What a cut should leave and hurt, and the latest check of it; None where nobody checked yet."""

    stand: str
    name: str
    ba_low_ft2_ac: float
    ba_high_ft2_ac: float
    limit_share: float
    check: residual_check.Residual | None
    checked_on: dt.date | None


def after_cut(name: str, ask: Question, wanted: Wants) -> AfterCut:
    """What the crew's sheet for the check after a cut says."""
    file, (low, high) = stand_file(name).as_of(ask.on), _left_by_the_cut(name, ask, wanted)
    visit = file.latest(residual_check.KIND)
    return AfterCut(
        stand=file.stand.stand,
        name=file.stand.name or file.stand.stand,
        ba_low_ft2_ac=low,
        ba_high_ft2_ac=high,
        limit_share=ask.rules.number("damage_limit_share"),
        check=None if visit is None else residual(name, ask, wanted),
        checked_on=None if visit is None else visit.visited_on,
    )


def warnings(name: str, ask: Question) -> tuple[str, ...]:
    """What a marking of a stand must say first: that the advice is another step or not firm, the ground kept out of
    work, and stems injected some years ago."""
    file, advised = stand_file(name).as_of(ask.on), advice(name, ask)
    doubt = sentence("in_doubt") if advised.cut_in_doubt else ""
    told = doubt if advised.step == "seed_cut" else sentence("not_next")
    return tuple(text for text in (told, *kept_out(file), snag_note(file, ask.rules, ask.on)) if text)


def mapped_stands(ask: Question) -> list[str]:
    """Stands of the book with a stem map by the day asked."""
    return [name for name, file in all_files().items() if light.has_stem_map(file.as_of(ask.on))]


def can_be_ruled(name: str, ask: Question) -> StandFile:
    """The file of a stand whose cruise a marking rule can be tried on. Raises NotFound when the stand was never
    cruised, Misuse when its main canopy has no oak."""
    file = stand_file(name).as_of(ask.on)
    visit = file.latest("cruise")
    if visit is None:
        raise NotFound(
            f"{name} has neither a stem map nor a cruise by {ask.on}.", remedy="Bring one in with `overwood import`."
        )
    leave_rule.overwood_with_oak(cruise_of(file, visit), ask.rules)
    return file


def rule_sheet(name: str, ask: Question, wanted: Wants, told: tuple[StateLight, ...]) -> RuleSheet:
    """The marking rule for a crew where there is no stem map; ``told`` is the light of its states (``states_told``).
    Raises NotFound when the stand was never cruised, Misuse when its main canopy has no oak."""
    file = can_be_ruled(name, ask)
    left = unmeasured("light_after_pct", "no tree of the cruise is one that the rule leaves", "% of full sun")
    for after in light.marked(told):
        left = Figure(
            name="light_after_pct", value=after.mean_pct, unit="% of full sun", low=after.low_pct, high=after.high_pct,
            method=after.method, sources=("own",), status="assumption", note=next(iter(light.gaps((after,),
                ask.rules)), ""),
        )  # fmt: skip
    return leave_rule.rule_sheet(file, ask.rules, wanted.middle_ba_ft2_ac, left)


def rule_answer(name: str, ask: Question, wanted: Wants) -> tuple[NamedAnswer[RuleSheet], tuple[StateLight, ...]]:
    """The marking rule as it lies in the book, and the light of its states; raises as :func:`rule_sheet`."""
    lights = measures.once_each(lambda: states_told(name, ask, wanted))
    stand = stand_file(name).stand.stand
    rule = kept.lay(stand, "rule", ask, {"wants": wanted}, lambda: rule_sheet(name, ask, wanted, lights()))
    return rule, lights()


def states_told(name: str, ask: Question, wanted: Wants) -> tuple[StateLight, ...]:
    """Light of a cruised stand as it stands, with the midstory out, and under the marking rule."""
    file = stand_file(name).as_of(ask.on)
    return light.states_told(file, ask, wanted, judged.all_figures(file, ask.rules, ask.on)["floor_light_pct"])


def called(marked: Marked) -> dict[str, list[str]]:
    """The stems that a marking leaves and those it takes, by name: what a paper of it is kept by."""
    calls = list(zip(marked.block.stems, marked.marking.leave, strict=True))
    return {
        name: sorted(stem.stem for stem, stays in calls if bool(stays) is left)
        for name, left in (("left", True), ("taken", False))
    }


def tree_rows(marked: Marked) -> list[dict[str, str | float]]:
    """Every stem of the map with its call and its score part by part, best first."""
    block, leave = marked.block, marked.marking.leave
    order = sorted(range(len(block.stems)), key=lambda place: (not leave[place], -block.score[place]))
    of = calls(block, marked.wants, leave)
    return [_tree_row(block, place, of[place]) for place in order]


def _tree_row(block: Block, place: int, call: str) -> dict[str, str | float]:
    stem = block.stems[place]
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


def _on_earth(marked: Marked, stems: list[Stem]) -> tuple[list[float], list[float]]:
    """Longitudes and latitudes of stems; east and north of the map are taken as true. Raises NotFound when the map's
    corner has no longitude and latitude."""
    from pyproj import Geod

    corner = marked.block.map
    if corner.longitude_deg is None or corner.latitude_deg is None:
        raise NotFound(
            f"the stem map {marked.block.visit} has no place on the earth.",
            remedy="Give longitude_deg and latitude_deg of the block's south-west corner in the sheet stem_maps.",
        )
    away = [math.hypot(stem.east_ft, stem.north_ft) / FT_PER_M for stem in stems]
    azimuth = [math.degrees(math.atan2(stem.east_ft, stem.north_ft)) for stem in stems]
    n = len(stems)
    east, north, _ = Geod(ellps="WGS84").fwd([corner.longitude_deg] * n, [corner.latitude_deg] * n, azimuth, away)
    return list(east), list(north)


def write_gpx(marked: Marked, target: Path) -> int:
    """The leave trees as waypoints, and how many. Raises NotFound when the map has no place on the earth."""
    from overwood.memory.exchange import gpx

    stems = [stem for stem, leave in zip(marked.block.stems, marked.marking.leave, strict=True) if leave]
    named = [(f"{marked.stand}-{stem.stem}", x, y) for stem, x, y in zip(stems, *_on_earth(marked, stems), strict=True)]
    target.write_bytes(gpx.waypoints(f"leave trees of {marked.stand}", named))
    return len(stems)


def write_geopackage(marked: Marked, target: Path) -> int:
    """Every stem with its call as a point of a GeoPackage, and how many. Raises NotFound when the map has no place on
    the earth."""
    from overwood.memory.exchange import geopackage

    rows = tree_rows(marked)
    by_name = {stem.stem: stem for stem in marked.block.stems}
    stems = [by_name[str(row["stem"])] for row in rows]
    columns = {name: [row[name] for row in rows] for name in _TREE_COLUMNS}
    geopackage.write_points(target, f"stems of {marked.stand}", _on_earth(marked, stems), columns)
    return len(rows)


def write_trees(marked: Marked, target: Path) -> None:
    """The tree list as csv."""
    with target.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, fieldnames=_TREE_COLUMNS)
        writer.writeheader()
        writer.writerows(tree_rows(marked))
