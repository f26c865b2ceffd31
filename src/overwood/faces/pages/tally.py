"""Tallies typed by keyboard: for every kind of visit its header, its plots and quick lines; checked as a file is."""

from __future__ import annotations

import datetime as dt
import itertools
import uuid
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import answers, entering, foot_sums
from overwood.desk.tally_forms import FORMS, Form
from overwood.faces.pages import asking, records
from overwood.ground.errors import NotFound
from overwood.ground.records import TABLES, Column, StandFile
from overwood.judgement.course.steps import caution

_LINES = 12
_FEWEST_FREE = 4
_MOST_LINES = 400


def page(request: HttpRequest, name: str) -> HttpResponse:
    """The tally of one visit: a header, the plots looked at, and a line for each thing seen."""
    ask = asking.question()
    file = answers.stand_file(name)
    title = (request.POST if request.method == "POST" else request.GET).get("kind", "reproduction")
    if title not in FORMS:
        raise NotFound(f"there is no tally of kind {title!r}.", remedy=f"There are {', '.join(FORMS)}; a stem map comes in as a file.")
    kind = FORMS[title]
    given = _lines(request, kind)
    context: dict[str, Any] = {"title": f"Tally, {name}", "name": name, "day": ask.on, "report": None}
    status = 200
    if request.method == "POST":
        day = request.POST.get("visited_on", "").strip() or ask.on.isoformat()
        visit = request.POST.get("visit", "").strip() or _free_name(file, f"{name}-{day}-{title.replace(' ', '-')}")
        yes = entering.ALL if request.POST.get("replace") else frozenset()
        tables, form = _tables(file, title, visit, request, given), request.POST.get("form", "")
        ask_species = not request.POST.get("keep_unknown")
        slips = foot_sums.problems(kind, given, len(tables.get("points", ())), _foot(request, kind))
        report = (
            entering.Report(f"tally {visit}", problems=slips)
            if slips
            else entering.enter(tables, today=dt.date.today(), name=f"tally {visit}", replace=yes, form=form, ask_species=ask_species)
        )
        context["report"], status = report, records.status_of(report)
        asking.note(request, records.told(report))
        if status == 200:
            given = []
            context["written"] = visit
    context |= {
        "kind": title,
        "kinds": {key: one.about for key, one in FORMS.items()},
        "sampled": kind.layer,
        "plotted": kind.plotted,
        "foot": [(key.replace("_", " "), key, value if status != 200 else "") for key, value in _foot(request, kind).items()],
        "columns": [_cell(key, TABLES[kind.table].columns[key]) for key in kind.columns],
        "lines": _shown(kind, given) if kind.table else [],
        "known": [visit.visit for visit in file.visits if visit.kind == title],
        "form": uuid.uuid4().hex,
        "cautions": [caution(key) for key in ("field", "snags")],
        **{key: request.POST.get(key, "") for key in ("visit", "visited_on", "observer", "note", "plots", "baf_ft2_ac", "plot_area_ac")},
    }
    # More lines go to the visit that was just written.
    context["visit"] = context.pop("written", context["visit"])
    return render(request, "tally.html", context, status=status)


def _free_name(file: StandFile, name: str) -> str:
    """A name no visit of the stand has yet, so that two who tally on one day do not write into each other's visit."""
    taken = {visit.visit for visit in file.visits}
    names = itertools.chain([name], (f"{name}-{number}" for number in itertools.count(2)))
    return next(one for one in names if one not in taken)


def _foot(request: HttpRequest, kind: Form) -> dict[str, str]:
    """What was typed of the foot of a sheet."""
    return {name: request.POST.get(f"foot_{name}", "").strip() for name in foot_sums.names(kind)}


def _cell(name: str, column: Column) -> dict[str, Any]:
    """How a column is typed."""
    choices = column.choices or (("yes", "no") if column.kind == "boolean" else ())
    label = name.removesuffix("_in").removesuffix("_ft").removesuffix("_pct").removesuffix("_yr").replace("_", " ")
    return {
        "name": name,
        "label": label,
        "unit": "" if column.unit == label else column.unit,
        "choices": choices,
        "about": column.about,
        "required": column.required,
    }


def _shown(kind: Form, given: list[dict[str, str]]) -> list[list[tuple[dict[str, Any], str]]]:
    """Lines typed so far, and free ones below them."""
    cells = [_cell(key, TABLES[kind.table].columns[key]) for key in kind.columns]
    free = max(_LINES - len(given), _FEWEST_FREE)
    return [[(cell, line.get(cell["name"], "")) for cell in cells] for line in [*given, *({} for _ in range(free))]]


def _lines(request: HttpRequest, kind: Form) -> list[dict[str, str]]:
    """Lines that hold anything."""
    asked = [request.POST.getlist(name) for name in kind.columns]
    longest = max((len(cells) for cells in asked), default=0)
    padded = [[*cells, *[""] * (longest - len(cells))] for cells in asked]
    rows = [dict(zip(kind.columns, (cell.strip() for cell in cells), strict=True)) for cells in zip(*padded, strict=True)]
    return [row for row in rows[:_MOST_LINES] if any(row.values())]


def _tables(file: StandFile, title: str, visit: str, request: HttpRequest, lines: list[dict[str, str]]) -> dict[str, list[dict[str, str]]]:
    """The visit, its ring, its plots (empty ones too) and its lines, as the contract has them."""
    kind = FORMS[title]
    told = {key: request.POST.get(key, "").strip() for key in ("visited_on", "observer", "note", "baf_ft2_ac", "plot_area_ac")}
    head = {key: told[key] for key in ("visited_on", "observer", "note")}
    tables = {"visits": [{"visit": visit, "stand": file.stand.stand, "kind": title, **head}]}
    if kind.layer:
        design = "prism" if told["baf_ft2_ac"] else "fixed"
        size = {"baf_ft2_ac": told["baf_ft2_ac"]} if told["baf_ft2_ac"] else {"plot_area_ac": told["plot_area_ac"]}
        tables["rings"] = [{"visit": visit, "layer": kind.layer, "design": design, **size}]
    if kind.number:
        plots = request.POST.get("plots", "").replace(",", " ").split()
        points = dict.fromkeys([*plots, *(line["point"] for line in lines if line["point"])])
        tables["points"] = [{"visit": visit, "point": point} for point in points]
    if kind.table:
        tables[kind.table] = _numbered(file, kind, visit, lines)
    return tables


def _numbered(file: StandFile, kind: Form, visit: str, lines: list[dict[str, str]]) -> list[dict[str, str]]:
    """Lines with their visit; those the program numbers go on after what the visit holds, so that nothing is overwritten."""
    if not kind.number:
        return [{"visit": visit, **line} for line in lines]
    last: dict[str, int] = {}
    for held in getattr(file, kind.table):
        if held.visit == visit and str(getattr(held, kind.number)).isdecimal():
            last[held.point] = max(last.get(held.point, 0), int(getattr(held, kind.number)))
    rows = []
    for line in lines:
        last[line["point"]] = last.get(line["point"], 0) + 1
        rows.append({"visit": visit, kind.number: str(last[line["point"]]), **line})
    return rows
