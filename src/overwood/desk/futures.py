"""Futures as a person asks for them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from overwood.desk.answers import Question, stand_file
from overwood.ground.records import StandFile
from overwood.judgement import evidence as judged
from overwood.judgement.futures import courses as listed
from overwood.judgement.futures.run import Futures, run


def futures(
    name: str,
    ask: Question,
    *,
    count: int,
    sets: int,
    seed: int,
    courses: Path | None = None,
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
        file, judged.all_figures(file, ask.rules, ask.on), ask.rules, chosen, futures=count, sets=sets, seed=seed, progress=progress
    )
    return found, file
