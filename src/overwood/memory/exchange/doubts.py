"""What looks wrong in a tally that is otherwise read: too much basal area, odd heights, old days."""

from __future__ import annotations

import dataclasses
import itertools
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from overwood.ground import measures, plausible, units
from overwood.ground.measures import many
from overwood.memory.exchange import asking, classes, headings, own_size
from overwood.memory.exchange import body as bodies
from overwood.memory.exchange.design import Design, sizes_named
from overwood.memory.exchange.proposal import AS_WRITTEN, Choice, Question
from overwood.memory.exchange.said import Said, rows_said
from overwood.memory.exchange.straighten import Lines

_LEAVE_OUT = "leave out"
# Where more points than this share come again, the sheet is not sorted by points.
_FEW_AGAIN = 0.25
_FEWEST_NUMBERED = 3
_MOST_SHOWN = 8
# Two sizes nearer than this share of them are one, written in two ways.
_SAME_SIZE = 0.01


@dataclass(frozen=True)
class Doubts:
    """Warnings in words, questions that need a yes, and rows that are left out by an answer."""

    words: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    dropped: frozenset[int] = frozenset()

    def without(self, lines: Lines) -> Lines:
        """The lines as the answers have them: some left out."""
        if not self.dropped:
            return lines
        return dataclasses.replace(lines, lines=tuple(line for line in lines.lines if line.row not in self.dropped))


def of(table: str, read: bodies.Body, design: Design, constants: Mapping[str, str], said: Said) -> Doubts:
    """The doubts about one sheet."""
    words: list[str] = []
    questions: list[Question] = []
    dropped: frozenset[int] = frozenset()
    if table == "trees":
        questions += _basal_area(read, design, said)
        below, dropped = _below_least(read, said)
        questions += below
    if table in ("trees", "stems"):
        words += _slender(read.lines)
        questions += _other_factor(read.lines, design, said)
    questions += _old_days(read.lines, constants, said)
    words += [*_points_alike(read.lines), *_several_trees(read.lines)]
    words += _points_of_two_crews(read.lines)
    words += [*_points_again(read.lines), *_points_missing(read.lines)] if table in ("trees", "seedlings") else []
    return Doubts(tuple(words), tuple(questions), dropped)


def _points_of_two_crews(lines: Lines) -> list[str]:
    """Points that several people tallied: where each numbers points of their own, two points are read as one."""
    point, observer, stand = (lines.place(name) for name in ("point", "observer", "stand"))
    if point < 0 or observer < 0:
        return []
    seen: dict[tuple[str, str], set[str]] = {}
    for line in (*lines.lines, *lines.empties):
        name = (line.cells[stand] if stand >= 0 else "", line.cells[point])
        seen.setdefault(name, set()).update({line.cells[observer]} - {""})
    shared = [name for (_, name), crews in seen.items() if len(crews) > 1]
    if not shared:
        return []
    return [
        f"Points {', '.join(shared[:8])} were each tallied by several people and are read as one; if each "
        "numbered their own, name them apart."
    ]


def _points_again(lines: Lines) -> list[str]:
    """Points that come again after others, where most do not: two points of one number, or 1.10 that a spreadsheet
    wrote as 1.1."""
    point, stand = lines.place("point"), lines.place("stand")
    if point < 0:
        return []
    names = [
        (line.cells[stand] if stand >= 0 else "", line.cells[point])
        for line in sorted(lines.lines, key=lambda line: line.row)
    ]
    blocks = Counter(name for name, _ in itertools.groupby(names))
    again = [name for (_, name), number in blocks.items() if number > 1]
    if not again or len(again) > _FEW_AGAIN * len(blocks):
        return []
    said = ", ".join(again[:8])
    return [
        f"Points {said} come again after other points and are read as one each; name them apart if they are "
        "two (1.10 may stand as 1.1)."
    ]


def _points_missing(lines: Lines) -> list[str]:
    """Numbers of plots that are passed over: a plot that was looked at and held nothing belongs to the mean."""
    point, stand = lines.place("point"), lines.place("stand")
    if point < 0:
        return []
    words, points = [], dict[str, set[str]]()
    for line in (*lines.lines, *lines.empties):
        points.setdefault(line.cells[stand] if stand >= 0 else "", set()).add(line.cells[point])
    for name, texts in points.items():
        numbers = {int(text) for text in texts if text.isascii() and text.isdigit()}
        missing = [number for number in range(min(numbers), max(numbers)) if number not in numbers] if numbers else []
        if len(numbers) < _FEWEST_NUMBERED or len(numbers) < len(texts) or not 0 < len(missing) <= len(numbers):
            continue
        of = f" of {name}" if name else ""
        shown = ", ".join(map(str, missing[:12])) + (" and more" if len(missing) > 12 else "")
        words.append(
            f"No line names plots {shown}{of}: a plot that was looked at and held nothing must be listed, "
            "or the means are too high."
        )
    return words


def _other_factor(lines: Lines, design: Design, said: Said) -> list[Question]:
    """Titles and notes among the rows that name another factor or plot than the one the sheet is read with."""
    first = min((line.row for line in lines.lines), default=0)
    notes = [one for one in lines.fates if one.fate == "note" and one.why and 0 < first < one.row]
    titles = [one for one in lines.fates if one.fate == "title" and one.row < first]
    strange = (
        [one for one in titles if not _names_own(one.why, design, said)] if len(own_size.written(lines)) < 2 else []
    )
    strange += [one for one in notes if _names_another(one.why, design)]
    if not strange:
        return []
    answer = said.setting("other_factor")
    text = f"Row {strange[0].row} says {strange[0].why[:120]!r}, and every line is read with one factor or plot size"
    text += f": {design.words()}." if design.is_known else "."
    choices = (
        Choice(
            AS_WRITTEN, "one holds for all lines; else give each point its own in a column of factors or plot sizes"
        ),
    )
    return [
        Question(
            key=said.key("other_factor"), kind="set", sheet=said.sheet, text=text, choices=choices,
            answer=answer if answer == AS_WRITTEN else "",
        )
    ]  # fmt: skip


def _names_another(note: str, design: Design) -> bool:
    """Whether words name a factor or plot that is not the one a sheet is read with."""
    factors, plots = sizes_named(note)
    return not all(_is_of(one, design.baf_ft2_ac) for one in factors) or not all(
        _is_of(one, design.plot_area_ac) for one in plots
    )


def _names_own(title: str, design: Design, said: Said) -> bool:
    """Whether a title names no factor or plot, or the one a sheet is read with among others: of other rings."""
    factors, plots = sizes_named(title)
    if said.setting("factor_unit") == "m2/ha":
        factors = (*factors, *map(units.conversion("m2/ha", "ft2/ac"), factors))
    named = [*(_is_of(one, design.baf_ft2_ac) for one in factors), *(_is_of(one, design.plot_area_ac) for one in plots)]
    return not named or any(named) or not design.is_known


def _is_of(number: float, wanted: float | None) -> bool:
    return wanted is not None and abs(number / wanted - 1) < _SAME_SIZE


def _basal_area(read: bodies.Body, design: Design, said: Said) -> list[Question]:
    tally = bodies.tally_of(read.lines, "in")
    area = tally.basal_area(design)
    if area is None or area <= plausible.limit("ba_doubted_ft2_ac"):
        return []
    text = (
        f"The sheet comes to {measures.amount(area, 'ft2/ac')} of basal area, more than any upland oak stand carries."
    )
    choices = (Choice(AS_WRITTEN, "it is right"),)
    evidence = (tally.words(design), "look at the unit of the diameters, the plot size and the number of plots")
    answer = said.setting("basal_area")
    return [
        Question(
            key=said.key("basal_area"), kind="set", sheet=said.sheet, text=text, evidence=evidence, choices=choices,
            answer=answer if answer == AS_WRITTEN else "", needed=area > plausible.limit("ba_confirmed_ft2_ac"),
            default=AS_WRITTEN,
        )
    ]  # fmt: skip


def _below_least(read: bodies.Body, said: Said) -> tuple[list[Question], frozenset[int]]:
    """Trees outside the sizes the ring is said to take in: they cannot be both."""
    place = read.lines.place("dbh_in")
    least, most = (asking.told_length(said, name) for name in ("low_dbh_in", "high_dbh_in"))
    if place < 0 or (least is None and most is None):
        return [], frozenset()
    rows = {line.row: size[0] for line in read.lines.lines if (size := classes.measure(line.cells[place])) is not None}
    small = {row for row, size in rows.items() if (least and size < least) or (most and size >= most)}
    if not small:
        return [], frozenset()
    answer = said.setting("outside_ring")
    taken = answer if answer in (AS_WRITTEN, _LEAVE_OUT) else ""
    text = many(len(small), "tree lies", "trees lie")
    text += f" outside the sizes this ring takes in ({rows_said(sorted(small))})."
    choices = (Choice(_LEAVE_OUT, "they are left out"), Choice(AS_WRITTEN, "they are kept"))
    question = Question(
        key=said.key("outside_ring"), kind="set", sheet=said.sheet, text=text, choices=choices, answer=taken
    )
    return [question], frozenset(small) if taken == _LEAVE_OUT else frozenset()


def _slender(lines: Lines) -> list[str]:
    dbh, height = lines.place("dbh_in"), lines.place("height_ft")
    if dbh < 0 or height < 0:
        return []
    least, most, from_in = (
        plausible.limit(name) for name in ("slender_least_ft_in", "slender_most_ft_in", "slender_from_dbh_in")
    )
    odd = []
    for line in lines.lines:
        size, tall = classes.measure(line.cells[dbh]), classes.measure(line.cells[height])
        if size and tall and size[0] >= from_in and not least <= tall[0] / size[0] <= most:
            odd.append(
                f"row {line.row}: {measures.amount(tall[0], 'ft', 'g')} at {measures.amount(size[0], 'in', 'g')}"
            )
    return [f"{many(len(odd), 'height')} hardly belong to the diameters ({'; '.join(odd[:5])})."] if odd else []


def _points_alike(lines: Lines) -> list[str]:
    """Plots of one sheet whose names differ by zeros in front, capitals, blanks or the word plot: most often one plot.

    Read as several, one plot of four names quarters every figure an acre.
    """
    at = lines.place("point")
    if at < 0:
        return []
    names = dict.fromkeys(line.cells[at] for line in (*lines.lines, *lines.empties))
    groups: dict[str, list[str]] = {}
    for name in names:
        groups.setdefault(_bare_name(name), []).append(name)
    twice = [" and ".join(group) for group in groups.values() if len(group) > 1]
    return (
        [f"Plots {', '.join(twice[:5])} are read as different plots; write the number in one way if they are one."]
        if twice
        else []
    )


def _several_trees(lines: Lines) -> list[str]:
    """Lines whose tree number is a range, where no column counts stems: such a line is read as one stem."""
    tree = lines.place("tree")
    if tree < 0 or lines.place("stems") >= 0:
        return []
    rows = [str(line.row) for line in lines.lines if re.fullmatch(r"\d+\s*(?:-|\u2013|to|&|,)\s*\d+", line.cells[tree])]
    said = "name several trees and are read as one stem each; write the number of stems in a column of counts."
    return [f"Lines of {rows_said(rows)} {said}"] if rows else []


def _bare_name(name: str) -> str:
    """The name of a plot without the word plot, blanks, capitals and zeros in front."""
    words = "|".join(sorted(map(re.escape, headings.words("section_point")), key=len, reverse=True))
    bare = re.sub(rf"^(?:{words})(?![a-z])[\s.#:_-]*|[\s_]+", "", name.casefold())
    return bare.lstrip("0") or bare or name


def _old_days(lines: Lines, constants: Mapping[str, str], said: Said) -> list[Question]:
    """Whether days before the last visit that the book has of a stand are right; not of a visit that it holds."""
    last = {one.stand: one.last_visit_on for one in said.known.stands if one.last_visit_on is not None}
    held = {visit.rpartition("-")[0] for visit in said.known.visits}
    stand, day = lines.place("stand"), lines.place("visited_on")
    old: dict[tuple[str, str], list[int]] = {}
    for line in (*lines.lines, *lines.empties):
        name = (line.cells[stand] if stand >= 0 else "") or constants.get("stand", "")
        on = (line.cells[day] if day >= 0 else "") or constants.get("visited_on", "")
        if name in last and on and on < last[name].isoformat() and f"{name}-{on}" not in held:
            old.setdefault((name, on), []).append(line.row)
    if not old:
        return []
    answer = said.setting("old_days")
    evidence = tuple(
        f"{name} on {on} ({many(len(rows), 'line')}): its last visit in the book is of {last[name].isoformat()}"
        for (name, on), rows in old.items()
    )
    return [
        Question(
            key=said.key("old_days"), kind="set", sheet=said.sheet,
            text="The sheet is older than what the book has of the stand: is the day right?",
            evidence=evidence[:_MOST_SHOWN], answer=answer if answer == AS_WRITTEN else "",
            choices=(Choice(AS_WRITTEN, "it is an earlier visit, kept beside the later one; else say the right day"),),
        )
    ]  # fmt: skip
