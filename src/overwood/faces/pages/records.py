"""Records typed in: a form for every table of the contract, found again, corrected, with their history; checked as a
file is."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import entering, session
from overwood.faces.pages import asking, fields
from overwood.ground import measures
from overwood.ground.columns import Column
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.records import TABLES, Record, Table
from overwood.ground.vocabulary import as_written

_MOST_ROWS = 60
_LINE_LETTERS = 160
# What says where land lies and what was decided is not for everybody who tallies.
_FORESTERS = ("properties", "stands", "decisions")


def page(request: HttpRequest) -> HttpResponse:
    """Which record to write."""
    return render(
        request,
        "records.html",
        {"title": "Records", "tables": [(table.name, table.about) for table in TABLES.values()]},
    )


def known_table(table: str) -> None:
    """Say which tables there are, where a name is none. Raises NotFound when there is no such table."""
    if table not in TABLES:
        raise NotFound(f"there is no table {table!r}.", remedy=f"There are {', '.join(TABLES)}.")


def check_may_write(request: HttpRequest, table: str) -> None:
    """Whether who asks may write records of a table. Raises Misuse when the role of who asks does not hold it."""
    if table in _FORESTERS and not asking.person(request).may("forester"):
        raise Misuse(f"records of {table} need the role forester.", remedy="Ask a forester of your office.")


def _field(table: str, name: str, column: Column, value: str) -> dict[str, Any]:
    kinds = {"number": "number", "integer": "number", "date": "date"}
    return {
        "name": name,
        "label": fields.bare(name) if measures.is_metric() else name.replace("_", " "),
        "about": column.words,
        "unit": fields.unit(table, name),
        "required": column.required,
        "choices": [
            (one, as_written(one)) for one in column.choices or (("yes", "no") if column.kind == "boolean" else ())
        ],
        "type": kinds.get(column.kind, "text"),
        "low": fields.bound(table, name, column.low),
        "high": fields.bound(table, name, column.high),
        "step": "1" if column.kind == "integer" else "any",
        "value": fields.shown(table, name, value),
    }


def form(request: HttpRequest, table: str) -> HttpResponse:
    """One record of a table; a record with the same key corrects the one before."""
    known_table(table)
    shape = TABLES[table]
    given = {
        name: (request.POST if request.method == "POST" else request.GET).get(name, "").strip()
        for name in shape.columns
    }
    if request.GET.get("id"):
        given = _held(table, request.GET["id"]) | {name: value for name, value in given.items() if value}
    words = request.GET.get("text", "")
    context: dict[str, Any] = {
        "title": f"New: {shape.about}",
        "table": shape,
        "keys": ", ".join(shape.key),
        "report": None,
    }
    status = 200
    if request.method == "POST":
        check_may_write(request, table)
        correcting = request.POST.get("correcting", "")
        before = _held(table, correcting) if correcting else {}
        given = {
            name: fields.in_us(request.POST, table, name, text, before.get(name, "")) for name, text in given.items()
        }
        row = _emptied(table, correcting, given) | {"record_replaces": correcting} if correcting else given
        yes = entering.ALL if correcting or request.POST.get("replace") else frozenset()
        report = entering.enter(
            {table: [row]},
            today=dt.date.today(),
            name=f"typed {table}",
            replace=yes,
            form=request.POST.get("form", ""),
            ask_species=not request.POST.get("keep_unknown"),
        )
        context |= {"report": report, "faults": fields.faults(report, table), "corrected": fields.corrected(report)}
        status = status_of(report)
        asking.note(request, told(report))
    held = session.newest_records(table, words, _MOST_ROWS)
    context |= {
        "text": words,
        "most": _MOST_ROWS,
        "held": [(row.id, [getattr(row, key) for key in shape.key], _in_a_line(row, shape)) for row in held],
        "correcting": request.GET.get("id", ""),
        "form": uuid.uuid4().hex,
        "may_write": asking.person(request).may("forester" if table in _FORESTERS else "field"),
    }
    context["fields"] = [_field(table, name, column, given[name]) for name, column in shape.columns.items()]
    return render(request, "record.html", context, status=status)


def status_of(report: entering.Report) -> int:
    """The status of an answer: 409 where somebody else has another value, 422 where a cell cannot be taken."""
    if report.clashes or report.needs_consent or report.already:
        return 409
    return 422 if report.faults else 200


def _emptied(table: str, row_id: str, given: dict[str, str]) -> dict[str, str]:
    """A correction in which fields that were filled when it was shown, and are blank now, are emptied."""
    shown, columns = _held(table, row_id), TABLES[table].columns
    blank = [name for name, value in given.items() if not value and shown[name] and not columns[name].required]
    return given | dict.fromkeys(blank, "clear")


def _held(table: str, row_id: str) -> dict[str, str]:
    """A record of the book as it would be typed, to correct it."""
    rows = versions(table, row_id)
    return {name: entering.typed(rows[0][name]) for name in TABLES[table].columns}


def versions(table: str, row_id: str) -> list[dict[str, Any]]:
    """A record and those it replaced, the newest first. Raises NotFound when there is no such record."""
    try:
        rows = session.record_history(table, uuid.UUID(row_id).hex)
    except ValueError:
        rows = []
    if not rows:
        raise NotFound(f"there is no record {row_id} in {table}.", remedy="Choose one from the list.")
    return rows


def _in_a_line(row: Record, shape: Table) -> str:
    """What a record says beside its key."""
    plain = entering.as_text(row)
    said = [_entry(shape.name, name, value) for name, value in plain.items() if value and name not in shape.key]
    text = ", ".join(said)
    return text if len(text) <= _LINE_LETTERS else f"{text[:_LINE_LETTERS]} ..."


def _entry(table: str, column: str, text: str) -> str:
    """A column and its value; the unit behind it where it is turned."""
    name, said = fields.name(table, column), fields.value(table, column, text)
    head, comma, unit = name.partition(", ")
    return f"{head} {said} {unit}" if comma else f"{name} {said}"


def history(request: HttpRequest, table: str, row: str) -> HttpResponse:
    """A record and those it replaced, the newest first, with what changed each time."""
    known_table(table)
    held = versions(table, row)
    names = list(TABLES[table].columns)
    steps = []
    for place, version in enumerate(held):
        before = held[place + 1] if place + 1 < len(held) else None
        shown = (
            [name for name in names if entering.typed(version[name])]
            if before is None
            else [name for name in names if version[name] != before[name]]
        )
        changes = [
            (name, entering.typed(before[name]) if before else "", entering.typed(version[name])) for name in shown
        ]
        steps.append({"version": version, "first": before is None, "changes": changes})
    key = " ".join(str(held[0][name]) for name in TABLES[table].key)
    return render(
        request,
        "history.html",
        {"title": f"History of {key}", "table": table, "key": key, "steps": steps, "row": held[0]["id"]},
    )


def told(report: entering.Report) -> str:
    """What came of typing, in a line."""
    if not report.batch:
        return ""
    rows = ", ".join(f"{count} {name}" for name, count in report.new.items())
    return f"entry {report.batch}, {rows}" + "".join(f"; {text}" for text in report.corrected[:10])
