"""Points out as GeoPackage, the open standard of geodata files."""

from __future__ import annotations

from pathlib import Path
from typing import Any


def write_points(
    target: Path, layer: str, places: tuple[list[float], list[float]], columns: dict[str, list[Any]]
) -> None:
    """Points at (longitudes, latitudes) with their columns, as one layer of a new file."""
    import numpy as np
    import shapely
    from pyogrio.raw import write

    target.unlink(missing_ok=True)
    fields = [
        np.array(values, dtype=float if all(isinstance(v, int | float) for v in values) else object)
        for values in columns.values()
    ]
    write(
        target,
        shapely.to_wkb(shapely.points(*places)),
        fields,
        list(columns),
        layer=layer,
        driver="GPKG",
        geometry_type="Point",
        crs="EPSG:4326",
    )
