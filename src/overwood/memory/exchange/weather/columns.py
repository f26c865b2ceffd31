"""From a weather file to columns of known quantity and unit."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.ground.errors import Misuse, NotFound

if TYPE_CHECKING:
    import polars as pl

Array = NDArray[np.float64]
QUANTITIES = ("temp", "dew", "rh", "wind", "gust", "wind_from", "rain", "code", "mixing", "transport")
UNITS = {
    "temp": ("F", "C"),
    "dew": ("F", "C"),
    "rh": ("%", "share"),
    "wind": ("mi/h", "m/s", "kn", "km/h"),
    "gust": ("mi/h", "m/s", "kn", "km/h"),
    "rain": ("in", "mm"),
    "mixing": ("ft", "m"),
    "transport": ("mi/h", "m/s", "kn", "km/h"),
}
_WRITTEN = {
    "f": "F", "degf": "F", "c": "C", "degc": "C", "%": "%", "pct": "%", "percent": "%", "mph": "mi/h", "mi/h": "mi/h",
    "m/s": "m/s",
    "ms": "m/s", "mps": "m/s", "kt": "kn", "kn": "kn", "kts": "kn", "knots": "kn", "km/h": "km/h", "kmh": "km/h",
    "kph": "km/h", "in": "in",
    "inch": "in", "mm": "mm", "ft": "ft", "feet": "ft", "m": "m", "agl ft": "ft",
}  # fmt: skip
_EMPTY = ("", "na", "nan", "null", "none", "m", "-9999", "-9900", "9999")
# The hours a time is ahead of universal time, as ISO 8601 writes them after the minutes; zero is universal time itself.
_AHEAD = re.compile(r":\d{2}(?:\.\d+)?\s?(?!\+00:?00$)([+-])(\d{2}):?(\d{2})$")
# Whatever else the clock's library would take (a zone of another form, "now", a year alone) would be a wrong time
# without a word.
_PLAIN = re.compile(r"\d{4}-\d{2}-\d{2}(T\d{2}(:\d{2}(:\d{2}(\.\d+)?)?)?)?")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """How a person wants a file read: columns and units by quantity, station, clock."""

    columns: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    station: str = ""
    clock: str = ""
    zone_h: float | None = None
    wind_height: str = "10m"


@dataclass(frozen=True)
class Columns:
    """Hours as written, and numbers by quantity in the units named; NaN where a cell holds none."""

    hour: NDArray[np.datetime64]
    clock: str
    values: dict[str, Array]
    units: dict[str, str]
    months_of_other_years: bool
    zone_h: float | None
    unreadable: dict[str, int]
    notes: tuple[str, ...]


def columns_of(path: Path, how: Reading) -> Columns:
    """The columns of a file by what they are. Raises NotFound when the file cannot be read; Misuse naming the column
    that is missing or twice there, or the stations to choose from."""
    import polars as pl

    try:
        text = path.read_text(encoding="utf-8-sig", errors="replace")
    except OSError as fault:
        raise NotFound(f"the weather file {path} cannot be read: {fault.strerror}.") from fault
    skip, zone = _preamble(text)
    try:
        table = pl.read_csv(io.StringIO(text), skip_rows=skip, infer_schema=False, truncate_ragged_lines=True)
    except pl.exceptions.PolarsError as fault:
        raise Misuse(
            f"{path.name} is no table: {fault}.", remedy="One row an hour, headings in the first row."
        ) from fault
    column_of, written = _matched(table.columns, how, path.name)
    table = _one_station(table, column_of, how, path.name)
    hour, clock, other_years = _hours(table, column_of, how, path.name)
    zone = zone if zone is not None else _zone_of(_times(table, column_of))
    values, unreadable = {}, {}
    for quantity in QUANTITIES:
        if quantity in column_of:
            values[quantity], bad = _numbers(table[column_of[quantity]].to_list())
            if bad:
                unreadable[quantity] = bad
    units, notes = _units(values, written, how, path.name)
    return Columns(
        hour, clock, values, units, other_years, how.zone_h if how.zone_h is not None else zone, unreadable, notes
    )


def _preamble(text: str) -> tuple[int, float | None]:
    """Rows before the headings; a TMY3 file has one, which tells the zone."""
    first, _, rest = text.partition("\n")
    second = rest.partition("\n")[0]
    if "Time (HH:MM)" not in second:
        return 0, None
    cells = next(csv.reader([first]))
    try:
        return 1, float(cells[3])
    except (IndexError, ValueError):
        return 1, None


def _known() -> dict[str, tuple[str, str]]:
    known = tables.rows("memory/exchange/weather/headings.csv")
    return {row["heading"]: (row["quantity"], row["unit"]) for row in known}


def _matched(headings: list[str], how: Reading, file: str) -> tuple[dict[str, str], dict[str, str]]:
    """Column of each quantity, and the unit its heading names."""
    known, column_of, units = _known(), {}, {}
    for heading in headings:
        whole = heading.strip().lower()
        bare, unit = _split_unit(whole)
        quantity, of_table = known.get(whole) or known.get(bare) or ("", "")
        if quantity and quantity not in column_of:
            column_of[quantity] = heading
            units[quantity] = of_table or unit
    for quantity, heading in how.columns.items():
        if heading not in headings:
            raise Misuse(f"{file} has no column {heading!r}.", remedy=f"It has {', '.join(headings[:30])}.")
        column_of[quantity], units[quantity] = heading, _split_unit(heading.strip().lower())[1]
    for need in ("temp", "wind"):
        if need not in column_of:
            raise Misuse(
                f"{file}: no column is known as {need}.",
                remedy=f"Name it: --column {need}=HEADING. It has {', '.join(headings[:30])}.",
            )
    if "rh" not in column_of and "dew" not in column_of:
        raise Misuse(f"{file} has neither humidity nor dew point.", remedy="Name one: --column rh=HEADING.")
    return column_of, units


def _split_unit(heading: str) -> tuple[str, str]:
    """Heading without its unit, and the unit: 'dry-bulb (c)' or 'temp_f'."""
    bracket = re.fullmatch(r"(.*?)\s*[\(\[](.*?)[\)\]]\s*", heading)
    if bracket:
        return bracket[1], _WRITTEN.get(bracket[2].strip(), "")
    tail = re.fullmatch(r"(.*)_([a-z/%]+)", heading)
    if tail and tail[2] in _WRITTEN:
        return tail[1], _WRITTEN[tail[2]]
    return heading, ""


def _one_station(table: pl.DataFrame, column_of: dict[str, str], how: Reading, file: str) -> pl.DataFrame:
    import polars as pl

    if "station" not in column_of:
        return table
    names = sorted(str(name) for name in table[column_of["station"]].unique().to_list())
    if not how.station and len(names) > 1:
        raise Misuse(
            f"{file} holds {len(names)} stations: {', '.join(names[:12])}.", remedy="Choose one with --station NAME."
        )
    if how.station and how.station not in names:
        raise Misuse(f"{file} has no station {how.station!r}.", remedy=f"It has {', '.join(names[:12])}.")
    return table.filter(pl.col(column_of["station"]) == (how.station or names[0]))


def _hours(
    table: pl.DataFrame, column_of: dict[str, str], how: Reading, file: str
) -> tuple[NDArray[np.datetime64], str, bool]:
    """Start of each row's hour, by which clock it is kept, and whether months are of different years."""
    if {"year", "month", "day", "hour"} <= set(column_of) and how.clock != "utc":
        parts = [table[column_of[name]].cast(int, strict=False).to_list() for name in ("year", "month", "day", "hour")]
        text = [
            "NaT" if None in part else "{:04d}-{:02d}-{:02d}T{:02d}".format(*part) for part in zip(*parts, strict=True)
        ]
        return np.array(text, dtype="datetime64[h]"), "local", False
    if "clock_end" in column_of and "date" in column_of:
        return _end_of_hour(table[column_of["date"]].to_list(), table[column_of["clock_end"]].to_list())
    name = _time_column(column_of)
    if not name:
        raise Misuse(
            f"{file} has no column of times.",
            remedy="Name it: --column time=HEADING, with times such as 2024-02-15 13:00.",
        )
    written = _times(table, column_of)
    if _zone_of(written) is not None:
        _all_ahead(written, file)
        return np.array([_moment(text) for text in written], dtype="datetime64[h]"), "utc", False
    zoned = name == column_of.get("utc") or any(text.endswith(("Z", "+00:00", "UTC")) for text in written[:50])
    return (
        np.array([_moment(text) for text in written], dtype="datetime64[h]"),
        how.clock or ("utc" if zoned else "local"),
        False,
    )


def _time_column(column_of: dict[str, str]) -> str:
    return column_of.get("time") or column_of.get("utc") or column_of.get("date") or ""


def _times(table: pl.DataFrame, column_of: dict[str, str]) -> list[str]:
    name = _time_column(column_of)
    return [str(cell or "").strip() for cell in table[name].to_list()] if name else []


def _ahead_min(text: str) -> int | None:
    """Minutes that a time says it is ahead of universal time; None where it says none."""
    ahead = _AHEAD.search(text)
    return int(f"{ahead[1]}1") * (60 * int(ahead[2]) + int(ahead[3])) if ahead else None


def _zone_of(written: list[str]) -> float | None:
    """Hours of standard time, as the times say themselves: summer time is the later of two, so standard time is the
    lesser."""
    said = {minutes for text in written if (minutes := _ahead_min(text)) is not None}
    return min(said) / 60 if said else None


def _all_ahead(written: list[str], file: str) -> None:
    """A file that says the zone of some times says it of all: a bare time among them could be either."""
    bare = [text for text in written if text and _ahead_min(text) is None]
    if bare:
        raise Misuse(
            f"{file}: {len(bare)} times name no zone while others do, the first {bare[0]!r}.",
            remedy="Write the zone behind every time, or behind none.",
        )


def _moment(text: str) -> np.datetime64:
    minutes = _ahead_min(text)
    if minutes is not None:
        bare = text[: _AHEAD.search(text).start(1)].rstrip()  # type: ignore[union-attr]
        return _moment(bare) - np.timedelta64(round(minutes / 60), "h")
    bare = re.sub(r"(Z|\+00:?00| UTC)$", "", text).replace("/", "-").replace(" ", "T")
    american = re.fullmatch(r"(\d{1,2})-(\d{1,2})-(\d{4})(T.*)?", bare)
    if american:
        bare = f"{american[3]}-{int(american[1]):02d}-{int(american[2]):02d}{american[4] or ''}"
    if not _PLAIN.fullmatch(bare):
        return np.datetime64("NaT", "h")
    try:
        return np.datetime64(bare, "h")
    except ValueError:
        return np.datetime64("NaT", "h")


def _end_of_hour(days: list[str], clocks: list[str]) -> tuple[NDArray[np.datetime64], str, bool]:
    """TMY3 stamps: the end of the hour, to 24:00, each month from a year of its own; all are put into one year."""
    parts = [day.split("/") for day in days]
    years = {part[2] for part in parts}
    year = next(iter(years)) if len(years) == 1 else "2001"
    stamps = [f"{year}-{part[0]}-{part[1]}T00" for part in parts]
    hours = np.array([int(clock.split(":")[0]) - 1 for clock in clocks])
    return np.array(stamps, dtype="datetime64[h]") + hours, "local", len(years) > 1


def _numbers(cells: list[str | None]) -> tuple[Array, int]:
    """Cells as numbers; how many hold words that are none."""
    column_of, bad = np.full(len(cells), np.nan), 0
    for place, cell in enumerate(cells):
        text = (cell or "").strip()
        if text.lower() in _EMPTY:
            continue
        try:
            column_of[place] = float(text)
        except ValueError:
            bad += 1
    return column_of, bad


def _units(
    values: dict[str, Array], written: dict[str, str], how: Reading, file: str
) -> tuple[dict[str, str], tuple[str, ...]]:
    """Unit of each quantity: as a person says, else as the heading says, else told from the numbers with a note."""
    column_of, notes = {}, []
    for quantity, numbers in values.items():
        allowed = UNITS.get(quantity)
        if allowed is None:
            continue
        unit = how.units.get(quantity) or written.get(quantity, "")
        if unit and unit not in allowed:
            raise Misuse(f"{file}: {quantity} cannot be in {unit!r}.", remedy=f"Units: {', '.join(allowed)}.")
        if not unit:
            unit = _guessed(quantity, numbers)
            notes.append(f"{quantity} names no unit and is read as {unit}; name another with --unit {quantity}=...")
        column_of[quantity] = unit
    return column_of, tuple(notes)


# A place warm enough for oaks and cold enough for winter burns passes this in C never, in F every year.
_HOTTEST_C = 50.0


def _guessed(quantity: str, numbers: Array) -> str:
    known = numbers[~np.isnan(numbers)]
    if quantity in ("temp", "dew"):
        return "F" if len(known) and known.max() > _HOTTEST_C else "C"
    if quantity == "rh":
        return "share" if len(known) and known.max() <= 1.0 else "%"
    return UNITS[quantity][0]
