"""What a deer fence shows: oaks inside beside those outside, of the same count."""

from __future__ import annotations

import math

from overwood.ground import measures
from overwood.ground.figure import Figure, unmeasured
from overwood.ground.records import StandFile
from overwood.judgement.evidence.counting import Count, count_of, plot_inputs, tall_oaks
from overwood.judgement.rules import Rules
from overwood.science.comparison import independent_difference

NAME = "fenced_more_oaks_ac"


def fence_figure(file: StandFile, rules: Rules) -> Figure:
    """Oaks of 1 ft or taller inside the fence less those outside, at the newest count that has plots on both sides."""
    pairs = [
        (outside, inside)
        for visit in file.visits_of("reproduction")
        if (outside := count_of(file, visit)) is not None and (inside := count_of(file, visit, fenced=True)) is not None
    ]
    if not pairs:
        return unmeasured(NAME, "no count has plots inside and outside a deer fence", "stems/ac")
    outside, inside = pairs[-1]
    return _difference(outside, inside, rules)


def _difference(outside: Count, inside: Count, rules: Rules) -> Figure:
    level, sides = rules.number("interval_level"), [tall_oaks(count, 1.0) for count in (outside, inside)]
    densities = [count.per_plot(lines) / count.plot_ac for count, lines in zip((outside, inside), sides, strict=True)]
    gap = independent_difference(*densities, level=level)
    known = math.isfinite(gap.se)
    return Figure(
        name=NAME,
        value=gap.mean,
        unit="stems/ac",
        low=gap.low if known else None,
        high=gap.high if known else None,
        level=level,
        n=gap.n,
        method=(
            f"oaks of {measures.amount(1, 'ft', 'g')} or taller: {inside.n} plots inside the fence less "
            f"{outside.n} outside, {inside.visit.visited_on:%b %Y}"
        ),
        sources=("welch1947",),
        inputs=(
            *plot_inputs(inside, sides[1], "inside the fence"),
            *plot_inputs(outside, sides[0], "outside the fence"),
        ),
    )
