"""Days as field sheets write them, and the order of day and month where only the file as a whole can tell it."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NUMBERS = re.compile(r"^(\d{1,2})[/.\- ](\d{1,2})[/.\- ](\d{4}|\d{2})$")
_ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ t]\d{1,2}:\d{2}.*)?$")
_ISO_BASIC = re.compile(r"^((?:19|20)\d{2})(\d{2})(\d{2})$")
_DAY_WORD = re.compile(r"^(\d{1,2})(?:st|nd|rd|th)?[ \-.]*([a-z]{3,9})\.?[ \-,]*(\d{4}|\d{2})$")
# Days that a spreadsheet counts from the end of 1899 where the column lost its format: 1970 to 2064.
_COUNTED = re.compile(r"^(2[6-9]\d{3}|[3-5]\d{4}|60000)(?:\.0+)?$")
_SPREADSHEET_BEGINS = dt.date(1899, 12, 30)
_WORD_DAY = re.compile(r"^([a-z]{3,9})\.?[ \-]*(\d{1,2})(?:st|nd|rd|th)?[ ,\-]+(\d{4}|\d{2})$")
_WEEKDAY = re.compile(r"^(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?[.,]* (?=\S)")
# A year of two figures lies in the century that does not put it more than this far ahead.
_AHEAD = 30


def _day(year: str, month: int, day: int) -> dt.date | None:
    full = int(year) if len(year) == 4 else 2000 + int(year) if int(year) < 100 - _AHEAD else 1900 + int(year)
    try:
        return dt.date(full, month, day)
    except ValueError:
        return None


def readings(text: str) -> dict[str, dt.date]:
    """The days a text can mean, by the order of its parts: "plain" where there is but one, else "month" and "day"
    first."""
    tidy = _WEEKDAY.sub("", re.sub(r"\s+", " ", text.strip().lower()))
    iso = _ISO.match(tidy) or _ISO_BASIC.match(tidy)
    if iso:
        return _one(_day(iso[1], int(iso[2]), int(iso[3])))
    word = _DAY_WORD.match(tidy)
    if word and word[2][:3] in _MONTHS:
        return _one(_day(word[3], _MONTHS.index(word[2][:3]) + 1, int(word[1])))
    word = _WORD_DAY.match(tidy)
    if word and word[1][:3] in _MONTHS:
        return _one(_day(word[3], _MONTHS.index(word[1][:3]) + 1, int(word[2])))
    parts = _NUMBERS.match(tidy)
    if not parts:
        return {}
    first, second = int(parts[1]), int(parts[2])
    both = {"month": _day(parts[3], first, second), "day": _day(parts[3], second, first)}
    return {order: day for order, day in both.items() if day is not None}


def _one(day: dt.date | None) -> dict[str, dt.date]:
    return {"plain": day} if day is not None else {}


def counted(text: str) -> dt.date | None:
    """The day a spreadsheet's bare day number stands for; None where the text is none."""
    number = _COUNTED.match(text.strip())
    return _SPREADSHEET_BEGINS + dt.timedelta(days=int(number[1])) if number else None


def is_open(text: str) -> bool:
    """Whether a day can be read in two ways that differ."""
    days = readings(text)
    return len(set(days.values())) > 1


def order(texts: Iterable[str]) -> str:
    """The order that the days of a file settle: "month" or "day" first; "" where none does, or they contradict."""
    orders = {next(iter(days)) for text in texts if len(days := readings(text)) == 1}
    known = orders & {"month", "day"}
    return known.pop() if len(known) == 1 else ""


def read(text: str, settled: str) -> dt.date | None:
    """The day a text means under a settled order; None where it is none, still open, or written the other way round."""
    days = readings(text)
    if "plain" in days:
        return days["plain"]
    if settled:
        return days.get(settled)
    return next(iter(days.values())) if len(set(days.values())) == 1 else None
