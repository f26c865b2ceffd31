"""Stands by county and step, and the plots of an inventory as the sample of each county's land.

``counties.csv`` beside the parts says in which county each stand or property lies. Where its rows are plots of a
sample (columns plot and share), each step is told as a share of the county's land with its sampling error.
"""

from __future__ import annotations

import csv
import datetime as dt
import math
from collections.abc import Iterator, Mapping
from dataclasses import astuple, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from overwood.ground.errors import BadRecords, OverwoodError
from overwood.memory.exchange import inventory, parts
from overwood.science import survey

# What lies in the folder, and what is written beside the results.
PLACES, AREAS, COUNTS = "counties.csv", "county_areas.csv", "county_steps.csv"
NO_STAND, NOT_JUDGED, NOT_NOTED = "no stand", "not judged", "county not noted"
PARTS = "parts"


@dataclass(frozen=True, kw_only=True)
class CountyStep:
    """Stands of a county whose next step is the same, acres where these are noted; of a sample, the share of the
    county's land [%] with the ends of its interval, and the acres that this is of a county of known area."""

    county: str
    step: str
    stands: int
    area_ac: float | None
    without_area: int
    plots: int | None = None
    share_pct: float | None = None
    low_pct: float | None = None
    high_pct: float | None = None
    land_ac: float | None = None
    low_ac: float | None = None
    high_ac: float | None = None


@dataclass(frozen=True)
class Brought:
    """What came of the public tables: parts, plots and stands, and what was left out, by its reason."""

    parts: int
    plots: int
    stands: int
    left_out: Mapping[str, int]


def refuse_parts(folder: Path) -> None:
    """Raises OverwoodError where a folder holds parts, which no others may be mixed with."""
    if parts.parts_of(folder / PARTS):
        remedy = "Name a new folder, or bring no records into it: then the run goes on."
        raise OverwoodError(f"{folder / PARTS} holds parts already.", remedy=remedy)


def from_inventory(folder: Path, public: Path, on: dt.date) -> Brought:
    """Write the national inventory's public tables as parts, and its plots as the sample of each county. Raises
    OverwoodError when parts are there already; NotFound and BadRecords as :func:`inventory.read` does."""
    refuse_parts(folder)
    forest = inventory.read(public, on)
    count = inventory.write(forest, folder / PARTS)
    forest.sample.write_csv(folder / PLACES)
    return Brought(count, forest.plots, forest.frames["stands"].height, forest.left_out)


def counted(folder: Path, results: Any, level: float) -> tuple[CountyStep, ...]:
    """The stands of ``results`` (columns stand, property, area_ac and step) by county and step; nothing where
    ``counties.csv`` is not there.

    Raises BadRecords when that file, or ``county_areas.csv``, cannot be used.
    """
    if not (folder / PLACES).is_file():
        return ()
    places, key = _places(folder / PLACES)
    placed = results.join(places.filter(pl.col(key) != "").select(key, "county"), on=key, how="left")
    placed = placed.with_columns(pl.col("county").fill_null(NOT_NOTED))
    sample = _sample(places, results, level) if "plot" in places.columns else {}
    stands = {
        (county, step): areas for county, step, areas in placed.group_by("county", "step").agg("area_ac").iter_rows()
    }
    land = _areas(folder / AREAS) if sample else {}
    return tuple(
        _row(pair, stands.get(pair, []), sample.get(pair), land.get(pair[0]))
        for pair in sorted(stands.keys() | sample.keys())
    )


def write(rows: tuple[CountyStep, ...], target: Path) -> None:
    """Lay the counts down as csv; without rows none is written."""
    if not rows:
        target.unlink(missing_ok=True)
        return
    with target.open("w", newline="", encoding="utf-8") as out:
        lines = csv.writer(out, lineterminator="\n")
        lines.writerow(field.name for field in fields(CountyStep))
        lines.writerows(astuple(row) for row in rows)


def _row(pair: tuple[str, str], areas: list[float | None], share: _Share | None, land_ac: float | None) -> CountyStep:
    known = [area for area in areas if area is not None]
    more: dict[str, Any] = {}
    if share is not None:
        ends = (share.share, share.low, share.high)
        more = {"plots": share.plots} | dict(
            zip(("share_pct", "low_pct", "high_pct"), (_of(100, end) for end in ends), strict=True)
        )
        if land_ac is not None:
            more |= zip(("land_ac", "low_ac", "high_ac"), (_of(land_ac, end) for end in ends), strict=True)
    # Sums that do not hang on their order.
    area_ac = round(math.fsum(known), 2) if known else None
    county, step = pair
    counts = {"stands": len(areas), "without_area": areas.count(None)}
    return CountyStep(county=county, step=step, area_ac=area_ac, **counts, **more)


def _of(whole: float, share: float) -> float | None:
    return None if math.isnan(share) else round(whole * share, 2)


@dataclass(frozen=True)
class _Share:
    """A share of a county's land by its plots; NaN ends where one plot allows no error."""

    share: float
    low: float
    high: float
    plots: int


def _sample(places: Any, results: Any, level: float) -> dict[tuple[str, str], _Share]:
    """Each step's share of the land of each county: the ratio of two totals over its plots (``cochran1977``,
    chapter 6), every plot standing for as much land as another."""
    named = places.join(results.select("stand", "step"), on="stand", how="left")
    lacking = pl.when(pl.col("stand") == "").then(pl.lit(NO_STAND)).otherwise(pl.lit(NOT_JUDGED))
    named = named.with_columns(pl.col("step").fill_null(lacking))
    return {
        (county, step): share for (county,), rows in named.group_by("county") for step, share in _shares(rows, level)
    }


def _shares(rows: Any, level: float) -> Iterator[tuple[str, _Share]]:
    plots, at = np.unique(rows["plot"].to_numpy(), return_inverse=True)
    share, steps, n = rows["share"].to_numpy(), rows["step"].to_numpy(), len(plots)
    looked = np.bincount(at, weights=share, minlength=n)
    for step in np.unique(steps):
        has = np.bincount(at, weights=np.where(steps == step, share, 0.0), minlength=n)
        if n < 2:
            yield step, _Share(float(has.sum() / looked.sum()), math.nan, math.nan, n)
            continue
        ratio, se = survey.ratio_of_means(has, looked)
        half = float(survey.t_quantile(level, n - 1)) * se
        yield step, _Share(ratio, max(ratio - half, 0.0), min(ratio + half, 1.0), n)


def _places(file: Path) -> tuple[Any, str]:
    """The rows of ``counties.csv``, and whether they name stands or properties."""
    rows = _csv(file)
    key = next((name for name in ("stand", "property") if name in rows.columns), "")
    is_sample = {"plot", "share"} & set(rows.columns)
    if "county" not in rows.columns or not key or (is_sample and not {"stand", "plot", "share"} <= set(rows.columns)):
        remedy = "Give county and stand, or county and property; of a sample county, plot, stand and share."
        raise BadRecords(f"{file.name} lacks a column.", remedy=remedy)
    named = rows.filter(pl.col(key) != "")[key]
    twice = named.filter(named.is_duplicated())
    if len(twice):
        raise BadRecords(f"{file.name} names {key} {twice[0]!r} twice.", remedy="Keep one row of it.")
    if is_sample:
        rows = rows.with_columns(pl.col("share").cast(pl.Float64, strict=False))
        if not rows["share"].is_between(0, 1, closed="right").fill_null(False).all():
            raise BadRecords(
                f"{file.name} has a share that is none.", remedy="Give parts of a plot, above 0 and up to 1."
            )
    return rows, key


def _areas(file: Path) -> dict[str, float]:
    """Acres of land of each county; none where they are not given."""
    if not file.is_file():
        return {}
    rows = _csv(file)
    if not {"county", "area_ac"} <= set(rows.columns):
        raise BadRecords(f"{file.name} lacks a column.", remedy="Give county and area_ac.")
    areas = rows["area_ac"].cast(pl.Float64, strict=False)
    if not (areas > 0).fill_null(False).all():
        raise BadRecords(f"{file.name} has an area that is none.", remedy="Give acres above 0.")
    return dict(zip(rows["county"].to_list(), areas.to_list(), strict=True))


def _csv(file: Path) -> Any:
    try:
        return pl.read_csv(file, infer_schema=False).with_columns(pl.all().fill_null(""))
    except (OSError, pl.exceptions.PolarsError) as fault:
        raise BadRecords(f"{file.name} cannot be read: {fault}.", remedy="Save it as csv in UTF-8.") from fault
