"""The words of a plan, the same on the command line, the page and the paper."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from overwood.ground import measures
from overwood.judgement.course.steps import caution, said
from overwood.judgement.plan.answer import PLANNED, Load, Plan, Refusal, StandPlan, season_words, standing
from overwood.judgement.plan.clash import Clash
from overwood.judgement.plan.orders import HELD, ORDERED, UNNAMED, WAITS
from overwood.judgement.plan.rows import ALONE, APART, BURN, CREW, LARGEST, MONEY, OLD, PIN, TOGETHER, VALUE

STANDS = ("stand", "acres", "course", "begins", "chance of an oak stand")
ORDERS = ("stand", "work", "acres", "season", "crew days", "US$", "beside the advice")
LATER = ("stand", "work", "most likely", "chance then", "may fall in")
LOADS = ("what", "year", "there is", "mean", "10 to 90 of 100", "passed in", "year is")
# Less than this of an acre is not told.
_LEAST_AC = 0.05
CURVE = ("acres of oak stand", "present value, US$", "works", "")


def headings(names: tuple[str, ...]) -> tuple[str, ...]:
    """Headings of a table, in the units in force."""
    return tuple(measures.unit_word(name) for name in names)


def title(plan: Plan) -> str:
    """What it is, in a line."""
    acres = measures.amount(plan.acres, "acres", ",.0f")
    return f"Plan of {len(plan.stands)} stands, {acres}, {plan.seasons[0]} to {plan.seasons[-1]}"


def head(plan: Plan) -> list[str]:
    """What the plan comes to and how far to trust it."""
    judged = plan.judged
    lines = [
        f"{measures.unit_word('Acres')} that become an oak stand: {_ac(judged.oak_ac)} of {_ac(plan.acres)} on "
        f"{judged.paths} fresh paths ({_ac(judged.oak_low_ac)} to {_ac(judged.oak_high_ac)} in 80 of 100); by the "
        f"draws it was chosen by {_ac(plan.oak_ac)}.",
        f"No plan under these limits is better by more than {max(plan.gap, 0):.1%} by those draws (the gap).",
    ]
    if plan.value_usd is not None:
        lines.append(
            f"Present value of its sales less its work, and of what stands at its end: US$ {plan.value_usd:,.0f} "
            f"({plan.price_list})."
        )
    over = [f"{kind} in {share:.0%}" for kind, share in judged.over_any_year.items()]
    if over:
        lines.append(
            f"On the paths some year passes what there is: {', '.join(over)}. Limits hold on average; one "
            "bad year may pass them."
        )
    if plan.stopped:
        lines.append(
            "Stopped before the curve and the prices of what is settled were worked out; the plan itself is whole."
        )
    if not plan.in_time:
        lines.append("The search ended by its time; on another machine it may end at another plan.")
    return lines


def _ac(acres: float) -> str:
    """Acres alone, in the units in force."""
    return measures.digits(acres, "acres", ",.0f")


def stands(plan: Plan) -> list[tuple[str, ...]]:
    """A row for each stand."""
    return [
        (
            one.stand,
            measures.digits(one.area_ac, "acres", "g"),
            one.course,
            "" if one.begins is None else season_words(one.begins),
            chance(plan, one),
        )
        for one in plan.stands
    ]


def chance(plan: Plan, one: StandPlan) -> str:
    """Chance of an oak stand with its standard error; where no path, or each, came to one, what that cannot tell apart
    (the rule of three, from memory of Hanley and Lippman-Hand 1983)."""
    if one.begins is None:
        return "-"
    least = 3 / plan.judged.paths
    if not least / 3 <= one.oak_chance <= 1 - least / 3:
        return f"over {1 - least:.0%}" if one.oak_chance > least else f"under {least:.0%}"
    digits = 1 if round(100 * one.oak_chance) in (0, 100) else 0
    return f"{100 * one.oak_chance:.{digits}f}% ± {100 * one.oak_error:.{digits}f}"


_STATES = {
    ORDERED: "the advice says so too",
    WAITS: "only if its gate opens: {waits_for}",
    HELD: "held: the advice names another step, {advised}",
    UNNAMED: "part of the course; the advice names no such work",
}


def orders(plan: Plan) -> list[tuple[str, ...]]:
    """A row for each work of the first year."""
    return [
        (
            one.stand,
            one.operation + ("" if one.chance >= 0.995 else f" ({one.chance:.0%})"),
            measures.digits(one.area_ac, "acres", "g"),
            str(one.window) if one.window else "",
            f"{one.crew_days:.1f}" if one.crew_days else "",
            f"{one.spend_usd:,.0f}" if one.spend_usd else "",
            _STATES[one.state].format(waits_for=one.waits_for or "", advised=f"“{one.advised}”"),
        )
        for one in plan.orders
    ]


def seasons(plan: Plan) -> list[tuple[str, dt.date, dt.date, str]]:
    """Title, first and last day and note of the works of the first five years; what is held or sketched is in no
    calendar."""
    listed = [
        (
            f"{one.stand}: {one.operation}{' (only if its gate opens)' if one.state == WAITS else ''}",
            *((one.window.start, one.window.end) if one.window else _year(plan, 0)),
            "\n".join([_STATES[one.state].format(waits_for=one.waits_for or "", advised=""), *map(said, one.cautions)]),
        )
        for one in plan.orders
        if one.state != HELD
    ]
    for stand in plan.stands:
        for operation in dict.fromkeys(work.operation for work in stand.works):
            years = {work.year: work.chance for work in stand.works if work.operation == operation and work.year > 0}
            likely = max(years, key=lambda year: (years[year], -year), default=0)
            if years and standing(likely) == PLANNED:
                note = f"{_share(years[likely])} that it falls in {plan.seasons[likely]}. {CALENDAR_NOTE}"
                listed.append((f"{stand.stand}: {operation} (planned, not ordered)", *_year(plan, likely), note))
    return sorted(listed, key=lambda one: (one[1], one[0]))


CALENDAR_NOTE = "Ask the advice on the stand again before anything is done, and plan again each autumn."


def _year(plan: Plan, year: int) -> tuple[dt.date, dt.date]:
    """First and last day of a year of the plan."""
    first, following = (_anniversary(plan.on, plan.begin_year + number) for number in (year, year + 1))
    return first, following - dt.timedelta(days=1)


def _anniversary(day: dt.date, year: int) -> dt.date:
    return day.replace(year=year) if (day.month, day.day) != (2, 29) else dt.date(year, 3, 1)


def standing_title(plan: Plan, what: str) -> str:
    """Title of the works of the first year."""
    return f"{plan.seasons[0]}: {what}. A work is an order where the advice of its stand names it too"


def differing(plan: Plan) -> list[str]:
    """Stands whose advice names a work that the plan does not begin in the first year."""
    return [f"{one.stand}: the advice is “{one.advised}”; planned: {one.planned}" for one in plan.differing]


def later(plan: Plan) -> list[tuple[str, ...]]:
    """A row for each work behind the first year: when it most likely falls."""
    rows = []
    for stand in plan.stands:
        for operation in dict.fromkeys(work.operation for work in stand.works):
            years = {work.year: work.chance for work in stand.works if work.operation == operation and work.year > 0}
            if years:
                rows.append(_later(plan, stand.stand, operation, years))
    return rows


def _later(plan: Plan, stand: str, operation: str, years: dict[int, float]) -> tuple[str, ...]:
    likely = max(years, key=lambda year: (years[year], -year))
    span = f"{plan.seasons[min(years)]} to {plan.seasons[max(years)]}" if len(years) > 1 else ""
    whole = sum(years.values())
    return (
        stand,
        operation,
        f"{plan.seasons[likely]} ({standing(likely)})",
        _share(years[likely]),
        f"{span} {f'({whole:.0%} in all)' if span else ''}".strip(),
    )


def _share(chance: float) -> str:
    """A chance that is not nothing is not told as nothing."""
    return "under 1%" if 0 < chance < 1 / 100 else f"{chance:.0%}"


def loads(plan: Plan) -> list[tuple[str, ...]]:
    """A row for each kind and year that takes anything, or is bound."""
    return [_load(plan, load) for load in plan.judged.loads if load.mean > 0]


def _load(plan: Plan, load: Load) -> tuple[str, ...]:
    shown = _usd if load.kind == MONEY else _days
    return (
        load.kind if load.kind != MONEY else "spent on work, US$",
        span(plan, load),
        "no limit" if load.capacity is None else shown(load.capacity),
        shown(load.mean),
        f"{shown(load.low)} to {shown(load.high)}",
        "" if load.over_chance is None else f"{load.over_chance:.0%}",
        standing(load.year),
    )


def span(plan: Plan, load: Load) -> str:
    """The year of a load, or the two years of a sketch that share what there is."""
    return " and ".join(dict.fromkeys((plan.seasons[load.year], plan.seasons[load.last_year])))


def _days(value: float) -> str:
    return f"{value:.1f}"


def _usd(value: float) -> str:
    return f"{value:,.0f}"


def curve(plan: Plan) -> list[tuple[str, ...]]:
    """Plans from the most oak to the most money."""
    return [
        (
            measures.digits(one.oak_ac, "acres", ".1f"),
            f"{one.value_usd:,.0f}",
            f"{one.works:.0f}",
            "this plan" if one.is_this_plan else "",
        )
        for one in plan.curve
    ]


CURVE_NOTE = (
    "Each is the plan with the most oak among those worth as much. What stands at the end of the plan counts as if "
    "it were sold then: cutting sooner is worth more only where trees gain less in value, grown on as in the choices, "
    "than your rate asks (real_rate)."
)


def settled(plan: Plan) -> list[str]:
    """Pins and stands left alone, priced."""
    lines, no_money = [], "no present value"
    for one in plan.settled:
        what = f"{one.subject} left alone" if one.kind == ALONE else f"pin of {one.subject}"
        money = (
            ""
            if one.value_usd is None
            else f", {_given_up(one.value_usd, f'US$ {abs(one.value_usd):,.0f} of present value', 1, no_money)}"
        )
        of_oak = f"{measures.amount(abs(one.oak_ac), 'acres', '.1f')} of oak stand"
        oak = _given_up(one.oak_ac, of_oak, _LEAST_AC, "no oak")
        why = (
            " (works and waits must gain a little to be planned; what is settled need not)"
            if one.oak_ac <= -_LEAST_AC
            else ""
        )
        lines.append(f"{what}, beside the best plan without it: {oak}{money}{why}")
    return [
        *lines,
        *(
            f"{group} begin together; first sales fall in one year in {share:.0%} of the paths"
            for group, share in plan.judged.together_same_year
        ),
    ]


def _given_up(amount: float, words: str, least: float, nothing: str) -> str:
    """What is given up, or more than else, in words; what is less than the least is neither."""
    if abs(amount) < least:
        return f"{nothing} given up"
    return f"{words} {'given up' if amount > 0 else 'more'}"


def moved(plan: Plan) -> list[str]:
    """Stands planned otherwise than before, each with its reason."""
    if plan.before is None:
        return []
    if not plan.moved:
        return [f"nothing: every stand stands as in answer {plan.before}"]
    return [f"{one.stand}: {one.before} before, now {one.after}; {one.why}" for one in plan.moved]


def made(plan: Plan) -> list[str]:
    """What it rests on."""
    lines = [
        f"{plan.draws} futures of each course and start, seed {plan.seed}; judged on {plan.judged.paths} "
        f"others, seed {plan.judged.seed}; "
        f"rulebook {plan.rules_version}",
        "all stands share one crop, one burn weather and one growing season a year, and every draw of the "
        "assumptions; the rest of the luck is their own",
        "days of work are assumptions (plan_... in the rulebook), injection by the stand's own order; a "
        "work, and a year's wait, must gain a "
        "little chance to be planned (plan_work_points, plan_wait_points)",
    ]
    lines += (
        [f"counted as free, because the price list has no cost: {', '.join(plan.free_works)}"]
        if plan.free_works
        else []
    )
    if plan.price_list:
        lines.append(
            "in the money as where choices are compared: fees of a sale, the cost of coming at all, cost shares; not "
            "in it: works behind the last year of the plan; a preparatory cut is marked and sold with the seed cut"
        )
    lines += _kinds(plan)
    lines += _openings(plan) if plan.limits.apart_yr else []
    lines += _old(plan) if plan.limits.old_share else []
    lines += (
        [f"left out, because their burns cannot be told apart by year: {', '.join(plan.left_out)}"]
        if plan.left_out
        else []
    )
    return lines


def _openings(plan: Plan) -> list[str]:
    """Which stands the limit of openings binds, and of which it cannot know."""
    touching = ", ".join(f"{one} and {other}" for one, other in plan.touching)
    lines = [
        f"stands that touch: {touching}"
        if touching
        else "no outlines come near each other: the limit of openings binds nothing"
    ]
    if plan.limits.largest_ac:
        lines.append(
            f"opened together within {plan.limits.apart_yr} years, stands that touch come to no more than "
            f"{measures.amount(plan.limits.largest_ac, 'acres', 'g')}, but in "
            f"{plan.limits.opening_chance:.0%} of the draws"
        )
    if plan.without_outline:
        lines.append(
            "whether these touch is not known, for they have no outline: "
            f"{', '.join(plan.without_outline)}; name their neighbors"
        )
    return lines


def _kinds(plan: Plan) -> list[str]:
    """Which stands were planned by the futures of another, and what that comes to beside their own."""
    taken = [one for one in plan.stands if one.kind]
    if not taken:
        return []
    worked = [one for one in taken if one.begins is not None]
    off = sum(abs(one.oak_chance - one.drawn_chance) for one in worked) / max(len(worked), 1)
    far = max(taken, key=lambda one: one.kind_distance)
    by_own = (
        ", then by their own among the few best of these (the gap holds among those few)" if plan.own_chosen else ""
    )
    return [
        f"{len(taken)} of {len(plan.stands)} stands were planned by the futures of {len(plan.stands) - len(taken)} "
        f"stands of their kind{by_own}, and judged by their own: the chance of an oak stand of a chosen course is off "
        f"by {100 * off:.0f} points in the mean; farthest from its kind is {far.stand}, {far.kind_distance:.1f} "
        f"standard deviations from {far.kind}"
    ]


def _old(plan: Plan) -> list[str]:
    """What counts as old, and of which stands that is not known."""
    line = f"old is an overwood of {plan.limits.old_age_yr:g} years or more that is not cut yet"
    unknown = ", ".join(plan.without_age)
    return [f"{line}; not counted, for their age is not on record: {unknown}" if unknown else line]


def clashes(refusal: Refusal) -> list[str]:
    """The limits that clash, in plain words."""
    return [_clash(one, refusal.begin_year) for one in refusal.clashes]


def _clash(one: Clash, begin_year: int) -> str:
    years = _listed([season_words(begin_year + year) for year in one.years])
    return {
        CREW: f"crew days of {years}",
        BURN: f"burn days of {years}",
        MONEY: f"money for work in {years}",
        APART: f"openings of {one.subject} apart",
        LARGEST: f"the largest opening, which {one.subject} would pass",
        OLD: f"the share in old trees at the end of {years}",
        TOGETHER: f"{one.subject} begin together",
        PIN: f"the pin of {one.subject}",
        ALONE: f"{one.subject} is left alone",
        VALUE: "the present value the plan must reach",
    }[one.kind]


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def cautions(plan: Plan) -> list[str]:
    """What to mind: of the works planned, and of any plan."""
    works = {work.operation for stand in plan.stands for work in stand.works}
    names = ["forecast", "money"]
    names += ["herbicide", "snags"] if "injection" in works else []
    names += ["burn", "burn_law"] if "burn" in works else []
    names += (
        ["felling", "boundary", "season"] if any("cut" in work or work == "crop-tree release" for work in works) else []
    )
    return [caution(name) for name in names]
