"""What drives the answer: first and total Sobol indices of what nobody knows, and of luck, by a Saltelli design.

Rows of two independent samples A and B; for each input one more sample that is A with that input from B
(``saltelli2010``). The first index is the share of the outcome's variance that goes with the input alone, the total
index that with it and all it acts together with (``jansen1999``). Luck (the count drawn, crops, years, stems) is one
input, since all of it hangs on a seed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.judgement.futures.draws import SOURCES, from_shares, varied
from overwood.judgement.futures.setting import Setting
from overwood.judgement.futures.start import drawn_spaces
from overwood.judgement.rules import Rules

Array = NDArray[np.float64]
LUCK = "luck"
# Rows of each sample: one for so many futures that were run, within bounds.
_FUTURES_A_ROW, _FEWEST, _MOST = 20, 16, 192
_SHOWN = 8
_NAMES = "judgement/futures/names.csv"


@dataclass(frozen=True)
class Cause:
    """One input: its entry in the assumptions, its name in plain words, and its first and total index."""

    entry: str
    words: str
    first: float
    total: float


def indices(outcome: Callable[[Array], Array], inputs: int, rows: int, seed: int) -> tuple[Array, Array]:
    """First and total indices of an outcome of inputs that are even between 0 and 1.

    ``outcome`` takes an array of shape (n, inputs) and gives one of shape (n,).
    """
    from scipy.stats import qmc

    both = qmc.LatinHypercube(d=2 * inputs, rng=np.random.default_rng(seed)).random(rows)
    a, b = both[:, :inputs], both[:, inputs:]
    mixed = np.repeat(a[None], inputs, axis=0)
    for at in range(inputs):
        mixed[at, :, at] = b[:, at]
    values = outcome(np.concatenate([a, b, mixed.reshape(-1, inputs)]))
    # About their mean: what is left out of the estimate is noise alone.
    values = values - values[: 2 * rows].mean()
    of_a, of_b, of_mixed = values[:rows], values[rows : 2 * rows], values[2 * rows :].reshape(inputs, rows)
    variance = np.concatenate([of_a, of_b]).var()
    if variance == 0:
        return np.zeros(inputs), np.zeros(inputs)
    first = (of_b * (of_mixed - of_a)).mean(axis=1) / variance
    total = ((of_a - of_mixed) ** 2).mean(axis=1) / (2 * variance)
    return first, total


def of_course(setting: Setting, place: int, seed: int, futures: int) -> tuple[Cause, ...]:
    """What drives the dominant oaks under one course, most first."""
    one = Setting(setting.start, setting.rules, (setting.courses[place],))
    names = varied(setting.rules)

    def outcome(shares: Array) -> Array:
        return _dominants(one, shares, seed)

    rows = min(max(futures // _FUTURES_A_ROW, _FEWEST), _MOST)
    first, total = indices(outcome, len(names) + 1, rows, seed)
    every = [
        Cause(SOURCES[name], words(SOURCES[name], setting.rules), *at)
        for name, at in zip(names, _pairs(first, total), strict=False)
    ]
    every.append(
        Cause(
            LUCK,
            "luck: acorn years, weather, which seedling lives, which plots were counted",
            *_pairs(first, total)[-1],
        )
    )
    return tuple(sorted(every, key=lambda cause: -cause.total)[:_SHOWN])


def _pairs(first: Array, total: Array) -> list[tuple[float, float]]:
    """First and total indices between 0 and 1; what a first one lies above its total, the surer of the two, is
    noise."""
    totals = np.clip(total, 0.0, 1.0)
    return list(zip(np.clip(first, 0.0, totals).tolist(), totals.tolist(), strict=True))


def _dominants(one: Setting, shares: Array, seed: int) -> Array:
    """Dominant oaks of futures given by shares of each range; the last share picks the luck."""
    parameters = from_shares(one.rules, shares[:, :-1], one.start.oak_share)
    picks, place = np.unique(shares[:, -1], return_inverse=True)
    rng = np.random.default_rng(seed)
    drawn, seeds = drawn_spaces(one.start, len(picks), rng), rng.integers(0, 2**31 - 1, size=len(picks))
    return one.simulate(parameters, drawn[place], seeds[place])[0, :, 1]


def words(entry: str, rules: Rules) -> str:
    """The name of an assumption in plain words."""
    return next((row["words"] for row in tables.rows(_NAMES) if row["entry"] == entry), rules[entry].note or entry)
