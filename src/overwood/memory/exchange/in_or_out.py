"""Trees that a sheet marks as in or out of the plot, or to leave or cut: those that are out, or gone, count nothing."""

from __future__ import annotations

from dataclasses import replace

from overwood.ground.measures import many
from overwood.memory.exchange import classes
from overwood.memory.exchange.proposal import Choice, Question, RowFate
from overwood.memory.exchange.said import Said, rows_said
from overwood.memory.exchange.straighten import Line, Lines, is_word

COLUMN, CUT = "in_or_out", "cut_mark"
_IN, _OUT = ("in", "i", "y", "yes", "x", "1", "1.0"), ("out", "o", "n", "no", "0", "0.0")
_KEY = "borderline"


def apart(lines: Lines, sheet: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """The lines of trees that are in, without the column, and the question for those that are neither in nor out."""
    place = lines.place(COLUMN)
    if place < 0:
        return lines, ()
    sizes = [size[0] for cell in lines.values(COLUMN) if (size := classes.measure(cell)) is not None]
    if max(sizes, default=0.0) > 1 and "stems" not in lines.columns:
        return replace(lines, columns=tuple("stems" if name == COLUMN else name for name in lines.columns)), ()
    told = said.setting(_KEY).lower()
    answer = told if told in ("in", "out") else ""
    unclear = [line for line in lines.lines if line.cells[place].lower() not in (*_IN, *_OUT)]
    out = {line.row for line in lines.lines if line.cells[place].lower() in _OUT}
    out |= {line.row for line in unclear} if answer == "out" else set()
    return _left(lines, place, out, sheet, "out of the plot"), (
        _question(unclear, place, answer, said),
    ) if unclear else ()


def with_cut(lines: Lines, heading: str, sheet: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """The lines without the column of marks to leave or cut, and without the trees that are cut where so answered."""
    place = lines.place(CUT)
    if place < 0:
        return lines, ()
    marks = {line.row: line.cells[place] for line in lines.lines}
    cut = {row for row, mark in marks.items() if is_word("cut", mark)}
    strange = [
        f"row {row}: {mark!r}" for row, mark in marks.items() if mark and row not in cut and not is_word("left", mark)
    ]
    told = said.setting("cut_trees").lower()
    answer = told if told in ("stand", "gone") else ""
    question = Question(
        key=said.key("cut_trees"), kind="set", sheet=said.sheet, answer=answer,
        text=f"{heading!r} marks {many(len(cut), 'line')} of {len(lines.lines)} to cut: did those trees stand then?",
        evidence=(f"says neither to leave nor to cut, and stands: {'; '.join(strange[:8])}",) if strange else (),
        choices=(
            Choice("stand", "they stand and count; a tally keeps no marks, a marking does"),
            Choice("gone", "they are cut, and are left out"),
        ),
    )  # fmt: skip
    return _left(lines, place, cut if answer == "gone" else set(), sheet, "cut"), (question,) if cut else ()


def living(lines: Lines, sheet: str, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """Young stems without the columns of live and dead, and without the dead; the question for other words there."""
    out: set[int] = set()
    unclear: dict[str, list[int]] = {}
    told = said.setting("young_dead").lower()
    for name in ("live_mark", "dead_mark", "status"):
        place = lines.place(name)
        for line in lines.lines if place >= 0 else ():
            is_dead = _says_dead(name, line.cells[place])
            if is_dead is None:
                unclear.setdefault(line.cells[place], []).append(line.row)
            if is_dead or (is_dead is None and told == "dead"):
                out.add(line.row)
        lines = _left(lines, place, set(), sheet, "") if place >= 0 else lines
    rows = sorted(row for some in unclear.values() for row in some)
    question = Question(
        key=said.key("young_dead"), kind="set", sheet=said.sheet, answer=told if told in ("live", "dead") else "",
        text=(f"{', '.join(map(repr, unclear))} says neither live nor dead ({rows_said(rows)}): "
            "are such young stems alive?"),
        choices=(Choice("live", "they are alive and count"), Choice("dead", "they are dead, and count nothing")),
    )  # fmt: skip
    return without_rows(lines, out, sheet, "dead") if out else lines, (question,) if unclear else ()


def _says_dead(column: str, cell: str) -> bool | None:
    """Whether a cell says that its stem is dead; None where it says neither. A blank says nothing against life."""
    yes, no = is_word("yes", cell), is_word("no", cell)
    if not cell or is_word("live", cell) or (column == "live_mark" and yes) or (column == "dead_mark" and no):
        return False
    return True if is_word("dead", cell) or (column == "live_mark" and no) or (column == "dead_mark" and yes) else None


def without_rows(lines: Lines, out: set[int], sheet: str, why: str) -> Lines:
    """The lines without those of some rows; a point left without any was looked at."""
    return _left(lines, -1, out, sheet, why)


def _left(lines: Lines, place: int, out: set[int], sheet: str, why: str) -> Lines:
    """The lines without a column (none: -1) and without those of some rows; a point left without any was looked at."""
    return Lines(
        tuple(name for at, name in enumerate(lines.columns) if at != place),
        tuple(_without(line, place) for line in lines.lines if line.row not in out),
        tuple(_without(line, place) for line in (*lines.empties, *_bare_points(lines, out))),
        (*lines.fates, *(RowFate(sheet=sheet, row=row, fate="note", why=why) for row in sorted(out))),
        lines.filled,
    )


def _without(line: Line, place: int) -> Line:
    return replace(line, cells=tuple(cell for at, cell in enumerate(line.cells) if at != place))


def _bare_points(lines: Lines, out: set[int]) -> list[Line]:
    """A line without a tree for each point all of whose trees are out: it was looked at."""
    names = [lines.place(name) for name in ("stand", "visited_on", "point") if lines.place(name) >= 0]

    def key(line: Line) -> tuple[str, ...]:
        return tuple(line.cells[at] for at in names)

    held = {key(line) for line in lines.lines if line.row not in out}
    keep = {*names, *(at for name in ("baf_ft2_ac", "plot_area_ac", "cluster") if (at := lines.place(name)) >= 0)}
    bare = {key(line): line for line in lines.lines if line.row in out and key(line) not in held}
    return [
        replace(line, cells=tuple(cell if at in keep else "" for at, cell in enumerate(line.cells)))
        for line in bare.values()
    ]


def _question(unclear: list[Line], place: int, answer: str, said: Said) -> Question:
    shown = ", ".join(dict.fromkeys(line.cells[place] or "blank" for line in unclear[:8]))
    text = f"Neither in nor out: {shown}, from row {unclear[0].row} on ({len(unclear)} in all). Do such trees count?"
    choices = (
        Choice("in", "each counts as a whole stem"),
        Choice("out", "none counts; to count every second one, mark it in and the others out"),
    )
    return Question(key=said.key(_KEY), kind="set", sheet=said.sheet, text=text, choices=choices, answer=answer)
