"""One sheet of a foreign file at a time: what it holds, its headings, its lines, its questions."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass

from overwood.ground.errors import BadRecords, Misuse, Problem
from overwood.memory.exchange import (
    applying,
    asking,
    below,
    body,
    classes,
    design,
    doubts,
    girths,
    heading_places,
    headings,
    held,
    hidden,
    in_or_out,
    layout,
    legend,
    measures,
    merchantable,
    own_size,
    plot_kinds,
    rings_in_names,
    series,
    several_stems,
    shape,
    sheet_notes,
    slopes,
    stand_and_plot,
    stated,
    stem_map,
    straighten,
    sums,
    taken_in,
    told_counts,
    unheaded,
    unlisted,
    unread,
    years,
)
from overwood.memory.exchange.draft import Draft
from overwood.memory.exchange.proposal import Answers, HeadingUse, Known, KnownStand, Question, RowFate, SheetProposal
from overwood.memory.exchange.proposal import Mapping as Kept
from overwood.memory.exchange.reading import Sheet
from overwood.memory.exchange.said import Said
from overwood.memory.exchange.straighten import Lines

# Height classes that begin here, ft, are those of trees, not of young stems.
_TALL_FT = 15
# Classes of diameters, in.: the widest, and a size that one of them begins at, where the unit is named and where not.
_INCH_CLASS_WIDTH, _INCH_CLASS, _BARE_CLASS = 4, 8, 12
# Columns that an empty plot fills as well.
_PLACE = ("stand", "visited_on", "point")
_GUIDE = ("sheet", "column", "what goes in")


@dataclass(frozen=True, kw_only=True)
class Read:
    """A sheet read: its proposal, and what applying needs of it."""

    proposal: SheetProposal
    ready: applying.Ready | None = None
    read: body.Body | None = None
    problems: tuple[Problem, ...] = ()
    said: Said | None = None
    draft: Draft | None = None


def has_rows(sheet: Sheet) -> bool:
    """Whether anything stands below the first row."""
    return sum(1 for _, cells in sheet.rows() if any(cell.strip() for cell in cells)) > 1


def is_guide(sheet: Sheet) -> bool:
    """Whether a sheet is the page of the program's own template that explains the columns."""
    first = next(iter(sheet.rows()), (0, []))[1]
    return tuple(cell.strip() for cell in first[:3]) == _GUIDE


def all_empty(given: Sequence[Sheet]) -> BadRecords:
    """What is said of sheets that hold headings and nothing else."""
    problems = tuple(
        Problem(what="The sheet has headings and no row.", file=one.file, sheet=one.name) for one in given[:3]
    )
    named = (
        f"The sheets of {given[0].file} are empty."
        if len({one.file for one in given}) == 1
        else "The sheets are empty."
    )
    return BadRecords(named, problems, remedy="Fill in a row below the headings and import it again.")


def drafts(given: Sequence[Sheet], answers: Answers, remembered: Mapping[str, Kept], known: Known) -> list[Draft]:
    """Every sheet with its table and its rows; several tally sheets are asked apart."""
    several = (
        sum(
            1
            for sheet in given
            if not legend.pairs(sheet) and layout.of(sheet, *_spoken(answers, remembered)) is not None
        )
        > 1
    )
    made = [_draft(sheet, answers, remembered, known, several, len(given) > 1) for sheet in given]
    listed = {name for one in made if one.table == "points" and one.lines for name in one.lines.values("point")}
    made = [_with_empties(one, listed) for one in made]
    made = [part for draft in made for part in plot_kinds.apart(draft)]
    several = several or len(made) > len(given)
    if several:
        made = [dataclasses.replace(one, said=dataclasses.replace(one.said, one_of_several=True)) for one in made]
    tallies = [draft for draft in made if draft.lines is not None]
    if not any(one.table in ("trees", "seedlings") for one in tallies):
        made = [_no_points(one) if one.table == "points" else one for one in made]
    if several and len(tallies) < 2:
        made = [dataclasses.replace(one, said=dataclasses.replace(one.said, one_of_several=False)) for one in made]
    return made


def _with_empties(one: Draft, listed: Container[str]) -> Draft:
    """A tally with the plots it speaks of, or passes over, and has no line of."""
    if one.layout is None or one.lines is None or one.table not in ("trees", "seedlings"):
        return one
    lines, asked = unlisted.with_empties(one.layout, one.lines, one.said, listed)
    return dataclasses.replace(one, lines=lines, questions=(*one.questions, *asked))


def _spoken(answers: Answers, remembered: Mapping[str, Kept]) -> tuple[set[str], Mapping[str, Kept]]:
    """Headings a person spoke of, with and without the sheet's name, and the headings that were kept."""
    return {part for key in answers.columns for part in (key, key.partition(".")[2])} - {""}, remembered


def _draft(
    sheet: Sheet, answers: Answers, remembered: Mapping[str, Kept], known: Known, several: bool, legends: bool
) -> Draft:
    said = Said(answers=answers, sheet=sheet.name, known=known, one_of_several=several)
    if said.table == "-":
        return Draft(sheet=sheet, said=said, why_not="it was said to be left out")
    if legends and legend.pairs(sheet):
        return Draft(sheet=sheet, said=said, why_not="it is a legend of codes, and is used as one")
    grid = layout.of(sheet, *_spoken(answers, remembered))
    # Only where nothing else of the file could be the tally: a price list holds species and numbers too.
    headless = not legends and (grid is None or unheaded.is_line(grid.headings))
    bare = unheaded.layout_of(sheet) if headless else None
    grid = bare or grid
    if grid is None:
        return Draft(sheet=sheet, said=said, why_not="no headings of a tally were recognized")
    kept = remembered.get(_signature(grid))
    said = dataclasses.replace(said, kept=kept)
    table, places, wide = _table(grid, said)
    if not table:
        return Draft(sheet=sheet, said=said, layout=grid, why_not=heading_places.what_lacks(grid, said))
    if not grid.body:
        return Draft(sheet=sheet, said=said, layout=grid, why_not="it has headings and no row")
    wide, of_classes = told_counts.added(grid, wide, said)
    wide, of_sizes = plot_kinds.of_headings(grid.headings, wide, said)
    if table in ("trees", "seedlings"):
        beside = layout.side_by_side(grid, places)
        # Diameters that stand beside each other without a second species are stems of one line.
        places |= (
            several_stems.more_columns(grid, places, said) if table == "trees" and beside is grid and not wide else {}
        )
        places |= {"point": len(grid.headings)} if len(beside.headings) > len(grid.headings) else {}
        grid = beside
        if "visited_on" not in places and (at := years.place(grid)) >= 0 and at not in places.values():
            places |= {years.YEAR: at}
    lines = straighten.of(grid, places, wide.places if wide else (), table)
    part = grid.headings[places["subplot"]] if "subplot" in places else ""
    lines, of_parts = rings_in_names.parts(lines, part, grid.title_text, said) if table == "trees" else (lines, ())
    lines = straighten.with_subplots(lines)
    if wide:
        lines = shape.melted(lines, wide, sheet.name)
    lines, of_years = years.of(lines, sheet.name, said)
    lines, of_series = series.apart(lines, said) if table in ("trees", "seedlings") else (lines, ())
    of_years += years.asked(grid, table, said)
    lines, of_numbers = several_stems.numbered(lines, said) if table in ("trees", "seedlings") else (lines, ())
    stems = several_stems.apart(lines, grid.delimiter, said) if table == "trees" else several_stems.Stems(lines)
    lines, asked = hidden.rows(sheet, stems.lines, said)
    lines, of_borders = in_or_out.apart(lines, sheet.name, said)
    marked = grid.headings[places[in_or_out.CUT]] if in_or_out.CUT in places else ""
    lines, of_cut = in_or_out.with_cut(lines, marked, sheet.name, said)
    lines, of_dead = in_or_out.living(lines, sheet.name, said) if table == "seedlings" else (lines, ())
    lines, of_names = stand_and_plot.apart(lines, grid.headings[places["point"]] if "point" in places else "", said)
    lines, of_skipped = unlisted.visited(grid, lines, said) if table == "points" else (lines, ())
    of_bare = (unheaded.question(grid, said),) if bare else ()
    logs = grid.headings[places["logs"]] if "logs" in places else ""
    lines, of_logs, said_logs = merchantable.as_logs(lines, logs, grid.title_text, said)
    lines, of_sums = sums.apart(lines, sheet.name, said) if table in ("trees", "seedlings") else (lines, ())
    measured = grid.headings[places["dbh_in"]] if "dbh_in" in places else ""
    lines, of_girths, said_round = girths.of(lines, measured, said)
    used = {**places, **{f"wide:{at}": at for at in (wide.places if wide else ())}}
    of_unread = unread.questions(grid, places, {*used.values(), *grid.again}, said) if table == "trees" else ()
    return Draft(
        sheet=sheet, said=said, layout=grid, table=table, places=places, wide=wide, lines=lines,
        questions=(*of_bare, *of_parts, *of_classes, *of_sizes, *of_years, *of_series, *of_numbers, *asked, *of_names,
            *of_borders, *of_cut, *of_dead, *of_unread, *stems.questions, *of_skipped, *of_sums, *of_logs, *of_girths),
        notes=(*below.notes(sheet), *hidden.notes(sheet, grid.headings, used), *stems.notes, *said_round, *said_logs),
    )  # fmt: skip


def _no_points(one: Draft) -> Draft:
    """A list of plots without a tally that it goes with is left out."""
    return Draft(
        sheet=one.sheet,
        said=one.said,
        layout=one.layout,
        why_not="it lists plots, and no tally of the file goes with them",
    )


def _table(grid: layout.Layout, said: Said) -> tuple[str, dict[str, int], shape.Wide | None]:
    """The table a sheet holds, the places of its columns, and its columns of counts."""
    if said.table and said.table not in headings.tables():
        raise Misuse(
            f"there is no table {said.table!r} for a sheet.", remedy=f"There are {', '.join(headings.tables())}."
        )
    fits = {table: heading_places.of(grid, table, said) for table in headings.tables()}
    wides = {table: shape.wide_of(grid.headings, fits[table], table) for table in ("trees", "seedlings")}
    if shape.are_diameters(wides["seedlings"]):
        wides["seedlings"] = None
    # A count beside columns of counts never takes their place.
    fits = {t: told_counts.without(p) if wides.get(t) else p for t, p in fits.items()}
    full = {
        t: {**p, **dict.fromkeys((*wide.columns, "stems"), -1)} if (wide := wides.get(t)) else p
        for t, p in fits.items()
    }
    table = said.table or headings.best_table(full, grid.headings, _class_texts(grid, fits["seedlings"]))
    # A heading that was said to be a column of one table only says which table the sheet holds.
    told = {said.answers_column(cell) for cell in grid.headings if cell} - {"", "-"}
    if not said.table and table in wides and not told <= set(headings.columns_of(table)):
        table = next((one for one in wides if told <= set(headings.columns_of(one))), table)
    return table, fits.get(table, {}), wides.get(table)


def _class_texts(grid: layout.Layout, places: Mapping[str, int]) -> bool:
    """Whether cells of a size class are classes of height rather than diameters: by its title, else by the cells."""
    if re.search(r"regen|repro(duction)?\b|seedling|advance", f"{grid.sheet} {grid.title_text}", re.IGNORECASE):
        return True
    place = places.get("height_class", -1)
    values = [cells[place].strip() for _, cells in grid.body[:200] if 0 <= place < len(cells) and cells[place].strip()]
    tall = [
        given
        for value in values
        if (given := classes.span(value)) is not None and given.low >= _TALL_FT and not given.unit
    ]
    words_only = not any(any(letter.isdigit() for letter in value) for value in values)
    of_inches = bool(values) and _are_inch_classes(values, headings.unit_in(grid.headings[place]))
    may_be_trees = "dbh_in" in headings.exact_columns("trees", grid.headings)
    if may_be_trees and (len(tall) * 2 > len(values) or words_only or of_inches):
        return False
    numbers = [value for value in values if classes.dbh_class(value) is not None and classes.span(value) is None]
    return len(numbers) * 2 <= len(values)


def _are_inch_classes(values: Sequence[str], unit: str) -> bool:
    """Whether classes in inches, or in no unit, are narrow ones that go up to sizes of trees, as no heights of young
    stems are."""
    spans = [given for value in values if (given := classes.span(value)) is not None]
    narrow = [g for g in spans if (g.unit or unit) in ("in", "") and g.high - g.low <= _INCH_CLASS_WIDTH]
    sized = [g for g in narrow if g.low >= (_INCH_CLASS if g.unit or unit else _BARE_CLASS)]
    return len(narrow) * 2 > len(values) and bool(sized)


def read(draft: Draft, *, order: str, numbers: bool, words: Mapping[str, str], in_file: frozenset[str]) -> Read:
    """A draft with its questions, its lines in the record's words, and the fate of every row."""
    if draft.lines is None or draft.layout is None:
        return Read(proposal=_left_out(draft))
    known = _with_stands(draft.said.known, in_file)
    said = dataclasses.replace(draft.said, known=known, day_order=order, day_numbers=numbers)
    grid, table, lines = draft.layout, draft.table, draft.lines
    names = {column: grid.headings[place] for column, place in draft.places.items()}
    lines, written = slopes.apart(lines)
    constants, questions = _constants(draft, lines, said)
    if table == "points":
        lines = own_size.of_list(lines, names, said)
    own, problems = (
        own_size.of_sheet(grid, table, lines, names, said) if draft.problem is None else (None, [draft.problem])
    )
    lines = own.lines if own else lines
    size, ring, asked = (design.Design(), {}, []) if problems else taken_in.ring(draft, lines, said, own)
    tilted = slopes.of(written, names, said)
    problems += own_size.on_slopes(grid, table, said) if tilted.by_point else []
    own = slopes.applied(lines, own, size, tilted) if not problems else own
    lines, size = (own.lines, own.mean) if own else (lines, size)
    questions += [*draft.questions, *tilted.questions, *asked]
    inside, spoken = legend.within(grid, draft.used)
    done = body.of(grid, table, lines, names, said, size, {**words, **inside})
    if table == "stems":
        mapped, asked = stem_map.block(done.lines, said)
        questions += asked
        constants |= mapped
        done = dataclasses.replace(done, lines=stem_map.placed(done.lines, mapped))
        done = dataclasses.replace(done, notes=(*done.notes, *stem_map.outside(done.lines, mapped)))
    kind = ""
    if table in asking.KINDS:
        kinds = asking.kind(table, said, grid.title_text)
        questions += [kinds.question] if table == "trees" else []
        kind = kinds.value or kinds.question.default
    problems += done.problems
    good, refusals = (
        (done.lines, ())
        if not problems or problems == list(done.problems)
        else (none_of(done.lines), refused_rows(done.lines))
    )
    looked = doubts.of(draft, done, size, constants, said)
    questions += [*done.questions, *looked.questions]
    apart = stated.held(draft, done.lines)
    left, settled = unread.of_columns(grid, done.lines, draft.used | spoken, apart, questions, said)
    questions += left if table != "stands" else ()
    kept = looked.applied(good, grid.sheet)
    fates = fates_of(grid.sheet, dataclasses.replace(done.lines, lines=kept.lines, fates=kept.fates), (*refusals,))
    ready = applying.Ready(
        file=grid.file, sheet=grid.sheet, table=table, lines=kept, kind=kind, constants=constants,
        ring=ring,
        has_own_sizes=own is not None or table == "points",
    )  # fmt: skip
    shown = SheetProposal(
        file=grid.file,
        sheet=said.sheet,
        table=table,
        heading_row=max(grid.heading_rows, default=0),
        headings=_headings(draft, done),
        questions=tuple(questions),
        notes=(
            *sheet_notes.of_rows(fates),
            *sheet_notes.of_filled(lines),
            *draft.notes,
            *tilted.notes,
            *done.notes,
            *sheet_notes.of_legend(inside),
            *sheet_notes.of_unused(grid, draft.used | spoken),
        ),
        fates=fates,
        mapping=_mapping(draft, done, settled),
        remembered=draft.said.kept is not None,
        points=len({ready.value(line, "point") for line in ready.every_line}),
        lines=len(kept.lines),
    )
    return Read(proposal=shown, ready=ready, read=done, problems=tuple(problems), said=said, draft=draft)


def _with_stands(known: Known, in_file: frozenset[str]) -> Known:
    """What is known, with the stands that another sheet of the file brings."""
    held = {one.stand for one in known.stands}
    more = tuple(KnownStand(stand=name) for name in sorted(in_file - held) if name)
    return dataclasses.replace(known, stands=(*known.stands, *more)) if held else known


def none_of(lines: Lines) -> Lines:
    return dataclasses.replace(lines, lines=(), empties=())


def refused_rows(lines: Lines) -> tuple[int, ...]:
    return tuple(sorted({line.row for line in (*lines.lines, *lines.empties)}))


def _left_out(draft: Draft) -> SheetProposal:
    """A sheet that is left out: every row of it is a note, so that the sums still close."""
    every = [*draft.sheet.rows(), *draft.sheet.beside]
    rows = sorted({row for row, cells in every if any(cell.strip() for cell in cells)})
    fates = tuple(RowFate(sheet=draft.sheet.name, row=row, fate="note", why=draft.why_not) for row in rows)
    shown = _all_headings(draft.layout) if draft.layout else ()
    row = max(draft.layout.heading_rows, default=0) if draft.layout else 0
    return SheetProposal(
        file=draft.sheet.file,
        sheet=draft.sheet.name,
        table="",
        why_not=draft.why_not,
        heading_row=row,
        headings=shown,
        fates=fates,
    )


def _all_headings(grid: layout.Layout) -> tuple[HeadingUse, ...]:
    values = (
        (cell, _first_values(grid, place)) for place, cell in enumerate(grid.headings[: headings.MOST_HEADINGS]) if cell
    )
    return tuple(HeadingUse(heading=cell, column="-", such_as=such) for cell, such in values)


def _first_values(grid: layout.Layout, place: int) -> tuple[str, ...]:
    return held.of(cells[place] for _, cells in grid.body if place < len(cells))


def _headings(draft: Draft, done: body.Body) -> tuple[HeadingUse, ...]:
    """Every heading with the column it is taken as; a column of counts is taken as its class or species."""
    grid = draft.layout
    assert grid is not None
    columns = {place: column for column, place in draft.places.items()}
    wide = draft.wide.said if draft.wide else {}
    shown = []
    for place, heading in enumerate(grid.headings[: headings.MOST_HEADINGS]):
        if not heading:
            continue
        column = _column(columns.get(grid.again.get(place, place), "")) or (
            f"stems of {' '.join(wide[place])}" if place in wide else "-"
        )
        units = measures.units_of(draft.table, column) if place in columns else ()
        such = _first_values(grid, place)
        shown.append(
            HeadingUse(heading=heading, column=column, unit=done.units.get(column, ""), units=units, such_as=such)
        )
    return tuple(shown)


def _column(name: str) -> str:
    """The column a heading is shown and kept as: that of the record it adds to; none for what only chooses lines."""
    return "" if name == years.YEAR else name.partition("#")[0]


def _signature(grid: layout.Layout) -> str:
    """The mark under which a mapping is kept; headings made up for a sheet without any are those of no other sheet."""
    return headings.signature(grid.headings if grid.heading_rows else (*grid.headings, "without headings"))


def _mapping(draft: Draft, done: body.Body, settled: Container[str]) -> Kept:
    """What is kept of the sheet: headings, units and codes."""
    grid = draft.layout
    assert grid is not None
    columns = {place: column for column, place in draft.places.items()}
    wide = draft.wide.places if draft.wide else ()
    taken: dict[str, str] = {}
    for place, cell in enumerate(grid.headings[: headings.MOST_HEADINGS]):
        if cell and place in wide and draft.said.column(cell) == "stems":
            taken[cell] = "stems"
        # What was never asked about, or held nothing yet, is not remembered as left out.
        if cell and place not in wide and (place in columns or draft.said.column(cell) or cell in settled):
            taken.setdefault(cell, _column(columns.get(place, "-")) or "-")
    units = {column: unit for column, unit in done.units.items() if unit}
    codes = {column: known for column, known in done.codes.items()}
    mark = _signature(grid)
    shown = tuple(cell for cell in grid.headings if cell)
    return Kept(signature=mark, table=draft.table, headings=shown, columns=taken, units=units, codes=codes)


def _constants(draft: Draft, lines: Lines, said: Said) -> tuple[dict[str, str], list[Question]]:
    """What the sheet has no column for and a person says for all of it."""
    constants: dict[str, str] = {}
    questions: list[Question] = []
    grid, table = draft.layout, draft.table
    assert grid is not None
    used = draft.used
    titles = grid.title_pairs
    counting = heading_places.counting(grid, draft.places, used)
    likely = heading_places.likely_count(grid, draft.places)
    asked = {}
    if table == "stands":
        asked = {"property": lambda: asking.land(said)}
    else:
        asked = {"stand": lambda: asking.stand(said, titles), "visited_on": lambda: asking.day(said, titles)}
        if table in ("trees", "seedlings"):
            asked["point"] = lambda: asking.point(said)
        if (
            lines.lines
            and table in ("trees", "seedlings")
            and heading_places.may_have_counts(grid, lines, draft.places, used, said)
        ):
            asked["stems"] = lambda: asking.stems(said, counting, likely)
        if table == "seedlings" and lines.lines and not any(lines.values("height_ft")):
            asked["height_class"] = lambda: asking.height_class(said, titles)
            asked["stems"] = lambda: asking.stems(said, counting, likely)
    if table == "acorn_trees" and "acorns" in draft.places and "method" not in draft.places:
        timed = headings.seconds_in(grid.headings[draft.places["acorns"]])
        constants |= {"method": "timed", "seconds": timed} if timed else {}
    more = (
        heading_places.other_counts(grid, used, said)
        if table in ("trees", "seedlings") and ("stems" in draft.places or draft.wide)
        else ()
    )
    kinds = draft.wide is not None and draft.wide.columns[0] == "species"
    questions += [asking.other_counts(said, more, are_kinds=kinds).question] if more else []
    if stand_and_plot.is_open(draft.questions):
        asked.pop("stand", None)
    for column, question in asked.items():
        if any(lines.values(column, empty_too=column in _PLACE)) or (column == "visited_on" and table == "points"):
            continue
        one = question()
        constants[column] = one.value
        questions.append(one.question)
    return constants, questions


def fates_of(sheet: str, lines: Lines, refused: Sequence[int]) -> tuple[RowFate, ...]:
    """One fate for every row: those told already, and "tally" for the rows of lines."""
    told = {one.row: one for one in lines.fates}
    for row in refused:
        told[row] = RowFate(sheet=sheet, row=row, fate="refused")
    for line in lines.lines:
        if line.row not in told or told[line.row].fate != "refused":
            told[line.row] = RowFate(sheet=sheet, row=line.row, fate="tally")
    return tuple(told[row] for row in sorted(told))
