"""The gates before a burn: season, seedlings and acorns, fuel at the foot of leave trees, snags, and before or after the cut."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace

from overwood.ground.records import CUT_KINDS, Fuel, StandFile
from overwood.ground.species import by_code
from overwood.judgement.evidence import timber as evidence
from overwood.judgement.gates import Figures, Gate, burn_safe, years_since
from overwood.judgement.injection import standing_dead
from overwood.judgement.rules import Rules
from overwood.judgement.windows import season


@dataclass(frozen=True)
class BurnGates:
    """All gates on the day planned; whether the burn is refused, and what overrides that."""

    planned_on: dt.date
    gates: tuple[Gate, ...]
    override: str

    @property
    def shut(self) -> tuple[Gate, ...]:
        return tuple(gate for gate in self.gates if gate.state == "shut")

    @property
    def refused(self) -> bool:
        """A shut gate refuses the burn unless a reason overrides it."""
        return bool(self.shut) and not self.override


def burn_gates(file: StandFile, figures: Figures, rules: Rules, on: dt.date, planned_on: dt.date, override: str = "") -> BurnGates:
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
    gate = burn_safe(file, figures, rules, on)
    visit, wait = file.latest("reproduction"), int(rules.number("burn_youngest_seedling_yr"))
    if gate.state == "shut" or visit is None or years_since(visit.visited_on, on) > wait:
        return gate
    young = sum(
        row.stems for row in file.seedlings if row.visit == visit.visit and row.origin == "germinant" and by_code(row.species).is_oak
    )
    if not young:
        return gate
    why = f"{young} oak germinants stood on the plots in {visit.visited_on:%b %Y}: their roots are too small to sprout after fire"
    settle = f"Not before autumn {visit.visited_on.year + wait}."
    return replace(gate, state="shut", figure="oak_stems_1ft_ac", why=why, settle=settle)


def in_growing_season(day: dt.date, rules: Rules) -> bool:
    """Whether a day lies between bud break and leaf fall."""
    window = season(rules, "window_growing", day.year)
    return window.start <= day <= window.end


def dormant(file: StandFile, rules: Rules, planned_on: dt.date) -> Gate:
    """Is the burn planned for the dormant season, where the stand holds valuable stems?"""
    question = "Is the burn planned for the dormant season?"
    used = ("window_growing", "burn_valuable_bf_ac")
    growing = in_growing_season(planned_on, rules)
    boards = _boards_ac(file, rules)
    limit = rules.number("burn_valuable_bf_ac")
    if not growing:
        state, why = "open", f"{planned_on:%d %b} lies in the dormant season"
    elif boards is None:
        state, why = "shut", f"{planned_on:%d %b} lies in the growing season and the timber was never cruised"
    elif boards >= limit:
        state = "shut"
        why = f"{planned_on:%d %b} lies in the growing season and {boards:,.0f} bd ft/ac stand here (limit {limit:,.0f}): stems die and degrade, most in July and August"
    else:
        state, why = "unsure", f"{planned_on:%d %b} lies in the growing season; {boards:,.0f} bd ft/ac stand here, under {limit:,.0f}"
    return Gate(
        name="dormant season", question=question, state=state, figure="", why=why,
        settle="Plan it between leaf fall and bud swell, or override with a reason." if state != "open" else "", rules=used,
    )  # fmt: skip


def _boards_ac(file: StandFile, rules: Rules) -> float | None:
    found = evidence.timber_of(file, rules, "doyle")
    if found is None:
        return None
    boards = found.amounts([piece for piece in found.pieces if piece.unit == "bd ft"])
    return float((boards * evidence.trees_per_ac(found.cruise)).sum())


def foot_clear(file: StandFile, rules: Rules, on: dt.date) -> Gate:
    """Is the foot of the leave trees free of heavy fuel?"""
    question = "Is the foot of the leave trees free of heavy fuel?"
    used = ("burn_debris_warn_share", "fresh_fuel_yr")
    visit = file.latest("fuel")
    rows: tuple[Fuel, ...] = tuple(row for row in file.fuels if visit is not None and row.visit == visit.visit)
    looked = sum(row.leave_trees or 0 for row in rows)
    if visit is None or looked == 0:
        state, why = "unmeasured", "nobody has looked at the foot of the leave trees"
    elif years_since(visit.visited_on, on) > rules.number("fresh_fuel_yr"):
        state, why = "expired", f"the look at the fuel of {visit.visited_on:%b %Y} is over {rules.number('fresh_fuel_yr'):g} yr old"
    else:
        heavy = sum(row.leave_trees_with_debris or 0 for row in rows)
        share, limit = heavy / looked, rules.number("burn_debris_warn_share")
        state = "open" if share <= limit else "unsure"
        why = f"{heavy} of {looked} leave trees have slash, logs or vines at the foot (limit {limit:.0%}); debris there decides the damage"
    settle = "" if state == "open" else "Pull debris 4 ft away from every leave tree, then look again (visit of kind 'fuel', sheet fuels)."
    return Gate(name="foot clear", question=question, state=state, figure="", why=why, settle=settle, rules=used)


def snags_down(file: StandFile, rules: Rules, planned_on: dt.date) -> Gate:
    """Do injected stems still stand dead where people will walk and fire will climb?"""
    question = "Are injected stems down or handled?"
    years = rules.number("injection_snags_yr")
    work = standing_dead(file, rules, planned_on)
    if work:
        last = work[-1]
        state = "unsure"
        why = f"stems injected in {last.started_on:%b %Y} stand dead for about {years:g} years: they drop limbs and burn as torches, and count as fuel"
    else:
        state, why = "open", f"no injection in the last {years:g} years"
    return Gate(
        name="snags down", question=question, state=state, figure="", why=why,
        settle="Walk the lines: fell or isolate snags within reach of them and of where people stand." if work else "",
        rules=("injection_snags_yr",),
    )  # fmt: skip


def before_harvest(file: StandFile, planned_on: dt.date) -> Gate:
    """Does the burn come before the harvest, or is it a release burn on purpose?"""
    cuts = [row for row in file.done(*CUT_KINDS) if (row.ended_on or row.started_on) <= planned_on]
    if not cuts:
        state, why = "open", "nothing was cut here: a burn before the harvest prepares the ground"
    else:
        last = cuts[-1]
        state = "unsure"
        why = f"a {last.kind} was done in {last.started_on:%b %Y}: this would be a release burn, with tops on the ground and young oaks at stake"
    return Gate(
        name="before the harvest", question="Does the burn come before the harvest?", state=state, figure="", why=why,
        settle="Burn for release only where the course says so: three to five years after the cut, collars thick, tops pulled from leave trees." if cuts else "",
    )  # fmt: skip
