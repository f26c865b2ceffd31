"""How often courses like one were right in the published experiments."""

from __future__ import annotations

from collections.abc import Mapping

from overwood.ground import tables

# Each experiment with the program's answer under the program's own rules; written by docs/generate.py, compared by a
# test.
TABLE = "judgement/futures/experiments_met.csv"
_EXPERIMENTS = "judgement/futures/experiments.csv"
# Which kinds of experiment bear on a course, by the numbers that make it one.
_KINDS = (
    ("burns", "burn"),
    ("burn_after_yr", "burn"),
    ("fence", "deer"),
    ("planted_ac", "planting"),
    ("inject", "midstory"),
    ("residual_ft2_ac", "shelterwood"),
)
_EVERY = ("growth", "cut")


def record_of(numbers: Mapping[str, float], *, blind: bool = False) -> str:
    """How many outcomes of experiments with the steps of a course the program meets; ``blind`` counts those alone that
    helped to set nothing."""
    kinds = {*_EVERY, *(kind for name, kind in _KINDS if numbers.get(name, 0.0) > 0)}
    known = {row["id"] for row in tables.rows(_EXPERIMENTS) if blind and row["used_to_set"] == "yes"}
    rows = [row for row in tables.rows(TABLE) if row["about"] in kinds and row["id"] not in known]
    met = sum(row["agrees"] == "yes" for row in rows)
    return f"{met} of {len(rows)}"
