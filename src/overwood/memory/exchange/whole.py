"""What a sheet comes to as a whole, beyond what an upland hardwood stand can be; and sizes that part in two: a point
that was missed in one cell, points that were measured in another unit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from statistics import median

from overwood.ground import measures, plausible, units
from overwood.ground.measures import many
from overwood.memory.exchange import body as bodies
from overwood.memory.exchange import classes
from overwood.memory.exchange.design import Design
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import LEAVE_OUT, Said, as_written, of_sheet
from overwood.memory.exchange.stated import Doubt
from overwood.memory.exchange.straighten import Line, Lines

_SIZES = {
    "trees": ("dbh_in", "height_ft", "crown_ratio_pct"),
    "seedlings": ("height_ft", "basal_diameter_in"),
    "stems": ("dbh_in",),
}
_TENTH, _TENFOLD = "tenth", "tenfold"
_LARGER_CM, _SMALLER_IN = "larger in cm", "smaller in in"
# Sizes in a column, trees on a point and points from which some can stand apart; our own limits.
_FEWEST, _ON_POINT, _POINTS = 6, 3, 2


def figures(table: str, lines: Lines, design: Design, said: Said) -> list[Question]:
    """Whether a tally whose figures no upland hardwood stand has is right."""
    odd = list(_odd_figures(table, lines, design))
    text = "The sheet comes to figures that an upland hardwood stand hardly has: is it read right?"
    meaning = "it is; else say another unit, plot size or kind of lines, or add the plots that held nothing"
    return of_sheet(said, "figures", text, meaning, odd) if odd else []


def _odd_figures(table: str, lines: Lines, design: Design) -> Iterator[str]:
    tally = bodies.tally_of(lines, "in")
    if table == "seedlings":
        at = lines.place("stems")
        counts = [classes.measure(line.cells[at]) if at >= 0 else (1.0, "") for line in lines.lines]
        stems = sum(one[0] for one in counts if one)
        an_acre = stems / tally.points / design.plot_area_ac if tally.points and design.plot_area_ac else 0.0
        most = plausible.limit("seedlings_most_ac")
        if an_acre > most:
            come, limit = (measures.amount(one, "stems/ac", ",.0f") for one in (an_acre, most))
            plots = many(tally.points, "plot")
            yield f"{come}, above {limit}: {stems:,.0f} stems on {plots}, read with {design.words()}"
        return
    mean, area = tally.quadratic_mean_in(), tally.basal_area(design)
    least, most = (plausible.limit(f"trees_mean_{end}_in") for end in ("least", "most"))
    if len(lines.lines) < _FEWEST:
        return
    if mean > most or (design.baf_ft2_ac and 0 < mean < least):
        yield f"a quadratic mean diameter of {measures.amount(mean, 'in', '.1f')}: {tally.words(design)}"
    few, small = plausible.limit("ba_few_ft2_ac"), plausible.limit("small_ring_most_dbh_in")
    if area is not None and design.plot_area_ac and 0 < area < few and mean > small:
        yield f"{tally.words(design)}, below {measures.amount(few, 'ft2/ac')}: {design.words()}"


def sizes(table: str, lines: Lines, said: Said) -> Doubt:
    """Sizes that stand apart from all others, in single cells or on whole points, with the reading that joins them."""
    for column in _SIZES.get(table, ()):
        if asked := _parted(table, lines, column, said):
            return asked
    return _by_point(lines, said) if table == "trees" else ([], frozenset(), {})


def _numbers(lines: Lines, column: str) -> list[tuple[Line, float]]:
    at = lines.place(column)
    cells = [(line, classes.measure(line.cells[at])) for line in lines.lines] if at >= 0 else []
    return [(line, one[0]) for line, one in cells if one and one[0] > 0]


def _parted(table: str, lines: Lines, column: str, said: Said) -> Doubt | None:
    """A few cells far above or below all others."""
    sized = sorted(_numbers(lines, column), key=lambda one: one[1])
    few = max(1, int(plausible.limit("apart_share") * len(sized)))
    if len(sized) < _FEWEST:
        return None
    above, below = plausible.limit("apart_above"), plausible.limit("apart_below")
    at = next((at for at in range(len(sized) - few, len(sized)) if sized[at][1] >= above * sized[at - 1][1]), 0)
    upto = next((at for at in range(few, 0, -1) if sized[at - 1][1] * below <= sized[at][1]), 0)
    some, answer, factor = (sized[at:], _TENTH, 0.1) if at else (sized[:upto], _TENFOLD, 10.0)
    if not some:
        return None
    rest = sized[:at] if at else sized[upto:]
    shown = [f"row {line.row}: {size:g}, beside {rest[0][1]:g} to {rest[-1][1]:g} of the others" for line, size in some]
    text = f"{many(len(some), 'cell')} of {column} stand far from all others: was a decimal point missed or set wrong?"
    asked = _asked(
        lines, said, (f"apart_{column}", text, "they are right"), shown, {answer: ({column: factor}, _rows(some))}
    )
    # What no tree is, is not right as it is written.
    is_none = some[-1][1] > plausible.span(table, column)[1]
    ways = sorted(asked[0][0].choices, key=lambda one: is_none and one.value != answer)
    return [replace(asked[0][0], choices=tuple(ways))], *asked[1:]


def _by_point(lines: Lines, said: Said) -> Doubt:
    """Points whose trees are all larger than those of the others, as another unit makes them."""
    point = lines.place("point")
    held: dict[str, list[tuple[Line, float]]] = {}
    for line, size in _numbers(lines, "dbh_in") if point >= 0 else ():
        held.setdefault(line.cells[point], []).append((line, size))
    full = sorted(
        (pairs for pairs in held.values() if len(pairs) >= _ON_POINT), key=lambda pairs: median(one for _, one in pairs)
    )
    middles = [median(one for _, one in pairs) for pairs in full]
    # Where the points part at all, they part at the widest gap.
    at = max(range(_POINTS, len(full) - _POINTS + 1), key=lambda at: middles[at] / middles[at - 1], default=0)
    small, large = ([one for pairs in some for one in pairs] for some in (full[:at], full[at:]))
    if not at or min(len(small), len(large)) < _FEWEST:
        return [], frozenset(), {}
    low, high = (median(one for _, one in some) for some in (small, large))
    least, most = plausible.limit("unit_apart_least"), plausible.limit("unit_apart_most")
    is_apart = min(one for _, one in large) > low and max(one for _, one in small) < high
    if not is_apart or not least <= high / low <= most:
        return [], frozenset(), {}
    names = ", ".join(pairs[0][0].cells[point] for pairs in full[at:][:8])
    shown = [
        f"points {names}: {_span(large)}; all others: {_span(small)}",
        f"{high / low:.2f} times as large by their middle; a centimeter is 2.54 times the number in inches",
    ]
    text = "The trees of some points are all larger than those of the others: were they measured in one unit?"
    turn = units.conversion("cm", "in")(1)
    ways = {_LARGER_CM: ({"dbh_in": turn}, _rows(large)), _SMALLER_IN: ({"dbh_in": 1 / turn}, _rows(small))}
    return _asked(lines, said, ("two_units", text, "they were"), shown, ways)


def _span(some: Sequence[tuple[Line, float]]) -> str:
    numbers = [size for _, size in some]
    return measures.span(min(numbers), max(numbers), "in", ".1f")


def _rows(some: Sequence[tuple[Line, float]]) -> frozenset[int]:
    return frozenset(line.row for line, _ in some)


def _asked(
    lines: Lines,
    said: Said,
    words: tuple[str, str, str],
    shown: Sequence[str],
    ways: dict[str, tuple[dict[str, float], frozenset[int]]],
) -> Doubt:
    """The question, and the cells as its answer has them: by a factor, where each row of the sheet is one tree."""
    key, text, meaning = words
    single = len({line.row for line in lines.lines}) == len(lines.lines)
    rows = frozenset().union(*(rows for _, rows in ways.values()))
    others = [
        Choice(way, f"{many(len(of), 'line')} times {by:.3g}")
        for way, (factors, of) in ways.items()
        for by in factors.values()
        if single
    ]
    others += [Choice(LEAVE_OUT, f"{many(len(rows), 'line')} are left out")] if len(ways) == 1 else []
    asked = as_written(said, key, text, meaning, shown, others)
    factors, of = ways.get(asked[0].answer, ({}, frozenset[int]()))
    cells = {
        line.row: {column: f"{round(size * by, 4):g}"}
        for column, by in factors.items()
        for line, size in _numbers(lines, column)
        if line.row in of
    }
    return asked, rows if asked[0].answer == LEAVE_OUT else frozenset(), cells
