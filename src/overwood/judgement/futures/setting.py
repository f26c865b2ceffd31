"""A stand with its courses and rules, simulated by as many threads as the machine has."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwood.judgement.futures.courses import Course
from overwood.judgement.futures.start import Start, gate_row
from overwood.judgement.rules import Rules
from overwood.science import regeneration as science

Array = NDArray[np.float64]
# Years of a future.
_YEARS = 40


@dataclass(frozen=True)
class Setting:
    """A stand, its courses and rules, ready to be simulated."""

    start: Start
    rules: Rules
    courses: tuple[Course, ...]

    def simulate(self, parameters: Array, drawn: NDArray[np.int64], seeds: NDArray[np.int64]) -> Array:
        """Results of every course, of shape (courses, futures, numbers); the same however many threads run."""
        plans = science.rows(np.array([course.row for course in self.courses]), science.PLAN)
        records, start = science.rows(parameters, science.PARAMETERS), self.start
        gate = gate_row(self.rules, seen_share=seen_share(self.rules, start))
        threads = max(1, min(os.cpu_count() or 1, len(seeds)))

        def part(some: NDArray[np.int64]) -> Array:
            return np.asarray(
                science.many_futures(
                    start.counted, drawn[some], start.oaks, plans, records[some], start.row, gate, _YEARS, seeds[some]
                )
            )

        with ThreadPoolExecutor(threads) as pool:
            return np.concatenate(list(pool.map(part, np.array_split(np.arange(len(seeds)), threads))), axis=1)


def seen_share(rules: Rules, start: Start) -> float:
    """Part of the spaces that a count looks at: as many as the part of the stand's plots that is counted again."""
    return rules.number("future_sampled_share") * start.plots / start.spaces
