"""Compiles futures, light, marking and fuel moisture once, so that no user waits for a compiler: `python -m
overwood.desk.warm`, which the first import, demo or server of an installation begins by itself."""

from __future__ import annotations

import datetime as dt
import functools
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from overwood.ground.records import Stand, StandFile, Stem, StemMap, Visit

_SIDE_FT, _TREES = 120.0, 12


def parts() -> Iterator[tuple[str, Callable[[], object]]]:
    """What is compiled, and the work that makes the compiler see it."""
    # The dearest first: what is compiled already serves whoever asks before the rest is.
    yield "futures of young stands", _futures
    yield "light below crowns and the search for leave trees", _marking
    yield "moisture of litter hour by hour", _moisture


def _marking() -> None:
    from overwood.judgement import stem_map
    from overwood.judgement.marking import search as marking
    from overwood.judgement.marking.wants import default_wants
    from overwood.judgement.rules import load

    places = [(10.0 + 37 * n % 110, 10.0 + 53 * n % 110) for n in range(_TREES)]
    stems = tuple(
        Stem(
            visit="m",
            stem=str(n),
            species=(802, 833)[n % 2],
            dbh_in=16.0,
            east_ft=x,
            north_ft=y,
            crown_class="codominant",
        )
        for n, (x, y) in enumerate(places)
    )
    file = StandFile(
        stand=Stand(stand="W", property="P"),
        visits=(Visit(visit="m", stand="W", kind="stem map", visited_on=dt.date.min),),
        stem_maps=(StemMap(visit="m", width_ft=_SIDE_FT, height_ft=_SIDE_FT, edge="torus"),),
        stems=stems,
    )
    rules = load()
    marking.search(stem_map.block_of(file, rules), default_wants(rules), rules, marking.Effort(1, 1))


def _moisture() -> None:
    from overwood.science.fire import moisture

    hours = np.full(3, 50.0)
    moisture.litter_pct(hours, hours, np.full(3, 5.0), np.zeros(3), start_pct=20.0)
    moisture.lagged_pct(hours, 15.0, 10.0)


def _futures() -> None:
    from overwood.judgement.futures import courses, draws, setting, start
    from overwood.judgement.rules import load
    from overwood.science import regeneration as science

    shape, rules = (2, science.SLOTS), load()
    oaks = science.rows(np.array([[0.0, 50.0, 5.0, 0.0], [1.0, 40.0, 5.0, 0.0]]), science.OAK)
    counted = science.counted_of(np.ones(shape), np.ones(shape), np.ones(shape), np.zeros(shape), np.ones((2, 2)))
    values = (1 / 735, 20.0, 1.0, 1.0, 70.0, -1.0, 110.0, -1.0, 0.2)
    begun = start.Start("w", counted, 2, 1, (802, 833), oaks, dict(zip(science.STAND, values, strict=True)), 1.0, ())
    drawn, seeds = np.zeros((1, 60), dtype=np.int64), np.zeros(1, dtype=np.int64)
    setting.Setting(begun, rules, courses.load()).simulate(draws.means(rules), drawn, seeds)
    untouched = np.zeros((1, len(science.HISTORY)))
    records = science.rows(draws.means(rules), science.PARAMETERS)
    science.many_pools(counted, drawn, oaks, untouched, records, begun.row, start.gate_row(rules), seeds)


def warm(say: Callable[[str], object] = print) -> None:
    """Compile what is not compiled yet, saying what goes on."""
    for title, work in parts():
        say(f"Compiling once: {title} ...")
        work()


def compiled() -> bool:
    """Whether the futures, by far the most of it, were compiled on this machine from these sources."""
    from overwood.science import compiling

    return any(Path(compiling.folder("regeneration")).rglob("*.every_future-*.nbc"))


@functools.cache
def ahead() -> subprocess.Popen[bytes] | None:
    """Compile in a process of its own where that was never done, behind whatever else goes on; it outlives this one,
    which begins no second."""
    if compiled():
        return None
    command, quiet = [sys.executable, "-P", "-m", "overwood.desk.warm"], subprocess.DEVNULL
    return subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True)


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(5)
    warm()
