"""What it is worth to look before choosing: dominant oaks gained by picking the course after seeing, by regression on
the futures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_FEW = 8


@dataclass(frozen=True)
class Gain:
    """What news is worth: dominant oaks an acre gained on average, and the share of futures in which another course is
    chosen."""

    oaks_ac: float
    changed_share: float


@dataclass(frozen=True)
class Looking:
    """Dominant oaks an acre at 20 gained, on average, by choosing after each look instead of now, and how often the
    choice changes."""

    one_more_count_ac: float
    more_plots_ac: float
    plots_added: int
    all_known_ac: float
    one_more_count_changes: float
    more_plots_change: float
    all_known_changes: float

    @staticmethod
    def of(again: Gain, more: Gain, plots_added: int, known: Gain) -> Looking:
        return Looking(
            again.oaks_ac,
            more.oaks_ac,
            plots_added,
            known.oaks_ac,
            again.changed_share,
            more.changed_share,
            known.changed_share,
        )


def gain(outcomes: Array, seen: Array) -> Gain:
    """Mean gain of choosing, in each future, the course that what is seen speaks for, over the course best on average.

    ``outcomes`` is of shape (courses, futures), ``seen`` of (futures, features). What is expected after seeing comes
    from a regression of each course's outcome on the features; half of the futures teach it and the other half are
    judged, then the halves change places, so that chance is not taken for news.
    """
    halves = np.arange(outcomes.shape[1]) % 2 == 0
    judged = np.array(
        [_judged(outcomes, _features(_telling(outcomes, seen, teach)), teach, ~teach) for teach in (halves, ~halves)]
    )
    oaks, changed = judged.mean(axis=0)
    # A choice that changes for nothing gained is a coin tossed between equals.
    return Gain(max(0.0, float(oaks)), float(changed) if oaks > 0 else 0.0)


def _telling(outcomes: Array, seen: Array, teach: NDArray[np.bool_]) -> Array:
    """Of many features those that go most with the gap between two courses in the teaching half; a few are taken as
    they are."""
    if seen.shape[1] <= _FEW:
        return seen
    gaps = outcomes[:, teach] - outcomes[:, teach].mean(axis=0)
    scaled = seen[teach] - seen[teach].mean(axis=0)
    spread = scaled.std(axis=0)
    pull = np.abs(gaps @ scaled).max(axis=0) / np.where(spread > 0, spread, np.inf)
    return seen[:, np.sort(np.argsort(-pull)[:_FEW])]


def _judged(
    outcomes: Array, features: Array, teach: NDArray[np.bool_], judge: NDArray[np.bool_]
) -> tuple[float, float]:
    fitted = np.array(
        [features @ np.linalg.lstsq(features[teach], course[teach], rcond=None)[0] for course in outcomes]
    )
    chosen = fitted[:, judge].argmax(axis=0)
    after = outcomes[:, judge][chosen, np.arange(int(judge.sum()))].mean()
    now = outcomes[:, teach].mean(axis=1).argmax()
    return float(after - outcomes[now, judge].mean()), float((chosen != now).mean())


def _features(seen: Array) -> Array:
    """Constant, each feature scaled, the squares and products."""
    spread = seen.std(axis=0)
    scaled = (seen - seen.mean(axis=0))[:, spread > 0] / spread[spread > 0]
    n = scaled.shape[1]
    pairs = [scaled[:, i] * scaled[:, j] for i in range(n) for j in range(i, n)]
    return np.column_stack([np.ones(len(seen)), scaled, *pairs])
