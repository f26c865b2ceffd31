"""Burn days as a calendar: a row a month, a cell a day, each with its hours or with the letter of what kept it out."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import groupby

from overwood.desk.fire import FuelDays
from overwood.ground.measures import many
from overwood.judgement.fire import day_by_day as days
from overwood.judgement.fire.card import label
from overwood.judgement.fire.day_by_day import WindowDay

LETTERS = {
    "air temperature": "T", "humidity": "H", "wind at 20 ft": "W", "fine fuel moisture": "F",
    "10-hour fuel moisture": "N",
    "days since rain": "R", "drought index": "D", "flame of a head fire": "L", days.LAW: "§", days.NEVER: "H",
}  # fmt: skip
STATES = {
    days.BURN: "burn day",
    days.BROKEN: "not: the hours until dark break it",
    days.SHORT: "not: too few hours in a row",
    days.OUT: "not",
    days.UNKNOWN: "the file has no weather for it",
}


@dataclass(frozen=True)
class Cell:
    """One day: its style, its letter or hours, and its words."""

    style: str
    sign: str
    words: str


@dataclass(frozen=True)
class Month:
    """One month of a year, with a cell for each day of 31; None where the window has no such day."""

    name: str
    cells: tuple[Cell | None, ...]


@dataclass(frozen=True)
class Year:
    """A year's window, newest first on a page."""

    year: int
    burn_days: int
    months: tuple[Month, ...]


@dataclass(frozen=True)
class Calendar:
    """Burn days of one fuel model, and what kept the other days out: the line that shuts most hours of a day, with its
    days."""

    fuel: str
    years: tuple[Year, ...]
    kept_out: tuple[tuple[str, str, int], ...]


def calendar(burn_days: FuelDays) -> Calendar:
    """The calendar of one fuel model."""
    every = burn_days.days
    first = [day.reasons[0][0] for day in every if day.state in (days.SHORT, days.OUT) and day.reasons]
    counted = sorted(
        ((what, LETTERS.get(what, ""), first.count(what)) for what in dict.fromkeys(first)), key=lambda row: -row[2]
    )
    years = [_year(year, list(part)) for year, part in groupby(every, key=lambda one: one.day.year)]
    return Calendar(burn_days.fuel, tuple(reversed(years)), tuple(counted))


def _year(year: int, part: list[WindowDay]) -> Year:
    months = tuple(_month(list(month)) for _, month in groupby(part, key=lambda one: one.day.month))
    return Year(year, sum(day.state == days.BURN for day in part), months)


def _month(part: list[WindowDay]) -> Month:
    by_day = {one.day.day: _cell(one) for one in part}
    return Month(f"{part[0].day:%b}", tuple(by_day.get(number) for number in range(1, 32)))


def _cell(one: WindowDay) -> Cell:
    hours = f", {many(one.hours, 'hour')} inside" if one.hours else ""
    reasons = "; ".join(f"{label(what)} {count} h" for what, count in one.reasons)
    words = f"{_day(one.day)}: {STATES[one.state]}{hours}" + (f" ({reasons})" if reasons else "")
    if one.state == days.BURN:
        return Cell("burn", str(one.hours), words)
    if one.state == days.BROKEN:
        return Cell("broken", "x", words)
    return Cell(one.state, LETTERS.get(one.reasons[0][0], "") if one.reasons else "", words)


def _day(day: dt.date) -> str:
    return f"{day.day} {day:%b %Y}"
