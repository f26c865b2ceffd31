"""The plan of a property as a person asks for it: made from the book, kept as an answer, held against the one
before."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from overwood.desk import answers, fire, futures, kept, outlines, session
from overwood.desk.question import Question
from overwood.ground.errors import NotFound
from overwood.ground.records import Stand, StandFile
from overwood.judgement import injection
from overwood.judgement.evidence import all_figures
from overwood.judgement.futures import courses as listed
from overwood.judgement.futures.start import start_of
from overwood.judgement.net_ground import net_area_ac
from overwood.judgement.plan import limits as limits_room
from overwood.judgement.plan import schedule
from overwood.judgement.plan.answer import NotPlanned, Plan, Refusal
from overwood.judgement.plan.columns import Plot, workload_of
from overwood.judgement.plan.kinds import traits_of
from overwood.judgement.plan.limits import Limits
from overwood.judgement.plan.schedule import Property, Step, Terms
from overwood.judgement.plan.solving import Solver

PLAN = "plan"
USUAL_DRAWS, USUAL_PATHS, USUAL_KINDS = 100, 200, 500
# A degree of latitude on a ball of the Earth's mean radius [ft]: near enough to tell whether outlines touch.
_FT_A_DEGREE = math.radians(1) * 6_371_008.8 / 0.3048


@dataclass(frozen=True, kw_only=True)
class PlanAsked:
    """How a plan is asked for."""

    limits: Limits
    courses: Path | None = None
    draws: int = USUAL_DRAWS
    paths: int = USUAL_PATHS
    seed: int = 1
    kinds: int = USUAL_KINDS
    search_s: float = Solver.seconds


def limits(
    path: Path | None, ask: Question, *, years: int | None = None, value_at_least_usd: float | None = None
) -> Limits:
    """The limits of a file, with the years and the value that a person names beside it. Raises BadRule with file and
    line of the entry that cannot be used."""
    limits_read = limits_room.load(path, ask.rules, years=years)
    return limits_read if value_at_least_usd is None else replace(limits_read, value_at_least_usd=value_at_least_usd)


def write_limits(target: Path) -> None:
    """Write a file of limits to fill in."""
    target.write_text(limits_room.TEMPLATE, encoding="utf-8")


def with_burn_days(asked: PlanAsked, ask: Question, weather: Path) -> PlanAsked:
    """The same with burn days a year from the burn look-out, where the limits name none: the mean of the stand that has
    the fewest.

    Days on which the weather fits; crews and leave may make them fewer.
    """
    if asked.limits.burn_days:
        return asked
    hours = fire.read_weather(weather)
    fewest = min(fire.burn(stand.stand, ask, weather=hours).days[0].mean_days for stand in session.stands())
    return replace(asked, limits=replace(asked.limits, burn_days=(fewest,) * asked.limits.years))


def steps() -> int:
    """How many steps a plan of the book has, for its progress."""
    return schedule.steps_of(len(session.stands()))


def make(asked: PlanAsked, ask: Question, step: Step) -> Plan | Refusal:
    """The plan of every stand of the book, or the fewest limits that clash. Raises Misuse when no stand can be planned,
    limits name money without prices, or it is stopped before there is a plan; BadRule when limits or courses cannot be
    used; NoPlan when a pin matches nothing its stand can do, or no plan was found in time."""
    terms = Terms(
        on=ask.on, rules=ask.rules, courses=listed.load(asked.courses), limits=asked.limits, draws=asked.draws,
        paths=asked.paths,
        seed=asked.seed, kinds=asked.kinds, solver=Solver(seconds=asked.search_s),
    )  # fmt: skip
    return schedule.make_plan(land(ask, asked.limits), terms, step, _before())


def land(ask: Question, limits: Limits) -> Property:
    """Every stand of the book as the plan takes it; a stand that cannot be planned is named with its reason."""
    standing = answers.property_standing(ask)
    advice = {one.advice.stand: one.advice for one in standing.judged}
    plots: list[Plot] = []
    without = [NotPlanned(stand=one.stand, reason=one.reason) for one in standing.unjudged]
    for name, file in answers.all_files().items():
        if name not in advice:
            continue
        try:
            plots.append(_plot(file.as_of(ask.on), ask))
        except NotFound as fault:
            without.append(NotPlanned(stand=name, reason=str(fault)))
    names = [plot.stand for plot in plots]
    return Property(
        plots=tuple(plots),
        advice=advice,
        marks=session.stand_marks(),
        not_planned=tuple(without),
        touching=tuple(pair for pair in touching(session.stands(), limits) if pair[0] in names and pair[1] in names),
        without_outline=tuple(
            stand.stand for stand in session.stands() if stand.stand in names and not stand.boundary_wkt
        ),
        price_list="" if ask.prices is None else f"{ask.prices.source}, {ask.prices.date:%d %b %Y}",
    )


def _plot(file: StandFile, ask: Question) -> Plot:
    """A stand as the plan takes it. Raises NotFound when it has no area, no count or no overwood."""
    area = net_area_ac(file)
    if not area:
        raise NotFound(
            f"{file.stand.stand} has no acreage on record.", remedy="Note it in the stands sheet, or draw the outline."
        )
    figures = all_figures(file, ask.rules, ask.on)
    start = start_of(file, figures, ask.rules)
    money = futures.money_of(file, ask, ask.prices)
    if ask.prices is not None and money is None:
        raise NotFound(
            f"{file.stand.stand} has no cruise that its timber can be valued by.",
            remedy="Cruise it, or plan without prices.",
        )
    work = workload_of(area, _injection_days(file, ask), ask.rules)
    age = figures["age_yr"]
    traits = traits_of(figures, start.stand)
    return Plot(file.stand.stand, area, start, work, money, age.number if age.measured else None, traits)


def _injection_days(file: StandFile, ask: Question) -> float | None:
    """Crew days by the stand's own injection order; None where it has none."""
    try:
        days = injection.crew_days(file, ask.rules, ask.on)
    except NotFound:
        return None
    return days.likely if days else None


def touching(stands: Iterable[Stand], limits: Limits) -> tuple[tuple[str, str], ...]:
    """Pairs of stands whose outlines come near each other, and those the limits name; none where openings need not be
    apart."""
    if limits.apart_yr <= 0:
        return ()
    named = {tuple(sorted(pair)) for pair in limits.neighbors}
    return tuple(
        sorted(
            (one, other)
            for one, other in {*named, *_near([one for one in stands if one.boundary_wkt], limits.touching_ft)}
        )
    )


def _near(stands: Sequence[Stand], within_ft: float) -> set[tuple[str, str]]:
    import shapely
    import shapely.affinity

    if len(stands) < 2:
        return set()
    shapes = [outlines.shape_of(stand) for stand in stands]
    north = sum(shape.centroid.y for shape in shapes) / len(shapes)
    wide = _FT_A_DEGREE * math.cos(math.radians(north))
    flat = [shapely.affinity.scale(shape, wide, _FT_A_DEGREE, origin=(0, 0)) for shape in shapes]
    pairs = shapely.STRtree(flat).query(flat, predicate="dwithin", distance=within_ft).T
    return {tuple(sorted((stands[one].stand, stands[other].stand))) for one, other in pairs if one < other}


def keep(plan: Plan, ask: Question, asked: PlanAsked) -> kept.KeptAnswer:
    """Lay a plan in the book as the whole property's."""
    settings = {
        "draws": asked.draws,
        "paths": asked.paths,
        "seed": asked.seed,
        "kinds": asked.kinds,
        "courses": asked.courses.name if asked.courses else "",
    }
    return kept.keep(kept.PROPERTY, PLAN, ask, settings, plan)


def newest() -> tuple[Plan, kept.KeptAnswer] | None:
    """The plan kept last; None where none is. Raises Unread when a program of another version kept it."""
    answer = kept.newest(kept.PROPERTY, PLAN)
    return (kept.shaped(answer, Plan), answer) if answer else None


def _before() -> tuple[int, Plan] | None:
    """The plan kept last with its number, where this program reads it."""
    try:
        newest_one = newest()
    except kept.Unread:
        return None
    return (newest_one[1].number, newest_one[0]) if newest_one else None
