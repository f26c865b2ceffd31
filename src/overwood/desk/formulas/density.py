"""The formulas of density by diameter classes: they start without arrays, for one formula by hand must not wait."""

from __future__ import annotations

import math
from collections.abc import Callable

from overwood.desk.formulas.keys import Values, same_length
from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.ground.units import FT2_PER_IN2_OF_DBH
from overwood.science import density


def _basal_area(dbh_in: list[float], tpa: list[float]) -> Values:
    same_length(dbh_in=dbh_in, tpa=tpa)
    if not any(tpa):
        raise Misuse("there is no tree: every tpa is 0.", remedy="Give the trees per acre of each diameter.")
    ba, trees = FT2_PER_IN2_OF_DBH * sum(dbh**2 * each for dbh, each in zip(dbh_in, tpa, strict=True)), sum(tpa)
    return {"ba_ft2_ac": ba, "tpa": trees, "qmd_in": math.sqrt(ba / trees / FT2_PER_IN2_OF_DBH)}


def _stocking(dbh_in: list[float], tpa: list[float]) -> Values:
    _basal_area(dbh_in, tpa)
    return {"stocking_pct": density.stocking_pct(dbh_in, tpa), "b_line_pct": density.b_line_pct(dbh_in, tpa)}


def outside_chart(qmd: float) -> list[str]:
    low, high = density.STOCKING_CHART_QMD_IN
    return (
        []
        if low <= qmd <= high
        else [
            f"outside the published range: mean diameter {measures.amount(qmd, 'in.', '.1f')}, chart "
            f"{measures.span(low, high, 'in.', 'g')}"
        ]
    )


COMPUTE: dict[str, Callable[..., Values]] = {"basal-area": _basal_area, "stocking": _stocking}
NOTES: dict[str, Callable[..., list[str]]] = {
    "stocking": lambda dbh_in, tpa: [
        *outside_chart(_basal_area(dbh_in, tpa)["qmd_in"]),
        "stocking is published, the B-line rests on a crown equation from memory",
    ],
}
