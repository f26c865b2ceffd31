"""The gates before a burn: season, seedlings and acorns, fuel at the foot of leave trees, snags, and before or after
the cut."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import ClassVar

from overwood.ground import measures
from overwood.ground.records import Fuel, StandFile
from overwood.ground.species import by_code
from overwood.ground.vocabulary import CUT_KINDS
from overwood.judgement.evidence import timber as evidence
from overwood.judgement.gates import (
    NO,
    NOT_LOOKED,
    TOO_OLD,
    UNSURE,
    YES,
    Asked,
    Figures,
    Gate,
    burn_safe,
    gate,
    years_since,
)
from overwood.judgement.gates.windows import season
from overwood.judgement.injection import standing_dead
from overwood.judgement.reason import Reason
from overwood.judgement.rules import Rules

# A snag and a cut that lie behind are neither good nor bad; they ask for care.
_ASKED = (
    Asked(
        "dormant season", "Is the burn planned for the dormant season?", "", ("window_growing", "burn_valuable_bf_ac")
    ),
    Asked(
        "foot clear",
        "Is the foot of the leave trees free of heavy fuel?",
        "",
        ("burn_debris_warn_share", "fresh_fuel_yr"),
    ),
    Asked("snags down", "Are injected stems down or handled?", "", ("injection_snags_yr",)),
    Asked("before the harvest", "Does the burn come before the harvest?"),
)
ASKED = {one.name: one for one in _ASKED}


@dataclass(frozen=True)
class BurnGates:
    """All gates on the day planned; whether the burn is refused, and what overrides that."""

    planned_on: dt.date
    gates: tuple[Gate, ...]
    override: str

    DERIVED: ClassVar = ("refused",)

    @property
    def against(self) -> tuple[Gate, ...]:
        """Gates that say no."""
        return tuple(one for one in self.gates if one.answer == NO)

    @property
    def refused(self) -> bool:
        """A gate that says no refuses the burn unless a reason overrides it."""
        return bool(self.against) and not self.override


def burn_gates(
    file: StandFile, figures: Figures, rules: Rules, on: dt.date, planned_on: dt.date, override: str = ""
) -> BurnGates:
    """The gates of a burn planned for a day."""
    asks: tuple[Callable[[], Gate], ...] = (
        lambda: dormant(file, rules, planned_on),
        lambda: _safe(file, figures, rules, on),
        lambda: foot_clear(file, rules, on),
        lambda: snags_down(file, rules, planned_on),
        lambda: before_harvest(file, planned_on),
    )
    return BurnGates(planned_on, tuple(ask() for ask in asks), override)


def _safe(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """The course's own gate, and new oak germinants seen at the last count."""
    safe = burn_safe(file, figures, rules, on)
    visit, wait = file.latest("reproduction"), int(rules.number("burn_youngest_seedling_yr"))
    if safe.answer == NO or visit is None or years_since(visit.visited_on, on) > wait:
        return safe
    young = sum(
        row.stems
        for row in file.seedlings
        if row.visit == visit.visit and row.origin == "germinant" and by_code(row.species).is_oak
    )
    if not young:
        return safe
    why = (
        f"{young} oak germinants stood on the plots in {visit.visited_on:%b %Y}: their roots are too small to "
        "sprout after fire"
    )
    settle = Reason("not_before_autumn", {"year": visit.visited_on.year + wait})
    values = {"germinants": float(young)}
    return replace(
        safe, answer=NO, good=False, code="germinants", figure="oak_stems_1ft_ac", why=why, settle=settle, values=values
    )


def in_growing_season(day: dt.date, rules: Rules) -> bool:
    """Whether a day lies between bud break and leaf fall."""
    window = season(rules, "window_growing", day.year)
    return window.start <= day <= window.end


def dormant(file: StandFile, rules: Rules, planned_on: dt.date) -> Gate:
    """Is the burn planned for the dormant season, where the stand holds valuable stems?"""
    day, boards, limit = f"{planned_on:%d %b}", _boards_ac(file, rules), rules.number("burn_valuable_bf_ac")
    settle: Reason | None = Reason("plan_dormant")
    growing = f"{day} lies in the growing season"
    if not in_growing_season(planned_on, rules):
        answer, code, why, settle = YES, "dormant", f"{day} lies in the dormant season", None
    elif boards is None:
        answer, code, why = NO, "growing_never_cruised", f"{growing} and the timber was never cruised"
    elif boards >= limit:
        answer, code = NO, "growing_valuable"
        why = (
            f"{growing} and {measures.amount(boards, 'bd ft/ac', ',.0f')} stand here (limit "
            f"{measures.digits(limit, 'bd ft/ac', ',.0f')}): stems die and degrade, most in July and August"
        )
    else:
        answer, code, why = (
            UNSURE,
            "growing",
            f"{growing}; {measures.amount(boards, 'bd ft/ac', ',.0f')} stand here, under "
            f"{measures.digits(limit, 'bd ft/ac', ',.0f')}",
        )
    numbers = {"boards_ac": math.nan if boards is None else boards, "limit": limit}
    return gate(ASKED["dormant season"], answer, code, why, settle=settle, values=numbers)


def _boards_ac(file: StandFile, rules: Rules) -> float | None:
    cut = evidence.timber_of(file, rules, "doyle")
    if cut is None:
        return None
    boards = cut.amounts([piece for piece in cut.pieces if piece.unit == "bd ft"])
    return float((boards * evidence.trees_per_ac(cut.cruise)).sum())


def foot_clear(file: StandFile, rules: Rules, on: dt.date) -> Gate:
    """Is the foot of the leave trees free of heavy fuel?"""
    visit, years, limit = file.latest("fuel"), rules.number("fresh_fuel_yr"), rules.number("burn_debris_warn_share")
    rows: tuple[Fuel, ...] = tuple(row for row in file.fuels if visit is not None and row.visit == visit.visit)
    looked, heavy = sum(row.leave_trees or 0 for row in rows), sum(row.leave_trees_with_debris or 0 for row in rows)
    settle: Reason | None = Reason("pull_debris")
    why = (
        f"{heavy} of {looked} leave trees have slash, logs or vines at the foot (limit {limit:.0%}); debris "
        "there decides the damage"
    )
    if visit is None or looked == 0:
        answer, code, why = NOT_LOOKED, "no_look", "nobody has looked at the foot of the leave trees"
    elif years_since(visit.visited_on, on) > years:
        answer, code = TOO_OLD, "look_too_old"
        why = f"the look at the fuel of {visit.visited_on:%b %Y} is over {years:g} yr old"
    elif heavy / looked <= limit:
        answer, code, settle = YES, "below", None
    else:
        answer, code = UNSURE, "debris"
    return gate(
        ASKED["foot clear"],
        answer,
        code,
        why,
        settle=settle,
        values={"trees": looked, "with_debris": heavy, "limit": limit},
    )


def snags_down(file: StandFile, rules: Rules, planned_on: dt.date) -> Gate:
    """Do injected stems still stand dead where people will walk and fire will climb?"""
    asked, years, work = ASKED["snags down"], rules.number("injection_snags_yr"), standing_dead(file, rules, planned_on)
    if not work:
        return gate(asked, YES, "none_injected", f"no injection in the last {years:g} years", values={"years": years})
    when = f"{work[-1].started_on:%b %Y}"
    why = (
        f"stems injected in {when} stand dead for about {years:g} years: they drop limbs and burn as torches, "
        "and count as fuel"
    )
    return gate(asked, UNSURE, "dead_stand", why, settle=Reason("walk_the_lines"), values={"years": years})


def before_harvest(file: StandFile, planned_on: dt.date) -> Gate:
    """Does the burn come before the harvest, or is it a release burn on purpose?"""
    asked, cuts = (
        ASKED["before the harvest"],
        [row for row in file.done(*CUT_KINDS) if (row.ended_on or row.started_on) <= planned_on],
    )
    if not cuts:
        return gate(asked, YES, "not_cut", "nothing was cut here: a burn before the harvest prepares the ground")
    done = f"a {cuts[-1].kind} was done in {cuts[-1].started_on:%b %Y}"
    why = f"{done}: this would be a release burn, with tops on the ground and young oaks at stake"
    return gate(asked, UNSURE, "cut_before", why, settle=Reason("burn_for_release"))
