"""Compiles futures, light, marking and fuel moisture once, so that no user waits for a compiler: `python -m
overwood.desk.warm`, which the first import, demo or server of an installation begins by itself, a process for each
part."""

from __future__ import annotations

import datetime as dt
import functools
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from overwood.ground.records import Stand, StandFile, Stem, StemMap, Visit

_SIDE_FT, _TREES = 120.0, 12
# What each part compiles last.
_LAST = {
    "futures": ("regeneration", "every_future"),
    "pieces": ("regeneration", "many_pools"),
    "light": ("light", "_block"),
}
# The spaces of one future, the first of them as its seed.
_FIRST = np.zeros((1, 60), dtype=np.int64)


def parts() -> dict[str, tuple[str, Callable[[], object]]]:
    """What is compiled by name, its title, and the work that makes the compiler see it."""
    return {
        "futures": ("futures of young stands", _futures),
        "pieces": ("pieces of the futures, and the stands counted again", _pieces),
        "light": ("moisture of litter, light below crowns, and the search for leave trees", _light),
    }


def _light() -> None:
    from overwood.judgement import stem_map
    from overwood.judgement.marking import search as marking
    from overwood.judgement.marking.wants import default_wants
    from overwood.judgement.rules import load
    from overwood.science.fire import moisture
    from overwood.science.light.ledger import Ledger
    from overwood.science.light.sky import sky_directions

    hours = np.full(3, 50.0)
    moisture.litter_pct(hours, hours, np.full(3, 5.0), np.zeros(3), start_pct=20.0)
    moisture.lagged_pct(hours, 15.0, 10.0)
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
    block = stem_map.block_of(file, rules)
    # So few trees want no turn by hand.
    Ledger(block.crowns, sky_directions(1, "overcast"), **block.ground(rules)).flip(0)
    marking.search(block, default_wants(rules), rules, marking.Effort(1, 1))


def _begun() -> Any:
    """A stand of two spaces, and the parameters of one future."""
    from overwood.judgement.futures import draws, start
    from overwood.judgement.rules import load
    from overwood.science import regeneration as science

    shape, rules = (2, science.SLOTS), load()
    oaks = science.rows(np.array([[0.0, 50.0, 5.0, 0.0], [1.0, 40.0, 5.0, 0.0]]), science.OAK)
    counted = science.counted_of(np.ones(shape), np.ones(shape), np.ones(shape), np.zeros(shape), np.ones((2, 2)))
    values = (1 / 735, 20.0, 1.0, 1.0, 70.0, -1.0, 110.0, -1.0, 0.2)
    stand = dict(zip(science.STAND, values, strict=True))
    return start.Start("w", counted, 2, 1, (802, 833), oaks, stand, 1.0, ()), draws.means(rules), rules


def _futures() -> None:
    from overwood.judgement.futures import courses, setting

    begun, means, rules = _begun()
    setting.Setting(begun, rules, courses.load()).simulate(means, _FIRST, _FIRST[:, 0])


def _pieces() -> None:
    from overwood.judgement.futures.start import gate_row
    from overwood.science import regeneration as science

    begun, means, rules = _begun()
    records, gate = science.rows(means, science.PARAMETERS), gate_row(rules)
    science.compile_pieces(begun.counted, begun.oaks, records, begun.row, gate)
    untouched = np.zeros((1, len(science.HISTORY)))
    science.many_pools(begun.counted, _FIRST, begun.oaks, untouched, records, begun.row, gate, _FIRST[:, 0])


def warm(say: Callable[[str], object] = print, only: Sequence[str] = ()) -> None:
    """Compile what is not compiled yet, or some parts of it alone, saying what goes on."""
    for name, (title, work) in parts().items():
        if not only or name in only:
            say(f"Compiling once: {title} ...")
            work()


def compiled(part: str = "futures") -> bool:
    """Whether a part was compiled on this machine from these sources."""
    from overwood.science import compiling

    room, function = _LAST[part]
    return any(Path(compiling.folder(room)).rglob(f"*.{function}-*.nbc"))


@functools.cache
def ahead(first: str = "regeneration") -> tuple[subprocess.Popen[bytes], ...]:
    """Compile what never was in processes of their own behind whatever else goes on; those of the room that is wanted
    first begin the rest when they are done. They outlive this one, which begins no second."""
    wanted = [part for part in _LAST if not compiled(part)]
    now = [part for part in wanted if _LAST[part][0] == first] or wanted
    return _begin(now, [part for part in wanted if part not in now])


def _begin(parts: Sequence[str], then: Sequence[str] = ()) -> tuple[subprocess.Popen[bytes], ...]:
    """A process for each part; the first of them begins those that come then."""
    quiet, begun = subprocess.DEVNULL, []
    for place, part in enumerate(parts):
        command = [sys.executable, "-P", "-m", "overwood.desk.warm", part, *(then if place == 0 else ())]
        begun.append(subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True))
    return tuple(begun)


if __name__ == "__main__":
    asked = sys.argv[1:]
    if hasattr(os, "nice"):
        os.nice(10)
        if not asked:
            # At set-up: what the others are at is waited for, not done twice.
            _begin([part for part in _LAST if not compiled(part)])
    warm(only=asked[:1])
    _begin(asked[1:])
