"""Every day of a burn window: whether it is a burn day, and if not, which lines of the card kept its hours out."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.fire.days import BurnDays, Hours

# A burn day; enough hours, but those after them break it; some hours inside, too few in a row; none inside; no weather
# known.
BURN, BROKEN, SHORT, OUT, UNKNOWN = "burn", "broken", "short", "out", "unknown"
LAW, NEVER = "law", "humidity floor"


@dataclass(frozen=True)
class WindowDay:
    """One day of the window: its state, its hours inside the card, and the lines that fail with the hours each shuts,
    most first."""

    day: dt.date
    state: str
    hours: int
    reasons: tuple[tuple[str, int], ...]


def window_days(burn_days: BurnDays) -> tuple[WindowDay, ...]:
    """The days of every year's window in the order of the calendar; what breaks a day with enough hours stands as its
    reason."""
    hours = burn_days.hours
    days, of_day = np.unique(hours.day, return_inverse=True)

    def per_day(mask: NDArray[np.bool_]) -> NDArray[np.int64]:
        return np.bincount(of_day, weights=mask, minlength=len(days)).astype(np.int64)

    known, inside = per_day(_is_known(hours)), per_day(hours.inside)
    shut = {what: per_day(~mask) for what, mask in {**hours.lines, LAW: hours.legal, NEVER: ~hours.never}.items()}
    burns = {one.day for season in burn_days.seasons for one in season.days}
    breaks = {
        one.day: tuple((why, one.hours) for why in one.after.breaks)
        for season in burn_days.seasons
        for one in season.broken
    }
    made = []
    for at, day in enumerate(days.astype(dt.date)):
        lines = sorted(((what, int(count[at])) for what, count in shut.items() if count[at]), key=lambda row: -row[1])
        state = (
            BURN
            if day in burns
            else BROKEN
            if day in breaks
            else UNKNOWN
            if not known[at]
            else SHORT
            if inside[at]
            else OUT
        )
        reasons = {BURN: (), UNKNOWN: (), BROKEN: breaks.get(day, ())}.get(state, tuple(lines))
        made.append(WindowDay(day, state, int(inside[at]), reasons))
    return tuple(made)


def _is_known(hours: Hours) -> NDArray[np.bool_]:
    known: NDArray[np.bool_] = ~np.isnan(hours.values["fine fuel moisture"] + hours.values["wind at 20 ft"])
    return known
