"""Futures of many stands by kinds: a few stands stand for all that are like them, and each stand reads its kind's.

How far that is off is measured in every run: some stands are given their own futures too, and both are told.
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from overwood.desk import part_advice, part_forecasts
from overwood.desk.part_tasks import ALONE, BY_COLUMNS, DIGITS, Ask, Hands, laid, mark_of, question_of, worked
from overwood.desk.question import Question
from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.evidence import all_figures
from overwood.judgement.futures import courses
from overwood.judgement.futures.run import run
from overwood.judgement.gates import UNKNOWN, UNSURE, YES
from overwood.judgement.plan.kinds import FIGURES, MOST_KINDS, kinds_by
from overwood.judgement.rules import Rules
from overwood.memory.exchange import parts

LOOK = "futures"
KINDS, STANDS = "kinds.csv", f"stand_kinds{parts.ENDING}"
FEWEST_KINDS = 4
# Draws of the assumptions, as `overwood futures` takes them.
_SETS = 100
# What must be the same in a kind: it is never mixed, however near the figures are.
_SAME = ("opened", "shaded")
_SCHEMA: dict[str, Any] = {
    "stand": pl.String, "course": pl.String, "is_best": pl.Boolean, "oak_stand_chance": pl.Float64,
    "seed_error": pl.Float64, "oak_part_chance": pl.Float64, "dominant_oaks_ac": pl.Float64,
    "dominant_oaks_low_ac": pl.Float64, "dominant_oaks_high_ac": pl.Float64, "not_run": pl.String,
}  # fmt: skip


@dataclass(frozen=True)
class KindsAsked:
    """Of how many kinds of stand futures are run, how many futures, from which seed, and by how many stands the error
    is measured."""

    kinds: int = MOST_KINDS
    futures: int = 300
    seed: int = 1
    checked: int = 20


@dataclass(frozen=True)
class Task:
    """The futures of some stands of a part, as one table."""

    part: Path
    target: Path
    ask: Ask
    mark: str
    stands: tuple[str, ...]
    asked: KindsAsked


@dataclass(frozen=True)
class KindsError:
    """How far the chance of an oak stand by the kind lies from that by a stand's own futures, over stands and courses,
    as shares; ``seed`` is the greatest that the seed alone would make of it."""

    stands: int
    mean: float
    nine_of_ten: float
    best_course_same: float
    seed: float


@dataclass(frozen=True)
class KindsStanding:
    """What a run left: where it lies, how many kinds, stands with a kind and without, and how far off it is."""

    folder: str
    stands: int
    without: int
    kinds: int
    mean_distance: float
    greatest_distance: float
    error: KindsError | None
    parts_now: int
    refused: tuple[str, ...]


def futures_by_kind(
    folder: Path,
    ask: Ask,
    hands: Hands = ALONE,
    asked: KindsAsked = KindsAsked(),
    progress: Callable[[int, int], object] | None = None,
) -> KindsStanding:
    """Look at every stand by columns, sort the stands into kinds, run the futures of one stand of each and lay both
    tables in a folder ``futures-DAY`` with the mark of the rules.

    Raises Misuse for fewer than four or more than 500 kinds; NotFound, BadRecords, OverwoodError as
    ``part_advice.run``.
    """
    if not FEWEST_KINDS <= asked.kinds <= MOST_KINDS:
        raise Misuse(f"{asked.kinds} kinds are not {FEWEST_KINDS} to {MOST_KINDS}.", remedy="Give as many.")
    screened = part_advice.run(folder, replace(ask, look=BY_COLUMNS), hands, progress)
    ask, mark = replace(ask, look=LOOK), mark_of(replace(ask, look=LOOK))
    target = folder / f"{LOOK}-{ask.on.isoformat()}-{mark}"
    target.mkdir(exist_ok=True)
    table = pl.read_parquet(f"{screened.folder}/*{parts.ENDING}").sort("stand")
    able = _with_start(table.filter(_has_futures()), question_of(ask).rules)
    place, distance = _kinds(able, asked.kinds)
    medoids = np.unique(place)
    checked = _checked(place, asked.checked)
    own = able[sorted((*medoids.tolist(), *checked))].group_by("part", maintain_order=True).agg("stand")
    tasks = [
        _task(folder / part_advice.PARTS / part, target, (ask, mark, asked), stands) for part, stands in own.rows()
    ]
    for old in set(target.glob(f"*.part{parts.ENDING}")) - {task.target for task in tasks}:
        old.unlink()
    lacking = [task for task in tasks if not task.target.is_file()]
    refused = sorted(fault for fault in worked(lacking, run_part, hands) if fault)
    ran = pl.concat(
        [pl.read_parquet(task.target) for task in tasks if task.target.is_file()] or [pl.DataFrame(schema=_SCHEMA)]
    )
    stands = able.select("stand", "property", "part", "area_ac").with_columns(
        pl.Series("kind", able["stand"].gather(place)), pl.Series("distance", distance)
    )
    best = ran.filter("is_best").select(pl.col("stand").alias("kind"), "course", "oak_stand_chance")
    stands = stands.join(best, on="kind", how="left", maintain_order="left")
    stands.write_parquet(target / STANDS)
    _write_kinds(target / KINDS, able, stands, ran)
    return KindsStanding(
        folder=str(target), stands=able.height, without=table.height - able.height, kinds=len(medoids),
        mean_distance=float(distance.mean()) if len(distance) else 0.0,
        greatest_distance=float(distance.max()) if len(distance) else 0.0,
        error=_error(ran, [(able["stand"][one], able["stand"][int(place[one])]) for one in checked]),
        parts_now=len(lacking) - len(refused), refused=(*screened.refused, *refused),
    )  # fmt: skip


def _has_futures() -> Any:
    """Stands that have an overwood and a count, which futures begin at."""
    is_judged, counted = pl.col("not_judged") == "", pl.col("free_oaks_ac").is_not_null()
    return is_judged & counted & (pl.col("overwood_ba_ft2_ac") > 0) & (pl.col("stage") != "released")


def _with_start(able: Any, rules: Rules) -> Any:
    """The stands with what their futures start by: whether the canopy is opened, and whether a midstory shades the
    floor, by its gate, or by the tally alone where that is too old for it (``start.start_of``)."""
    answer = pl.col("gate_midstory_shades")
    by_tally = (pl.col("stage") != "midstory treated") & (
        pl.col("midstory_stems_ac").fill_null(0) > rules.number("midstory_stems_ac")
    )
    return able.with_columns(
        (pl.col("stage") == "opened").alias("opened"),
        (answer.is_in([YES, UNSURE]) | (answer.is_in(UNKNOWN) & by_tally)).alias("shaded"),
    )


def _kinds(able: Any, most: int) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The place of the stand that stands for each, and its distance."""
    if able.height <= most:
        return np.arange(able.height), np.zeros(able.height)
    same = able.select(2 * pl.col(_SAME[0]).cast(int) + pl.col(_SAME[1]).cast(int)).to_series().to_numpy()
    figures = able.select(pl.col(*(name for name in FIGURES if name in able.columns)).fill_null(np.nan)).to_numpy()
    return kinds_by(same, figures, most)


def _checked(place: NDArray[np.int64], count: int) -> list[int]:
    """Stands that are not their own kind, evenly among all, whose own futures are run too."""
    others = np.flatnonzero(place != np.arange(len(place)))
    if not len(others):
        return []
    return [int(one) for one in others[np.unique(np.linspace(0, len(others) - 1, count).astype(np.int64))]]


def _task(part: Path, target: Path, asked: tuple[Ask, str, KindsAsked], stands: list[str]) -> Task:
    """The futures of some stands of a part, named by all that they hang on."""
    ask, mark, how = asked
    rests_on = f"{parts.digest(part, part_forecasts.FILE)} {stands} {how.futures} {how.seed}"
    name = f"{part.name}-{hashlib.sha256(rests_on.encode()).hexdigest()[:DIGITS]}.part{parts.ENDING}"
    return Task(part, target / name, ask, mark, tuple(stands), how)


def run_part(task: Task) -> str:
    """Run the futures of some stands of a part and lay the table in its place whole; returns why the part was refused,
    or ""."""
    return laid(task, lambda ask: pl.DataFrame(_rows(task, ask), schema=_SCHEMA, orient="row"))


def _rows(task: Task, ask: Question) -> list[tuple[Any, ...]]:
    files = parts.files_of(parts.frames(task.part, ask.on), task.stands)
    listed = courses.load()
    rows: list[tuple[Any, ...]] = []
    for name in task.stands:
        known = files[name].as_of(ask.on)
        try:
            found = run(
                known, all_figures(known, ask.rules, ask.on), ask.rules, listed, futures=task.asked.futures,
                sets=_SETS, seed=task.asked.seed,
            )  # fmt: skip
        except NotFound as fault:
            rows.append((name, *(None,) * (len(_SCHEMA) - 2), str(fault)))
            continue
        for one in found.outcomes:
            low, middle, high = one.dominant_oaks_ac
            is_best = one.course.name == found.best.course.name
            chances = (one.oak_stand_chance, one.oak_stand_error, one.oak_part_chance)
            rows.append((name, one.course.name, is_best, *chances, middle, low, high, ""))
    return rows


def _write_kinds(target: Path, able: Any, stands: Any, ran: Any) -> None:
    """A row for each kind and course: the stand that stands for it, how many and how many acres it stands for, its
    figures."""
    sums = stands.group_by("kind").agg(
        pl.len().alias("stands"), pl.col("area_ac").sum().round(2).alias("acres"),
        pl.col("distance").mean().round(3).alias("mean_distance"),
    )  # fmt: skip
    figures = able.select(pl.col("stand").alias("kind"), *_SAME, *(name for name in FIGURES if name in able.columns))
    rows = (
        sums.join(figures, on="kind").join(ran.rename({"stand": "kind"}), on="kind").sort("kind", maintain_order=True)
    )
    with target.open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(rows.columns)
        writer.writerows(rows.iter_rows())


def _error(ran: Any, checked: list[tuple[str, str]]) -> KindsError | None:
    """Chances by the kind beside those by own futures, of stands that had both."""
    chances: dict[str, dict[str, float]] = {}
    best: Mapping[str, str] = dict(ran.filter("is_best").select("stand", "course").iter_rows())
    for stand, course, chance in ran.select("stand", "course", "oak_stand_chance").drop_nulls().iter_rows():
        chances.setdefault(stand, {})[course] = chance
    pairs = [(own, kind) for own, kind in checked if own in best and kind in best]
    gaps = [
        abs(chance - chances[kind][course])
        for own, kind in pairs
        for course, chance in chances[own].items()
        if course in chances[kind]
    ]
    if not gaps:
        return None
    return KindsError(
        stands=len(pairs), mean=float(np.mean(gaps)), nine_of_ten=float(np.quantile(gaps, 0.9)),
        best_course_same=float(np.mean([best[own] == best[kind] for own, kind in pairs])),
        seed=float(ran["seed_error"].max() or 0.0),
    )  # fmt: skip
