"""The written prescription of one stand: what is found, what is wanted, what was weighed, what is to be done, and what
opens each step."""

from __future__ import annotations

from dataclasses import dataclass, field

from overwood.desk import answers, fire, kept, marking, timber
from overwood.desk.question import Question
from overwood.ground import measures
from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement.choices import Choices
from overwood.judgement.course import Advice
from overwood.judgement.course.stage import stage
from overwood.judgement.course.steps import all_steps
from overwood.judgement.evidence import reproduction, stock
from overwood.judgement.evidence.counting import plot_ac
from overwood.judgement.evidence.stock import StockTable
from overwood.judgement.futures.run import Futures
from overwood.judgement.gates import Gate, span
from overwood.judgement.injection import Order
from overwood.judgement.leave_rule import RuleSheet
from overwood.judgement.marking_wants import Wants
from overwood.judgement.rules import Rules
from overwood.judgement.windows import upcoming
from overwood.science import survey


@dataclass(frozen=True)
class Wanted:
    """One number of the desired condition beside the figure as it stands; ``rule`` is the entry of the rulebook it
    comes from."""

    what: str
    wanted: str
    now: Figure
    rule: str


@dataclass(frozen=True)
class Treatment:
    """One treatment of the course: when, by which numbers, within what it is accepted, and the gates that open it."""

    step: str
    title: str
    is_next: bool
    season: str
    specification: tuple[str, ...]
    accepted: tuple[str, ...]
    opens: tuple[Gate, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Watch:
    """What is looked at again, when, and the count at which the next step opens."""

    what: str
    when: str
    opens: str


@dataclass(frozen=True)
class Prescription:
    """All that the paper says; choices, futures and marking are the kept ones, None where none is there."""

    stand: str
    file: StandFile = field(repr=False, metadata={"inner": True})
    advice: Advice
    stock: StockTable | None
    floor: dict[str, dict[str, Figure]]
    wanted: tuple[Wanted, ...]
    futures: Futures | None
    futures_name: str
    money: Choices | None
    treatments: tuple[Treatment, ...]
    guide: dict[str, tuple[str, ...]]
    watched: tuple[Watch, ...]
    noted: tuple[str, ...]
    not_looked_up: tuple[str, ...]


def prescription(name: str, ask: Question) -> Prescription:
    """Everything the prescription of a stand says on a day.

    Raises
    ------
    NotFound
        when there is no such stand, or it was never cruised: nothing can be prescribed for it.
    """
    file = answers.stand_file(name).as_of(ask.on)
    standing = stock.stand_and_stock(file, ask.rules)
    if standing is None:
        raise NotFound(
            f"{file.stand.stand} was never cruised: nothing can be prescribed for it.",
            remedy="Cruise it and count its young oaks.",
        )
    advice, wants = answers.advice(name, ask), marking.wants(ask)
    # The futures that the advice read, so that the paper shows no others.
    run = kept.of(advice.outlook.answer) if advice.outlook is not None else None
    return Prescription(
        stand=file.stand.stand,
        file=file,
        advice=advice,
        stock=standing,
        floor=reproduction.by_class(file, ask.rules),
        wanted=_wanted(advice, wants, ask.rules),
        futures=kept.shaped(run, Futures) if run is not None else None,
        futures_name=run.words if run is not None else "",
        money=timber.compare(name, ask, ask.prices) if ask.prices is not None else None,
        treatments=_treatments(name, file, advice, wants, ask),
        guide=_guide(name, file, wants, ask),
        watched=_watched(advice, ask.rules),
        noted=tuple(_sighting(row.kind, row.subject, row.note) for row in file.sightings),
        not_looked_up=tuple(
            item.item for item in answers.completeness(name, ask) if "look-up" in item.item and item.state == "missing"
        ),
    )


def _sighting(kind: str, subject: str, note: str) -> str:
    return ", ".join(part for part in (kind, subject, note) if part)


def _wanted(advice: Advice, wants: Wants, rules: Rules) -> tuple[Wanted, ...]:
    """The desired condition in numbers, each from the rule that the advice reads."""
    figures, number = advice.figures, rules.number
    tall = measures.amount(number("waist_high_ft"), "ft", "g")
    return (
        Wanted("canopy left by the seed cut",
            f"{measures.span(wants.ba_low_ft2_ac, wants.ba_high_ft2_ac, 'ft2/ac', 'g')}",
            figures["overwood_ba_ft2_ac"], "seed_cut_residual_low_ft2_ac"),
        Wanted("light on the floor after it", f"{wants.light_low_pct:g} to {wants.light_high_pct:g} % of full sun",
            figures["floor_light_pct"], "light_low_pct"),
        Wanted("tolerant midstory", f"under {measures.amount(number('midstory_stems_ac'), 'stems/ac', 'g')}",
            figures["midstory_stems_ac"], "midstory_stems_ac"),
        Wanted(f"oaks of {tall} and more before the last cut",
            f"{measures.amount(number('several_hundred_ac'), 'stems/ac', 'g')}", figures["oak_stems_3ft_ac"],
            "several_hundred_ac"),
        Wanted(f"or plots with an oak of {measures.amount(4.5, 'ft', 'g')} and more", _needed(figures),
            figures["oak_stocked_4_5ft_share"], "verdict_level"),
        Wanted("tallest oaks when the overwood comes off",
            "at most "
                f"{measures.amount(number('latest_release_height_ft'), 'ft', 'g')}", figures["tallest_oak_ft"],
                "latest_release_height_ft"),
        Wanted("plots with young trees that a competitor leads", f"under {number('competitor_led_share'):.0%}",
            figures["competitor_led_share"], "competitor_led_share"),
        Wanted("young oaks browsed", f"under {number('browse_share'):.0%}", figures["browse_share"], "browse_share"),
    )  # fmt: skip


def _needed(figures: dict[str, Figure]) -> str:
    need = figures["needed_stocked_share"]
    return f"{need.number:.0%} of plots" if need.measured else "not known: the stand's need was not worked out"


def _treatments(name: str, file: StandFile, advice: Advice, wants: Wants, ask: Question) -> tuple[Treatment, ...]:
    """The course from today: the next step, and those after it that its gates open."""
    at, gates = stage(file), {gate.name: gate for gate in advice.gates}
    made = []
    if at not in ("opened", "released") and (
        advice.step == "inject" or gates["midstory shades"].answer in ("yes", "unsure")
    ):
        made.append(_treatment("inject", advice, ask, *_of_injection(name, ask), gates, ()))
    if at not in ("opened", "released"):
        cut = (
            f"leave {measures.span(wants.ba_low_ft2_ac, wants.ba_high_ft2_ac, 'ft2/ac', 'g')} of large-crowned "
            f"oaks, so that the floor gets {wants.light_low_pct:g} to {wants.light_high_pct:g} % of full sun"
        )
        accepted = (
            f"canopy left between {measures.digits(wants.ba_low_ft2_ac, 'ft2/ac', 'g')} and "
            f"{measures.amount(wants.ba_high_ft2_ac, 'ft2/ac', 'g')} by the check of the marking",
            f"at most {ask.rules.number('damage_limit_share'):.0%} of the trees left severely hurt by the felling",
        )
        made.append(
            _treatment(
                "seed_cut", advice, ask, (cut,), accepted, gates, ("crop good", "midstory shades", "free of invasives")
            )
        )
    if at != "released":
        area = plot_ac(file, file.latest("reproduction"))
        plots = (
            f"{ask.rules.number('fewest_reproduction_plots'):.0f} or more plots of {measures.plot_size(area)} "
            f"({measures.amount(round(float(survey.plot_radius_ft(area)), 2), 'ft', 'g')} radius), the same "
            "stakes each time"
        )
        made.append(
            _treatment("count", advice, ask, (plots,), ("every stake found, empty plots written down",), gates, ())
        )
        over = (
            "make the removal cut before the oaks pass "
            f"{measures.amount(ask.rules.number('latest_release_height_ft'), 'ft', 'g')}, on firm or frozen "
            "ground"
        )
        made.append(
            _treatment(
                "release",
                advice,
                ask,
                (over,),
                ("count again the autumn after the cut",),
                gates,
                ("oak enough", "low enough", "competitors under"),
            )
        )
    if not any(one.step == advice.step for one in made):
        made.insert(0, _treatment(advice.step, advice, ask, (advice.why_in_one_line,), (), gates, ()))
    return tuple(made)


def _treatment(
    step: str,
    advice: Advice,
    ask: Question,
    spec: tuple[str, ...],
    accepted: tuple[str, ...],
    gates: dict[str, Gate],
    opens: tuple[str, ...],
) -> Treatment:
    kind, is_next = all_steps()[step], advice.step == step
    window = advice.window if is_next else (upcoming(ask.rules, kind.window, ask.on) if kind.window else None)
    later = "" if is_next or not opens else ", or the same season of a later year, once its gates are open"
    season = f"{window}{later}" if window else ""
    return Treatment(
        step,
        advice.title if is_next else kind.title,
        is_next,
        season,
        spec,
        accepted,
        tuple(gates[name] for name in opens),
        kind.cautions,
    )


def _of_injection(name: str, ask: Question) -> tuple[tuple[str, ...], tuple[str, ...]]:
    try:
        order: Order = fire.injection(name, ask, product=fire.product_on_table(name))[0]
    except NotFound as fault:
        return (str(fault),), ()
    spec = (
        f"{span(order.stems_ac)} of shade-tolerant midstory, no oak among them",
        f"one cut for each {measures.amount(order.spacing_in, 'in.', 'g')} of dbh, "
        f"{measures.digits(order.cuts_ac, 'cuts/ac', ',.0f')} cuts and "
        f"{measures.digits(order.solution_gal_ac, 'gal/ac', '.2f')} {measures.unit_word('gal')} of solution "
        f"{measures.unit_word('an acre')}; yearly limit of the label {order.yearly_limit}",
    )
    return spec, (
        f"next summer {ask.rules.number('injection_dead_share'):.0%} of the treated stems dead; missed ones "
        "are treated again",
    )


def _guide(name: str, file: StandFile, wants: Wants, ask: Question) -> dict[str, tuple[str, ...]]:
    """What the markers go by: the rule tried on the cruise, or where there is a stem map its marking sheet."""
    if stage(file) in ("opened", "released"):
        return {}
    if marking.has_map(name, ask):
        return {"Tree by tree": ("by the marking sheet of the stem map that lies on the table",)}
    rule: RuleSheet = marking.rule_sheet(name, ask, wants, marking.states_told(name, ask, wants))
    left = (
        f"{measures.amount(rule.leave_ba_ft2_ac.number, 'ft2/ac')} in "
        f"{measures.amount(rule.leave_trees_ac.number, 'trees an acre')}, tried on the cruise {rule.visit}"
    )
    return {
        "Leave": rule.leave,
        "Take": rule.take,
        "What it leaves": (left, *(f"short of what is wanted: {text}" for text in rule.shortfalls)),
    }


def _watched(advice: Advice, rules: Rules) -> tuple[Watch, ...]:
    """What is looked at again, and the numbers at which the next step opens."""
    number, on = rules.number, advice.on
    enough = (
        f"the last cut opens at {measures.amount(number('several_hundred_ac'), 'oaks/ac', 'g')} of "
        f"{measures.amount(number('waist_high_ft'), 'ft', 'g')} and more, the bound at "
        f"{number('verdict_level'):.0%} counting, or by the stocked-plot rule"
    )
    return (
        Watch("the same plots counted", str(upcoming(rules, "window_reproduction", on)), enough),
        Watch(f"acorns on {number('crop_fewest_trees'):.0f} or more oaks of each group", str(upcoming(rules,
            "window_acorn", on)), f"the seed cut opens at {number('crop_bearing_share'):.0%} of the oaks bearing"),
        Watch("browse and competitors on the plots", "with each count",
            f"over {number('browse_share'):.0%} browsed or {number('competitor_led_share'):.0%} of plots "
                "led by a competitor the course is changed first"),
    )  # fmt: skip
