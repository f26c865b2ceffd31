"""Tallies typed by keyboard: for every kind of visit its header, its plots and quick lines; checked as a file is."""

from __future__ import annotations

import datetime as dt
import itertools
import math
import uuid
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote, urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import answers, entering, foot_sums, typed_before, walks
from overwood.desk import work as desk_work
from overwood.desk.tally_forms import FORMS, Form
from overwood.faces.pages import asking, fields, records
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound, Problem
from overwood.ground.records import TABLES, StandFile
from overwood.ground.vocabulary import as_written
from overwood.judgement.course.steps import caution
from overwood.science import survey

_LINES = 12
_FEWEST_FREE = 4
_HEAD = ("visit", "visited_on", "observer", "note", "plots", "baf_ft2_ac", "plot_area_ac")
_SIZES = ("baf_ft2_ac", "plot_area_ac")
# 1/735 acre is written with five to eight decimals.
_SAME_SHARE = 1e-3
# Columns that most lines share with the line above.
_CARRIED = ("point", "species")


def page(request: HttpRequest, name: str) -> HttpResponse:
    """The tally of one visit: a header, the plots looked at, and a line for each thing seen."""
    ask = asking.question()
    file = answers.stand_file(name)
    title = (request.POST if request.method == "POST" else request.GET).get("kind", "reproduction")
    kind, draft = _form(title), _draft(name, title)
    typed = request.POST if request.method == "POST" else _shown_again(draft.content["typed"] if draft else "", kind)
    given, stored = _lines(typed, kind), _in_us(typed, kind)
    plot_ac = walks.rule_plot_ac()
    context: dict[str, Any] = {"title": f"Tally, {name}", "name": name, "day": ask.on, "report": None}
    status, form = 200, typed.get("form", "") or uuid.uuid4().hex
    if request.method == "POST":
        day = typed.get("visited_on", "").strip() or ask.on.isoformat()
        visit = typed.get("visit", "").strip() or _free_name(file, f"{name}-{day}-{title.replace(' ', '-')}")
        yes = entering.ALL if request.POST.get("replace") else frozenset()
        tables = _tables(file, title, visit, stored, _lines(stored, kind))
        ask_species = not request.POST.get("keep_unknown")
        slips = foot_sums.problems(kind, given, len(tables.get("points", ())), _foot(typed, kind))
        context["again"] = again = "" if slips else _again(file, kind, tables, typed)
        report = (
            entering.Report(f"tally {visit}", problems=slips)
            if slips or again
            else entering.enter(
                tables,
                today=dt.date.today(),
                name=f"tally {visit}",
                replace=yes,
                form=typed.get("form", ""),
                ask_species=ask_species,
            )
        )
        context |= {"report": report, "faults": report.faults if slips else fields.faults(report)}
        status = 409 if again else records.status_of(report)
        asking.note(request, records.told(report))
        context["posted"] = form
        draft = _settled(name, title, stored, stored=status == 200 or report.already)
        if status == 200 or report.already:
            form = uuid.uuid4().hex
        if status == 200:
            given = []
            context["written"] = visit
    context |= {
        "kind": title,
        "kinds": {key: one.about for key, one in FORMS.items()},
        "sampled": kind.layer,
        "plotted": kind.plotted,
        "foot": [
            (fields.name(kind.table, key), key, value if status != 200 else "")
            for key, value in _foot(typed, kind).items()
        ],
        "columns": [_cell(kind.table, key) for key in kind.columns],
        "head_units": {key: fields.unit("rings", key) for key in _SIZES},
        "plot_note": f"{measures.plot_size(plot_ac)}, radius {measures.amount(_radius_ft(plot_ac), 'ft', '.2f')}",
        "lines": _shown(kind, given, context["report"]) if kind.table else [],
        "carried": " ".join(key for key in _CARRIED if key in kind.columns),
        "draft": draft if request.method != "POST" else None,
        "stamp": draft.stamp if draft else 0,
        "known": [visit.visit for visit in file.visits if visit.kind == title],
        "form": form,
        "cautions": [caution(key) for key in ("field", "snags")],
        **{key: typed.get(key, "") for key in _HEAD},
    }
    if kind.layer == "reproduction":
        context["plot_area_ac"] = context["plot_area_ac"] or fields.shown("rings", "plot_area_ac", f"{plot_ac:.8f}")
    # More lines go to the visit that was just written.
    context["visit"] = context.pop("written", context["visit"])
    return render(request, "tally.html", context, status=status)


@require_POST
def draft(request: HttpRequest, name: str) -> HttpResponse:
    """Lay down what is typed and not yet written, or drop it; it is found again at the next opening, by whichever
    browser."""
    answers.stand_file(name)
    title = request.POST.get("kind", "")
    _form(title)
    if request.POST.get("drop"):
        desk_work.drop_draft(_draft_kind(title), name)
        return HttpResponseRedirect(f"/tally/{quote(name, safe='')}/?{urlencode({'kind': title})}")
    seen = request.POST.get("stamp", "")
    stamp = int(seen) if seen.isascii() and seen.isdecimal() else 0
    # A draft that is gone was written down or dropped in another tab: its lines are not laid down once more.
    gone = stamp and _draft(name, title) is None
    after = (
        None
        if gone
        else desk_work.keep_draft(
            _draft_kind(title), name, "", _content(FORMS[title], _in_us(request.POST, FORMS[title])), stamp
        )
    )
    return JsonResponse({"stamp": after}, status=409 if after is None else 200)


def add_to_draft(name: str, title: str, *, plots: list[str], lines: list[dict[str, str]], plot_area_ac: str) -> None:
    """Lay lines of a sheet down in the draft of a tally, below what is there. Raises Misuse when the draft has one of
    these plots already, or plots of another size."""
    kind, before = _form(title), _draft(name, title)
    typed = QueryDict(before.content["typed"] if before else "", mutable=True)
    held = {*typed.get("plots", "").replace(",", " ").split(), *typed.getlist("point")}
    if twice := [point for point in plots if point in held]:
        raise Misuse(f"plot {', '.join(twice)} is in the draft already.", remedy="Discard the draft, or mend it there.")
    area = typed.get("plot_area_ac", "").strip() or plot_area_ac
    if not _same_size(area, plot_area_ac):
        raise Misuse(
            "the draft says another size of its plots than the sheet has.",
            remedy="Write the draft down, or mend it there.",
        )
    rows = [*_lines(typed, kind), *lines]
    for column in kind.columns:
        typed.setlist(column, [row[column] for row in rows])
    typed["plots"], typed["plot_area_ac"] = " ".join([*typed.get("plots", "").split(), *plots]), area
    desk_work.keep_draft(_draft_kind(title), name, "", _content(kind, typed), None)


def _same_size(one: str, other: str) -> bool:
    """Whether two areas are the same plot, written with more or fewer decimals."""
    try:
        return math.isclose(float(one), float(other), rel_tol=_SAME_SHARE)
    except ValueError:
        return False


def _form(title: str) -> Form:
    if title not in FORMS:
        raise NotFound(
            f"there is no tally of kind {title!r}.",
            remedy=f"There are {', '.join(FORMS)}; a stem map comes in as a file.",
        )
    return FORMS[title]


def _draft_kind(title: str) -> str:
    return f"tally {title}"


def _draft(name: str, title: str) -> desk_work.Draft | None:
    return desk_work.draft(_draft_kind(title), name)


def _content(kind: Form, typed: QueryDict) -> dict[str, Any]:
    """What was typed, without consents: a yes to replacing is given to what is seen, never to a draft."""
    form = QueryDict(mutable=True)
    for key in ("form", *_HEAD, *(f"foot_{one}" for one in foot_sums.names(kind)), *kind.columns):
        form.setlist(key, typed.getlist(key))
    return {"typed": form.urlencode()}


def _settled(name: str, title: str, typed: QueryDict, *, stored: bool) -> desk_work.Draft | None:
    """The draft after writing: gone where the lines are in the book, the lines as they were sent where they are not."""
    if stored:
        desk_work.drop_draft(_draft_kind(title), name)
    else:
        desk_work.keep_draft(_draft_kind(title), name, "", _content(FORMS[title], typed), None)
    return _draft(name, title)


def _free_name(file: StandFile, name: str) -> str:
    """A name no visit of the stand has yet, so that two who tally on one day do not write into each other's visit."""
    taken = {visit.visit for visit in file.visits}
    names = itertools.chain([name], (f"{name}-{number}" for number in itertools.count(2)))
    return next(one for one in names if one not in taken)


def _again(file: StandFile, kind: Form, tables: typed_before.Tables, typed: QueryDict) -> str:
    """What the book holds of this sheet already, unless the person said that it is another one."""
    form = typed.get("form", "")
    text = "" if typed.get("other_sheet") else typed_before.found(file, kind, tables)
    # The same form sent once more is answered as such.
    return "" if text and entering.was_entered(form) else text


def _foot(typed: QueryDict, kind: Form) -> dict[str, str]:
    """What was typed of the foot of a sheet."""
    return {name: typed.get(f"foot_{name}", "").strip() for name in foot_sums.names(kind)}


def _radius_ft(area_ac: float) -> float:
    return float(survey.plot_radius_ft(area_ac))


def _columns_of(kind: Form) -> Iterator[tuple[str, str, str]]:
    """Each field that holds a number with a unit: its name on the form, and its table and column in the records."""
    yield from ((key, "rings", key) for key in _SIZES)
    yield from ((key, kind.table, key) for key in kind.columns)
    yield from ((f"foot_{key}", kind.table, key) for key in foot_sums.names(kind) if key in kind.columns)


def _in_us(typed: QueryDict, kind: Form) -> QueryDict:
    """What was typed, in the units that are stored."""
    turned = typed.copy()
    for key, table, column in _columns_of(kind):
        turned.setlist(key, [fields.in_us(typed, table, column, text.strip()) for text in typed.getlist(key)])
    return turned


def _shown_again(draft: str, kind: Form) -> QueryDict:
    """A draft, which lies in the units that are stored, in those in force."""
    form = QueryDict(draft, mutable=True)
    for key, table, column in _columns_of(kind):
        form.setlist(key, [fields.shown(table, column, text) for text in form.getlist(key)])
    return form


def _cell(table: str, name: str) -> dict[str, Any]:
    """How a column is typed."""
    column, label, unit = TABLES[table].columns[name], fields.bare(name), fields.unit(table, name)
    choices = column.choices or (("yes", "no") if column.kind == "boolean" else ())
    return {
        "name": name,
        "label": label,
        "unit": "" if unit == label else unit,
        "choices": [(one, as_written(one)) for one in choices],
        "about": column.words,
        "pad": {"integer": "numeric", "number": "decimal"}.get(column.kind, "numeric" if name == "point" else ""),
        "required": column.required,
    }


def _shown(
    kind: Form, given: list[dict[str, str]], report: entering.Report | None
) -> list[list[tuple[dict[str, Any], str, str]]]:
    """Lines typed so far, each cell with the fault found in it, and free ones below them."""
    cells = [_cell(kind.table, key) for key in kind.columns]
    faults = {(one.row, one.column): _mend(one) for one in report.faults if one.sheet == kind.table} if report else {}
    free = max(_LINES - len(given), _FEWEST_FREE)
    lines = enumerate([*given, *({} for _ in range(free))], start=1)
    return [
        [(cell, line.get(cell["name"], ""), faults.get((row, cell["name"]), "")) for cell in cells]
        for row, line in lines
    ]


def _mend(fault: Problem) -> str:
    expected = f"Expected {fault.expected}." if fault.expected else ""
    return " ".join(filter(None, (fault.what, expected, fault.remedy)))


def _lines(typed: QueryDict, kind: Form) -> list[dict[str, str]]:
    """Lines that hold anything."""
    asked = [typed.getlist(name) for name in kind.columns]
    longest = max((len(cells) for cells in asked), default=0)
    padded = [[*cells, *[""] * (longest - len(cells))] for cells in asked]
    rows = [
        dict(zip(kind.columns, (cell.strip() for cell in cells), strict=True)) for cells in zip(*padded, strict=True)
    ]
    return [row for row in rows if any(row.values())]


def _tables(
    file: StandFile, title: str, visit: str, typed: QueryDict, lines: list[dict[str, str]]
) -> dict[str, list[dict[str, str]]]:
    """The visit, its ring, its plots (empty ones too) and its lines, as the contract has them."""
    kind = FORMS[title]
    told = {key: typed.get(key, "").strip() for key in ("visited_on", "observer", "note", "baf_ft2_ac", "plot_area_ac")}
    head = {key: told[key] for key in ("visited_on", "observer", "note")}
    tables = {"visits": [{"visit": visit, "stand": file.stand.stand, "kind": title, **head}]}
    if kind.layer:
        design = "prism" if told["baf_ft2_ac"] else "fixed"
        size = {"baf_ft2_ac": told["baf_ft2_ac"]} if told["baf_ft2_ac"] else {"plot_area_ac": told["plot_area_ac"]}
        tables["rings"] = [{"visit": visit, "layer": kind.layer, "design": design, **size}]
    if kind.number:
        plots = typed.get("plots", "").replace(",", " ").split()
        points = dict.fromkeys([*plots, *(line["point"] for line in lines if line["point"])])
        tables["points"] = [{"visit": visit, "point": point} for point in points]
    if kind.table:
        tables[kind.table] = _numbered(file, kind, visit, lines)
    return tables


def _numbered(file: StandFile, kind: Form, visit: str, lines: list[dict[str, str]]) -> list[dict[str, str]]:
    """Lines with their visit; those the program numbers go on after what the visit holds, so that nothing is
    overwritten."""
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
