"""Which visit decides: the newest complete look, not the newest row. And how much ground a stem map covers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar

from overwood.ground import tables
from overwood.ground.units import FT2_PER_ACRE

_TABLE = "ground/tables/looks.csv"


class Dated(Protocol):
    """A visit, as far as it matters here."""

    @property
    def visited_on(self) -> Any: ...


class Block(Protocol):
    """A mapped block: its sides, its edges, and the strip mapped only to shade."""

    @property
    def width_ft(self) -> float: ...
    @property
    def height_ft(self) -> float: ...
    @property
    def edge(self) -> str: ...
    @property
    def buffer_ft(self) -> float | None: ...


V = TypeVar("V", bound=Dated)


def newest_complete(
    visits: Sequence[V], points: Callable[[V], float], worked_on: Sequence[Any]
) -> tuple[V | None, tuple[V, ...]]:
    """The visit that decides, and the newer ones that cover too little to replace it; ``visits`` come oldest first.

    A visit without a point in its sample saw nothing: it never decides.
    """
    share = tables.constants(_TABLE)["complete_look_share"]
    decides: V | None = None
    short: list[V] = []
    for visit in visits:
        if points(visit) and (
            decides is None or points(visit) >= share * points(decides) or _changed(decides, visit, worked_on)
        ):
            decides, short = visit, []
        else:
            short.append(visit)
    return decides, tuple(short)


def _changed(before: Dated, after: Dated, worked_on: Sequence[Any]) -> bool:
    return any(before.visited_on < day <= after.visited_on for day in worked_on)


def map_as_points() -> float:
    """How many points a map of every stem counts as when a later cruise is held against it."""
    return tables.constants(_TABLE)["map_as_points"]


def covers_stand(area_ac: float | None, block: Block) -> bool:
    """Whether a stem map covers so much of its stand that it is a cruise of it; not known, so no, where the acres are
    not noted."""
    return area_ac is not None and inside_ac(block) >= tables.constants(_TABLE)["mapped_whole_share"] * area_ac


def inside_ft(block: Block) -> tuple[float, float, float, float]:
    """West, east, south and north ends of a mapped block inside its buffer."""
    strip = {
        side: (block.buffer_ft or 0.0) if (getattr(block, f"edge_{side}") or block.edge) == "buffer" else 0.0
        for side in ("north", "east", "south", "west")
    }
    return strip["west"], block.width_ft - strip["east"], strip["south"], block.height_ft - strip["north"]


def inside_ac(block: Block) -> float:
    """Acres of a mapped block inside its buffer."""
    west, east, south, north = inside_ft(block)
    return (east - west) * (north - south) / FT2_PER_ACRE


def is_inside(block: Block, east_ft: float, north_ft: float) -> bool:
    """Whether a mapped stem stands inside the buffer."""
    west, east, south, north = inside_ft(block)
    return west <= east_ft <= east and south <= north_ft <= north
