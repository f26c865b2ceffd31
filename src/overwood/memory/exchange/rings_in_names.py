"""Rings of one plot that a second name of the plot tells apart (Over and Sap; 1 and 1S): read as plots of one size,
saplings of a hundredth acre would be a tenth of what stands there."""

from __future__ import annotations

import bisect
import re
import statistics
from collections.abc import Callable, Mapping
from dataclasses import replace

from overwood.ground.measures import many
from overwood.memory.exchange import classes, design, stand_and_plot
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Line, Lines, without

_KEY, _WAYS = "plot_rings", ("rings", "one", "apart")
# A number of a plot with the letters behind it, if any.
_NAME = re.compile(r"^(.*\d)\s*[-_. ]?\s*([A-Za-z]*)$")
# Trees of a second ring are not half as thick as those of the first; a stray line of each may lie among the other's.
_THICKER, _STRAY = 2, 0.05
_KINDS = 2
_Parts = Mapping[Line, tuple[str, str]]


def parts(lines: Lines, heading: str, title: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """Lines whose plots have parts, and what is asked of those: quarters of a plot, or rings of sizes of their own."""
    lines, asked = stand_and_plot.parts(lines, heading, said)
    return (lines, asked) if asked else _rings(lines, heading, title, said)


def _rings(lines: Lines, heading: str, title: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """Trees whose plots have two names each with the second as the kind of plot, as one plot, or as they are, by the
    answer; and the question, where trees of the two are parted by size or the title names two sizes of plots."""
    point = lines.place("point")
    if point < 0 or {"ring", "cluster"} & set(lines.columns):
        return lines, ()
    sub = lines.place("subplot")
    parted = _of_column(point, sub) if sub >= 0 else _of_names(lines, point)
    read = {line: parted(line) for line in lines.lines}
    kinds = list(dict.fromkeys(kind for _, kind in read.values()))
    sizes = sum(map(len, design.sizes_named(title)))
    if not _are_two(read, kinds) or not (_by_size(lines, read, kinds) or (sub >= 0 and sizes > 1)):
        return lines, ()
    told = said.setting(_KEY)
    question = _question(heading if sub >= 0 else "", read, kinds, said, told if told in _WAYS else "")
    if question.answer in ("", "apart"):
        return lines, (question,)
    return _changed(lines, parted, point, sub, is_one=question.answer == "one"), (question,)


def _of_column(point: int, sub: int) -> Callable[[Line], tuple[str, str]]:
    return lambda line: (line.cells[point], line.cells[sub])


def _of_names(lines: Lines, point: int) -> Callable[[Line], tuple[str, str]]:
    matches = {name: _NAME.match(name) for name in lines.values("point", empty_too=True)}
    letters = next((one[2] for one in matches.values() if one and one[2]), "")

    def parts(line: Line) -> tuple[str, str]:
        one = matches[line.cells[point]]
        return (one[1], one[2] or f"without {letters}") if one else ("", "")

    return parts


def _are_two(read: _Parts, kinds: list[str]) -> bool:
    """Whether there are two kinds, each with a name, and some plot has both."""
    plots: dict[str, set[str]] = {}
    for plot, kind in read.values():
        plots.setdefault(plot, set()).add(kind)
    return len(kinds) == _KINDS and all(kinds) and "" not in plots and any(len(own) > 1 for own in plots.values())


def _by_size(lines: Lines, read: _Parts, kinds: list[str]) -> bool:
    """Whether the trees of one kind are thinner than those of the other."""
    at = lines.place("dbh_in")
    sizes: dict[str, list[float]] = {kind: [] for kind in kinds}
    for line, (_, kind) in read.items():
        if at >= 0 and (size := classes.measure(line.cells[at])):
            sizes[kind].append(size[0])
    if not all(sizes.values()):
        return False
    small, large = sorted(sizes.values(), key=statistics.median)
    if statistics.median(large) < _THICKER * statistics.median(small):
        return False
    small, large = sorted(small), sorted(large)
    # Of all sizes that may part the two, that which leaves the fewest trees on the wrong side.
    cuts = {*small, *large}
    wrong = min(len(small) - bisect.bisect_right(small, cut) + bisect.bisect_left(large, cut) for cut in cuts)
    return wrong <= _STRAY * len(read)


def _question(heading: str, read: _Parts, kinds: list[str], said: Said, answer: str) -> Question:
    names = " and ".join(f"{kind!r} ({many(sum(own == kind for _, own in read.values()), 'line')})" for kind in kinds)
    where = f"{heading!r} names {names} of one plot" if heading else f"Names of plots end in two ways: {names}"
    return Question(
        key=said.key(_KEY), kind="set", sheet=said.sheet, answer=answer,
        text=f"{where}, and their trees may be of two rings: was each taken on a plot of a size of its own?",
        choices=(
            Choice("rings", "each has a size of its own, which is asked"),
            Choice("one", "they are parts of one plot, all of one size"),
            Choice("apart", "they are plots beside each other, all of one size"),
        ),
    )  # fmt: skip


def _changed(lines: Lines, parts: Callable[[Line], tuple[str, str]], point: int, sub: int, *, is_one: bool) -> Lines:
    def one(line: Line) -> Line:
        plot, kind = parts(line)
        cells = (*line.cells[:point], plot, *line.cells[point + 1 :])
        return Line(line.row, (*cells, *(() if is_one else (kind,))))

    columns = (*lines.columns, *(() if is_one else ("ring",)))
    done = replace(lines, columns=columns, lines=tuple(map(one, lines.lines)), empties=tuple(map(one, lines.empties)))
    return without(done, sub) if sub >= 0 else done
