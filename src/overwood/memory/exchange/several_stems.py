"""Trees of several stems: further columns of diameters, and several diameters in one cell, as a line for each stem."""

from __future__ import annotations

import re
import string
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from overwood.ground import species
from overwood.ground.measures import many
from overwood.memory.exchange import classes, codes, headings, years
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import AS_WRITTEN, Choice, Question
from overwood.memory.exchange.said import Said, rows_said
from overwood.memory.exchange.straighten import Line, Lines

DBH = "dbh_in"
# Further columns of diameters stand beside the first under this name and their number, until the stems are told apart.
MORE = f"{DBH}#"
_DIAMETER = r"(?:dbh|diam|diameter|dia|d)"
_FIRST = re.compile(
    rf"^(?:(?:stem )?{_DIAMETER}(?: stem)? ?[1a]|stem ?[1a](?: {_DIAMETER})?|(?:1st|first) (?:stem|"
    rf"{_DIAMETER})(?: {_DIAMETER})?)$"
)
_FURTHER = re.compile(
    rf"^(?:(?:stem |fork )?{_DIAMETER}(?: stem| fork)? ?[2-9b-f]|stem ?[2-9b-f](?: {_DIAMETER})?"
    rf"|(?:2nd|3rd|4th|second|third|fourth|other|fork|forked) (?:stem |fork )?{_DIAMETER}|"
    rf"{_DIAMETER} (?:of )?(?:fork|2nd stem|other stem))$"
)
# Below this half of the sizes lie small numbers, which count stems of an inch class rather than measure one.
_LEAST_MEDIAN = 4
_PARTS = re.compile(r"\s*(?:[,;/+&\n]|\band\b)\s*|\s+")
_HARD_PARTS = re.compile(r"\s*[;/+&\n]\s*")
_PAIR = re.compile(r"^\d+(?:\.\d+)?,\d+(?:\.\d+)?$")
_FRACTION = re.compile(r"\b1/[248]\b|\b3/[48]\b")
# Of one tree, not of each of its stems: what was measured once stays with the first.
_ONCE = ("height_ft", "logs", "defect_pct", "crown_ratio_pct")
_WAYS = ("stems", "mean", "first")
# A number beside a species: 3 WO, 2x YP, WO x3, RM (2).
_NUMBERED = re.compile(
    r"^(\d{1,2})\s*[xX\u00d7*-]?\s*([A-Za-z].*)$|^(.*[A-Za-z.])\s*(?:[xX\u00d7*]\s*(\d{1,2})|\((\d{1,2})\)|\s(\d{1,2}))$"
)
_MEANT = ("stems", "species", AS_WRITTEN)


@dataclass(frozen=True)
class Stems:
    """Lines with a line for each stem, with what is asked and said of them."""

    lines: Lines
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()


def first_of_several(layout: Layout) -> int:
    """The place of a first column of diameters where no heading is the diameter alone ("DBH 1", "DBH 2"); -1 where
    there is none.

    Its columns are filled from the left and hold sizes of trees: counts of inch classes are no diameters.
    """
    words = [headings.plain(cell) for cell in layout.headings[: headings.MOST_HEADINGS]]
    firsts = [at for at, word in enumerate(words) if _FIRST.match(word)]
    further = [at for at, word in enumerate(words) if _FURTHER.match(word)]
    if len(firsts) != 1 or not further:
        return -1
    sizes = sorted(size for _, cells in layout.body if (size := _size(cells, firsts[0])) is not None)
    fills = all(_size(cells, firsts[0]) for _, cells in layout.body if any(_size(cells, at) for at in further))
    return firsts[0] if sizes and fills and sizes[len(sizes) // 2] >= _LEAST_MEDIAN else -1


def more_columns(layout: Layout, taken: Mapping[str, int], said: Said) -> dict[str, int]:
    """Further columns of diameters by their names: headed so, headed as the first is, or said to be."""
    if DBH not in taken:
        return {}
    others = set(years.several(layout).values())
    own, unit = headings.plain(layout.headings[taken[DBH]]), headings.unit_in(layout.headings[taken[DBH]])
    places = []
    for at, heading in enumerate(layout.headings[: headings.MOST_HEADINGS]):
        told, word = said.column(heading) if heading else "-", headings.plain(heading)
        looks_so = (
            not told and (_FURTHER.match(word) or word == own) and any(_size(cells, at) for _, cells in layout.body)
        )
        # The same diameters once more in another unit are no other stems.
        looks_so = looks_so and headings.unit_in(heading) in ("", unit) and at not in others
        if at not in taken.values() and (told == DBH or looks_so):
            places.append(at)
    return {f"{MORE}{number}": at for number, at in enumerate(places, 2)}


def _size(cells: Sequence[str], at: int) -> float | None:
    measure = classes.measure(cells[at].strip()) if at < len(cells) else None
    return measure[0] if measure and measure[0] > 0 else None


def numbered(lines: Lines, said: Said) -> tuple[Lines, tuple[Question, ...]]:
    """The lines with numbers beside their species (WO x3) as counts, where so answered, and the question for it.

    A line that has a count besides stays as it is written.
    """
    at, number = lines.place("species"), lines.place("stems")
    parts = {cell: pair for cell in dict.fromkeys(lines.values("species")) if (pair := _species_and_number(cell))}
    if not parts:
        return lines, ()
    told, shown = said.setting("species_numbers"), next(iter(parts))
    answer = told if told in _MEANT else ""
    rows = [str(line.row) for line in lines.lines if line.cells[at] in parts]
    question = Question(
        key=said.key("species_numbers"), kind="set", sheet=said.sheet, answer=answer,
        text=(many(len(rows), "line has", "lines have")
            + f" a number beside the species, such as {shown!r} ({rows_said(rows)}): what is it?"),
        choices=(
            Choice("stems", f"a count: {parts[shown][1]} stems of {parts[shown][0]}"),
            Choice("species", f"no count: a stem of {parts[shown][0]}"),
            Choice(AS_WRITTEN, "neither: each is asked about as a species"),
        ),
    )  # fmt: skip
    if answer in ("", AS_WRITTEN):
        return lines, (question,)
    counts, alone = answer == "stems", number < 0
    lines = _with_stems(lines) if counts and alone else lines
    number = lines.place("stems")

    def one(line: Line) -> Line:
        name, count = parts.get(line.cells[at], (line.cells[at], "1" if alone else ""))
        if counts and line.cells[number] and line.cells[at] in parts:
            return line
        own = {at: name, **({number: line.cells[number] or count} if counts else {})}
        return Line(line.row, tuple(own.get(place, cell) for place, cell in enumerate(line.cells)))

    return replace(lines, lines=tuple(map(one, lines.lines))), (question,)


def _with_stems(lines: Lines) -> Lines:
    """The lines with a blank column of counts."""

    def wider(line: Line) -> Line:
        return Line(line.row, (*line.cells, ""))

    both = tuple(map(wider, lines.lines)), tuple(map(wider, lines.empties))
    return replace(lines, columns=(*lines.columns, "stems"), lines=both[0], empties=both[1])


def _species_and_number(cell: str) -> tuple[str, str] | None:
    """A species and the number beside it; None where the cell is a species as it stands, or none with a number."""
    match = _NUMBERED.match(cell.strip())
    if not match or species.match(cell).spcd is not None:
        return None
    name, number = match[2] or match[3], next(part for part in (match[1], *match.groups()[3:]) if part)
    return (name.strip(), number) if codes.is_species(name.strip()) and int(number) else None


def apart(lines: Lines, delimiter: str, said: Said) -> Stems:
    """A line for each diameter of a line, as the answers have it."""
    if DBH not in lines.columns:
        return Stems(lines)
    columns, in_columns = _by_column(lines, said)
    commas, in_pairs = _pairs(columns.lines, delimiter, said)
    grown: list[Line] = []
    rows: list[int] = []
    for line in columns.lines.lines:
        stems = _of_line(columns.lines.columns, line, reads_pairs=commas == "stems")
        grown += stems
        rows += [line.row] if len(stems) > 1 else []
    many = len(rows) > 8
    said_of = (
        "Several diameters of one line are stems of their own: row "
        f"{', '.join(map(str, rows[:8]))}{f' and {len(rows) - 8} more' if many else ''}.",
    )
    parts = replace(columns.lines, lines=tuple(grown))
    return Stems(parts, (*in_columns, *in_pairs), said_of if rows else ())


def _by_column(lines: Lines, said: Said) -> tuple[Stems, tuple[Question, ...]]:
    """The further columns put into the cell of the first, or out of the way, with the question for it."""
    more = [at for at, name in enumerate(lines.columns) if name.startswith(MORE)]
    if not more:
        return Stems(lines), ()
    first, filled = lines.place(DBH), sum(any(line.cells[at] for at in more) for line in lines.lines)
    told = said.setting("more_diameters")
    answer = told if told in _WAYS else ""
    needed = filled * 2 >= len(lines.lines)
    question = Question(
        key=said.key("more_diameters"), kind="set", sheet=said.sheet, needed=needed, default="" if needed else "stems",
        answer=answer,
        text=many(filled, "line has", "lines have") + " more than one diameter in their columns: what are they?",
        choices=(
            Choice("stems", "stems of a forked tree, or trees of their own: each counts"),
            Choice("mean", "one stem measured across twice: their mean is its diameter"),
            Choice("first", "another measure or another year: only the first column is read"),
        ),
    )  # fmt: skip
    way = answer or "stems"

    def joined(line: Line) -> Line:
        sizes = [cell for at in (first, *more) if (cell := line.cells[at])]
        cell = line.cells[first] if way == "first" else _mean(sizes) if way == "mean" else "; ".join(sizes)
        return Line(line.row, tuple(cell if at == first else c for at, c in enumerate(line.cells) if at not in more))

    names = tuple(name for name in lines.columns if not name.startswith(MORE))
    bare = replace(
        lines, columns=names, lines=tuple(map(joined, lines.lines)), empties=tuple(map(joined, lines.empties))
    )
    return Stems(bare), (question,)


def _mean(sizes: Sequence[str]) -> str:
    """The mean of diameters as text; where one of them is no number they are handed on, for the check to name."""
    known = [measure for size in sizes if (measure := classes.measure(size)) is not None]
    if not known or len(known) < len(sizes) or len({unit for _, unit in known}) > 1:
        return "; ".join(sizes)
    return f"{sum(number for number, _ in known) / len(known):.4g} {known[0][1]}".strip()


def _pairs(lines: Lines, delimiter: str, said: Said) -> tuple[str, tuple[Question, ...]]:
    """What a comma between two numbers means where few cells have one: decimals, or two diameters."""
    place = lines.place(DBH)
    cells = [line.cells[place] for line in lines.lines if line.cells[place]]
    pairs = [cell for cell in cells if _PAIR.match(cell)]
    if not pairs or delimiter == ";" or len(pairs) * 2 >= len(cells):
        return "", ()
    told = said.setting("commas")
    answer = told if told in ("stems", "decimal") else ""
    one, other = pairs[0].split(",")
    question = Question(
        key=said.key("commas"), kind="set", sheet=said.sheet, answer=answer,
        text=(f"{len(pairs)} of {len(cells)} diameters hold a comma, such as {pairs[0]!r}: are they two stems, or "
            "decimals?"),
        choices=(Choice("stems", f"two stems, {one} and {other}"), Choice("decimal", f"one stem of {one}.{other}")),
    )  # fmt: skip
    return answer, (question,)


def _of_line(columns: Sequence[str], line: Line, *, reads_pairs: bool) -> list[Line]:
    """The stems of one line; a line whose count does not fit its diameters stays as it is, for the check to name."""
    place = columns.index(DBH)
    sizes = _sizes(line.cells[place], reads_pairs=reads_pairs)
    count = line.cells[columns.index("stems")] if "stems" in columns else ""
    if len(sizes) < 2 or count not in ("", "1", str(len(sizes))):
        return [line]
    return [Line(line.row, tuple(_cells_of(columns, line, sizes, number))) for number in range(len(sizes))]


def _cells_of(columns: Sequence[str], line: Line, sizes: Sequence[str], number: int) -> Iterable[str]:
    """The cells of one stem of a line: its own of a list as long as that of the diameters, and the line's."""
    for name, cell in zip(columns, line.cells, strict=True):
        parts = [part.strip() for part in re.split(r"[,;/]", cell)]
        if name == DBH:
            yield sizes[number]
        elif name == "stems":
            yield "1"
        elif name == "tree":
            yield f"{cell}{string.ascii_lowercase[number % 26]}" if cell and number else cell
        elif len(parts) == len(sizes) and all(parts) and name not in ("stand", "point", "visited_on"):
            yield parts[number]
        else:
            yield "" if name in _ONCE and number else cell


def _sizes(cell: str, *, reads_pairs: bool) -> list[str]:
    """The diameters of a cell; one where it holds one, a class, a fraction, or something that is no list of numbers."""
    if _PAIR.match(cell):
        return cell.split(",") if reads_pairs else [cell]
    # "12 (3)" may be three stems of 12: never a stem of 3.
    if "(" in cell or _FRACTION.search(cell) or classes.measure(cell) is not None or classes.span(cell) is not None:
        return [cell]
    # A comma before a digit is a decimal where other marks part the sizes: 12,5; 14,0.
    marks = _PARTS if not re.search(r"\d,\d+\s*[;/+&]", cell) else _HARD_PARTS
    parts = [part for part in marks.split(cell) if part]
    if len(parts) > 1 and all(_PAIR.match(part) or classes.measure(part) is not None for part in parts):
        return parts
    return [cell]
