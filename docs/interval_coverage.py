"""How often the intervals hold: draws samples from known truths, counts how often the interval of each estimator covers
them, and writes docs/coverage.md. `python docs/interval_coverage.py 4000` took a few minutes; a test runs fewer repeats."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from overwood.science import intervals, survey

Array = NDArray[np.float64]
Ends = Callable[[float], tuple[float, float]]
RULE_PLOT_AC = 1 / 735
SEED = 11
# The least coverage wanted, and how many times as many samples settle a share near it.
LEAST, MORE = 0.87, 6


@dataclass(frozen=True)
class Case:
    """A truth, and samples of it: each draw gives a function from the two-sided level to the ends of the interval."""

    estimator: str
    name: str
    truth: float
    draw: Callable[[np.random.Generator], Ends]


@dataclass(frozen=True)
class Coverage:
    """Shares of samples, 0 to 1: the two-sided interval holds the truth, the lower bound lies under it, the upper over it; all at 90%."""

    two_sided: float
    lower: float
    upper: float


def clumped(rng: np.random.Generator, mean: float, k: float, n: int) -> Array:
    """Counts of a negative binomial; random counts where k is infinite."""
    rate = np.full(n, mean) if np.isinf(k) else rng.gamma(k, mean / k, n)
    return rng.poisson(rate).astype(float)


def _tally(values: Array, one: float, group: NDArray[np.int64] | None = None) -> Ends:
    def ends(level: float) -> tuple[float, float]:
        found = intervals.tally_mean(values, level=level, one=one, group=group)
        return found.low, found.high

    return ends


def _stems(stems_ac: float, k: float, n: int, filled: float = 1.0) -> Case:
    one = 1 / RULE_PLOT_AC
    mean = stems_ac * RULE_PLOT_AC

    def draw(rng: np.random.Generator) -> Ends:
        counts = clumped(rng, mean / filled, k, n) * (rng.random(n) < filled)
        return _tally(counts * one, one)

    spread = "random" if np.isinf(k) else f"clumping k {k:g}"
    spread += f", {1 - filled:.0%} of plots empty besides" if filled < 1 else ""
    return Case("stems an acre, plots of 1/735 acre", f"{stems_ac:g}/ac, {spread}, {n} plots", stems_ac, draw)


def _grouped_stems(k: float, groups: int, each: int) -> Case:
    one, mean = 1 / RULE_PLOT_AC, 400 * RULE_PLOT_AC

    def draw(rng: np.random.Generator) -> Ends:
        rate = np.repeat(rng.gamma(k, mean / k, groups), each)
        return _tally(rng.poisson(rate) * one, one, np.repeat(np.arange(groups), each))

    return Case("stems an acre, plots in groups", f"400/ac, groups k {k:g}, {groups} groups of {each}", 400, draw)


def alike(rng: np.random.Generator, share: float, correlation: float, sizes: Array) -> Array:
    """Hits of places whose looks are alike by a correlation (beta-binomial)."""
    if correlation == 0:
        return rng.binomial(sizes.astype(int), share).astype(float)
    scale = (1 - correlation) / correlation
    return rng.binomial(sizes.astype(int), rng.beta(share * scale, (1 - share) * scale, len(sizes))).astype(float)


def _share(estimator: str, name: str, share: float, correlation: float, sizes: Callable[[np.random.Generator], Array]) -> Case:
    def draw(rng: np.random.Generator) -> Ends:
        looks = sizes(rng)
        hits = alike(rng, share, correlation, looks)
        return lambda level: intervals.share_interval(hits, looks, level=level)

    return Case(estimator, f"{share:.0%}, {name}" + (f", correlation {correlation:g} within" if correlation else ""), share, draw)


def _points(k: float, n: int, trees: float = 9.0) -> Case:
    def draw(rng: np.random.Generator) -> Ends:
        return _tally(10 * clumped(rng, trees, k, n), 10.0)

    spread = "random" if np.isinf(k) else f"clumping k {k:g}"
    return Case("basal area, BAF 10, lone points", f"{trees:g} trees a point, {spread}, {n} points", 10 * trees, draw)


def along_line(rng: np.random.Generator, lines: int, points: int, correlation: float) -> Array:
    """Trees tallied at points that follow each other, each like the one before: shape (lines, points)."""
    state = rng.normal(size=lines)
    rates = np.empty((lines, points))
    for place in range(points):
        rates[:, place] = state
        state = correlation * state + np.sqrt(1 - correlation**2) * rng.normal(size=lines)
    return rng.poisson(9 * np.exp(0.35 * rates - 0.35**2 / 2)).astype(float)


def _lines(lines: int, points: int) -> Case:
    def draw(rng: np.random.Generator) -> Ends:
        return _tally(10 * along_line(rng, lines, points, 0.5).ravel(), 10.0, np.repeat(np.arange(lines), points))

    name = f"{lines} lines of {points} points, correlation 0.5 from point to point, the mean beyond the stand, the line as the sample"
    return Case("basal area, points along lines", name, 90, draw)


def _these_acres(points: int) -> Case:
    def draw(rng: np.random.Generator) -> Ends:
        every = 8
        wood = 10 * along_line(rng, 1, every * points, 0.5)[0]
        ends = _tally(wood[rng.integers(every) :: every], 10.0)
        truth = wood.mean()
        return lambda level: tuple(end - truth for end in ends(level))  # type: ignore[return-value]

    return Case("basal area, points along lines", f"{points} points, every eighth place of these acres, the mean of these acres", 0, draw)


def _oak_share(points: int) -> Case:
    def draw(rng: np.random.Generator) -> Ends:
        oaks, others = rng.poisson(rng.gamma(3, 2, points)), rng.poisson(rng.gamma(3, 1, points))
        ratio, se = survey.ratio_of_means(oaks, oaks + others)

        def ends(level: float) -> tuple[float, float]:
            half = float(survey.t_quantile(level, points - 1)) * se
            return ratio - half, ratio + half

        return ends

    return Case("share of basal area, ratio of means", f"67%, 9 trees a point, {points} points", 2 / 3, draw)


def cases() -> Iterator[Case]:
    """Every estimator and truth that is tried."""
    random = float("inf")
    for n in (20, 40, 60):
        yield _stems(400, random, n)
        yield _stems(400, 0.5, n)
        yield _stems(400, 0.2, n)
        yield _stems(400, random, n, filled=0.2)
        yield _stems(100, 0.2, n)
    yield _stems(2000, 0.5, 40)
    yield from (_grouped_stems(1.0, groups, each) for groups, each in ((10, 4), (8, 8)))
    for n in (20, 40, 65):
        yield from (_share("stocked share, lone plots", f"{n} plots", share, 0, _ones(n)) for share in (0.2, 0.5, 0.7))
    for groups, each in ((15, 4), (10, 4), (8, 8)):
        yield from (
            _share("stocked share, plots in groups", f"{groups} groups of {each}", share, 0.3, _places(groups, each))
            for share in (0.3, 0.5, 0.6)
        )
    yield _share("share of trees bearing", "25 trees, each alone", 0.5, 0, _ones(25))
    yield from (_share("share of trees bearing", "5 trees at each of 5 places", 0.5, like, _places(5, 5)) for like in (0.1, 0.3))
    yield from (_share("browse and collar shares, the plot as the sample", "40 plots", 1 / 3, like, _stem_counts) for like in (0, 0.2, 0.5))
    yield from (_points(k, n) for n in (5, 10, 25) for k in (random, 10, 3))
    yield from (_lines(lines, points) for lines, points in ((5, 5), (8, 5)))
    yield from (_these_acres(points) for points in (10, 25))
    yield from (_oak_share(points) for points in (10, 25))


def _ones(n: int) -> Callable[[np.random.Generator], Array]:
    return lambda rng: np.ones(n)


def _places(places: int, each: int) -> Callable[[np.random.Generator], Array]:
    return lambda rng: np.full(places, float(each))


def _stem_counts(rng: np.random.Generator) -> Array:
    """Oak stems of 40 plots, those without any left out."""
    stems = clumped(rng, 1.5, 1.5, 40)
    return stems[stems > 0] if (stems > 0).sum() > 1 else np.ones(2)


def covered(case: Case, repeats: int) -> Coverage:
    """Coverage of one case at 90%, two-sided and one-sided."""
    rng = np.random.default_rng(SEED)
    hold = np.zeros((repeats, 3))
    for repeat in range(repeats):
        ends = case.draw(rng)
        low, high = ends(0.9)
        lower, upper = ends(0.8)
        hold[repeat] = low <= case.truth <= high, lower <= case.truth, case.truth <= upper
    return Coverage(*(float(share) for share in hold.mean(axis=0)))


def page(repeats: int) -> str:
    """The table of the docs."""
    lines = [
        "# How often the intervals hold",
        "",
        f"Written by `docs/interval_coverage.py` with {repeats:,} samples of each truth, seed {SEED}. Nominal 90%: the two-sided interval, and each one-sided",
        "bound as a verdict uses it. The samples are drawn by the program from stated laws; no stand was measured. A run of fewer samples is a test.",
        f"The standard error of a share by chance is {_error(repeats):.1%}; rows marked * came near 87% and were drawn anew",
        f"from {MORE * repeats:,} samples, with a standard error of {_error(MORE * repeats):.2%}.",
        "",
        "| estimator | truth and sample | two-sided | lower bound | upper bound |",
        "|---|---|---|---|---|",
    ]
    for case in cases():
        lines.append(row(case, repeats))
    lines += ["", _READ_AS, "", *few_stems(repeats), ""]
    return "\n".join(lines)


def row(case: Case, repeats: int) -> str:
    """A line of the table; a share near the least wanted is settled by more samples, not by chance."""
    found, mark, digits = covered(case, repeats), "", 0
    if min(found.two_sided, found.lower, found.upper) < LEAST + 2 * _error(repeats):
        found, mark, digits = covered(case, MORE * repeats), " *", 1
    shares = (f"{share:.{digits}%}" for share in (found.two_sided, found.lower, found.upper))
    return f"| {case.estimator} | {case.name}{mark} | {' | '.join(shares)} |"


def _error(repeats: int) -> float:
    """Standard error of a share near the least wanted."""
    return (LEAST * (1 - LEAST) / repeats) ** 0.5


FEW = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0)


def few_stems(repeats: int) -> Iterator[str]:
    """Coverage of the upper bound by how many stems a count of 40 plots is to find."""
    yield "## Few stems in the whole count"
    yield ""
    yield _FEW_READ_AS
    yield ""
    yield "| clumping | " + " | ".join(f"{stems:g} stems" for stems in FEW) + " |"
    yield "|---" * (len(FEW) + 1) + "|"
    for k in (float("inf"), 0.5, 0.2):
        cells = [f"{covered(_stems(stems / 40 / RULE_PLOT_AC, k, 40), repeats).upper:.0%} ({_none(stems, k):.1%})" for stems in FEW]
        yield f"| {'random' if np.isinf(k) else f'k {k:g}'} | " + " | ".join(cells) + " |"


def _none(stems: float, k: float) -> float:
    """Chance that 40 plots hold no stem at all."""
    return float(np.exp(-stems) if np.isinf(k) else (1 + stems / 40 / k) ** (-40 * k))


_READ_AS = """A mean of points is the mean of **these acres**: points spread over them are taken as independent, which points laid out evenly never
are worse than. Where points follow each other closely along a few lines, or plots stand in groups, write the line or the group into `cluster`:
then it is the sample, and the mean speaks also of stands like this one. Without `cluster` intervals of such points are too short for that.

The verdict on the oak takes its bounds by the number counted, with a clumping taken as known (`verdict_clumping_k`): with oaks stronger clumped than
that the bounds by number alone err more often, and the plots stocked (`clumped_ratio`) then decide."""

_FEW_READ_AS = """Upper bounds of 40 plots by the stems that the whole count is expected to find; behind each the chance that it finds none. Where some 3 to 6 stems are expected, only
a count of none, or of none and one, can lie so low that its bound misses the truth: coverage steps from one whole stem to the next and no bound can make it 90%. The clumping cannot be seen
in so few stems either, so the bound allows for it and holds too often where there is none. From 8 to 10 stems on no bound above holds in more than 97%."""


if __name__ == "__main__":
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    Path(__file__).with_name("coverage.md").write_text(page(repeats), encoding="utf-8")
