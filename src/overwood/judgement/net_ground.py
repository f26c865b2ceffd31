"""Streams, roads and sites of a stand with the ground kept around them: what they take out of the acres that are
treated, and the mapped trees that must stay for them."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from overwood.ground.records import GroundFeature, Stand, StandFile, Stem, StemMap
from overwood.ground.units import FT_PER_M, M2_PER_ACRE
from overwood.ground.vocabulary import ASK_FIRST_KINDS, PROTECTED_KINDS
from overwood.judgement.crew_words import Sentence, sentence

_NET = ("ground kept out of work",)


@dataclass(frozen=True)
class Zone:
    """One feature and the ground around it: its acres within the stand, and whether trees in it must stay."""

    feature: str
    kind: str
    buffer_ft: float
    acres: float
    protects: bool
    # The ground kept, in the equal-area plane of the stand [m].
    ground: Any = dataclasses.field(repr=False, metadata={"inner": True})

    @property
    def words(self) -> Sentence:
        """'stream Long Run: no work within 50 ft of it, 1.8 ac of the stand'."""
        code = "ground_kept" if self.protects else "ground_cleared"
        if not self.acres:
            return sentence("ground_missed", what=self._what, name=self.name)
        size = {
            "feet": f"{self.buffer_ft:g}",
            "acres": f"{self.acres:.1f}" if self.acres >= 0.1 else f"{self.acres:.2f}",
        }
        return sentence(code, what=self._what, name=self.name, **size)

    @property
    def _what(self) -> Sentence:
        return sentence(f"feature_{self.kind.replace(' ', '_')}")

    @property
    def name(self) -> str:
        """As ``called``."""
        return called(self.kind, self.feature)


@dataclass(frozen=True)
class NetGround:
    """The ground of a stand that work goes on: its acres less those of the zones, each counted once.

    ``net_ac`` is None where the stand has no acres.
    """

    zones: tuple[Zone, ...]
    out_share: float
    protected_share: float
    area_ac: float | None
    faults: tuple[Sentence, ...] = ()

    @property
    def net_ac(self) -> float | None:
        return None if self.area_ac is None else self.area_ac * (1 - self.out_share)

    @property
    def lines(self) -> tuple[Sentence, ...]:
        """What a paper lists: the net ground, then each zone, then what keeps them from being respected in full."""
        net: tuple[Sentence, ...] = ()
        if self.net_ac is not None and self.out_share:
            net = (sentence("ground_net", net=f"{self.net_ac:.1f}", whole=f"{self.area_ac:g}"),)
        return (*net, *(zone.words for zone in self.zones), *self.faults)


def net_ground(file: StandFile) -> NetGround:
    """The ground of a stand that work goes on.

    Shapes are laid into an equal-area plane about the middle of the stand (EPSG guidance note 7-2, Lambert azimuthal
    equal area); distances in it are true to a millionth within some miles.
    """
    return file.once(_NET, lambda: _found(file))


def asks_first(file: StandFile) -> tuple[Sentence, ...]:
    """What was seen in a stand and must be asked about before any work there, oldest first."""
    return tuple(
        sentence("seen_here", what=sentence(f"seen_{row.kind.replace(' ', '_')}"), day=row.seen_on, noted=noted)
        for row in sorted(file.sightings, key=lambda one: one.seen_on)
        if row.kind in ASK_FIRST_KINDS and (noted := "; ".join(filter(None, (row.subject, row.note))) or row.kind)
    )


def kept_out(file: StandFile) -> tuple[Sentence, ...]:
    """What every paper that leads to work in a stand says of its ground: the net acres, what is kept out of them, and
    what must be asked about first."""
    return (*net_ground(file).lines, *asks_first(file))


def net_area_ac(file: StandFile) -> float | None:
    """Acres of a stand that work goes on: all where no stream, road or site is on record; None where none are noted."""
    return net_ground(file).net_ac


def _found(file: StandFile) -> NetGround:
    stand = file.stand
    if not file.ground_features:
        return NetGround((), 0.0, 0.0, stand.area_ac)
    if not stand.boundary_wkt:
        return NetGround((), 0.0, 0.0, stand.area_ac, (sentence("ground_no_outline"),))
    import shapely

    outline = plane(stand, stand.boundary_wkt)
    zones = tuple(_zone(stand, outline, row) for row in file.ground_features)
    out = shapely.union_all([zone.ground for zone in zones])
    strip = shapely.union_all([zone.ground for zone in zones if zone.protects])
    return NetGround(zones, out.area / outline.area, strip.area / outline.area, stand.area_ac, _faults(file, zones))


def laid_on(
    stand: Stand, features: Sequence[GroundFeature], there: Sequence[GroundFeature] = ()
) -> tuple[GroundFeature, ...]:
    """The features that touch a stand, as rows of it; two features of one name are told apart by a number.

    What is ``there`` among the stand's rows, or comes twice, is laid once; a road along a stream is another feature.
    """
    outline = plane(stand, stand.boundary_wkt)
    known, names = {_same(row) for row in there}, {row.feature for row in there}
    rows = []
    for row in features:
        if _same(row) in known or _zone(stand, outline, row).acres <= 0:
            continue
        own = (name for name in itertools.chain([row.feature], (f"{row.feature} {n}" for n in itertools.count(2))))
        name = next(name for name in own if name not in names)
        names.add(name)
        known.add(_same(row))
        rows.append(dataclasses.replace(row, stand=stand.stand, feature=name))
    return tuple(rows)


def _same(row: GroundFeature) -> tuple[str, str]:
    """What two rows of one feature have in common, whatever stand they are of."""
    return row.kind, row.shape_wkt


def called(kind: str, feature: str) -> str:
    """A feature's own name; nothing where it is called by its kind alone."""
    return feature.removeprefix(kind).strip()


def _faults(file: StandFile, zones: Sequence[Zone]) -> tuple[Sentence, ...]:
    """What keeps the zones from being respected in full."""
    unplaced = any(zone.protects for zone in zones) and any(not _is_placed(drawn) for drawn in file.stem_maps)
    return (sentence("ground_unplaced"),) if unplaced else ()


def _zone(stand: Stand, outline: Any, row: GroundFeature) -> Zone:
    ground = around(plane(stand, row.shape_wkt), row.buffer_ft or 0.0).intersection(outline)
    return Zone(
        feature=row.feature,
        kind=row.kind,
        buffer_ft=row.buffer_ft or 0.0,
        acres=ground.area / M2_PER_ACRE,
        protects=row.kind in PROTECTED_KINDS,
        ground=ground,
    )


def around(shape: Any, buffer_ft: float) -> Any:
    """A shape in the plane [m] with the ground around it; a line or point without a buffer covers nothing."""
    return shape.buffer(buffer_ft / FT_PER_M, quad_segs=32)


def plane(stand: Stand, wkt: str) -> Any:
    """A shape in degrees laid into the equal-area plane of a stand [m]."""
    import shapely

    lay = _projection(stand)
    return shapely.transform(shapely.from_wkt(wkt), lay.transform, interleaved=False)


def _projection(stand: Stand) -> Any:
    import pyproj
    import shapely

    middle = shapely.from_wkt(stand.boundary_wkt).centroid
    system = f"+proj=laea +lat_0={middle.y:.6f} +lon_0={middle.x:.6f} +datum=WGS84 +units=m"
    return pyproj.Transformer.from_crs("EPSG:4326", system, always_xy=True)


def protected(file: StandFile, drawn: StemMap, stems: Sequence[Stem]) -> tuple[bool, ...]:
    """For each stem of a map whether it stands on ground where no work goes.

    A map whose corner is not noted cannot be laid over the ground: then no stem of it is known to.
    """
    zones = [zone.ground for zone in net_ground(file).zones if zone.protects]
    if not zones or not _is_placed(drawn):
        return (False,) * len(stems)
    import shapely

    east, north = _projection(file.stand).transform(drawn.longitude_deg, drawn.latitude_deg)
    places = shapely.points(
        [east + stem.east_ft / FT_PER_M for stem in stems], [north + stem.north_ft / FT_PER_M for stem in stems]
    )
    return tuple(shapely.contains(shapely.union_all(zones), places).tolist())


def _is_placed(drawn: StemMap) -> bool:
    return drawn.longitude_deg is not None and drawn.latitude_deg is not None


def held(file: StandFile, drawn: StemMap, stems: Sequence[Stem]) -> tuple[Stem, ...]:
    """The stems of a map, those on protected ground marked to stay whatever else is said of them."""
    return tuple(
        dataclasses.replace(stem, must="leave") if stays else stem
        for stem, stays in zip(stems, protected(file, drawn, stems), strict=True)
    )
