"""Several kinds of plots on one sheet, told by a column such as plot type or plot size.

Of trees each kind is read as a sheet of its own. A count of young stems holds one kind: where several stand at the same
points, a person says which is read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from overwood.ground.errors import Problem
from overwood.ground.measures import many
from overwood.memory.exchange import design, own_size
from overwood.memory.exchange.draft import Draft
from overwood.memory.exchange.proposal import Choice, Question, RowFate
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.shape import Wide
from overwood.memory.exchange.straighten import Line, Lines

_SEVERAL = (
    "Young stems were counted on several kinds of plots at the same points, and one count holds one kind: which is "
    "read? The others are left out."
)
# Sizes of plots in headings of counts: 1/100 ac saplings, milacre <1 ft, 6.8 ft radius.
_SIZE = re.compile(r"1/\d+(?:\s*-?\s*ac(?:re)?)?|milacre|\d*\.\d+\s*ac(?:re)?|\d+(?:\.\d+)?\s*-?\s*(?:ft|m)\s*radius")
_ALL = "all"
_OF_A_FACTOR = ("baf", "prism", "factor")
_PLAIN = ("fixed", "plot", "variable", "ring", *_OF_A_FACTOR)


def apart(draft: Draft) -> list[Draft]:
    """A tally of trees whose lines name several kinds of plots, apart: each kind is asked for its size and layer."""
    if draft.lines is not None and draft.table == "seedlings":
        young, kind, asked = of_young(draft.lines, draft.sheet.name, draft.said)
        stray = no_kind(draft.sheet.file, draft.sheet.name) if kind and "" in kinds(draft.lines) else None
        return [replace(draft, lines=young, plot_kind=kind, questions=(*draft.questions, *asked), problem=stray)]
    some = kinds(draft.lines) if draft.lines is not None and draft.table == "trees" else ()
    if draft.lines is None or len(some) < 2:
        return [draft]
    name = draft.sheet.name
    return [
        replace(
            draft,
            said=replace(draft.said, sheet=f"{name}: {kind or 'no kind of plot'}", within=name),
            lines=of_kind(draft.lines, kind, is_first=number == 0),
            plot_kind=kind,
            problem=None if kind else no_kind(draft.sheet.file, name),
        )
        for number, kind in enumerate(some)
    ]


def kinds(lines: Lines) -> tuple[str, ...]:
    """The kinds of plots that the lines name, in their order; "" among them where some stems of several kinds name
    none."""
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


def of_young(lines: Lines, sheet: str, said: Said) -> tuple[Lines, str, tuple[Question, ...]]:
    """A count of young stems on one kind of plots, the kind where a column names it, and the question which; plots
    alike are not asked.

    Every point of the sheet was looked at by the kind that is read: one without its stems is an empty plot.
    """
    named = len(set(map(str.lower, filter(None, lines.values("ring"))))) > 1
    nested = any(len(sizes) > 1 for sizes in own_size.by_point(lines).values())
    if not (named or nested):
        return lines, "", ()
    kind_of = {line: _kind(lines, line) if named else _size_at(lines, line) for line in lines.lines}
    stems: dict[str, list[str]] = {}
    at, classed = lines.place("stems"), lines.place("height_class")
    for line, kind in kind_of.items():
        stems.setdefault(kind, []).append(line.cells[classed] if classed >= 0 else line.cells[at] if at >= 0 else "")
    some = [kind for kind in stems if kind]
    answer = next((kind for kind in some if kind.lower() == said.setting("plots_read").lower()), "")
    question = Question(
        key=said.key("plots_read"), kind="set", sheet=said.sheet, answer=answer,
        text=_SEVERAL,
        choices=tuple(Choice(kind,
            f"{many(len(stems[kind]), 'line')}{_classes_of(stems[kind]) if classed >= 0 else ''}") for kind in some),
    )  # fmt: skip
    kind = answer or max(some, key=lambda name: len(stems[name]))
    return _of_one(lines, kind_of, kind, sheet), kind if named else "", (question,)


def of_headings(headings: Sequence[str], wide: Wide | None, said: Said) -> tuple[Wide | None, tuple[Question, ...]]:
    """The columns of counts that were said to be read, where their headings name plots of several sizes, or hold the
    same classes under several words (before and after a cut, two years, two stands), and the question which."""
    if wide is None:
        return None, ()
    sizes = {at: match[0] if (match := _SIZE.search(headings[at].lower())) else "" for at in wide.said}
    if len(set(filter(None, sizes.values()))) > 1:
        return _of_group(headings, wide, sizes, said, "plots_read")
    words = {at: _before(headings[at], parts) for at, parts in wide.said.items()}
    again = len(set(wide.said.values())) < len(wide.said)
    if wide.columns[0] in ("point", "status") or not again or len(set(words.values())) < 2:
        return wide, ()
    return _of_group(headings, wide, words, said, "columns_read")


def _before(heading: str, parts: Sequence[str]) -> str:
    """What stands in a heading before the species and class it says."""
    for part in reversed(parts):
        heading = heading.removesuffix(part).strip()
    return heading


def _of_group(
    headings: Sequence[str], wide: Wide, group: Mapping[int, str], said: Said, key: str
) -> tuple[Wide, tuple[Question, ...]]:
    named = list(dict.fromkeys(filter(None, group.values())))
    together = () if key == "plots_read" else (Choice(_ALL, "all count together, as one look"),)
    told = next((one for one in (*named, *(c.value for c in together)) if one.lower() == said.setting(key).lower()), "")
    counts = {one: [headings[at] for at in group if group[at] == one] for one in named}
    text = _SEVERAL if key == "plots_read" else (
        f"The same classes stand under {', '.join(map(repr, named[:6]))}: which are read? The others are left out."
    )  # fmt: skip
    question = Question(
        key=said.key(key), kind="set", sheet=said.sheet, answer=told, text=text,
        choices=(*(Choice(one, f"columns {', '.join(cells[:4])}") for one, cells in counts.items()), *together),
    )  # fmt: skip
    read = told or max(named, key=lambda one: len(counts[one]))
    kept = {at: parts for at, parts in wide.said.items() if told == _ALL or group[at] in (read, "")}
    return replace(wide, said=kept), (question,)


def _classes_of(cells: list[str]) -> str:
    names = list(dict.fromkeys(filter(None, cells)))
    return f" of {', '.join(names[:4])}{' and more' if len(names) > 4 else ''}" if names else ""


def _size_at(lines: Lines, line: Line) -> str:
    place = lines.place("plot_area_ac")
    return line.cells[place] if place >= 0 else ""


def _of_one(lines: Lines, kind_of: Mapping[Line, str], kind: str, sheet: str) -> Lines:
    """The lines of one kind, with every other point of the sheet as an empty plot."""
    kept = tuple(line for line in lines.lines if kind_of[line] == kind)
    left = tuple(line for line in lines.lines if kind_of[line] != kind)
    places = [lines.place(name) for name in ("stand", "visited_on", "point")]
    held = {_at(line, places) for line in (*kept, *lines.empties)}
    size = next((_size_at(lines, line) for line in kept), "")
    empties = list(lines.empties)
    for line in left:
        if _at(line, places) not in held:
            held.add(_at(line, places))
            cells = (
                cell if at in places else size if name == "plot_area_ac" else ""
                for at, (name, cell) in enumerate(zip(lines.columns, line.cells, strict=True))
            )
            empties.append(Line(line.row, tuple(cells)))
    rows = {line.row for line in left} - {line.row for line in kept}
    fates = tuple(
        RowFate(sheet=sheet, row=row, fate="note", why="of another kind of plots, left out") for row in sorted(rows)
    )
    return replace(
        lines, lines=kept, empties=tuple(empties), fates=(*(one for one in lines.fates if one.row not in rows), *fates)
    )


def _at(line: Line, places: list[int]) -> tuple[str, ...]:
    return tuple(line.cells[place] if place >= 0 else "" for place in places)


def size_of(kind: str) -> tuple[str, str]:
    """The factor or plot size that a kind says in itself, as (column, text), such as BAF 10 or 1/50 ac; blanks where it
    says none."""
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


def other_size(file: str, sheet: str, size: str, other: str) -> Problem:
    """What is said of a sheet of young stems whose plots are not of the size of an earlier sheet's."""
    return Problem(
        what=(
            f"Its plots are not of the size of those of the sheet {other!r}, and the young stems of a visit "
            "stand on one."
        ),
        file=file,
        sheet=sheet,
        column="plot_area_ac",
        found=f"{size} ac",
        expected="plots of one size, or a plot size at each point where they differ from point to point",
        remedy=(
            "Leave one of the two sheets out; where each point has one size, put all in one sheet with a "
            "column of plot sizes."
        ),
    )


def _kind(lines: Lines, line: Line) -> str:
    place = lines.place("ring")
    return " ".join(line.cells[place].split()) if place >= 0 else ""
