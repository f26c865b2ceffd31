"""Rows and columns that hold what others of the same plot hold together: "All", "All oaks", or "Oaks" beside its oaks.

Read as stems of their own they would count every stem twice.
"""

from __future__ import annotations

import operator
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from overwood.ground import species
from overwood.memory.exchange import classes, headings
from overwood.memory.exchange.proposal import Choice, Question, RowFate
from overwood.memory.exchange.said import Said, as_written
from overwood.memory.exchange.straighten import Line, Lines

_LEAVE_OUT, _STEMS = "leave out", "stems"
_PLACE = ("stand", "visited_on", "point")
_SIZES = ("height_class", "dbh_in", "height_ft", "status", "crown_class")


def apart(lines: Lines, sheet: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """The lines without those that are sums, and the question where the word could also be a species of its own."""
    at, number = lines.place("species"), lines.place("stems")
    if at < 0 or number < 0:
        return lines, ()
    words = {line.cells[at] for line in lines.lines}
    totals = {word for word in words if _is_all(word) and _is_sum(word, lines)}
    genera = sorted(word for word in words - totals if _members(word) and _is_sum(word, lines))
    questions = [_question(genera, said)] if genera else []
    others = words - totals - set(genera)
    if loose := sorted(word for word in others if _members(word) and _is_sum(word, lines, operator.ge)):
        text = f"{', '.join(map(repr, loose))} stands beside its species and is nowhere less than they: are they in it?"
        meaning = "they are not: it holds other stems; else write what is left without them"
        questions += as_written(said, "genus_beside", text, meaning)
    totals |= set(genera) if genera and questions[0].answer == _LEAVE_OUT else set()
    gone = [line for line in lines.lines if line.cells[at] in totals]
    if not gone:
        return lines, tuple(questions)
    kept = tuple(line for line in lines.lines if line.cells[at] not in totals)
    rows = {line.row for line in gone} - {line.row for line in (*kept, *lines.empties)}
    fates = tuple(RowFate(sheet=sheet, row=row, fate="total", why="the sum of its plot") for row in sorted(rows))
    return replace(lines, lines=kept, fates=(*lines.fates, *fates)), tuple(questions)


def _plots(lines: Lines) -> Mapping[tuple[str, ...], list[Line]]:
    """The lines of each plot."""
    places = [place for name in _PLACE if (place := lines.place(name)) >= 0]
    plots: dict[tuple[str, ...], list[Line]] = defaultdict(list)
    for line in lines.lines:
        plots[tuple(line.cells[place] for place in places)].append(line)
    return plots


def _is_all(word: str) -> bool:
    return " ".join(word.lower().split()) in headings.words("sum_of")


def _members(word: str) -> str:
    """The genus a word for several species stands for; "" where it is no such word."""
    found = species.match(word).spcd
    name = species.by_code(found).scientific_name if found is not None and found != species.UNKNOWN else ""
    return name.split()[0] if name.endswith("spp.") else ""


def _is_sum(word: str, lines: Lines, like: Callable[[float, float], bool] = operator.eq) -> bool:
    """Whether lines of a word hold, on every plot, what the other lines it stands for hold together; or no less."""
    at, number = lines.place("species"), lines.place("stems")
    sizes = [place for name in _SIZES if (place := lines.place(name)) >= 0]
    genus = "Quercus" if "oak" in word.lower() else _members(word)
    several = False
    for here in _plots(lines).values():
        others = [line for line in here if line.cells[at] != word and not _is_all(line.cells[at])]
        meant = [line for line in others if not genus or _genus(line.cells[at]) == genus]
        own = [line for line in here if line.cells[at] == word]
        if not own and meant and not _is_all(word):
            return False
        for line in own:
            summed = [one for one in meant if all(line.cells[p] in ("", one.cells[p]) for p in sizes)]
            if not like(_count(line, number), sum(_count(one, number) for one in summed)):
                return False
            fewest = 0 if _is_all(word) or like is operator.ge else 1
            several = several or len({one.cells[at] for one in summed}) > fewest
    return several


def _genus(written: str) -> str:
    found = species.match(written)
    code = found.spcd if found.spcd is not None else next(iter(found.choices), species.UNKNOWN)
    return species.by_code(code).scientific_name.split()[0] if code != species.UNKNOWN else ""


def _count(line: Line, number: int) -> float:
    found = classes.measure(line.cells[number])
    return found[0] if found else 0.0


def _question(words: Sequence[str], said: Said) -> Question:
    told = said.setting("sum_rows")
    names = ", ".join(map(repr, words))
    return Question(
        key=said.key("sum_rows"), kind="set", sheet=said.sheet,
        text=f"{names} holds on every plot what its species hold there together: is it their sum?",
        choices=(Choice(_LEAVE_OUT, "it is their sum, and is left out"), Choice(_STEMS, "other stems, and they count")),
        answer=told if told in (_LEAVE_OUT, _STEMS) else "",
    )  # fmt: skip
