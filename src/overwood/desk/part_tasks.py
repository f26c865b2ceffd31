"""The work on the parts of many stands: how they are asked, who works, and by which rules and files.

A part is a task. Each process reads the rules once, and says no to a task that was started by other files.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import functools
import gc
import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import overwood
from overwood.desk import regions
from overwood.desk.question import Question, question
from overwood.ground.errors import BadRecords, Misuse, OverwoodError

# Digits of a digest in a name.
DIGITS = 16
# Kinds of files that can change advice: the program, and its tables and rules.
_SOURCES = (".py", ".toml", ".csv")
# How every stand is looked at: its full advice; its deciding gates by columns alone; full advice where the columns say
# that it is wanted.
FULL, BY_COLUMNS, WHERE_WANTED = "advice", "screen", "wanted"
LOOKS = (FULL, BY_COLUMNS, WHERE_WANTED)


@dataclass(frozen=True)
class Ask:
    """How many stands are asked, in what a worker can be handed: the day, the office's overlay, another oak region's
    folder, the look."""

    on: dt.date
    overlay: Path | None
    region: Path | None
    look: str = FULL


@dataclass(frozen=True)
class Task:
    """One part, where its result comes to lie, and how it is asked."""

    part: Path
    target: Path
    ask: Ask
    # What the results rest on besides the records (:func:`mark_of`); "" is not held against the worker's own.
    mark: str = ""


@dataclass(frozen=True)
class Hands:
    """Who works: so many processes of this machine, or of a Dask cluster started here ("local") or named by its
    scheduler's address."""

    workers: int = 1
    scheduler: str = ""


ALONE = Hands()


def read_anew() -> None:
    """Forget the rules this process read: an overlay may have been mended since."""
    question_of.cache_clear()
    _own_mark.cache_clear()


def mark_of(ask: Ask) -> str:
    """What results rest on besides the records: the program and its tables, the rules in force, the files of a
    region."""
    digest = hashlib.sha256(f"{ask.on} {sorted(question_of(ask).rules.entries.items())!r}".encode())
    for root in (Path(overwood.__file__).parent, *((ask.region,) if ask.region else ())):
        for file in sorted(file for file in root.rglob("*") if file.suffix in _SOURCES):
            digest.update(f"{file.relative_to(root).as_posix()} ".encode() + file.read_bytes())
    return digest.hexdigest()[:DIGITS]


def worked(tasks: Sequence[Any], do: Callable[[Any], str], hands: Hands) -> Iterator[str]:
    """Do the tasks, dataclasses with a ``part`` and a ``target``; of each, why it was refused, or "". They are done in
    any order. Raises Misuse when nobody would work; OverwoodError when a worker was ended from outside."""
    if hands.workers < 1:
        raise Misuse(f"{hands.workers} workers cannot work.", remedy="Give 1 or more.")
    if hands.scheduler and tasks:
        from overwood.desk import part_cluster

        # Other machines know no folder of this process.
        whole = [replace(task, part=task.part.resolve(), target=task.target.resolve()) for task in tasks]
        yield from part_cluster.worked(whole, do, hands.scheduler, hands.workers)
        return
    if hands.workers == 1 or len(tasks) < 2:
        yield from map(do, tasks)
        return
    # Each worker has one core to itself: tables that start threads of their own would only wait for each other.
    with ProcessPoolExecutor(
        min(hands.workers, len(tasks)), mp_context=get_context("spawn"), initializer=_one_thread
    ) as pool:
        try:
            for future in as_completed([pool.submit(do, task) for task in tasks]):
                yield future.result()
        except BrokenProcessPool as fault:
            raise OverwoodError(
                "a worker was ended from outside.", remedy="Run the same command again: it goes on."
            ) from fault


def is_mine(task: Any) -> bool:
    """Whether this process works by the files the run was started with; a worker that outlives runs reads them anew
    before it says no."""
    if _own_mark(task.ask) != task.mark:
        read_anew()
    return _own_mark(task.ask) == task.mark


@functools.cache
def _own_mark(ask: Ask) -> str:
    """The mark by the files of this process, read once."""
    return mark_of(ask)


def _one_thread() -> None:
    os.environ.setdefault("POLARS_MAX_THREADS", "1")


@functools.cache
def question_of(ask: Ask) -> Question:
    """The rules, loaded once in each process."""
    if ask.region is not None:
        regions.use(ask.region)
    return question(ask.on, ask.overlay)


def laid(task: Any, work: Callable[[Question], Any]) -> str:
    """Lay the table that a work comes to in the task's place, whole or not at all; returns why it was refused, or
    ""."""
    if task.mark and not is_mine(task):
        return (
            f"{task.part.name}: the program, the tables or the rules of this worker are others than where the "
            "run was started."
        )
    try:
        with unswept():
            result = work(question_of(task.ask))
    except BadRecords as fault:
        return f"{task.part.name}: {fault}"
    half = task.target.with_suffix(f".{os.getpid()}.half")
    result.write_parquet(half)
    half.replace(task.target)
    return ""


@contextlib.contextmanager
def unswept() -> Iterator[None]:
    """Without the search for circles in what lies unused, but where it is called for: a part's records are a million
    objects that hold none, and the search took a quarter of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        gc.unfreeze()
        if was_on:
            gc.enable()
