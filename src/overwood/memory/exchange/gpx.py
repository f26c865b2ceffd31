"""Waypoints out as GPX 1.1, for any receiver or phone map."""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree import ElementTree as Xml

_SPACE = "http://www.topografix.com/GPX/1/1"


def waypoints(title: str, points: Iterable[tuple[str, float, float]]) -> bytes:
    """GPX of named points given as (name, longitude, latitude)."""
    root = Xml.Element("gpx", {"version": "1.1", "creator": "Overwood", "xmlns": _SPACE})
    Xml.SubElement(Xml.SubElement(root, "metadata"), "name").text = title
    for name, longitude, latitude in points:
        point = Xml.SubElement(root, "wpt", {"lat": f"{latitude:.7f}", "lon": f"{longitude:.7f}"})
        Xml.SubElement(point, "name").text = name
    return Xml.tostring(root, encoding="utf-8", xml_declaration=True)
