"""Fields of records as a page names, shows and takes them: in the units in force, each number leading back to the one
that is stored."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from overwood.desk.entering import Report
from overwood.desk.review import Change
from overwood.faces.pages import units
from overwood.ground import measures
from overwood.ground.columns import Column
from overwood.ground.errors import Problem
from overwood.ground.records import TABLES
from overwood.ground.vocabulary import as_written

# Decimals to which a number turned from metric is stored, as those of metric sheets are; a plot is a small part of an
# acre.
_PLACES, _PLOT_PLACES = 4, 8
_UNITS_IN_NAMES = ("_btu_ft_s", "_ft2_ac", "_mi_h", "_ch_h", "_ft3", "_in", "_ft", "_ac", "_pct", "_yr", "_f", "_lb")


def bare(column: str) -> str:
    """The name of a column as words, without its unit."""
    for ending in _UNITS_IN_NAMES:
        if column.endswith(ending):
            return column.removesuffix(ending).replace("_", " ")
    return column.replace("_", " ")


def as_asked(column: str) -> str:
    """The name of a column in a question about a file; a plain number is taken in the record's own unit."""
    unit = next((table.columns[column].unit for table in TABLES.values() if column in table.columns), "")
    return f"{bare(column)}, {unit} if no unit is given" if unit else column.replace("_", " ")


def unit(table: str, column: str) -> str:
    """The unit of a column in the units in force; "" where it has none."""
    return measures.unit_word(_unit(table, column) if measures.is_metric() else _column(table, column).unit)


def name(table: str, column: str) -> str:
    """The name of a column: the record's own in US units, without the unit where it is turned."""
    return f"{bare(column)}, {unit(table, column)}" if _turns(table, column) else column.replace("_", " ")


def value(table: str, column: str, text: str) -> str:
    """A stored value as it is read."""
    if column == "height_class":
        return as_written(text)
    return units.led_back(text, _unit(table, column), _decimals(text)) if _turns(table, column) else text


def shown(table: str, column: str, text: str) -> str:
    """A stored value as a field of a form holds it: so exact that it leads back to the same."""
    return units.led_back(text, _unit(table, column), _places(column)) if _turns(table, column) else text


def in_us(form: Mapping[str, str], table: str, column: str, text: str, held: str = "") -> str:
    """What was typed into a field, in the unit that is stored; ``held`` is what the field held when it was shown."""
    if held and form.get(units.FIELD) == measures.METRIC and text == shown(table, column, held):
        return held
    return units.in_us(form, text, _unit(table, column), places=_places(column))


def bound(table: str, column: str, end: float | None) -> str:
    """The least or the most that a field takes."""
    return "" if end is None else f"{measures.convert(end, _unit(table, column)):.12g}"


def faults(report: Report, table: str = "") -> list[Problem]:
    """Faults of typed records, what was found in the units in force."""
    return [
        replace(one, found=shown(one.sheet or table, one.column, one.found))
        if _known(one.sheet or table, one.column)
        else one
        for one in report.faults
    ]


def corrected(report: Report) -> list[str]:
    """What an entry took the place of, in words."""
    if not measures.is_metric() or report.review is None:
        return report.corrected
    return [changed(one) for one in changes_of(report)]


def changes_of(report: Report) -> list[Change]:
    """Every field that an entry changed."""
    parts: list[Any] = [*report.review.visits, *report.review.others] if report.review else []
    return [change for part in parts for change in part.changes]


def changed(one: Change) -> str:
    """An old value beside the new one."""
    before, after = (value(one.table, one.column, text) or "blank" for text in (one.before, one.after))
    return f"{one.table} {one.key}: {name(one.table, one.column)} {before} -> {after}"


def of_file(faults: Iterable[Problem]) -> list[Problem]:
    """Faults of a file's cells in the units in force; what stands in a file of US units stays beside it, to be found
    there."""
    return [_of_cell(one) for one in faults]


def _of_cell(one: Problem) -> Problem:
    table = next((table for table in (one.sheet, *TABLES) if _known(table, one.column)), "")
    if not table or not _turns(table, one.column) or not one.found:
        return one
    column, text = _column(table, one.column), shown(table, one.column, one.found)
    # What is expected says the limit; the remedy of a value beyond it says it again, in US units.
    remedy = "" if text != one.found else one.remedy
    text = one.found if text == one.found else f"{text} ({one.found} {column.unit})"
    return replace(one, found=text, expected=column.expected, remedy=remedy)


def _column(table: str, column: str) -> Column:
    return TABLES[table].columns[column] if _known(table, column) else Column(kind="text", about="")


def _unit(table: str, column: str) -> str:
    """The unit by which a column is turned."""
    return "ac of a plot" if column == "plot_area_ac" else _column(table, column).unit


def _known(table: str, column: str) -> bool:
    return table in TABLES and column in TABLES[table].columns


def _turns(table: str, column: str) -> bool:
    return measures.is_metric() and measures.metric_of(_unit(table, column)) is not None


def _places(column: str) -> int:
    return _PLOT_PLACES if column == "plot_area_ac" else _PLACES


def _decimals(text: str) -> int:
    return len(text.partition(".")[2])
