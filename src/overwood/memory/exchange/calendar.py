"""Calendar out as iCalendar (RFC 5545): one all-day event for each season of work."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

_MOST_OCTETS = 75


@dataclass(frozen=True)
class Event:
    """One season of work, or, with hours, some hours of one day by the clock of the place."""

    title: str
    start: dt.date
    end: dt.date
    note: str
    hours: tuple[int, int] | None = None

    @property
    def lines(self) -> list[str]:
        """When it is, from its first hour to the end of its last."""
        if self.hours is None:
            return [
                f"DTSTART;VALUE=DATE:{self.start:%Y%m%d}",
                f"DTEND;VALUE=DATE:{self.end + dt.timedelta(days=1):%Y%m%d}",
            ]
        first, last = (
            dt.datetime.combine(self.start, dt.time()) + dt.timedelta(hours=hour)
            for hour in (self.hours[0], self.hours[1] + 1)
        )
        return [f"DTSTART:{first:%Y%m%dT%H%M%S}", f"DTEND:{last:%Y%m%dT%H%M%S}"]


def calendar(events: Iterable[Event], made_on: dt.date) -> bytes:
    """The text of a calendar file."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Overwood//work by season//EN", "CALSCALE:GREGORIAN"]
    for event in events:
        mark = hashlib.sha256(f"{event.title}|{event.start}".encode()).hexdigest()[:24]
        lines += [
            "BEGIN:VEVENT",
            f"UID:{mark}@overwood.invalid",
            f"DTSTAMP:{made_on:%Y%m%d}T000000Z",
            *event.lines,
            f"SUMMARY:{_escaped(event.title)}",
            f"DESCRIPTION:{_escaped(event.note)}",
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines).encode()


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def _folded(line: str) -> str:
    """A long line broken so that no part exceeds 75 octets, never inside a character."""
    parts, part, size = [], "", 0
    for letter in line:
        width = len(letter.encode())
        if size + width > _MOST_OCTETS:
            parts.append(part)
            part, size = " ", 1
        part, size = part + letter, size + width
    return "\r\n".join([*parts, part])
