"""What looks wrong in a tally that is otherwise read: too much basal area, odd heights, old days."""

from __future__ import annotations

import dataclasses
import itertools
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from overwood.ground import measures, plausible, units
from overwood.ground.measures import many
from overwood.memory.exchange import (
    asking,
    classes,
    heading_places,
    headings,
    in_or_out,
    merchantable,
    own_size,
    stated,
    whole,
)
from overwood.memory.exchange import body as bodies
from overwood.memory.exchange.design import Design, sizes_named
from overwood.memory.exchange.draft import Draft
from overwood.memory.exchange.proposal import AS_WRITTEN, Choice, Question, RowFate
from overwood.memory.exchange.said import LEAVE_OUT, Said, as_written, rows_said
from overwood.memory.exchange.stated import Doubt
from overwood.memory.exchange.straighten import Line, Lines

_BY_ANSWER = "left out by an answer"
_JOINED, _APART, _ONCE = "joined", "apart", "once"
# Questions that put the whole sheet in doubt.
_OF_THE_SHEET = ("basal_area", "nearest_trees", "own_sums", "figures")
# Where more points than this share come again, the sheet is not sorted by points.
_FEW_AGAIN = 0.25
# What a point has one of, with what is said of points that have more.
_OF_A_POINT = {
    "observer": "were each tallied by several people",
    "fenced": "lie inside and outside a fence",
    "stratum": "lie in several strata",
    "latitude_deg": "lie in several places",
}
# A plot that was tallied again; a number alone behind it, such as 5-2, is no mark of that.
_REDONE = r"[\s(_-]*\b(?:re-?do|redone|again|re-?check(?:ed)?|repeat(?:ed)?|corrected|new|old|rev(?:ised)?)\b\)?"
_RANGE = re.compile(r"(\d{1,3})\s*(?:-|\u2013|to)\s*(\d{1,3})")
# Two sizes nearer than this share of them are one, written in two ways.
_SAME_SIZE = 0.02


@dataclass(frozen=True)
class Doubts:
    """Questions that need an answer, and what the answers make of the lines: rows that are left out,
    and cells by row and column that are other than they were read."""

    questions: tuple[Question, ...] = ()
    dropped: frozenset[int] = frozenset()
    cells: Mapping[int, Mapping[str, str]] = dataclasses.field(default_factory=dict)
    # Whether nothing of the sheet is taken, no plot either.
    is_left_out: bool = False

    def applied(self, lines: Lines, sheet: str) -> Lines:
        """The lines as the answers have them."""
        if self.cells:
            lines = _with_cells(lines, self.cells)
        if self.is_left_out:
            rows = sorted({line.row for line in (*lines.lines, *lines.empties)})
            fates = (RowFate(sheet=sheet, row=row, fate="note", why=_BY_ANSWER) for row in rows)
            told = tuple(one for one in lines.fates if one.row not in rows)
            return dataclasses.replace(lines, lines=(), empties=(), fates=(*told, *fates))
        if not self.dropped:
            return lines
        return in_or_out.without_rows(lines, set(self.dropped), sheet, _BY_ANSWER)


def _with_cells(lines: Lines, cells: Mapping[int, Mapping[str, str]]) -> Lines:
    more = [name for name in {name: 0 for one in cells.values() for name in one} if name not in lines.columns]
    columns = (*lines.columns, *more)

    def one(line: Line) -> Line:
        own = cells.get(line.row, {})
        held = (*line.cells, *("" for _ in more))
        return Line(line.row, tuple(own.get(name, cell) for name, cell in zip(columns, held, strict=True)))

    return dataclasses.replace(
        lines, columns=columns, lines=tuple(map(one, lines.lines)), empties=tuple(map(one, lines.empties))
    )


def of(draft: Draft, read: bodies.Body, design: Design, constants: Mapping[str, str], said: Said) -> Doubts:
    """The doubts about one sheet."""
    table = draft.table
    made = [stated.doubts(draft, read, design, said)] if table in ("trees", "seedlings") else []
    if table == "trees":
        made += [(_basal_area(read, design, said), frozenset(), {}), _below_least(read, said)]
    short: Doubt = _short_heights(draft, read.lines, said) if table == "trees" else ([], frozenset(), {})
    if table in ("trees", "stems"):
        # What is a merchantable height is no odd total one.
        made += [short, _slender(_with_cells(read.lines, short[2]), said)]
    if table in ("trees", "seedlings", "stems"):
        made += [_other_factor(draft, read.lines, design, said)]
    made += [_old_days(read.lines, constants, said)]
    made += _odd(table, read, design, said)
    if table in ("trees", "seedlings"):
        made += [_plots(draft, read.lines, said), _twice(read.lines, said)]
    cells: dict[int, dict[str, str]] = {}
    for _, _, changed in made:
        for row, own in changed.items():
            cells.setdefault(row, {}).update(own)
    questions = tuple(one for asked, _, _ in made for one in asked)
    # Words that name no line speak of the sheet as a whole.
    named = any(dropped for asked, dropped, _ in made if any(one.key.endswith("remarks") for one in asked))
    of_sheet = _OF_THE_SHEET if named else (*_OF_THE_SHEET, "remarks")
    told = {one.key.rpartition(".")[2] for one in (*draft.questions, *questions) if one.answer == LEAVE_OUT}
    gone = bool(told & set(of_sheet))
    return Doubts(questions, frozenset().union(*(dropped for _, dropped, _ in made)), cells, gone)


def _odd(table: str, read: bodies.Body, design: Design, said: Said) -> list[Doubt]:
    """Sizes that stand apart, and what the sheet comes to once they are settled; neither before the units are."""
    if any(one.kind == "unit" and one.is_open for one in read.questions):
        return []
    apart = whole.sizes(table, read.lines, said)
    # What a slip of one cell comes to is asked by its cell.
    if table not in ("trees", "seedlings") or any(one.is_open for one in apart[0]):
        return [apart]
    kept = Doubts((), *apart[1:]).applied(read.lines, "")
    return [(whole.figures(table, kept, design, said), frozenset(), {}), apart]


def _plots(draft: Draft, lines: Lines, said: Said) -> Doubt:
    """Plots whose names may hide that they are one, or several; the answer joins or parts them."""
    point = draft.places.get("point", draft.places.get("subplot", -1))
    outer = heading_places.numbered_anew(draft.layout, draft.used, point) if draft.layout and point >= 0 else []
    alike, ways = _points_alike(lines), _points_in_two_ways(lines)
    odd = [
        *alike,
        *ways,
        *_points_again(lines),
        *_points_in_ranges(lines),
        *_points_of_signs(lines),
        *_parts_alone(lines),
    ]
    odd += [f"Plots of one number stand under several of {heading!r} and are read as one." for heading in outer]
    parted = _parted_by_notes(lines)
    odd += [f"Plots of one number stand above and below row {row} ({why}) and are read as one." for row, why in parted]
    if not odd:
        return [], frozenset(), {}
    text = "Names of plots may hide that plots are one, or several: are they plots as they are named?"
    others = [Choice(_JOINED, "plots that are named in several ways are one")] if alike else []
    others += [Choice(_APART, "plots of one name are several: each gets the other name behind its own")] * bool(
        ways or outer or parted
    )
    asked = as_written(said, "plot_names", text, "they are; else name them in the sheet as they are", odd, others)
    at, answer = lines.place("point"), asked[0].answer
    every = (*lines.lines, *lines.empties)
    if answer == _JOINED:
        first: dict[str, str] = {}
        named = {line.row: first.setdefault(_bare_name(line.cells[at]), line.cells[at]) for line in every}
    elif answer == _APART:
        behind = _behind(draft, lines, outer)
        for row, why in parted:
            behind |= {line.row: why for line in every if line.row > row}
        named = {line.row: f"{line.cells[at]} {behind.get(line.row, '')}".strip() for line in every}
    else:
        named = {}
    return asked, frozenset(), {row: {"point": name} for row, name in named.items()}


def _twice(lines: Lines, said: Said) -> Doubt:
    """Whether a sheet whose second half is its first once more was put together twice."""
    half = len(lines.lines) // 2
    first, second = lines.lines[:half], lines.lines[half:]
    point = lines.place("point")
    # Lines of one tree's number stand once.
    is_numbered = {"tree", "line"} & set(lines.columns)
    plots = {line.cells[point] for line in first if point >= 0 and not is_numbered}
    if len(plots) < 2 or [line.cells for line in first] != [line.cells for line in second]:
        return [], frozenset(), {}
    text = (
        f"From row {second[0].row} every line of the sheet stands once more, in the same order: are they other stems?"
    )
    others = (Choice(_ONCE, f"the {many(half, 'line')} from that row on are left out"),)
    asked = as_written(said, "lines_again", text, "they are: each counts", (), others)
    return asked, frozenset(line.row for line in second) if asked[0].answer == _ONCE else frozenset(), {}


def _behind(draft: Draft, lines: Lines, outer: Sequence[str]) -> dict[int, str]:
    """What parts plots of one name, by row: the column they are numbered anew below, else crew, fence, stratum."""
    if outer and draft.layout is not None:
        at, above, behind = draft.layout.headings.index(outer[0]), "", {}
        for row, cells in draft.layout.body:
            above = (cells[at].strip() if at < len(cells) else "") or above
            behind[row] = above
        return behind
    places = [place for name in _OF_A_POINT if (place := lines.place(name)) >= 0]
    return {line.row: " ".join(filter(None, (line.cells[at] for at in places))) for line in lines.lines}


def _parted_by_notes(lines: Lines) -> list[tuple[int, str]]:
    """Rows of words with the words, such as Line B, below which plots are numbered anew."""
    at, every = lines.place("point"), sorted((*lines.lines, *lines.empties), key=lambda line: line.row)
    notes = [(one.row, one.why) for one in lines.fates if one.fate == "note" and one.why]
    parts = []
    for row, why in notes if at >= 0 else ():
        above = list(dict.fromkeys(line.cells[at] for line in every if line.row < row))
        below = list(dict.fromkeys(line.cells[at] for line in every if line.row > row))
        # One plot alone above goes on below its note.
        parts += [(row, why)] if min(len(above), len(below)) > 1 and below[0] == above[0] else []
    return parts


def _points_of_signs(lines: Lines) -> list[str]:
    """Plots named by a sign alone: it may mean the same as above."""
    signs = [name for name in dict.fromkeys(lines.values("point")) if name and not any(map(str.isalnum, name))]
    return [f"{', '.join(map(repr, signs[:5]))} may mean the plot above, and is read as a plot"] * bool(signs)


def _parts_alone(lines: Lines) -> list[str]:
    """Parts of plots where each plot has one alone, whose number is above 1: it may be how many were counted."""
    at, plot = lines.place("point"), lines.place("cluster")
    every = {(line.cells[plot], line.cells[at]) for line in lines.lines} if plot >= 0 <= at else set()
    numbers = [part[1] for name, point in every if (part := re.fullmatch(rf"{re.escape(name)}-(\d+)", point))]
    if len(every) < 2 or len({name for name, _ in every}) < len(every) or len(numbers) < len(every):
        return []
    shown = ", ".join(sorted(point for _, point in every)[:5])
    return [f"{shown}: each plot has one part alone, whose number may be how many parts were counted"] * (
        "1" not in numbers
    )


def _points_in_ranges(lines: Lines) -> list[str]:
    """Plots named by ranges that do not overlap (1-5, 6-10): a line then sums what several plots held."""
    names = dict.fromkeys(lines.values("point"))
    ends = [tuple(map(int, said.groups())) for name in names if (said := _RANGE.fullmatch(name))]
    ends.sort()
    runs = all(first < last for first, last in ends) and all(a[1] < b[0] for a, b in itertools.pairwise(ends))
    shown = ", ".join(f"{first}-{last}" for first, last in ends[:8])
    return [f"{shown} may be ranges of plots, and each is read as one plot"] if ends and runs else []


def _points_in_two_ways(lines: Lines) -> list[str]:
    """Points of several crews, strata or sides of a fence, which may be several points of one number."""
    point, told = lines.place("point"), list[str]()
    for column, words in _OF_A_POINT.items():
        at, seen = lines.place(column), dict[tuple[str, ...], set[str]]()
        for line in (*lines.lines, *lines.empties) if point >= 0 <= at else ():
            seen.setdefault(_look(lines, line), set()).update({line.cells[at]} - {""})
        shared = [name for *_, name in (look for look, ways in seen.items() if len(ways) > 1)]
        told += [
            f"Points {', '.join(shared[:8])} {words} and are read as one; name them apart if they are several."
        ] * bool(shared)
    return told


def _look(lines: Lines, line: Line) -> tuple[str, ...]:
    """The stand, day and point of a line: points of two days are two looks."""
    return tuple(line.cells[at] if (at := lines.place(name)) >= 0 else "" for name in ("stand", "visited_on", "point"))


def _points_again(lines: Lines) -> list[str]:
    """Points that come again after others, where most do not: two points of one number, or 1.10 that a spreadsheet
    wrote as 1.1."""
    if lines.place("point") < 0:
        return []
    looks = [_look(lines, line) for line in sorted(lines.lines, key=lambda line: line.row)]
    blocks = Counter(name for name, _ in itertools.groupby(looks))
    again = [name for *_, name in (look for look, number in blocks.items() if number > 1)]
    if not again or len(again) > _FEW_AGAIN * len(blocks):
        return []
    said = ", ".join(again[:8])
    return [
        f"Points {said} come again after other points and are read as one each; name them apart if they are "
        "two (1.10 may stand as 1.1)."
    ]


def _other_factor(draft: Draft, lines: Lines, design: Design, said: Said) -> Doubt:
    """Titles and notes among the rows that name another factor or plot than the one the sheet is read with."""
    first, layout = min((line.row for line in lines.lines), default=0), draft.layout
    whole: dict[int, dict[str, None]] = {}
    for row, cells in (*layout.titles, *layout.body) if layout is not None else ():
        whole.setdefault(row, {}).update(dict.fromkeys(cell.strip() for cell in cells if cell.strip()))
    words = [(one, " ".join(whole.get(one.row, ())) or one.why) for one in lines.fates if one.fate in ("note", "title")]
    above = [(one.row, text) for one, text in words if one.row < first]

    # Tables beside each other are read with one size, whatever stands over each.
    def names(text: str, own: Design) -> bool:
        sizes = _sizes_named(text, draft)
        return _names_another(sizes, own) if layout is not None and layout.again else not _names_own(sizes, own, said)

    strange = [(row, text) for row, text in above if names(text, design)] if len(own_size.written(lines)) < 2 else []
    below = [(one.row, text) for one, text in words if 0 < first < one.row]
    strange += [(row, text) for row, text in below if _names_another(_sizes_named(text, draft), design)]
    if not strange:
        return [], frozenset(), {}
    text = f"Row {strange[0][0]} says {strange[0][1][:120]!r}, and every line is read with one factor or plot size"
    text += f": {design.words()}." if design.is_known else "."
    meaning = "it holds for all lines; else say the other, or give each point its own in a column of factors or sizes"
    rows = frozenset(line.row for line in lines.lines if line.row > strange[0][0] > first > 0)
    others = [Choice(LEAVE_OUT, f"the {many(len(rows), 'line')} below that row are left out")] * bool(rows)
    asked = as_written(said, "other_factor", text, meaning, (), others)
    return asked, rows if asked[0].answer == LEAVE_OUT else frozenset(), {}


_Sizes = tuple[tuple[float, ...], tuple[float, ...]]


def _sizes_named(text: str, draft: Draft) -> _Sizes:
    """The factors and plots that words name; young stems are counted on plots, and a factor is of the trees beside."""
    factors, plots = sizes_named(text)
    return (() if draft.table == "seedlings" else tuple(factors)), tuple(plots)


def _names_another(sizes: _Sizes, design: Design) -> bool:
    """Whether words name a factor or plot that is not the one a sheet is read with."""
    factors, plots = sizes
    return not all(_is_of(one, design.baf_ft2_ac) for one in factors) or not all(
        _is_of(one, design.plot_area_ac) for one in plots
    )


def _names_own(sizes: _Sizes, design: Design, said: Said) -> bool:
    """Whether a title names no factor or plot, or the one a sheet is read with among others: of other rings. Of two
    factors each is of other points."""
    factors, plots = sizes
    if any(not _is_of(one, other) for one, other in itertools.combinations(factors, 2)):
        return False
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
    choices = (Choice(AS_WRITTEN, "it is right"), Choice(LEAVE_OUT, "no line of the sheet is taken"))
    evidence = (tally.words(design), "look at the unit of the diameters, the plot size and the number of plots")
    answer = said.setting("basal_area")
    return [
        Question(
            key=said.key("basal_area"), kind="set", sheet=said.sheet, text=text, evidence=evidence, choices=choices,
            answer=answer if answer in (AS_WRITTEN, LEAVE_OUT) else "", default=AS_WRITTEN,
            needed=area > plausible.limit("ba_confirmed_ft2_ac"),
        )
    ]  # fmt: skip


def _below_least(read: bodies.Body, said: Said) -> Doubt:
    """Trees outside the sizes the ring is said to take in: they cannot be both."""
    place = read.lines.place("dbh_in")
    least, most = (asking.told_length(said, name) for name in ("low_dbh_in", "high_dbh_in"))
    if place < 0 or (least is None and most is None):
        return [], frozenset(), {}
    rows = {line.row: size[0] for line in read.lines.lines if (size := classes.measure(line.cells[place])) is not None}
    small = {row for row, size in rows.items() if (least and size < least) or (most and size >= most)}
    if not small:
        return [], frozenset(), {}
    answer = said.setting("outside_ring")
    taken = answer if answer in (AS_WRITTEN, LEAVE_OUT) else ""
    text = many(len(small), "tree lies", "trees lie")
    text += f" outside the sizes this ring takes in ({rows_said(sorted(small))})."
    choices = (Choice(LEAVE_OUT, "they are left out"), Choice(AS_WRITTEN, "they are kept"))
    question = Question(
        key=said.key("outside_ring"), kind="set", sheet=said.sheet, text=text, choices=choices, answer=taken
    )
    return [question], frozenset(small) if taken == LEAVE_OUT else frozenset(), {}


def _short_heights(draft: Draft, lines: Lines, said: Said) -> Doubt:
    """Whether short heights in whole half logs are merchantable ones; so answered they come in as logs."""
    dbh, height, logs = (lines.place(name) for name in ("dbh_in", "height_ft", "logs"))
    pairs = {
        line.row: (size[0], tall[0])
        for line in (lines.lines if dbh >= 0 <= height else ())
        if (size := classes.measure(line.cells[dbh])) and size[0] and (tall := classes.measure(line.cells[height]))
    }
    heading = draft.layout.headings[draft.places["height_ft"]] if draft.layout and pairs else ""
    if not merchantable.may_be(heading, list(pairs.values())):
        return [], frozenset(), {}
    question, values = merchantable.short(heading, pairs, said)
    counted = {line.row: line.cells[logs] for line in lines.lines if logs >= 0}
    return (
        [question],
        frozenset(),
        {row: {"height_ft": "", "logs": counted.get(row) or number} for row, number in values.items()},
    )


def _slender(lines: Lines, said: Said) -> Doubt:
    """Whether heights that hardly belong to their diameters are right."""
    dbh, height = lines.place("dbh_in"), lines.place("height_ft")
    least, most, from_in = (
        plausible.limit(name) for name in ("slender_least_ft_in", "slender_most_ft_in", "slender_from_dbh_in")
    )
    odd = {}
    for line in lines.lines if dbh >= 0 <= height else ():
        size, tall = classes.measure(line.cells[dbh]), classes.measure(line.cells[height])
        # What is no height at all is refused by its line.
        if size and tall and tall[0] > 0 and size[0] >= from_in and not least <= tall[0] / size[0] <= most:
            of = measures.amount(size[0], "in", "g")
            odd[line.row] = f"row {line.row}: {measures.amount(tall[0], 'ft', 'g')} at {of}"
    if not odd:
        return [], frozenset(), {}
    text = f"{many(len(odd), 'height hardly belongs', 'heights hardly belong')} to the diameters: is that right?"
    others = (
        Choice("unmeasured", "those trees come in without a height"),
        Choice(LEAVE_OUT, "those trees are left out"),
    )
    asked = as_written(said, "slender", text, "heights and diameters are right", list(odd.values()), others)
    answer = asked[0].answer
    blank = {row: {"height_ft": ""} for row in odd} if answer == "unmeasured" else {}
    return asked, frozenset(odd) if answer == LEAVE_OUT else frozenset(), blank


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


def _bare_name(name: str) -> str:
    """The name of a plot without the word plot, blanks, capitals and zeros in front."""
    words = "|".join(sorted(map(re.escape, headings.words("section_point")), key=len, reverse=True))
    bare = re.sub(rf"{_REDONE}|^(?:{words})(?![a-z])[\s.#:_-]*|[\s_]+", "", name.casefold())
    return bare.lstrip("0") or bare or name


def _old_days(lines: Lines, constants: Mapping[str, str], said: Said) -> Doubt:
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
        return [], frozenset(), {}
    evidence = [
        f"{name} on {on} ({many(len(rows), 'line')}): its last visit in the book is of {last[name].isoformat()}"
        for (name, on), rows in old.items()
    ]
    text = "The sheet is older than what the book has of the stand: is the day right?"
    meaning = "it is an earlier visit, kept beside the later one; else say the right day"
    others = (Choice(LEAVE_OUT, "lines of that day are left out"),)
    asked = as_written(said, "old_days", text, meaning, evidence, others)
    rows = frozenset(row for some in old.values() for row in some)
    return asked, rows if asked[0].answer == LEAVE_OUT else frozenset(), {}
