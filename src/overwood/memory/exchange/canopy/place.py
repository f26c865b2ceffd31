"""Where a grid lies on the ground: the stand's shape in its coordinates, the true size of its cells, and units by their
names."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

# Crowns at a stand's edge reach this far beyond it: our own limit.
MARGIN_M = 30.0
_NAMES = {
    "m": ("m", "metre", "meter", "metres", "meters"),
    "ft": ("ft", "foot", "feet", "us survey foot", "us_survey_foot", "us-ft", "ftus", "foot_us", "international foot"),
}


def unit_named(written: str) -> str:
    """m or ft by a unit's name; blank where it is no name of either."""
    return next((unit for unit, names in _NAMES.items() if written.strip().lower() in names), "")


def unit_of_heights(system_wkt: str) -> str:
    """The unit of heights that a coordinate system names; blank where it has none."""
    from pyproj import CRS

    axes = [axis for part in (CRS(system_wkt).sub_crs_list or [CRS(system_wkt)]) for axis in part.axis_info]
    return next((unit_named(axis.unit_name) for axis in axes if axis.direction == "up"), "")


def shape_in(outline_wkt: str, system_wkt: str) -> Any:
    """An outline in degrees as a shape in other coordinates."""
    import shapely
    from pyproj import Transformer

    turned = Transformer.from_crs(4326, system_wkt, always_xy=True)
    return shapely.transform(
        shapely.from_wkt(outline_wkt), lambda at: np.column_stack(turned.transform(at[:, 0], at[:, 1]))
    )


def cell_m_at(system_wkt: str, at: Any, east: float, north: float) -> tuple[float, float]:
    """True length of a step east and a step north at a place [m], on the ellipsoid (WGS 84)."""
    from pyproj import Geod, Transformer

    corners = [at.x, at.x + east, at.x], [at.y, at.y, at.y + north]
    longitude, latitude = Transformer.from_crs(system_wkt, 4326, always_xy=True).transform(*corners)
    lengths = Geod(ellps="WGS84").inv([longitude[0]] * 2, [latitude[0]] * 2, longitude[1:], latitude[1:])[2]
    return float(lengths[0]), float(lengths[1])


def mask(shape: Any, size: tuple[int, int], corner: tuple[float, float], side: float) -> NDArray[np.bool_]:
    """The cells of a grid whose middle lies in a shape."""
    from rasterio.features import geometry_mask
    from rasterio.transform import from_origin

    cells: NDArray[np.bool_] = geometry_mask([shape], size, from_origin(*corner, side, side), invert=True)
    return cells


def reached_share(shape: Any, size: tuple[int, int], corner: tuple[float, float], side: float) -> float:
    """Share of a shape that lies within a grid."""
    import shapely

    west, north = corner
    return float(
        shapely.intersection(shape, shapely.box(west, north - size[0] * side, west + size[1] * side, north)).area
        / shape.area
    )
