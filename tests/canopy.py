"""A canopy's surface as it is seen from above, made from crowns that are known, and what was found of them."""

from __future__ import annotations

import numpy as np


def surface(crowns, width_m, height_m, cell_m=1.0, *, noise_m=0.0, seed=0):
    """Highest point of the crowns over each cell [m], row 0 the north edge; the ground where there is none."""
    rows, columns = round(height_m / cell_m), round(width_m / cell_m)
    top = np.zeros((rows, columns), dtype=np.float32)
    for x, y, centre, a, b, c in zip(crowns.x, crowns.y, crowns.centre, crowns.a, crowns.b, crowns.c, strict=True):
        west, east = max(int((x - a) / cell_m), 0), min(int((x + a) / cell_m) + 1, columns)
        north, south = max(int((height_m - y - b) / cell_m), 0), min(int((height_m - y + b) / cell_m) + 1, rows)
        if west >= east or north >= south:
            continue
        dx = ((np.arange(west, east) + 0.5) * cell_m - x) / a
        dy = (height_m - (np.arange(north, south) + 0.5) * cell_m - y) / b
        inside = 1 - dx[None, :] ** 2 - dy[:, None] ** 2
        dome = np.where(inside > 0, centre + c * np.sqrt(np.maximum(inside, 0)), 0).astype(np.float32)
        top[north:south, west:east] = np.maximum(top[north:south, west:east], dome)
    rough = np.random.default_rng(seed).normal(0, noise_m, top.shape) if noise_m else 0
    return np.maximum(top + rough, 0).astype(np.float32)


def matches(found_x, found_y, found_top, crowns):
    """For each true crown the found one that is it, or -1: pairs from the nearest on, each taken once, within the crown's radius."""
    radius = (crowns.a + crowns.b) / 2
    apart = np.hypot(crowns.x[:, None] - found_x[None, :], crowns.y[:, None] - found_y[None, :])
    near = (apart <= radius[:, None]) & (np.abs((crowns.centre + crowns.c)[:, None] - found_top[None, :]) < 3.0)
    pairs = np.argwhere(near)
    of, taken = np.full(len(radius), -1), np.zeros(len(found_x), dtype=bool)
    for true, found in pairs[np.argsort(apart[near], kind="stable")]:
        if of[true] < 0 and not taken[found]:
            of[true], taken[found] = found, True
    return of


def repeated(crowns, side_m):
    """The same crowns three times across and three times up, as a map that repeats goes on."""
    shifts = [(east * side_m, north * side_m) for east in range(3) for north in range(3)]
    columns = {name: np.concatenate([getattr(crowns, name)] * len(shifts)) for name in ("centre", "a", "b", "c", "k", "low")}
    x, y = (np.concatenate([getattr(crowns, axis) + shift[place] for shift in shifts]) for place, axis in enumerate("xy"))
    return type(crowns)(x=x, y=y, **columns)


def middle_of(crowns, side_m, margin=35, **more):
    """Surface over the middle one of a map that repeats, with a strip around it, and which cells are its own."""
    whole = surface(repeated(crowns, side_m), 3 * side_m, 3 * side_m, **more)
    first, last = round(side_m), round(2 * side_m)
    own = np.zeros(whole.shape, dtype=bool)
    own[first:last, first:last] = True
    part = slice(first - margin, last + margin)
    return whole[part, part], own[part, part]


def geotiff(
    path, heights, *, lon=-50.0, lat=37.5, strip_m=40.0, cell_m=1.0, crs="EPSG:32622", nodata=None, unit="", dtype="float32", bands=1
):
    """A raster whose south-west corner lies a strip outside a place (degrees)."""
    import rasterio
    from pyproj import Transformer
    from rasterio.transform import from_origin

    east, north = Transformer.from_crs(4326, crs or "EPSG:32622", always_xy=True).transform(lon, lat)
    rows, columns = heights.shape
    with rasterio.open(
        path, "w", driver="GTiff", width=columns, height=rows, count=bands, dtype=dtype, crs=crs, nodata=nodata,
        transform=from_origin(east - strip_m, north - strip_m + rows * cell_m, cell_m, cell_m),
    ) as out:  # fmt: skip
        for band in range(1, bands + 1):
            out.write(heights.astype(dtype), band)
        if unit:
            out.units = (unit,) * bands
    return path


def cloud(path, heights, *, lon=-50.0, lat=37.5, strip_m=40.0, ground_m=None, per_m2=4, epsg=32622, classes=True, seed=0):
    """A point cloud of a surface: returns from the canopy at random places, one in ten from the ground below."""
    import laspy
    from pyproj import CRS, Transformer

    rng, (rows, columns) = np.random.default_rng(seed), heights.shape
    east, north = Transformer.from_crs(4326, epsg, always_xy=True).transform(lon, lat)
    count = rows * columns * per_m2
    row, column = rng.random(count) * rows, rng.random(count) * columns
    level = np.zeros(count) if ground_m is None else ground_m(column, rows - row)
    bare = rng.random(count) < 0.1
    above = np.where(bare, 0.0, heights[row.astype(int), column.astype(int)])
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.add_crs(CRS.from_epsg(epsg))
    header.offsets, header.scales = [east, north, 0.0], [0.01, 0.01, 0.01]
    points = laspy.LasData(header)
    points.x, points.y, points.z = east - strip_m + column, north - strip_m + rows - row, level + above
    points.classification = np.where(bare, 2, 1).astype(np.uint8) if classes else np.ones(count, dtype=np.uint8)
    points.write(path)
    return path


def pieces(path, rows, columns, overlap=0):
    """A GeoTIFF cut below some rows and right of some columns, each piece reaching over its seams; contents by name."""
    import itertools

    import rasterio
    from rasterio.io import MemoryFile
    from rasterio.windows import Window

    found = {}
    with rasterio.open(path) as source:
        tops, lefts = [0, *rows, source.height], [0, *columns, source.width]
        for top, bottom in itertools.pairwise(tops):
            for left, right in itertools.pairwise(lefts):
                at = max(left - overlap, 0), max(top - overlap, 0)
                window = Window(*at, min(right + overlap, source.width) - at[0], min(bottom + overlap, source.height) - at[1])
                told = {**source.profile, "width": window.width, "height": window.height, "transform": source.window_transform(window)}
                with MemoryFile() as memory:
                    with memory.open(**told) as out:
                        out.write(source.read(window=window))
                        out.units = source.units
                    found[f"{top}-{left}.tif"] = memory.read()
    return found
