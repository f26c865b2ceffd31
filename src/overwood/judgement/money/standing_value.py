"""What the trees of a stand bring as they grow on: trees, growth and prices of ``choices``, read at any year."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overwood.ground.records import StandFile
from overwood.judgement.leave_rule import largest_oaks
from overwood.judgement.money.choices import PricedStand
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules

Array = NDArray[np.float64]
# Years at which the trees are grown on and cut up, and years behind a cut; between them the value grows at one rate.
_YEARS, _BEHIND = np.array([0, 5, 10, 15, 20, 30, 40]), np.array([0, 5, 10, 20])


class _Left(NamedTuple):
    """Trees that a cut leaves: their value in each of the years as if nothing were cut, and how many times that they
    are worth so long behind a cut of today."""

    usd_ac: Array
    gained: Array


class StandingValue:
    """Value of the tallied trees of a stand in a year, all of them or those a cut left [US$/ac], at mean prices.

    At the years that the trees are grown to it is that of ``choices``; between them it was within two hundredths on
    the demo. What a cut gains the trees it leaves is taken from a cut of today, wherever the cut falls.
    """

    def __init__(self, file: StandFile, rules: Rules, prices: PriceList) -> None:
        self._stand, self._rules = PricedStand(file, rules, prices), rules
        self._trees: Array = np.zeros((0, 0))
        self._left: dict[float, _Left] = {}

    def whole(self, years: Array) -> Array:
        """All trees, where nothing is cut before."""
        return _between(years, _YEARS, self._values().sum(axis=1))

    def left(self, residual_ft2_ac: float, cut: Array, years: Array) -> Array:
        """What a cut to a basal area in one year leaves, in another."""
        left = self._left_by(residual_ft2_ac)
        behind = np.clip(np.asarray(years) - cut, 0, None)
        return _between(years, _YEARS, left.usd_ac) * np.interp(behind, _BEHIND, left.gained)

    def _values(self) -> Array:
        """Value of each tree in each of the years."""
        if not self._trees.size:
            self._trees = np.array([self._stand.values_after(int(year)) for year in _YEARS])
        return self._trees

    def _left_by(self, residual_ft2_ac: float) -> _Left:
        if residual_ft2_ac not in self._left:
            stays = largest_oaks(self._stand.cruise, self._rules, residual_ft2_ac)
            usd_ac = self._values()[:, stays].sum(axis=1)
            behind = np.array([self._stand.values_after(int(year), stays, 0)[stays].sum() for year in _BEHIND])
            uncut = _between(_BEHIND.astype(float), _YEARS, usd_ac)
            self._left[residual_ft2_ac] = _Left(
                usd_ac, np.divide(behind, uncut, out=np.ones(len(_BEHIND)), where=uncut > 0)
            )
        return self._left[residual_ft2_ac]


def _between(years: Array, known: NDArray[np.int64], usd_ac: Array) -> Array:
    """Values between the known years, growing at one rate from each to the next; beyond the last as at the last."""
    return np.asarray(np.expm1(np.interp(years, known, np.log1p(usd_ac))))
