"""What is due, as a calendar file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from overwood.judgement.course.due import Due


def write(target: Path, found: Sequence[Due], made_on: dt.date) -> None:
    """Write what is due as iCalendar, each season as one all-day event with its cautions."""
    from overwood.memory.exchange import calendar

    events = [
        calendar.Event(
            f"{entry.stand}: {entry.what}",
            entry.window.start,
            entry.window.end,
            "\n".join([entry.why, *entry.cautions]),
        )
        for entry in found
    ]
    target.write_bytes(calendar.calendar(events, made_on))
