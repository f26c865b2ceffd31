"""The burn card: ranges that hours and days must lie in, and hours the law closes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures
from overwood.ground.errors import BadRule
from overwood.judgement.rules import Rules, toml_file

_WIND = "20 ft"
# Lines of the card: what is looked at, its unit, and the entries of the rulebook for its ends ("" where there is none).
LINES: tuple[tuple[str, str, str, str], ...] = (
    ("air temperature", "F", "burn_temp_low_f", "burn_temp_high_f"),
    ("humidity", "%", "burn_rh_low_pct", "burn_rh_high_pct"),
    ("wind at 20 ft", "mi/h", "burn_wind_low_mi_h", "burn_wind_high_mi_h"),
    ("fine fuel moisture", "%", "burn_moisture_1h_low_pct", "burn_moisture_1h_high_pct"),
    ("10-hour fuel moisture", "%", "burn_moisture_10h_low_pct", "burn_moisture_10h_high_pct"),
    ("days since rain", "days", "burn_days_since_rain_low", "burn_days_since_rain_high"),
    ("drought index", "hundredths of an inch", "", "burn_drought_most"),
    ("flame of a head fire", "ft", "burn_flame_low_ft", "burn_flame_high_ft"),
)
UNFILLED = (
    "LEGAL HOURS, PERMITS AND BANS ARE NOT FILLED IN: no hour shown here is known to be legal. Ask your state, "
    "then give --law FILE."
)
# The same for one who gives no command, such as the reader of a paper.
NOT_FILLED_IN = UNFILLED.partition(", then")[0]
_TEXTS = ("filled_by", "filled_on", "asked", "permit")
_OF_CLOSED = ("from", "to", "first_hour", "last_hour")
_DAY_HOURS = 24


@dataclass(frozen=True)
class Range:
    """One line of the card; an open end is infinite."""

    what: str
    unit: str
    low: float
    high: float

    DERIVED: ClassVar = ("words",)

    def holds(self, value: NDArray[Any]) -> NDArray[np.bool_]:
        """Where a value lies inside; a gap does not."""
        return (value >= self.low) & (value <= self.high)

    @property
    def words(self) -> str:
        if np.isinf(self.low):
            return f"at most {measures.amount(self.high, self.unit, 'g')}"
        return measures.span(self.low, self.high, self.unit, "g")

    @property
    def label(self) -> str:
        """What is looked at, as a reader has it."""
        return label(self.what)


def label(what: str) -> str:
    """A line by its name; the height of the wind in the system of units in force."""
    return what.replace(_WIND, measures.amount(20, "ft")) if measures.is_metric() else what


def card(rules: Rules) -> tuple[Range, ...]:
    """The card as the rulebook has it."""
    return tuple(
        Range(what, unit, rules.number(low) if low else -float("inf"), rules.number(high) if high else float("inf"))
        for what, unit, low, high in LINES
    )


def _within(first: Any, one: Any, last: Any) -> bool:
    """Whether one lies between two on a circle: past the turn where the first is later than the last."""
    return first <= one <= last if first <= last else one >= first or one <= last


@dataclass(frozen=True)
class Closed:
    """Hours of the day closed to burning over part of the year, month-day to month-day; either may pass the turn of the
    day or year."""

    first: str
    last: str
    first_hour: int
    last_hour: int
    why: str

    def covers(self, day: dt.date, hour: int) -> bool:
        return _within(self.first, f"{day:%m-%d}", self.last) and _within(self.first_hour, hour, self.last_hour)


@dataclass(frozen=True)
class Law:
    """What a person found out; empty until filled in."""

    filled_by: str = ""
    filled_on: str = ""
    asked: str = ""
    permit: str = ""
    closed: tuple[Closed, ...] = ()

    DERIVED: ClassVar = ("filled", "words")

    @property
    def filled(self) -> bool:
        return bool(self.filled_by and self.filled_on and self.asked and self.permit)

    @property
    def words(self) -> str:
        if not self.filled:
            return UNFILLED
        hours = "; ".join(
            f"closed {c.first} to {c.last}, {c.first_hour}:00 to {c.last_hour + 1}:00 ({c.why})" for c in self.closed
        )
        return (
            f"As {self.filled_by} found on {self.filled_on} ({self.asked}): permit {self.permit}; "
            f"{hours or 'no hours closed'}. Ask again on the day."
        )

    def allows(self, day: dt.date, hour: int) -> bool:
        return not any(closed.covers(day, hour) for closed in self.closed)


def law_template() -> str:
    """An empty file for the law, to be filled in."""
    return Path(__file__).with_name("law.toml").read_text(encoding="utf-8")


def write_law_template(target: Path) -> None:
    """Write an empty file for the law."""
    target.write_text(law_template(), encoding="utf-8")


def load_law(path: Path | None) -> Law:
    """What a person filled in; an empty law without a file. Raises BadRule when the file cannot be read, or naming the
    entry that cannot be used or that nobody reads."""
    if path is None:
        return Law()
    file = toml_file.read(path, what="law file")
    file.known_keys(file.plain, (*_TEXTS, "closed"))
    text = {name: str(file.plain.get(name, "")).strip() for name in _TEXTS}
    return Law(**text, closed=tuple(_closed(file, entry, number) for number, entry in enumerate(file.tables("closed"))))


def _closed(file: toml_file.TomlFile, entry: dict[str, Any], number: int) -> Closed:
    file.known_keys(entry, (*_OF_CLOSED, "why"), "closed", number)

    def needed(name: str, read: Callable[[Any], Any], expected: str) -> Any:
        try:
            return read(entry[name])
        except (KeyError, ValueError, TypeError) as fault:
            where = f"{file.where('closed', number)}: closed block {number + 1}"
            raise BadRule(f"{where}: {name} is {entry.get(name)!r}.", remedy=f"Write {expected}.") from fault

    first, last = (needed(name, _month_day, 'a day of the year such as "02-15"') for name in ("from", "to"))
    hours = [needed(name, _hour, "an hour from 0 to 23") for name in ("first_hour", "last_hour")]
    return Closed(first, last, hours[0], hours[1], str(entry.get("why", "")))


def _month_day(value: Any) -> str:
    # A leap year, so that 29 February is a day.
    return f"{dt.datetime.strptime(f'2000-{value}', '%Y-%m-%d'):%m-%d}"


def _hour(value: Any) -> int:
    hour = int(value)
    if not 0 <= hour < _DAY_HOURS:
        raise ValueError(value)
    return hour
