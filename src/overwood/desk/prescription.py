"""The written prescription of one stand: what is found, what is wanted, what was weighed, what is to be done, and what
opens each step."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from overwood.desk import answers, fire, kept, marking, marking_guide, timber
from overwood.desk.kept import NamedAnswer
from overwood.desk.question import Question
from overwood.ground import measures
from overwood.ground.errors import NotFound
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement.course import Advice
from overwood.judgement.course.stage import stage
from overwood.judgement.course.steps import all_steps, caution
from overwood.judgement.evidence import reproduction, stock
from overwood.judgement.evidence.counting import plot_ac
from overwood.judgement.evidence.oak_verdict import stems_name
from overwood.judgement.evidence.stock import StockTable
from overwood.judgement.futures.run import Futures
from overwood.judgement.gates import NO, UNSURE, Gate, span
from overwood.judgement.gates.windows import Window, cut_after_injection, season, upcoming
from overwood.judgement.injection import Order
from overwood.judgement.marking.wants import Wants
from overwood.judgement.money.choices import Choices
from overwood.judgement.monitoring import changes as monitoring
from overwood.judgement.net_ground import net_ground
from overwood.judgement.rules import Rules
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

    @property
    def is_later(self) -> bool:
        """Whether it waits for another step; work beside the course does not."""
        return not self.is_next and self.step in all_steps()


# What is to be done, and what is accepted as done.
Work = tuple[tuple[str, ...], tuple[str, ...]]


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
    ground: tuple[str, ...]
    not_looked_up: tuple[str, ...]


def answer_of(name: str, ask: Question) -> NamedAnswer[Prescription]:
    """The prescription as it lies in the book; raises as :func:`prescription`."""
    settings = {"prices": kept.list_named(ask.prices), "product": fire.product_on_table(name)}
    return kept.lay(
        answers.stand_file(name).stand.stand, "prescription", ask, settings, lambda: prescription(name, ask)
    )


def prescription(name: str, ask: Question) -> Prescription:
    """Everything the prescription of a stand says on a day. Raises NotFound when there is no such stand, or it was
    never cruised: nothing can be prescribed for it."""
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
    treatments = _treatments(name, file, advice, wants, ask)
    course = frozenset(one.step for one in treatments)
    return Prescription(
        stand=file.stand.stand,
        file=file,
        advice=advice,
        stock=standing,
        floor=reproduction.by_class(file, ask.rules),
        wanted=_wanted(course, advice, wants, ask.rules),
        futures=kept.shaped(run, Futures) if run is not None else None,
        futures_name=run.words if run is not None else "",
        # Of figures too old to advise on nothing is weighed in money either.
        money=timber.compare(name, ask, ask.prices) if ask.prices is not None and advice.step != "measure" else None,
        treatments=treatments,
        guide=marking_guide.guide(name, course, advice, wants, ask),
        watched=_watched(course, advice, ask.rules),
        noted=tuple(_sighting(row.kind, row.subject, row.note) for row in file.sightings),
        ground=net_ground(file).lines,
        not_looked_up=tuple(
            item.item
            for item in answers.completeness(name, ask)
            if item.item in monitoring.LOOK_UPS and item.state == "missing"
        ),
    )


def _sighting(kind: str, subject: str, note: str) -> str:
    return ", ".join(part for part in (kind, subject, note) if part)


def _wanted(course: frozenset[str], advice: Advice, wants: Wants, rules: Rules) -> tuple[Wanted, ...]:
    """The desired condition in numbers for the steps of the course, each from the rule that the advice reads."""
    figures, number, rows = advice.figures, rules.number, []
    tall = measures.amount(number("waist_high_ft"), "ft", "g")
    if "thin" in course:
        left = rules["thin_residual_stocking_pct"]
        rows.append(Wanted("stocking left by the thinning", f"{left.span[0]:g} to {left.span[2]:g}%",
            figures["overwood_stocking_pct"], left.name))  # fmt: skip
    if "seed_cut" in course:
        rows += [
            Wanted("canopy left by the seed cut",
                f"{measures.span(wants.ba_low_ft2_ac, wants.ba_high_ft2_ac, 'ft2/ac', 'g')}",
                figures["overwood_ba_ft2_ac"], "seed_cut_residual_low_ft2_ac"),
            Wanted("light on the forest floor after it",
                   f"{wants.light_low_pct:g} to {wants.light_high_pct:g}% of full sun",
                figures["floor_light_pct"], "light_low_pct"),
            Wanted("tolerant midstory", f"under {measures.amount(number('midstory_stems_ac'), 'stems/ac', 'g')}",
                figures["midstory_stems_ac"], "midstory_stems_ac"),
        ]  # fmt: skip
    if "release" in course:
        rows += [
            Wanted(f"oaks of {tall} or taller before the last cut",
                f"{measures.amount(number('several_hundred_ac'), 'stems/ac', 'g')}", figures[stems_name(rules)],
                "several_hundred_ac"),
            Wanted(f"or plots with an oak of {measures.amount(4.5, 'ft', 'g')} or taller", _needed(figures),
                figures["oak_stocked_4_5ft_share"], "verdict_level"),
            Wanted("tallest oaks when the overwood comes off",
                f"at most {measures.amount(number('latest_release_height_ft'), 'ft', 'g')}", figures["tallest_oak_ft"],
                "latest_release_height_ft"),
            Wanted("plots with young trees that a competitor leads", f"under {number('competitor_led_share'):.0%}",
                figures["competitor_led_share"], "competitor_led_share"),
            Wanted("young oaks browsed", f"under {number('browse_share'):.0%}", figures["browse_share"],
                "browse_share"),
        ]  # fmt: skip
    return tuple(rows)


def _needed(figures: dict[str, Figure]) -> str:
    need = figures["needed_stocked_share"]
    return f"{need.number:.0%} of plots" if need.measured else "not known: the stand's need was not worked out"


def _treatments(name: str, file: StandFile, advice: Advice, wants: Wants, ask: Question) -> tuple[Treatment, ...]:
    """The course from today: the next step, and those after it that its gates open."""
    at, gates = stage(file), {gate.name: gate for gate in advice.gates}
    made: list[Treatment] = []
    regenerates = at not in ("opened", "released") and advice.step in _BEFORE_A_SEED_CUT
    # What comes later begins once the next step is over.
    after = ask.on if advice.window is None else advice.window.end + dt.timedelta(days=1)
    counts = upcoming(ask.rules, "window_reproduction", ask.on)
    if regenerates and (advice.step == "inject" or gates["midstory shades"].answer in ("yes", "unsure")):
        made.append(_treatment("inject", advice, ask, _of_injection(name, ask)))
        after = cut_after_injection(ask.rules, ask.on).start
    if at == "opened" or regenerates or advice.step == "release":
        area = plot_ac(file, file.latest("reproduction"))
        plots = (
            f"{ask.rules.number('fewest_reproduction_plots'):.0f} or more plots of {measures.plot_size(area)} "
            f"({measures.amount(round(float(survey.plot_radius_ft(area)), 2), 'ft', 'g')} radius), the same "
            "stakes each time"
        )
        if advice.window != counts or advice.step == "count":
            stakes = ("every stake found, empty plots written down",)
            made.append(_treatment("count", advice, ask, ((plots,), stakes)))
    if regenerates:
        cut = (
            f"leave {measures.span(wants.ba_low_ft2_ac, wants.ba_high_ft2_ac, 'ft2/ac', 'g')} of large-crowned "
            f"oaks, so that the forest floor gets {wants.light_low_pct:g} to {wants.light_high_pct:g}% of full sun"
        )
        accepted = (
            f"canopy left between {measures.digits(wants.ba_low_ft2_ac, 'ft2/ac', 'g')} and "
            f"{measures.amount(wants.ba_high_ft2_ac, 'ft2/ac', 'g')} by the check of the marking",
            f"at most {ask.rules.number('damage_limit_share'):.0%} of the trees left severely hurt by the felling",
        )
        opens = ("crop good", "midstory shades", "free of invasives")
        cut_in = upcoming(ask.rules, "window_cut", after)
        made.append(_treatment("seed_cut", advice, ask, ((cut,), accepted), opens, cut_in))
        after = _counted_after(advice.window if advice.step == "seed_cut" and advice.window else cut_in, ask)
    if at == "opened" or regenerates or advice.step == "release":
        over = (
            "make the removal cut before the oaks pass "
            f"{measures.amount(ask.rules.number('latest_release_height_ft'), 'ft', 'g')}, on firm or frozen "
            "ground"
        )
        opens, begins = ("oak enough", "low enough", "competitors under"), upcoming(ask.rules, "window_removal", after)
        wanted = measures.amount(ask.rules.number("several_hundred_ac"), "stems/ac", "g")
        accepted = (
            "the overwood is down but for reserve and wildlife trees",
            f"the count of the autumn after still finds {wanted} of oak {measures.amount(3, 'ft', 'g')} or taller, or "
            "the stocked plots",
        )
        work = ((over, "count again the autumn after the cut"), accepted)
        made.append(_treatment("release", advice, ask, work, opens, begins))
    if not any(one.step == advice.step for one in made):
        made.append(_treatment(advice.step, advice, ask, ((advice.why_in_one_line, *map(str, advice.follow_on)), ())))
    return tuple(sorted([*_protections(advice, made, ask), *made], key=lambda one: not one.is_next))


def _protections(advice: Advice, made: list[Treatment], ask: Question) -> list[Treatment]:
    """What must be done beside the course before more light comes in: invasive plants seen, deer over their limit or
    not known to be under it."""
    gates, steps = {gate.name: gate for gate in advice.gates}, {one.step for one in made}
    invasives, deer, treatments = gates.get("free of invasives"), gates.get("browse low"), []
    if invasives and invasives.answer == NO and advice.step != "measure":
        work = (
            (
                "treat each kind as it needs, pulled, cut or by a herbicide under its label, from the edge of the "
                "patch inward; clean machines before they leave it (common practice, no published source)",
            ),
            ("the next look along roads, landings and plots finds none alive, and its visit says that it looked",),
        )
        treatments.append(_beside("invasives", "Treat the invasive plants", work, invasives, ("herbicide", "field")))
    if deer and deer.answer in (NO, UNSURE) and steps & {"seed_cut", "release", "release_stems"}:
        limit = f"{ask.rules.number('browse_share'):.0%}"
        safe = measures.amount(ask.rules.number("future_browse_line_ft"), "ft", "g")
        check = "plots inside a fence and outside it are counted apart at every count"
        is_over = deer.answer == NO
        works = (
            f"fence the stand, or lower the deer under the game law of the state, as the owner chooses, until the oaks "
            f"wanted are taller than {safe}, above the reach of deer (assumption)"
            if is_over
            else "fence a few plots as a check, and note bitten tips on the plots inside and outside",
            "a fence is closed at the ground and walked after every storm (common practice, no published source)",
        )
        title = "Keep deer off the young oaks" if is_over else "Find out what deer take"
        accepted = (f"at the next count under {limit} of the oak stems are browsed where deer can reach them", check)
        treatments.append(_beside("deer", title, (works, accepted), deer, ("field", "boundary")))
    return treatments


def _beside(step: str, title: str, work: Work, gate: Gate, cautions: tuple[str, ...]) -> Treatment:
    """Work that no season of the course waits for."""
    return Treatment(step, title, False, "before more light comes in", *work, (gate,), tuple(map(caution, cautions)))


# Steps of a mature stand whose overwood still stands whole: a seed cut comes after them, or is one.
_BEFORE_A_SEED_CUT = ("inject", "check_injection", "check_acorns", "seed_cut", "count", "settle")


def _counted_after(cut: Window, ask: Question) -> dt.date:
    """The day after the last of the counts that the fewest years to the removal cut hold."""
    years = int(ask.rules["removal_delay_yr"].span[0])
    return season(ask.rules, "window_reproduction", cut.end.year + years - 1).end + dt.timedelta(days=1)


def _treatment(
    step: str, advice: Advice, ask: Question, work: Work, opens: tuple[str, ...] = (), window: Window | None = None
) -> Treatment:
    """One step; ``window`` is its first season where what comes before it must be done and checked."""
    gates = {gate.name: gate for gate in advice.gates}
    kind, is_next = all_steps()[step], advice.step == step
    if is_next or window is None:
        window = advice.window if is_next else (upcoming(ask.rules, kind.window, ask.on) if kind.window else None)
    later = ", or the same season of a later year, once its gates are open" if opens else ""
    if step == "count":
        later = " and every autumn after"
    later = "" if is_next else later
    season = f"{window}{later}" if window else ""
    title = advice.title if is_next else kind.title
    return Treatment(step, title, is_next, season, *work, tuple(gates[name] for name in opens), kind.cautions)


def _of_injection(name: str, ask: Question) -> Work:
    try:
        order: Order = fire.injection(name, ask, product=fire.product_on_table(name))[0]
    except NotFound as fault:
        return (str(fault),), ()
    spec = (
        f"{span(order.stems_ac)} of shade-tolerant midstory, no oak among them",
        f"one cut for each {order.spacing} {measures.unit_word('in.')} of dbh, "
        f"{measures.digits(order.cuts_ac, 'cuts/ac', ',.0f')} cuts and "
        f"{measures.digits(order.solution_gal_ac, 'gal/ac', '.2f')} {measures.unit_word('gal')} of solution "
        f"{measures.unit_word('an acre')}; yearly limit of the label {order.yearly_limit}",
    )
    return spec, (
        f"next summer {ask.rules.number('injection_dead_share'):.0%} of the treated stems dead; missed ones "
        "are treated again",
    )


def _watched(course: frozenset[str], advice: Advice, rules: Rules) -> tuple[Watch, ...]:
    """What is looked at again for the steps of the course, and the numbers at which the next one opens."""
    number, on = rules.number, advice.on
    enough = (
        f"the last cut opens at {measures.amount(number('several_hundred_ac'), 'oaks/ac', 'g')} of "
        f"{measures.amount(number('waist_high_ft'), 'ft', 'g')} or taller, the bound at "
        f"{number('verdict_level'):.0%} counting, or by the stocked-plot rule"
    )
    rows = []
    if advice.step == "release":
        enough = (
            f"after the cut {measures.amount(number('several_hundred_ac'), 'oaks/ac', 'g')} of "
            f"{measures.amount(number('waist_high_ft'), 'ft', 'g')} or taller, or the stocked plots, still stand; with "
            "fewer the course is looked at anew"
        )
    if "release" in course:
        rows.append(Watch("the same plots counted", str(upcoming(rules, "window_reproduction", on)), enough))
    if "seed_cut" in course:
        rows.append(Watch(f"acorns on {number('crop_fewest_trees'):.0f} or more oaks of each group",
            str(upcoming(rules, "window_acorn", on)),
            f"{'put off past this season, ' if advice.step == 'seed_cut' else ''}the seed cut opens at "
            f"{number('crop_bearing_share'):.0%} of the oaks with acorns"))  # fmt: skip
    if "release" in course:
        rows.append(Watch("browse and competitors on the plots", "with each count",
            f"over {number('browse_share'):.0%} browsed or {number('competitor_led_share'):.0%} of plots "
                "led by a competitor the course is changed first"))  # fmt: skip
    return tuple(rows)
