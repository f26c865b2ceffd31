"""Burning and injecting as a person asks for them."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from overwood.desk import kept, work
from overwood.desk.answers import Question, advice, stand_file
from overwood.desk.kept import NamedAnswer
from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.ground.records import StandFile
from overwood.ground.vocabulary import CUT_KINDS
from overwood.ground.weather import Weather
from overwood.judgement import evidence as judged
from overwood.judgement import injection as injecting
from overwood.judgement.course.steps import caution
from overwood.judgement.crew_words import sentence
from overwood.judgement.evidence import reproduction
from overwood.judgement.fire import card, days, gates, harm, pool
from overwood.judgement.fire.card import Law, Range
from overwood.judgement.fire.day_by_day import WindowDay, window_days
from overwood.judgement.fire.days import Behaviour, BurnDays, Season
from overwood.judgement.fire.gates import BurnGates
from overwood.judgement.fire.harm import Harm
from overwood.judgement.fire.pool import PoolAfter
from overwood.judgement.gates.windows import upcoming
from overwood.judgement.injection import Checked, Order, Product
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules
from overwood.science.fire.spread import fuel_model, wind_factor_open

CAUTIONS = (
    "burn_advice", "burn_law", "burn_model", "burn_weather", "burn_dry", "burn_fuel", "burn_smoke", "burn_out",
    "burn_timber", "burn_ask",
    "burn_alone", "burn_promise", "snags",
)  # fmt: skip
INJECTION_CAUTIONS = ("herbicide", "snags", "field", "boundary")


@dataclass(frozen=True)
class Burn:
    """Everything about burning one stand."""

    stand: str
    file: StandFile = field(repr=False, metadata={"inner": True})
    gates: BurnGates
    card: tuple[Range, ...]
    law: Law
    fuels: tuple[str, ...]
    weather: Weather | None = field(repr=False, metadata={"inner": True})
    days: tuple[BurnDays, ...]
    harm: Harm | None
    pool: PoolAfter | None
    notes: tuple[str, ...]
    # Numbers of the draft's own words, by their names without what all have in common.
    plan_numbers: dict[str, str] = field(default_factory=dict, metadata={"inner": True})


@dataclass(frozen=True)
class FuelDays:
    """What a weather file says of the days of one fuel model, as a page shows it."""

    fuel: str
    days: tuple[WindowDay, ...]
    seasons: tuple[Season, ...]
    lost_to: dict[str, int]
    behaviour: tuple[Behaviour, ...]


@dataclass(frozen=True)
class DaysCounted:
    """Burn days of a stand by a weather file; ``law`` says under which legal hours they were counted."""

    file: str
    law: str
    fuels: tuple[FuelDays, ...]
    not_counted: tuple[str, ...]
    notes: tuple[str, ...]
    # By the flame in these hours.
    harm: Harm | None


def days_counted(burn: Burn, rules: Rules) -> DaysCounted:
    """The burn days of a burn with weather."""
    assert burn.weather is not None
    notes = (*burn.weather.notes, *_of_days(burn.days, rules))
    fuels = tuple(FuelDays(one.fuel, window_days(one), one.seasons, one.lost_to, one.behaviour) for one in burn.days)
    return DaysCounted(burn.weather.file, burn.law.words, fuels, burn.fuels[len(fuels) :], notes, burn.harm)


def read_weather(path: Path, **how: Any) -> Weather:
    """Hourly weather of a file; keywords are those of the exchange's Reading. Raises NotFound when the file cannot be
    read; Misuse when its columns, clock or units cannot be told."""
    from overwood.memory.exchange import weather

    return weather.read(path, weather.Reading(**how))


def burn(
    name: str,
    ask: Question,
    *,
    weather: Weather | None,
    fuels: Sequence[str] = (),
    law: Law | None = None,
    planned_on: dt.date | None = None,
    override: str = "",
    prices: PriceList | None = None,
    years_to_cut: float | None = None,
    progress: work.Step = lambda done, note: True,
) -> Burn:
    """Gates, burn days, value at risk and the floor after fire, for one stand. ``progress`` hears of each fuel model
    before its days are counted, and ends the count by False. Raises Misuse when a fuel model is not known."""
    file = stand_file(name).as_of(ask.on)
    planned = planned_on or upcoming(ask.rules, "window_burn", ask.on).start
    chosen = _fuels(file, fuels)
    filled = law or Law()
    years = ask.rules.number("burn_years_to_cut") if years_to_cut is None else years_to_cut
    dry = days.dryness(weather, ask.rules) if weather else None
    blocks = []
    for at, fuel in enumerate(chosen):
        if weather is None or not progress(at + 1, fuel):
            break
        blocks.append(days.burn_days(weather, _site(file, fuel, ask.rules), fuel, ask.rules, filled, dry=dry))
    flame = blocks[0].behaviour[-1].flame_ft if blocks and blocks[0].behaviour else None
    growing = gates.in_growing_season(planned, ask.rules)
    return Burn(
        stand=name,
        file=file,
        gates=_gates(file, ask, planned, override),
        card=card.card(ask.rules),
        law=filled,
        fuels=chosen,
        weather=weather,
        days=tuple(blocks),
        harm=harm.harm(file, ask.rules, prices, years, flame),
        pool=pool.after(reproduction.by_class(file, ask.rules), ask.rules, growing=growing),
        notes=(*_notes(file, chosen, fuels, weather, ask.rules), *_of_days(blocks, ask.rules)),
        plan_numbers=_plan_numbers(ask.rules),
    )


def _plan_numbers(rules: Rules) -> dict[str, str]:
    """The rules that a burn plan words, shares in percent."""
    common, plan_numbers = "burn_plan_", {}
    for name in rules.entries:
        if name.startswith(common):
            form = ".0%" if name.endswith("_share") else ",g"
            plan_numbers[name.removeprefix(common)] = format(rules.number(name), form)
    return plan_numbers


def gates_of(name: str, ask: Question) -> BurnGates:
    """The gates of a burn in the next window."""
    return _gates(stand_file(name).as_of(ask.on), ask, upcoming(ask.rules, "window_burn", ask.on).start, "")


def _gates(file: StandFile, ask: Question, planned: dt.date, override: str) -> BurnGates:
    figures = judged.all_figures(file, ask.rules, ask.on)
    return gates.burn_gates(file, figures, ask.rules, ask.on, planned, override)


def fuels_of(name: str, ask: Question) -> tuple[str, ...]:
    """Fuel models whose days are counted where none are named."""
    return _fuels(stand_file(name).as_of(ask.on), ())


def _fuels(file: StandFile, asked: Sequence[str]) -> tuple[str, ...]:
    """Fuel models asked for, else those seen on the ground, filled up with the defaults. Raises Misuse when one is not
    known."""
    visit = file.latest("fuel")
    seen = [row.fuel_model for row in file.fuels if visit is not None and row.visit == visit.visit and row.fuel_model]
    try:
        known = [fuel_model(code).code for code in (asked or seen)]
    except KeyError as fault:
        raise Misuse(
            f"{fault.args[0]}.", remedy="Fuel models are FM1 to FM13, GR, GS, SH, TU, TL and SB with a number."
        ) from fault
    listed = list(dict.fromkeys(known))
    return tuple(dict.fromkeys([*listed, *days.DEFAULT_FUELS]))[: max(len(days.DEFAULT_FUELS), len(listed))]


def _site(file: StandFile, fuel: str, rules: Rules) -> days.Site:
    """What of the stand the fire feels; after a cut the wind reaches the floor."""
    factor = wind_factor_open(fuel_model(fuel).depth_ft) if file.done(*CUT_KINDS) else rules.number("burn_wind_factor")
    return days.Site(file.stand.slope_pct or 0.0, file.stand.aspect_deg or 0.0, factor)


def _notes(
    file: StandFile, chosen: tuple[str, ...], asked: Sequence[str], weather: Weather | None, rules: Rules
) -> tuple[str, ...]:
    notes = [
        f"fuel model {code.strip()} is read as {fuel_model(code).code}: bare numbers are those of the first 13"
        for code in asked
        if code.strip().isdecimal()
    ]
    if not asked:
        notes.append(
            f"fuel models {', '.join(chosen)} are shown because the model matters more than the hour: look "
            "at the litter on the day"
        )
    if file.done(*CUT_KINDS):
        notes.append(
            "the stand was cut: wind is taken as in the open, and tops on the ground are not in the fuel model"
        )
    else:
        rule = rules["burn_wind_factor"]
        notes.append(
            f"wind at the flame is {rule.number:g} of that at {measures.amount(20, 'ft', 'g')} "
            f"({rule.low:g} to {rule.high:g}, an assumption for closed leafless oak)"
        )
    if file.stand.slope_pct is None or file.stand.aspect_deg is None:
        notes.append("slope or aspect is not noted: the ground is taken as level, facing north")
    if weather is not None:
        notes.extend(f"{weather.file}: {note}" for note in weather.notes)
    return tuple(notes)


def _of_days(blocks: Sequence[BurnDays], rules: Rules) -> list[str]:
    """Days whose evening broke the limits, and what of the weather the file does not say."""
    notes = []
    for block in blocks:
        broken = [day for season in block.seasons for day in season.broken]
        if broken:
            whys = " or ".join(sorted({why for day in broken for why in day.after.breaks}))
            within = rules.number("burn_watch_h")
            notes.append(
                f"{block.fuel}: {len(broken)} more days had hours enough inside the prescription, but {whys} passed "
                f"the limit within {within:g} hours "
                "after; they are not counted"
            )
    whole: set[dt.date] = set()
    unknown: dict[str, set[dt.date]] = defaultdict(set)
    for day in (day for block in blocks for season in block.seasons for day in (*season.days, *season.broken)):
        whole.add(day.day)
        for what in day.after.unknown:
            unknown[what].add(day.day)
    lacks = [
        what if days == whole else f"{what} (after {len(days)} of {len(whole)} days)"
        for what, days in sorted(unknown.items())
    ]
    if any(not block.rain_known for block in blocks):
        lacks.append("days since rain")
    if lacks:
        notes.append(f"not in this file, so not judged: {', '.join(lacks)}; ask the forecast")
    return notes


def cautions() -> tuple[str, ...]:
    """What every screen and paper on burning says."""
    return tuple(caution(name) for name in CAUTIONS)


def write_hours(burn: Burn, target: Path, made_on: dt.date) -> int:
    """The hours inside the card as iCalendar, for the first fuel model, and how many days."""
    from overwood.memory.exchange import calendar

    events = [
        calendar.Event(
            f"{burn.stand}: hours inside the burn prescription ({block.fuel})",
            day.day,
            day.day,
            "\n".join(
                [
                    f"afterwards: {day.after.words}",
                    f"head flame {measures.span(day.head_flame_ft[0], day.head_flame_ft[1], 'ft', '.1f')}, "
                    f"scorch to {measures.amount(day.head_scorch_ft[1], 'ft')}, "
                    f"{measures.amount(day.temp_f, 'F')}, humidity {day.rh_pct:.0f}%",
                    burn.law.words,
                    *cautions(),
                ]
            ),
            (day.first_hour, day.last_hour),
        )
        for block in burn.days[:1]
        for season in block.seasons
        for day in season.days
    ]
    target.write_bytes(calendar.calendar(events, made_on))
    return len(events)


def injection(
    name: str, ask: Question, *, inches_per_cut: float | None = None, product: Product | None = None
) -> tuple[Order, StandFile]:
    """The injection order of a stand, with a product the gallons to buy of it. Raises NotFound when the stand was never
    cruised or has no midstory to treat."""
    file = stand_file(name).as_of(ask.on)
    return injecting.order(file, ask.rules, ask.on, inches_per_cut=inches_per_cut, product=product), file


def injection_answer(
    name: str, ask: Question, *, inches_per_cut: float | None = None, product: Product | None = None
) -> NamedAnswer[Order]:
    """The injection order as it lies in the book; raises as :func:`injection`."""
    settings = {"inches_per_cut": inches_per_cut, "product": product}
    stand = stand_file(name).stand.stand
    return kept.lay(stand, "injection", ask, settings, lambda: injection(name, ask, **settings)[0])  # type: ignore[arg-type]


def injection_warnings(name: str, ask: Question) -> tuple[str, ...]:
    """What an injection order of a stand must say first: that the advice is another step."""
    return () if advice(name, ask).step == "inject" else (sentence("not_next_injection"),)


def burn_warnings(name: str, ask: Question) -> tuple[str, ...]:
    """What a burn plan of a stand must say first: no step of the advice is a burn, so it is asked which comes first."""
    advised = advice(name, ask)
    when = f", {advised.window}" if advised.window else ""
    return (
        f"By its records the next step of this stand is another one: {advised.title}{when}. Ask the forester which "
        "comes first.",
    )


def tested_products() -> tuple[str, ...]:
    """Active ingredients whose solution was tested in print."""
    return tuple(injecting.science.tested())


def product_on_table(name: str) -> Product | None:
    """The product that who asks named for the injection of a stand."""
    draft = work.draft("product", name)
    return Product(**draft.content) if draft and draft.content else None


def lay_product_down(name: str, product: Product | None) -> None:
    """Keep the product named for the injection of a stand, for its page and its papers; None takes it away."""
    work.keep_draft("product", name, "", asdict(product) if product else {}, None)


def injection_check(name: str, ask: Question) -> Checked:
    """Whether the injection of a stand worked. Raises NotFound when there is no check."""
    return injecting.check(stand_file(name).as_of(ask.on), ask.rules)


def injection_cautions() -> tuple[str, ...]:
    """What every screen and paper on injection says."""
    return tuple(caution(name) for name in INJECTION_CAUTIONS)
