"""Several kinds of plots on one sheet, told by a column such as plot type: each kind is read as a sheet of its own."""

from __future__ import annotations

from dataclasses import replace

from overwood.ground.errors import Problem
from overwood.memory.exchange import design
from overwood.memory.exchange.straighten import Line, Lines

_OF_A_FACTOR = ("baf", "prism", "factor")
_PLAIN = ("fixed", "plot", "variable", "ring", *_OF_A_FACTOR)


def kinds(lines: Lines) -> tuple[str, ...]:
    """The kinds of plots that the lines name, in their order; "" among them where some stems of several kinds name none."""
    named = dict.fromkeys(_kind(lines, line) for line in (*lines.lines, *lines.empties))
    some = [kind for kind in named if kind]
    stray = any(not _kind(lines, line) for line in lines.lines)
    return (*some, "") if len(some) > 1 and stray else tuple(some)


def of_kind(lines: Lines, kind: str, *, is_first: bool) -> Lines:
    """The lines of one kind; the rows that hold no line, and empty plots that name no kind, go with the first."""

    def belongs(line: Line) -> bool:
        return _kind(lines, line) == kind

    empties = tuple(line for line in lines.empties if belongs(line) or (is_first and not _kind(lines, line)))
    others = {line.row for line in lines.empties if _kind(lines, line)}
    own = {line.row for line in empties}
    fates = tuple(fate for fate in lines.fates if fate.row in own or (is_first and fate.row not in others))
    return replace(lines, lines=tuple(filter(belongs, lines.lines)), empties=empties, fates=fates)


def size_of(kind: str) -> tuple[str, str]:
    """The factor or plot size that a kind says in itself, as (column, text), such as BAF 10 or 1/50 ac; blanks where it says none."""
    bare = " ".join(word for word in kind.lower().split() if word not in _PLAIN)
    if any(word in kind.lower() for word in _OF_A_FACTOR):
        number = bare.replace("baf", "").strip()
        return ("baf_ft2_ac", number) if design.factor(number) else ("", "")
    says_its_unit = not bare.replace(".", "").isdigit()
    return ("plot_area_ac", bare) if says_its_unit and design.plot(bare, "trees") else ("", "")


def no_kind(file: str, sheet: str) -> Problem:
    """What is said of stems that name no kind of plot on a sheet of several."""
    return Problem(
        what="The sheet holds several kinds of plots, and some stems name none.",
        file=file,
        sheet=sheet,
        column="ring",
        found="a blank",
        expected="a kind of plot on each line: stems of each stand for another number an acre",
        remedy="Fill the column on those lines.",
    )


def _kind(lines: Lines, line: Line) -> str:
    place = lines.place("ring")
    return " ".join(line.cells[place].split()) if place >= 0 else ""
