"""What rooms must agree on for one stand; each disagreement in words (the rules stand in docs/consistency.md)."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import math
import re
from collections.abc import Iterator

import numpy as np

from overwood.faces.telling import plain
from overwood.ground.errors import OverwoodError
from overwood.ground.records import StandFile
from overwood.judgement import gates as g
from overwood.judgement import injection, waiting
from overwood.judgement.course import Advice, advise, standings
from overwood.judgement.course.branch import STEP_OF, Case, Standing, branch_of
from overwood.judgement.course.draws import cases_of
from overwood.judgement.course.due import due_of
from overwood.judgement.course.outlook import Outlook
from overwood.judgement.course.steps import all_steps
from overwood.judgement.fire.gates import burn_gates
from overwood.judgement.light.drawn_stand import drawn_light
from overwood.judgement.light.gain import SEED, drawn_states
from overwood.judgement.money import choices
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules
from overwood.science import money

# A forecast by which no course leads to an oak stand, and one by which a course is sure to.
_HOPELESS = Outlook(
    answer=1, made_on=dt.date(2000, 1, 1), course="injection alone", oak_stand_chance=0.01, oak_stand_error=0.001,
    oak_part_chance=0.1, age_yr=20, others=("red maple",),
)  # fmt: skip
_SURE = dataclasses.replace(_HOPELESS, oak_stand_chance=0.99, oak_part_chance=1.0)
_PAID = ("inject", "seed_cut")


def disagreements(
    file: StandFile, rules: Rules, on: dt.date, *, light: bool, order: bool = True, prices: PriceList | None = None
) -> list[str]:
    """Every rule that this stand breaks; ``order`` holds the injection order, ``light`` also the rooms of light against each
    other, and ``prices`` those of money and of the futures: each takes longer."""
    advice, known = advise(file, rules, on), file.as_of(on)
    found = [
        *_step(advice, known, rules),
        *_columns(advice, known, rules),
        *_firm(advice),
        *_gates(advice),
        *_spans(advice, rules),
        *_burn(advice, known, rules, on),
    ]
    found += [*(_injection(advice, known, rules, on, light=light) if order else ()), *_told(advice, file, rules, on), *_leading(advice)]
    return found if prices is None else [*found, *_money(advice, known, rules, prices), *_forecast(advice, file, rules)]


def _step(advice: Advice, file: StandFile, rules: Rules) -> Iterator[str]:
    if STEP_OF[advice.branch] != advice.step:
        yield f"branch {advice.branch} names {STEP_OF[advice.branch]}, not {advice.step}"
    answers = {gate.name: gate.answer for gate in advice.gates}
    short = advice.branch == "free_oaks_short" if advice.figures["free_oaks_ac"].measured else None
    standing = Standing(
        stage=advice.stage, maturity=advice.maturity.verdict, cruise=answers["cruise fresh"], oak=answers["oak enough"],
        midstory=answers["midstory shades"], crop=answers["crop good"], injected=bool(file.done("injection")),
        by_too_few_plots=advice.branch == "enough_by_too_few_plots", free_oaks_short=short,
    )  # fmt: skip
    if branch_of(standing) != advice.branch:
        yield f"the gates as told give {branch_of(standing)}, the advice {advice.branch}"
    due = due_of(file, advice, rules)
    if advice.window and (due[0].what, due[0].window) != (advice.title, advice.window):
        yield f"the first thing due is {due[0].what}, the step {advice.title}"


def _columns(advice: Advice, file: StandFile, rules: Rules) -> Iterator[str]:
    """The columns by which firmness and plans judge many cases at once name the branch of the advice."""
    gates = {gate.name: gate for gate in advice.gates}
    case = Case(file, advice.figures, gates, advice.maturity, rules, advice.on, advice.outlook)
    branch = str(np.ravel(standings.standings_of(cases_of(case), standings.Limits(rules, {})).branch)[0])
    if branch != advice.branch:
        yield f"in columns the branch is {branch}, in the advice {advice.branch}"


def _firm(advice: Advice) -> Iterator[str]:
    total = advice.firm.stays + sum(share for _, share in advice.firm.others)
    if not math.isclose(total, 1):
        yield f"shares of the draws sum to {total}"
    if advice.step in dict(advice.firm.others):
        yield "the step stands among the others"
    step, doubt = all_steps()[advice.step], advice.firm.is_known and not advice.firm.is_firm
    if advice.cut_in_doubt != (step.fells and doubt):
        yield f"a cut in doubt: {advice.cut_in_doubt}, by its firmness {step.fells and doubt}"
    if advice.cut_in_doubt and (advice.title, advice.work) != (step.title_in_doubt, "look"):
        yield f"a cut in doubt is told as {advice.title}, {advice.work}"


def _gates(advice: Advice) -> Iterator[str]:
    for gate in advice.gates:
        value, limit = gate.values.get("value"), gate.values.get("limit")
        if value is None or limit is None or gate.code not in ("above", "below"):
            continue
        if (value > limit) != (gate.code == "above"):
            yield f"{gate.name} says {gate.code} with {value} against {limit}"
        if gate.figure and advice.figures[gate.figure].number != value:
            yield f"{gate.name} tells {value}, its figure {gate.figure} is {advice.figures[gate.figure].number}"


_SPAN = re.compile(r"\(([\d.,]+) ?%? to ([\d.,]+) ?%?[^()]*\)")


def _spans(advice: Advice, rules: Rules) -> Iterator[str]:
    """Every span told in brackets is that of a figure, or of a rule: no figure has a second one in a sentence."""
    figures = [figure for figure in advice.figures.values() if figure.measured]
    known = [figure.ends for figure in figures] + [rule.span[::2] for rule in rules.entries.values() if isinstance(rule.value, int | float)]
    told = [
        *map(str, advice.why),
        advice.why_in_one_line,
        *map(str, advice.follow_on),
        *map(str, (*advice.measure_next, *advice.would_change)),
        *(gate.why for gate in advice.gates),
    ]
    told += [doubt.words for doubt in advice.doubts] + [f"{choice} {because}" for choice, because in advice.set_aside]
    for words in [*told, *(figure.method for figure in figures), *(figure.note for figure in figures)]:
        for span in _SPAN.finditer(words):
            ends = [end.replace(",", "").rstrip(".") for end in span.groups()]
            if not any(_as_printed(pair, ends, scale) for pair in known for scale in (1, 100)):
                yield f"{span[0]} in {words!r} is the span of no figure"


def _as_printed(pair: tuple[float, float], ends: list[str], scale: float) -> bool:
    """Whether two numbers are these in print, to half of the last digit."""
    return all(
        abs(scale * number - float(end)) <= 0.5001 * 10.0 ** -len(end.partition(".")[2]) for number, end in zip(pair, ends, strict=True)
    )


def _burn(advice: Advice, file: StandFile, rules: Rules, on: dt.date) -> Iterator[str]:
    planned = {one.name: one for one in burn_gates(file, advice.figures, rules, on, dt.date(on.year + 1, 3, 1)).gates}["burn safe"]
    advised = next(gate for gate in advice.gates if gate.name == "burn safe")
    if planned.answer != advised.answer and planned.code != "germinants":
        yield f"the burn plan says {planned.answer}, the advice {advised.answer}"


def _injection(advice: Advice, file: StandFile, rules: Rules, on: dt.date, *, light: bool) -> Iterator[str]:
    try:
        order = injection.order(file, rules, on)
    except OverwoodError:
        return
    said = advice.figures["injection_stems_ac"]
    if not math.isclose(order.stems_ac.number, said.number):
        yield f"the order treats {order.stems_ac.number} stems/ac, the advice {said.number}"
    now = advice.figures["floor_light_pct"]
    if not math.isclose(order.light_before_pct.number, now.number):
        yield f"light now is {order.light_before_pct.number} in the order, {now.number} in the evidence"
    if light:
        out = drawn_states(now, drawn_light(file, rules, [], seed=SEED))[1]
        if not math.isclose(out.mean_pct, min(order.light_after_pct.likely, 100.0), rel_tol=1e-9):
            yield f"light with the midstory out is {out.mean_pct} in its room, {order.light_after_pct.likely} in the order"


def _told(advice: Advice, file: StandFile, rules: Rules, on: dt.date) -> Iterator[str]:
    told = json.dumps(plain(advice), allow_nan=False)
    if told != json.dumps(plain(advise(file, rules, on)), allow_nan=False):
        yield "asked twice, the advice says two things"
    ba = advice.figures["overwood_ba_ft2_ac"]
    if ba.measured and advice.stage != "released" and f"{ba.number:.0f} ft2/ac" not in advice.what_it_is:
        yield f"what it is ({advice.what_it_is}) tells another basal area than the evidence"
    if any(gate.answer not in g.ANSWERS for gate in advice.gates):
        yield "a gate has no answer"


def _leading(advice: Advice) -> Iterator[str]:
    """One count of leading oaks, with its span: what the choices say is the evidence's."""
    leading = advice.figures["dominants_at_20_ac"]
    if not leading.measured:
        return
    if leading.low is None or leading.high is None or not leading.low <= leading.number <= leading.high:
        yield f"leading oaks are {leading.number}, outside their span {leading.low} to {leading.high}"


def _money(advice: Advice, file: StandFile, rules: Rules, prices: PriceList) -> Iterator[str]:
    if file.latest("cruise") is None:
        return
    compared, waits = choices.compare(file, advice.figures, rules, prices), waiting.waiting(file, rules, prices)
    if waits is None or waits.cost_usd_ac is None or not math.isclose(compared.waiting_usd_ac, waits.cost_usd_ac, abs_tol=1e-9):
        yield f"a year of waiting costs {compared.waiting_usd_ac} in the choices, {waits} in the advice"
    for choice in compared.choices:
        yield from _one_horizon(choice, compared)
    leading = advice.figures["dominants_at_20_ac"]
    if leading.measured and not any(f"about {leading.number:.0f} leading oaks" in choice.oak for choice in compared.choices):
        yield f"no choice tells the {leading.number:.0f} leading oaks of the evidence"


def _one_horizon(choice: choices.Choice, compared: choices.Choices) -> Iterator[str]:
    """Each flow lies within the years of all, and the yearly income is worth over these years what the flows are."""
    if any(flow.year > compared.horizon_yr for flow in choice.flows):
        yield f"{choice.name} has a flow after year {compared.horizon_yr:g}"
    years = [1.0 + year for year in range(int(compared.horizon_yr))]
    back = money.net_present_value([choice.annual_equivalent] * len(years), years, compared.rate)
    if compared.horizon_yr == len(years) and not math.isclose(back, choice.npv[compared.rate], rel_tol=1e-9, abs_tol=1e-6):
        yield f"{choice.name} is worth {choice.npv[compared.rate]} and its yearly income {back} over {len(years)} years"


def _forecast(advice: Advice, file: StandFile, rules: Rules) -> Iterator[str]:
    """The advice looks at the futures: no money where no course reaches the aim, and no other step where one does."""
    without, hopeless, sure = (
        (one.step, one.branch) for one in (advice, *(advise(file, rules, advice.on, outlook=o) for o in (_HOPELESS, _SURE)))
    )
    if hopeless[0] in _PAID:
        yield f"the forecast gives no course a chance, and the advice is to {hopeless[0]}"
    if without[0] not in _PAID and hopeless != without:
        yield f"a step that costs no money ({without[0]}) is set aside for the forecast: {hopeless[0]}"
    if sure != without:
        yield f"a forecast that is sure of oak changes {without[0]} to {sure[0]}"
