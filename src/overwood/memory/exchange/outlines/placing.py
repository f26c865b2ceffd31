"""Raw shapes to sound polygons in longitude and latitude, with what is not sure about the shift."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pyproj
import shapely
from pyproj.aoi import AreaOfInterest
from pyproj.transformer import TransformerGroup

from overwood.ground.errors import Misuse, Problem
from overwood.memory.exchange.outlines.shapes import DEGREES, MOST_CORNERS, OutlineFile, Raw, Shape, unreadable

# A walked track whose ends lie closer than this share of its length is taken as closed: our own choice.
_OPEN_SHARE = 0.05
# A shape that only mends by a thousandth of its area is mended: our own choice.
_MENDED_SHARE = 0.001
# A datum shift that is no better known than this is said [m]; NAD 83 to WGS 84 is given as 4 m in the EPSG register.
_SURE_SHIFT_M = 5.0


def on_the_earth(name: str, rows: Sequence[Raw], system: str, *, areas: bool = True) -> OutlineFile:
    """Every shape as a polygon in degrees, and what is wrong with those that are none; lines and points as they are
    where not only ``areas`` are wanted."""
    to_degrees, title, notes = _transformation(name, rows, system)
    shapes, problems, corners = [], [], 0
    for number, row in enumerate(rows, start=1):
        try:
            polygon, notes_of_shape = _polygon(row.shape, to_degrees, areas)
        except _NoOutline as fault:
            problems.append(
                Problem(what=fault.what, file=name, row=number, found=_title(row.values), remedy=fault.remedy)
            )
            continue
        corners += _corners(polygon)
        if corners > MOST_CORNERS:
            raise unreadable(
                name,
                f"its outlines have more than {MOST_CORNERS:,} corners",
                f"at most {MOST_CORNERS:,}",
                "Simplify them.",
            )
        shapes.append(Shape(number=number, values=row.values, polygon=polygon, notes=notes_of_shape))
    return OutlineFile(file=name, system=title, shapes=tuple(shapes), problems=tuple(problems), notes=tuple(notes))


def _title(values: Mapping[str, str]) -> str:
    return next(iter(values.values()), "")


def _corners(polygon: Any) -> int:
    return int(shapely.get_num_coordinates(polygon))


class _NoOutline(Exception):
    def __init__(self, what: str, remedy: str = "") -> None:
        super().__init__(what)
        self.what, self.remedy = what, remedy


def _transformation(name: str, rows: Sequence[Raw], system: str) -> tuple[Callable[[Any], Any], str, list[str]]:
    """How the file's coordinates become degrees, the name of its system, and what is not sure about it."""
    there = [row.shape for row in rows if row.shape is not None and not row.shape.is_empty]
    # Without a shape there is no place; each entry is told for itself.
    bounds = shapely.total_bounds(there) if there else (0.0, 0.0, 0.0, 0.0)
    if not system:
        _must_be_degrees(name, bounds)
        return (
            lambda shape: shape,
            "none named",
            ["The file names no coordinate system; it is read as longitude and latitude (WGS 84)."],
        )
    try:
        of_file = pyproj.CRS.from_user_input(system)
    except pyproj.exceptions.CRSError as fault:
        raise Misuse(
            f"{system[:60]!r} is no known coordinate system.", remedy="Give its number, such as --crs EPSG:26917."
        ) from fault
    if of_file.to_epsg(min_confidence=100) == 4326:
        _must_be_degrees(name, bounds)
        return lambda shape: shape, of_file.name, []
    try:
        chosen, notes = _chosen_shift(of_file, bounds)
    except pyproj.exceptions.ProjError as fault:
        words = f"no way is known from {of_file.name[:60]!r} to longitude and latitude."
        raise Misuse(words, remedy="Give the system's number, such as --crs EPSG:26917.") from fault
    return lambda shape: shapely.transform(shape, chosen.transform, interleaved=False), of_file.name, notes


def _must_be_degrees(name: str, bounds: Any) -> None:
    west, south, east, north = bounds
    if not (west >= -180 and east <= 180 and south >= -90 and north <= 90):
        raise Misuse(
            f"{name} has coordinates from {west:.7g}, {south:.7g} to {east:.7g}, {north:.7g}, which are no degrees.",
            remedy="Say its coordinate system, such as --crs EPSG:26917 for UTM zone 17 north (NAD 83).",
        )


def _chosen_shift(of_file: Any, bounds: Any) -> tuple[Any, list[str]]:
    """The best transformation at hand for this place, with a note where it is rough."""
    rough = pyproj.Transformer.from_crs(of_file, DEGREES, always_xy=True)
    place = [float(value) for value in rough.transform_bounds(*bounds)]
    # What lies nowhere on the earth is told shape by shape.
    area = AreaOfInterest(*place) if all(math.isfinite(value) for value in place) else None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        group = TransformerGroup(of_file, DEGREES, always_xy=True, area_of_interest=area)
    chosen = group.transformers[0] if group.transformers else rough
    accuracy_m = chosen.accuracy
    if 0 <= accuracy_m <= _SURE_SHIFT_M:
        return chosen, []
    sure = f"to about {accuracy_m:.0f} m" if accuracy_m > 0 else "with unknown accuracy (tens of meters may be)"
    grid = " The exact shift needs a grid that is not on this machine." if group.unavailable_operations else ""
    return chosen, [f"{of_file.name} is shifted to WGS 84 {sure}.{grid} Areas hold; the place of an edge may not."]


def _polygon(shape: Any, to_degrees: Callable[[Any], Any], areas: bool) -> tuple[Any, tuple[str, ...]]:
    """A sound polygon in degrees with what was mended in it."""
    if shape is None or shape.is_empty:
        raise _NoOutline("The entry has no shape.", "Leave it out, or draw it.")
    flat = shapely.force_2d(shape)
    area, notes = _area_of(flat) if areas else (flat, [])
    polygon = to_degrees(area)
    if not np.isfinite(shapely.get_coordinates(polygon)).all():
        raise _NoOutline(
            "The outline has coordinates that are nowhere on the earth.", "Check the coordinate system of the file."
        )
    if not polygon.is_valid:
        polygon, notes = (
            _mended(polygon),
            [*notes, "Two corners on one spot or a touching edge were mended; the area stays."],
        )
    return polygon, tuple(notes)


def _area_of(shape: Any) -> tuple[Any, list[str]]:
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return shape, []
    if shape.geom_type in ("LineString", "MultiLineString", "LinearRing"):
        return _closed(shape)
    if shape.geom_type == "GeometryCollection":
        areas = [part for part in shape.geoms if part.geom_type in ("Polygon", "MultiPolygon")]
        if areas:
            return shapely.union_all(areas), ["Lines and points beside the area were left out."]
    raise _NoOutline(
        f"The entry is a {shape.geom_type.lower()}, not an area.", "Give the stand as a polygon or a closed track."
    )


def _closed(shape: Any) -> tuple[Any, list[str]]:
    """The area inside closed lines: a walked track, whose ends need not meet to the foot."""
    notes, rings = [], []
    for line in getattr(shape, "geoms", [shape]):
        ends = shapely.get_coordinates(line)
        gap = math.dist(ends[0], ends[-1])
        if len(ends) < 3 or gap > _OPEN_SHARE * line.length:
            raise _NoOutline(
                "The line does not come back to where it began, so it bounds no area.",
                "Close it, or walk it to its start.",
            )
        if gap:
            notes.append(f"The track was closed over a gap of {gap / line.length:.1%} of its length.")
        rings.append(shapely.LinearRing(ends))
    if any(not ring.is_simple for ring in rings):
        raise _NoOutline("The track crosses itself.", "Walk it again, or move its corners.")
    return shapely.build_area(shapely.geometrycollections(rings)), notes


def _mended(shape: Any) -> Any:
    mended = shapely.make_valid(shape, method="structure")
    if mended.geom_type in ("Polygon", "MultiPolygon") and abs(mended.area - shape.area) <= _MENDED_SHARE * abs(
        shape.area
    ):
        return mended
    reason = shapely.is_valid_reason(shape)
    raise _NoOutline(f"The outline crosses itself: {reason}.", "Move the corner back.")
