"""The order in which a crew walks mapped trees: strips from west to east, up the first, down the next."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Strips:
    """Strips of one width over a map, numbered from 1 in the west."""

    count: int
    width_ft: float

    def of(self, east_ft: Array) -> NDArray[np.int64]:
        """The strip of each place, shape (n,)."""
        return np.clip((east_ft // self.width_ft).astype(np.int64) + 1, 1, self.count)


def strips(width_ft: float, most_ft: float) -> Strips:
    """As few strips as keep each no wider than ``most_ft``."""
    count = max(math.ceil(width_ft / most_ft), 1)
    return Strips(count, width_ft / count)


def order(east_ft: Array, north_ft: Array, laid: Strips) -> NDArray[np.int64]:
    """Places in walking order, shape (n,): odd strips from south to north, even ones from north to south."""
    number = laid.of(east_ft)
    along = np.where(number % 2 == 1, north_ft, -north_ft)
    return np.lexsort((east_ft, along, number))
