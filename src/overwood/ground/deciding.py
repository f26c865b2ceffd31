"""Which visit decides: the newest complete look, not the newest row. And how much ground a stem map covers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from overwood.ground import tables
from overwood.ground.units import FT2_PER_ACRE

if TYPE_CHECKING:
    from overwood.ground.records import StandFile, StemMap, Visit

_TABLE = "ground/tables/looks.csv"


def newest_complete(
    visits: Sequence[Visit], points: Callable[[Visit], float], worked_on: Sequence[dt.date]
) -> tuple[Visit | None, tuple[Visit, ...]]:
    """The visit that decides, and the newer ones that cover too little to replace it; ``visits`` come oldest first."""
    share = tables.constants(_TABLE)["complete_look_share"]
    decides: Visit | None = None
    short: list[Visit] = []
    for visit in visits:
        if decides is None or points(visit) >= share * points(decides) or _changed(decides, visit, worked_on):
            decides, short = visit, []
        else:
            short.append(visit)
    return decides, tuple(short)


def _changed(before: Visit, after: Visit, worked_on: Sequence[dt.date]) -> bool:
    return any(before.visited_on < day <= after.visited_on for day in worked_on)


def map_as_points() -> float:
    """How many points a map of every stem counts as when a later cruise is held against it."""
    return tables.constants(_TABLE)["map_as_points"]


def covers_stand(file: StandFile, block: StemMap) -> bool:
    """Whether a stem map covers so much of its stand that it is a cruise of it; not known, so no, where the acres are not noted."""
    area = file.stand.area_ac
    return area is not None and inside_ac(block) >= tables.constants(_TABLE)["mapped_whole_share"] * area


def inside_ft(block: StemMap) -> tuple[float, float, float, float]:
    """West, east, south and north ends of a mapped block inside its buffer."""
    strip = {
        side: (block.buffer_ft or 0.0) if (getattr(block, f"edge_{side}") or block.edge) == "buffer" else 0.0
        for side in ("north", "east", "south", "west")
    }
    return strip["west"], block.width_ft - strip["east"], strip["south"], block.height_ft - strip["north"]


def inside_ac(block: StemMap) -> float:
    """Acres of a mapped block inside its buffer."""
    west, east, south, north = inside_ft(block)
    return (east - west) * (north - south) / FT2_PER_ACRE


def is_inside(block: StemMap, east_ft: float, north_ft: float) -> bool:
    """Whether a mapped stem stands inside the buffer."""
    west, east, south, north = inside_ft(block)
    return west <= east_ft <= east and south <= north_ft <= north
