"""Gates: a question, the figure it reads, a threshold, and one of open, shut, unsure, unmeasured, expired."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement.evidence import acorns, invasives
from overwood.judgement.rules import Rules
from overwood.judgement.windows import upcoming
from overwood.science import decisions

# The state that each side of a threshold is.
_STATE_OF = {decisions.OPEN: "open", decisions.UNSURE: "unsure", decisions.SHUT: "shut"}
STATES = ("open", "shut", "unsure", "unmeasured", "expired")
Figures = dict[str, Figure]


@dataclass(frozen=True, kw_only=True)
class Gate:
    """One gate as it stands on a day."""

    name: str
    question: str
    state: str
    figure: str
    why: str
    settle: str = ""
    rules: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise ValueError(f"{self.state!r} is no state of a gate")


def against(figure: Figure, threshold: float) -> str:
    """Where an interval lies: open above the threshold, shut below it, unsure across it."""
    if not figure.measured:
        return "unmeasured"
    return _STATE_OF[decisions.side(*figure.ends, threshold)]


def span(figure: Figure, unit: str = "", places: int = 0) -> str:
    """A figure with its interval in words: '404 (246 to 562) stems/ac'."""
    if not figure.measured:
        return "not measured"
    scale, sign = (100.0, " %") if figure.unit == "share" else (1.0, "")
    text = f"{scale * figure.number:.{places}f}"
    if figure.low is not None and figure.high is not None:
        text += f" ({scale * figure.low:.{places}f} to {scale * figure.high:.{places}f})"
    words = sign or unit or figure.unit
    return f"{text}{words if words.startswith(' ') else ' ' + words}".rstrip()


def years_since(day: dt.date, on: dt.date) -> float:
    return (on - day).days / 365.25


def oak_enough(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """Is there enough oak on the ground to take the overwood off now?"""
    question = "Is there enough oak on the ground to cut now?"
    used = ("verdict_level", "several_hundred_ac", "waist_high_ft", "clumped_ratio")
    verdict, visit = figures["oak_verdict"], file.latest("reproduction")
    if visit is None or not verdict.measured:
        settle = f"Count {rules.number('fewest_reproduction_plots'):.0f} or more plots of 1/735 acre (4.34 ft radius)."
        return Gate(
            name="oak enough", question=question, state="unmeasured", figure="oak_verdict", why=verdict.note,
            settle=settle, rules=used,
        )  # fmt: skip
    why = verdict.method + (f"; {verdict.note}" if verdict.note else "")
    if years_since(visit.visited_on, on) > rules.number("fresh_reproduction_yr"):
        return Gate(
            name="oak enough", question=question, state="expired", figure="oak_verdict", rules=used,
            why=f"the count of {visit.visited_on:%b %Y} is over {rules.number('fresh_reproduction_yr'):g} yr old; it said: {why}",
            settle="Count again.",
        )  # fmt: skip
    state = {"adequate": "open", "inadequate": "shut", "unsure": "unsure"}[str(verdict.value)]
    more = figures["plots_to_settle"]
    settle = ""
    if state == "unsure":
        settle = f"{more.number:.0f} plots in all would settle it, if what was seen is true" if more.measured else more.note
    return Gate(name="oak enough", question=question, state=state, figure="oak_verdict", why=why, settle=settle, rules=used)


def low_enough(figures: Figures, rules: Rules) -> Gate:
    """Is the reproduction still low enough to fell over it?"""
    limit, height = rules["latest_release_height_ft"], figures["tallest_oak_ft"]
    question = "Is the reproduction still low enough to fell the overwood over it?"
    if not height.measured:
        state, why = "unmeasured", height.note
    else:
        state = "open" if height.number < limit.number else "shut"
        pace = rules["growth_released_ft_yr"]
        left = max(0.0, limit.number - height.number)
        soon, late = left / float(pace.high or 1), left / float(pace.low or 1)
        why = f"tallest oak {height.number:.1f} ft; felling breaks reproduction above {limit.number:g} ft"
        if state == "open":
            why += f", reached in {soon:.1f} to {late:.1f} yr at {pace.low:g} to {pace.high:g} ft a year (assumption)"
    return Gate(
        name="low enough", question=question, state=state, figure="tallest_oak_ft", why=why,
        settle="Measure the tallest oaks." if state == "unmeasured" else "", rules=("latest_release_height_ft",),
    )  # fmt: skip


def midstory_shades(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """Is the midstory shading the floor, so that injection is wanted?"""
    question = "Is the midstory shading the floor?"
    stems, ba, visit = figures["midstory_stems_ac"], figures["midstory_ba_ft2_ac"], file.latest("cruise")
    used = ("midstory_stems_ac", "midstory_ba_ft2_ac", "midstory_high_dbh_in")
    if visit is None or not stems.measured:
        return Gate(
            name="midstory shades", question=question, state="unmeasured", figure="midstory_stems_ac", why=stems.note,
            settle="Cruise, with a 1/50-acre ring for stems of 1 in. and more at each point.", rules=used,
        )  # fmt: skip
    parts = (against(stems, rules.number("midstory_stems_ac")), against(ba, rules.number("midstory_ba_ft2_ac")))
    why = (
        f"{span(stems)} of tolerant midstory (limit {rules.number('midstory_stems_ac'):g}) with {span(ba, places=1)} "
        f"(limit {rules.number('midstory_ba_ft2_ac'):g}); floor light {span(figures['floor_light_pct'])}"
    )
    treated = file.done("injection")
    fresh = visit.visited_on if not treated else max(visit.visited_on, treated[-1].started_on)
    if treated and treated[-1].started_on > visit.visited_on:
        return Gate(
            name="midstory shades", question=question, state="expired", figure="midstory_stems_ac", rules=used,
            why=f"injected {treated[-1].started_on:%b %Y}, after the cruise of {visit.visited_on:%b %Y}",
            settle="Check next summer how many treated stems are dead.",
        )  # fmt: skip
    if years_since(fresh, on) > rules.number("fresh_midstory_yr"):
        state, settle = "expired", "Tally the midstory again."
    else:
        state = "open" if "open" in parts else "shut" if set(parts) == {"shut"} else "unsure"
        settle = "More points, or a walk through with the owner of the decision." if state == "unsure" else ""
    if treated and treated[-1].dead_share is not None:
        why += f"; {treated[-1].dead_share:.0%} of the stems injected in {treated[-1].started_on:%b %Y} were found dead"
    return Gate(
        name="midstory shades",
        question=question,
        state=state,
        figure="midstory_stems_ac",
        why=why,
        settle=settle,
        rules=used,
    )


def _round(value: float) -> str:
    """Two digits, for figures whose range spans decades."""
    return f"{float(f'{value:.2g}'):,.0f}"


def crop_good(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """Is this autumn's acorn crop good enough to open the stand?"""
    question = "Is this year's acorn crop good enough to open the stand?"
    share, limit = figures["crop_bearing_share"], rules.number("crop_bearing_share")
    used = ("crop_bearing_share", "crop_fewest_trees")
    check = upcoming(rules, "window_acorn", on)
    if not share.measured:
        return Gate(
            name="crop good", question=question, state="unmeasured", figure="crop_bearing_share", why=share.note,
            settle=f"Look at {rules.number('crop_fewest_trees'):.0f} or more oaks of each group, {check}.", rules=used,
        )  # fmt: skip
    why = f"{share.number:.0%} of {share.n} oaks bear ({share.low:.0%} to {share.high:.0%}), {limit:.0%} wanted"
    seedlings = figures["seedlings_8yr_ac"]
    if seedlings.measured and seedlings.low is not None and seedlings.high is not None:
        why += f"; worth {_round(seedlings.low)} to {_round(seedlings.high)} seedlings/ac in eight years by the published chain"
    spoken = acorns.check_of(file, acorns.crop_year(on), rules)
    codes = acorns.doubt_codes(spoken, share.n or 0, rules) if spoken else ()
    if {"out_of_season", "few_trees"} & set(codes):
        return Gate(
            name="crop good", question=question, state="unsure", figure="crop_bearing_share", why=f"{why}; {share.note}",
            settle=f"Check again, {check}.", rules=used,
        )  # fmt: skip
    state = against(share, limit)
    more = f"Look at more trees now, or check again {check}." if state == "unsure" else ""
    if state == "shut":
        more = f"Do not open the stand this year; check again {check}."
    if share.note:
        why += f"; {share.note}"
    return Gate(name="crop good", question=question, state=state, figure="crop_bearing_share", why=why, settle=more, rules=used)


def burn_safe(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """Would a burn this dormant season spare the acorns and seedlings that are wanted?"""
    question = "Would a burn this winter spare the acorns and seedlings that are wanted?"
    used = ("burn_youngest_seedling_yr", "burn_collar_majority", "crop_bearing_share")
    crop = figures["crop_bearing_share"]
    limit, wait = rules.number("crop_bearing_share"), int(rules.number("burn_youngest_seedling_yr"))
    if crop.measured and crop.number >= limit:
        why = f"wanted acorns lie on the litter ({crop.number:.0%} of oaks bear); fire kills them and their seedlings"
        return Gate(
            name="burn safe", question=question, state="shut", figure="crop_bearing_share", why=why,
            settle=f"Not before the seedlings are {wait} years old.", rules=used,
        )  # fmt: skip
    recent = last_good_crop(file, rules, on, wait)
    spares = recent is None or decisions.fire_spares(False, acorns.crop_year(on) - recent, wait)
    if recent is not None and not spares and figures["oak_stems_1ft_ac"].measured:
        why = f"seedlings of the {recent} crop are under {wait} years old"
        return Gate(
            name="burn safe", question=question, state="shut", figure="bearing_white_share", why=why,
            settle=f"Not before autumn {recent + wait}.", rules=used,
        )  # fmt: skip
    return _burn_by_collars(figures, rules, question, used)


def _burn_by_collars(figures: Figures, rules: Rules, question: str, used: tuple[str, ...]) -> Gate:
    """Whether the tall oaks would live; where none is tall, a burn harms the small ones, and the gate says how many."""
    collar, tall = figures["burnable_collar_share"], figures["oak_stems_3ft_ac"]
    if not collar.measured and tall.measured and tall.number == 0:
        return _burn_of_small_oaks(figures, question, used)
    if not collar.measured:
        return Gate(
            name="burn safe", question=question, state="unmeasured", figure="burnable_collar_share", why=collar.note,
            settle="Measure collars of the oaks 3 ft and taller.", rules=used,
        )  # fmt: skip
    state = against(collar, rules.number("burn_collar_majority"))
    why = f"{span(collar)} of the tall oaks have a collar of {rules.number('burn_collar_in'):g} in. and more"
    return Gate(
        name="burn safe", question=question, state=state, figure="burnable_collar_share", why=why, rules=used,
        settle="Measure collars on more plots." if state == "unsure" else "",
    )  # fmt: skip


def _burn_of_small_oaks(figures: Figures, question: str, used: tuple[str, ...]) -> Gate:
    """No oak is tall: a burn meets only the small ones, whose roots are too small to sprout; where there are none it harms none."""
    one, small = figures["oak_stems_1ft_ac"], figures["oak_stems_under_1ft_ac"]
    counts = [
        f"{span(one)} of 1 ft and taller" if one.measured else "those of 1 ft not counted",
        f"{span(small)} under 1 ft" if small.measured else "those under 1 ft not counted",
    ]
    why = f"no oak of 3 ft and taller was counted ({span(figures['oak_stems_3ft_ac'])}); the small oaks are what a burn would meet: {' and '.join(counts)}"
    state, settle = "open", ""
    if one.number > 0 or small.number > 0:
        state, settle = "shut", "Not before they stand tall enough to sprout again; or write down that they are not wanted."
        why += "; their roots are too small to sprout after fire"
    elif not (one.measured and small.measured):
        state, settle = "unmeasured", "Count oaks under 1 ft too."
    return Gate(name="burn safe", question=question, state=state, figure="oak_stems_1ft_ac", why=why, settle=settle, rules=used)


def last_good_crop(file: StandFile, rules: Rules, on: dt.date, years: int) -> int | None:
    """The last autumn within so many years in which the crop was good."""
    for year in range(acorns.crop_year(on), acorns.crop_year(on) - years, -1):
        check = acorns.check_of(file, year, rules)
        trees = [group for name in acorns.GROUPS if (group := check.group(name))] if check else []
        limit = rules.number("crop_bearing_share")
        if any(sum(map(acorns.is_bearing, group)) / len(group) >= limit for group in trees):
            return year
    return None


def _settle(state: str, measure: str, act: str) -> str:
    return "" if state == "open" else measure if state == "unmeasured" else act


def competitors_under(figures: Figures, rules: Rules) -> Gate:
    """Do the oaks keep ahead of their competitors?"""
    share, limit = figures["overtopped_share"], rules.number("overtopped_plots_share")
    below = {"open": "shut", "shut": "open"}
    state = below.get(against(share, limit), against(share, limit))
    why = share.note if not share.measured else f"a competitor overtops the best oak on {span(share)} of oak plots (limit {limit:.0%})"
    return Gate(
        name="competitors under", question="Do the oaks keep ahead of their competitors?", state=state,
        figure="overtopped_share", why=why, rules=("overtopped_plots_share",),
        settle=_settle(state, "Note the tallest competitor of each plot.", "Plan release of the best oaks before the last cut."),
    )  # fmt: skip


def browse_low(figures: Figures, rules: Rules) -> Gate:
    """Do deer leave the oaks alone? A fence that holds more oaks than the ground outside says no, whatever the tips say."""
    share, limit, fence = figures["browse_share"], rules.number("browse_share"), figures["fenced_more_oaks_ac"]
    below = {"open": "shut", "shut": "open"}
    state = below.get(against(share, limit), against(share, limit))
    why = share.note if not share.measured else f"{span(share)} of oak stems are browsed (limit {limit:.0%})"
    if fence.measured:
        why += f"; {span(fence)} more oaks of 1 ft inside the deer fence than outside"
        if fence.low is not None and fence.low > 0:
            state = "shut"
            why += ": deer hold the oaks down"
    if state in ("shut", "unsure"):
        why += "; the forecast is not to be relied on where deer hold the oaks down"
    return Gate(
        name="browse low", question="Do deer leave the oaks alone?", state=state, figure="browse_share", why=why,
        settle=_settle(state, "Note browsed stems at the next count.",
                       "Lower the deer, or fence." if fence.measured else "Compare with a small fenced check; lower the deer, or fence."),
        rules=("browse_share",),
    )  # fmt: skip


def free_of_invasives(file: StandFile, rules: Rules, on: dt.date) -> Gate:
    """Has anything been seen that must be treated before the canopy opens? Open only where somebody looked."""
    seen, looked = invasives.seen_in(file), invasives.looks_for(file)
    fresh = [visit for visit in looked if years_since(visit.visited_on, on) <= rules.number("fresh_invasives_yr")]
    if seen:
        state, why = "shut", "; ".join(seen)
    elif fresh:
        state, why = "open", f"looked for in {fresh[-1].visited_on:%b %Y}, none seen"
    elif looked:
        state, why = "expired", f"looked for in {looked[-1].visited_on:%b %Y}, none seen then"
    else:
        state, why = "unmeasured", "nobody looked for invasive plants: no visit says that it did"
    return Gate(
        name="free of invasives", question="Is the stand free of invasive plants that light would spread?",
        state=state, figure="", why=why, rules=("fresh_invasives_yr",),
        settle=_settle("unmeasured" if state == "expired" else state, "Look for invasive plants along the roads and on the plots, and note it.",
                       "Treat them before the canopy opens."),
    )  # fmt: skip


def cruise_fresh(file: StandFile, rules: Rules, on: dt.date) -> Gate:
    """Is the cruise young enough to decide on?"""
    visit, years = file.latest("cruise"), rules.number("fresh_overstory_yr")
    question = "Is the cruise young enough to decide on?"
    if visit is None:
        state, why = "unmeasured", "no cruise of this stand is in the book"
    elif years_since(visit.visited_on, on) > years:
        state = "expired"
        why = f"the cruise of {visit.visited_on:%b %Y} is {years_since(visit.visited_on, on):.0f} years old; {years:g} is the limit"
    else:
        state, why = "open", f"cruised {visit.visited_on:%b %Y}"
    return Gate(
        name="cruise fresh", question=question, state=state, figure="overwood_ba_ft2_ac", why=why,
        settle="" if state == "open" else f"Cruise, {upcoming(rules, 'window_cruise', on)} or at leaf-on.",
        rules=("fresh_overstory_yr",),
    )  # fmt: skip
