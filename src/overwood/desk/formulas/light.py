"""The formulas of light."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path
from typing import Any

from overwood.desk.formulas.keys import Formula, Key, Values
from overwood.ground.errors import BadRecords, Misuse, Problem
from overwood.judgement.rules import load
from overwood.science import light

_SKY = Key(kind="choice", choices=tuple(light.SKIES))
_TREE_COLUMNS = ("x_m", "y_m", "centre_m", "a_m", "b_m", "c_m", "k_per_m")
_MOST_CELLS = 4_000_000
# Basal area of the cut stands that the planning curve was fitted to.
_CURVE_BA = (4, 83)
# The height of the sun depends on longitude only through the hour of the day in universal time: the Central Hardwoods'
# middle.
_LONGITUDE_DEG = -82.5
_EPOCH = dt.datetime(2000, 1, 1, 12)


def _from_basal_area(ba_ft2_ac: float, midstory_ba_ft2_ac: float) -> Values:
    from overwood.judgement.evidence.light import midstory_share

    times = midstory_share(midstory_ba_ft2_ac, load())
    return {"light_pct": float(light.from_basal_area_pct(ba_ft2_ac, midstory_multiplier=times))}


def _curve_notes(ba_ft2_ac: float, midstory_ba_ft2_ac: float) -> list[str]:
    notes = [
        "a planning curve through seven measured stands, which lie a factor of 0.65 to 1.47 off it: crown "
        "size and spacing matter more"
    ]
    if not _CURVE_BA[0] <= ba_ft2_ac <= _CURVE_BA[1]:
        notes.append(f"outside the measured range: {_CURVE_BA[0]} to {_CURVE_BA[1]} ft2/ac")
    return notes + (["the midstory's share is an assumption (light_midstory_*)"] if midstory_ba_ft2_ac else [])


def _sphere(radius_m: float, height_m: float, offset_m: float, extinction_per_m: float | None, sky: str) -> Values:
    if height_m <= radius_m:
        raise Misuse(
            f"height_m={height_m:g} is not above radius_m={radius_m:g}.",
            remedy="The sphere must hang wholly above the point.",
        )
    return {
        "share_blocked": light.sphere_blocked_share(
            radius_m, height_m, offset_m=offset_m, extinction_per_m=extinction_per_m, sky=sky
        )
    }


def _sun(latitude: float, date: dt.date, solar_hour: float) -> Values:
    moment = dt.datetime.combine(date, dt.time()) + dt.timedelta(hours=solar_hour - _LONGITUDE_DEG / 15)
    days = (moment - _EPOCH).total_seconds() / 86_400
    return {"elevation_deg": float(light.sun_elevation_deg(latitude, days, solar_hour))}


def _field(
    trees: str, width_m: float, height_m: float, edge: str, sky: str, spacing_m: float, directions: int
) -> Values:
    from overwood.science.light import field
    from overwood.science.light.raster import Raster

    if width_m * height_m / spacing_m**2 > _MOST_CELLS:
        raise Misuse(
            f"{width_m:g} x {height_m:g} m at {spacing_m:g} m are too many cells.", remedy="Take a wider spacing_m."
        )
    crowns = read_crowns(Path(trees))
    ways = light.sky_directions(directions, sky)
    found = field.light_field(crowns, ways, Raster.near(width_m, height_m, spacing_m), edge=edge)
    return {
        "mean_pct": 100 * float(found.mean()),
        "min_pct": 100 * float(found.min()),
        "max_pct": 100 * float(found.max()),
        "share_30_50": field.share_in_band(found, 0.30, 0.50),
    }


def read_crowns(path: Path) -> Any:
    """Crowns of a csv file.

    Raises
    ------
    BadRecords
        naming row and column of every bad cell, doubled stems, and crowns that reach into the ground.
    """
    import numpy as np

    from overwood.science.light.crowns import Crowns

    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            rows = list(csv.DictReader(stream))
    except OSError as fault:
        raise Misuse(
            f"trees={path} cannot be read: {fault.strerror}.", remedy=f"Give a csv with {', '.join(_TREE_COLUMNS)}."
        ) from fault
    problems: list[Problem] = []
    table = [_crown(row, number, path.name, problems) for number, row in enumerate(rows, start=2)]
    seen: dict[tuple[float, float], int] = {}
    for number, values in enumerate(table, start=2):
        if values and seen.setdefault((values[0], values[1]), number) != number:
            problems.append(
                Problem(
                    what="Two stems stand on one place.",
                    file=path.name,
                    row=number,
                    column="x_m",
                    found=f"{values[0]:g}, {values[1]:g}",
                )
            )
    if problems:
        raise BadRecords(
            f"{path.name} holds crowns that cannot be.", tuple(problems), remedy=f"Columns: {', '.join(_TREE_COLUMNS)}."
        )
    return Crowns(
        *(np.array([values[place] for values in table if values], dtype=float) for place in range(len(_TREE_COLUMNS)))
    )


def _crown(row: dict[str, str], number: int, file: str, problems: list[Problem]) -> list[float] | None:
    values = []
    for column in _TREE_COLUMNS:
        text = (row.get(column) or "").strip()
        try:
            value = float(text)
            if not -1e6 < value < 1e6 or (column not in ("x_m", "y_m") and value <= 0):
                raise ValueError
        except ValueError:
            expected = "a number" if column in ("x_m", "y_m") else "a number above 0"
            problems.append(
                Problem(
                    what="A value cannot be taken.", file=file, row=number, column=column, found=text, expected=expected
                )
            )
            return None
        values.append(value)
    if values[5] > values[2]:
        problems.append(
            Problem(
                what="The crown reaches into the ground.",
                file=file,
                row=number,
                column="c_m",
                found=f"{values[5]:g}",
                expected=f"at most centre_m, {values[2]:g}",
            )
        )
        return None
    return values


LIGHT = (
    Formula(
        name="light-from-basal-area",
        about="floor light from the basal area of the main canopy",
        keys={
            "ba_ft2_ac": Key(kind="number", unit="ft2/ac", low=0, high=400),
            "midstory_ba_ft2_ac": Key(kind="number", unit="ft2/ac", low=0, high=200, optional=True, default=0.0),
        },
        units={"light_pct": "% of full sun"},
        equation="100 M exp(-0.1124 - 0.01716 BA), M = 0.64^(midstory BA / 20)",
        sources=("cunningham2011", "grayson2012", "schweitzer2006"),
        status="assumption",
        compute=_from_basal_area,
        notes=_curve_notes,
    ),
    Formula(
        name="crown-openness",
        about="mean light through an ellipsoid crown",
        keys={
            "extinction_per_m": Key(kind="number", unit="1/m", low=0, high=20),
            "longest_chord_m": Key(kind="number", unit="m", low=0, high=100),
        },
        units={"share": "share"},
        equation="2 (1 - (1 + q) exp(-q)) / q^2, q = extinction x chord",
        sources=("geometry",),
        status="published",
        compute=lambda extinction_per_m, longest_chord_m: {
            "share": float(light.mean_crown_openness(extinction_per_m, longest_chord_m))
        },
    ),
    Formula(
        name="sphere-shade",
        about="share of diffuse light a spherical crown takes from a point",
        keys={
            "radius_m": Key(kind="number", unit="m", above=0, high=50),
            "height_m": Key(kind="number", unit="m", above=0, high=200),
            "offset_m": Key(kind="number", unit="m", low=0, high=500, optional=True, default=0.0),
            "extinction_per_m": Key(kind="number", unit="1/m", above=0, high=20, optional=True),
            "sky": _SKY,
        },
        units={"share_blocked": "share"},
        equation=(
            "overhead and opaque: (R/H)^2 uniform, (3/7) s^2 + (4/7)(1 - c^3) overcast; else summed over "
            "20,000 directions"
        ),
        sources=("geometry", "moon1942"),
        status="memory",
        compute=_sphere,
        notes=lambda extinction_per_m, **_: (
            ["opaque, because no extinction is given"] if extinction_per_m is None else []
        ),
    ),
    Formula(
        name="gap-light",
        about="diffuse light at the middle of a round gap",
        keys={
            "radius_m": Key(kind="number", unit="m", above=0, high=1000),
            "height_m": Key(kind="number", unit="m", above=0, high=200),
            "sky": _SKY,
        },
        units={"share": "share"},
        equation="1 - share of the sky's light below the wall's top; uniform: R^2 / (R^2 + H^2)",
        sources=("geometry", "moon1942"),
        status="memory",
        compute=lambda radius_m, height_m, sky: {"share": light.gap_light_share(radius_m, height_m, sky)},
        notes=lambda **_: ["the wall is opaque"],
    ),
    Formula(
        name="sun-elevation",
        about="height of the sun",
        keys={
            "latitude": Key(kind="number", unit="deg", low=-90, high=90),
            "date": Key(kind="date"),
            "solar_hour": Key(kind="number", unit="h", low=0, high=24),
        },
        units={"elevation_deg": "deg"},
        equation=(
            "sin e = sin lat sin dec + cos lat cos dec cos(15 (hour - 12)), declination by the almanac's short formula"
        ),
        sources=("almanac",),
        status="memory",
        compute=_sun,
        notes=lambda **_: [
            "true solar time, no refraction; for a place near 82.5 degrees west, elsewhere up to 0.1 degree off"
        ],
    ),
    Formula(
        name="light-field",
        about="light on level ground below mapped crowns",
        keys={
            "trees": Key(kind="text"),
            "width_m": Key(kind="number", unit="m", above=0, high=5000),
            "height_m": Key(kind="number", unit="m", above=0, high=5000),
            "edge": Key(kind="choice", choices=("torus", "open")),
            "sky": _SKY,
            "spacing_m": Key(kind="number", unit="m", above=0, high=100),
            "directions": Key(kind="whole", low=10, high=100_000, optional=True, default=416),
        },
        units={
            "mean_pct": "% of open light",
            "min_pct": "% of open light",
            "max_pct": "% of open light",
            "share_30_50": "share of area",
        },
        equation="sum over directions of weight x exp(-sum of extinction x path in each crown)",
        sources=("geometry", "moon1942"),
        status="memory",
        compute=_field,
        notes=lambda **_: ["diffuse light of the overcast sky chosen, no direct sun, no boles"],
    ),
)
