"""What is due when: the next step of a stand and the counts and checks that must not be missed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from overwood.ground.records import StandFile
from overwood.ground.vocabulary import REMOVAL_KINDS
from overwood.judgement.course import Advice
from overwood.judgement.gates import years_since
from overwood.judgement.gates.windows import Window, open_days, season, upcoming
from overwood.judgement.rules import Rules


@dataclass(frozen=True, kw_only=True)
class Due:
    """One thing to do in one season."""

    stand: str
    what: str
    window: Window
    why: str
    cautions: tuple[str, ...] = ()
    days_left: int | None = None


def due_of(file: StandFile, advice: Advice, rules: Rules) -> list[Due]:
    """Everything due in a stand, the advised step first."""
    rows = []
    if advice.window is not None:
        rows.append(
            Due(
                stand=advice.stand,
                what=advice.title,
                window=advice.window,
                why=advice.doubts[0].words if advice.cut_in_doubt else advice.why_in_one_line,
                cautions=advice.cautions,
                days_left=_days_left(advice, rules),
            )
        )
    if advice.second_window is not None and advice.second_window != advice.window:
        rows.append(
            Due(
                stand=advice.stand,
                what=f"{advice.title} (second choice of season)",
                window=advice.second_window,
                why="if autumn was missed",
                cautions=advice.cautions,
            )
        )
    return rows + _counts(file, advice, rules) + _acorns(advice, rules) + _cruise(file, advice, rules)


def _days_left(advice: Advice, rules: Rules) -> int | None:
    """Days of the season outside what guidance closes; None where nothing closes it."""
    limits = [conflict.days_left for conflict in advice.conflicts if conflict.days_left is not None]
    if advice.window is None or not limits:
        return None
    codes = {conflict.code for conflict in advice.conflicts}
    parts = open_days(
        advice.window,
        rules,
        allowed="roost_tree_felling" if "roost_season" in codes else "",
        closed="oak_wilt_no_wounds" if "oak_wilt" in codes else "",
    )
    return sum(part.days for part in parts)


def _counts(file: StandFile, advice: Advice, rules: Rules) -> list[Due]:
    """A yearly count from the seed cut until the release, and at the ages of the rulebook after it."""
    if advice.stage not in ("opened", "midstory treated", "released") or advice.step in ("count", "settle"):
        return []
    if advice.stage == "released" and not _count_age(file, rules, advice.on):
        return []
    window = upcoming(rules, "window_reproduction", advice.on)
    last = file.latest("reproduction")
    if last is not None and last.visited_on >= season(rules, "window_reproduction", advice.on.year).start:
        window = season(rules, "window_reproduction", advice.on.year + 1)
    return [
        Due(
            stand=advice.stand,
            what="Count the reproduction",
            window=window,
            why="the yearly count; not going back is a common failure",
        )
    ]


def _count_age(file: StandFile, rules: Rules, on: dt.date) -> bool:
    cuts = file.done(*REMOVAL_KINDS)
    age = years_since(cuts[-1].started_on, on) if cuts else 0.0
    spans = (rules[f"young_count_{name}_yr"].span for name in ("first", "second", "third"))
    return any(low <= age + 1 <= high for low, _, high in spans)


def _acorns(advice: Advice, rules: Rules) -> list[Due]:
    """A check every September from the day the stand is known to be heading for a seed cut."""
    if advice.step not in ("inject", "seed_cut", "count", "check_injection") or advice.stage in ("opened", "released"):
        return []
    window = upcoming(rules, "window_acorn", advice.on)
    return [
        Due(
            stand=advice.stand,
            what="Survey the fall acorn crop",
            window=window,
            why="three autumns of records find most of the best acorn producers",
        )
    ]


def _cruise(file: StandFile, advice: Advice, rules: Rules) -> list[Due]:
    visit = file.latest("cruise")
    if visit is None or advice.step == "measure":
        return []
    expires = visit.visited_on.replace(year=visit.visited_on.year + int(rules.number("fresh_overstory_yr")), day=1)
    window = season(rules, "window_cruise", expires.year - 1)
    return [Due(stand=advice.stand, what="Cruise again", window=window, why=f"the cruise expires in {expires:%b %Y}")]
