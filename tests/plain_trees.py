"""Standing trees whose value grows at one rate, of which a cut leaves as much as of the basal area: for sums by hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class PlainTrees:
    usd_ac: float
    growth_share_yr: float
    ba_ft2_ac: float

    def whole(self, years):
        return self.usd_ac * (1 + self.growth_share_yr) ** np.maximum(years, 0.0)

    def left(self, residual_ft2_ac, cut, years):
        return min(residual_ft2_ac / self.ba_ft2_ac, 1.0) * self.whole(years)
