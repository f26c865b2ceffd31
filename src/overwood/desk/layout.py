"""How many plots a stand needs, and where they go."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from overwood.desk.answers import Question, stand_file
from overwood.ground import measures
from overwood.ground.errors import NotFound, OverwoodError
from overwood.ground.records import StandFile
from overwood.ground.units import FT_PER_M
from overwood.judgement.evidence import all_figures, layers, tally
from overwood.judgement.gates import UNKNOWN, all_gates
from overwood.science import overstory as science
from overwood.science import sample_size


@dataclass(frozen=True)
class Need:
    """Plots for one wanted answer."""

    wanted: str
    plots: int
    why: str


@dataclass(frozen=True)
class Grid:
    """Plots on a square grid: (longitude, latitude) of each, and the spacing."""

    points: list[tuple[float, float]]
    spacing_ft: float


def plots_needed(name: str, ask: Question) -> list[Need]:
    """Plots for errors of 10, 15 and 20 percent of basal area, for the verdict on the oak, and the least for a plan."""
    file = stand_file(name).as_of(ask.on)
    level = ask.rules.number("interval_level")
    needs = _for_basal_area(file, ask, level)
    figures = all_figures(file, ask.rules, ask.on)
    gate, more = all_gates(file, figures, ask.rules, ask.on)["oak enough"], figures["plots_to_settle"]
    if more.measured and more.number > 0:
        needs.append(
            Need(
                "a verdict on the oak",
                int(more.number),
                f"{measures.plot_size(1 / 735, '-')} plots in all; the count says {gate.answer} now",
            )
        )
    elif gate.answer in UNKNOWN:
        fewest = int(ask.rules.number("fewest_reproduction_plots"))
        needs.append(
            Need(
                "a first count of the oak",
                fewest,
                f"{measures.plot_size(1 / 735, '-')} plots; 65 give a stocked share within 10 points",
            )
        )
    if file.stand.area_ac:
        needs.append(
            Need(
                "the least for a plan",
                least_for_plan(file.stand.area_ac),
                f"by area, {measures.amount(file.stand.area_ac, 'ac', 'g')} (tn190)",
            )
        )
    return needs


def _for_basal_area(file: StandFile, ask: Question, level: float) -> list[Need]:
    visit = file.latest("cruise")
    if visit is None:
        return [
            Need(
                f"basal area within {e}%",
                sample_size.plots_needed(35, e, level=level),
                "spread of 35% taken until the stand is cruised",
            )
            for e in (10, 15, 20)
        ]
    cruise = tally.cruise_of(file, visit)
    overwood = layers.overwood_mask(cruise, ask.rules)
    totals = cruise.totals(np.where(overwood, science.basal_area_ft2(cruise.dbh_in), 0.0))
    if len(totals) < 2 or totals.mean() <= 0:
        return []
    cv = float(100 * totals.std(ddof=1) / totals.mean())
    return [
        Need(
            f"overwood basal area within {e}%",
            sample_size.plots_needed(cv, e, level=level),
            f"spread between points {cv:.0f}%, {level:.0%} interval",
        )
        for e in (10, 15, 20)
    ]


def least_for_plan(area_ac: float) -> int:
    """Fewest plots for a low-intensity plan by stand area (source key tn190, table 5)."""
    for most, plots in ((10, 3), (20, 6), (40, 10), (150, 15)):
        if area_ac <= most:
            return plots
    return math.ceil(area_ac / 10)


def grid(name: str, count: int, seed: int) -> Grid:
    """A square grid with a random start, as near to the wanted number of plots inside the outline as a spacing gives.
    Raises NotFound when the stand has no outline."""
    import pyproj
    import shapely
    from shapely.errors import GEOSException

    file = stand_file(name)
    if not file.stand.boundary_wkt:
        raise NotFound(f"{name} has no outline.", remedy="Give boundary_wkt in the stands sheet.")
    try:
        outline = shapely.from_wkt(file.stand.boundary_wkt)
    except GEOSException as fault:
        raise OverwoodError(f"the outline of {name} cannot be read as well-known text: {fault}.") from fault
    centre = outline.centroid
    local = pyproj.CRS.from_proj4(f"+proj=aeqd +lat_0={centre.y} +lon_0={centre.x} +datum=WGS84 +units=m")
    there = pyproj.Transformer.from_crs(4326, local, always_xy=True)
    shape = shapely.transform(outline, there.transform, interleaved=False)
    start = np.random.default_rng(seed).random(2)
    spacing = _spacing(shape, count, start)
    x, y = _nodes(shape, spacing, start)
    longitude, latitude = there.transform(x, y, direction="INVERSE")
    return Grid(list(zip(longitude.tolist(), latitude.tolist(), strict=True)), spacing * FT_PER_M)


def _nodes(shape: object, spacing: float, start: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    import shapely

    west, south, east, north = shapely.bounds(shape)
    x, y = np.meshgrid(
        np.arange(west - spacing + start[0] * spacing, east + spacing, spacing),
        np.arange(south - spacing + start[1] * spacing, north + spacing, spacing),
    )
    inside = shapely.contains_xy(shape, x.ravel(), y.ravel())
    return x.ravel()[inside], y.ravel()[inside]


def _spacing(shape: object, count: int, start: np.ndarray) -> float:
    """The widest spacing that still puts at least the wanted number inside."""
    import shapely

    spacing = math.sqrt(float(shapely.area(shape)) / count) * 1.25
    while len(_nodes(shape, spacing, start)[0]) < count:
        spacing *= 0.99
    return spacing


def write_gpx(target: Path, name: str, laid: Grid) -> None:
    """The plots as waypoints."""
    from overwood.memory.exchange import gpx

    named = [(f"{name}-{number}", *point) for number, point in enumerate(laid.points, start=1)]
    target.write_bytes(gpx.waypoints(f"plots of {name}", named))
