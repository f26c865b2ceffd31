"""Merchantable heights in feet or meters as the 16-ft logs, in halves, that the record counts."""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Mapping, Sequence

from overwood.ground import plausible, units
from overwood.ground.measures import many
from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said, rows_said
from overwood.memory.exchange.straighten import Lines

_HEADING = re.compile(r"\b(merch|merchantable|mht|usable|sawlog)\b", re.IGNORECASE)
_UNITS = ("ft", "m", "logs")
# Half a log of the trade, ft (Mesavage and Girard 1946); the most logs the record holds.
_HALF_LOG_FT, _MOST_LOGS = 8, 4
_TOTAL = re.compile(r"\btot(?:al)?\b", re.IGNORECASE)
# A length measured a little short, or in whole decimeters, is still the log it was cut for, ft.
_SLACK_FT = 0.25


def as_logs(lines: Lines, heading: str, title: str, said: Said) -> tuple[Lines, tuple[Question, ...], tuple[str, ...]]:
    """The lines with merchantable heights as logs, what is asked of their unit and of more logs than the record holds,
    and what is said of them."""
    # Logs of 8 ft are halved later.
    if headings.are_half_logs(heading, title):
        return lines, (), ()
    lines, asked, told = _turned(lines, heading, said)
    # What has no unit yet may be no logs.
    if any(not one.answer for one in asked):
        return lines, asked, told
    lines, more = _at_most(lines, heading, said)
    return lines, (*asked, *more), told


def _turned(lines: Lines, heading: str, said: Said) -> tuple[Lines, tuple[Question, ...], tuple[str, ...]]:
    place = lines.place("logs")
    if place < 0 or not _HEADING.search(heading) or re.search(r"log(?!\w*\s*h)", heading.lower()):
        return lines, (), ()
    sizes = [size for line in lines.lines if (size := classes.measure(line.cells[place])) is not None]
    most = max((number for number, _ in sizes), default=0.0)
    named = headings.unit_in(heading) or next((unit for _, unit in sizes if unit in _UNITS), "")
    if named not in _UNITS and most <= _MOST_LOGS:
        return lines, (), (f"{heading} is read as logs of 16 ft: no value exceeds {_MOST_LOGS}.",) if sizes else ()
    told = said.setting("merchantable_unit")
    unit = named if named in _UNITS else told if told in _UNITS else ""
    asked = () if named in _UNITS else (_question(heading, most, unit, said),)
    if not unit or unit == "logs":
        return lines, asked, ()
    shown = f"{heading} is read as logs of 16 ft in whole halves: {most:g} {unit} is {_logs(f'{most:g}', unit)}."
    return lines.changed(lambda cell: _logs(cell, unit), place), asked, (shown,)


def _at_most(lines: Lines, heading: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """Logs beyond what the record holds as its most or as not measured, where so answered; more than any tree has are
    left for the check to refuse."""
    place = lines.place("logs")
    tallest = plausible.limit("canopy_tallest_ft") / (2 * _HALF_LOG_FT)

    def is_more(cell: str) -> bool:
        size = classes.measure(cell)
        return size is not None and _MOST_LOGS < size[0] <= tallest

    rows = [str(line.row) for line in lines.lines if place >= 0 and is_more(line.cells[place])]
    if not rows:
        return lines, ()
    told = said.setting("many_logs")
    answer = told if told in (f"{_MOST_LOGS}", "unmeasured") else ""
    question = Question(
        key=said.key("many_logs"), kind="set", sheet=said.sheet, answer=answer,
        text=(many(len(rows), f"line of {heading!r} has", f"lines of {heading!r} have")
            + f" more than {_MOST_LOGS} logs of 16 ft, the most the record holds "
            f"({rows_said(rows)}): how are they kept?"),
        choices=(
            Choice(f"{_MOST_LOGS}", f"as {_MOST_LOGS} logs: their volume comes out too small"),
            Choice("unmeasured", "without logs, as trees whose logs were not counted"),
        ),
    )  # fmt: skip
    kept = answer if answer == f"{_MOST_LOGS}" else ""
    return lines.changed(lambda cell: kept if is_more(cell) else cell, place) if answer else lines, (question,)


def may_be(heading: str, pairs: Sequence[tuple[float, float]]) -> bool:
    """Whether heights beside diameters (in., ft) may be merchantable: all in whole half logs, and short for trees."""
    if not pairs or _TOTAL.search(heading) or any(tall <= 0 or tall % _HALF_LOG_FT for _, tall in pairs):
        return False
    return statistics.median(tall / size for size, tall in pairs) < plausible.limit("merchantable_most_ft_in")


def short(heading: str, pairs: Mapping[int, tuple[float, float]], said: Said) -> tuple[Question, dict[int, str]]:
    """The question whether heights are total or merchantable ones, and the logs by row where they are the latter."""
    told = said.setting("short_heights")
    tallest = max(tall for _, tall in pairs.values())
    most = f"; those of more than {_MOST_LOGS} logs as {_MOST_LOGS}, their volume comes out too small"
    more = most if tallest > 2 * _HALF_LOG_FT * _MOST_LOGS else ""
    question = Question(
        key=said.key("short_heights"), kind="set", sheet=said.sheet,
        answer=told if told in ("total", "merchantable") else "",
        text=f"Every height of {heading!r} is in whole half logs of 8 ft, and short for its diameter: are they total "
            "heights, or merchantable ones?",
        evidence=tuple(f"row {row}: {tall:g} ft at {size:g} in." for row, (size, tall) in list(pairs.items())[:3]),
        choices=(
            Choice("total", "from the ground to the top"),
            Choice("merchantable", f"up to the last log: {tallest:g} ft is {_logs(f'{tallest:g}', 'ft')} logs of "
                f"16 ft{more}; no total height is kept"),
        ),
    )  # fmt: skip
    logs = {
        row: f"{min(tall / (2 * _HALF_LOG_FT), _MOST_LOGS):g}"
        for row, (_, tall) in pairs.items()
        if question.answer == "merchantable"
    }
    return question, logs


def _logs(cell: str, unit: str) -> str:
    """A height as logs; what is no length is handed on as it stands."""
    length = classes.measure(cell)
    if length is None or (length[1] and length[1] not in ("ft", "m")):
        return cell
    feet = units.conversion(length[1] or unit, "ft")(length[0])
    return f"{math.floor((feet + _SLACK_FT) / _HALF_LOG_FT) / 2:g}"


def _question(heading: str, most: float, unit: str, said: Said) -> Question:
    text = f"{heading!r} names no unit and goes up to {most:g}: are they feet, meters or logs?"
    lengths = (Choice(one, f"{most:g} {one} is {_logs(f'{most:g}', one)} logs of 16 ft") for one in ("ft", "m"))
    choices = (*lengths, Choice("logs", f"{most:g} logs"))
    return Question(
        key=said.key("merchantable_unit"), kind="set", sheet=said.sheet, text=text, choices=choices, answer=unit
    )
