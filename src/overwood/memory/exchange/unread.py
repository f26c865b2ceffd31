"""Columns that are not read and may change what is: marks of trees, quarters around a point, and all that no heading
makes plain."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Container, Iterable, Mapping, Sequence

from overwood.ground.measures import many
from overwood.memory.exchange import free_words, headings
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said, of_sheet
from overwood.memory.exchange.straighten import Lines

# Marks beyond so many are names or sizes; quarters of a point are four.
_MOST_MARKS, _QUARTERS = 4, 4
_QUARTER = re.compile(r"quarters?|quadrants?|quad|qtr|qdr|q")
# Sides, yes or no and crown classes say nothing of whether a tree stands; nor do headings of products.
_SIDES, _CROWNS = frozenset("nesw"), frozenset("dciso")
_OF_OTHERS = re.compile(r"prod|use\b|grade|aspect|side|slope|crew|by\b|who\b|tally", re.IGNORECASE)
_TELLING = ("dead", "cull", "gone")
_NOTHING = ("", "-", "--", "0", "\u2013", "\u2014")
_NONE_DOES, _SHOWN, _SHOWN_VALUES = "left out", 12, 4
# Heights, distances and shares of crowns change no stem; sizes of plots do.
_NO_SIZES, _OF_PLOTS = ("ft", "m", "%"), re.compile(r"plot|rad|size", re.IGNORECASE)
_LEFT = "columns_left"
# Columns of other matters by the words of their headings; those of places only where one value holds for all lines.
_ASIDE, _ASIDE_IF_ONE = "aside", "aside_if_one"


def questions(layout: Layout, places: Mapping[str, int], used: Container[int], said: Said) -> tuple[Question, ...]:
    """What must be asked of the columns of a tally of trees that are not read."""
    return (*_marks(layout, used, said), *_nearest(layout, places, said))


def _cells(layout: Layout, at: int) -> list[str]:
    return [cells[at].strip() if at < len(cells) else "" for _, cells in layout.body]


def of_columns(
    layout: Layout, lines: Lines, used: Container[int], held: Container[str], asked: Sequence[Question], said: Said
) -> tuple[list[Question], set[str]]:
    """The question whether columns of which nothing is read change any number, and the headings that answers settle.

    A heading that nobody understood may be of the trees, their state or the plot. Columns that are ``held`` against
    what is read, or that another question names, are none.
    """
    apart = _named(layout, asked)
    rows = {line.row for line in (*lines.lines, *lines.empties)}
    body = [cells for row, cells in layout.body if row in rows]
    columns: dict[str, Counter[str]] = {}
    for at in range(min(max(map(len, body), default=0), headings.MOST_HEADINGS)):
        heading = layout.headings[at] if at < len(layout.headings) else ""
        cells = [] if at in used or heading in held else [one[at].strip() for one in body if at < len(one)]
        filled = Counter(cell for cell in cells if cell not in _NOTHING)
        if filled and heading not in apart and not _is_settled(heading, filled, said):
            columns[heading or f"column {at + 1}, which has no heading"] = filled
    settled = _named(layout, [one for one in asked if one.answer])
    if not columns:
        return [], settled
    answer = _NONE_DOES if said.setting(_LEFT) == _NONE_DOES else ""
    question = Question(
        key=said.key(_LEFT), kind="set", sheet=said.sheet, evidence=_shown(columns), answer=answer,
        text="Nothing is read of these columns: does one say which trees were counted, how many, how large or where?",
        choices=(Choice(_NONE_DOES, "none does; else say which column a heading is"),),
    )  # fmt: skip
    return [question], settled | (set(columns) if answer else set())


def _named(layout: Layout, questions: Sequence[Question]) -> set[str]:
    """Headings that questions name: what their columns hold is asked already."""
    words = " ".join(word for one in questions for word in one.words)
    named = (cell for cell in layout.headings[: headings.MOST_HEADINGS] if cell)
    return {cell for cell in named if re.search(rf"(?<!\w){re.escape(cell)}(?!\w)", words)}


def _shown(columns: Mapping[str, Counter[str]]) -> tuple[str, ...]:
    shown = [
        f"{heading!r} ({many(sum(filled.values()), 'cell')}): {', '.join(list(filled)[:_SHOWN_VALUES])[:80]}"
        for heading, filled in list(columns.items())[:_SHOWN]
    ]
    return (*shown, *[f"and {many(len(columns) - _SHOWN, 'column')} more"] * (len(columns) > _SHOWN))


def _is_settled(heading: str, held: Mapping[str, int], said: Said) -> bool:
    """Whether a column that is not read needs no question: somebody said so and it holds no word for a tree that is
    gone or dead, or its heading is of other matters."""
    if said.answers_column(heading):
        return True
    if said.column(heading):
        return not _says_gone(held)
    if headings.unit_in(f"of {heading}") in _NO_SIZES and not _OF_PLOTS.search(heading):
        return True
    words = set(re.findall(r"[a-z\u00e0-\u00ff]+", heading.lower().replace("_", " ")))
    if words & headings.words("remark"):
        return not any(map(free_words.of_remark, held))
    # Plots that are numbered anew on each line are asked about by their names.
    is_aside = words & headings.words(_ASIDE) or headings.plain(heading) in headings.words("line")
    return bool(is_aside) or (len(held) == 1 and bool(words & headings.words(_ASIDE_IF_ONE)))


def _says_gone(held: Iterable[str]) -> bool:
    words = {word for kind in _TELLING for word in headings.words(kind) if len(word) > 2}
    return bool({cell.lower() for cell in held} & words)


def _marks(layout: Layout, used: Container[int], said: Said) -> list[Question]:
    """Columns of a few letters, or of words for trees that do not live or stand: read as nothing, they all live."""
    asked = []
    for at, heading in enumerate(layout.headings[: headings.MOST_HEADINGS]):
        if not heading or at in used or said.answers_column(heading) or _OF_OTHERS.search(heading):
            continue
        held = Counter(cell.lower() for cell in _cells(layout, at) if cell)
        if said.column(heading) and not _says_gone(held):
            continue
        letters = 1 < len(held) <= _MOST_MARKS and all(len(mark) == 1 and mark.isalpha() for mark in held)
        other = set(held) <= _SIDES | {"y"} or {"i"} <= set(held) <= _CROWNS
        if (letters and not other) or _says_gone(held):
            shown = ", ".join(f"{mark!r} ({many(number, 'line')})" for mark, number in held.most_common(_MOST_MARKS))
            asked.append(
                Question(
                    key=said.key(heading), kind="map", sheet=said.sheet,
                    text=f"{heading!r} holds {shown} and is not read: does it say which trees are dead, cull or gone?",
                    choices=(
                        Choice("-", "it does not: all are live trees of the tally"),
                        Choice("status", "live, dead and cull trees"),
                        Choice("cut_mark", "trees to leave and trees to cut"),
                        Choice("note", "remarks: those of a tree that is not there are asked about"),
                    ),
                )
            )  # fmt: skip
    return asked


def quarters(layout: Layout, places: Mapping[str, int]) -> int:
    """The column of the quarter of its point in which a tree stands, where each holds one tree; -1 where none is."""
    point = places.get("point", -1)
    at = next((at for at, cell in enumerate(layout.headings) if _QUARTER.fullmatch(headings.plain(cell))), -1)
    if point < 0 or at < 0 or at == point:
        return -1
    trees: dict[str, list[str]] = {}
    above = ""
    for name, quarter in zip(_cells(layout, point), _cells(layout, at), strict=True):
        above = name or above
        trees.setdefault(above, []).append(quarter.lower())
    full = [len(held) == len(set(held)) == _QUARTERS for held in trees.values()]
    several = len({quarter for held in trees.values() for quarter in held}) > _QUARTERS + 1
    return -1 if several or 2 * sum(full) < len(full) else at


def _nearest(layout: Layout, places: Mapping[str, int], said: Said) -> list[Question]:
    """One tree in each of four quarters of a point: the nearest ones, of no prism and no plot."""
    at = quarters(layout, places)
    text = "the nearest trees of the quarters are taken by no prism and no plot, and amounts an acre would be wrong."
    meaning = "they are all trees of the prism or plot"
    named = f"Each point has one tree in each of four quarters ({layout.headings[at]!r}): {text}"
    return of_sheet(said, "nearest_trees", named, meaning) if at >= 0 else []
