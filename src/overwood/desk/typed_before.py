"""Whether a sheet on its way into the book is there already: written down once more, it would be a second visit of the
day, or double the stems of the first."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from overwood.desk.comparing import blanks_of
from overwood.desk.tally_forms import Form
from overwood.ground import species
from overwood.ground.records import TABLES, StandFile
from overwood.ground.typed import number

Tables = Mapping[str, Sequence[Mapping[str, str]]]
_MOST_NAMED = 8


def found(file: StandFile, form: Form, tables: Tables) -> str:
    """What the book holds of this sheet, in words; "" where it holds none of it.

    Asked about are plots (or numbered trees) that another visit of the same kind and day has, a whole sheet that
    another visit has line for line, and plots of the same visit whose lines all stand there already. ``tables`` are the
    rows to be entered: one visit, its points and its lines.
    """
    (coming,) = tables["visits"]
    lines, name = _lines(form, tables.get(form.table, ())), coming["visit"]
    places = {row["point"] for row in tables.get("points", ())} | set(lines)
    for other in file.visits:
        held = _held(file, form, other.visit)
        if other.visit == name:
            # Trees that the person numbers are held against those of the book by their numbers.
            again = {place for place in lines if form.number and lines[place] <= held.get(place, Counter())}
            words = "has these very lines on"
        elif other.kind != coming["kind"]:
            continue
        elif other.visited_on.isoformat() == coming["visited_on"]:
            again = places & ({one.point for one in file.points if one.visit == other.visit} | set(held))
            words = "of the same day has"
        else:
            again = set(lines) if lines and lines == held else set()
            words = f"of {other.visited_on} has these very lines on"
        if again:
            return f"visit {other.visit} {words} {_named(again, form)} already"
    return ""


def _lines(form: Form, rows: Sequence[Mapping[str, str]]) -> dict[str, Counter[tuple[Any, ...]]]:
    """What was typed of each plot or tree, however it was written."""
    blanks = blanks_of(TABLES[form.table]) if form.table else {}
    by_place: dict[str, Counter[tuple[Any, ...]]] = defaultdict(Counter)
    for row in rows:
        by_place[row[_place(form)]][tuple(_value(form, name, row.get(name, ""), blanks) for name in form.columns)] += 1
    return by_place


def _held(file: StandFile, form: Form, visit: str) -> dict[str, Counter[tuple[Any, ...]]]:
    """What the book has of each plot or tree of a visit, as ``_lines`` says it."""
    rows = [one for one in getattr(file, form.table, ()) if one.visit == visit] if form.table else []
    cells = [{name: _text(getattr(one, name)) for name in form.columns} for one in rows]
    return _lines(form, cells)


def _place(form: Form) -> str:
    return "point" if "point" in form.columns else "tree"


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)


def _value(form: Form, name: str, text: str, blanks: Mapping[str, Any]) -> Any:
    """A cell as it counts: a number as one, a species by its code, a blank as the contract takes it."""
    column, plain = TABLES[form.table].columns[name], text.strip() or str(blanks.get(name, ""))
    if column.kind == "species":
        return species.match(plain).spcd or plain.lower()
    try:
        return number(plain) if column.kind in ("number", "integer") else plain.lower()
    except ValueError:
        return plain


def _named(places: set[str], form: Form) -> str:
    listed = sorted(places, key=lambda one: (len(one), one))
    more = f" and {len(listed) - _MOST_NAMED} more" if len(listed) > _MOST_NAMED else ""
    what = "plot" if _place(form) == "point" else "tree"
    return f"{what}{'s' * (len(listed) > 1)} {', '.join(listed[:_MOST_NAMED])}{more}"
