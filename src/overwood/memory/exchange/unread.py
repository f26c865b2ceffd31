"""Columns that are not read and may change what is: marks of trees, quarters around a point."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Container, Mapping

from overwood.ground.measures import many
from overwood.memory.exchange import headings
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import Choice, Question
from overwood.memory.exchange.said import Said, as_written

# Marks beyond so many are names or sizes; quarters of a point are four.
_MOST_MARKS, _QUARTERS = 4, 4
_QUARTER = re.compile(r"quarters?|quadrants?|quad|qtr|qdr|q")
# Sides, yes or no and crown classes say nothing of whether a tree stands; nor do headings of products.
_SIDES, _CROWNS = frozenset("nesw"), frozenset("dciso")
_OF_OTHERS = re.compile(r"prod|use\b|grade|aspect|side|slope|crew|by\b|who\b|tally", re.IGNORECASE)
_TELLING = ("dead", "cull", "gone")


def questions(found: Layout, places: Mapping[str, int], used: Container[int], said: Said) -> tuple[Question, ...]:
    """What must be asked of the columns of a tally of trees that are not read."""
    return (*_marks(found, used, said), *_nearest(found, places, said))


def _cells(found: Layout, at: int) -> list[str]:
    return [cells[at].strip() if at < len(cells) else "" for _, cells in found.body]


def may_mark(found: Layout, at: int) -> bool:
    """Whether a column holds nothing but single letters, or nothing yet: marks of other files may be asked about."""
    return all(len(cell) <= 1 and not cell.isdigit() for cell in _cells(found, at))


def _marks(found: Layout, used: Container[int], said: Said) -> list[Question]:
    """Columns of a few letters, or of words for trees that do not live or stand: read as nothing, they all live."""
    asked = []
    for at, heading in enumerate(found.headings[: headings.MOST_HEADINGS]):
        if not heading or at in used or said.column(heading) or _OF_OTHERS.search(heading):
            continue
        held = Counter(cell.lower() for cell in _cells(found, at) if cell)
        words = {word for kind in _TELLING for word in headings.words(kind) if len(word) > 2}
        letters = 1 < len(held) <= _MOST_MARKS and all(len(mark) == 1 and mark.isalpha() for mark in held)
        other = set(held) <= _SIDES | {"y"} or {"i"} <= set(held) <= _CROWNS
        if (letters and not other) or set(held) & words:
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


def quarters(found: Layout, places: Mapping[str, int]) -> int:
    """The column of the quarter of its point in which a tree stands, where each holds one tree; -1 where none is."""
    point = places.get("point", -1)
    at = next((at for at, cell in enumerate(found.headings) if _QUARTER.fullmatch(headings.plain(cell))), -1)
    if point < 0 or at < 0 or at == point:
        return -1
    trees: dict[str, list[str]] = {}
    above = ""
    for name, quarter in zip(_cells(found, point), _cells(found, at), strict=True):
        above = name or above
        trees.setdefault(above, []).append(quarter.lower())
    full = [len(held) == len(set(held)) == _QUARTERS for held in trees.values()]
    several = len({quarter for held in trees.values() for quarter in held}) > _QUARTERS + 1
    return -1 if several or 2 * sum(full) < len(full) else at


def _nearest(found: Layout, places: Mapping[str, int], said: Said) -> list[Question]:
    """One tree in each of four quarters of a point: the nearest ones, of no prism and no plot."""
    at = quarters(found, places)
    text = "the nearest trees of the quarters are taken by no prism and no plot, and amounts an acre would be wrong."
    meaning = "they are all trees of the prism or plot; else leave the sheet out"
    named = f"Each point has one tree in each of four quarters ({found.headings[at]!r}): {text}"
    return as_written(said, "nearest_trees", named, meaning) if at >= 0 else []
