"""How a foreign sheet was read, in the words that the command and the page both use."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from overwood.ground import measures, species
from overwood.ground.measures import many
from overwood.ground.records import TABLES
from overwood.ground.vocabulary import HEIGHT_CLASSES, height_class_words

if TYPE_CHECKING:
    from overwood.desk.as_read import ColumnRead, LineRead, TallyRead
    from overwood.desk.importing import SheetProposal

# From here on stems an acre are told whole.
_WHOLE = 100
# What a line's own record need not repeat.
_UNTOLD = ("visit", "tree", "line", "stem", "note", "species_written")


def of_sheet(reads: tuple[TallyRead, ...], sheet: SheetProposal) -> dict[str, Any]:
    """How a sheet was read in words: what its headings come to, what was inferred, whole lines, and the sum of it;
    before it could be read, the cells of its headings alone."""
    read = next((one for one in reads if one.sheet == sheet.sheet), None)
    if read is None:
        return {"comes_to": {}, "inferred": (), "lines": (), "sum": ""}
    return {
        "comes_to": {one.heading: column(one) for one in read.columns},
        "inferred": read.inferred,
        "lines": tuple(line(one, read.table) for one in read.lines),
        "sum": tally(read),
    }


def column(one: ColumnRead) -> str:
    """What a heading comes to."""
    blank = f"; {one.blank} blank" if one.blank else ""
    if one.numbers:
        low, middle, high = (measures.digits(number, one.unit, ".4g") for number in one.numbers)
        total = f", {one.total:,.0f} in all" if one.total is not None else ""
        unit = f" {measures.unit_word(one.unit)}" if one.unit else ""
        return f"{low} to {high}{unit}, middle {middle}{total} ({many(one.filled, 'cell')}{blank})"
    shown = ", ".join(_code(*code) for code in one.codes)
    return f"{shown}{f' and {one.more} more' if one.more else ''}{blank}".lstrip("; ")


def _code(written: str, read: str, count: int) -> str:
    return f"{written} = {read} ({count})" if read not in ("", written) else f"{written} ({count})"


def line(one: LineRead, table: str) -> str:
    """A row of the file beside what was made of it."""
    records = [_record(record, table, per_ac) for record, per_ac in zip(one.records, one.per_ac, strict=True)]
    more = f" and {many(one.more, 'record')} more" if one.more else ""
    return f"Row {one.row} ({one.why}): {' | '.join(one.written)} → {' + '.join(records)}{more}"


def _record(record: Mapping[str, str], table: str, per_ac: float | None) -> str:
    parts = [_cell(table, name, text) for name, text in record.items() if text and name not in _UNTOLD]
    if table == "trees":
        parts += [word for name, word in (("status", "live"), ("stems", "1 stem")) if not record.get(name)]
    form = ",.1f" if (per_ac or 0) < _WHOLE else ",.0f"
    counts = f"; stands for {measures.amount(per_ac, 'stems/ac', form)} at its point" if per_ac is not None else ""
    return ", ".join(parts) + counts


def _cell(table: str, name: str, text: str) -> str:
    shape = TABLES[table].columns[name]
    label = name.removesuffix("_" + name.rpartition("_")[2]).replace("_", " ") if shape.unit else name.replace("_", " ")
    if name == "species":
        return species.by_code(int(text)).common_name if text.isdigit() else text
    if name == "height_class" and text in HEIGHT_CLASSES:
        return height_class_words(text)
    if shape.unit:
        try:
            return f"{label} {measures.amount(float(text), shape.unit, '.4g')}"
        except ValueError:
            return f"{label} {text}"
    if name == "stems":
        return f"{text} stem{'' if text == '1' else 's'}"
    return text if name in ("status", "crown_class", "quality", "origin") else f"{label} {text}"


def tally(read: TallyRead) -> str:
    """What the lines of a sheet come to."""
    low, middle, high = read.by_point
    of_points = f" ({low} to {high} a point, middle {middle:g}, most on {read.fullest})" if read.points > 1 else ""
    parts = [many(read.points, "point"), many(read.records, "record") + of_points, f"{read.stems:,.0f} stems"]
    if read.stems_ac is not None:
        parts.append(measures.amount(read.stems_ac, "stems/ac", ",.0f"))
    if read.ba_ft2_ac is not None:
        parts.append(f"{measures.amount(read.ba_ft2_ac, 'ft2/ac', ',.1f')} basal area")
    return f"{read.layer or read.table}: {', '.join(parts)}"
