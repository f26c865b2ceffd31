"""The points of a visit on the ground: where each lies from the south-west corner of the map, and the leg from the one
before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from overwood.ground.errors import NotFound
from overwood.ground.units import FT_PER_M

Ring = list[tuple[float, float]]


@dataclass(frozen=True, kw_only=True)
class Leg:
    """A point, where it lies on the map [ft east, ft north], and how to go there from the point before (from true
    north)."""

    point: str
    latitude_deg: float
    longitude_deg: float
    east_ft: float
    north_ft: float
    bearing_deg: float | None
    distance_ft: float | None


@dataclass(frozen=True, kw_only=True)
class GroundMap:
    """The outline of a stand and its points in feet from the south-west corner, and the points that have no place."""

    rings: list[Ring]
    legs: list[Leg]
    unplaced: list[str]
    wide_ft: float
    tall_ft: float


def ground_map(outline: Sequence[Sequence[Sequence[float]]], points: Sequence[dict[str, Any]]) -> GroundMap:
    """Outline [longitude, latitude] and points (``point``, ``lon``, ``lat``) laid flat about their middle. Raises
    NotFound when neither an outline nor a place of a point is known."""
    placed = [one for one in points if one["lon"] is not None and one["lat"] is not None]
    places = [(float(one["lon"]), float(one["lat"])) for one in placed]
    corners = [[(float(lon), float(lat)) for lon, lat in ring] for ring in outline]
    if not places and not corners:
        raise NotFound(
            "neither the stand nor its points have a place.", remedy="Draw the outline, or lay points on it first."
        )
    flat = _flat([*places, *(corner for ring in corners for corner in ring)])
    on_ground = [flat(ring) for ring in corners]
    spots = flat(places)
    everything = [*spots, *(spot for ring in on_ground for spot in ring)]
    west, south = min(x for x, _ in everything), min(y for _, y in everything)
    legs = _legs(placed, places, [(x - west, y - south) for x, y in spots])
    return GroundMap(
        rings=[[(x - west, y - south) for x, y in ring] for ring in on_ground],
        legs=legs,
        unplaced=[str(one["point"]) for one in points if one["lon"] is None or one["lat"] is None],
        wide_ft=max(x for x, _ in everything) - west,
        tall_ft=max(y for _, y in everything) - south,
    )


def _flat(places: Sequence[tuple[float, float]]) -> Any:
    """Degrees to feet in the azimuthal equidistant projection about the middle of the places (WGS84)."""
    import pyproj

    lon, lat = (sum(axis) / len(places) for axis in zip(*places, strict=True))
    local = pyproj.CRS.from_proj4(f"+proj=aeqd +lat_0={lat} +lon_0={lon} +datum=WGS84 +units=m")
    there = pyproj.Transformer.from_crs(4326, local, always_xy=True)
    return lambda some: [(x * FT_PER_M, y * FT_PER_M) for x, y in (there.transform(*place) for place in some)]


def _legs(
    points: Sequence[dict[str, Any]], places: Sequence[tuple[float, float]], spots: Sequence[tuple[float, float]]
) -> list[Leg]:
    import pyproj

    globe = pyproj.Geod(ellps="WGS84")
    legs, last = [], None
    for one, (lon, lat), (east, north) in zip(points, places, spots, strict=True):
        bearing, _, meters = globe.inv(*last, lon, lat) if last else (None, None, None)
        leg = Leg(
            point=str(one["point"]), latitude_deg=lat, longitude_deg=lon, east_ft=east, north_ft=north,
            bearing_deg=None if bearing is None else bearing % 360,
            distance_ft=None if meters is None else meters * FT_PER_M,
        )  # fmt: skip
        legs.append(leg)
        last = (lon, lat)
    return legs
