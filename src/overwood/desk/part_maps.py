"""Where the stands of many parts lie, with what their results say: outlines, and dots where only a place is noted."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import shapely

from overwood.desk import part_counties
from overwood.memory.exchange import parts

TILES = "outlines.pmtiles"
# The gates that every look at all stands answers.
GATES = ("cruise fresh", "midstory shades", "crop good", "oak enough")
# Zooms of the archive: from a county on a screen to a stand of a few acres.
_ZOOMS = 8, 13
_LAYER = "stands"
_COLUMNS = (
    "stand",
    "name",
    "property",
    "area_ac",
    "step",
    "work",
    *(f"gate_{name.replace(' ', '_')}" for name in GATES),
)


@dataclass(frozen=True)
class Drawn:
    """The stands that can be drawn: a row and a shape [degrees] each, and how many have no place."""

    stands: Any
    shapes: Any
    without_place: int


def drawn(folder: Path, results: Path) -> Drawn:
    """The stands of the results of a folder's parts, with the kind of work of their next step."""
    places = pl.concat([_places(part) for part in parts.parts_of(folder / part_counties.PARTS)])
    table = pl.concat([pl.read_parquet(file, columns=_COLUMNS) for file in sorted(results.glob(f"*{parts.ENDING}"))])
    table = table.with_columns(pl.col("work").fill_null(part_counties.NOT_JUDGED))
    rows = table.join(places, on="stand", how="left").sort("stand")
    wkt, longitude, latitude = (rows[name].to_numpy() for name in ("boundary_wkt", "longitude_deg", "latitude_deg"))
    shapes = shapely.from_wkt(np.where([bool(one) for one in wkt], wkt, None))
    has_dot = shapely.is_missing(shapes) & ~np.isnan(longitude) & ~np.isnan(latitude)
    shapes[has_dot] = shapely.points(longitude[has_dot], latitude[has_dot])
    is_there = ~shapely.is_missing(shapes)
    kept = rows.drop("boundary_wkt", "longitude_deg", "latitude_deg").filter(pl.Series(is_there))
    return Drawn(kept, shapes[is_there], int((~is_there).sum()))


def _places(part: Path) -> Any:
    """The outline of each stand of a part as it is written, and the place of its property."""
    kinds = {"stand": pl.String, "property": pl.String, "boundary_wkt": pl.String}
    stands = _read(part / f"stands{parts.ENDING}", kinds)
    places = {"property": pl.String, "longitude_deg": pl.Float64, "latitude_deg": pl.Float64}
    owners = _read(part / f"properties{parts.ENDING}", places)
    return stands.join(owners, on="property", how="left").drop("property")


def _read(file: Path, kinds: Mapping[str, Any]) -> Any:
    frame = pl.read_parquet(file) if file.is_file() else pl.DataFrame()
    return frame.select(
        (pl.col(name).cast(kind) if name in frame.columns else pl.lit(None, kind)).alias(name)
        for name, kind in kinds.items()
    )


def write_tiles(region: Drawn, colors: Mapping[str, str], target: Path) -> None:
    """Lay the stands down as vector tiles in one archive (PMTiles, an open format), each with the color of its work;
    nothing where none can be drawn."""
    import pyogrio.raw

    target.unlink(missing_ok=True)
    if not len(region.shapes):
        return
    rows = region.stands.with_columns(pl.col("work").replace_strict(dict(colors), default="").alias("color"))
    fields = [rows[name].to_numpy().astype(float if name == "area_ac" else object) for name in rows.columns]
    with warnings.catch_warnings():
        # A tile with too much on it is drawn more coarsely.
        warnings.simplefilter("ignore", RuntimeWarning)
        pyogrio.raw.write(
            str(target), shapely.to_wkb(region.shapes), fields, rows.columns, layer=_LAYER, geometry_type="Unknown",
            crs="EPSG:4326", driver="PMTiles",
            dataset_options={"NAME": _LAYER, "MINZOOM": str(_ZOOMS[0]), "MAXZOOM": str(_ZOOMS[1])},
        )  # fmt: skip
