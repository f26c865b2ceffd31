"""Burn days: which hours of a weather record lie inside the card, for one fuel model, year by year."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from overwood.ground.gaps import Gap
from overwood.ground.weather import Weather
from overwood.judgement.fire.after import After, after
from overwood.judgement.fire.card import Law, Range, card
from overwood.judgement.gates.windows import season
from overwood.judgement.rules import Rules
from overwood.science.fire import moisture
from overwood.science.fire.spread import TECHNIQUES, SurfaceFire, surface_fire
from overwood.science.fire.trees import scorch_height_ft

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
DEFAULT_FUELS = ("FM9", "TL6", "TL2")
_DAY_H = 24
# A year's rain is taken from a record of most of a year.
_MOST_OF_A_YEAR_H = 7_000
_HOURS_A_YEAR = 365.25 * _DAY_H


@dataclass(frozen=True)
class Site:
    """What of a stand the fire feels."""

    slope_pct: float
    aspect_deg: float
    wind_factor: float

    def shaded(self, rules: Rules) -> bool:
        """Whether the day tables' shaded column serves in a clear leafless stand: slopes away from the sun."""
        return not rules.number("burn_sunny_from_deg") <= self.aspect_deg <= rules.number("burn_sunny_to_deg")


@dataclass(frozen=True)
class Hours:
    """Everything the card looks at, hour by hour over the window, and the fire of one fuel model."""

    fuel: str
    day: NDArray[np.datetime64]
    hour_of_day: NDArray[np.int64]
    values: dict[str, Array]
    fires: dict[str, SurfaceFire]
    lines: dict[str, Mask]
    legal: Mask
    never: Mask

    @property
    def inside(self) -> Mask:
        """Hours in which every line holds, humidity is not below the floor, and no law closes the hour."""
        inside = self.legal & ~self.never
        for mask in self.lines.values():
            inside = inside & mask
        return inside


@dataclass(frozen=True)
class BurnDay:
    """One day with enough hours in a row inside the card, and the hours after them."""

    day: dt.date
    first_hour: int
    last_hour: int
    hours: int
    head_flame_ft: tuple[Gap, Gap]
    head_scorch_ft: tuple[Gap, Gap]
    temp_f: Gap
    rh_pct: Gap
    wind_mi_h: Gap
    fine_moisture_pct: Gap
    after: After


@dataclass(frozen=True)
class Behaviour:
    """What one technique does in the hours inside the card, medians; the backing spread's upper end is without wind."""

    technique: str
    hours: int
    spread_ch_h: Gap
    spread_high_ch_h: Gap
    flame_ft: Gap
    intensity_btu_ft_s: Gap
    scorch_ft: Gap
    residence_min: Gap


@dataclass(frozen=True)
class Season:
    """Burn days of one year's window, and days whose hours until dark broke them."""

    year: int
    days: tuple[BurnDay, ...]
    broken: tuple[BurnDay, ...]
    hours_inside: int
    hours_known: int
    hours_in_window: int


@dataclass(frozen=True)
class BurnDays:
    """What a weather record says of a window of dates, for one fuel model."""

    fuel: str
    window: str
    seasons: tuple[Season, ...]
    lost_to: dict[str, int]
    hours: Hours = field(repr=False, metadata={"inner": True})
    behaviour: tuple[Behaviour, ...]
    flame_span_ft: tuple[float, float, float]
    moistures_pct: dict[str, float]
    rain_known: bool

    DERIVED: ClassVar = ("mean_days",)

    @property
    def counts(self) -> list[int]:
        return [len(season.days) for season in self.seasons]

    @property
    def mean_days(self) -> float:
        return float(np.mean(self.counts)) if self.counts else float("nan")


@dataclass(frozen=True)
class Dryness:
    """What the record says of the whole time: drought, rain, and the wetter fuel, hour by hour."""

    drought: Array
    days_since_rain: Array
    rain_known: bool
    litter_pct: Array
    equilibrium_1h_pct: Array
    equilibrium_10h_pct: Array


def dryness(weather: Weather, rules: Rules) -> Dryness:
    """Drought index, days since rain and the slower moistures over a whole record."""
    known = not np.isnan(weather.rain_in).all()
    daily_rain, daily_max, of_day = _daily(weather)
    hours = int((~np.isnan(weather.rain_in)).sum())
    annual = (
        float(np.nansum(weather.rain_in)) * _HOURS_A_YEAR / hours
        if hours > _MOST_OF_A_YEAR_H
        else rules.number("burn_annual_rain_in")
    )
    drought = moisture.drought_index(daily_max, daily_rain, annual, start=rules.number("burn_drought_start"))
    counts = _rained(weather, rules.number("burn_rain_counts_in"))
    start = float(moisture.equilibrium_pct(50, 50))
    air = moisture.equilibrium_pct(weather.temp_f, weather.rh_pct)
    return Dryness(
        drought=drought[of_day],
        days_since_rain=hours_since(counts) / _DAY_H,
        rain_known=known or bool(weather.wet.any()),
        litter_pct=moisture.litter_pct(weather.temp_f, weather.rh_pct, weather.wind_mi_h, weather.rain_in, start),
        equilibrium_1h_pct=moisture.lagged_pct(air, start, 1.0),
        equilibrium_10h_pct=moisture.lagged_pct(air, start, 10.0),
    )


def _daily(weather: Weather) -> tuple[Array, Array, NDArray[np.int64]]:
    """Rain and highest temperature of each day, and which day each hour is of."""
    days, of_day = np.unique(weather.day, return_inverse=True)
    rain = np.asarray(
        np.bincount(of_day, weights=np.nan_to_num(weather.rain_in), minlength=len(days)), dtype=np.float64
    )
    highest = np.full(len(days), -np.inf)
    np.maximum.at(highest, of_day, np.nan_to_num(weather.temp_f, nan=-np.inf))
    return rain, np.where(np.isinf(highest), np.nan, highest), of_day.astype(np.int64)


def _rained(weather: Weather, counts_in: float) -> Mask:
    """Hours that end a day's worth of rain; where amounts are not known, hours seen wet."""
    total = np.cumsum(np.nan_to_num(weather.rain_in))
    before = np.concatenate((np.zeros(_DAY_H), total[:-_DAY_H])) if len(total) > _DAY_H else np.zeros(len(total))
    raining = np.nan_to_num(weather.rain_in) > 0
    measured = raining & (total - before >= counts_in - 1e-9)
    return np.where(np.isnan(weather.rain_in), weather.wet, measured)


def hours_since(mask: Mask) -> Array:
    """Whole hours since the last hour marked; NaN before the first."""
    place = np.arange(len(mask))
    last = np.maximum.accumulate(np.where(mask, place, -1))
    return np.where(last >= 0, (place - last).astype(np.float64), np.nan)


def in_window(weather: Weather, rules: Rules, window: str) -> Mask:
    """Ignition hours of the days of a window."""
    days = np.unique(weather.day)
    inside = np.zeros(len(days), dtype=bool)
    for year in range(int(weather.year.min()) - 1, int(weather.year.max()) + 1):
        span = season(rules, window, year)
        inside |= (days >= np.datetime64(span.start)) & (days <= np.datetime64(span.end))
    of_day = np.searchsorted(days, weather.day)
    hour = weather.hour_of_day
    return inside[of_day] & (hour >= rules.number("burn_hour_first")) & (hour <= rules.number("burn_hour_last"))


def hours_of(weather: Weather, dry: Dryness, chosen: Mask, site: Site, fuel: str, rules: Rules, law: Law) -> Hours:
    """The card, line by line, at chosen hours for one fuel model. Raises KeyError when there is no such fuel model."""
    temp, rh, wind = weather.temp_f[chosen], weather.rh_pct[chosen], weather.wind_mi_h[chosen]
    hour, day = weather.hour_of_day[chosen], weather.day[chosen]
    fine = moisture.table_pct(
        temp,
        rh,
        weather.month[chosen],
        hour,
        shaded=site.shaded(rules),
        slope_pct=site.slope_pct,
        aspect_deg=site.aspect_deg,
    )
    ten = fine + rules.number("burn_10h_over_1h_pct")
    angle = weather.wind_from_deg[chosen] - site.aspect_deg
    head = surface_fire(
        fuel,
        moisture_1h_pct=fine,
        moisture_10h_pct=ten,
        moisture_100h_pct=fine + rules.number("burn_100h_over_1h_pct"),
        live_herb_pct=rules.number("burn_live_herb_pct"),
        live_woody_pct=rules.number("burn_live_woody_pct"),
        midflame_mi_h=wind * site.wind_factor,
        slope_pct=site.slope_pct,
        # Where the wind's direction is not known it is taken to blow upslope, which is worst.
        wind_from_upslope_deg=np.nan_to_num(angle),
    )
    values = {
        "air temperature": temp,
        "humidity": rh,
        "wind at 20 ft": wind,
        "fine fuel moisture": fine,
        "10-hour fuel moisture": ten,
        "days since rain": dry.days_since_rain[chosen],
        "drought index": dry.drought[chosen],
        "flame of a head fire": head.flame_ft,
    }
    lines = {line.what: _holds(line, values[line.what], weather.gust_mi_h[chosen], dry) for line in card(rules)}
    legal = (
        np.array([law.allows(d, int(h)) for d, h in zip(day.astype(dt.date), hour, strict=True)], dtype=bool)
        if law.closed
        else np.ones(len(hour), dtype=bool)
    )
    fires = {technique: head.by(technique) for technique in TECHNIQUES}
    return Hours(fuel, day, hour, values, fires, lines, legal, rh < rules.number("burn_rh_never_pct"))


def _holds(line: Range, value: Array, gust: Array, dry: Dryness) -> Mask:
    """Whether a line holds; the gust counts for the upper end of the wind, and rain that is not known shuts nothing."""
    if line.what == "wind at 20 ft":
        return line.holds(value) & ~(gust > line.high)
    if line.what == "days since rain" and not dry.rain_known:
        return np.ones(len(value), dtype=bool)
    return line.holds(value)


def burn_days(
    weather: Weather,
    site: Site,
    fuel: str,
    rules: Rules,
    law: Law,
    *,
    window: str = "window_burn",
    dry: Dryness | None = None,
) -> BurnDays:
    """Burn days of every year of a record, for one fuel model. Raises KeyError when there is no such fuel model."""
    chosen = in_window(weather, rules, window)
    dried = dry or dryness(weather, rules)
    hours = hours_of(weather, dried, chosen, site, fuel, rules, law)
    years = weather.year[chosen]
    factor_wind = weather.wind_mi_h[chosen] * site.wind_factor
    scorch = scorch_height_ft(hours.fires["head"].intensity_btu_ft_s, hours.values["air temperature"], factor_wind)
    seasons = tuple(_season_of(int(year), hours, scorch, years == year, rules, weather) for year in np.unique(years))
    flames = hours.values["flame of a head fire"]
    known = flames[~np.isnan(flames)]
    low, middle, high = np.percentile(known, [10, 50, 90]) if len(known) else (float("nan"),) * 3
    behaviour = _behaviour(hours, factor_wind)
    return BurnDays(
        fuel=fuel,
        window=window,
        seasons=seasons,
        lost_to=_lost_to(hours),
        hours=hours,
        behaviour=behaviour,
        flame_span_ft=(float(low), float(middle), float(high)),
        moistures_pct=_moistures(hours, dried, chosen),
        rain_known=dried.rain_known,
    )


def _moistures(hours: Hours, dry: Dryness, chosen: Mask) -> dict[str, float]:
    """Medians of each way to fuel moisture over the hours inside the card, or all hours where none is."""
    inside = hours.inside if hours.inside.any() else np.ones(len(hours.inside), dtype=bool)
    ways = {
        "day tables, fine fuel": hours.values["fine fuel moisture"],
        "equilibrium of the air, fine fuel": dry.equilibrium_1h_pct[chosen],
        "equilibrium with a lag of ten hours": dry.equilibrium_10h_pct[chosen],
        "litter code with rain": dry.litter_pct[chosen],
    }
    return {
        name: float(np.nanmedian(values[inside])) for name, values in ways.items() if not np.isnan(values[inside]).all()
    }


def _behaviour(hours: Hours, midflame: Array) -> tuple[Behaviour, ...]:
    """Medians over the hours inside the card; over all hours known where none is inside."""
    inside = hours.inside
    chosen = inside if inside.any() else ~np.isnan(hours.values["flame of a head fire"])
    if not chosen.any():
        return ()
    rows = []
    for technique, fire in hours.fires.items():
        spread = float(np.median(fire.spread_ch_h[chosen]))
        still = float(np.median(fire.no_wind_ch_h[chosen]))
        intensity = fire.intensity_btu_ft_s[chosen]
        scorch = scorch_height_ft(intensity, hours.values["air temperature"][chosen], midflame[chosen])
        high = max(spread, still) if technique == "backing" else spread
        rows.append(
            Behaviour(
                technique,
                int(inside.sum()),
                spread,
                high,
                float(np.median(fire.flame_ft[chosen])),
                float(np.median(intensity)),
                float(np.median(scorch)),
                fire.residence_min,
            )
        )
    return tuple(rows)


def _lost_to(hours: Hours) -> dict[str, int]:
    """For each line, the hours that it alone keeps out."""
    masks = {**hours.lines, "law": hours.legal}
    shut = sum((~mask).astype(np.int64) for mask in masks.values())
    return {what: int(((shut == 1) & ~mask).sum()) for what, mask in masks.items()}


def _season_of(year: int, hours: Hours, scorch_ft: Array, of_year: Mask, rules: Rules, weather: Weather) -> Season:
    inside = hours.inside & of_year
    known = of_year & ~np.isnan(hours.values["fine fuel moisture"] + hours.values["wind at 20 ft"])
    days = []
    for day in np.unique(hours.day[inside]):
        places = np.flatnonzero(inside & (hours.day == day))
        run = _longest_run(places, hours.hour_of_day)
        if len(run) >= rules.number("burn_hours_in_row"):
            days.append(_day_of(day, run, hours, scorch_ft[run], weather, rules))
    good, broken = (tuple(one for one in days if bool(one.after.breaks) is broke) for broke in (False, True))
    return Season(year, good, broken, int(inside.sum()), int(known.sum()), int(of_year.sum()))


def _longest_run(places: NDArray[np.int64], hour_of_day: NDArray[np.int64]) -> NDArray[np.int64]:
    parts = np.split(places, np.flatnonzero(np.diff(hour_of_day[places]) != 1) + 1)
    return max(parts, key=len)


def _day_of(
    day: np.datetime64, run: NDArray[np.int64], hours: Hours, scorch_ft: Array, weather: Weather, rules: Rules
) -> BurnDay:
    def mean(what: str) -> float:
        return float(hours.values[what][run].mean())

    flame = hours.values["flame of a head fire"][run]
    first, last = (
        int((day.astype("datetime64[h]") + hours.hour_of_day[place] - weather.hour[0]).astype(np.int64))
        for place in (run[0], run[-1])
    )
    return BurnDay(
        day=day.astype(dt.date),
        first_hour=int(hours.hour_of_day[run[0]]),
        last_hour=int(hours.hour_of_day[run[-1]]),
        hours=len(run),
        head_flame_ft=(float(flame.min()), float(flame.max())),
        head_scorch_ft=(float(scorch_ft.min()), float(scorch_ft.max())),
        temp_f=mean("air temperature"),
        rh_pct=mean("humidity"),
        wind_mi_h=mean("wind at 20 ft"),
        fine_moisture_pct=mean("fine fuel moisture"),
        after=after(weather, first, last, rules),
    )
