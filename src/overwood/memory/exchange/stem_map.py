"""Mapped stems of a foreign sheet: azimuth and distance from one place become places east and north of the block's
corner."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from overwood.ground.vocabulary import MAP_EDGES
from overwood.memory.exchange import asking, classes
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines

_SIDES = ("width_ft", "height_ft")
_FULL_TURN = 360
_FROM = ("from_east_ft", "from_north_ft")


def block(lines: Lines, said: Said) -> tuple[dict[str, str], list[Question]]:
    """The block the stems stand in, as said: its sides and edge, and where distances were measured from."""
    farthest = max((size[0] for cell in lines.values("distance_ft") if (size := classes.measure(cell))), default=0.0)
    shown = f"the farthest stem lies {farthest:g} from where distances were measured" if farthest else ""
    texts = {
        "width_ft": "How long is the east-west side of the mapped block, ft?",
        "height_ft": "How long is its north-south side, ft?",
        "from_east_ft": (
            "How far east of the block's south-west corner were azimuth and distance taken from, ft (blank: "
            "its middle)?"
        ),
        "from_north_ft": "How far north of that corner, ft (blank: its middle)?",
    }
    names = (*_SIDES, *(_FROM if "azimuth_deg" in lines.columns else ()))
    asked = {name: asking.limit(name, texts[name], said, shown, name in _SIDES) for name in names}
    edge = _edge(said)
    told = {name: one.value for name, one in asked.items() if one.value} | (
        {"edge": edge.answer} if edge.answer else {}
    )
    return told, [*(one.question for one in asked.values()), edge]


def _edge(said: Said) -> Question:
    told = said.setting("edge").lower()
    words = {
        "torus": "like forest goes on around",
        "open": "none stands outside",
        "buffer": "the outer strip is mapped only to shade",
    }
    return Question(
        key=said.key("edge"),
        kind="set",
        text="What lies around the mapped block?",
        choices=tuple(Choice(name, words[name]) for name in ("open", "torus")),
        answer=told if told in MAP_EDGES else "",
        sheet=said.sheet,
    )


def placed(lines: Lines, told: Mapping[str, str]) -> Lines:
    """Lines with east and north in feet; lines that have them already are left as they are.

    Azimuths are degrees clockwise from north; distances are horizontal.
    """
    azimuth, distance = lines.place("azimuth_deg"), lines.place("distance_ft")
    if azimuth < 0 or distance < 0 or "east_ft" in lines.columns or not all(name in told for name in _SIDES):
        return lines
    east, north = (float(told.get(name) or float(told[side]) / 2) for name, side in zip(_FROM, _SIDES, strict=True))

    def one(line: Line) -> Line:
        angle, away = classes.measure(line.cells[azimuth]), classes.measure(line.cells[distance])
        if angle is None or away is None:
            return Line(line.row, (*line.cells, "", ""))
        if not 0 <= angle[0] <= _FULL_TURN or away[0] < 0:
            wrong = f"azimuth {angle[0]:g}" if away[0] >= 0 else f"distance {away[0]:g}"
            return Line(line.row, (*line.cells, wrong, wrong))
        turn = math.radians(angle[0])
        at = (east + away[0] * math.sin(turn), north + away[0] * math.cos(turn))
        return Line(line.row, (*line.cells, *(f"{value:.2f}" for value in at)))

    # What is no direction or distance stands where the place would, so that the check of the row names it.
    return replace(lines, columns=(*lines.columns, "east_ft", "north_ft"), lines=tuple(map(one, lines.lines)))


def outside(lines: Lines, told: Mapping[str, str]) -> tuple[str, ...]:
    """What is said of stems that stand outside the block; nothing where all stand in it or its sides are not told."""
    rows: set[int] = set()
    for column, side in zip(("east_ft", "north_ft"), _SIDES, strict=True):
        place = lines.place(column)
        for line in lines.lines if place >= 0 and side in told else ():
            at = classes.measure(line.cells[place])
            if at is not None and not 0 <= at[0] <= float(told[side]):
                rows.add(line.row)
    shown = ", ".join(map(str, sorted(rows)[:6])) + (f" and {len(rows) - 6} more" if len(rows) > 6 else "")
    words = (
        f"{len(rows)} stems stand outside the mapped block (row {shown}): look at its sides, their unit and the "
        "corner measured from."
    )
    return (words,) if rows else ()
