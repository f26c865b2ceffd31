"""Seasons of work as pairs of days, and what is left of them when guidance closes part."""

from __future__ import annotations

import calendar
import datetime as dt
import functools
from dataclasses import dataclass

from overwood.judgement.rules import Rules


@dataclass(frozen=True, order=True)
class Window:
    """First and last day of a season."""

    start: dt.date
    end: dt.date

    @property
    def days(self) -> int:
        return (self.end - self.start).days + 1

    def __str__(self) -> str:
        return _words(self.start, self.end)


@functools.lru_cache(maxsize=1024)
def _words(start: dt.date, end: dt.date) -> str:
    if start.year == end.year:
        return f"{start.day} {start:%b} to {end.day} {end:%b %Y}"
    return f"{start.day} {start:%b %Y} to {end.day} {end:%b %Y}"


def _day(month_day: str, year: int) -> dt.date:
    month, day = (int(part) for part in month_day.split("-"))
    return dt.date(year, month, min(day, calendar.monthrange(year, month)[1]))


def season(rules: Rules, name: str, year: int) -> Window:
    """The season that starts in a year; one whose last day comes before its first runs over New Year."""
    return _season(*rules[name].window, year)


@functools.lru_cache(maxsize=1024)
def _season(first: str, last: str, year: int) -> Window:
    start = _day(first, year)
    if last == "02-28":
        last = "02-29"
    end = _day(last, year if last >= first else year + 1)
    return Window(start, end)


def upcoming(rules: Rules, name: str, on: dt.date) -> Window:
    """What is left of the season running on a day, or the next one."""
    for year in (on.year - 1, on.year, on.year + 1):
        window = season(rules, name, year)
        if window.end >= on:
            return Window(max(window.start, on), window.end)
    raise AssertionError("a season comes every year")


def cut_after_injection(rules: Rules, on: dt.date) -> Window:
    """The first season of the seed cut after an injection still to come: the treated stems are checked in the summer
    between."""
    injected = min(upcoming(rules, name, on).start for name in ("window_injection", "window_injection_late"))
    summer = season(rules, "window_growing", injected.year)
    if summer.start <= injected:
        summer = season(rules, "window_growing", injected.year + 1)
    return upcoming(rules, "window_cut", summer.end + dt.timedelta(days=1))


def open_days(work: Window, rules: Rules, allowed: str = "", closed: str = "") -> list[Window]:
    """The parts of a work season inside an allowed season and outside a closed one."""
    days = [work.start + dt.timedelta(days=offset) for offset in range(work.days)]
    if allowed:
        days = [day for day in days if _inside(day, rules, allowed)]
    if closed:
        days = [day for day in days if not _inside(day, rules, closed)]
    parts: list[Window] = []
    for day in days:
        if parts and (day - parts[-1].end).days == 1:
            parts[-1] = Window(parts[-1].start, day)
        else:
            parts.append(Window(day, day))
    return parts


def _inside(day: dt.date, rules: Rules, name: str) -> bool:
    return any(
        season(rules, name, year).start <= day <= season(rules, name, year).end for year in (day.year - 1, day.year)
    )
