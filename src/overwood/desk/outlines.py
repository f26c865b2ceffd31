"""Outlines of stands: their true area, and drawing, changing, splitting and merging them; looked at first, then kept as
corrections."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pyproj
import shapely
import shapely.ops
from shapely.errors import GEOSException

from overwood.desk import entering, places, session
from overwood.desk.crossing import crossed_words, newly_crossed
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.records import Stand
from overwood.ground.units import M2_PER_ACRE

ACTS = ("draw", "change", "split", "merge")
# What is smaller is a slip of the hand at a shared edge, not land in two stands: our own choice.
_SLIP_AC = 0.02
_DEGREE_DIGITS = 7


@dataclass(frozen=True)
class Drawing:
    """What a person drew: ``shape`` is a polygon to draw or change, a line to split along, None to merge."""

    act: str
    stand: str
    other: str = ""
    property: str = ""
    shape: Mapping[str, Any] | None = None
    # Whether the record's area becomes that of the outline.
    take_area: bool = True


@dataclass(frozen=True)
class Outline:
    """One stand as it would be."""

    stand: str
    geometry: dict[str, Any]
    area_ac: float
    noted_area_ac: float | None


@dataclass(frozen=True)
class Proposal:
    """What a drawing comes to, before it is kept."""

    outlines: tuple[Outline, ...]
    notes: tuple[str, ...]


def area_ac(shape: Any) -> float:
    """Area of a shape in degrees on the ellipsoid (WGS 84), acres.

    Source: C. F. F. Karney, 2013, Algorithms for geodesics, Journal of Geodesy 87: 43-55, as in PROJ.
    """
    # The sum over rings is signed: a hole must turn against its shell, and every part alike.
    area_m2, _ = pyproj.Geod(ellps="WGS84").geometry_area_perimeter(shapely.orient_polygons(shape))
    return abs(area_m2) / M2_PER_ACRE


def outlines() -> list[Outline]:
    """Every listed stand that has an outline."""
    outlines = []
    for stand in session.stands():
        if stand.boundary_wkt:
            shape = shape_of(stand)
            outlines.append(Outline(stand.stand, _geojson(shape), area_ac(shape), stand.area_ac))
    return outlines


def propose(drawing: Drawing) -> Proposal:
    """What a drawing comes to: outlines with their areas, and what to mind. Nothing is kept. Raises Misuse when the
    drawing is no area or line, crosses itself, or does not part the stand in two; NotFound when a stand is not there,
    or has no outline to split or merge."""
    known = {stand.stand: stand for stand in session.stands()}
    shapes, notes = _DOERS[_act(drawing)](drawing, known)
    crossed = newly_crossed({name: wkt_of(shape) for name, shape in shapes.items()})
    notes = [*notes, *_overlaps(shapes, known), *crossed_words(crossed)]
    outlines = [
        Outline(name, _geojson(shape), area_ac(shape), known[name].area_ac if name in known else None)
        for name, shape in shapes.items()
    ]
    return Proposal(tuple(outlines), tuple(notes))


def keep(drawing: Drawing, today: dt.date) -> entering.Report:
    """Write a drawing into the book as one entry, which can be undone."""
    known = {stand.stand: stand for stand in session.stands()}
    shapes, _ = _DOERS[_act(drawing)](drawing, known)
    rows = [_row(name, shape, drawing, known) for name, shape in shapes.items()]
    if drawing.act == "merge":
        rows.append(entering.as_text(known[drawing.other]) | {"merged_into": drawing.stand})
    return write(rows, today, f"drawn: {drawing.act} {drawing.stand}")


def write(rows: Sequence[dict[str, str]], today: dt.date, name: str) -> entering.Report:
    """Write rows of stands as one entry, which takes along the streams, roads and sites that come to lie in them.
    Raises Misuse when a row has a fault: nothing is written."""
    report = entering.enter({"stands": rows}, today=today, name=name, replace=entering.ALL)
    if report.faults:
        raise Misuse("; ".join(str(fault) for fault in report.faults), remedy="Nothing was written.")
    return report


def _act(drawing: Drawing) -> str:
    if drawing.act not in ACTS:
        raise Misuse(f"{drawing.act!r} is nothing the map does.", remedy=f"It can {', '.join(ACTS)}.")
    return drawing.act


def _drawn(drawing: Drawing, known: Mapping[str, Stand]) -> tuple[dict[str, Any], list[str]]:
    """A new stand, or the first outline of one that has none."""
    if not drawing.stand.strip():
        raise Misuse("the new stand has no name.", remedy="Give it a short name.")
    held = known.get(drawing.stand)
    if held is not None and held.boundary_wkt:
        raise Misuse(f"{drawing.stand} has an outline already.", remedy="Change that outline, or name another stand.")
    return {drawing.stand: _near(drawing, drawing.property or (held.property if held else ""), known)}, []


def _changed(drawing: Drawing, known: Mapping[str, Stand]) -> tuple[dict[str, Any], list[str]]:
    return {drawing.stand: _near(drawing, _known(drawing.stand, known).property, known)}, []


def _near(drawing: Drawing, owner: str, known: Mapping[str, Stand]) -> Any:
    """The drawn area, which must lie where its property is."""
    shape, lands = _area(drawing.shape), places.lands()
    land = lands.get(owner) or (next(iter(lands.values())) if len(lands) == 1 else None)
    places.must_be_near(shape, land, known.values(), but=drawing.stand)
    return shape


def _split(drawing: Drawing, known: Mapping[str, Stand]) -> tuple[dict[str, Any], list[str]]:
    """The larger part keeps the name."""
    if not drawing.other.strip():
        raise Misuse("the part that is split off has no name.", remedy="Give it a short name.")
    if drawing.other in known:
        raise Misuse(f"there is a stand {drawing.other!r} already.", remedy="Give the part another name.")
    whole, line = _with_outline(drawing.stand, known), _shape(drawing.shape)
    if line.geom_type != "LineString":
        raise Misuse("a stand is split along a line.", remedy="Draw a line across it.")
    parts = sorted(shapely.ops.split(whole, line).geoms, key=lambda part: -area_ac(part))
    if len(parts) != 2:
        raise Misuse(
            f"the line parts {drawing.stand} into {len(parts)}, not in two.",
            remedy="Draw it from outside across the stand to outside, once.",
        )
    note = f"Visits, counts and decisions stay with {drawing.stand}; {drawing.other} begins without: count there anew."
    return {drawing.stand: parts[0], drawing.other: parts[1]}, [note]


def _merged(drawing: Drawing, known: Mapping[str, Stand]) -> tuple[dict[str, Any], list[str]]:
    if drawing.stand == drawing.other:
        raise Misuse("a stand cannot be merged with itself.", remedy="Choose another.")
    one, two = _with_outline(drawing.stand, known), _with_outline(drawing.other, known)
    whole = one.union(two)
    notes = [
        f"{drawing.other} is no longer listed. Its records stay with it and do not count for "
        f"{drawing.stand}: its figures are those of the old part until you count anew."
    ]
    if whole.geom_type != "Polygon":
        notes.append(f"{drawing.stand} and {drawing.other} do not touch: the outline has parts.")
    return {drawing.stand: whole}, notes


_DOERS = {"draw": _drawn, "change": _changed, "split": _split, "merge": _merged}


def _known(name: str, known: Mapping[str, Stand]) -> Stand:
    if name not in known:
        raise NotFound(f"there is no stand {name!r}.", remedy="Choose one of the map.")
    return known[name]


def _with_outline(name: str, known: Mapping[str, Stand]) -> Any:
    stand = _known(name, known)
    if not stand.boundary_wkt:
        raise NotFound(f"{name} has no outline.", remedy="Draw it first.")
    return shape_of(stand)


def shape_of(stand: Stand) -> Any:
    """The outline of a stand that has one, in degrees."""
    try:
        return shapely.from_wkt(stand.boundary_wkt)
    except GEOSException as fault:
        raise Misuse(
            f"the outline of {stand.stand} cannot be read: {fault}.", remedy="Mend boundary_wkt in the stands sheet."
        ) from fault


def _shape(plain: Mapping[str, Any] | None) -> Any:
    try:
        shape = shapely.set_precision(shapely.from_geojson(json.dumps(plain)), 10.0**-_DEGREE_DIGITS, mode="pointwise")
    except (GEOSException, TypeError, ValueError):
        shape = None
    if shape is None or shape.is_empty:
        raise Misuse("nothing was drawn.", remedy="Draw an outline or a line.")
    west, south, east, north = shape.bounds
    if west < -180 or east > 180 or south < -90 or north > 90:
        raise Misuse("the drawing is not in degrees.", remedy="Give longitude, then latitude (WGS 84).")
    return shape


def _area(plain: Mapping[str, Any] | None) -> Any:
    shape = _shape(plain)
    if shape.geom_type not in ("Polygon", "MultiPolygon"):
        raise Misuse("an outline is an area.", remedy="Close the outline.")
    if not shape.is_valid:
        raise Misuse(f"the outline crosses itself: {shapely.is_valid_reason(shape)}.", remedy="Move the corner back.")
    return shape


def _overlaps(shapes: Mapping[str, Any], known: Mapping[str, Stand]) -> list[str]:
    """Land that would lie in two stands."""
    notes = []
    for name, shape in shapes.items():
        for other, stand in known.items():
            if other in shapes or not stand.boundary_wkt:
                continue
            common = common_ac(shape, shape_of(stand))
            if common:
                notes.append(f"{measures.amount(common, 'ac', '.1f')} of {name} lie in {other} too.")
    return notes


def common_ac(one: Any, two: Any) -> float:
    """Land that lies in both, acres; 0 where it is only a slip at a shared edge."""
    parts = shapely.get_parts(one.intersection(two))
    overlap_ac = sum(area_ac(part) for part in parts if part.geom_type in ("Polygon", "MultiPolygon"))
    return overlap_ac if overlap_ac > _SLIP_AC else 0.0


def wkt_of(shape: Any) -> str:
    """A shape as it is kept: well-known text to a centimeter."""
    return str(shapely.to_wkt(shape, rounding_precision=_DEGREE_DIGITS))


def _geojson(shape: Any) -> dict[str, Any]:
    plain: dict[str, Any] = json.loads(shapely.to_geojson(shape))
    return plain


def _row(name: str, shape: Any, drawing: Drawing, known: Mapping[str, Stand]) -> dict[str, str]:
    if name in known:
        row = entering.as_text(known[name])
    elif drawing.act == "split":
        parent = known[drawing.stand]
        row = entering.as_text(parent) | {"stand": name, "name": "", "note": f"split off from {parent.stand}"}
    else:
        row = {"stand": name, "property": drawing.property or only_property()}
    # The part of a split is as large as it is drawn; otherwise the area noted by a survey may be the better one.
    if drawing.take_area or drawing.act == "split":
        row["area_ac"] = f"{area_ac(shape):.2f}"
    return row | {"boundary_wkt": wkt_of(shape)}


def properties() -> Sequence[str]:
    """Names of the properties of the book."""
    return list(places.lands())


def only_property() -> str:
    """The property of a new stand where none is said: the one of the book."""
    names = properties()
    if len(names) != 1:
        said = (
            f"The book has {', '.join(names)}."
            if names
            else "The book has no property yet: type one under Records, or import one."
        )
        raise Misuse("the new stand has no property.", remedy=said)
    return names[0]
