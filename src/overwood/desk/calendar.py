"""What is due, as a calendar file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from pathlib import Path

from overwood.judgement.course.due import Due


def write(target: Path, dues: Sequence[Due], made_on: dt.date) -> None:
    """Write what is due as iCalendar, each season as one all-day event with its cautions."""
    seasons = [
        (
            f"{entry.stand}: {entry.what}",
            entry.window.start,
            entry.window.end,
            "\n".join([entry.why, *entry.cautions]),
        )
        for entry in dues
    ]
    target.write_bytes(text(seasons, made_on))


def text(seasons: Iterable[tuple[str, dt.date, dt.date, str]], made_on: dt.date) -> bytes:
    """Seasons as iCalendar: title, first and last day, and note of each."""
    from overwood.memory.exchange import calendar

    return calendar.calendar([calendar.Event(*season) for season in seasons], made_on)
