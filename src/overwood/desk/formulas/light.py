"""The formulas of light."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

from overwood.desk.formulas.keys import Values
from overwood.ground import measures
from overwood.ground.errors import BadRecords, Misuse, Problem
from overwood.judgement.rules import load
from overwood.science import light

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
        notes.append(f"outside the measured range: {measures.span(*_CURVE_BA, 'ft2/ac')}")
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
    values = field.light_field(crowns, ways, Raster.near(width_m, height_m, spacing_m), edge=edge)
    return {
        "mean_pct": 100 * float(values.mean()),
        "min_pct": 100 * float(values.min()),
        "max_pct": 100 * float(values.max()),
        "share_30_50": field.share_in_band(values, 0.30, 0.50),
    }


def read_crowns(path: Path) -> Any:
    """Crowns of a csv file. Raises BadRecords naming row and column of every bad cell, doubled stems, and crowns that
    reach into the ground."""
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
            problems.append(Problem.of_value(file, number, column, text, expected))
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


COMPUTE: dict[str, Callable[..., Values]] = {
    "light-from-basal-area": _from_basal_area,
    "crown-openness": lambda extinction_per_m, longest_chord_m: {
        "share": float(light.mean_crown_openness(extinction_per_m, longest_chord_m))
    },
    "sphere-shade": _sphere,
    "gap-light": lambda radius_m, height_m, sky: {"share": light.gap_light_share(radius_m, height_m, sky)},
    "sun-elevation": _sun,
    "light-field": _field,
}
NOTES: dict[str, Callable[..., list[str]]] = {
    "light-from-basal-area": _curve_notes,
    "sphere-shade": lambda extinction_per_m, **_: (
        ["opaque, because no extinction is given"] if extinction_per_m is None else []
    ),
}
