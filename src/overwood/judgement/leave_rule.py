"""Marking without a stem map: a rule for the crew, and what it leaves and takes of the trees tallied."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground.errors import Misuse
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.ground.species import by_code
from overwood.judgement.crew_words import sentence
from overwood.judgement.evidence import timber
from overwood.judgement.evidence.layers import midstory_mask, oak_mask, overwood_mask, white_oak_mask
from overwood.judgement.evidence.tally import Array, Cruise, Mask, cruise_of, tallied_mean
from overwood.judgement.rules import Rules
from overwood.science import overstory as science

DBH_CLASS_IN = 4
_UPPER = ("dominant", "codominant", "")


@dataclass(frozen=True)
class Row:
    """Trees of one species and dbh class: how many an acre, and their basal area, left and taken."""

    species: str
    dbh_class_in: str
    leave_trees_ac: float
    leave_ba_ft2_ac: float
    take_trees_ac: float
    take_ba_ft2_ac: float


@dataclass(frozen=True)
class RuleSheet:
    """What to tell the crew, and what comes of it."""

    stand: str
    visit: str
    residual_wanted_ft2_ac: float
    leave_ba_ft2_ac: Figure
    leave_trees_ac: Figure
    take_ba_ft2_ac: Figure
    rows: tuple[Row, ...]
    leave: tuple[str, ...]
    take: tuple[str, ...]
    light_pct: Figure
    shortfalls: tuple[str, ...]


def largest_oaks(cruise: Cruise, rules: Rules, residual_ba_ft2_ac: float) -> Mask:
    """Which tallied trees a seed cut leaves: oaks of the upper canopy thick enough to bear, white oak group first,
    largest first."""
    each = science.basal_area_ft2(cruise.dbh_in) * timber.trees_per_ac(cruise)
    upper, white = np.isin(cruise.crown_class, _UPPER), white_oak_mask(cruise.spcd)
    bearing = cruise.dbh_in >= rules.number("acorn_tree_dbh_in")
    oaks = np.flatnonzero(oak_mask(cruise) & overwood_mask(cruise, rules) & upper & bearing)
    order = sorted(oaks, key=lambda i: (not white[i], -float(cruise.dbh_in[i])))
    leave, total = np.zeros(len(each), dtype=bool), 0.0
    for place in order:
        if total + each[place] > residual_ba_ft2_ac:
            continue
        leave[place], total = True, total + float(each[place])
    return leave


def overwood_with_oak(cruise: Cruise, rules: Rules) -> Mask:
    """Which trees of a cruise are its main canopy. Raises Misuse when no oak is among them."""
    overwood = overwood_mask(cruise, rules)
    if not (oak_mask(cruise) & overwood).any():
        raise Misuse("there is no oak in the main canopy of this cruise.", remedy="A seed cut needs oaks to leave.")
    return overwood


def rule_sheet(file: StandFile, rules: Rules, residual_ba_ft2_ac: float, light_pct: Figure) -> RuleSheet:
    """The rule for a residual basal area, tried on the latest cruise; ``light_pct`` is the light it leaves. Raises
    Misuse when the cruise holds no oak of the main canopy."""
    visit = file.latest("cruise")
    assert visit is not None
    cruise = cruise_of(file, visit)
    overwood = overwood_with_oak(cruise, rules)
    leave = largest_oaks(cruise, rules, residual_ba_ft2_ac)
    ba, one = science.basal_area_ft2(cruise.dbh_in), np.ones(len(leave))
    left = _mean(cruise, rules, "leave_ba_ft2_ac", "ft2/ac", np.where(leave, ba, 0.0))
    return RuleSheet(
        stand=file.stand.stand,
        visit=visit.visit,
        residual_wanted_ft2_ac=residual_ba_ft2_ac,
        leave_ba_ft2_ac=left,
        leave_trees_ac=_mean(cruise, rules, "leave_trees_ac", "trees/ac", np.where(leave, one, 0.0)),
        take_ba_ft2_ac=_mean(cruise, rules, "take_ba_ft2_ac", "ft2/ac", np.where(overwood & ~leave, ba, 0.0)),
        rows=_rows(cruise, leave, overwood),
        leave=_leave_words(cruise, leave, residual_ba_ft2_ac),
        take=_take_words(cruise, leave, overwood, midstory_mask(cruise, rules)),
        light_pct=light_pct,
        shortfalls=_shortfalls(cruise, leave, left, rules),
    )


def _mean(cruise: Cruise, rules: Rules, name: str, unit: str, amount: Array) -> Figure:
    method = "what the rule picks of the tallied trees, each times what it stands for"
    return tallied_mean(name, unit, cruise, amount, used=amount > 0, rules=rules, method=method)


def _rows(cruise: Cruise, kept: Mask, overwood: Mask) -> tuple[Row, ...]:
    per_ac = timber.trees_per_ac(cruise)
    ba = science.basal_area_ft2(cruise.dbh_in) * per_ac
    groups: dict[tuple[str, int], list[int]] = defaultdict(list)
    for place in np.flatnonzero(overwood):
        low = int(cruise.dbh_in[place] // DBH_CLASS_IN) * DBH_CLASS_IN
        groups[by_code(int(cruise.spcd[place])).common_name, low].append(int(place))

    def total(amount: Array, places: NDArray[np.int64], chosen: Mask) -> float:
        return float(amount[places][chosen[places]].sum())

    rows = []
    for (species, low), listed in sorted(groups.items()):
        places = np.array(listed)
        values = (total(amount, places, chosen) for chosen in (kept, ~kept) for amount in (per_ac, ba))
        rows.append(Row(species, f"{low}-{low + DBH_CLASS_IN}", *values))
    return tuple(rows)


def _leave_words(cruise: Cruise, kept: Mask, residual: float) -> tuple[str, ...]:
    words: list[str] = []
    for code, of_group in (("leave_white", white_oak_mask(cruise.spcd)), ("leave_red", ~white_oak_mask(cruise.spcd))):
        sizes = cruise.dbh_in[kept & of_group]
        if len(sizes):
            words.append(sentence(code, dbh=f"{sizes.min():.0f}"))
    return (*words, sentence("leave_stop", ba=f"{residual:g}"), sentence("leave_pass"))


def _take_words(cruise: Cruise, kept: Mask, overwood: Mask, midstory: Mask) -> tuple[str, ...]:
    order: tuple[tuple[str, Callable[[], Mask]], ...] = (
        ("take_midstory", lambda: midstory),
        ("take_lower", lambda: overwood & ~kept & ~np.isin(cruise.crown_class, _UPPER)),
        ("take_other", lambda: overwood & ~kept & ~oak_mask(cruise)),
        ("take_oaks", lambda: overwood & ~kept & oak_mask(cruise)),
    )
    return tuple(sentence(code) for code, chosen in order if chosen().any())


def _shortfalls(cruise: Cruise, kept: Mask, left: Figure, rules: Rules) -> tuple[str, ...]:
    short, low = [], rules.number("seed_cut_residual_low_ft2_ac")
    if left.number < low:
        short.append(sentence("short_oaks", got=f"{left.number:.0f}", low=f"{low:g}"))
    groups = white_oak_mask(cruise.spcd)[kept]
    if len(groups) and (groups.all() or not groups.any()):
        short.append(sentence("short_group"))
    return tuple(short)
