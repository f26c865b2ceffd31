"""Own maps for tests: a GeoTIFF in UTM with a red mark at a known place, and a PMTiles archive written by GDAL."""

from __future__ import annotations

import numpy as np


def geotiff(path, *, lon=-49.99, lat=37.5, pixels=400, pixel_m=10.0, dtype="uint8", bands=3):
    """A green picture around a place, with a red square of 40 m in its middle (EPSG:32622)."""
    import rasterio
    from pyproj import Transformer
    from rasterio.transform import from_origin

    east, north = Transformer.from_crs(4326, 32622, always_xy=True).transform(lon, lat)
    half = pixels * pixel_m / 2
    data = np.zeros((bands, pixels, pixels), dtype=dtype)
    data[min(1, bands - 1)] = 160
    middle = slice(pixels // 2 - 2, pixels // 2 + 2)
    data[:, middle, middle] = 0
    data[0, middle, middle] = 250
    with rasterio.open(
        path, "w", driver="GTiff", width=pixels, height=pixels, count=bands, dtype=dtype, crs="EPSG:32622",
        transform=from_origin(east - half, north + half, pixel_m, pixel_m),
    ) as out:  # fmt: skip
        out.write(data)
    return path


def pmtiles(path, *, lon=-49.99, lat=37.5):
    """Two roads as vector tiles."""
    import pyogrio.raw
    import shapely

    lines = shapely.linestrings([[[lon - 0.02, lat], [lon + 0.02, lat]], [[lon, lat - 0.02], [lon, lat + 0.02]]])
    pyogrio.raw.write(
        str(path), shapely.to_wkb(lines), [np.array(["east", "north"], dtype=object)], ["road"], geometry_type="LineString", crs="EPSG:4326", driver="PMTiles",
        dataset_options={"MINZOOM": "0", "MAXZOOM": "14"},
    )  # fmt: skip
    return path
