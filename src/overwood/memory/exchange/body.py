"""The lines of a sheet in the words and units of the record, as far as they are known, with what must be asked."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from overwood.ground import species
from overwood.ground.errors import Problem
from overwood.ground.measures import many
from overwood.memory.exchange import (
    asking,
    checking,
    classes,
    codes,
    coordinates,
    dates,
    in_or_out,
    measures,
    turned,
    watching,
)
from overwood.memory.exchange.codes import Codes
from overwood.memory.exchange.design import Design, Tally
from overwood.memory.exchange.layout import Layout
from overwood.memory.exchange.proposal import Choice, Question, RowFate
from overwood.memory.exchange.said import Said, rows_said
from overwood.memory.exchange.straighten import Line, Lines, is_word

_COUNTS = ("stems", "browsed", "acorns")
# What a line cannot be without; codes that a line may be without.
_NEEDED = ("dbh_in", "height_class")
_OPEN_CODES = ("crown_class", "quality", "grade", "origin", "place", "logs")
_UNMEASURED = ("-", "--", "---", "\u2013", "\u2014", "?", "n/a", "na", "nm")


@dataclass(frozen=True, kw_only=True)
class Body:
    """A sheet read: its lines as the record has them, the questions, the rows that were refused."""

    table: str
    lines: Lines
    units: Mapping[str, str]
    codes: Mapping[str, Mapping[str, str]]
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    written: Mapping[str, tuple[str, ...]] | None = None


def of(
    layout: Layout,
    table: str,
    lines: Lines,
    names: Mapping[str, str],
    said: Said,
    design: Design,
    legend: Mapping[str, str],
) -> Body:
    """Read a tally; ``names`` are the headings by column."""
    lines = _with_acorn_words(_with_points_of_commas(lines, layout.delimiter))
    # Columns of marks are added last: the sizes of a wide sheet are known by where they stand.
    lines, early = turned.of(lines, table, names, said)
    lines, marked = _with_marks_apart(lines)
    lines = _with_remarks_apart(lines) if table == "trees" else lines
    lines, dashed = _without_dashes(lines, table, names)
    units, questions, notes = _units(layout, table, lines, names, said, design)
    questions += early
    meant: dict[str, Codes] = {}
    for column in (*(c for c in codes.CODED if c in lines.columns),):
        meant[column] = codes.of(column, lines.values(column), said, unit=units.get(column, ""), legend=legend)
        questions += meant[column].questions
        notes += meant[column].notes
    written = {column: tuple(one.meant) for column, one in meant.items()}
    stands, asked = asking.stand_names(_every(lines, "stand") if table != "stands" else [], said)
    written |= {
        "stand": tuple(stands),
        "dbh_in": tuple(one.key.partition("dbh_in.")[2] for one in early if one.kind == "code"),
    }
    questions += asked
    lines = _without_gone(lines, meant["note_mark"], layout.sheet) if "note_mark" in meant else lines
    lines, more, nameless = _with_blanks(lines, said)
    questions += more
    lines, problems = _translated(layout, table, lines, units, meant, said)
    lines, placed = coordinates.of(lines, said)
    questions += placed
    lines, strange = _with_stands(lines, stands, layout)
    kept_codes = {column: {w: c for w, c in one.meant.items() if c and c != w} for column, one in meant.items()}
    return Body(
        table=table,
        lines=lines,
        units=units,
        codes={column: known for column, known in kept_codes.items() if known},
        questions=tuple(questions),
        notes=(*notes, *marked, *dashed, *nameless),
        problems=(*problems, *strange),
        written=written,
    )


def _without_gone(lines: Lines, marks: Codes, sheet: str) -> Lines:
    """The lines without trees whose remark was said to mean that they are not there."""
    place = lines.place("note_mark")
    rows = {line.row for line in lines.lines if marks.meant.get(line.cells[place]) == "gone"}
    return in_or_out.without_rows(lines, rows, sheet, "its tree is not there") if rows else lines


def _every(lines: Lines, column: str) -> list[str]:
    """The cells of a column of all lines, the empty plots' too."""
    place = lines.place(column)
    return [line.cells[place] for line in (*lines.lines, *lines.empties)] if place >= 0 else []


def _with_stands(lines: Lines, stands: Mapping[str, str], layout: Layout) -> tuple[Lines, list[Problem]]:
    """Lines with their stands as the book names them; those of a stand it does not have are refused, with one fault a
    stand."""
    place = lines.place("stand")
    lost = {name for name, known in stands.items() if not known}
    if place < 0 or not stands:
        return lines, []

    def named(some: Sequence[Line]) -> tuple[Line, ...]:
        good = [line for line in some if line.cells[place] not in lost]
        cells = (tuple(stands.get(c, c) if p == place else c for p, c in enumerate(line.cells)) for line in good)
        return tuple(Line(line.row, texts) for line, texts in zip(good, cells, strict=True))

    hurt = [line for line in (*lines.lines, *lines.empties) if line.cells[place] in lost]
    refused = tuple(
        RowFate(sheet=layout.sheet, row=row, fate="refused", why="its stand is not known")
        for row in {line.row for line in hurt}
    )
    rows = {one.row for one in refused}
    fates = (*(one for one in lines.fates if one.row not in rows), *refused)
    rows_of: dict[str, list[int]] = {}
    for line in hurt:
        rows_of.setdefault(line.cells[place], []).append(line.row)
    problems = [_no_stand(name, rows_of[name], layout) for name in sorted(rows_of)]
    return replace(lines, lines=named(lines.lines), empties=named(lines.empties), fates=fates), problems


def _no_stand(name: str, rows: Sequence[int], layout: Layout) -> Problem:
    return Problem(
        what=f"There is no such stand in the book; {many(len(rows), 'row is', 'rows are')} refused for it.",
        file=layout.file,
        sheet=layout.sheet,
        row=min(rows),
        column="stand",
        found=name,
        expected="a stand of the book",
        remedy=f"Add the stand, or say which it is with --code stand.{name}=NAME.",
    )


def _with_points_of_commas(lines: Lines, delimiter: str) -> Lines:
    """Numbers with decimal points, where the sheet writes commas."""
    numeric = [
        place for place, column in enumerate(lines.columns) if column.endswith(("_in", "_ft", "_deg", "_ac", "_pct"))
    ]
    cells = [line.cells[place] for line in lines.lines for place in numeric]
    if not measures.decimal_commas(cells, delimiter):
        return lines
    return lines.changed(measures.with_point, *numeric)


def _with_acorn_words(lines: Lines) -> Lines:
    """A column of acorns that holds yes and no, or words, says whether a tree bears; so does one of cull its mark."""
    columns = list(lines.columns)
    for column, other in (("acorns", "bearing"), ("defect_pct", "cull_mark")):
        values = [value for value in lines.values(column) if value]
        if other not in columns and values and all(classes.measure(value) is None for value in values):
            columns[columns.index(column)] = other
    alive = [value for value in lines.values("live_mark") if value]
    if alive and "status" not in columns and not all(is_word("yes", value) or is_word("no", value) for value in alive):
        columns[columns.index("live_mark")] = "status"
    return replace(lines, columns=tuple(columns))


def _with_marks_apart(lines: Lines) -> tuple[Lines, tuple[str, ...]]:
    """Marks written behind a species (WO*, dead WO) in a column of their own."""
    place = lines.place("species")
    if place < 0:
        return lines, ()
    parts = {
        value: codes.marked_species(value)
        for value in set(lines.values("species"))
        if species.match(value).spcd is None or value[:1] in ("(", "[")
    }
    marks = {value: pair for value, pair in parts.items() if pair[1] and codes.is_species(pair[0])}
    if not marks:
        return lines, ()
    columns = (*lines.columns, "species_mark")

    def apart(line: Line) -> Line:
        bare, mark = marks.get(line.cells[place], (line.cells[place], ""))
        return Line(line.row, (*line.cells[:place], bare, *line.cells[place + 1 :], mark))

    said = f"Marks beside a species are read apart from it: {', '.join(sorted({mark for _, mark in marks.values()}))}."
    return replace(
        lines, columns=columns, lines=tuple(map(apart, lines.lines)), empties=tuple(map(apart, lines.empties))
    ), (said,)


def _with_remarks_apart(lines: Lines) -> Lines:
    """Remarks that may say that a tree is dead or cull, in a column of their own; the remark stays as it is written."""
    place = lines.place("note")
    if place < 0 or not any(map(codes.marks_a_tree, set(lines.values("note")))):
        return lines

    def apart(line: Line) -> Line:
        remark = line.cells[place]
        return Line(line.row, (*line.cells, remark if codes.marks_a_tree(remark) else ""))

    return replace(
        lines,
        columns=(*lines.columns, "note_mark"),
        lines=tuple(map(apart, lines.lines)),
        empties=tuple(map(apart, lines.empties)),
    )


def _without_dashes(lines: Lines, table: str, names: Mapping[str, str]) -> tuple[Lines, tuple[str, ...]]:
    """Dashes and question marks for what was not measured as blanks, where a line may be without it; that is said."""
    places = [
        place
        for place, column in enumerate(lines.columns)
        if (measures.unit_of(table, column) and column not in _NEEDED) or column in _OPEN_CODES
    ]
    dashes = {
        (place, line.cells[place])
        for line in lines.lines
        for place in places
        if line.cells[place].lower() in _UNMEASURED
    }
    if not dashes:
        return lines, ()

    def bare(line: Line) -> Line:
        return Line(line.row, tuple("" if (at, cell) in dashes else cell for at, cell in enumerate(line.cells)))

    headed = sorted({names.get(lines.columns[place], lines.columns[place]) for place, _ in dashes})
    marks = " ".join(sorted({mark for _, mark in dashes}))
    return replace(lines, lines=tuple(map(bare, lines.lines))), (
        f"{marks} in {', '.join(headed)} is read as not measured.",
    )


def _units(
    layout: Layout, table: str, lines: Lines, names: Mapping[str, str], said: Said, design: Design
) -> tuple[dict[str, str], list[Question], list[str]]:
    units: dict[str, str] = {}
    questions: list[Question] = []
    notes: list[str] = []
    for column in lines.columns:
        if not measures.unit_of(table, column) or column in ("baf_ft2_ac", "plot_area_ac"):
            continue
        values = [value for value in lines.values(column) if value]

        def shown(unit: str, column: str = column, values: Sequence[str] = values) -> str:
            return _result(table, column, unit, lines, values, design)

        reading = measures.read(table, column, names.get(column, column), layout.title_text, values, said, shown)
        units[column] = reading.unit
        questions += [reading.question] if reading.question else []
        notes += [reading.note] if reading.note else []
    return units, questions, notes


def _result(table: str, column: str, unit: str, lines: Lines, values: Sequence[str], design: Design) -> str:
    """What a column comes to when it is read in a unit."""
    if column == "dbh_in" and table == "trees":
        return tally_of(lines, unit).words(design)
    numbers = [
        float(text)
        for value in values
        if (text := measures.converted(table, column, value, unit)) and classes.measure(text)
    ]
    wanted = measures.unit_of(table, column)
    return f"{min(numbers):.1f} to {max(numbers):.1f} {wanted}" if numbers else ""


def tally_of(lines: Lines, unit: str) -> Tally:
    """Diameters of a tree tally read in a unit, with their counts and the number of plots."""
    dbh, stems, point = (lines.place(name) for name in ("dbh_in", "stems", "point"))
    tally = []
    for line in lines.lines:
        size = classes.measure(measures.converted("trees", "dbh_in", line.cells[dbh], unit)) if dbh >= 0 else None
        count = classes.measure(measures.counted(line.cells[stems])) if stems >= 0 else (1.0, "")
        if size is not None:
            tally.append((size[0], count[0] if count else 1.0))
    stand = lines.place("stand")
    every = (*lines.lines, *lines.empties)
    plots = {(line.cells[stand] if stand >= 0 else "", line.cells[point] if point >= 0 else "") for line in every}
    return Tally([size for size, _ in tally], [count for _, count in tally], len(plots))


def _with_blanks(lines: Lines, said: Said) -> tuple[Lines, list[Question], tuple[str, ...]]:
    """What a blank species and a blank count mean, where lines have them; what was not asked for is said."""
    questions: list[Question] = []
    notes: tuple[str, ...] = ()
    species_at, stems_at = lines.place("species"), lines.place("stems")
    if species_at >= 0:
        lines, asked = _blank_species(lines, species_at, said)
        questions += asked
        left = [str(line.row) for line in lines.lines if not line.cells[species_at]]
        notes = (f"Lines without a species are kept as unknown: {rows_said(left)}.",) if left else ()
    if stems_at >= 0:
        lines, asked = _blank_counts(lines, stems_at, said)
        questions += asked
    return lines, questions, notes


def _blank_species(lines: Lines, place: int, said: Said) -> tuple[Lines, list[Question]]:
    blank = [line.row for line in lines.lines if not line.cells[place]]
    if not blank:
        return lines, []
    above = said.setting("blank_species")
    often = len(blank) >= 3 and len(blank) * 5 >= len(lines.lines)
    every = many(len(lines.lines), "line")
    text = many(len(blank), f"of {every} has", f"of {every} have") + f" a size and no species ({rows_said(blank)})."
    choices = (Choice("unknown", "kept as unknown species"), Choice("above", "the same species as the line above"))
    question = Question(
        key=said.key("blank_species"), kind="set", sheet=said.sheet, text=text, choices=choices, needed=often,
        default="" if often else "unknown", answer=above if above in ("unknown", "above") else "",
    )  # fmt: skip
    if above != "above":
        return lines, [question]
    filled, last = [], ""
    for line in lines.lines:
        last = line.cells[place] or last
        filled.append(Line(line.row, (*line.cells[:place], last, *line.cells[place + 1 :])))
    return replace(lines, lines=tuple(filled)), [question]


def _blank_counts(lines: Lines, place: int, said: Said) -> tuple[Lines, list[Question]]:
    blank = [line.row for line in lines.lines if not line.cells[place]]
    if not blank:
        return lines, []
    told = said.setting("blank_count")
    choices = (Choice("0", "nothing was counted"), Choice("1", "one stem each"))
    text = many(len(blank), "line names", "lines name") + f" a species or size and no count ({rows_said(blank)})."
    question = Question(
        key=said.key("blank_count"), kind="set", sheet=said.sheet, text=text, choices=choices,
        answer=told if told in ("0", "1") else "",
    )  # fmt: skip
    if not question.answer:
        return lines, [question]
    filled = tuple(
        Line(one.row, tuple(c or told if p == place else c for p, c in enumerate(one.cells))) for one in lines.lines
    )
    return replace(lines, lines=filled), [question]


def _translated(
    layout: Layout, table: str, lines: Lines, units: Mapping[str, str], meant: Mapping[str, Codes], said: Said
) -> tuple[Lines, list[Problem]]:
    """Every cell in the record's words; lines with a day that is none are refused by name, the rest go on."""
    columns = lines.columns
    problems: list[Problem] = []
    refused: list[RowFate] = []

    def text(column: str, cell: str) -> str:
        if not cell and column == "species":
            return codes.UNKNOWN
        if not cell or cell.lower() == "clear":
            return cell
        if column in meant:
            return meant[column].meant.get(cell, cell) or ""
        if column in units:
            return measures.converted(table, column, cell, units[column])
        return measures.counted(cell) if column in _COUNTS else cell

    pairs: list[tuple[Line, Line]] = []
    for line in watching.each(lines.lines, watching.UNDERSTOOD):
        cells = tuple(text(column, cell) for column, cell in zip(columns, line.cells, strict=True))
        pairs += [(one, line) for one in _split(columns, Line(line.row, cells), line)]
    lines, good = _with_written(lines, pairs)
    day = lines.place("visited_on")
    empties = lines.empties
    if day >= 0:
        good, late = _dated(good, day, layout, said)
        bare, more = _dated(list(empties), day, layout, said)
        empties, problems = tuple(bare), [*late, *more]
        refused = [RowFate(sheet=layout.sheet, row=one.row or 0, fate="refused", why=one.what) for one in problems]
    rows = {one.row for one in refused}
    fates = tuple(one for one in lines.fates if one.row not in rows)
    return replace(lines, lines=tuple(good), empties=empties, fates=(*fates, *refused)), problems


def _with_written(lines: Lines, pairs: Sequence[tuple[Line, Line]]) -> tuple[Lines, list[Line]]:
    """Lines of unknown species with the word they were written with in a column of its own."""
    place = lines.place("species")
    words = {row.cells[place] for one, row in pairs if one.cells[place] == codes.UNKNOWN} if place >= 0 else set()
    words = {word for word in words if word and species.match(word).spcd is None}
    if not words:
        return lines, [one for one, _ in pairs]
    good = [
        Line(
            one.row,
            (*one.cells, row.cells[place] if one.cells[place] == codes.UNKNOWN and row.cells[place] in words else ""),
        )
        for one, row in pairs
    ]
    empties = tuple(Line(one.row, (*one.cells, "")) for one in lines.empties)
    return replace(lines, columns=(*lines.columns, "species_written"), empties=empties), good


def _dated(lines: Sequence[Line], place: int, layout: Layout, said: Said) -> tuple[list[Line], list[Problem]]:
    """Lines with their day as year-month-day; a day that is none stops its line alone."""
    good, problems = [], []
    seen: dict[int, bool] = {}
    for line in lines:
        cell = line.cells[place]
        day = (
            (dates.read(cell, said.day_order) or (dates.counted(cell) if said.day_numbers else None)) if cell else None
        )
        if day is not None or not cell or (dates.is_open(cell) and not said.day_order):
            good.append(Line(line.row, (*line.cells[:place], day.isoformat() if day else "", *line.cells[place + 1 :])))
        elif line.row not in seen:
            seen[line.row] = True
            problems.append(
                Problem(
                    what="The day cannot be taken.",
                    file=layout.file,
                    sheet=layout.sheet,
                    row=line.row,
                    column="visited_on",
                    found=cell,
                    expected="a day such as 2025-05-20, in the order of the other days",
                    remedy=checking.nearest_date(cell),
                )
            )
    return good, problems


def _split(columns: Sequence[str], line: Line, written: Line) -> list[Line]:
    """A line whose height class is to be shared over two classes, as two lines; an odd stem goes to the lower.

    What cannot be shared, a count that is no whole number, stays one line and is refused by its count.
    """
    if "height_class" not in columns:
        return [line]
    place = columns.index("height_class")
    if line.cells[place] != classes.SPLIT:
        return [line]
    given = classes.span(written.cells[place])
    names = classes.near_height_classes(given, "") if given else ()
    at = columns.index("stems") if "stems" in columns else -1
    count = line.cells[at].strip() if at >= 0 else ""
    if not names:
        return [line]
    if count and not re.fullmatch(r"\d+(\.0*)?", count):
        return [Line(line.row, tuple(names[0] if p == place else c for p, c in enumerate(line.cells)))]
    total = int(float(count)) if count else 1
    shares = [total // len(names) + (1 if number < total % len(names) else 0) for number in range(len(names))]
    grown = []
    for name, share in zip(names, shares, strict=True):
        cells = [name if p == place else str(share) if p == at else c for p, c in enumerate(line.cells)]
        grown += [Line(line.row, tuple(cells))] if share else []
    return grown
