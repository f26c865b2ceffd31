"""Merchantable heights in feet or meters as the 16-ft logs, in halves, that the record counts."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from overwood.ground import units
from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines

_HEADING = re.compile(r"\b(merch|merchantable|mht|usable|sawlog)\b", re.IGNORECASE)
_UNITS = ("ft", "m", "logs")
# Half a log of the trade, ft (Mesavage and Girard 1946); the most logs the record holds.
_HALF_LOG_FT, _MOST_LOGS = 8, 4
# A length measured a little short, or in whole decimeters, is still the log it was cut for, ft.
_SLACK_FT = 0.25


def as_logs(lines: Lines, heading: str, said: Said) -> tuple[Lines, tuple[Question, ...], tuple[str, ...]]:
    """The lines with merchantable heights as logs, the question for their unit, and what is said of it."""
    place = lines.place("logs")
    if place < 0 or not _HEADING.search(heading) or re.search(r"log(?!\w*\s*h)", heading.lower()):
        return lines, (), ()
    found = [size for line in lines.lines if (size := classes.measure(line.cells[place])) is not None]
    most = max((number for number, _ in found), default=0.0)
    named = headings.unit_in(heading) or next((unit for _, unit in found if unit in _UNITS), "")
    if named not in _UNITS and most <= _MOST_LOGS:
        return lines, (), (f"{heading} is read as logs of 16 ft: no value exceeds {_MOST_LOGS}.",) if found else ()
    told = said.setting("merchantable_unit")
    unit = named if named in _UNITS else told if told in _UNITS else ""
    asked = () if named in _UNITS else (_question(heading, most, unit, said),)
    if not unit or unit == "logs":
        return lines, asked, ()

    def turned(line: Line) -> Line:
        return Line(line.row, tuple(_logs(cell, unit) if at == place else cell for at, cell in enumerate(line.cells)))

    shown = f"{heading} is read as logs of 16 ft in whole halves: {most:g} {unit} is {_logs(f'{most:g}', unit)}."
    return replace(lines, lines=tuple(map(turned, lines.lines))), asked, (shown,)


def _logs(cell: str, unit: str) -> str:
    """A height as logs; what is no length is handed on as it stands. More logs than the record holds are its most."""
    found = classes.measure(cell)
    if found is None or (found[1] and found[1] not in ("ft", "m")):
        return cell
    feet = units.conversion(found[1] or unit, "ft")(found[0])
    return f"{min(_MOST_LOGS, math.floor((feet + _SLACK_FT) / _HALF_LOG_FT) / 2):g}"


def _question(heading: str, most: float, unit: str, said: Said) -> Question:
    text = f"{heading!r} names no unit and goes up to {most:g}: are they feet, meters or logs?"
    lengths = (Choice(one, f"{most:g} {one} is {_logs(f'{most:g}', one)} logs of 16 ft") for one in ("ft", "m"))
    choices = (*lengths, Choice("logs", f"{most:g} logs"))
    return Question(
        key=said.key("merchantable_unit"), kind="set", sheet=said.sheet, text=text, choices=choices, answer=unit
    )
