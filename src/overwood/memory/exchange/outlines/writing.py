"""Outlines out as GeoPackage, zipped shapefile, GeoJSON, KML, KMZ, GPX track or well-known text."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Xml

import numpy as np
import pyproj
import shapely
from pyogrio.raw import write as write_raw

from overwood.ground.errors import Misuse
from overwood.memory.exchange.outlines.shapes import DEGREES

KINDS_OUT = ("gpkg", "zip", "geojson", "kml", "kmz", "gpx", "wkt")
Row = tuple[Mapping[str, str | float], Any]


def write(title: str, rows: Sequence[Row], kind: str, system: str = DEGREES) -> bytes:
    """Outlines with their words as a file of a kind; the first column names each. Raises Misuse when there is no such
    kind, or it keeps degrees only and another system was asked for."""
    if kind not in KINDS_OUT:
        raise Misuse(
            f"outlines are not written as {kind!r}.",
            remedy=f"End the file with one of {', '.join('.' + one for one in KINDS_OUT)}.",
        )
    if system != DEGREES and kind not in ("gpkg", "zip"):
        raise Misuse(f"a {kind} file keeps longitude and latitude.", remedy="Leave --crs out, or write .gpkg or .zip.")
    if kind == "gpx":
        return _gpx_out(title, rows)
    if kind == "wkt":
        return _wkt_out(rows)
    try:
        rows = _in_system(rows, system)
    except pyproj.exceptions.CRSError as fault:
        raise Misuse(
            f"{system!r} is no known coordinate system.", remedy="Give its number, such as EPSG:26917."
        ) from fault
    with tempfile.TemporaryDirectory() as folder:
        return _gdal_out(Path(folder), title, rows, kind, system)


_DRIVERS = {
    "gpkg": ("GPKG", "outlines.gpkg"), "zip": ("ESRI Shapefile", "outlines.shp"), "geojson": ("GeoJSON",
    "outlines.geojson"),
    "kml": ("LIBKML", "doc.kml"), "kmz": ("LIBKML", "doc.kml"),
}  # fmt: skip


def _in_system(rows: Sequence[Row], system: str) -> list[Row]:
    if system == DEGREES:
        return list(rows)
    transformer = pyproj.Transformer.from_crs(DEGREES, system, always_xy=True)
    return [(words, shapely.transform(shape, transformer.transform, interleaved=False)) for words, shape in rows]


def _gdal_out(folder: Path, title: str, rows: Sequence[Row], kind: str, system: str) -> bytes:
    driver, file = _DRIVERS[kind]
    columns = list(rows[0][0]) if rows else []
    # KML shows the entry that is called Name.
    names = ["Name", *columns[1:]] if driver == "LIBKML" else columns
    fields = [np.array([words[column] for words, _ in rows], dtype=_kind_of(rows, column)) for column in columns]
    shapes = [shape if shape.geom_type == "MultiPolygon" else shapely.multipolygons([shape]) for _, shape in rows]
    more = {"encoding": "UTF-8"} if kind == "zip" else {"COORDINATE_PRECISION": "9"} if kind == "geojson" else {}
    write_raw(
        folder / file, shapely.to_wkb(np.array(shapes, dtype=object)), fields, names, layer=title, driver=driver,
        geometry_type="MultiPolygon", crs=system, **more
    )  # fmt: skip
    return _zipped(folder) if kind in ("zip", "kmz") else (folder / file).read_bytes()


def _kind_of(rows: Sequence[Row], column: str) -> Any:
    return float if all(isinstance(words[column], float) for words, _ in rows) else object


def _zipped(folder: Path) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in sorted(folder.iterdir()):
            archive.writestr(zipfile.ZipInfo(file.name), file.read_bytes())
    return packed.getvalue()


def _wkt_out(rows: Sequence[Row]) -> bytes:
    return "".join(
        f"{next(iter(words.values()))}; {shapely.to_wkt(shape, rounding_precision=9)}\n" for words, shape in rows
    ).encode()


def _gpx_out(title: str, rows: Sequence[Row]) -> bytes:
    """A closed track a stand, each ring a segment of it."""
    root = Xml.Element("gpx", {"version": "1.1", "creator": "Overwood", "xmlns": "http://www.topografix.com/GPX/1/1"})
    Xml.SubElement(Xml.SubElement(root, "metadata"), "name").text = title
    for words, shape in rows:
        track = Xml.SubElement(root, "trk")
        Xml.SubElement(track, "name").text = str(next(iter(words.values())))
        for polygon in getattr(shape, "geoms", [shape]):
            for ring in (polygon.exterior, *polygon.interiors):
                segment = Xml.SubElement(track, "trkseg")
                for longitude, latitude in ring.coords:
                    Xml.SubElement(segment, "trkpt", {"lat": f"{latitude:.9f}", "lon": f"{longitude:.9f}"})
    return Xml.tostring(root, encoding="utf-8", xml_declaration=True)
