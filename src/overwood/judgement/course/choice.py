"""The next step in words: for each branch of the course its reasons, doubts, and what was set aside."""

from __future__ import annotations

from collections.abc import Callable

from overwood.ground import measures
from overwood.ground.doubt import Doubt, joined
from overwood.ground.records import Visit
from overwood.judgement.course.branch import Case, gates_branch, margin_of, standing_of
from overwood.judgement.course.reasoned import Choice
from overwood.judgement.course.stage import last_cut, stage
from overwood.judgement.course.steps import ONE_ENTRY, all_steps
from overwood.judgement.course.young import free_oaks_hold, free_oaks_short
from overwood.judgement.evidence import oak_verdict, set_aside
from overwood.judgement.evidence.counting import Count, count_of
from overwood.judgement.gates import NO, UNSURE, YES, crop_in_short, span
from overwood.judgement.gates.windows import cut_after_injection, season, upcoming
from overwood.judgement.rules import Rules


def choose(case: Case, branch: str) -> Choice:
    """The step of a branch in words, its first doubts what was thin or set aside."""
    choice = _WORDS[branch](case, branch)
    if branch not in ("cruise_needed", *_YOUNG, "thin", "wait"):
        _shared_doubts(case, choice)
    if branch not in _UNSEEN and case.answer("free of invasives") == NO:
        choice.doubts.append(Doubt("invasives", {"why": case.gates["free of invasives"].why}))
    thin = _thin_looks(case, choice.gates)
    choice.doubts[:0], choice.is_thin = [*set_aside(case.file), *thin], bool(thin) and branch not in _UNSEEN
    if "oak enough" in choice.gates:
        choice.doubts += [doubt for doubt in case.figures["oak_verdict"].doubts if doubt not in choice.doubts]
    return choice


def _thin_looks(case: Case, gates: tuple[str, ...]) -> list[Doubt]:
    """Looks that the step rests on and that have fewer points than the rules want."""
    wanted = {"cruise": "fewest_points_for_interval"}
    if "oak enough" in gates:
        wanted["reproduction"] = "fewest_reproduction_plots"
    doubts = []
    for kind, rule in wanted.items():
        visit = case.file.latest(kind)
        if visit is None or visit.kind == "stem map":
            continue
        points, fewest = case.file.look_points(visit), case.rules.number(rule)
        if points < fewest:
            doubts.append(Doubt("few_points", {"visit": visit.visit, "points": points, "fewest": fewest}))
    return doubts


def _stocked_words(case: Case) -> str:
    """The stocked-plot rule in a few words, without its need where the plots do not serve it.

    '42 of 60 plots hold an oak of 4.5 ft (62 to 77%), 58.5% needed'.
    """
    share, needed = case.figures["oak_stocked_4_5ft_share"], case.figures["needed_stocked_share"]
    if not share.measured or share.n is None:
        return "no count"
    low, high = share.ends
    words = (
        f"{share.number * share.n:.0f} of {share.n} plots hold an oak of {measures.amount(4.5, 'ft', 'g')} "
        f"({100 * low:.0f} to {100 * high:.0f}%)"
    )
    return words + (f", {needed.number:.1%} needed" if needed.measured else "")


def _shared_doubts(case: Case, choice: Choice) -> None:
    oak_share, limit = case.figures["oak_share"], case.rules.number("oak_share_for_oak_stand")
    if oak_share.measured and oak_share.number < limit:
        choice.doubts.append(Doubt("little_oak", {"share": oak_share.number}))
    if case.answer("browse low") in (NO, UNSURE):
        choice.doubts.append(Doubt("browse", {"why": case.gates["browse low"].why}))
    if stage(case.file) != "opened":
        choice.doubts += case.maturity.against


def _why_mature(case: Case) -> list[str]:
    if case.maturity.verdict != "regenerate" or stage(case.file) == "opened":
        return []
    return [f"time to regenerate: {reason}" for reason in case.maturity.reasons]


def _measure(case: Case, branch: str) -> Choice:
    gate = case.gates["cruise fresh"]
    choice = Choice(
        branch,
        [gate.why],
        short=gate.why,
        set_aside=[("any treatment", "nothing can be said of a stand on figures this old or absent")],
        gates=("cruise fresh",),
    )
    choice.follow_on.append("or leave it as a reserve on purpose, and write that down as the decision")
    if any(row.kind in ("stream", "roost tree", "rare species", "cultural site") for row in case.file.sightings):
        kinds = sorted({row.kind for row in case.file.sightings if row.kind != "soft ground"})
        choice.doubts.append(Doubt("seen_here", {"kinds": ", ".join(kinds)}))
    again = " again" if case.file.latest("cruise") else ""
    choice.title = f"Measure{again}, or leave as a reserve" if case.file.stand.reserve else f"Measure the stand{again}"
    return choice


def _thin(case: Case, branch: str) -> Choice:
    low, again = (
        case.rules["thin_residual_stocking_pct"],
        case.on.year + int(case.rules.number("cruise_after_thinning_yr")),
    )
    return Choice(
        branch,
        [f"thin, not regenerate: {reason}" for reason in case.maturity.reasons],
        short="; ".join(case.maturity.reasons),
        title=f"Mark a thinning to {low.number:.0f}% stocking ({low.low:.0f} to {low.high:.0f})",
        would_change=[f"stocking under {case.rules.number('thin_above_pct'):.0f}%: wait"],
        set_aside=[
            ("regenerate", f"too young: {joined(case.maturity.against)}"),
            ("wait", "crowded crowns shrink, and large-crowned oaks are the seed trees of the next stand"),
        ],
        follow_on=[
            "keep the white oaks and the widest crowns",
            "start the list of bearing trees now",
            f"cruise again in {again}",
        ],
        gates=("cruise fresh",),
        rules=case.maturity.rules,
    )


def _wait(case: Case, branch: str) -> Choice:
    when = season(case.rules, "window_cruise", case.on.year + int(case.rules.number("cruise_after_wait_yr")))
    return Choice(
        branch,
        [f"neither thin nor regenerate: {reason}" for reason in case.maturity.reasons],
        short="; ".join(case.maturity.reasons),
        doubts=list(case.maturity.against),
        set_aside=[("thin", "not worth an entry"), ("regenerate", "not mature by any rule of the rulebook")],
        gates=("cruise fresh",),
        rules=case.maturity.rules,
        window=when,
    )


def _release(case: Case, branch: str) -> Choice:
    oak, height = case.gates["oak enough"], case.gates["low enough"]
    settled, looks = case.figures["oak_verdict"], _looks_since_cut(case)
    first_cut = stage(case.file) != "opened"
    title = f"Cut now: the {ONE_ENTRY}" if first_cut else "Make the removal cut"
    choice = Choice(
        branch,
        [f"enough oak stands on the ground: {oak.why}"],
        short=f"{_stocked_words(case)}; tallest {span(case.figures['tallest_oak_ft'], places=1)}",
        title=title,
        gates=("oak enough", "low enough"),
        follow_on=["count again the autumn after the cut", "crop-tree cleaning of the best oaks at age 10 to 20"],
    )
    choice.why += _why_mature(case)
    choice.doubts += settled.doubts
    if settled.doubts and len(looks) > 1:
        once_in = 1 / (1 - case.rules.number("verdict_level"))
        choice.doubts.append(Doubt("many_looks", {"looks": len(looks), "once_in": once_in}))
    if height.answer == NO:
        choice.doubts.insert(0, Doubt("late", {"why": height.why}))
    elif height.answer == YES:
        choice.why.append(f"and it is still low enough: {height.why}")
    if case.answer("competitors under") in (NO, UNSURE):
        choice.doubts.append(Doubt("competition_at_cut", {"why": case.gates["competitors under"].why}))
    choice.would_change += _change_adequate(case)
    choice.set_aside += [
        ("wait for more oak", "the rule is met; waiting risks height, browse and the canopy closing"),
        (
            "two ages",
            f"keep {measures.digits(15, '/ac')} or so of the best oaks {measures.unit_word('an acre')} if "
            "no buyer comes or the owner wants big trees; the forest floor is shaded longer",
        ),
    ]
    failed = [row for row in case.file.operations if row.kind == "sale offered" and row.state == "failed"]
    if failed:
        years = ", ".join(f"{row.started_on:%b %Y}" for row in failed)
        choice.doubts.append(Doubt("no_buyer", {"when": years}))
    declining = case.figures["declining_share"]
    if declining.measured and declining.number > case.rules.number("decline_share"):
        choice.follow_on.insert(
            0, "take the declining oaks first; keep sound chestnut and white oaks if two ages are kept"
        )
    return choice


def _looks_since_cut(case: Case) -> list[Visit]:
    """Counts since the last cut, or all of them: a stand looked at every year passes by luck more often than one looked
    at once."""
    cut = last_cut(case.file)
    return [visit for visit in case.file.visits_of("reproduction") if cut is None or visit.visited_on > cut.started_on]


def _change_adequate(case: Case) -> list[str]:
    """The nearest count that would turn the verdict on the oak, in words."""
    margin, visit = margin_of(case.file, case.figures, case.rules), case.file.latest("reproduction")
    if margin is None or visit is None or not case.figures["oak_verdict"].measured:
        return []
    count, rule = count_of(case.file, visit), {"follows_rule": margin.follows_rule}
    turned = oak_verdict.turning_tally(margin.tally, margin.sprouts_ac, case.rules, **rule)
    if turned is None or count is None:
        return []
    enough = case.figures["oak_verdict"].value == "adequate"
    return [
        f"{_tally_words(case, turned, count)} (now {_tally_words(case, margin.tally, count)}): "
        f"{'unsure or inadequate' if enough else 'adequate'}"
    ]


def _waist(case: Case) -> str:
    return measures.amount(case.rules.number("waist_high_ft"), "ft", "g")


def _tally_words(case: Case, tally: oak_verdict.Tally, count: Count) -> str:
    stems_ac = measures.digits(tally.stems_waist / tally.plots / tally.plot_ac, "/ac", ",.0f")
    an_acre = measures.unit_word("an acre")
    density = f"{stems_ac} oaks of {_waist(case)} {an_acre} on {tally.stocked_waist} of {tally.plots} plots"
    if not count.follows_rule_plot:
        return density
    return f"{tally.stocked_tall} of {tally.plots} plots stocked at {measures.amount(4.5, 'ft', 'g')}, {density}"


def _add_plots_first(case: Case, branch: str) -> Choice:
    """Enough, but by so few plots that a cut, which cannot be undone, should wait."""
    choice = _settle(case, branch)
    choice.why = [f"enough by so little that a cut should wait for more plots: {case.gates['oak enough'].why}"]
    choice.title = "Add plots before the cut, or count again"
    return choice


def _settle(case: Case, branch: str) -> Choice:
    oak, more = case.gates["oak enough"], case.figures["plots_to_settle"]
    count = case.file.latest("reproduction")
    have, stems = count_plots(case), case.figures[oak_verdict.stems_name(case.rules)]
    title = "Add plots, or count again"
    if more.measured and more.number:
        title = f"Add plots ({more.number:.0f} in all; {have} now), or count again"
    window = upcoming(case.rules, "window_reproduction", case.on)
    return Choice(
        branch,
        [f"the count does not settle it: {oak.why}"],
        short=f"{span(stems)} of oak {_waist(case)}: too few, or enough; {_stocked_words(case)}",
        title=title,
        gates=("oak enough", "competitors under"),
        doubts=_competition(case),
        would_change=_change_adequate(case),
        measure=[f"{oak.settle}; or count the same plots again, {window}"] if count else [],
        window=window,
        set_aside=[
            ("removal cut now", "cutting before the oak is there is the commonest failure, and it cannot be undone"),
            *_release_burn(case),
        ],
        follow_on=["release the best oaks from their rivals first where they are overtopped"],
    )


def _competition(case: Case) -> list[Doubt]:
    gate = case.gates["competitors under"]
    return [Doubt("competition", {"why": gate.why})] if gate.answer in (NO, UNSURE) else []


def count_plots(case: Case) -> int:
    visit = case.file.latest("reproduction")
    count = count_of(case.file, visit) if visit else None
    return count.n if count else 0


def _release_burn(case: Case) -> list[tuple[str, str]]:
    collar = case.figures["burnable_collar_share"]
    if not collar.measured:
        return [("release burn", "collars of the tall oaks are not measured")]
    fit = f"{span(collar)} of the tall oaks have collars that mostly survive"
    return [
        (
            "release burn",
            f"{fit}; the overwood's value is at risk, and {case.gates['burn safe'].why}: weeding comes first",
        )
    ]


def _count(case: Case, branch: str) -> Choice:
    oak = case.gates["oak enough"]
    return Choice(
        branch,
        [oak.why, *_why_mature(case)],
        short=oak.why,
        gates=("oak enough",),
        measure=[oak.settle],
        set_aside=[("any cut", "without a count nobody can say what would come back")],
    )


def _keep_counting(case: Case, branch: str) -> Choice:
    """Opened, and not enough oak yet."""
    oak = case.gates["oak enough"]
    window = upcoming(case.rules, "window_reproduction", case.on)
    if window.start <= case.on:
        window = season(case.rules, "window_reproduction", case.on.year + 1)
    return Choice(
        branch,
        [f"opened, and not enough oak yet: {oak.why}"],
        short=_stocked_words(case),
        gates=("oak enough", "competitors under"),
        doubts=_competition(case),
        window=window,
        would_change=_change_adequate(case),
        set_aside=[
            ("removal cut now", "the oak is not there; what is there would take the ground"),
            *_release_burn(case),
        ],
        follow_on=[
            f"release the {measures.digits(50, '/ac')} to {measures.digits(100, '/ac')} best oaks "
            f"{measures.unit_word('an acre')} where they are overtopped"
        ],
    )


def _inject(case: Case, branch: str) -> Choice:
    oak, midstory = case.gates["oak enough"], case.gates["midstory shades"]
    crop = case.gates["crop good"]
    stems, least = case.figures["injection_stems_ac"], case.rules.number("injection_low_dbh_in")
    choice = Choice(
        branch,
        [
            f"not enough oak, and the midstory shades the forest floor: {midstory.why}",
            f"oak: {oak.why}",
            *_why_mature(case),
        ],
        short=f"{_stocked_words(case)}; {span(case.figures['midstory_stems_ac'])} of midstory shade the forest floor",
        would_change=[
            f"under {measures.amount(case.rules.number('midstory_stems_ac'), 'tolerant stems/ac', 'g')} and "
            f"{measures.amount(case.rules.number('midstory_ba_ft2_ac'), 'ft2/ac', 'g')}: no injection",
            *_change_adequate(case),
        ],
        set_aside=[
            ("seed cut now", "light let in above a living midstory feeds the midstory"),
            ("removal cut now", "no oak large enough stands ready"),
            ("burn this winter", case.gates["burn safe"].why),
        ],
        follow_on=[
            f"treats about {span(stems)} {measures.amount(least, 'in.', 'g')} or larger; "
            "check next summer that 9 of 10 are dead"
        ],
        gates=("midstory shades", "oak enough"),
    )
    if crop.answer == YES:
        choice.follow_on.append("the crop is good this autumn, so seedlings will come: do not burn them")
    winter = cut_after_injection(case.rules, case.on).start.year
    choice.follow_on.append(
        f"the seed cut can follow in a good crop year from winter {winter}-{(winter + 1) % 100:02d}"
    )
    return choice


def _midstory_first(case: Case, branch: str) -> Choice:
    gate = case.gates["midstory shades"]
    return Choice(
        branch,
        [f"the midstory is not known: {gate.why}", *_why_mature(case)],
        short=gate.why,
        title="Tally the midstory" if branch == "midstory_unknown" else "",
        gates=("midstory shades", "oak enough"),
        measure=[gate.settle],
        set_aside=[("seed cut now", "a living midstory would take the light")],
    )


def _crop(case: Case, branch: str) -> Choice:
    """The floor is ready; the acorns decide."""
    crop = case.gates["crop good"]
    check = upcoming(case.rules, "window_acorn", case.on)
    unknown = branch == "crop_unknown"
    because = "the crop is not known" if unknown else "no acceptable crop this year"
    choice = Choice(
        branch,
        [f"ready to open but {because}: {crop.why}", *_why_mature(case)],
        short=f"ready to open, but {because}",
        title="Survey the fall acorn crop"
        if unknown
        else "Do not open this year; survey the acorn crop next September",
        window=check,
        gates=("crop good", "oak enough", "midstory shades"),
        would_change=[
            f"{case.rules.number('crop_bearing_share'):.0%} or more of the oaks with acorns: seed cut that winter"
        ],
        set_aside=[
            ("seed cut without a crop", "the light would feed what is already there, and no acorns would fall into it"),
            ("burn this winter", case.gates["burn safe"].why),
        ],
    )
    choice.follow_on.append(_none_in_three(case.rules))
    choice.waits = True
    return choice


def _weigh(case: Case, branch: str) -> Choice:
    """The gates name a step that costs money, and by the forecast no course leads to an oak stand."""
    outlook, wanted = case.outlook, case.rules.number("goal_oak_stand_chance")
    assert outlook is not None
    inner = _WORDS[(by_gates := gates_branch(standing_of(case)))](case, by_gates)
    step = inner.title or all_steps()[inner.step].title
    when = f"the forecast of {outlook.made_on.day} {outlook.made_on:%b %Y} (answer {outlook.answer})"
    chances = (
        f"an oak stand at {outlook.age_yr} in {100 * outlook.oak_stand_chance:.0f} of 100, oak a part of it in "
        f"{100 * outlook.oak_part_chance:.0f}"
    )
    who = f"; {' and '.join(outlook.others)} would lead instead" if outlook.others else ""
    return Choice(
        branch,
        [
            f"{when} gives no course the {100 * wanted:.0f} of 100 that are wanted: its best, "
            f"{outlook.course}, leads to {chances}{who}",
            f"by the gates alone the step would be: {step.lower()}",
            *inner.why,
        ],
        short=(
            f"no course of the forecast leads to an oak stand in {100 * wanted:.0f} of 100; the best in "
            f"{100 * outlook.oak_stand_chance:.0f}"
        ),
        set_aside=[
            (step.lower(), "it is paid for in the hope of an oak stand, and by the forecast none comes"),
            *inner.set_aside,
        ],
        follow_on=[
            "accept the stand of other species that comes, and keep the best oaks as part of it",
            "or plant large oak stock inside a fence and release it, where the owner pays for oak",
            "or keep the overwood, in two ages, for its growth and its seed",
            "or do the step all the same, and write down why; then run the futures again after the next count or crop",
        ],
        doubts=[Doubt("forecast_is_a_bet"), *inner.doubts],
        gates=inner.gates,
        rules=("goal_oak_stand_chance",),
    )


def _none_in_three(rules: Rules) -> str:
    """How long a crop may be waited for."""
    return f"the chance of no good crop in three years is {(1 - rules.number('good_crop_chance')) ** 3:.0%}"


def _seed_cut(case: Case, branch: str) -> Choice:
    crop, oak = case.gates["crop good"], case.gates["oak enough"]
    low, high = case.rules.number("seed_cut_residual_low_ft2_ac"), case.rules.number("seed_cut_residual_high_ft2_ac")
    tall = case.figures["oak_stems_3ft_ac"]
    choice = Choice(
        branch,
        [
            f"a good crop lies ready and the midstory is gone: {crop.why}",
            f"not ready to release: {span(tall)} of oak {measures.amount(3, 'ft', 'g')} or taller; {oak.why}",
            *_why_mature(case),
        ],
        short=(
            f"{crop_in_short(case.figures, case.rules.number('crop_bearing_share'))}; midstory gone; "
            f"{span(tall)} of oak {measures.amount(3, 'ft', 'g')}"
        ),
        title=f"Seed cut: mark now, sell, cut to {measures.span(low, high, 'ft2/ac')} on firm ground",
        would_change=[f"under {case.rules.number('crop_bearing_share'):.0%} of oaks with acorns: wait for a crop"],
        set_aside=[
            ("burn first", case.gates["burn safe"].why),
            ("wait another year", f"this crop would be lost to the stand; {_none_in_three(case.rules)}"),
            ("removal cut now", "the oaks are too few and too small"),
        ],
        follow_on=[
            "leave large-crowned oaks that produce acorns",
            "count the reproduction next August or September, then every year",
        ],
        gates=("crop good", "midstory shades", "oak enough"),
    )
    treated = case.file.done("injection")
    if treated:
        choice.doubts.append(Doubt("dead_stems", {"on": treated[-1].started_on}))
    rivals = case.figures["competitor_stems_3ft_ac"]
    if rivals.measured and rivals.number > tall.number:
        choice.doubts.append(Doubt("competitors_lead", {"stems": span(rivals)}))
    return choice


# Branches that ask for a first or fresh look: they rest on none.
_UNSEEN = ("cruise_needed", "young_uncounted")
_YOUNG = ("free_oaks_short", "free_oaks_hold", "young_uncounted")
_WORDS: dict[str, Callable[[Case, str], Choice]] = {
    "cruise_needed": _measure,
    "free_oaks_short": free_oaks_short,
    "free_oaks_hold": free_oaks_hold,
    "young_uncounted": _count,
    "thin": _thin,
    "wait": _wait,
    "enough_by_too_few_plots": _add_plots_first,
    "oak_enough": _release,
    "count_unsettled": _settle,
    "count_needed": _count,
    "opened_too_little": _keep_counting,
    "no_course_reaches": _weigh,
    "midstory_shades": _inject,
    "injection_unchecked": _midstory_first,
    "midstory_unknown": _midstory_first,
    "crop_good": _seed_cut,
    "crop_unknown": _crop,
    "crop_poor": _crop,
}
