"""The hours after a burn's last good one, to the end of the next day: what could still carry the fire off or smoke a
road in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures
from overwood.ground.gaps import Gap
from overwood.ground.weather import Weather
from overwood.judgement.rules import Rules

Array = NDArray[np.float64]
_DAY_H = 24


@dataclass(frozen=True)
class After:
    """Most wind and gust, widest shift from the burn's own wind, least humidity and the rain of the hours after; NaN
    where not known.

    ``breaks`` names what passed its limit in the hours until dark, ``unknown`` what the file does not say.
    """

    wind_most_mi_h: Gap
    gust_most_mi_h: Gap
    shift_most_deg: Gap
    rh_least_pct: Gap
    rain_in: Gap
    mixing_least_ft: Gap
    transport_least_mi_h: Gap
    breaks: tuple[str, ...]
    unknown: tuple[str, ...]

    DERIVED: ClassVar = ("words",)

    @property
    def words(self) -> str:
        """What is known of them in one line, and what to ask the forecast."""
        known = [
            text
            for value, text in (
                (self.wind_most_mi_h, f"wind to {measures.amount(self.wind_most_mi_h, 'mi/h')}"),
                (self.gust_most_mi_h, f"gusts to {measures.digits(self.gust_most_mi_h, 'mi/h')}"),
                (self.shift_most_deg, f"wind shifts by {self.shift_most_deg:.0f} degrees"),
                (self.rh_least_pct, f"humidity down to {self.rh_least_pct:.0f}%"),
                (self.rain_in, f"{measures.amount(self.rain_in, 'in. of rain', '.2f')}"),
                (self.mixing_least_ft, f"mixing height from {measures.amount(self.mixing_least_ft, 'ft', ',.0f')}"),
                (
                    self.transport_least_mi_h,
                    f"transport wind from {measures.amount(self.transport_least_mi_h, 'mi/h')}",
                ),
            )
            if not np.isnan(value)
        ]
        asked = f"ask the forecast: {', '.join(self.unknown)}" if self.unknown else ""
        return "; ".join(part for part in (", ".join(known), asked) if part)


def after(weather: Weather, first: int, last: int, rules: Rules) -> After:
    """The hours after a burn that ran over the hours ``first`` to ``last`` of a record (places on its clock)."""
    until_dark = slice(last + 1, last + 1 + int(rules.number("burn_watch_h")))
    next_day_end = last + 1 + _DAY_H + (_DAY_H - 1 - int(weather.hour_of_day[last]))
    whole, during = slice(last + 1, next_day_end), slice(first, last + 1)
    limits = (
        ("wind", weather.wind_mi_h, rules.number("burn_wind_high_mi_h")),
        ("gusts", weather.gust_mi_h, rules.number("burn_gust_after_mi_h")),
    )
    by_name = {
        "wind": _most(weather.wind_mi_h[whole]),
        "gusts": _most(weather.gust_mi_h[whole]),
        "a shift of the wind": _shift_deg(weather.wind_from_deg[whole], weather.wind_from_deg[during]),
        "humidity": _least(weather.rh_pct[whole]),
        "rain": float(np.nansum(weather.rain_in[whole])) if (~np.isnan(weather.rain_in[whole])).any() else float("nan"),
        # Smoke is carried off while the fire runs: these two count during the burn.
        "mixing height": _least(weather.mixing_ft[during]),
        "transport wind": _least(weather.transport_mi_h[during]),
    }
    wind, gusts, shift, rh, rain, mixing, transport = by_name.values()
    return After(
        wind_most_mi_h=wind,
        gust_most_mi_h=gusts,
        shift_most_deg=shift,
        rh_least_pct=rh,
        rain_in=rain,
        mixing_least_ft=mixing,
        transport_least_mi_h=transport,
        breaks=tuple(name for name, values, most in limits if (values[until_dark] > most).any()),
        unknown=tuple(name for name, value in by_name.items() if np.isnan(value)),
    )


def _most(values: Array) -> float:
    return float(np.nanmax(values)) if (~np.isnan(values)).any() else float("nan")


def _least(values: Array) -> float:
    return float(np.nanmin(values)) if (~np.isnan(values)).any() else float("nan")


def _shift_deg(after_deg: Array, during_deg: Array) -> float:
    """The widest angle between the mean direction of the burn and any hour after it; NaN where either is not known."""
    steady, later = during_deg[~np.isnan(during_deg)], after_deg[~np.isnan(after_deg)]
    if not len(steady) or not len(later):
        return float("nan")
    mean = np.angle(np.exp(1j * np.radians(steady)).mean())
    return float(np.degrees(np.abs(np.angle(np.exp(1j * (np.radians(later) - mean))))).max())
