"""Files of outlines to raw shapes: each kind is checked to be what its ending says before the library of many formats
reads it."""

from __future__ import annotations

import io
import json
import math
import re
import tempfile
import warnings
import zipfile
import zlib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Xml

import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError, FieldError
from pyogrio.raw import read as read_raw
from shapely.errors import GEOSException

from overwood.ground.errors import Misuse
from overwood.memory.exchange.outlines.shapes import MOST_SHAPES, MOST_UNPACKED, Layer, Raw, unreadable

ENDINGS = (".gpkg", ".zip", ".geojson", ".json", ".kml", ".kmz", ".gpx", ".wkt", ".txt")
_SHAPEFILE_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_WKT = re.compile(r"\b(MULTI)?(POLYGON|LINESTRING|POINT)\b", re.IGNORECASE)
# Asked for in place of a layer's name: points, lines and areas of all layers.
EVERY_LAYER = "*"


def _by_gdal(
    name: str, folder: Path, file: str, wanted: str, *, lines: bool = False, every: bool = False
) -> list[Layer]:
    """Layers of a file that lies in a folder of our own."""
    path = folder / file
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            listed = pyogrio.list_layers(path)
        kinds = {str(row[0]): str(row[1] or "") for row in listed}
        areas = [
            one
            for one, kind in kinds.items()
            if "Polygon" in kind or "Unknown" in kind or "Collection" in kind or "Surface" in kind
        ]
        chosen = (
            [one for one in ("tracks", "routes") if one in kinds]
            if lines
            else list(kinds)
            if every
            else areas or list(kinds)
        )
        if wanted == EVERY_LAYER:
            chosen, every = [one for one in kinds if not one.endswith("_points")], True
        elif wanted:
            chosen = [one for one in kinds if one == wanted]
        if wanted and not chosen:
            raise Misuse(f"{name} has no layer {wanted!r}.", remedy=f"It has {', '.join(kinds)}.")
        if len(chosen) > 1 and not (lines or every):
            raise Misuse(
                f"{name} holds {len(chosen)} layers of areas: {', '.join(chosen)}.",
                remedy="Choose one with --layer NAME.",
            )
        return [_layer(path, one) for one in chosen]
    # The library itself raises NameError where a coordinate system is no text.
    except (DataSourceError, DataLayerError, FieldError, RuntimeError, ValueError, NameError) as fault:
        text = str(fault).replace(str(folder), "").strip(" .")
        raise unreadable(
            name, f"it is damaged or not what its ending says ({text[:120]})", remedy="Write it again and send it."
        ) from fault


def _layer(path: Path, layer: str) -> Layer:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        about, _, shapes, columns = read_raw(path, layer=layer, max_features=MOST_SHAPES + 1, force_2d=True)
        polygons = (
            shapely.from_wkb(shapes, on_invalid="ignore")
            if shapes is not None
            else [None] * (len(columns[0]) if columns else 0)
        )
    fields = [str(field) for field in about["fields"]]
    rows = []
    for number, polygon in enumerate(polygons):
        values = {field: _text(column[number]) for field, column in zip(fields, columns, strict=True)}
        rows.append(Raw(values={field: text for field, text in values.items() if text}, shape=polygon))
    return Layer(system=str(about.get("crs") or ""), rows=tuple(rows))


def _text(value: Any) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    text = str(value).strip()
    return "" if text in ("NaT", "None") else text


def _in_folder(name: str, content: bytes, file: str, wanted: str, **how: bool) -> list[Layer]:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / file).write_bytes(content)
        return _by_gdal(name, Path(folder), file, wanted, **how)


def _geopackage(name: str, content: bytes, layer: str) -> list[Layer]:
    if not content.startswith(b"SQLite format 3\0"):
        raise unreadable(name, "it is no GeoPackage", "an SQLite file with layers of areas")
    return _in_folder(name, content, "outlines.gpkg", layer)


def _geojson(name: str, content: bytes, layer: str) -> list[Layer]:
    try:
        plain = json.loads(content)
    except (ValueError, RecursionError) as fault:
        raise unreadable(name, f"it is no JSON ({fault})", "a FeatureCollection of polygons") from fault
    if not isinstance(plain, dict) or "type" not in plain:
        raise unreadable(name, "it is JSON, but no GeoJSON", "a FeatureCollection of polygons")
    return _in_folder(name, content, "outlines.geojson", layer)


def _kml(name: str, content: bytes, layer: str) -> list[Layer]:
    _root(name, content, "kml")
    return _in_folder(name, content, "outlines.kml", layer, every=True)


def _gpx(name: str, content: bytes, layer: str) -> list[Layer]:
    _root(name, content, "gpx")
    return _in_folder(name, content, "outlines.gpx", layer, lines=True)


def _root(name: str, content: bytes, wanted: str) -> None:
    """The file must be what its ending says before a library of many formats looks at it."""
    try:
        _, element = next(Xml.iterparse(io.BytesIO(content), events=("start",)))
    except (Xml.ParseError, StopIteration, ValueError, LookupError) as fault:
        raise unreadable(name, f"it is no XML ({fault})", f"a {wanted} file") from fault
    if str(element.tag).rpartition("}")[2].lower() != wanted:
        raise unreadable(name, f"its first element is {element.tag!r}", f"a {wanted} file")


def _members(name: str, content: bytes, endings: Sequence[str]) -> dict[str, bytes]:
    """The wanted members of a zip file by path, unpacked within the limits."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        inside = [entry for entry in archive.infolist() if Path(entry.filename).suffix.lower() in endings]
        if sum(entry.file_size for entry in inside) > MOST_UNPACKED:
            raise unreadable(name, "it unpacks to too much", f"at most {MOST_UNPACKED // 2**20} MB")
        return {entry.filename: archive.read(entry) for entry in inside if not entry.filename.startswith("__MACOSX")}
    except (zipfile.BadZipFile, zlib.error, OSError, NotImplementedError, EOFError, RuntimeError, ValueError) as fault:
        raise unreadable(
            name, f"the zip file is damaged or has a password ({fault})", remedy="Pack it again."
        ) from fault


def _kmz(name: str, content: bytes, layer: str) -> list[Layer]:
    inside = _members(name, content, (".kml",))
    if not inside:
        raise unreadable(name, "there is no .kml in it", "a KML document in a zip file")
    # A document may only point to others beside it.
    return [one for path in sorted(inside) for one in _kml(name, inside[path], layer)]


def _zip(name: str, content: bytes, layer: str) -> list[Layer]:
    """A zipped shapefile, or one file of another kind in a zip."""
    inside = _members(name, content, (*_SHAPEFILE_PARTS, *ENDINGS))
    stems = sorted(path[:-4] for path in inside if path.lower().endswith(".shp"))
    if stems:
        return _shapefile(name, inside, stems, layer)
    others = [path for path in inside if Path(path).suffix.lower() in ENDINGS and Path(path).suffix.lower() != ".zip"]
    if len(others) != 1:
        raise unreadable(
            name, f"it holds {len(others)} files of outlines", "a shapefile (.shp, .shx, .dbf, .prj), or one other file"
        )
    return READERS[Path(others[0]).suffix.lower()](name, inside[others[0]], layer)


def _shapefile(name: str, inside: Mapping[str, bytes], stems: Sequence[str], layer: str) -> list[Layer]:
    titles = {Path(stem).name: stem for stem in stems}
    if layer == EVERY_LAYER:
        return [one for title in titles for one in _shapefile(name, inside, stems, title)]
    if layer and layer not in titles:
        raise Misuse(f"{name} has no layer {layer!r}.", remedy=f"It has {', '.join(titles)}.")
    if not layer and len(titles) > 1:
        raise Misuse(
            f"{name} holds {len(titles)} shapefiles: {', '.join(titles)}.", remedy="Choose one with --layer NAME."
        )
    stem = titles[layer] if layer else stems[0]
    parts = {
        path[len(stem) :].lower(): content
        for path, content in inside.items()
        if path[: len(stem)] == stem and path[len(stem) :][:1] == "."
    }
    missing = [part for part in (".shx", ".dbf") if part not in parts]
    if missing:
        raise unreadable(name, f"the shapefile lacks its {' and '.join(missing)}", "all parts of it in one zip")
    if not parts[".shp"].startswith(b"\x00\x00\x27\x0a"):
        raise unreadable(name, "its .shp is no shapefile", "all parts of one shapefile")
    with tempfile.TemporaryDirectory() as folder:
        for part, content in parts.items():
            (Path(folder) / f"outlines{part}").write_bytes(content)
        return _by_gdal(name, Path(folder), "outlines.shp", "")


def _wkt(name: str, content: bytes, layer: str) -> list[Layer]:
    """Well-known text, one outline a line or over several lines, with a name before it where there is one."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise unreadable(name, "it is no text", "lines such as NAME; POLYGON ((...))") from fault
    rows, system = [], ""
    for number, entry in _entries(text):
        geometry = _WKT.search(entry)
        if not geometry:
            raise unreadable(
                f"{name} line {number}", f"{entry[:40]!r} is no outline", "NAME; POLYGON ((...)) or MULTIPOLYGON"
            )
        title, _, srid = entry[: geometry.start()].upper().partition("SRID=")
        system = f"EPSG:{srid.strip('; ,')}" if srid else system
        try:
            shape = shapely.from_wkt(entry[geometry.start() :].strip().strip('"'))
        except GEOSException as fault:
            raise unreadable(f"{name} line {number}", f"the outline cannot be read ({fault})") from fault
        title = entry[: len(title)].strip(' \t;,"')
        rows.append(Raw(values={"name": title} if title else {}, shape=shape))
    return [Layer(system=system, rows=tuple(rows))]


def _entries(text: str) -> list[tuple[int, str]]:
    """Lines put together until their brackets close, each with the number of its first line."""
    entries, waiting, first = [], "", 0
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        first, waiting = (first, f"{waiting} {line}") if waiting else (number, line)
        if waiting.count("(") <= waiting.count(")"):
            entries.append((first, waiting.strip()))
            waiting = ""
    return [*entries, (first, waiting.strip())] if waiting else entries


READERS: dict[str, Callable[[str, bytes, str], list[Layer]]] = {
    ".gpkg": _geopackage, ".zip": _zip, ".geojson": _geojson, ".json": _geojson, ".kml": _kml, ".kmz": _kmz,
    ".gpx": _gpx, ".wkt": _wkt,
    ".txt": _wkt,
}  # fmt: skip
