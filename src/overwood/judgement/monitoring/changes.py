"""What changed between visits, and whether the file of a stand is complete."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.ground.measures import many
from overwood.ground.records import Stand, StandFile, Visit
from overwood.ground.vocabulary import OPENING_KINDS, REMOVAL_KINDS
from overwood.judgement.course.stage import stage
from overwood.judgement.evidence import all_figures
from overwood.judgement.gates import years_since
from overwood.judgement.monitoring.pairs import changes_by_point
from overwood.judgement.rules import Rules
from overwood.science.survey import Estimate

_WATCHED = {
    "cruise": ("ba_ft2_ac", "overwood_ba_ft2_ac", "overwood_stocking_pct", "midstory_stems_ac", "oak_share"),
    "reproduction": (
        "oak_stems_under_1ft_ac",
        "oak_stems_1ft_ac",
        "oak_stems_3ft_ac",
        "oak_stems_4_5ft_ac",
        "oak_stocked_3ft_share",
        "oak_stocked_4_5ft_share",
        "overtopped_share",
        "competitor_led_share",
        "browse_share",
        "tallest_oak_ft",
        "competitor_stems_3ft_ac",
    ),
    "acorn": ("bearing_white_share", "bearing_red_share"),
}


@dataclass(frozen=True, kw_only=True)
class Change:
    """One figure before and now; ``points`` is how many points were compared pair by pair, 0 where the visits are taken
    as apart."""

    figure: str
    unit: str
    before: Figure
    now: Figure
    word: str
    points: int = 0


@dataclass(frozen=True, kw_only=True)
class Changes:
    """What changed, by kind of visit, and what was done in between."""

    stand: str
    between: dict[str, tuple[dt.date, dt.date]]
    figures: tuple[Change, ...]
    work: tuple[str, ...]
    same_day: tuple[str, ...]


def changes(file: StandFile, rules: Rules, on: dt.date) -> Changes:
    """Compare the last two visits of each kind that decided; one that covers too little to replace another is none."""
    known = file.as_of(on)
    between: dict[str, tuple[dt.date, dt.date]] = {}
    changes: list[Change] = []
    for kind, names in _WATCHED.items():
        days = _decided_on(known, kind)
        if len(days) == 2:
            between[kind] = days[0], days[1]
            changes += _changes_of(known, kind, names, between[kind], rules)
    first = min((pair[0] for pair in between.values()), default=on)
    work = [
        f"{row.kind}, {row.started_on:%d %b %Y}"
        for row in known.operations
        if row.state == "done" and row.started_on >= first
    ]
    twice = _same_day(known)
    return Changes(stand=file.stand.stand, between=between, figures=tuple(changes), work=tuple(work), same_day=twice)


def _decided_on(known: StandFile, kind: str) -> list[dt.date]:
    """The days of the last two visits of a kind that decided, the later one last; fewer where there were fewer."""
    days: list[dt.date] = []
    for day in sorted({visit.visited_on for visit in known.visits_of(kind)}, reverse=True):
        visit = known.as_of(day).latest(kind)
        if visit is not None and visit.visited_on not in days:
            days.append(visit.visited_on)
    return sorted(days)[-2:]


def _changes_of(
    known: StandFile, kind: str, names: tuple[str, ...], days: tuple[dt.date, dt.date], rules: Rules
) -> list[Change]:
    """Each figure of a kind of visit on two days: pair by pair where the same points were visited again."""
    files = [known.as_of(day) for day in days]
    before, now = (all_figures(file, rules, day) for file, day in zip(files, days, strict=True))
    visits = [file.latest(kind) for file in files]
    gaps: dict[str, Estimate] = {}
    points = 0
    if kind in ("cruise", "reproduction") and visits[0] is not None and visits[1] is not None:
        gaps, points = changes_by_point(known, visits[0], visits[1], rules)
    changes = []
    for name in names:
        if before[name].measured and now[name].measured:
            word = _paired_word(gaps[name]) if name in gaps else compare(before[name], now[name])
            one = Change(
                figure=name,
                unit=now[name].unit,
                before=before[name],
                now=now[name],
                word=word,
                points=points if name in gaps else 0,
            )
            changes.append(one)
    return changes


def _paired_word(gap: Estimate) -> str:
    """more, less, or no sure change, by the interval of the change of each point."""
    return "more" if gap.low > 0 else "less" if gap.high < 0 else "no sure change"


def compare(before: Figure, now: Figure) -> str:
    """more, less, or no sure change: sure where neither estimate lies in the other's interval."""
    if None in (before.low, before.high, now.low, now.high):
        return "changed" if now.number != before.number else "the same"
    if now.number > float(before.high or 0) and before.number < float(now.low or 0):
        return "more"
    if now.number < float(before.low or 0) and before.number > float(now.high or 0):
        return "less"
    return "no sure change"


def _same_day(file: StandFile) -> tuple[str, ...]:
    """Visits of one kind on one day, which may be one visit entered twice."""
    seen: dict[tuple[str, dt.date], Visit] = {}
    pairs = []
    for visit in file.visits:
        key = (visit.kind, visit.visited_on)
        if key in seen:
            pairs.append(f"{seen[key].visit} and {visit.visit} are both {visit.kind} of {visit.visited_on:%d %b %Y}")
        seen[key] = visit
    return tuple(pairs)


# Items of the file that are looked up elsewhere before work is prescribed.
LOOK_UPS = ("rare species look-up", "cultural site look-up")


@dataclass(frozen=True)
class FileItem:
    """One thing an auditor looks for."""

    item: str
    state: str
    found: str


def completeness(file: StandFile, rules: Rules, on: dt.date) -> list[FileItem]:
    """The items that practice files and certification ask for, present or missing."""
    stand = file.stand
    items = [
        _item("owner's aim in writing", file.property.objective if file.property else ""),
        _item("area", f"{measures.amount(stand.area_ac, 'ac', 'g')}" if stand.area_ac else ""),
        _item("outline on a map", "outline given" if stand.boundary_wkt else ""),
        _item("slope and aspect", _lie(stand)),
        _item("site index", f"{measures.amount(stand.site_index_ft, 'ft', 'g')}" if stand.site_index_ft else ""),
        _item("history", stand.note),
        _visit_item(file, "cruise", "cruise with basal area, mean diameter and number of trees", rules, on),
        _visit_item(file, "reproduction", "reproduction count", rules, on),
        _seen_item(file, LOOK_UPS[0], "rare species", "roost tree"),
        _seen_item(file, LOOK_UPS[1], "cultural site"),
    ]
    for row in file.operations:
        items.append(
            _item(f"{row.kind} of {row.started_on:%b %Y}: cost or income", _money(row.cost_usd, row.income_usd))
        )
        if row.kind == "injection" and row.state == "done":
            dead = "" if row.dead_share is None else f"{row.dead_share:.0%} dead"
            items.append(_item(f"injection of {row.started_on:%b %Y}: check of the kill", dead))
            items.append(
                FileItem(
                    f"injection of {row.started_on:%b %Y}: product, EPA number, amount, applicator",
                    "missing",
                    "keep the application record",
                )
            )
        if row.kind == "burn" and row.state == "done":
            items.append(
                FileItem(
                    f"burn of {row.started_on:%b %Y}: plan, permit, weather, after-action",
                    "missing",
                    "keep the burn file",
                )
            )
    if stage(file) in ("opened", "released"):
        cuts = file.done(*OPENING_KINDS, *REMOVAL_KINDS)
        counted = [
            visit
            for visit in file.visits_of("reproduction")
            if visit.visited_on > cuts[-1].started_on and file.look_points(visit)
        ]
        items.append(_item("count after the cut", many(len(counted), "count") if counted else ""))
    for decision in file.decisions:
        reason = decision.reason if decision.overridden else decision.reason or "followed the advice"
        items.append(
            _item(
                f"decision of {decision.decided_on:%b %Y}: reason and rulebook version",
                f"{reason} ({decision.rulebook_version})" if decision.rulebook_version else "",
            )
        )
    return items


def _item(name: str, text: str) -> FileItem:
    return FileItem(name, "present" if text else "missing", text)


def _lie(stand: Stand) -> str:
    """Slope and aspect; level ground has no aspect."""
    if stand.slope_pct == 0:
        return "level"
    return (
        "" if stand.slope_pct is None or stand.aspect_deg is None else f"{stand.slope_pct:g}%, {stand.aspect_deg:g} deg"
    )


def _money(cost: float | None, income: float | None) -> str:
    parts = [
        f"cost {cost:,.0f} US$" if cost is not None else "",
        f"income {income:,.0f} US$" if income is not None else "",
    ]
    return ", ".join(part for part in parts if part)


def _visit_item(file: StandFile, kind: str, name: str, rules: Rules, on: dt.date) -> FileItem:
    visit = file.latest(kind)
    if visit is None:
        return FileItem(name, "missing", "")
    limit = rules.number("fresh_overstory_yr" if kind == "cruise" else "fresh_reproduction_yr")
    state = "old" if years_since(visit.visited_on, on) > limit else "present"
    return FileItem(name, state, f"{visit.visited_on:%d %b %Y}, by {visit.observer or 'unknown'}")


def _seen_item(file: StandFile, name: str, *kinds: str) -> FileItem:
    seen = [row for row in file.sightings if row.kind in kinds]
    return _item(name, "; ".join(f"{row.kind}, {row.seen_on:%b %Y}" for row in seen))
