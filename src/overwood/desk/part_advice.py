"""The advice on many stands, part by part and without a book: each part a task, its results named by what they rest on.

A run that was stopped goes on where it was: results lie whole or not at all, and only what lacks is worked out.
"""

from __future__ import annotations

import gc
import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import polars as pl

from overwood.desk import book, judging, kept, part_counties, part_forecasts
from overwood.desk.part_tasks import (
    ALONE,
    BY_COLUMNS,
    DIGITS,
    FULL,
    WHERE_WANTED,
    Ask,
    Hands,
    Task,
    laid,
    mark_of,
    question_of,
    read_anew,
    worked,
)
from overwood.desk.question import Question
from overwood.ground.errors import BadRecords, NotFound, OverwoodError
from overwood.ground.records import TABLES, Stand, StandFile
from overwood.judgement import course
from overwood.judgement.course import Decision
from overwood.judgement.course.firmness import of_ten
from overwood.judgement.course.stage import stage
from overwood.judgement.gates import GATES
from overwood.memory.exchange import parts

Frames = Mapping[str, Any]
Forecasts = Mapping[str, Sequence[kept.Forecast]]
Telling = Callable[[Decision], dict[str, Any]]
PARTS, COUNTS = part_counties.PARTS, "steps.csv"
# Stands whose draws are worked out at once: enough to share the calls, few enough for the fast memory.
_STANDS_AT_ONCE = 50
_GATE_COLUMNS = tuple(f"gate_{name.replace(' ', '_')}" for name in GATES)
COLUMNS = (
    *(
        "stand",
        "name",
        "property",
        "part",
        "area_ac",
        "on",
        "what_it_is",
        "stage",
        "step",
        "work",
        "next_step",
        "window",
        "why",
        "how_firm",
    ),
    *("missing", *_GATE_COLUMNS, "rulebook_version", "not_judged"),
)


@dataclass(frozen=True)
class StepCount:
    """Stands and acres whose next step is the same; ``without_area`` are stands that are in no acres, for none are
    noted."""

    step: str
    stands: int
    area_ac: float
    without_area: int


@dataclass(frozen=True)
class PartsStanding:
    """What a run left: where the results lie, what was worked out now and what lay there, and what could not be
    judged."""

    folder: str
    stands: int
    parts: int
    parts_now: int
    steps: tuple[StepCount, ...]
    unjudged: tuple[judging.Unjudged, ...]
    refused: tuple[str, ...]
    counties: tuple[part_counties.CountyStep, ...] = ()


def from_book(folder: Path, stands_a_part: int) -> int:
    """Write the open book as parts; returns how many. Raises OverwoodError when parts are there already, or records of
    the book are in conflict: parts cannot say which of two stands."""
    part_counties.refuse_parts(folder)
    waiting = book.view.disputes()
    if waiting:
        raise OverwoodError(
            f"{len(waiting)} records of the book are in conflict.", remedy="Settle them: `overwood conflicts`."
        )
    tables = {
        name: [row[1:] for row in sorted(book.store.raw_rows(name), key=lambda row: str(row[0]))] for name in TABLES
    }
    count = parts.write(folder / PARTS, tables, stands_a_part)
    for part in parts.parts_of(folder / PARTS):
        part_forecasts.write(part)
    return count


def run(
    folder: Path, ask: Ask, hands: Hands = ALONE, progress: Callable[[int, int], object] | None = None
) -> PartsStanding:
    """Judge every stand of a folder's parts and write the results beside them.

    Parameters
    ----------
    folder : Path
        Holds ``parts``; results come to ``LOOK-DAY`` with the mark of the rules in its name.
    ask : Ask
        Day, overlay, region, and how each stand is looked at (one of :data:`LOOKS`).
    hands : Hands
        Who works; one worker without a cluster is this process. The results are the same, byte for byte.
    progress : callable, optional
        Told how many parts are done, and of how many.

    Raises
    ------
    NotFound
        when the folder holds no part.
    BadRecords
        when a stand or a property lies in two parts.
    OverwoodError
        when a worker was ended from outside; what is done lies there, and the same command goes on.
    """
    folders = parts.parts_of(folder / PARTS)
    if not folders:
        raise NotFound(
            f"{folder} holds no parts.", remedy=f"Put parquet tables in {folder / PARTS}/NAME, or use --from-book."
        )
    _refuse_shared(folders)
    read_anew()
    mark = mark_of(ask)
    target = folder / f"{ask.look}-{ask.on.isoformat()}-{mark}"
    target.mkdir(exist_ok=True)
    tasks = [
        Task(part, target / f"{part.name}-{parts.digest(part, part_forecasts.FILE)[:DIGITS]}{parts.ENDING}", ask, mark)
        for part in folders
    ]
    wanted = {task.target for task in tasks}
    for old in set(target.glob(f"*{parts.ENDING}")) - wanted:
        old.unlink()
    lacking = [task for task in tasks if not task.target.is_file()]
    refused = []
    for done, fault in enumerate(worked(lacking, judge_part, hands), start=1):
        refused += [fault] if fault else []
        if progress:
            progress(done, len(lacking))
    whole = _laid(tasks)
    standing = _standing(target, tasks, whole, len(lacking) - len(refused), tuple(sorted(refused)))
    # Where only the wanted are looked at, no county is whole.
    if ask.look != WHERE_WANTED:
        counties = part_counties.counted(folder, whole, question_of(ask).rules.number("interval_level"))
        part_counties.write(counties, target / part_counties.COUNTS)
        standing = replace(standing, counties=counties)
    return standing


def _refuse_shared(paths: Iterable[Path]) -> None:
    """A stand in two parts would be counted twice, and a property in two would not know all its acorn checks."""
    owners = pl.concat([parts.owners(part).with_columns(pl.lit(part.name).alias("part")) for part in paths])
    for what in ("stand", "property"):
        places = owners.group_by(what, maintain_order=True).agg(pl.col("part").unique(maintain_order=True))
        for name, in_parts in places.filter(pl.col("part").list.len() > 1).head(1).iter_rows():
            raise BadRecords(
                f"{what} {name!r} lies in {in_parts[0]} and in {in_parts[1]}.",
                remedy="Bring all records of a property into one part.",
            )


def judge_part(task: Task) -> str:
    """Judge the stands of a part and lay the result in its place whole; returns why the part was refused, or ""."""
    return laid(
        task, lambda ask: _looked_at(task, ask, parts.frames(task.part, ask.on), part_forecasts.read(task.part))
    )


def _looked_at(task: Task, ask: Question, frames: Frames, forecasts: Forecasts) -> Any:
    """The results of a part as a table with a row for each stand that is looked at so."""
    from overwood.desk import part_screen

    only: Collection[str] | None = None
    if task.ask.look != FULL:
        screen = part_screen.screened(frames, ask, set(forecasts))
        if task.ask.look == BY_COLUMNS:
            return part_screen.table(
                screen, task.part.name, ask, _rows(task, ask, frames, forecasts, screen.not_plain, part_screen.row_of)
            )
        only = screen.wanted
    rows = _rows(task, ask, frames, forecasts, only, _told)
    schema = {name: pl.Float64 if name == "area_ac" else pl.Date if name == "on" else pl.String for name in COLUMNS}
    return pl.DataFrame([tuple(row.get(column) for column in COLUMNS) for row in rows], schema=schema, orient="row")


def _rows(
    task: Task, ask: Question, frames: Frames, forecasts: Forecasts, only: Collection[str] | None, telling: Telling
) -> list[dict[str, Any]]:
    """What the full advice says of the stands of a part, or of some."""
    files = list(({} if only is not None and not only else parts.files_of(frames, only)).items())
    outlooks = {name: kept.heard(answers, ask)["outlook"] for name, answers in forecasts.items()}
    rows: list[dict[str, Any]] = []
    # The records are not searched; what was worked out of them is let go with the stands it was worked out of.
    gc.freeze()
    while files:
        rows += _told_of(dict(files[:_STANDS_AT_ONCE]), task.part.name, ask, outlooks, telling)
        del files[:_STANDS_AT_ONCE]
        gc.collect()
    return rows


def _told_of(
    files: Mapping[str, StandFile], part: str, ask: Question, outlooks: Mapping[str, Any], telling: Telling
) -> list[dict[str, Any]]:
    """What is told of some stands, or why one could not be judged; how firm their steps are is drawn for all at
    once."""
    chosen = {
        name: judging.tried(name, partial(course.chosen, file, ask.rules, ask.on, outlooks.get(name)))
        for name, file in files.items()
    }
    judged = {name: one for name, one in chosen.items() if not isinstance(one, judging.Unjudged)}
    decided = judging.tried(part, lambda: course.decided(list(judged.values())))
    decisions: dict[str, Decision | judging.Unjudged]
    if isinstance(decided, judging.Unjudged):
        # One of them is at fault: each for itself, so that it keeps no other from being judged.
        alone = {name: judging.tried(name, partial(course.decided, [one])) for name, one in judged.items()}
        decisions = {name: one if isinstance(one, judging.Unjudged) else one[0] for name, one in alone.items()}
    else:
        decisions = dict(zip(judged, decided, strict=True))
    told: dict[str, Any] = dict(chosen)
    for name, one in decisions.items():
        told[name] = one if isinstance(one, judging.Unjudged) else judging.tried(name, partial(telling, one))
    return [
        _not_judged(files[name].stand, part, ask, one)
        if isinstance(one, judging.Unjudged)
        else one | {"property": files[name].stand.property, "part": part, "not_judged": ""}
        for name, one in told.items()
    ]


def _not_judged(stand: Stand, part: str, ask: Question, why: judging.Unjudged) -> dict[str, Any]:
    known = {"stand": stand.stand, "name": stand.name or stand.stand, "property": stand.property, "part": part}
    return {
        **known,
        "area_ac": stand.area_ac,
        "on": ask.on,
        "rulebook_version": ask.rules.version,
        "not_judged": why.reason,
    }


def _told(decided: Decision) -> dict[str, Any]:
    case, choice, second = decided.case, decided.choice, decided.second_window
    stand, window = case.file.stand, str(decided.window) if decided.window else ""
    return {
        "stand": stand.stand,
        "name": decided.name,
        "area_ac": stand.area_ac,
        "on": case.on,
        "what_it_is": decided.what_it_is,
        "stage": stage(case.file),
        "step": choice.step,
        "work": decided.work,
        "next_step": decided.heading.words,
        "window": f"{window}, or {second}" if second else window,
        "why": choice.short.words,
        "how_firm": of_ten(decided.drawn.stays),
        "missing": ", ".join(decided.missing),
        "rulebook_version": case.rules.version,
        **{f"gate_{name.replace(' ', '_')}": gate.answer for name, gate in case.gates.items()},
    }


def _laid(tasks: list[Task]) -> Any:
    """What lies there of every part: whose stand, its acres, its step, and why it was not judged."""
    columns = ("stand", "property", "area_ac", "step", "not_judged")
    laid = [pl.read_parquet(task.target, columns=columns) for task in tasks if task.target.is_file()]
    whole = pl.concat(laid) if laid else pl.DataFrame(schema=dict.fromkeys(columns, pl.String))
    is_none = pl.col("step").fill_null("") == ""
    return whole.with_columns(pl.when(is_none).then(pl.lit(part_counties.NOT_JUDGED)).otherwise("step").alias("step"))


def _standing(target: Path, tasks: list[Task], whole: Any, parts_now: int, refused: tuple[str, ...]) -> PartsStanding:
    """The results summed by step, and written as csv."""
    import csv

    faults = whole.filter(pl.col("not_judged") != "").select("stand", "not_judged")
    unjudged = [judging.Unjudged(stand, fault) for stand, fault in faults.iter_rows()]
    # Sums that do not hang on their order.
    steps = tuple(
        StepCount(step, len(areas), round(math.fsum(area for area in areas if area is not None), 2), areas.count(None))
        for step, areas in whole.group_by("step").agg("area_ac").sort("step").iter_rows()
    )
    with (target / COUNTS).open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(("step", "stands", "area_ac", "without_area"))
        writer.writerows((one.step, one.stands, one.area_ac, one.without_area) for one in steps)
    return PartsStanding(
        str(target), sum(one.stands for one in steps), len(tasks), parts_now, steps, tuple(unjudged), refused
    )
