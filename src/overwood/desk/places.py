"""Whether an outline lies where its property is: an outline on the other side of the earth is a slip, mostly of the
order of its numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from overwood.desk import book
from overwood.ground.errors import Misuse
from overwood.ground.records import Property, Stand

# Farther than this from everything known of its property, an outline is taken for a slip: our own choice.
MOST_MILES = 5.0
_M_PER_MILE = 1609.344
# No tree stands poleward of the polar circles' far side; the circle itself is a bound nobody argues with.
_POLAR_CIRCLE_DEG = 66.56


@dataclass(frozen=True)
class Astray:
    """An outline that lies off: how far from what, and how far it would be with latitude and longitude swapped."""

    where: str
    swapped_fits: bool

    @property
    def what(self) -> str:
        """The fault in words."""
        if self.swapped_fits:
            return f"{self.where}. With latitude and longitude swapped it lies where it should."
        return f"{self.where}."

    @property
    def remedy(self) -> str:
        """What to do about it."""
        if self.swapped_fits:
            return "Give each corner the other way round."
        return "Check the corners, and the property's place under Records."


@dataclass(frozen=True)
class Grounds:
    """What is known of where properties lie: the middle of each outline, by property, with its stand."""

    middles: Mapping[str, tuple[tuple[str, float, float], ...]]

    @classmethod
    def of(cls, known: Iterable[Stand]) -> Grounds:
        """The grounds of some stands, each outline read once."""
        import shapely

        middles: dict[str, list[tuple[str, float, float]]] = {}
        for stand in known:
            shape = shapely.from_wkt(stand.boundary_wkt, on_invalid="ignore") if stand.boundary_wkt else None
            if shape is not None and not shape.is_empty:
                middles.setdefault(stand.property, []).append((stand.stand, shape.centroid.x, shape.centroid.y))
        return cls({owner: tuple(places) for owner, places in middles.items()})

    def astray(self, shape: Any, land: Property | None, but: str = "") -> Astray | None:
        """Whether a shape in degrees lies off its property; None where it does not, or where nothing is known of the
        place.

        ``but`` names a stand whose own outline says nothing of the place, because it is the one that is changed.
        """
        anchors = self._anchors(land, but)
        title = (land.name or land.property) if land else "its property"
        off = _off(shape, anchors, title)
        if not off:
            return None
        turned = swapped(shape)
        return Astray(off, turned is not None and not _off(turned, anchors, title))

    def _anchors(self, land: Property | None, but: str) -> list[tuple[float, float]]:
        """Places known of a property: its own, and the middle of each outline of its stands."""
        if land is None:
            return []
        own = (
            [(land.longitude_deg, land.latitude_deg)]
            if land.longitude_deg is not None and land.latitude_deg is not None
            else []
        )
        return own + [(east, north) for stand, east, north in self.middles.get(land.property, ()) if stand != but]


def astray(shape: Any, land: Property | None, known: Iterable[Stand], but: str = "") -> Astray | None:
    """As :meth:`Grounds.astray`, for one shape."""
    return Grounds.of(known).astray(shape, land, but)


def strays(stands: Iterable[tuple[str, str, str]]) -> dict[str, Astray]:
    """Of stands about to be stored, as (stand, property, outline as well-known text), those whose outline lies off its
    property."""
    import shapely

    grounds, owners = Grounds.of(book.store.records("stands", merged_into="")), lands()
    strays = {}
    for stand, owner, wkt in stands:
        off = grounds.astray(shapely.from_wkt(wkt), owners.get(owner), but=stand)
        if off is not None:
            strays[stand] = off
    return strays


def must_be_near(shape: Any, land: Property | None, known: Iterable[Stand], but: str = "") -> None:
    """Refuse an outline that lies off its property. Raises Misuse with the swapped order offered where it fits."""
    off = astray(shape, land, known, but)
    if off is None:
        return
    raise Misuse(f"{off.what[0].lower()}{off.what[1:]}", remedy=off.remedy)


def swapped(shape: Any) -> Any:
    """The shape with its two numbers the other way round; None where that is nowhere on the earth."""
    import shapely

    west, south, east, north = shape.bounds
    if south < -180 or north > 180 or west < -90 or east > 90:
        return None
    return shapely.transform(shape, lambda x, y: (y, x), interleaved=False)


def _off(shape: Any, anchors: list[tuple[float, float]], title: str) -> str:
    """In words how a shape lies off; empty where it does not."""
    middle = shape.centroid
    if anchors:
        # The nearest on a plane that is true to scale here is the nearest on the earth, as far as a few miles go.
        shrink = math.cos(math.radians(middle.y))
        near = min(anchors, key=lambda one: math.hypot((one[0] - middle.x) * shrink, one[1] - middle.y))
        off = miles(middle.x, middle.y, *near)
        return f"The outline lies {off:,.0f} miles from {title}" if off > MOST_MILES else ""
    if abs(middle.y) > _POLAR_CIRCLE_DEG:
        return f"The outline lies at latitude {middle.y:.1f}, beyond the polar circle"
    return ""


def miles(east: float, north: float, other_east: float, other_north: float) -> float:
    """Miles between two places, each by its degrees of longitude and latitude."""
    import pyproj

    return float(pyproj.Geod(ellps="WGS84").inv(east, north, other_east, other_north)[2]) / _M_PER_MILE


def lands() -> Mapping[str, Property]:
    """Properties of the book by name."""
    rows: list[Property] = book.store.records("properties")
    return {row.property: row for row in rows}
