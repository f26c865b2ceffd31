"""Weather columns checked, repaired where that is safe, and set on an unbroken clock."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.ground.units import FT_PER_M
from overwood.ground.weather import Weather
from overwood.memory.exchange.weather.columns import Columns, Reading

Array = NDArray[np.float64]
MI_H = {"mi/h": 1.0, "m/s": 1 / 0.44704, "kn": 1.150779, "km/h": 1 / 1.609344}
# Winds at 10 m over winds at 20 ft (turner1978, a rule of thumb).
WIND_10M_OVER_20FT = 1.15
TEMP_SPAN_F = (-60.0, 125.0)
MOST_WIND_MI_H = 100.0
MOST_RH_PCT, SLIGHTLY_OVER_RH_PCT = 100.0, 105.0
SHORT_GAP_H = 3
# More rain than falls on any oak stand in a year, and in an hour [in].
MOST_RAIN_YR_IN, MOST_RAIN_H_IN = 120.0, 6.0
FEWEST_HOURS = 24 * 20
WARMEST_HOURS = (11, 18)
# Hourly records of a station begin in the 19th century; a file of our time does not reach beyond this one: our own
# choice.
FIRST_YEAR, LAST_YEAR = 1850, 2100
# A file of one season a year has gaps of less than a year; a longer one is a slip in a year, or two files in one.
LONGEST_GAP_D = 366
_RAIN_CODES = (*range(50, 70), *range(80, 85), 90, 91, 92, 95, 96, 97)
_SNOW_CODES = (*range(70, 80), 85, 86)
MM_PER_IN = 25.4


def checked(columns: Columns, how: Reading, file: str) -> Weather:
    """The weather on an unbroken clock, with a note of every repair. Raises Misuse when the clock is not local time, a
    unit cannot be right, or too few hours are there."""
    notes = list(columns.notes)
    for quantity, bad in columns.unreadable.items():
        notes.append(f"{bad} cells of {quantity} are no numbers and count as missing")
    hour = _local(columns, file, notes)
    clock, place = _clock(hour, file, notes)
    on_clock = {name: _placed(values, place, len(clock)) for name, values in columns.values.items()}
    units = columns.units
    temp = _temperature(on_clock["temp"], units["temp"], file)
    rh = _humidity(on_clock, units, temp, file, notes)
    wind, gust = (
        _wind(on_clock.get(name), units.get(name, "mi/h"), name, how, len(clock), notes) for name in ("wind", "gust")
    )
    rain, wet = _rain(on_clock, units.get("rain", "in"), clock, notes)
    for name, values in (("temperature", temp), ("humidity", rh), ("wind", wind)):
        _fill(values, name, notes)
    _check_clock(clock, temp, how, file)
    if columns.months_of_other_years:
        notes.append(
            "a composite year: its months are of different years, so rain history breaks at the first of a month"
        )
    direction = on_clock.get("wind_from", np.full(len(clock), np.nan))
    mixing = on_clock.get("mixing", np.full(len(clock), np.nan)) * (FT_PER_M if units.get("mixing") == "m" else 1.0)
    transport = on_clock.get("transport", np.full(len(clock), np.nan)) * MI_H[units.get("transport", "mi/h")]
    return Weather(
        clock,
        temp,
        rh,
        wind,
        gust,
        direction,
        mixing,
        transport,
        rain,
        wet,
        columns.months_of_other_years,
        file,
        tuple(notes),
    )


def _local(columns: Columns, file: str, notes: list[str]) -> NDArray[np.datetime64]:
    if columns.clock != "utc":
        return columns.hour
    if columns.zone_h is None:
        raise Misuse(
            f"{file} keeps universal time (UTC), and burn hours are local.",
            remedy="Give the zone's hours: --zone -5 for Eastern standard time.",
        )
    whole = round(columns.zone_h)
    notes.append(f"times in UTC are turned to local standard time, {whole:+d} h")
    return columns.hour + np.timedelta64(whole, "h")


def _clock(
    hour: NDArray[np.datetime64], file: str, notes: list[str]
) -> tuple[NDArray[np.datetime64], NDArray[np.int64]]:
    """Every hour from the first to the last of each year at hand, and where each row goes (-1: nowhere)."""
    known = ~np.isnat(hour)
    if not known.all():
        notes.append(f"{int((~known).sum())} rows have no readable time and are left out")
    if known.sum() < FEWEST_HOURS:
        raise Misuse(
            f"{file} holds {int(known.sum())} hours with a readable time.",
            remedy="Times such as 2024-02-15 13:00, one row an hour, a season or more.",
        )
    _check_span(hour[known], file)
    first, last = hour[known].min(), hour[known].max()
    clock = np.arange(first, last + np.timedelta64(1, "h"))
    place = np.where(known, (np.where(known, hour, first) - first).astype(np.int64), -1)
    seen, at = np.unique(place[known], return_index=True)
    twice = int(known.sum()) - len(seen)
    if twice:
        notes.append(f"{twice} hours stand twice, as when clocks go back: the first counts")
        keep = np.zeros(len(hour), dtype=bool)
        keep[np.flatnonzero(known)[at]] = True
        place = np.where(keep, place, -1)
    gone = len(clock) - len(seen)
    if gone:
        notes.append(
            f"{gone} hours are missing between {first} and {last}; gaps up to {SHORT_GAP_H} h are bridged, "
            "longer ones are not judged"
        )
    if _leap_day_missing(clock, seen):
        notes.append("a leap year without 29 February: that day is not judged")
    return clock, place


def _check_span(hours: NDArray[np.datetime64], file: str) -> None:
    """Days that cannot be, and gaps of years, are refused: an unbroken clock over them would be a slip of one digit
    made long. Raises Misuse naming the first such time."""
    years = hours.astype("datetime64[Y]").astype(np.int64) + 1970
    outside = (years < FIRST_YEAR) | (years > LAST_YEAR)
    if outside.any():
        raise Misuse(
            f"{file}: {int(outside.sum())} times lie outside {FIRST_YEAR} to {LAST_YEAR}, the first "
            f"{hours[outside][0]}.",
            remedy="Mend the year in that row.",
        )
    ordered = np.unique(hours)
    gap_d = np.diff(ordered) / np.timedelta64(1, "D")
    if len(gap_d) and gap_d.max() > LONGEST_GAP_D:
        widest = int(gap_d.argmax())
        raise Misuse(
            f"{file}: nothing lies between {ordered[widest]} and {ordered[widest + 1]}, which is "
            f"{gap_d.max() / 365.25:.0f} years.",
            remedy="Mend the year if it is a slip; else give each span a file of its own.",
        )


def _leap_day_missing(clock: NDArray[np.datetime64], seen: NDArray[np.int64]) -> bool:
    days = clock.astype("datetime64[D]").astype(str)
    leap = np.flatnonzero(np.char.endswith(days, "-02-29"))
    return len(leap) > 0 and not np.isin(leap, seen).any()


def _placed(values: Array, place: NDArray[np.int64], size: int) -> Array:
    hours = np.full(size, np.nan)
    hours[place[place >= 0]] = values[place >= 0]
    return hours


def _temperature(values: Array, unit: str, file: str) -> Array:
    temps_f = values * 1.8 + 32 if unit == "C" else values.copy()
    known = temps_f[~np.isnan(temps_f)]
    if len(known) == 0:
        raise Misuse(f"{file}: the temperature column holds no number.")
    low, high = float(known.min()), float(known.max())
    if low < TEMP_SPAN_F[0] or high > TEMP_SPAN_F[1]:
        other = "C" if unit == "F" else "F"
        raise Misuse(
            f"{file}: temperatures from {low:.0f} to {high:.0f} F cannot be, read as {unit}.",
            remedy=f"Try --unit temp={other}.",
        )
    return temps_f


def _humidity(on_clock: dict[str, Array], units: dict[str, str], temp_f: Array, file: str, notes: list[str]) -> Array:
    """Humidity as measured, else from the dew point; over 100 is trimmed or dropped."""
    from_dew = None
    if "dew" in on_clock:
        dew_f = on_clock["dew"] * 1.8 + 32 if units["dew"] == "C" else on_clock["dew"]
        from_dew = 100 * _vapour((dew_f - 32) / 1.8) / _vapour((temp_f - 32) / 1.8)
    if "rh" not in on_clock:
        assert from_dew is not None
        notes.append("humidity is computed from the dew point")
        return np.minimum(from_dew, MOST_RH_PCT)
    humidity = on_clock["rh"] * (100.0 if units["rh"] == "share" else 1.0)
    over = humidity > MOST_RH_PCT
    if over.any():
        far = humidity > SLIGHTLY_OVER_RH_PCT
        notes.append(
            f"{int(over.sum())} humidities over 100%: {int((over & ~far).sum())} trimmed to 100, "
            f"{int(far.sum())} dropped"
        )
        humidity = np.where(far, np.nan, np.minimum(humidity, MOST_RH_PCT))
    if (humidity < 0).any():
        notes.append(f"{int((humidity < 0).sum())} humidities below 0 are dropped")
        humidity = np.where(humidity < 0, np.nan, humidity)
    if np.isnan(humidity).all():
        raise Misuse(f"{file}: no humidity can be used.", remedy="Check the unit: --unit rh=% or rh=share.")
    if from_dew is not None:
        _compare(humidity, from_dew, notes)
    return humidity


def _compare(measured: Array, from_dew: Array, notes: list[str]) -> None:
    off = np.abs(measured - from_dew)
    far = int(np.nansum(off > 10))
    if far:
        notes.append(f"in {far} hours humidity and dew point disagree by more than 10 points; humidity is used")


def _vapour(celsius: Array) -> Array:
    return np.asarray(np.exp(17.67 * celsius / (celsius + 243.5)))


def _wind(values: Array | None, unit: str, name: str, how: Reading, size: int, notes: list[str]) -> Array:
    """Wind at 20 ft; impossible winds are dropped."""
    if values is None:
        return np.full(size, np.nan)
    speed = values * MI_H[unit]
    if unit == "kn":
        notes.append(f"{name} in knots is turned to mi/h")
    impossible = (speed > MOST_WIND_MI_H) | (speed < 0)
    if impossible.any():
        notes.append(
            f"{int(impossible.sum())} impossible {name}s dropped, the worst "
            f"{measures.amount(float(np.nanmax(np.abs(speed))), 'mi/h')}"
        )
        speed = np.where(impossible, np.nan, speed)
    if how.wind_height == "10m":
        if name == "wind":
            notes.append(
                f"winds are taken as those at 10 m and divided by {WIND_10M_OVER_20FT} for the height that the "
                "card goes by (--wind-height 20ft if they are that already)"
            )
        speed = speed / WIND_10M_OVER_20FT
    return speed


def _rain(
    on_clock: dict[str, Array], unit: str, clock: NDArray[np.datetime64], notes: list[str]
) -> tuple[Array, NDArray[np.bool_]]:
    """Rain in inches and wet hours; a unit that cannot be right is mended or the column is dropped, with a note."""
    code = on_clock.get("code")
    wet = (
        np.isin(np.nan_to_num(code, nan=-1).astype(int), (*_RAIN_CODES, *_SNOW_CODES))
        if code is not None
        else np.zeros(len(clock), dtype=bool)
    )
    if "rain" not in on_clock:
        notes.append(
            "there is no rain column"
            + (
                "; wet hours come from the code of present weather"
                if code is not None
                else ": days since rain are not known"
            )
        )
        return np.full(len(clock), np.nan), wet
    rain = on_clock["rain"] / (MM_PER_IN if unit == "mm" else 1.0)
    years = max(len(clock) / 8766, 0.05)
    yearly = float(np.nansum(rain)) / years
    if yearly > MOST_RAIN_YR_IN or float(np.nanmax(np.nan_to_num(rain))) > MOST_RAIN_H_IN:
        rain = rain / 10
        notes.append(
            f"rain of {yearly:.0f} in a year as labeled cannot be: read as tenths of {unit}, "
            f"{yearly / 10:.0f} in a year"
        )
    rain = _drop_blind_months(rain, wet, clock, notes)
    return rain, wet | (np.nan_to_num(rain) > 0)


def _drop_blind_months(rain: Array, wet: NDArray[np.bool_], clock: NDArray[np.datetime64], notes: list[str]) -> Array:
    """Months without a drop of rain in which the code tells of rain have lost their rain: it is not known there."""
    month = clock.astype("datetime64[M]")
    blind = [m for m in np.unique(month) if np.nansum(rain[month == m]) == 0 and wet[month == m].sum() > 3]
    if blind:
        names = ", ".join(str(m) for m in blind[:6])
        notes.append(
            f"rain is missing in {names} though rain was seen: wet hours there come from the code of present weather"
        )
        rain = np.where(np.isin(month, blind), np.nan, rain)
    return rain


def _fill(values: Array, name: str, notes: list[str]) -> None:
    """Bridge gaps of a few hours by a straight line, in place."""
    gap = np.isnan(values)
    if not gap.any():
        return
    ends = np.flatnonzero(np.diff(np.concatenate(([False], gap, [False])).astype(int)))
    bridged = 0
    for start, stop in zip(ends[::2], ends[1::2], strict=True):
        if stop - start <= SHORT_GAP_H and start > 0 and stop < len(values):
            values[start:stop] = np.interp(np.arange(start, stop), [start - 1, stop], [values[start - 1], values[stop]])
            bridged += stop - start
    left = int(np.isnan(values).sum())
    notes.append(f"{name}: {bridged} missing hours bridged" + (f", {left} left as gaps" if left else ""))


def _check_clock(clock: NDArray[np.datetime64], temp_f: Array, how: Reading, file: str) -> None:
    """Days are warmest after noon; a file that says otherwise keeps another clock."""
    if how.clock == "local":
        return
    hour = (clock - clock.astype("datetime64[D]")).astype(np.int64)
    mean = np.array(
        [
            np.nanmean(temp_f[hour == h]) if (hour == h).any() and not np.isnan(temp_f[hour == h]).all() else -np.inf
            for h in range(24)
        ]
    )
    warmest = int(mean.argmax())
    if not WARMEST_HOURS[0] <= warmest <= WARMEST_HOURS[1]:
        raise Misuse(
            f"{file}: days are warmest at {warmest}:00 on average, so its clock is not local time.",
            remedy="Say --clock utc with --zone HOURS, or --clock local if it is local after all.",
        )
