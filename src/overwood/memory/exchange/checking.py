"""Checks every cell of a table against the contract, vectorised, and names each fault with its nearest valid value."""

from __future__ import annotations

import dataclasses
import datetime as dt
import difflib
import functools
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import polars as pl
import shapely
from shapely.errors import GEOSException

from overwood.ground import measures, species, tables
from overwood.ground.columns import Column
from overwood.ground.errors import Problem
from overwood.ground.measures import many
from overwood.ground.nearest import nearest
from overwood.ground.records import Table
from overwood.memory.exchange.row_rules import rules_of

ROW = "__row"
_TRUE, _FALSE = ("yes", "y", "true", "1", "x"), ("no", "n", "false", "0")
# Records of an earlier day are of history, and are noted in words.
EARLIEST = 1900
# A size with a mark of a few letters that may say that the tree is dead or cull.
_MARKED = re.compile(r"^(-?\d+(?:\.\d+)?)\s*((?i:d|dd|dead|s|sn|snag|x|c|cull|cut|l|live|\*))\.?$")
_NUMBER = re.compile(r"-?\d[\d,]*\.?\d*(?:[eE][-+]?\d+)?")
# All that Python takes for space: the frames know fewer, and a cell of separators alone is blank in every room.
SPACES = "".join(chr(code) for code in range(0x3001) if chr(code).isspace())
# A comma with one or two digits behind parts no thousands.
_COMMA_FOR_A_POINT = re.compile(r"^-?\d+,\d{1,2}$")
_US_DATE = re.compile(r"^(\d{1,2})[/.-](\d{1,2})[/.-](\d{4})$")


@dataclass
class Checked:
    """What came of checking a chunk: typed good rows, numbers of bad rows, and the problems."""

    good: Any
    bad_rows: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


@dataclass(frozen=True)
class _Seen:
    """A column as expressions: its values, which cells are wrong, and the words for one that is."""

    values: Any
    wrong: Any
    words: Callable[[str], str] = str
    # Names of species that nobody knows.
    written: Any = None


def blank_to_null(frame: Any) -> Any:
    """Trim every cell; a blank cell becomes null."""
    cells = {name: pl.col(name).str.strip_chars(SPACES) for name in frame.columns if name != ROW}
    return frame.with_columns([pl.when(cell != "").then(cell).alias(name) for name, cell in cells.items()])


def type_of(column: Column) -> Any:
    """The type in which a column is stored."""
    types = {"number": pl.Float64, "integer": pl.Int64, "species": pl.Int64, "date": pl.Date, "boolean": pl.Boolean}
    return types.get(column.kind, pl.String)


def check(table: Table, frame: Any, *, file: str, sheet: str, today: dt.date, ask_species: bool = False) -> Checked:
    """Check a chunk of text cells.

    ``frame`` has a column of row numbers named ``__row`` and text columns named as in the contract; columns of the
    contract that are missing count as blank. A species nobody knows is kept as unknown and told; with ``ask_species``
    it is a fault, so that the person who typed it says which is meant.
    """
    absent = [pl.lit(None, dtype=pl.String).alias(name) for name in table.columns if name not in frame.columns]
    frame = blank_to_null(frame).select(ROW, *(name for name in table.columns if name in frame.columns), *absent)
    frame = frame.filter(pl.any_horizontal(pl.exclude(ROW).is_not_null()))
    # The cost lies in the number of expressions: most columns are blank throughout.
    blank = {name for name, count in frame.null_count().row(0, named=True).items() if count == frame.height}
    seen = {
        name: _all_blank(column) if name in blank else _CHECKS[column.kind](frame[name], column)
        for name, column in table.columns.items()
    }
    written = [one.written for one in seen.values() if one.written is not None]
    if "species_written" in seen and written:
        kept = pl.coalesce(*written, "species_written").fill_null("")
        seen["species_written"] = dataclasses.replace(seen["species_written"], values=kept)
    good = frame.select(ROW, *(one.values.alias(name) for name, one in seen.items()))
    wrong = frame.select(
        one.wrong.fill_null(False).alias(name) | (pl.col(name).is_null() & table.columns[name].required)
        for name, one in seen.items()
    )
    faulty = wrong.select(pl.any_horizontal(pl.all()).alias("faulty"))["faulty"]
    problems = []
    for name in table.columns if faulty.any() else ():
        cells = frame.filter(wrong[name]).select(ROW, name)
        problems += _problems(cells, table.columns[name], seen[name].words, file, sheet)
    if "species_written" in seen and "species" not in blank:
        unknown = _unknown_species(good, file, sheet, asked=ask_species)
        problems += unknown
        if ask_species and unknown:
            faulty = faulty | ((good["species"] == species.UNKNOWN) & (good["species_written"] != "")).fill_null(False)
    whole_row, more = _row_checks(table, good, file, sheet, today)
    problems += more
    faulty = faulty | whole_row
    return Checked(good.filter(~faulty), frame[ROW].filter(faulty).to_list(), problems)


def _problems(faulty: Any, column: Column, words: Callable[[str], str], file: str, sheet: str) -> list[Problem]:
    name = faulty.columns[-1]
    return [
        Problem(
            what="A cell that must be filled is blank." if cell is None else "A value cannot be taken.",
            file=file,
            sheet=sheet,
            row=row,
            column=name,
            found=cell or "",
            expected=column.expected,
            remedy=words(cell) if cell is not None else "",
        )
        for row, cell in faulty.iter_rows()
    ]


def _all_blank(column: Column) -> _Seen:
    """A column without any value."""
    kind = type_of(column)
    return _Seen(pl.lit("" if kind == pl.String else None, dtype=kind), pl.lit(False))


def _text(cells: Any, column: Column) -> _Seen:
    cell = pl.col(cells.name)
    if not column.choices:
        return _Seen(cell.fill_null(""), pl.lit(False))
    lowered = cell.str.to_lowercase()
    return _Seen(
        lowered.fill_null(""), ~lowered.is_in(list(column.choices)), lambda cell: _nearest(cell, column.choices)
    )


def _nearest(cell: str, choices: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(cell.lower(), choices, n=1, cutoff=0.5)
    return _said_near(near[0] if near else "")


def _said_near(name: str) -> str:
    return f"The nearest is {name!r}." if name else ""


def _number(cells: Any, column: Column) -> _Seen:
    value = pl.col(cells.name).cast(pl.Float64, strict=False)
    values = pl.when(value.is_finite()).then(value)
    wrong = pl.col(cells.name).is_not_null() & values.is_null()
    if column.low is not None:
        wrong = wrong | (values < column.low).fill_null(False)
    if column.high is not None:
        wrong = wrong | (values > column.high).fill_null(False)
    return _Seen(values, wrong, lambda cell: _nearest_number(cell, column))


def _nearest_number(cell: str, column: Column) -> str:
    try:
        value = float(cell)
    except ValueError:
        if _COMMA_FOR_A_POINT.match(cell):
            return f"If {cell.replace(',', '.')} is meant, write it so."
        if marked := _MARKED.match(cell):
            return f"If {marked[1]} is meant, write it alone and {marked[2]} in a column of its own, such as status."
        inside = _NUMBER.search(cell)
        return f"If {inside.group().replace(',', '')} is meant, write that alone." if inside else ""
    low, high = column.low, column.high
    if low is not None and value < low:
        return f"The smallest allowed is {measures.digits(low, column.unit, 'g')}."
    if high is not None and value > high:
        return f"The largest allowed is {measures.digits(high, column.unit, 'g')}."
    return ""


def _integer(cells: Any, column: Column) -> _Seen:
    seen = _number(cells, column)
    whole = (seen.values == seen.values.round()) & (seen.values.abs() < 2**31)
    values = pl.when(whole).then(seen.values).cast(pl.Int64, strict=False)
    return dataclasses.replace(seen, values=values, wrong=seen.wrong | ~whole.fill_null(True))


def _date(cells: Any, column: Column) -> _Seen:
    cell = pl.col(cells.name)
    values = cell.str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)
    whole = cell.str.contains(r"^\d{4}-\d{2}-\d{2}( 00:00(:00)?)?$")
    early = (values.dt.year() < EARLIEST).fill_null(False)
    return _Seen(values, cell.is_not_null() & (values.is_null() | ~whole | early), nearest_date)


def nearest_date(cell: str) -> str:
    american = _US_DATE.match(cell)
    if american:
        month, day, year = (int(part) for part in american.groups())
        for first, second in ((month, day), (day, month)):
            try:
                return f"If {dt.date(year, first, second).isoformat()} is meant, write it so."
            except ValueError:
                continue
    parts = re.match(r"^(\d{4})-(\d{1,2})-(\d{1,2})$", cell)
    if parts and int(parts[1]) < EARLIEST:
        return f"The earliest day is {EARLIEST}-01-01; note what is older in words."
    if parts and 1 <= int(parts[2]) <= 12:
        last = (dt.date(int(parts[1]), int(parts[2]), 28) + dt.timedelta(days=4)).replace(day=1) - dt.timedelta(days=1)
        return f"That month has {last.day} days."
    return ""


def _boolean(cells: Any, column: Column) -> _Seen:
    known = {**dict.fromkeys(_TRUE, True), **dict.fromkeys(_FALSE, False)}
    lowered = pl.col(cells.name).str.to_lowercase()
    values = lowered.replace_strict(known, default=None, return_dtype=pl.Boolean)
    return _Seen(values, pl.col(cells.name).is_not_null() & values.is_null())


def _species(cells: Any, column: Column) -> _Seen:
    cell, matches = pl.col(cells.name), {cell: species.match(cell) for cell in cells.drop_nulls().unique().to_list()}
    codes = {cell: None if m.ambiguous else (m.spcd or species.UNKNOWN) for cell, m in matches.items()}
    kept = {cell: cell if m.spcd is None and not m.ambiguous else None for cell, m in matches.items()}
    values = cell.replace_strict(codes, default=None, return_dtype=pl.Int64)
    written = cell.replace_strict(kept, default=None, return_dtype=pl.String)
    return _Seen(values, cell.is_not_null() & values.is_null(), _which_species, written)


def _which_species(cell: str) -> str:
    match = species.match(cell)
    names = ", ".join(f"{species.by_code(code).common_name} = {code}" for code in match.choices)
    return f"{cell!r} stands for several species: write one of {names}." if match.ambiguous else ""


def _outline(cells: Any, column: Column) -> _Seen:
    cell, fault = pl.col(cells.name), functools.partial(outline_fault, kind=column.kind)
    faults = {one: bool(fault(one)) for one in cells.drop_nulls().unique().to_list()}
    return _Seen(cell.fill_null(""), cell.replace_strict(faults, default=False, return_dtype=pl.Boolean), fault)


def outline_fault(cell: str, kind: str = "outline") -> str:
    """What is wrong with an outline, or with a shape of any kind, in words; "" where nothing is, or where there is
    none."""
    if not cell:
        return ""
    try:
        shape = shapely.from_wkt(cell)
    except GEOSException:
        return "It cannot be read as well-known text."
    if shape.is_empty:
        return "It is empty."
    if kind == "outline" and shape.geom_type not in ("Polygon", "MultiPolygon"):
        return f"It is a {shape.geom_type}, not an area."
    west, south, east, north = shape.bounds
    if west < -180 or east > 180 or south < -90 or north > 90:
        return "It is not in degrees; give longitude then latitude (WGS 84)."
    return "" if shape.is_valid else f"{shapely.is_valid_reason(shape)}."


# Where the published fuel models stand, by code.
_FUEL_MODELS = "science/tables/fuel_models.csv"


def _fuel(cells: Any, column: Column) -> _Seen:
    known = sorted(row["code"] for row in tables.rows(_FUEL_MODELS))
    codes = {cell: _fuel_code(cell) for cell in cells.drop_nulls().unique().to_list()}
    values = pl.col(cells.name).replace_strict(codes, default=None, return_dtype=pl.String)
    return _Seen(values.fill_null(""), ~values.is_in(known), lambda cell: _said_near(nearest(_fuel_code(cell), known)))


def _fuel_code(cell: str) -> str:
    """A fuel model as its published code: 9, 9.0 and fm-9 are FM9."""
    code = re.sub(r"[\s\-_.]", "", re.sub(r"\.0+$", "", cell.upper()))
    return f"FM{int(code)}" if code.isascii() and code.isdigit() else code


_CHECKS: dict[str, Callable[[Any, Column], _Seen]] = {
    "text": _text,
    "number": _number,
    "integer": _integer,
    "date": _date,
    "boolean": _boolean,
    "species": _species,
    "outline": _outline,
    "shape": _outline,
    "fuel": _fuel,
}


def _unknown_species(good: Any, file: str, sheet: str, *, asked: bool) -> list[Problem]:
    unknown = good.filter((pl.col("species") == species.UNKNOWN) & (pl.col("species_written") != ""))
    firsts = unknown.group_by("species_written", maintain_order=True).agg(pl.col(ROW), pl.len())
    problems = []
    for written, rows, count in firsts.iter_rows():
        near = species.match(written).nearest
        what = f"Unknown species, kept as written and counted as unknown ({many(count, 'row')})."
        remedy = f"If {near} is meant, correct it." if near else ""
        if asked:
            what = f"No known species ({many(count, 'line')})."
            remedy = (f"The nearest is {near}. " if near else "") + "Write one that is known, or the word unknown."
        where = {"file": file, "sheet": sheet, "column": "species", "found": written}
        for row in rows if asked else rows[:1]:
            problems.append(
                Problem(what=what, row=row, remedy=remedy, severity="error" if asked else "warning", **where)
            )
    return problems


def _row_checks(table: Table, good: Any, file: str, sheet: str, today: dt.date) -> tuple[Any, list[Problem]]:
    wrong, problems, rules = pl.Series([False] * good.height, dtype=pl.Boolean), [], rules_of(table.name, today)
    hits = good.select(rule.wrong.fill_null(False).alias(str(place)) for place, rule in enumerate(rules))
    for rule, hit in zip(rules, hits.iter_columns(), strict=True):
        for row, cell in good.filter(hit).select(ROW, rule.column).iter_rows() if hit.any() else ():
            text = "" if cell is None else str(cell)
            problems.append(
                Problem(
                    what=rule.what,
                    file=file,
                    sheet=sheet,
                    row=row,
                    column=rule.column,
                    found=text,
                    expected=rule.expected,
                    severity=rule.severity,
                )
            )
        if rule.severity == "error":
            wrong = wrong | hit
    return wrong, problems
