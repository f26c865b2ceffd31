"""Hourly weather as the science takes it: local standard time, fixed units, a number or a gap for every hour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Weather:
    """Whole years or parts of them, hour by hour without a break; a gap is NaN.

    ``hour`` is the start of each hour, local standard time, as datetime64[h]. Wind and gusts are those at 20 ft; mixing
    height is above the ground, and the transport wind its mean below it. ``wet`` marks hours with rain or snow by
    amount or by the code of present weather.
    """

    hour: NDArray[np.datetime64]
    temp_f: Array
    rh_pct: Array
    wind_mi_h: Array
    gust_mi_h: Array
    wind_from_deg: Array
    mixing_ft: Array
    transport_mi_h: Array
    rain_in: Array
    wet: NDArray[np.bool_]
    composite: bool
    file: str
    notes: tuple[str, ...]

    @property
    def day(self) -> NDArray[np.datetime64]:
        return self.hour.astype("datetime64[D]")

    @property
    def year(self) -> NDArray[np.int64]:
        return self.hour.astype("datetime64[Y]").astype(np.int64) + 1970

    @property
    def month(self) -> NDArray[np.int64]:
        return self.hour.astype("datetime64[M]").astype(np.int64) % 12 + 1

    @property
    def hour_of_day(self) -> NDArray[np.int64]:
        return (self.hour - self.day).astype(np.int64)
