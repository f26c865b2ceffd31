"""What the markers of a stand go by: which trees stay and in what order, what is never cut, how far apart, along which
edges, how much stays within what, and how it is checked."""

from __future__ import annotations

from overwood.desk import marking
from overwood.desk.answers import stand_file
from overwood.desk.question import Question
from overwood.ground import measures
from overwood.ground.records import StandFile
from overwood.judgement.course import Advice
from overwood.judgement.course.steps import caution
from overwood.judgement.gates import span
from overwood.judgement.leave_rule import RuleSheet
from overwood.judgement.marking.wants import Wants, thinned_ba_ft2_ac
from overwood.judgement.net_ground import asks_first, net_ground
from overwood.judgement.rules import Rules

Guide = dict[str, tuple[str, ...]]


def guide(name: str, course: frozenset[str], advice: Advice, wants: Wants, ask: Question) -> Guide:
    """The guide for the first cut of a course, by heading; nothing where the course has none."""
    file, rules = stand_file(name).as_of(ask.on), ask.rules
    if "thin" in course:
        how = _thinning(advice, rules)
    elif "seed_cut" in course:
        how = _seed_cut(name, wants, ask)
    elif "release" in course:
        how = _removal(rules)
    else:
        return {}
    check = how.pop("Check")
    return {**how, "Never cut": _never_cut(file), "Edges and kept ground": _edges(file, wants), "Check": check}


def _seed_cut(name: str, wants: Wants, ask: Question) -> Guide:
    """The rule tried on the cruise, or where there is a stem map its marking sheet, and what a seed cut must leave."""
    rules = ask.rules
    stays = [
        f"{measures.span(wants.ba_low_ft2_ac, wants.ba_high_ft2_ac, 'ft2/ac', 'g')}, the middle aimed at, and "
        f"{wants.light_low_pct:g} to {wants.light_high_pct:g}% of full sun on the forest floor"
    ]
    order: Guide = {}
    mapped = marking.mapped_share(name, ask)
    if mapped:
        where = "" if mapped == 1 else "on the mapped ground "
        order["Tree by tree"] = (f"{where}by the marking sheet of the stem map that lies on the table",)
    if mapped < 1:
        rule: RuleSheet = marking.rule_sheet(name, ask, wants, marking.states_told(name, ask, wants))
        beside = " off the map" if mapped else ""
        order |= {f"Leave{beside}, in this order": rule.leave, f"Take{beside}, in this order": rule.take}
        stays.append(
            f"{span(rule.leave_ba_ft2_ac)} in {span(rule.leave_trees_ac)} of the main canopy by the rule{beside}, "
            f"tried on the cruise {rule.visit}"
        )
        stays += [f"short of what is wanted: {text}" for text in rule.shortfalls]
    return {**order, "How much stays": tuple(stays), "Spacing": _spacing(wants, rules), "Check": _checked(wants, rules)}


def _spacing(wants: Wants, rules: Rules) -> tuple[str, ...]:
    apart = f"at least {measures.amount(wants.spacing_ft, 'ft', 'g')} apart" if wants.spacing_ft else "no set distance"
    reach = measures.amount(rules.number("seed_tree_reach_ft"), "ft", "g")
    texts = [f"{apart}; {wants.seed_cover_share:.0%} of the ground lies within {reach} of the crown of a leave oak"]
    if wants.both_oak_groups:
        texts.append("oaks of the white and of the red group both stay, for their crops fail in different years")
    return tuple(texts)


def _checked(wants: Wants, rules: Rules) -> tuple[str, ...]:
    return (
        f"points are taken while the crew marks and judged at every {rules.number('marking_check_step'):.0f}, at most "
        f"{rules.number('marking_check_looks'):.0f} times: on target from "
        f"{measures.span(wants.ba_low_ft2_ac, wants.ba_high_ft2_ac, 'ft2/ac', 'g')}, with at most "
        f"{rules.number('marking_check_error'):.0%} chance of a wrong verdict",
        _unhurt(rules),
    )


def _unhurt(rules: Rules) -> str:
    return f"after the felling at most {rules.number('damage_limit_share'):.0%} of the trees left are severely hurt"


def _removal(rules: Rules) -> Guide:
    return {
        "Leave": ("reserve trees that the owner names before the marking, and the trees that are never cut",),
        "Take": ("all other trees of the overwood, felled away from the groups of tall oaks where that is safe",),
        "Check": ("every tree that stays is marked before the felling; nothing else of the overwood stands after it",),
    }


def _thinning(advice: Advice, rules: Rules) -> Guide:
    """How far a thinning goes, in basal area too."""
    left = rules["thin_residual_stocking_pct"]
    low, middle, high = thinned_ba_ft2_ac(advice.figures, rules)
    ends = measures.span(low, high, "ft2/ac")
    near = (
        f"{measures.digits(middle, 'ft2/ac')} ({measures.digits(low, 'ft2/ac')} to {measures.digits(high, 'ft2/ac')})"
    )
    return {
        "Leave": (
            "first the white oaks and the widest crowns",
            f"down to {left.number:g}% stocking ({left.span[0]:g} to {left.span[2]:g}), about "
            f"{near} {measures.unit_word('ft2/ac')} where the trees that stay are of the mean size of all; "
            "more where they are larger",
        ),
        "Take": (
            "trees that press on the crown of a better one, the poorest of them first (common practice, no published "
            "source)",
        ),
        "Spacing": ("no set distance: what stays is spread so that no gap opens in the canopy",),
        "Check": (f"points while the crew marks: {ends} on average", _unhurt(rules)),
    }


def _never_cut(file: StandFile) -> tuple[str, ...]:
    wildlife = (
        "wildlife trees: roost, den and hollow trees are marked to stay; a snag stays where it endangers nobody "
        "(common practice, no published source)"
    )
    return (wildlife, *asks_first(file))


def _edges(file: StandFile, wants: Wants) -> tuple[str, ...]:
    strips = tuple(
        f"along the {edge.side} side the main canopy stays, {measures.amount(edge.width_ft, 'ft', 'g')} wide"
        for edge in wants.edges
    )
    return (*net_ground(file).lines, *(strips or ("no edge strip is asked for",)), caution("boundary").rstrip("."))
