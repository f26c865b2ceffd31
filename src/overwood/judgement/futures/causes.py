"""What drives the answer: first and total Sobol indices of what nobody knows, and of luck, by a Saltelli design.

Rows of two independent samples A and B; for each input one more sample that is A with that input from B
(``saltelli2010``). The first index is the share of the outcome's variance that goes with the input alone, the total
index that with it and all it acts together with (``jansen1999``). Luck (the count drawn, crops, years, stems) is one
input, since all of it hangs on a seed. What the outcome goes with least is one input too, so that an assumption that
acts only together with others shows there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.ground import tables
from overwood.judgement.futures.draws import SOURCES, even_shares, from_shares, varied
from overwood.judgement.futures.setting import Setting
from overwood.judgement.futures.start import drawn_spaces
from overwood.judgement.rules import Rules

Array = NDArray[np.float64]
LUCK, REST = "luck", "the rest"
# Assumptions looked at one by one: those that the outcome goes with most.
ALONE = 16
_WORDS = {
    LUCK: "luck: acorn years, weather, which seedling lives, which plots were counted",
    REST: "all other assumptions together",
}
# Rows of each sample: one for so many futures that were run, within bounds.
_FUTURES_A_ROW, _FEWEST, _MOST = 15, 16, 192
_SHOWN = 8
_NAMES = "judgement/futures/names.csv"


@dataclass(frozen=True)
class Cause:
    """One input: its entry in the assumptions, its name in plain words, and its first and total index."""

    entry: str
    words: str
    first: float
    total: float


def indices(
    outcome: Callable[[Array], Array], inputs: Sequence[Sequence[int]], rows: int, seed: int
) -> tuple[Array, Array]:
    """First and total indices of an outcome of columns that are even between 0 and 1.

    ``inputs`` are the columns that go together as one input each. ``outcome`` takes an array of shape (n, columns) and
    gives one of shape (n,).
    """
    columns = 1 + max(max(together, default=0) for together in inputs)
    both = even_shares(rows, 2 * columns, np.random.default_rng(seed).spawn(1)[0])
    a, b = both[:, :columns], both[:, columns:]
    mixed = np.repeat(a[None], len(inputs), axis=0)
    for at, together in enumerate(inputs):
        mixed[at][:, together] = b[:, together]
    values = outcome(np.concatenate([a, b, mixed.reshape(-1, columns)]))
    # About their mean: what is left out of the estimate is noise alone.
    values = values - values[: 2 * rows].mean()
    of_a, of_b, of_mixed = values[:rows], values[rows : 2 * rows], values[2 * rows :].reshape(len(inputs), rows)
    variance = np.concatenate([of_a, of_b]).var()
    if variance == 0:
        return np.zeros(len(inputs)), np.zeros(len(inputs))
    first = (of_b * (of_mixed - of_a)).mean(axis=1) / variance
    total = ((of_a - of_mixed) ** 2).mean(axis=1) / (2 * variance)
    return first, total


def of_course(setting: Setting, place: int, seed: int, futures: int, likely: Sequence[str]) -> tuple[Cause, ...]:
    """What drives the dominant oaks under one course, most first and all the rest behind; ``likely`` are the entries
    looked at one by one."""
    one = Setting(setting.start, setting.rules, (setting.courses[place],))
    entries = [SOURCES[name] for name in varied(setting.rules)]

    def outcome(shares: Array) -> Array:
        return _dominants(one, shares, seed)

    inputs = {entry: [at] for at, entry in enumerate(entries) if entry in likely}
    if rest := [at for at, entry in enumerate(entries) if entry not in likely]:
        inputs[REST] = rest
    inputs[LUCK] = [len(entries)]
    rows = min(max(futures // _FUTURES_A_ROW, _FEWEST), _MOST)
    pairs = _pairs(*indices(outcome, list(inputs.values()), rows, seed))
    causes = [
        Cause(entry, _WORDS.get(entry) or words(entry, setting.rules), *pair)
        for entry, pair in zip(inputs, pairs, strict=True)
    ]
    causes.sort(key=lambda cause: -cause.total)
    alone, together = ([cause for cause in causes if (cause.entry == REST) is whole] for whole in (False, True))
    return (*alone[:_SHOWN], *together)


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
