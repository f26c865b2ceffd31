"""Futures as a person asks for them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from overwood.desk import kept
from overwood.desk.answers import Question, all_files, stand_file
from overwood.ground.figure import Figure
from overwood.ground.records import StandFile
from overwood.judgement import evidence as judged
from overwood.judgement.evidence import reproduction
from overwood.judgement.futures import courses as listed
from overwood.judgement.futures.cash import Money
from overwood.judgement.futures.learning import Past, Watched, past_scored
from overwood.judgement.futures.learning import watch as watch_counts
from overwood.judgement.futures.run import Futures, run
from overwood.judgement.money.choices import square_fence_ft
from overwood.judgement.money.standing_value import StandingValue
from overwood.judgement.monitoring import recounts
from overwood.judgement.net_ground import net_area_ac
from overwood.judgement.prices import PriceList

# Without a count, rounds of so many are run until the seed moves no printed chance by more than a point (one standard
# error).
LEAST, POINT = 3_000, 0.01


def futures(
    name: str,
    ask: Question,
    *,
    count: int | None,
    sets: int,
    seed: int,
    courses: Path | None = None,
    prices: PriceList | None = None,
    age_yr: int | None = None,
    progress: Callable[[int], bool] | None = None,
) -> tuple[Futures, StandFile]:
    """Simulated futures of a stand under every course, to an age of the new stand (20 if left out).

    Without ``count`` as many are run as leave no printed chance more than a point (one standard error) to the seed.

    Raises NotFound when the stand has no count or no overwood; BadRule when a course cannot be used.
    """
    file, rules = stand_file(name).as_of(ask.on), ask.rules
    if age_yr is not None:
        rules = rules.with_value("future_stand_age_yr", age_yr)
    chosen = listed.load(courses)
    outcomes = run(
        file,
        judged.all_figures(file, ask.rules, ask.on),
        rules,
        chosen,
        futures=count or LEAST,
        sets=sets,
        seed=seed,
        progress=progress,
        until=None if count else POINT,
        money=money_of(file, ask, prices),
    )
    return outcomes, file


def compiles_first() -> str:
    """What a person is told who waits for the compiler, which is begun; empty where the simulation was compiled
    before."""
    from overwood.desk import warm

    if warm.compiled():
        return ""
    warm.ahead()
    return "compiling once on this machine, some 20 seconds on two idle cores"


def money_of(file: StandFile, ask: Question, prices: PriceList | None) -> Money | None:
    """Value and costs by the user's price list; None without one or without a cruise."""
    if prices is None or file.latest("cruise") is None:
        return None
    noted_ac = net_area_ac(file)
    area_ac = noted_ac or 1.0
    costs = {name: prices.cost(name, area_ac) for name in ("injection", "burn", "marking", "weeding")}
    if noted_ac:
        costs["fence"] = prices.costs.get("fence_per_ft", 0.0) * square_fence_ft(area_ac) / area_ac
    return Money(
        StandingValue(file, ask.rules, prices),
        costs,
        prices.costs.get("planting_per_tree", 0.0),
        ask.rules.number("real_rate"),
        ask.rules.number("crop_tree_age_yr"),
        fee_share=prices.costs.get("sale_fee_share", 0.0),
        paid_back_usd_ac={
            name: sum(practice.on(area_ac) for practice in prices.cost_shares if practice.work == name)
            for name in costs
        },
    )


def watch(name: str, ask: Question, *, draws: int, ahead: int, seed: int, pool: bool) -> Watched:
    """Counts of a stand against its forecast, and what they teach; with ``pool`` the other stands of the book teach
    too. Raises NotFound when the stand has not been counted twice."""
    file = stand_file(name).as_of(ask.on)
    others = [other.as_of(ask.on) for key, other in all_files().items() if key != name] if pool else []
    return watch_counts(file, others, ask.rules, draws=draws, ahead=ahead, seed=seed)


@dataclass(frozen=True)
class Monitored:
    """Counts of a stand set beside each other, and kept forecasts beside what came."""

    between: tuple[recounts.Between, ...]
    twice: tuple[recounts.Twice, ...]
    fences: tuple[recounts.Fence, ...]
    past: tuple[Past, ...]
    # Oaks an acre by the height [ft] they have at least, count by count.
    counts: tuple[tuple[dt.date, dict[float, Figure]], ...] = ()


def monitored(name: str, ask: Question) -> Monitored:
    """What changed between counts, where two people counted, what a fence does, and how kept forecasts did."""
    file = stand_file(name).as_of(ask.on)
    return Monitored(
        recounts.between_visits(file, ask.rules),
        recounts.counted_twice(file, ask.rules),
        recounts.fences(file, ask.rules),
        past_scored(file, [vars(one) for one in kept.all_of(name, "watch")], ask.rules),
        reproduction.over_time(file, ask.rules),
    )
