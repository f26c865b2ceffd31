"""Calendar out as iCalendar (RFC 5545): one all-day event for each season of work."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

_MOST_OCTETS = 75


@dataclass(frozen=True)
class Event:
    """One season of work."""

    title: str
    start: dt.date
    end: dt.date
    note: str


def calendar(events: Iterable[Event], made_on: dt.date) -> bytes:
    """The text of a calendar file."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Overwood//work by season//EN", "CALSCALE:GREGORIAN"]
    for event in events:
        mark = hashlib.sha256(f"{event.title}|{event.start}".encode()).hexdigest()[:24]
        lines += [
            "BEGIN:VEVENT",
            f"UID:{mark}@overwood.invalid",
            f"DTSTAMP:{made_on:%Y%m%d}T000000Z",
            f"DTSTART;VALUE=DATE:{event.start:%Y%m%d}",
            f"DTEND;VALUE=DATE:{event.end + dt.timedelta(days=1):%Y%m%d}",
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
