"""The next step in words: for each branch of the course its reasons, doubts, and what was set aside."""

from __future__ import annotations

from collections.abc import Callable

from overwood.ground.doubt import Doubt, joined
from overwood.ground.records import Visit
from overwood.judgement.course.branch import Case, gates_branch, margin_of, standing_of
from overwood.judgement.course.reasoned import Choice
from overwood.judgement.course.stage import last_cut, stage
from overwood.judgement.course.steps import ONE_ENTRY, all_steps
from overwood.judgement.course.young import free_oaks_hold, free_oaks_short
from overwood.judgement.evidence import oak_verdict, set_aside
from overwood.judgement.evidence.counting import Count, count_of
from overwood.judgement.gates import NO, UNSURE, YES, Gate, crop_in_short, span
from overwood.judgement.gates.windows import cut_after_injection, season, upcoming
from overwood.judgement.reason import Reason
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


def _stocked(case: Case) -> Reason:
    """The stocked-plot rule in a few words, without its need where the plots do not serve it."""
    share, needed = case.figures["oak_stocked_4_5ft_share"], case.figures["needed_stocked_share"]
    if not share.measured or share.n is None:
        return Reason("no_plots")
    low, high = share.ends
    plots = {"held": share.number * share.n, "plots": share.n, "low": low, "high": high}
    if not needed.measured:
        return Reason("plots_stocked", plots)
    return Reason("plots_stocked_of_needed", plots | {"needed": needed.number})


def _shared_doubts(case: Case, choice: Choice) -> None:
    oak_share, limit = case.figures["oak_share"], case.rules.number("oak_share_for_oak_stand")
    if oak_share.measured and oak_share.number < limit:
        choice.doubts.append(Doubt("little_oak", {"share": oak_share.number}))
    if case.answer("browse low") in (NO, UNSURE):
        choice.doubts.append(Doubt("browse", {"why": case.gates["browse low"].why}))
    if stage(case.file) != "opened":
        choice.doubts += case.maturity.against


def _of(gate: Gate) -> Reason:
    """The reason of a gate as it stands."""
    return Reason("gate", {"gate": gate.name, "code": gate.code, "why": gate.why})


def _why_mature(case: Case) -> list[Reason]:
    if case.maturity.verdict != "regenerate" or stage(case.file) == "opened":
        return []
    return [Reason("time_to_regenerate", {"why": reason}) for reason in case.maturity.reasons]


def _measure(case: Case, branch: str) -> Choice:
    gate = case.gates["cruise fresh"]
    choice = Choice(
        branch,
        [_of(gate)],
        short=_of(gate),
        set_aside=[("any treatment", Reason("nothing_known"))],
        gates=("cruise fresh",),
    )
    choice.follow_on.append(Reason("or_reserve"))
    if any(row.kind in ("stream", "roost tree", "rare species", "cultural site") for row in case.file.sightings):
        kinds = sorted({row.kind for row in case.file.sightings if row.kind != "soft ground"})
        choice.doubts.append(Doubt("seen_here", {"kinds": ", ".join(kinds)}))
    again, reserve = case.file.latest("cruise") is not None, case.file.stand.reserve
    if reserve:
        choice.title = Reason("measure_again_or_reserve" if again else "measure_or_reserve")
    else:
        choice.title = Reason("measure_stand_again" if again else "measure_stand")
    return choice


def _thin(case: Case, branch: str) -> Choice:
    low, again = (
        case.rules["thin_residual_stocking_pct"],
        case.on.year + int(case.rules.number("cruise_after_thinning_yr")),
    )
    return Choice(
        branch,
        [Reason("thin_for", {"why": reason}) for reason in case.maturity.reasons],
        short=case.maturity.reasons[0],
        title=Reason("thin_to", {"to": low.number, "low": low.low, "high": low.high}),
        would_change=[Reason("stocking_under", {"limit": case.rules.number("thin_above_pct")})],
        set_aside=[
            ("regenerate", Reason("too_young", {"why": joined(case.maturity.against)})),
            ("wait", Reason("crowns_shrink")),
        ],
        follow_on=[
            Reason("keep_wide_crowns"),
            Reason("list_bearing_trees"),
            Reason("cruise_again", {"year": again}),
        ],
        gates=("cruise fresh",),
        rules=case.maturity.rules,
    )


def _wait(case: Case, branch: str) -> Choice:
    when = season(case.rules, "window_cruise", case.on.year + int(case.rules.number("cruise_after_wait_yr")))
    return Choice(
        branch,
        [Reason("wait_for", {"why": reason}) for reason in case.maturity.reasons],
        short=case.maturity.reasons[0],
        doubts=list(case.maturity.against),
        set_aside=[("thin", Reason("no_worth_an_entry")), ("regenerate", Reason("not_mature"))],
        gates=("cruise fresh",),
        rules=case.maturity.rules,
        window=when,
    )


def _release(case: Case, branch: str) -> Choice:
    oak, height = case.gates["oak enough"], case.gates["low enough"]
    settled, looks = case.figures["oak_verdict"], _looks_since_cut(case)
    first_cut = stage(case.file) != "opened"
    choice = Choice(
        branch,
        [Reason("oak_enough", {"why": oak.why})],
        short=Reason(
            "stocked_and_tallest",
            {"stocked": _stocked(case), "tallest": span(case.figures["tallest_oak_ft"], places=1)},
        ),
        title=Reason("cut_now", {"entry": ONE_ENTRY}) if first_cut else Reason("removal_cut"),
        gates=("oak enough", "low enough"),
        follow_on=[Reason("count_after_cut"), Reason("crop_tree_cleaning")],
    )
    choice.why += _why_mature(case)
    choice.doubts += settled.doubts
    if settled.doubts and len(looks) > 1:
        once_in = 1 / (1 - case.rules.number("verdict_level"))
        choice.doubts.append(Doubt("many_looks", {"looks": len(looks), "once_in": once_in}))
    if height.answer == NO:
        choice.doubts.insert(0, Doubt("late", {"why": height.why}))
    elif height.answer == YES:
        choice.why.append(Reason("low_enough", {"why": height.why}))
    if case.answer("competitors under") in (NO, UNSURE):
        choice.doubts.append(Doubt("competition_at_cut", {"why": case.gates["competitors under"].why}))
    choice.would_change += _change_adequate(case)
    choice.set_aside += [
        ("wait for more oak", Reason("rule_is_met")),
        ("two ages", Reason("two_ages")),
    ]
    failed = [row for row in case.file.operations if row.kind == "sale offered" and row.state == "failed"]
    if failed:
        years = ", ".join(f"{row.started_on:%b %Y}" for row in failed)
        choice.doubts.append(Doubt("no_buyer", {"when": years}))
    declining = case.figures["declining_share"]
    if declining.measured and declining.number > case.rules.number("decline_share"):
        choice.follow_on.insert(0, Reason("declining_first"))
    return choice


def _looks_since_cut(case: Case) -> list[Visit]:
    """Counts since the last cut, or all of them: a stand looked at every year passes by luck more often than one looked
    at once."""
    cut = last_cut(case.file)
    return [visit for visit in case.file.visits_of("reproduction") if cut is None or visit.visited_on > cut.started_on]


def _change_adequate(case: Case) -> list[Reason]:
    """The nearest count that would turn the verdict on the oak."""
    margin, visit = margin_of(case.file, case.figures, case.rules), case.file.latest("reproduction")
    if margin is None or visit is None or not case.figures["oak_verdict"].measured:
        return []
    count, rule = count_of(case.file, visit), {"follows_rule": margin.follows_rule}
    turned = oak_verdict.turning_tally(margin.tally, margin.sprouts_ac, case.rules, **rule)
    if turned is None or count is None:
        return []
    enough = case.figures["oak_verdict"].value == "adequate"
    tallies = {"then": _tallied(case, turned, count), "now": _tallied(case, margin.tally, count)}
    return [Reason("no_longer_enough" if enough else "would_be_enough", tallies)]


def _tallied(case: Case, tally: oak_verdict.Tally, count: Count) -> Reason:
    stems_ac, waist = tally.stems_waist / tally.plots / tally.plot_ac, case.rules.number("waist_high_ft")
    stocked = {"stocked": tally.stocked_waist, "plots": tally.plots}
    density = Reason("tally_of_count", {"stems_ac": stems_ac, "waist": waist} | stocked)
    if not count.follows_rule_plot:
        return density
    return Reason("tally_of_rule", {"tall": tally.stocked_tall, "plots": tally.plots, "density": density})


def _add_plots_first(case: Case, branch: str) -> Choice:
    """Enough, but by so few plots that a cut, which cannot be undone, should wait."""
    choice = _settle(case, branch)
    choice.why = [Reason("enough_by_little", {"why": case.gates["oak enough"].why})]
    choice.title = Reason("plots_before_cut")
    return choice


def _settle(case: Case, branch: str) -> Choice:
    oak, more = case.gates["oak enough"], case.figures["plots_to_settle"]
    count = case.file.latest("reproduction")
    have, stems = count_plots(case), case.figures[oak_verdict.stems_name(case.rules)]
    title = Reason("add_plots")
    if more.measured and more.number:
        title = Reason("add_plots_in_all", {"plots": more.number, "now": have})
    waist = case.rules.number("waist_high_ft")
    window = upcoming(case.rules, "window_reproduction", case.on)
    again = Reason("count_same_again", {"window": str(window)})
    if oak.settle is not None:
        again = Reason("settle_or_count_again", {"settle": oak.settle, **again.values})
    return Choice(
        branch,
        [Reason("count_unsettled", {"why": oak.why})],
        short=Reason("too_few_or_enough", {"stems": span(stems), "waist": waist, "stocked": _stocked(case)}),
        title=title,
        gates=("oak enough", "competitors under"),
        doubts=_competition(case),
        would_change=_change_adequate(case),
        measure=[again] if count else [],
        window=window,
        set_aside=[
            ("removal cut now", Reason("commonest_failure")),
            *_release_burn(case),
        ],
        follow_on=[Reason("release_best_first")],
    )


def _competition(case: Case) -> list[Doubt]:
    gate = case.gates["competitors under"]
    return [Doubt("competition", {"why": gate.why})] if gate.answer in (NO, UNSURE) else []


def count_plots(case: Case) -> int:
    visit = case.file.latest("reproduction")
    count = count_of(case.file, visit) if visit else None
    return count.n if count else 0


def _release_burn(case: Case) -> list[tuple[str, Reason]]:
    collar = case.figures["burnable_collar_share"]
    if not collar.measured:
        return [("release burn", Reason("collars_unmeasured"))]
    return [("release burn", Reason("weeding_first", {"share": span(collar), "why": case.gates["burn safe"].why}))]


def _count(case: Case, branch: str) -> Choice:
    oak = case.gates["oak enough"]
    return Choice(
        branch,
        [_of(oak), *_why_mature(case)],
        short=_of(oak),
        gates=("oak enough",),
        set_aside=[("any cut", Reason("no_count"))],
    )


def _keep_counting(case: Case, branch: str) -> Choice:
    """Opened, and not enough oak yet."""
    oak = case.gates["oak enough"]
    window = upcoming(case.rules, "window_reproduction", case.on)
    if window.start <= case.on:
        window = season(case.rules, "window_reproduction", case.on.year + 1)
    return Choice(
        branch,
        [Reason("opened_too_little", {"why": oak.why})],
        short=_stocked(case),
        gates=("oak enough", "competitors under"),
        doubts=_competition(case),
        window=window,
        would_change=_change_adequate(case),
        set_aside=[
            ("removal cut now", Reason("oak_not_there")),
            *_release_burn(case),
        ],
        follow_on=[Reason("release_best")],
    )


def _inject(case: Case, branch: str) -> Choice:
    oak, midstory = case.gates["oak enough"], case.gates["midstory shades"]
    crop = case.gates["crop good"]
    stems, least = case.figures["injection_stems_ac"], case.rules.number("injection_low_dbh_in")
    limits = {"stems": case.rules.number("midstory_stems_ac"), "ba": case.rules.number("midstory_ba_ft2_ac")}
    choice = Choice(
        branch,
        [
            Reason("midstory_shades", {"why": midstory.why}),
            Reason("oak_lacks", {"why": oak.why}),
            *_why_mature(case),
        ],
        short=Reason(
            "stocked_and_shaded", {"stocked": _stocked(case), "stems": span(case.figures["midstory_stems_ac"])}
        ),
        would_change=[Reason("no_injection_under", limits), *_change_adequate(case)],
        set_aside=[
            ("seed cut now", Reason("feeds_midstory")),
            ("removal cut now", Reason("no_oak_ready")),
            ("burn this winter", _of(case.gates["burn safe"])),
        ],
        follow_on=[Reason("treats", {"stems": span(stems), "least": least})],
        gates=("midstory shades", "oak enough"),
    )
    if crop.answer == YES:
        choice.follow_on.append(Reason("do_not_burn_seedlings"))
    winter = cut_after_injection(case.rules, case.on).start.year
    choice.follow_on.append(Reason("seed_cut_from", {"winter": winter, "to": (winter + 1) % 100}))
    return choice


def _midstory_first(case: Case, branch: str) -> Choice:
    gate = case.gates["midstory shades"]
    return Choice(
        branch,
        [Reason("midstory_unknown", {"why": gate.why}), *_why_mature(case)],
        short=_of(gate),
        title=Reason("tally_midstory") if branch == "midstory_unknown" else None,
        gates=("midstory shades", "oak enough"),
        measure=[gate.settle] if gate.settle else [],
        set_aside=[("seed cut now", Reason("midstory_takes_light"))],
    )


def _crop(case: Case, branch: str) -> Choice:
    """The floor is ready; the acorns decide."""
    crop = case.gates["crop good"]
    check = upcoming(case.rules, "window_acorn", case.on)
    unknown = branch == "crop_unknown"
    choice = Choice(
        branch,
        [Reason("crop_unknown" if unknown else "crop_poor", {"why": crop.why}), *_why_mature(case)],
        short=Reason("ready_crop_unknown" if unknown else "ready_crop_poor"),
        title=Reason("survey_crop" if unknown else "do_not_open"),
        window=check,
        gates=("crop good", "oak enough", "midstory shades"),
        would_change=[Reason("crop_enough", {"share": case.rules.number("crop_bearing_share")})],
        set_aside=[
            ("seed cut without a crop", Reason("light_without_acorns")),
            ("burn this winter", _of(case.gates["burn safe"])),
        ],
    )
    choice.follow_on.append(Reason("none_in_three", {"chance": _none_in_three(case.rules)}))
    choice.waits = True
    return choice


def _weigh(case: Case, branch: str) -> Choice:
    """The gates name a step that costs money, and by the forecast no course leads to an oak stand."""
    outlook, wanted = case.outlook, case.rules.number("goal_oak_stand_chance")
    assert outlook is not None
    inner = _WORDS[(by_gates := gates_branch(standing_of(case)))](case, by_gates)
    step = str(inner.title or all_steps()[inner.step].title)
    forecast = {
        "on": outlook.made_on,
        "answer": outlook.answer,
        "wanted": wanted,
        "course": outlook.course,
        "age_yr": outlook.age_yr,
        "chance": outlook.oak_stand_chance,
        "part": outlook.oak_part_chance,
        "others": " and ".join(outlook.others),
    }
    return Choice(
        branch,
        [
            Reason("no_course_others" if outlook.others else "no_course", forecast),
            Reason("by_gates_alone", {"step": step.lower()}),
            *inner.why,
        ],
        short=Reason("no_course_in_short", {"wanted": wanted, "best": outlook.oak_stand_chance}),
        set_aside=[
            (step.lower(), Reason("no_oak_by_forecast")),
            *inner.set_aside,
        ],
        follow_on=[
            Reason("accept_others"),
            Reason("or_plant"),
            Reason("or_two_ages"),
            Reason("or_all_the_same"),
        ],
        doubts=[Doubt("forecast_is_a_bet"), *inner.doubts],
        gates=inner.gates,
        rules=("goal_oak_stand_chance",),
    )


def _none_in_three(rules: Rules) -> float:
    """The chance of no good crop in three years: how long a crop may be waited for."""
    return float((1 - rules.number("good_crop_chance")) ** 3)


def _seed_cut(case: Case, branch: str) -> Choice:
    crop, oak = case.gates["crop good"], case.gates["oak enough"]
    low, high = case.rules.number("seed_cut_residual_low_ft2_ac"), case.rules.number("seed_cut_residual_high_ft2_ac")
    tall, bearing = case.figures["oak_stems_3ft_ac"], case.rules.number("crop_bearing_share")
    choice = Choice(
        branch,
        [
            Reason("crop_good", {"why": crop.why}),
            Reason("not_ready_to_release", {"stems": span(tall), "why": oak.why}),
            *_why_mature(case),
        ],
        short=Reason("crop_and_oak", {"crop": crop_in_short(case.figures, bearing), "stems": span(tall)}),
        title=Reason("seed_cut_to", {"low": low, "high": high}),
        would_change=[Reason("crop_too_poor", {"share": bearing})],
        set_aside=[
            ("burn first", _of(case.gates["burn safe"])),
            ("wait another year", Reason("crop_lost", {"chance": _none_in_three(case.rules)})),
            ("removal cut now", Reason("too_few_too_small")),
        ],
        follow_on=[
            Reason("leave_bearing_oaks"),
            Reason("count_every_year"),
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
