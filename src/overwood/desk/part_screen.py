"""The look at every stand of a part by columns: a table of gates, steps and figures, and the stands whose full advice
is wanted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from overwood.desk import part_columns
from overwood.desk.question import Question
from overwood.judgement import gates
from overwood.judgement.course import Decision, screening, standings
from overwood.judgement.course.branch import STEP_OF
from overwood.judgement.course.stage import STAGES, stage
from overwood.judgement.course.steps import all_steps

# The gates that decide on the next step, and where the standings have their answers.
_GATES = {"cruise fresh": "cruise", "midstory shades": "midstory", "crop good": "crop", "oak enough": "oak"}
FIGURES = (
    *(
        "overwood_ba_ft2_ac",
        "overwood_stocking_pct",
        "oak_share",
        "age_yr",
        "declining_share",
        "midstory_stems_ac",
        "midstory_ba_ft2_ac",
    ),
    *("oak_sprouts_ac", "oak_stems_3ft_ac", "oak_stocked_4_5ft_share", "free_oaks_ac", "crop_bearing_share"),
    # What else tells the kinds of stand apart whose futures are run.
    *("site_index_ft", "oak_stocked_1ft_share", "oak_stocked_3ft_share", "competitor_led_share"),
)
_GATE_COLUMNS = {name: f"gate_{name.replace(' ', '_')}" for name in _GATES}
_TEXTS = ("stand", "name", "property", "part")
COLUMNS = (
    *_TEXTS, "area_ac", "on", "stage", "maturity", "branch", "step", "work", *_GATE_COLUMNS.values(), *FIGURES,
    "advice_wanted", "told_by",
    "rulebook_version", "not_judged",
)  # fmt: skip


@dataclass(frozen=True)
class PartScreen:
    """The stands of a part by name, what the columns say of them, and the stands they cannot tell of."""

    stands: Any
    found: screening.Screen
    not_plain: frozenset[str]
    wanted: tuple[str, ...]


def screened(by_name: Mapping[str, Any], ask: Question, with_forecast: set[str]) -> PartScreen:
    """Look at every stand of the tables of a part; those with a kept forecast are left to their full advice."""
    columns = part_columns.columns_of(by_name, ask.rules, ask.on)
    screen = screening.screen(columns.region, ask.rules)
    names = columns.stands["stand"].to_list()
    not_plain = frozenset((columns.not_plain | with_forecast) & set(names))
    wants = advice_wanted(screen.standings, columns.region.n)
    wanted = tuple(name for name, wants_it in zip(names, wants.tolist(), strict=True) if wants_it or name in not_plain)
    return PartScreen(columns.stands, screen, not_plain, wanted)


def advice_wanted(standing: standings.Standings, n: int) -> Any:
    """Where the full advice is wanted: a gate that decides is unsure, or the step is work in the woods that costs or
    fells."""
    unsure = np.zeros(n, dtype=bool)
    for part in _GATES.values():
        unsure |= np.broadcast_to(getattr(standing, part), n) == standings.UNSURE
    return unsure | np.array([_is_work(STEP_OF[branch]) for branch in standing.branch])


def _is_work(step: str) -> bool:
    return all_steps()[step].fells or all_steps()[step].opens or step == "inject"


def table(screen: PartScreen, part: str, ask: Question, told: Sequence[Mapping[str, Any]]) -> Any:
    """A row for each stand: of the plain ones by columns, of the others as ``told`` by their full advice
    (:func:`row_of`)."""
    n, standing, steps = screen.stands.height, screen.found.standings, all_steps()
    answers, maturities = np.array(gates.ANSWERS), np.array(standings.MATURITIES)
    figures = {name: pl.Series(np.broadcast_to(screen.found.figures[name], n)).fill_nan(None) for name in FIGURES}
    stages = np.array(STAGES)[screen.found.stage]
    columns = screen.stands.select(
        "stand", pl.when(pl.col("name") == "").then(pl.col("stand")).otherwise(pl.col("name")).alias("name"),
        "property",
        pl.lit(part).alias("part"), "area_ac", pl.lit(ask.on).alias("on"), pl.Series("stage", stages),
        pl.Series("maturity", maturities[np.broadcast_to(standing.maturity, n)]), pl.Series("branch",
            standing.branch.tolist(), dtype=pl.String),
        pl.Series("step", [STEP_OF[branch] for branch in standing.branch], dtype=pl.String),
        # Of a cut's doubt, which makes it a look, the columns know nothing.
        pl.Series("work", [steps[STEP_OF[branch]].work for branch in standing.branch], dtype=pl.String),
        *(pl.Series(_GATE_COLUMNS[name], answers[np.broadcast_to(getattr(standing, place), n)]) for name,
            place in _GATES.items()),
        *(series.alias(name) for name, series in figures.items()),
        pl.Series("advice_wanted", advice_wanted(standing, n)),
        pl.lit("columns").alias("told_by"), pl.lit(ask.rules.version).alias("rulebook_version"),
        pl.lit("").alias("not_judged"),
    )  # fmt: skip
    others = pl.DataFrame(
        [tuple(row.get(name) for name in COLUMNS) for row in told], schema=columns.schema, orient="row"
    )
    plain = columns.filter(~pl.col("stand").is_in(list(screen.not_plain)))
    return pl.concat([plain, others]).sort("stand")


def row_of(decided: Decision) -> dict[str, Any]:
    """What the table says of a stand, by its full advice."""
    case, choice, stand = decided.case, decided.choice, decided.case.file.stand
    numbers = {name: case.figures[name].number if case.figures[name].measured else None for name in FIGURES}
    return {
        "stand": stand.stand, "name": decided.name, "area_ac": stand.area_ac, "on": case.on, "stage": stage(case.file),
        "maturity": case.maturity.verdict, "branch": choice.branch, "step": choice.step, "work": decided.work,
        **{column: case.answer(name) for name, column in _GATE_COLUMNS.items()}, **numbers, "advice_wanted": True,
        "told_by": "full advice", "rulebook_version": case.rules.version,
    }  # fmt: skip
