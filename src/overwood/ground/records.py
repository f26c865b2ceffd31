"""Plain frozen shapes of what was measured or done: the one place where a field of a record is defined.

The open contract of the files, the tables of the book and the objects that judgement reads are all made from these
classes. Units end the names; a field that may be blank is ``None``.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
from collections import Counter
from dataclasses import dataclass
from typing import Any

from overwood.ground import columns, deciding, vocabulary
from overwood.ground.once import Once


@dataclass(frozen=True, kw_only=True)
class Record:
    """What every record carries beside its own fields: the identifier it keeps for ever."""

    id: str = ""


@dataclass(frozen=True, kw_only=True)
class Property(Record):
    property: str = columns.key("short name of the property")
    name: str = columns.text("full name")
    objective: str = columns.text("what the owner wants, in the owner's words")
    latitude_deg: float | None = columns.number("latitude", "deg", -90, 90)
    longitude_deg: float | None = columns.number("longitude", "deg", -180, 180)
    note: str = columns.text("anything else")


@dataclass(frozen=True, kw_only=True)
class Stand(Record):
    stand: str = columns.key("short name of the stand, unique in the book")
    property: str = columns.text("property it belongs to", required=True)
    name: str = columns.text("full name")
    area_ac: float | None = columns.number("area", "ac", 0.01, 100_000)
    slope_pct: float | None = columns.number("slope", "%", 0, 200)
    aspect_deg: float | None = columns.number("aspect, downhill direction", "deg", 0, 360)
    slope_position: str = columns.text("place on the slope", ("ridge", "upper", "middle", "lower", "cove", "bottom"))
    site_index_ft: float | None = columns.number("oak site index, base age 50", "ft", 20, 150)
    site_index_species: int | None = columns.species("species of the site index", required=False)
    birth_year: int | None = columns.whole("year the main canopy started", 1500, 2200)
    reserve: bool | None = columns.yes_no("left alone on purpose")
    boundary_wkt: str = columns.column("", kind="outline", about="outline as well-known text, longitude then latitude")
    merged_into: str = columns.text("stand it is a part of now; it is then no longer listed, and its records stay")
    note: str = columns.text("history and anything else")


@dataclass(frozen=True, kw_only=True)
class Stratum(Record):
    stand: str = columns.key("stand")
    stratum: str = columns.key("short name of the part of the stand")
    area_ac: float | None = columns.number("area", "ac", 0.01, 100_000, required=True)


@dataclass(frozen=True, kw_only=True)
class Visit(Record):
    visit: str = columns.key("short name of the visit, unique in the book")
    stand: str = columns.text("stand", required=True)
    kind: str = columns.text("what was looked at", vocabulary.VISIT_KINDS, required=True)
    visited_on: dt.date = columns.date("day of the visit", required=True)
    observer: str = columns.text("who looked, by role")
    note: str = columns.text("anything else")


@dataclass(frozen=True, kw_only=True)
class Ring(Record):
    visit: str = columns.key("visit")
    layer: str = columns.column(
        "", kind="text", about="what this plot is for", choices=vocabulary.LAYERS, required=True
    )
    design: str = columns.text("how stems are taken in", vocabulary.DESIGNS, required=True)
    baf_ft2_ac: float | None = columns.number("basal area factor, over the points summed", "ft2/ac", 0.05, 120)
    plot_area_ac: float | None = columns.number("plot area", "ac", 0.0001, 10)
    strip_width_ft: float | None = columns.number("full width of the strip", "ft", 1, 500)
    low_dbh_in: float | None = columns.number("smallest dbh taken in", "in", 0, 60)
    high_dbh_in: float | None = columns.number("dbh from which the next ring takes over", "in", 0, 200)
    low_height_ft: float | None = columns.number(
        "shortest stem counted; 0 where new seedlings were counted too", "ft", 0, 60
    )
    high_height_ft: float | None = columns.number(
        "height up to which stems were counted here; blank where there was no limit", "ft", 0, 99
    )
    looked_for: str = columns.text(
        "kinds looked for on this ring, apart by semicolons, of oaks, other trees, invasives; "
        "blank: all trees, and invasives not said"
    )


@dataclass(frozen=True, kw_only=True)
class Point(Record):
    visit: str = columns.key("visit")
    point: str = columns.key("number of the plot or point")
    stratum: str = columns.text("part of the stand it fell in")
    cluster: str = columns.text(
        "name of the group of plots, or the line, it belongs to where several stand close together; "
        "blank where it stands alone"
    )
    longitude_deg: float | None = columns.number("longitude", "deg", -180, 180)
    latitude_deg: float | None = columns.number("latitude", "deg", -90, 90)
    strip_length_ft: float | None = columns.number("length of the strip walked", "ft", 1, 100_000)
    baf_ft2_ac: float | None = columns.number(
        "basal area factor of the prism for the overstory at this point; blank: the ring's", "ft2/ac", 1, 120
    )
    plot_area_ac: float | None = columns.number(
        "area of the plot at this point, of the overstory where the visit tallied one; blank: the ring's",
        "ac",
        0.0001,
        10,
    )
    fenced: bool | None = columns.yes_no(
        "yes inside a deer fence: such plots are compared with the others and are not in the sample"
    )
    in_stand: bool | None = columns.yes_no("no where the center fell outside the stand: then it is not in the sample")
    note: str = columns.text("anything else")


@dataclass(frozen=True, kw_only=True)
class Tree(Record):
    visit: str = columns.key("visit")
    point: str = columns.key("plot or point")
    tree: str = columns.key("number of the tree at this point")
    species: int = columns.species()
    species_written: str = columns.text("species as it was written, where it was not understood")
    dbh_in: float = columns.number("diameter at breast height", "in", 0.5, 100, required=True)
    stems: int = columns.whole("stems of this size counted together", 1, 1000, 1)
    status: str = columns.text("live or dead", ("live", "dead"))
    crown_class: str = columns.text("crown class", vocabulary.CROWN_CLASSES)
    height_ft: float | None = columns.number("total height", "ft", 4.5, 220)
    crown_ratio_pct: float | None = columns.number("live crown ratio", "%", 0, 100)
    dieback_pct: float | None = columns.number("crown dieback", "%", 0, 100)
    logs: float | None = columns.number("merchantable logs of {16 ft}, in halves", "logs", 0, 4)
    grade: str = columns.text("grade of the butt log by the published faces", vocabulary.TREE_GRADES)
    quality: str = columns.text("best use the butt log is fit for", vocabulary.QUALITIES)
    defect_pct: float | None = columns.number("volume lost to rot, sweep and crook", "%", 0, 100)
    damage: str = columns.text(
        "hurt by the logging: severe is a bole wound over {100 in2}, a broken main fork, or pushed over",
        vocabulary.DAMAGES,
    )
    edge_count: int = columns.whole("times the tree counts, 2 where walk-through or mirage says so", 1, 3, 1)
    note: str = columns.text("anything else")


@dataclass(frozen=True, kw_only=True)
class Crown(Record):
    visit: str = columns.key("visit")
    tree: str = columns.key("number of the tree")
    species: int = columns.species()
    species_written: str = columns.text("species as it was written, where it was not understood")
    dbh_in: float = columns.number("diameter at breast height", "in", 0.5, 100, required=True)
    radius_north_ft: float = columns.number("crown radius north", "ft", 0, 80, required=True)
    radius_east_ft: float = columns.number("crown radius east", "ft", 0, 80, required=True)
    radius_south_ft: float = columns.number("crown radius south", "ft", 0, 80, required=True)
    radius_west_ft: float = columns.number("crown radius west", "ft", 0, 80, required=True)


@dataclass(frozen=True, kw_only=True)
class SiteTree(Record):
    visit: str = columns.key("visit")
    tree: str = columns.key("number of the cored tree")
    species: int = columns.species()
    species_written: str = columns.text("species as it was written, where it was not understood")
    dbh_in: float | None = columns.number("diameter at breast height", "in", 0.5, 100)
    age_yr: float = columns.number("total age", "yr", 1, 600, required=True)
    height_ft: float | None = columns.number("total height", "ft", 4.5, 220)


@dataclass(frozen=True, kw_only=True)
class Seedling(Record):
    visit: str = columns.key("visit")
    point: str = columns.key("plot")
    line: str = columns.key("line of the tally on this plot")
    species: int = columns.species()
    species_written: str = columns.text("species as it was written, where it was not understood")
    height_class: str = columns.text("height class, {ft}", tuple(vocabulary.HEIGHT_CLASSES))
    height_ft: float | None = columns.number("height where measured", "ft", 0, 60)
    stems: int = columns.whole("stems counted", 0, 5000, 1)
    basal_diameter_in: float | None = columns.number("diameter at the ground line", "in", 0.01, 6)
    origin: str = columns.text("where the stem came from", ("germinant", "seedling", "seedling sprout", "stump sprout"))
    place: str = columns.text("free to grow or overtopped", ("free", "overtopped"))
    browsed: int | None = columns.whole("stems with bitten tips", 0, 5000)


@dataclass(frozen=True, kw_only=True)
class AcornTree(Record):
    visit: str = columns.key("visit")
    tree: str = columns.key("number of the tree, the same every autumn")
    species: int = columns.species()
    species_written: str = columns.text("species as it was written, where it was not understood")
    dbh_in: float | None = columns.number("diameter at breast height", "in", 0.5, 100)
    cluster: str = columns.text(
        "name of the place where several of the trees stand together; blank where this one stands alone"
    )
    bearing: bool | None = columns.yes_no("acorns seen")
    acorns: int | None = columns.whole("acorns counted", 0, 100_000)
    method: str = columns.text("how it was counted", ("limb", "timed", "index"))
    limbs: int | None = columns.whole("branch ends counted", 1, 100)
    seconds: float | None = columns.number("length of the timed count", "s", 1, 600)


@dataclass(frozen=True, kw_only=True)
class LightReading(Record):
    visit: str = columns.key("visit")
    point: str = columns.key("place of the reading")
    light_pct: float = columns.number("light, or the share of sky seen", "%", 0, 100, required=True)
    measures: str = columns.text(
        "light of full sun (a sensor), or openness, the share of sky seen (densiometer, photo); light if blank",
        vocabulary.LIGHT_MEASURES,
    )
    device: str = columns.text("sensor, densiometer or photo")
    east_ft: float | None = columns.number("place east of the stem map's south-west corner", "ft", 0, 20_000)
    north_ft: float | None = columns.number("place north of that corner", "ft", 0, 20_000)
    height_ft: float | None = columns.number("height of the reading", "ft", 0, 30)


@dataclass(frozen=True, kw_only=True)
class Fuel(Record):
    visit: str = columns.key("visit")
    point: str = columns.key("place looked at")
    fuel_model: str = columns.column(
        "", kind="fuel", about="published fuel model that fits best, such as FM9 or TL6; a bare 9 is FM9"
    )
    litter_in: float | None = columns.number("depth of loose leaves", "in", 0, 24)
    duff_in: float | None = columns.number("depth of duff below them", "in", 0, 24)
    oak_leaf_pct: float | None = columns.number("oak leaves in the litter", "%", 0, 100)
    leave_trees: int | None = columns.whole("leave trees whose foot was looked at", 0, 1000)
    leave_trees_with_debris: int | None = columns.whole("of these, with slash, logs or vines at the foot", 0, 1000)


@dataclass(frozen=True, kw_only=True)
class StemMap(Record):
    visit: str = columns.key("visit")
    width_ft: float = columns.number("east-west side of the mapped block", "ft", 10, 20_000, required=True)
    height_ft: float = columns.number("north-south side of the mapped block", "ft", 10, 20_000, required=True)
    edge: str = columns.text(
        "torus where like forest goes on around, open where none stands outside, "
        "buffer where the outer strip is mapped only to shade",
        vocabulary.MAP_EDGES,
        required=True,
    )
    edge_north: str = columns.text("edge of the north side where it differs", vocabulary.MAP_EDGES)
    edge_east: str = columns.text("edge of the east side where it differs", vocabulary.MAP_EDGES)
    edge_south: str = columns.text("edge of the south side where it differs", vocabulary.MAP_EDGES)
    edge_west: str = columns.text("edge of the west side where it differs", vocabulary.MAP_EDGES)
    buffer_ft: float | None = columns.number(
        "width of the strip mapped only to shade; {165 ft} or more is wanted", "ft", 1, 1000
    )
    longitude_deg: float | None = columns.number("longitude of the block's south-west corner", "deg", -180, 180)
    latitude_deg: float | None = columns.number("latitude of that corner", "deg", -90, 90)


@dataclass(frozen=True, kw_only=True)
class Stem(Record):
    visit: str = columns.key("visit")
    stem: str = columns.key("number on the map")
    species: int = columns.species()
    species_written: str = columns.text("species as it was written, where it was not understood")
    dbh_in: float = columns.number("diameter at breast height", "in", 0.5, 100, required=True)
    east_ft: float = columns.number("place east of the block's south-west corner", "ft", 0, 20_000, required=True)
    north_ft: float = columns.number("place north of that corner", "ft", 0, 20_000, required=True)
    crown_class: str = columns.text("crown class", vocabulary.CROWN_CLASSES)
    height_ft: float | None = columns.number("total height", "ft", 4.5, 220)
    crown_base_ft: float | None = columns.number("height to the live crown", "ft", 0, 200)
    radius_north_ft: float | None = columns.number("crown radius north", "ft", 0, 80)
    radius_east_ft: float | None = columns.number("crown radius east", "ft", 0, 80)
    radius_south_ft: float | None = columns.number("crown radius south", "ft", 0, 80)
    radius_west_ft: float | None = columns.number("crown radius west", "ft", 0, 80)
    grade: str = columns.text("grade of the butt log by the published faces", vocabulary.TREE_GRADES)
    dieback_pct: float | None = columns.number("crown dieback", "%", 0, 100)
    acorns: float | None = columns.number("mean acorns counted over the autumns on record", "acorns", 0, 100_000)
    must: str = columns.text("leave or cut whatever the search says", vocabulary.CALLS)


@dataclass(frozen=True, kw_only=True)
class Operation(Record):
    operation: str = columns.key("short name of the operation, unique in the book")
    stand: str = columns.text("stand", required=True)
    kind: str = columns.text("what was done", vocabulary.OPERATION_KINDS, required=True)
    state: str = columns.text("planned, done or failed", ("planned", "done", "failed"), required=True)
    started_on: dt.date = columns.date("first day", required=True)
    ended_on: dt.date | None = columns.date("last day")
    area_ac: float | None = columns.number("area treated", "ac", 0.01, 100_000)
    stems_ac: float | None = columns.number("stems treated", "stems/ac", 0, 20_000)
    ba_before_ft2_ac: float | None = columns.number("basal area before", "ft2/ac", 0, 400)
    ba_after_ft2_ac: float | None = columns.number("basal area after", "ft2/ac", 0, 400)
    dead_share: float | None = columns.number("share of treated stems found dead", "share", 0, 1)
    cost_usd: float | None = columns.number("cost", "US$", 0, 10_000_000)
    income_usd: float | None = columns.number("income or cost-share", "US$", 0, 100_000_000)
    note: str = columns.text("anything else")


@dataclass(frozen=True, kw_only=True)
class Decision(Record):
    decision: str = columns.key("short name of the decision, unique in the book")
    stand: str = columns.text("stand", required=True)
    decided_on: dt.date = columns.date("day", required=True)
    advised_step: str = columns.text("the step the program advised")
    chosen_step: str = columns.text("the step chosen", required=True)
    overridden: bool | None = columns.yes_no("yes where the choice differs from the advice")
    reason: str = columns.text("why, in the person's words")
    decided_by: str = columns.text("who, by role")
    rulebook_version: str = columns.text("rulebook version the advice rested on")


@dataclass(frozen=True, kw_only=True)
class Sighting(Record):
    sighting: str = columns.key("short name of the sighting, unique in the book")
    stand: str = columns.text("stand", required=True)
    seen_on: dt.date = columns.date("day", required=True)
    kind: str = columns.text("what was seen", vocabulary.SIGHTING_KINDS, required=True)
    subject: str = columns.text("species or thing")
    area_ac: float | None = columns.number("area", "ac", 0, 100_000)
    note: str = columns.text("anything else")


@dataclass(frozen=True, kw_only=True)
class GroundFeature(Record):
    stand: str = columns.key("stand")
    feature: str = columns.key("short name of the feature in this stand")
    kind: str = columns.text("what it is", vocabulary.FEATURE_KINDS, required=True)
    buffer_ft: float | None = columns.number("ground kept out of work to each side", "ft", 0, 1000, required=True)
    shape_wkt: str = columns.column("", kind="shape", about="point, line or area, longitude first", required=True)
    note: str = columns.text("anything else")


Table = columns.Table
TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        Table(name="properties", record=Property, key=("property",), about="properties"),
        Table(name="stands", record=Stand, key=("stand",), about="stands with area, site, age and outline"),
        Table(name="strata", record=Stratum, key=("stand", "stratum"), about="parts of a stand with their areas"),
        Table(name="visits", record=Visit, key=("visit",), about="who went where, when, to look at what"),
        Table(name="rings", record=Ring, key=("visit", "layer"), about="how stems were taken in at each visit"),
        Table(name="points", record=Point, key=("visit", "point"), about="plots and points, empty ones too"),
        Table(name="trees", record=Tree, key=("visit", "point", "tree"), about="the tree tally"),
        Table(name="crowns", record=Crown, key=("visit", "tree"), about="crown radii"),
        Table(name="site_trees", record=SiteTree, key=("visit", "tree"), about="cored trees with age and height"),
        Table(name="seedlings", record=Seedling, key=("visit", "point", "line"), about="the reproduction tally"),
        Table(name="acorn_trees", record=AcornTree, key=("visit", "tree"), about="the acorn survey, tree by tree"),
        Table(name="light_readings", record=LightReading, key=("visit", "point"), about="light readings"),
        Table(
            name="fuels", record=Fuel, key=("visit", "point"), about="fuel on the floor and at the foot of leave trees"
        ),
        Table(name="stem_maps", record=StemMap, key=("visit",), about="mapped blocks"),
        Table(name="stems", record=Stem, key=("visit", "stem"), about="mapped stems"),
        Table(name="operations", record=Operation, key=("operation",), about="work planned, done or failed"),
        Table(name="decisions", record=Decision, key=("decision",), about="decisions with their reasons"),
        Table(name="sightings", record=Sighting, key=("sighting",), about="things seen that bear on the work"),
        Table(name="ground_features", record=GroundFeature, key=("stand", "feature"), about="streams, roads, sites"),
    )
}


# Tables whose rows belong to a visit.
BY_VISIT = tuple(name for name, table in TABLES.items() if table.key[0] == "visit" and name != "visits")
# Where a file keeps the day it is known as of, and the last day it was asked as of with what was known then.
_DAY, _AS_OF = ("known on",), ("as of",)


@dataclass(frozen=True, kw_only=True)
class StandFile(Once):
    """Everything the book holds of one stand in the current view, with all acorn checks of its property."""

    stand: Stand
    property: Property | None = None
    strata: tuple[Stratum, ...] = ()
    visits: tuple[Visit, ...] = ()
    rings: tuple[Ring, ...] = ()
    points: tuple[Point, ...] = ()
    trees: tuple[Tree, ...] = ()
    crowns: tuple[Crown, ...] = ()
    site_trees: tuple[SiteTree, ...] = ()
    seedlings: tuple[Seedling, ...] = ()
    acorn_trees: tuple[AcornTree, ...] = ()
    light_readings: tuple[LightReading, ...] = ()
    fuels: tuple[Fuel, ...] = ()
    stem_maps: tuple[StemMap, ...] = ()
    stems: tuple[Stem, ...] = ()
    operations: tuple[Operation, ...] = ()
    decisions: tuple[Decision, ...] = ()
    sightings: tuple[Sighting, ...] = ()
    ground_features: tuple[GroundFeature, ...] = ()
    neighbour_visits: tuple[Visit, ...] = ()
    neighbour_acorn_trees: tuple[AcornTree, ...] = ()
    # Table and key of records that rivals claim; they are in no figure until a person settles them.
    conflicts: tuple[str, ...] = ()

    def as_of(self, on: dt.date) -> StandFile:
        """The file as it stood at the end of a day: later visits, work, decisions and sightings are not yet there."""
        if self.worked_out.get(_DAY) == on:
            return self
        file = self.once(_AS_OF, lambda: self._as_of(on), on)
        file.worked_out[_DAY] = on
        return file

    def _as_of(self, on: dt.date) -> StandFile:
        visits = tuple(visit for visit in self.visits if visit.visited_on <= on)
        known = {visit.visit for visit in visits}
        neighbours = tuple(visit for visit in self.neighbour_visits if visit.visited_on <= on)
        near = {visit.visit for visit in neighbours}
        tallies: dict[str, Any] = {
            name: tuple(row for row in getattr(self, name) if row.visit in known) for name in BY_VISIT
        }
        return dataclasses.replace(
            self,
            visits=visits,
            neighbour_visits=neighbours,
            neighbour_acorn_trees=tuple(row for row in self.neighbour_acorn_trees if row.visit in near),
            operations=tuple(row for row in self.operations if row.started_on <= on or row.state == "planned"),
            decisions=tuple(row for row in self.decisions if row.decided_on <= on),
            sightings=tuple(row for row in self.sightings if row.seen_on <= on),
            **tallies,
        )

    def latest(self, kind: str) -> Visit | None:
        """The visit of a kind that decides: the newest complete look; of two on one day the later named."""
        return self.deciding(kind)[0]

    def deciding(self, kind: str) -> tuple[Visit | None, tuple[Visit, ...]]:
        """The visit of a kind that decides, and newer ones that cover too little to replace it.

        A tally of the midstory alone is no cruise of the canopy; of the kind "midstory" it decides where it is newer
        than the cruise.
        """
        return self.once(("deciding", kind), lambda: self._deciding(kind))

    def _deciding(self, kind: str) -> tuple[Visit | None, tuple[Visit, ...]]:
        if kind not in ("cruise", "midstory", "reproduction"):
            visits = self.visits_of(kind)
            return (visits[-1] if visits else None), ()
        worked = [row.ended_on or row.started_on for row in self.done(*vocabulary.CHANGING_KINDS)]
        return deciding.newest_complete(self._lookers(kind), self.look_points, worked)

    def _lookers(self, kind: str) -> tuple[Visit, ...]:
        """The visits that may decide on a kind, oldest first."""
        if kind == "reproduction":
            return self.visits_of(kind)
        cruises = self.visits_of("cruise")
        if kind == "cruise":
            return self._cruises(tuple(visit for visit in cruises if visit.visit not in self._midstory_alone))
        canopy = self.latest("cruise")
        later = [
            visit
            for visit in cruises
            if visit.visit in self._midstory_alone and (not canopy or visit.visited_on >= canopy.visited_on)
        ]
        return (*((canopy,) if canopy else ()), *later)

    @functools.cached_property
    def _midstory_alone(self) -> frozenset[str]:
        """Visits whose rings took in the midstory and no canopy."""
        layers: dict[str, set[str]] = {}
        for ring in self.rings:
            if ring.layer != "reproduction":
                layers.setdefault(ring.visit, set()).add(ring.layer)
        return frozenset(visit for visit, held in layers.items() if held == {"midstory"})

    def _cruises(self, cruises: tuple[Visit, ...]) -> tuple[Visit, ...]:
        """Cruises, and the stem maps of every tree of the stand; any map where nothing else was cruised."""
        whole = {row.visit for row in self.stem_maps if not cruises or deciding.covers_stand(self.stand.area_ac, row)}
        maps = [visit for visit in self.visits if visit.visit in whole and visit.kind == "stem map"]
        return tuple(sorted((*cruises, *maps), key=lambda v: (v.visited_on, v.visit)))

    def look_points(self, visit: Visit) -> float:
        """How many points a visit counts as: those in its sample, or what a map of every stem is held for."""
        return deciding.map_as_points() if visit.kind == "stem map" else self._points_per_visit[visit.visit]

    @functools.cached_property
    def _points_per_visit(self) -> Counter[str]:
        """Plots and points of each visit that are in its sample."""
        return Counter(point.visit for point in self.points if point.in_stand is not False and not point.fenced)

    def visits_of(self, kind: str) -> tuple[Visit, ...]:
        return tuple(sorted((v for v in self.visits if v.kind == kind), key=lambda v: (v.visited_on, v.visit)))

    def done(self, *kinds: str) -> tuple[Operation, ...]:
        """Operations of these kinds that were carried out, oldest first."""
        rows = [row for row in self.operations if row.kind in kinds and row.state == "done"]
        return tuple(sorted(rows, key=lambda row: row.started_on))
