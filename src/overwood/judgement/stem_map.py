"""A mapped block of a stand: its stems as crowns, its light in any state, and what each tree scores as a leave tree."""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import hashlib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures, tables
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.records import StandFile, Stem, StemMap
from overwood.ground.species import by_code
from overwood.ground.units import FT2_PER_ACRE, FT_PER_M, IN_PER_FT, M2_PER_ACRE
from overwood.ground.vocabulary import MAP_SIDES
from overwood.judgement.evidence import layers
from overwood.judgement.net_ground import held
from overwood.judgement.rules import Rules
from overwood.science import overstory, timber
from overwood.science.light import (
    Directions,
    mean_crown_openness,
    past_boles,
    season_directions,
    sky_directions,
    sun_directions,
    view_directions,
)
from overwood.science.light.apart import relaxed
from overwood.science.light.crowns import Crowns
from overwood.science.light.field import LEVEL, light_fields, share_in_band
from overwood.science.light.raster import Raster

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Core = tuple[slice, slice]
EXTINCTION = "science/tables/extinction.csv"
SCORE = "judgement/rules/tables/leave_score.csv"
PARTS = ("crown_class", "crown_size", "size", "acorns", "species", "health", "stem")
# The sun's path differs by less than a tenth of a degree from year to year.
_SEASON_YEAR = 2024
_SEASON = (
    "light_directions",
    "sky_brightening",
    "light_season_first_month",
    "light_season_last_month",
    "light_beam_share",
    "beam_transmissivity",
    "sun_declination_classes",
    "sun_hour_classes",
    "sun_low_deg",
)


@dataclass(frozen=True)
class Block:
    """The live stems of a map with everything light and marking ask of them."""

    visit: str
    map: StemMap
    stems: tuple[Stem, ...]
    spcd: NDArray[np.int64]
    dbh_in: Array
    crowns: Crowns
    measured: Mask
    oak: Mask
    white: Mask
    midstory: Mask
    inject: Mask
    ba_ft2_ac: Array
    acres: float
    score: Array
    parts: tuple[dict[str, float], ...]
    bole_m2: Array
    latitude_deg: float
    gradient: tuple[float, float]

    @property
    def overwood(self) -> Mask:
        return ~self.midstory

    @property
    def let_be(self) -> Mask:
        """Stems below the main canopy that no work touches: they go on shading."""
        return self.midstory & ~self.inject

    @property
    def without_midstory(self) -> Mask:
        """What stands once the stems to inject are dead."""
        return ~self.inject

    def raster(self, rules: Rules) -> Raster:
        """The cells of the light map."""
        return Raster.near(self.map.width_ft / FT_PER_M, self.map.height_ft / FT_PER_M, rules.number("light_spacing_m"))

    def ground(self, rules: Rules) -> dict[str, Any]:
        """The floor as the light field takes it: cells, edge and slope."""
        return {"raster": self.raster(rules), "edge": edge_of(self.map), "gradient": self.gradient}

    @property
    def core_ft(self) -> tuple[float, float, float, float]:
        """West, east, south and north ends of the ground inside the buffer."""
        strip = {
            side: (self.map.buffer_ft or 0.0) if side_edge(self.map, side) == "buffer" else 0.0 for side in MAP_SIDES
        }
        return strip["west"], self.map.width_ft - strip["east"], strip["south"], self.map.height_ft - strip["north"]

    def core(self, rules: Rules) -> Core:
        """Rows and columns of the light map that lie inside the buffer."""
        rows, columns = self.raster(rules).shape
        west, east, south, north = self.core_ft
        return (
            _inside(rows, self.map.height_ft, south, north),
            _inside(columns, self.map.width_ft, west, east),
        )


def _inside(cells: int, side_ft: float, first_ft: float, last_ft: float) -> slice:
    """Cells whose middle lies between two ends; one at least."""
    middles = (np.arange(cells) + 0.5) * side_ft / cells
    places = np.flatnonzero((middles >= first_ft) & (middles <= last_ft))
    return slice(int(places[0]), int(places[-1]) + 1) if len(places) else slice(cells // 2, cells // 2 + 1)


def side_edge(drawn: StemMap, side: str) -> str:
    """What lies beyond one side of a map: torus, open or buffer."""
    return str(getattr(drawn, f"edge_{side}")) or drawn.edge


def edge_of(drawn: StemMap) -> str:
    """The edges as the light field takes them; no tree stands beyond a buffer's outer end. Raises Misuse where a torus
    on one side has none across from it."""
    torus = {side: side_edge(drawn, side) == "torus" for side in MAP_SIDES}
    if torus["east"] != torus["west"] or torus["north"] != torus["south"]:
        raise Misuse(
            "a torus on one side of a stem map needs one on the side across from it.",
            remedy="Correct the edges of stem_maps.",
        )
    if torus["east"]:
        return "torus" if torus["north"] else "torus east-west"
    return "torus north-south" if torus["north"] else "open"


def block_of(file: StandFile, rules: Rules) -> Block:
    """The latest stem map of a stand. Raises NotFound when the stand has no stem map, or it holds no live stem; Misuse
    when stems stand outside the block."""
    visit = file.latest("stem map")
    mapped = next((m for m in file.stem_maps if visit is not None and m.visit == visit.visit), None)
    if visit is None or mapped is None:
        raise NotFound(
            f"{file.stand.stand} has no stem map.",
            remedy="Bring one in with the sheets stem_maps and stems, or use the rule sheet.",
        )
    stems = held(file, mapped, [stem for stem in file.stems if stem.visit == visit.visit])
    if not stems:
        raise NotFound(f"the stem map {visit.visit} holds no stem.", remedy="Fill the sheet stems.")
    outside = [s.stem for s in stems if s.east_ft > mapped.width_ft or s.north_ft > mapped.height_ft]
    if outside:
        raise Misuse(
            f"stems {', '.join(outside[:8])} of {visit.visit} stand outside the block of "
            f"{measures.digits(mapped.width_ft, 'ft', 'g')} by {measures.amount(mapped.height_ft, 'ft', 'g')}.",
            remedy="Correct their east_ft and north_ft, or the size of the block, in the sheet and bring it in again.",
        )
    spcd = np.array([stem.species for stem in stems], dtype=np.int64)
    dbh = np.array([stem.dbh_in for stem in stems])
    acres = mapped.width_ft * mapped.height_ft / FT2_PER_ACRE
    crown_class = np.array([stem.crown_class for stem in stems], dtype=np.str_)
    # Stems that must stay count with the main canopy, however small.
    stays = np.array([stem.must == "leave" for stem in stems])
    midstory = ~layers.overwood_of(spcd, dbh, crown_class, rules) & ~stays
    crowns, measured = _crowns(stems, mapped, rules)
    counts = _counts(stems)
    codominant = np.full(len(stems), rules.number("crown_ratio_codominant_pct"))
    expected = np.where(measured, 2 * _half_widths_ft(stems, codominant, rules), 0.0)
    share = np.divide((crowns.a + crowns.b) * FT_PER_M, expected, out=np.full(len(stems), np.nan), where=expected > 0)
    parts = tuple(_score_parts(*each, counts, rules) for each in zip(stems, share.tolist(), strict=True))
    return Block(
        visit=visit.visit,
        map=mapped,
        stems=stems,
        spcd=spcd,
        dbh_in=dbh,
        crowns=crowns,
        measured=measured,
        oak=layers.species_mask(spcd, lambda code: by_code(code).is_oak),
        white=layers.white_oak_mask(spcd),
        midstory=midstory,
        inject=layers.injected_of(spcd, dbh, crown_class, rules) & ~stays,
        ba_ft2_ac=overstory.basal_area_ft2(dbh) / acres,
        acres=acres,
        score=np.array([sum(part.values()) for part in parts]),
        parts=parts,
        bole_m2=_boles(dbh, crowns),
        latitude_deg=_latitude(file, rules),
        gradient=_gradient(file),
    )


def _boles(dbh_in: Array, crowns: Crowns) -> Array:
    """Side view of each bole below its crown [m2]."""
    return dbh_in / IN_PER_FT / FT_PER_M * (crowns.centre - crowns.low)


def _latitude(file: StandFile, rules: Rules) -> float:
    noted = file.property.latitude_deg if file.property else None
    return rules.number("light_latitude_deg") if noted is None else noted


def _gradient(file: StandFile) -> tuple[float, float]:
    """Rise of the ground east and north; level where slope or aspect is not noted."""
    slope, aspect = file.stand.slope_pct, file.stand.aspect_deg
    if not slope or aspect is None:
        return LEVEL
    downhill = math.radians(aspect)
    return -slope / 100 * math.sin(downhill), -slope / 100 * math.cos(downhill)


@functools.cache
def _extinctions() -> dict[str, float]:
    return {row["group"]: float(row["k_per_m"]) for row in tables.rows(EXTINCTION)}


@functools.cache
def _named_groups() -> dict[int, str]:
    """Species that the extinction table names one by one."""
    return {int(code): row["group"] for row in tables.rows(EXTINCTION) for code in row["spcd"].split()}


@functools.cache
def _shares() -> dict[tuple[str, str], float]:
    return {(row["part"], row["class"]): float(row["share"]) for row in tables.rows(SCORE)}


def extinction_group(spcd: int) -> str:
    """Which row of the extinction table serves for a species."""
    entry = by_code(spcd)
    if entry.is_oak:
        return "oak"
    if entry.is_hickory:
        return "hickory"
    return _named_groups().get(spcd, "other tolerant" if entry.is_tolerant else "other")


def _crowns(stems: tuple[Stem, ...], drawn: StemMap, rules: Rules) -> tuple[Crowns, Mask]:
    """Crowns in metres; measured crowns stand where their radii say, predicted ones are pushed apart."""
    radii = np.array(
        [[getattr(s, f"radius_{side}_ft") for side in ("north", "east", "south", "west")] for s in stems], dtype=float
    )
    measured = ~np.isnan(radii).any(axis=1)
    ratio = np.array([rules.number(f"crown_ratio_{s.crown_class or 'codominant'}_pct") for s in stems])
    predicted = _half_widths_ft(stems, ratio, rules) * rules.number("crown_radius_scale")
    north, east, south, west = (np.where(measured, radii[:, i], predicted) for i in range(4))
    least = rules.number("crown_least_radius_ft")
    a, b = np.maximum((east + west) / 2, least), np.maximum((north + south) / 2, least)
    noted = np.array([s.height_ft or 0.0 for s in stems])
    height = np.where(noted, noted, _by_species(stems, lambda code, dbh, _: timber.height_ft(code, dbh, scale=1.0)))
    base = np.array([s.crown_base_ft for s in stems], dtype=float)
    base = np.where(np.isnan(base), height * (1 - ratio / 100), base)
    length = np.maximum(height - base, 2 * least)
    one_openness = rules.number("crown_one_openness") > 0
    widest = 0.5 if one_openness else rules.number("crown_widest_share")
    depth, centre = length / 2, base + widest * length
    x = np.array([s.east_ft for s in stems]) + (east - west) / 2
    y = np.array([s.north_ft for s in stems]) + (north - south) / 2
    pushed = relaxed(
        x, y, np.where(measured, 1e-9, (a + b) / 2), base + depth, depth,
        width_m=drawn.width_ft, height_m=drawn.height_ft, edge=edge_of(drawn),
        rounds=int(rules.number("crown_push_rounds")),
        share=rules.number("crown_push_share"), most=rules.number("crown_push_most"),
    )  # fmt: skip
    k = np.array([_extinctions()[extinction_group(s.species)] for s in stems]) * rules.number("extinction_scale")
    px, py, centre, a, b, length = (column / FT_PER_M for column in (*pushed, centre, a, b, length))
    low = length * widest
    fixed = -np.log(mean_crown_openness(k, length)) if one_openness else np.zeros(len(k))
    return Crowns(px, py, centre, a, b, low if one_openness else length - low, k, low, fixed), measured


def _by_species(stems: tuple[Stem, ...], equation: Callable[[int, Array, Mask], Array]) -> Array:
    """A figure of every stem by the equation (species, dbh [in.], which stems) of its species."""
    spcd, dbh, figures = np.array([s.species for s in stems]), np.array([s.dbh_in for s in stems]), np.zeros(len(stems))
    for code in np.unique(spcd):
        mine = spcd == code
        figures[mine] = equation(int(code), dbh[mine], mine)
    return figures


def _half_widths_ft(stems: tuple[Stem, ...], ratio_pct: Array, rules: Rules) -> Array:
    """Half the crown width [ft] that a crown ratio [%] of each stem lets expect."""
    hopkins = rules.number("hopkins_index")

    def width_ft(code: int, dbh_in: Array, mine: Mask) -> Array:
        return overstory.crown_width_ft(code, dbh_in, crown_ratio_pct=ratio_pct[mine], hopkins_index=hopkins)

    return _by_species(stems, width_ft) / 2


def _score_parts(stem: Stem, crown_share: float, counts: dict[str, Array], rules: Rules) -> dict[str, float]:
    """What each part of the leave-tree score gives, in points; the measured crown as a share of the expected one, nan
    where it was not measured."""
    entry = by_code(stem.species)
    of, kind = _shares(), entry.oak_group or ("hickory" if entry.is_hickory else "other")
    size = of["crown_size", "not measured"]
    if not math.isnan(crown_share):
        size = min(crown_share, of["crown_size", "largest share counted"])
    shares = {
        "crown_class": of["crown_class", stem.crown_class or "not noted"],
        "crown_size": size,
        "size": min(stem.dbh_in / rules.number("score_size_full_dbh_in"), 1.0),
        "acorns": _bearing_rank(stem, counts) if entry.is_oak else 0.0,
        "species": of["species", kind],
        "health": 1 - (stem.dieback_pct or 0.0) / 100,
        "stem": of.get(("stem", stem.grade), of["stem", "other"]),
    }
    return {name: share * rules.number(f"score_{name}") for name, share in shares.items()}


def _counts(stems: tuple[Stem, ...]) -> dict[str, Array]:
    """Acorn counts of each oak group, sorted."""
    acorns: dict[str, list[float]] = {}
    for stem in stems:
        if stem.acorns is not None:
            acorns.setdefault(by_code(stem.species).oak_group, []).append(stem.acorns)
    return {group: np.sort(np.array(counts)) for group, counts in acorns.items()}


def _bearing_rank(stem: Stem, counts: dict[str, Array]) -> float:
    """Share of the counted oaks of its group that bear no more than this one."""
    if stem.acorns is None:
        return _shares()["acorns", "not counted"]
    counted = counts[by_code(stem.species).oak_group]
    return float(np.searchsorted(counted, stem.acorns, side="right")) / len(counted)


@dataclass(frozen=True)
class Light:
    """The light of one state of a block, with the band from crowns a tenth wider and narrower."""

    state: str
    mean_pct: float
    narrow_pct: float
    wide_pct: float
    share_in_band: float
    percentiles_pct: tuple[float, float, float]
    field: Array = dataclasses.field(repr=False, metadata={"inner": True})


def light_of(
    block: Block, standing: Mask, rules: Rules, state: str, *, band: tuple[float, float], years: int = 0
) -> Light:
    """Light on the floor with some of the stems standing, so many years after the others went; ``band`` in percent."""
    return lights_of(block, {state: standing}, rules, band=band, years=years)[state]


def lights_of(
    block: Block, states: Mapping[str, Mask], rules: Rules, *, band: tuple[float, float], years: int = 0
) -> dict[str, Light]:
    """The same for several states at once, which costs little more than the fullest of them where one holds another."""
    error, lights = rules.number("crown_radius_error_share"), {}
    for nested in _nested(states):
        chain, ways = [states[state] for state in nested], season(block, rules)
        fields = [_fields(block, chain, rules, ways, scale, years) for scale in (1.0, 1 + error, 1 - error)]
        for state, *three in zip(nested, *fields, strict=True):
            lights[state] = _light(state, three, block.core(rules), band)
    return lights


def _nested(states: Mapping[str, Mask]) -> list[list[str]]:
    """States in rows of which each holds the one before it, in as few rows as are found at once."""
    rows: list[list[str]] = []
    for state in sorted(states, key=lambda state: int(states[state].sum())):
        row = next((row for row in rows if not (states[row[-1]] & ~states[state]).any()), [])
        row.append(state)
        if len(row) == 1:
            rows.append(row)
    return rows


def _light(state: str, fields: Sequence[Array], core: Core, band: tuple[float, float]) -> Light:
    base, wide, narrow = (field[core] for field in fields)
    tenth, middle, ninth = np.percentile(100 * base, [10, 50, 90])
    return Light(
        state=state,
        mean_pct=100 * float(base.mean()),
        narrow_pct=100 * float(narrow.mean()),
        wide_pct=100 * float(wide.mean()),
        share_in_band=share_in_band(base, band[0] / 100, band[1] / 100),
        percentiles_pct=(float(tenth), float(middle), float(ninth)),
        field=fields[0],
    )


def season(block: Block, rules: Rules) -> Directions:
    """Where the growing season's light comes from at the place of a block."""
    return season_at(block.latitude_deg, rules)


def search_season(block: Block, rules: Rules) -> Directions:
    """The same by fewer directions, for a search that asks thousands of times."""
    share, hours = rules.number("marking_directions_share"), "sun_hour_classes"
    thin = rules.with_value("light_directions", max(1, round(share * rules.number("light_directions"))))
    return season(block, thin.with_value(hours, max(1, round(share * rules.number(hours)))))


def season_at(latitude_deg: float, rules: Rules) -> Directions:
    """Where the growing season's light comes from at a latitude."""
    return _season(latitude_deg, tuple(rules.number(name) for name in _SEASON))


@functools.cache
def _season(latitude_deg: float, numbers: tuple[float, ...]) -> Directions:
    directions, brightening, first_month, last_month, beam, clear, declinations, hours, low_deg = numbers
    first, after = (
        dt.date(_SEASON_YEAR, int(first_month), 1),
        dt.date(_SEASON_YEAR, int(last_month), 28) + dt.timedelta(days=4),
    )
    start, end = ((day - dt.date(2000, 1, 1)).days for day in (first, after.replace(day=1)))
    sky = sky_directions(int(directions), brightening)
    sun = sun_directions(
        latitude_deg, start, end - 1, clear, declinations=int(declinations), hours=int(hours), low_deg=low_deg
    )
    return season_directions(sky, sun, beam)


def field_of(block: Block, standing: Mask, rules: Rules, radius_scale: float, years: int = 0) -> Array:
    """The light field of some of the stems, their radii scaled, then grown for some years."""
    return _fields(block, [standing], rules, season(block, rules), radius_scale, years)[0]


def search_field_of(block: Block, standing: Mask, rules: Rules) -> Array:
    """The light field by the fewer directions of a search, where means of many fields are compared."""
    return _fields(block, [standing], rules, search_season(block, rules), 1.0, 0)[0]


def openness_of(block: Block, standing: Mask, rules: Rules, zenith_deg: float) -> Array:
    """Share of the sky within an angle of the zenith that is seen from each cell below some of the stems."""
    ways = view_directions(int(rules.number("view_directions")), zenith_deg)
    return _fields(block, [standing], rules, ways, 1.0, 0)[0]


def _fields(
    block: Block, nested: Sequence[Mask], rules: Rules, ways: Directions, radius_scale: float, years: int
) -> list[Array]:
    """Fields of states of which each holds the one before it."""
    t, ground = block.crowns, block.ground(rules)
    grown = years * rules.number("crown_closing_ft_yr") / FT_PER_M
    crowns = replace(t, a=t.a * radius_scale + grown, b=t.b * radius_scale + grown)
    boles = [float(block.bole_m2[standing].sum()) / (block.acres * M2_PER_ACRE) for standing in nested]
    states = [(standing, past_boles(ways, dimming)) for standing, dimming in zip(nested, boles, strict=True)]
    worked_out = functools.cache(lambda: light_fields(crowns, states, **ground))
    # The caller may write on what it gets; large fields are worked out each time, so that memory stays bounded.
    if math.prod(ground["raster"].shape) > _CELLS_HELD:
        return worked_out()
    asked = [
        _Light(crowns.taken(standing), past, **ground, worked_out=worked_out, place=place)
        for place, (standing, past) in enumerate(states)
    ]
    return [_once(one).copy() for one in asked]


# A block of 20 acres at the default spacing; rooms ask for the same light of a map again and again.
_CELLS_HELD = 25_000


@dataclass(frozen=True, eq=False)
class _Light:
    """What a light field is made of; the same when every number in it is."""

    crowns: Crowns
    ways: Directions
    raster: Raster
    edge: str
    gradient: tuple[float, float]
    worked_out: Callable[[], list[Array]]
    place: int

    @functools.cached_property
    def digest(self) -> bytes:
        columns = [*self.crowns.columns, *(getattr(self.ways, part.name) for part in dataclasses.fields(self.ways))]
        said = repr((self.raster, self.edge, self.gradient, [column.shape for column in columns])).encode()
        return hashlib.sha256(said + b"".join(column.tobytes() for column in columns)).digest()

    def __hash__(self) -> int:
        return hash(self.digest)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Light) and self.digest == other.digest


@functools.lru_cache(maxsize=256)
def _once(asked: _Light) -> Array:
    return asked.worked_out()[asked.place]
