"""Futures as a person asks for them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from overwood.desk.answers import Question, all_files, stand_file
from overwood.ground.records import StandFile
from overwood.judgement import evidence as judged
from overwood.judgement.evidence import timber
from overwood.judgement.futures import courses as listed
from overwood.judgement.futures.learning import Watched
from overwood.judgement.futures.learning import watch as watch_counts
from overwood.judgement.futures.run import Futures, Money, run
from overwood.judgement.prices import PriceList


def futures(
    name: str,
    ask: Question,
    *,
    count: int,
    sets: int,
    seed: int,
    courses: Path | None = None,
    prices: PriceList | None = None,
    progress: Callable[[int], bool] | None = None,
) -> tuple[Futures, StandFile]:
    """Simulated futures of a stand under every course.

    Raises
    ------
    NotFound
        when the stand has no count or no overwood.
    BadRule
        when a course cannot be used.
    """
    file = stand_file(name).as_of(ask.on)
    chosen = listed.load(courses)
    found = run(
        file,
        judged.all_figures(file, ask.rules, ask.on),
        ask.rules,
        chosen,
        futures=count,
        sets=sets,
        seed=seed,
        progress=progress,
        money=_money(file, ask, prices),
    )
    return found, file


def _money(file: StandFile, ask: Question, prices: PriceList | None) -> Money | None:
    """Value and costs by the user's price list; None without one or without a cruise."""
    found = timber.timber_of(file, ask.rules, prices.log_rule) if prices else None
    if prices is None or found is None:
        return None
    value = float((timber.tree_values(found, prices) * timber.trees_per_ac(found.cruise)).sum())
    costs = {name: prices.costs.get(name, 0.0) for name in ("injection", "burn", "marking")}
    return Money(
        value, costs, prices.costs.get("planting_per_tree", 0.0), ask.rules.number("value_growth_share_yr"), ask.rules.number("real_rate")
    )


def watch(name: str, ask: Question, *, draws: int, ahead: int, seed: int, pool: bool) -> Watched:
    """Counts of a stand against its forecast, and what they teach; with ``pool`` the other stands of the book teach too.

    Raises
    ------
    NotFound
        when the stand has not been counted twice.
    """
    file = stand_file(name).as_of(ask.on)
    others = [other.as_of(ask.on) for key, other in all_files().items() if key != name] if pool else []
    return watch_counts(file, others, ask.rules, draws=draws, ahead=ahead, seed=seed)
