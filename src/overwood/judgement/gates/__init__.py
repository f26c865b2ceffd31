"""Gates: a question, and its answer by a figure against a threshold: yes, no, unsure, not looked at, too old."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from overwood.ground import measures
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement.evidence import acorns, invasives
from overwood.judgement.gates.windows import upcoming
from overwood.judgement.reason import Reason
from overwood.judgement.rules import Rules
from overwood.science import decisions, survey

YES, NO, UNSURE, NOT_LOOKED, TOO_OLD = "yes", "no", "unsure", "not looked at", "too old"
ANSWERS = (YES, NO, UNSURE, NOT_LOOKED, TOO_OLD)
# Without one of these a gate says nothing of the stand.
UNKNOWN = (NOT_LOOKED, TOO_OLD)
_ANSWER_OF = {decisions.OPEN: YES, decisions.UNSURE: UNSURE, decisions.SHUT: NO}
_OTHER_WAY = {YES: NO, NO: YES}
Figures = Mapping[str, Figure]


@dataclass(frozen=True)
class Asked:
    """What of a gate is the same on every day: name, question, the figure it reads, its rules, and whether yes is
    good."""

    name: str
    question: str
    figure: str = ""
    rules: tuple[str, ...] = ()
    yes_is_good: bool = True


_ASKED = (
    Asked("cruise fresh", "Is the cruise young enough to decide on?", "overwood_ba_ft2_ac", ("fresh_overstory_yr",)),
    Asked(
        "midstory shades",
        "Is the midstory shading the forest floor?",
        "midstory_stems_ac",
        ("midstory_stems_ac", "midstory_ba_ft2_ac", "midstory_high_dbh_in", "fresh_midstory_yr"),
        yes_is_good=False,
    ),
    Asked(
        "crop good",
        "Is this year's acorn crop good enough to open the stand?",
        "crop_bearing_share",
        ("crop_bearing_share", "crop_fewest_trees"),
    ),
    Asked(
        "burn safe",
        "Would a burn this winter spare the acorns and seedlings that are wanted?",
        "crop_bearing_share",
        ("burn_youngest_seedling_yr", "burn_collar_majority", "crop_bearing_share"),
    ),
    Asked(
        "free of invasives",
        "Is the stand free of invasive plants that light would spread?",
        "",
        ("fresh_invasives_yr",),
    ),
    Asked(
        "oak enough",
        "Is there enough oak on the ground to cut now?",
        "oak_verdict",
        ("verdict_level", "several_hundred_ac", "waist_high_ft", "clumped_ratio", "fresh_reproduction_yr"),
    ),
    Asked(
        "low enough",
        "Is the reproduction still low enough to fell the overwood over it?",
        "tallest_oak_ft",
        ("latest_release_height_ft",),
    ),
    Asked(
        "competitors under",
        "Do the oaks keep ahead of their competitors?",
        "competitor_led_share",
        ("competitor_led_share",),
    ),
    Asked("browse low", "Do deer leave the oaks alone?", "browse_share", ("browse_share",)),
)
GATES = {one.name: one for one in _ASKED}


@dataclass(frozen=True, kw_only=True)
class Gate:
    """One gate as it stands on a day.

    ``code`` is the reason in short and ``values`` its numbers; ``why`` is a sentence made from them that no logic
    reads, ``settle`` what would settle it, None where nothing is open. ``good`` says whether the answer is good for
    going on; None where it says nothing.
    """

    name: str
    question: str
    answer: str
    code: str
    figure: str
    why: str
    settle: Reason | None = None
    rules: tuple[str, ...] = ()
    good: bool | None = None
    values: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.answer not in ANSWERS:
            raise ValueError(f"{self.answer!r} is no answer of a gate")


def gate(
    asked: Asked,
    answer: str,
    code: str,
    why: str,
    *,
    settle: Reason | None = None,
    values: Mapping[str, float] | None = None,
) -> Gate:
    """A gate with its answer."""
    return Gate(
        name=asked.name,
        question=asked.question,
        answer=answer,
        code=code,
        figure=asked.figure,
        why=why,
        settle=settle,
        rules=asked.rules,
        good=(answer == YES) == asked.yes_is_good if answer in (YES, NO) else None,
        values={key: float(value) for key, value in (values or {}).items() if math.isfinite(value)},
    )


def against(figure: Figure, threshold: float) -> str:
    """Where an interval lies: yes above the threshold, no below it, unsure across it."""
    if not figure.measured:
        return NOT_LOOKED
    return _ANSWER_OF[decisions.side(*figure.ends, threshold)]


def _below(figure: Figure, threshold: float) -> str:
    """Yes where an interval lies below the threshold."""
    answer = against(figure, threshold)
    return _OTHER_WAY.get(answer, answer)


_CODE_OF = {YES: "above", NO: "below", UNSURE: "across", NOT_LOOKED: "no_figure", TOO_OLD: "too_old"}


def span(figure: Figure, unit: str = "", places: int = 0) -> str:
    """A figure with its interval in words: '404 (246 to 562) stems/ac'."""
    if not figure.measured:
        return "not measured"
    scale, unit = (100.0, "%") if figure.unit == "share" else (1.0, unit or figure.unit)
    number, *ends = (
        measures.digits(scale * value, unit, f".{places}f")
        for value in (figure.number, figure.low, figure.high)
        if value is not None
    )
    interval = f" ({ends[0]} to {ends[1]})" if len(ends) == 2 else ""
    return measures.with_unit(number, measures.unit_word(unit), interval)


def years_since(day: dt.date, on: dt.date) -> float:
    return (on - day).days / 365.25


_VERDICTS = {"adequate": YES, "inadequate": NO, "unsure": UNSURE}


def oak_enough(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """Is there enough oak on the ground to take the overwood off now?"""
    asked, verdict, visit = GATES["oak enough"], figures["oak_verdict"], file.latest("reproduction")
    if visit is None or not verdict.measured:
        radius_ft, plots = float(survey.plot_radius_ft(1 / 735)), rules.number("fewest_reproduction_plots")
        count = Reason("count_plots", {"plots": plots, "radius_ft": radius_ft})
        return gate(asked, NOT_LOOKED, "no_count", verdict.note, settle=count)
    why = verdict.method + (f"; {verdict.note}" if verdict.note else "")
    age, limit = years_since(visit.visited_on, on), rules.number("fresh_reproduction_yr")
    if age > limit:
        why = f"the count of {visit.visited_on:%b %Y} is over {limit:g} yr old; it said: {why}"
        values = {"years": age, "limit": limit}
        return gate(asked, TOO_OLD, "count_too_old", why, settle=Reason("count_again"), values=values)
    answer, more, settle = _VERDICTS[str(verdict.value)], figures["plots_to_settle"], None
    if answer == UNSURE and more.measured:
        settle = Reason("plots_would_settle", {"plots": more.number})
    elif answer == UNSURE and more.note:
        settle = Reason("gate_as_noted", {"note": more.note})
    return gate(asked, answer, f"verdict_{verdict.value}", why, settle=settle, values={"plots_to_settle": more.number})


def low_enough(figures: Figures, rules: Rules) -> Gate:
    """Is the reproduction still low enough to fell over it?"""
    asked, limit, height = GATES["low enough"], rules["latest_release_height_ft"], figures["tallest_oak_ft"]
    if not height.measured:
        return gate(asked, NOT_LOOKED, "no_figure", height.note, settle=Reason("measure_tallest"))
    above = measures.amount(limit.number, "ft", "g")
    why = f"tallest oak {measures.amount(height.number, 'ft', '.1f')}; felling breaks reproduction above {above}"
    numbers = {"value": height.number, "limit": limit.number}
    if height.number >= limit.number:
        return gate(asked, NO, "above", why, values=numbers)
    pace, left = rules["growth_released_ft_yr"], limit.number - height.number
    soon, late = left / float(pace.high or 1), left / float(pace.low or 1)
    at = measures.span(pace.span[0], pace.span[2], "ft a year", "g")
    why += f", reached in {soon:.1f} to {late:.1f} yr at {at} (assumption)"
    return gate(asked, YES, "below", why, values=numbers | {"years_low": soon, "years_high": late})


def midstory_shades(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """Is the midstory shading the floor, so that injection is wanted?"""
    asked, visit = GATES["midstory shades"], file.latest("midstory")
    stems, ba = figures["midstory_stems_ac"], figures["midstory_ba_ft2_ac"]
    if visit is None or not stems.measured:
        cruise = Reason("cruise_with_ring", {"ring": measures.plot_size(1 / 50, "-")})
        return gate(asked, NOT_LOOKED, "no_midstory_ring", stems.note, settle=cruise)
    limits = rules.number("midstory_stems_ac"), rules.number("midstory_ba_ft2_ac")
    numbers = {
        "stems_ac": stems.number,
        "stems_limit_ac": limits[0],
        "ba_ft2_ac": ba.number,
        "ba_limit_ft2_ac": limits[1],
    }
    why = (
        f"{span(stems)} of tolerant midstory (limit {measures.digits(limits[0], 'stems/ac', 'g')}) "
        f"with {span(ba, places=1)} "
        f"(limit {measures.digits(limits[1], 'ft2/ac', 'g')}); floor light {span(figures['floor_light_pct'])}"
    )
    treated = file.done("injection")
    if treated and treated[-1].started_on > visit.visited_on:
        why = f"injected {treated[-1].started_on:%b %Y}, after the tally of {visit.visited_on:%b %Y}"
        return gate(asked, TOO_OLD, "injected_since", why, settle=Reason("check_dead_stems"))
    if treated and treated[-1].dead_share is not None:
        why += f"; {treated[-1].dead_share:.0%} of the stems injected in {treated[-1].started_on:%b %Y} were found dead"
    if years_since(visit.visited_on, on) > rules.number("fresh_midstory_yr"):
        return gate(asked, TOO_OLD, "tally_too_old", why, settle=Reason("tally_again"), values=numbers)
    parts = {against(stems, limits[0]), against(ba, limits[1])}
    answer = YES if YES in parts else NO if parts == {NO} else UNSURE
    settle = Reason("more_points") if answer == UNSURE else None
    return gate(asked, answer, _CODE_OF[answer], why, settle=settle, values=numbers)


def _round(value: float) -> str:
    """Seedlings an acre on two digits, for their range spans decades."""
    digits = format(measures.convert(value, "seedlings/ac"), ".2g")
    return f"{float(digits):,.0f}"


def crop_good(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """Is this autumn's acorn crop good enough to open the stand?"""
    asked, share, limit = GATES["crop good"], figures["crop_bearing_share"], rules.number("crop_bearing_share")
    check = {"when": str(upcoming(rules, "window_acorn", on))}
    if not share.measured:
        settle = Reason("look_at_oaks", {"trees": rules.number("crop_fewest_trees"), **check})
        return gate(asked, NOT_LOOKED, "no_check", share.note, settle=settle)
    if share.n is None:
        return gate(asked, NO, "no_bearers", share.method, values={"value": share.number, "limit": limit})
    numbers = {"value": share.number, "limit": limit, "trees": float(share.n)}
    why = _crop_words(figures, limit) + (f"; {share.note}" if share.note else "")
    early = any(doubt.code == "out_of_season" for doubt in share.doubts)
    if early or share.n < int(rules.number("crop_fewest_trees")):
        return gate(
            asked,
            UNSURE,
            "out_of_season" if early else "few_trees",
            why,
            settle=Reason("check_crop_again", check),
            values=numbers,
        )
    answer = against(share, limit)
    settles = {UNSURE: Reason("look_at_more_trees", check), NO: Reason("do_not_open_yet", check)}
    return gate(asked, answer, _CODE_OF[answer], why, settle=settles.get(answer), values=numbers)


def crop_in_short(figures: Figures, limit: float) -> Reason:
    """The crop in a few words: '24% of 40 oaks have acorns (14% to 38%), 20% wanted'."""
    share = figures["crop_bearing_share"]
    seen = {"share": share.number, "trees": share.n, "low": share.low, "high": share.high, "wanted": limit}
    return Reason("crop_in_short", seen)


def _crop_words(figures: Figures, limit: float) -> str:
    seedlings = figures["seedlings_8yr_ac"]
    worth = ""
    if seedlings.measured and seedlings.low is not None and seedlings.high is not None:
        # "12 to 20,000" would be heard as 12,000.
        ends = f"as few as {_round(seedlings.low)} or as many as {_round(seedlings.high)}"
        worth = f"; worth {ends} {measures.unit_word('seedlings/ac')} in eight years by the published chain"
    return f"{crop_in_short(figures, limit)}{worth}"


def burn_safe(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """Would a burn this dormant season spare the acorns and seedlings that are wanted?"""
    asked, crop = GATES["burn safe"], figures["crop_bearing_share"]
    limit, wait = rules.number("crop_bearing_share"), int(rules.number("burn_youngest_seedling_yr"))
    if crop.measured and crop.number >= limit:
        share = f"{crop.number:.0%} of oaks had them"
        why = f"wanted acorns lie on the litter ({share}); fire kills them and their seedlings"
        settle = Reason("not_before_age", {"years": wait})
        return gate(asked, NO, "acorns_on_litter", why, settle=settle, values={"value": crop.number, "limit": limit})
    recent = last_good_crop(file, rules, on, wait)
    spares = recent is None or decisions.fire_spares(False, acorns.crop_year(on) - recent, wait)
    if recent is not None and not spares and figures["oak_stems_1ft_ac"].measured:
        why = f"seedlings of the {recent} crop are under {wait} years old"
        settle = Reason("not_before_autumn", {"year": recent + wait})
        crop_asked, values = replace(asked, figure="bearing_white_share"), {"crop_year": recent, "wait_yr": wait}
        return gate(crop_asked, NO, "young_seedlings", why, settle=settle, values=values)
    return _burn_by_collars(figures, rules)


def _burn_by_collars(figures: Figures, rules: Rules) -> Gate:
    """Whether the tall oaks would live; where none is tall, a burn harms the small ones, and the gate says how many."""
    collar, tall = figures["burnable_collar_share"], figures["oak_stems_3ft_ac"]
    asked = replace(GATES["burn safe"], figure=collar.name)
    if not collar.measured and tall.measured and tall.number == 0:
        return _burn_of_small_oaks(figures)
    if not collar.measured:
        measure = Reason("measure_collars", {"waist": rules.number("waist_high_ft")})
        return gate(asked, NOT_LOOKED, "no_collars", collar.note, settle=measure)
    limit = rules.number("burn_collar_majority")
    answer = against(collar, limit)
    thick = measures.amount(rules.number("burn_collar_in"), "in.", "g")
    why = f"{span(collar)} of the tall oaks have a collar of {thick} or larger"
    settle = Reason("more_collars") if answer == UNSURE else None
    values = {"value": collar.number, "limit": limit}
    return gate(asked, answer, f"collars_{_CODE_OF[answer]}", why, settle=settle, values=values)


def _burn_of_small_oaks(figures: Figures) -> Gate:
    """No oak is tall: a burn meets only the small ones, whose roots are too small to sprout; else it harms none."""
    one, small = figures["oak_stems_1ft_ac"], figures["oak_stems_under_1ft_ac"]
    counts = [
        f"{span(one)} of {measures.amount(1, 'ft', 'g')} or taller"
        if one.measured
        else f"those of {measures.amount(1, 'ft', 'g')} not counted",
        f"{span(small)} under {measures.amount(1, 'ft', 'g')}"
        if small.measured
        else f"those under {measures.amount(1, 'ft', 'g')} not counted",
    ]
    tall = span(figures["oak_stems_3ft_ac"])
    why = (
        f"no oak of {measures.amount(3, 'ft', 'g')} or taller was counted ({tall}); the small oaks are what a burn "
        f"would meet: {' and '.join(counts)}"
    )
    answer, code, settle = YES, "no_oaks", None
    if one.number > 0 or small.number > 0:
        answer, code = NO, "small_oaks"
        settle = Reason("not_before_tall")
        why += "; their roots are too small to sprout after fire"
    elif not (one.measured and small.measured):
        answer, code = NOT_LOOKED, "small_oaks_not_counted"
        settle = Reason("count_small_oaks")
    asked = replace(GATES["burn safe"], figure=one.name)
    values = {"of_1ft_ac": one.number, "under_1ft_ac": small.number}
    return gate(asked, answer, code, why, settle=settle, values=values)


def last_good_crop(file: StandFile, rules: Rules, on: dt.date, years: int) -> int | None:
    """The last autumn within so many years in which the crop was good."""
    for year in range(acorns.crop_year(on), acorns.crop_year(on) - years, -1):
        check = acorns.check_of(file, year, rules)
        if check is not None and acorns.bore_nothing(file, check, year, rules):
            continue
        trees = [group for name in acorns.GROUPS if (group := check.group(name))] if check else []
        limit = rules.number("crop_bearing_share")
        if any(sum(map(acorns.is_bearing, group)) / len(group) >= limit for group in trees):
            return year
    return None


def _settle(answer: str, measure: str, act: str) -> Reason | None:
    return None if answer == YES else Reason(measure if answer in UNKNOWN else act)


def competitors_under(figures: Figures, rules: Rules) -> Gate:
    """Do the oaks keep ahead of their competitors? An oak more never says no to it, nor a competitor more yes."""
    share, limit = figures["competitor_led_share"], rules.number("competitor_led_share")
    under = figures["overtopped_share"]
    answer = _below(share, limit)
    why = (
        share.note
        if not share.measured
        else f"a competitor leads on {span(share)} of the plots that hold young trees (limit {limit:.0%})"
    )
    if share.measured and under.measured:
        why += f"; it overtops the best oak on {span(under)} of the plots with an oak"
    settle = _settle(answer, "note_competitors", "plan_to_weed")
    return gate(
        GATES["competitors under"],
        answer,
        _CODE_OF[against(share, limit)],
        why,
        settle=settle,
        values={"value": share.number, "limit": limit},
    )


def browse_low(figures: Figures, rules: Rules) -> Gate:
    """Do deer leave the oaks alone? A fence that holds more oaks than the ground outside says no, whatever tips say."""
    share, limit, fence = figures["browse_share"], rules.number("browse_share"), figures["fenced_more_oaks_ac"]
    answer, code = _below(share, limit), _CODE_OF[against(share, limit)]
    why = share.note if not share.measured else f"{span(share)} of oak stems are browsed (limit {limit:.0%})"
    if fence.measured:
        why += f"; {span(fence)} more oaks of {measures.amount(1, 'ft', 'g')} inside the deer fence than outside"
        if fence.low is not None and fence.low > 0:
            answer, code = NO, "fence_holds_more"
            why += ": deer hold the oaks down"
    if answer in (NO, UNSURE):
        why += "; the forecast is not to be relied on where deer hold the oaks down"
    settle = _settle(answer, "note_browse", "lower_deer_or_fence" if fence.measured else "compare_with_fence")
    return gate(
        GATES["browse low"],
        answer,
        code,
        why,
        settle=settle,
        values={"value": share.number, "limit": limit, "inside_more_ac": fence.number},
    )


def free_of_invasives(file: StandFile, rules: Rules, on: dt.date) -> Gate:
    """Has anything been seen that must be treated before the canopy opens? Yes only where somebody looked."""
    seen, looked = invasives.seen_in(file), invasives.looks_for(file)
    fresh = [visit for visit in looked if years_since(visit.visited_on, on) <= rules.number("fresh_invasives_yr")]
    if seen:
        answer, code, why = NO, "seen", "; ".join(seen)
    elif fresh:
        answer, code, why = YES, "none_seen", f"looked for in {fresh[-1].visited_on:%b %Y}, none seen"
    elif looked:
        answer, code, why = TOO_OLD, "look_too_old", f"looked for in {looked[-1].visited_on:%b %Y}, none seen then"
    else:
        answer, code, why = NOT_LOOKED, "nobody_looked", "nobody looked for invasive plants: no visit says that it did"
    return gate(
        GATES["free of invasives"],
        answer,
        code,
        why,
        settle=_settle(answer, "look_for_invasives", "treat_invasives"),
    )


def cruise_fresh(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> Gate:
    """Is the cruise young enough to decide on? One that tallied no canopy is none."""
    asked, visit, limit = GATES["cruise fresh"], file.latest("cruise"), rules.number("fresh_overstory_yr")
    settle = Reason("cruise_when", {"when": str(upcoming(rules, "window_cruise", on))})
    if visit is None:
        return gate(asked, NOT_LOOKED, "no_cruise", "no cruise of this stand is in the book", settle=settle)
    age = years_since(visit.visited_on, on)
    if age > limit:
        why = f"the cruise of {visit.visited_on:%b %Y} is {age:.0f} years old; {limit:g} is the limit"
        return gate(asked, TOO_OLD, "cruise_too_old", why, settle=settle, values={"years": age, "limit": limit})
    if not figures["overwood_ba_ft2_ac"].measured:
        why = f"the cruise of {visit.visited_on:%b %Y} has no canopy in it: {figures['overwood_ba_ft2_ac'].note}"
        return gate(asked, NOT_LOOKED, "no_canopy_tallied", why, settle=settle)
    return gate(asked, YES, "young", f"cruised {visit.visited_on:%b %Y}", values={"years": age, "limit": limit})


def all_gates(file: StandFile, figures: Figures, rules: Rules, on: dt.date) -> dict[str, Gate]:
    """Every gate of a stand, by name, in the order of the course."""
    gates = (
        cruise_fresh(file, figures, rules, on),
        midstory_shades(file, figures, rules, on),
        crop_good(file, figures, rules, on),
        burn_safe(file, figures, rules, on),
        free_of_invasives(file, rules, on),
        oak_enough(file, figures, rules, on),
        low_enough(figures, rules),
        competitors_under(figures, rules),
        browse_low(figures, rules),
    )
    return {one.name: one for one in gates}
