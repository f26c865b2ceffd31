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

_LEAVE_OUT, _LESS, _STEMS = "leave out", "less", "stems"
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
        ways = (Choice(_LESS, "they are: what is left without them"), Choice(_LEAVE_OUT, "it is left out whole"))
        questions += as_written(said, "genus_beside", text, "they are not: it holds other stems", (), ways)
        lines = _without_members(loose, lines) if questions[-1].answer == _LESS else lines
        totals |= set(loose) if questions[-1].answer == _LEAVE_OUT else set()
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
    spcd = species.match(word).spcd
    name = species.by_code(spcd).scientific_name if spcd is not None and spcd != species.UNKNOWN else ""
    return name.split()[0] if name.endswith("spp.") else ""


def _is_sum(word: str, lines: Lines, like: Callable[[float, float], bool] = operator.eq) -> bool:
    """Whether lines of a word hold, on every plot, what the other lines it stands for hold together; or no less."""
    at, number, sizes = lines.place("species"), lines.place("stems"), _sizes(lines)
    several = False
    for here in _plots(lines).values():
        meant = _meant(word, here, at)
        own = [line for line in here if line.cells[at] == word]
        if not own and meant and not _is_all(word):
            return False
        for line in own:
            summed = _within(line, meant, sizes)
            if not like(_count(line, number), sum(_count(one, number) for one in summed)):
                return False
            fewest = 0 if _is_all(word) or like is operator.ge else 1
            several = several or len({one.cells[at] for one in summed}) > fewest
    return several


def _sizes(lines: Lines) -> list[int]:
    return [place for name in _SIZES if (place := lines.place(name)) >= 0]


def _meant(word: str, here: Sequence[Line], at: int) -> list[Line]:
    """The other lines of a plot that a word stands for."""
    genus = "Quercus" if "oak" in word.lower() else _members(word)
    others = [line for line in here if line.cells[at] != word and not _is_all(line.cells[at])]
    return [line for line in others if not genus or _genus(line.cells[at]) == genus]


def _within(line: Line, meant: Sequence[Line], sizes: Sequence[int]) -> list[Line]:
    """The lines of the sizes that a line holds."""
    return [one for one in meant if all(line.cells[place] in ("", one.cells[place]) for place in sizes)]


def _without_members(words: Sequence[str], lines: Lines) -> Lines:
    """The lines of some words with the stems that are in no other line they stand for."""
    at, number, sizes = lines.place("species"), lines.place("stems"), _sizes(lines)
    left: dict[Line, str] = {}
    for here in _plots(lines).values():
        for line in here:
            if line.cells[at] in words:
                held = _within(line, _meant(line.cells[at], here, at), sizes)
                left[line] = f"{_count(line, number) - sum(_count(one, number) for one in held):g}"
    changed = (
        replace(one, cells=(*one.cells[:number], left.get(one, one.cells[number]), *one.cells[number + 1 :]))
        for one in lines.lines
    )
    return replace(lines, lines=tuple(changed))


def _genus(written: str) -> str:
    match = species.match(written)
    code = match.spcd if match.spcd is not None else next(iter(match.choices), species.UNKNOWN)
    return species.by_code(code).scientific_name.split()[0] if code != species.UNKNOWN else ""


def _count(line: Line, number: int) -> float:
    stems = classes.measure(line.cells[number])
    return stems[0] if stems else 0.0


def _question(words: Sequence[str], said: Said) -> Question:
    told = said.setting("sum_rows")
    names = ", ".join(map(repr, words))
    return Question(
        key=said.key("sum_rows"), kind="set", sheet=said.sheet,
        text=f"{names} holds on every plot what its species hold there together: is it their sum?",
        choices=(Choice(_LEAVE_OUT, "it is their sum, and is left out"), Choice(_STEMS, "other stems, and they count")),
        answer=told if told in (_LEAVE_OUT, _STEMS) else "",
    )  # fmt: skip
