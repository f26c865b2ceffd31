"""Latitude and longitude of plots: minutes and seconds become degrees; exchanged ones, and east for west, are asked."""

from __future__ import annotations

import re
from dataclasses import replace

from overwood.ground import plausible
from overwood.memory.exchange import classes
from overwood.memory.exchange.proposal import AS_WRITTEN, Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Lines

_EAST, _NORTH = "longitude_deg", "latitude_deg"
_PARTS = 60
_MINUTES = re.compile(
    r"""^([NSEW]?)\s*(-?\d{1,3}(?:\.\d+)?)\s*[°\u00ba d:]?\s*(?:(\d{1,2}(?:\.\d+)?)\s*['\u2032\u2019 m:]?\s*)?"""
    r"""(?:(\d{1,2}(?:\.\d+)?)\s*(?:["\u2033\u201d s]|'')?\s*)?([NSEW]?)$""",
    re.IGNORECASE,
)


def of(lines: Lines, said: Said) -> tuple[Lines, list[Question]]:
    """The lines with places in degrees, east and north positive, and the question where they lie nowhere near."""
    east, north = lines.place(_EAST), lines.place(_NORTH)
    if east < 0 or north < 0:
        return lines, []
    lines = lines.changed(_degrees, east, north)
    every = (*lines.lines, *lines.empties)
    pairs = [
        (lon[0], lat[0])
        for one in every
        if (lon := classes.measure(one.cells[east])) and (lat := classes.measure(one.cells[north]))
    ]
    told = said.setting("coordinates")
    if pairs and all(_is_north(lon) and _is_west(-lat) for lon, lat in pairs):
        text = "Latitude and longitude look exchanged: the latitudes are negative and the longitudes are not."
        way, meaning = "swap", "latitude and longitude are exchanged"
    elif pairs and all(_is_west(lon) and _is_north(lat) for lon, lat in pairs):
        text = f"Longitudes such as {pairs[0][0]:g} lie in Asia: are they west of Greenwich?"
        way, meaning = "west", "each is west: they become negative"
    else:
        return lines, []
    question = Question(
        key=said.key("coordinates"), kind="set", sheet=said.sheet, text=text,
        choices=(Choice(way, meaning), Choice(AS_WRITTEN, "they are right")),
        answer=told if told in (way, AS_WRITTEN) else "",
    )  # fmt: skip
    if question.answer == "swap":
        names = {_EAST: _NORTH, _NORTH: _EAST}
        return replace(lines, columns=tuple(names.get(name, name) for name in lines.columns)), [question]
    if question.answer == "west":
        return lines.changed(lambda cell: f"-{cell}" if cell else "", east), [question]
    return lines, [question]


def _is_west(degrees: float) -> bool:
    """Whether so many degrees west of Greenwich lie in North America."""
    return plausible.limit("places_west_least_deg") < degrees < plausible.limit("places_west_most_deg")


def _is_north(degrees: float) -> bool:
    return plausible.limit("places_north_least_deg") < degrees < plausible.limit("places_north_most_deg")


def _degrees(cell: str) -> str:
    """Degrees as a number, south and west negative; what is no place is handed on as it stands."""
    match = _MINUTES.match(cell.strip())
    if not match or re.fullmatch(r"-?\d+(\.\d+)?", cell.strip()):
        return cell
    whole, side = float(match[2]), (match[1] or match[5]).upper()
    minutes, seconds = float(match[3] or 0), float(match[4] or 0)
    if max(minutes, seconds) >= _PARTS:
        return cell
    size = abs(whole) + minutes / _PARTS + seconds / _PARTS**2
    return f"{-size if whole < 0 or side in ('S', 'W') else size:.7g}"
