"""Plots whose numbers begin anew further down: the same plots listed again, or those of another cruise or stand."""

from __future__ import annotations

from dataclasses import replace

from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines

_SAME, _APART = "same", "apart"
# Plots of a series, and of its repeat, from which it is one: two plots alone may well be looked at again.
_FEWEST = 3


def apart(lines: Lines, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """The lines with plots of a second series named anew, where so answered, and the question for it.

    Sheets sorted by species or class list their plots again too: each of their series holds one.
    """
    point = lines.place("point")
    if point < 0 or {"subplot", "cluster"} & set(lines.columns):
        return lines, ()
    runs = _runs(lines, point)
    if len(runs) < 2 or any(len({line.cells[point] for line in run}) < _FEWEST for run in runs):
        return lines, ()
    # A table pasted twice says so by its lines.
    if not all(_is_mixed(lines, run) for run in runs) or len({tuple(one.cells for one in run) for run in runs}) == 1:
        return lines, ()
    told, first = said.setting("plots_again"), runs[1][0]
    answer = told if told in (_SAME, _APART) else ""
    question = Question(
        key=said.key("plots_again"), kind="set", sheet=said.sheet, answer=answer,
        text=(f"Plot numbers begin anew in row {first.row}, with plot {first.cells[point]}: are these the same plots "
            "again? Lines of another stand or day want a column of their own for it."),
        choices=(Choice(_SAME, "the same plots: lines of one number belong together"),
            Choice(_APART, "other plots of this look: they are counted apart")),
    )  # fmt: skip
    if answer != _APART:
        return lines, (question,)
    number = {id(line): at for at, run in enumerate(runs, 1) for line in run}

    def named(line: Line) -> Line:
        at = number.get(id(line), 1)
        cells = (f"{cell}, series {at}" if place == point and at > 1 else cell for place, cell in enumerate(line.cells))
        return Line(line.row, tuple(cells))

    return replace(lines, lines=tuple(map(named, lines.lines)), empties=tuple(map(named, lines.empties))), (question,)


def _runs(lines: Lines, point: int) -> list[list[Line]]:
    """The lines in the order of the sheet, cut where a plot that was left before comes again; by stand and day."""
    keys = [at for name in ("stand", "visited_on") if (at := lines.place(name)) >= 0]
    runs: list[list[Line]] = [[]]
    seen: set[tuple[str, ...]] = set()
    last: tuple[str, ...] = ()
    for line in sorted((*lines.lines, *lines.empties), key=lambda one: one.row):
        plot = (*(line.cells[at] for at in keys), line.cells[point])
        if plot in seen and plot != last:
            runs.append([])
            seen = set()
        seen.add(plot)
        last = plot
        runs[-1].append(line)
    return runs


def _is_mixed(lines: Lines, run: list[Line]) -> bool:
    """Whether a series holds several of whatever a sheet could be sorted by."""
    places = [at for name in ("species", "height_class", "ring") if (at := lines.place(name)) >= 0]
    return all(len({line.cells[at] for line in run if line.cells[at]}) > 1 for at in places)
