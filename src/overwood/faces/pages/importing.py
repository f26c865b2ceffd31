"""Import: a file sent, its headings and answers, what would come of it, and writing it; what waits, what came in, undo
and redo."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.desk import entering, importing, mending, session, undoing, uploads
from overwood.faces import reviews
from overwood.faces.pages import asking, fields
from overwood.faces.served.serving import MOST_UPLOAD_BYTES
from overwood.faces.telling import fault_list
from overwood.ground import measures
from overwood.ground.errors import BadRecords, Misuse

_KINDS = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".zip")
_OUTLINES = (".gpkg", ".geojson", ".kml", ".kmz", ".gpx", ".shp")
_SHOWN_FAULTS = 200
_SHOWN_CHANGES = 200
# Parts of an answer, by the beginning of the names of their fields; the kinds of question in the same order.
_FIELDS = {"settings": "set.", "codes": "code.", "tables": "holds.", "columns": "as.", "units": "in."}
_FIELD_OF_KIND = {"set": "set.", "code": "code.", "table": "holds.", "map": "as.", "unit": "in."}
# Questions that take none but the answers listed, beside those that say so themselves.
_LISTED = (
    "stand",
    "property",
    "slope",
    "stand_in_plot",
    "borderline",
    "day_order",
    "day_numbers",
    "blank_species",
    "blank_count",
    "commas",
    "more_diameters",
    "bites",
    "columns_left",
    "empty_plots",
    "plot_parts",
    "same_plots",
)


def page(request: HttpRequest) -> HttpResponse:
    """The door for files, what is not finished, what waits, and what came in."""
    if request.method != "POST":
        return _door(request, {})
    return _taken(request, *_sent(request))


def sheet(request: HttpRequest, number: int) -> HttpResponse:
    """A sent file that is not finished, with what was answered so far; answered further, written, or put away."""
    sent, answers = uploads.one(number)
    if request.method != "POST":
        return _looked(request, number, sent, importing.Answers.from_json(answers))
    if request.POST.get("act") == "drop":
        uploads.drop(number)
        asking.note(request, f"{sent.name} put away")
        return HttpResponseRedirect("/import/")
    return _taken(request, number, sent)


def _door(request: HttpRequest, what: dict[str, Any]) -> HttpResponse:
    """The page with what came of the last request, what is unfinished, what waits, and what came in."""
    unknown = asking.kept("unknown species", asking.question(), mending.unknown_species)
    frame = {
        "title": "Import",
        "kinds": ",".join(_KINDS),
        "unfinished": uploads.unfinished(),
        "waiting": importing.quarantine(),
        "entries": session.entries()[:30],
        "unknown": sum(one.rows for one in unknown),
        "undone": [one for one in undoing.rulings() if one["kind"] == "undo" and one["lifted_at"] is None][:10],
    }
    return render(request, "import.html", frame | what, status=what.get("status", 200))


def file_name(given: str | None, size: int | None) -> str:
    """The plain name of a file that may be read. Raises Misuse when it is too large, or of a kind that is not read."""
    name = Path(given or "file").name
    ending = Path(name).suffix.lower()
    if ending in _OUTLINES:
        raise Misuse(f"{name} holds outlines.", remedy="Bring it in on the page Outlines, or with `overwood outlines`.")
    if ending not in _KINDS:
        raise Misuse(f"{name} is of a kind that is not read.", remedy=f"Send one of {', '.join(_KINDS)}.")
    if (size or 0) > MOST_UPLOAD_BYTES:
        raise Misuse(
            f"{name} is larger than {MOST_UPLOAD_BYTES // 2**20} MB.", remedy="Import it with `overwood import`."
        )
    return name


def _sent(request: HttpRequest) -> tuple[int, importing.FileSent]:
    given = request.FILES.get("file")
    if not isinstance(given, UploadedFile):
        raise Misuse("no file was sent.", remedy="Choose a file first.")
    sent = importing.FileSent(name=file_name(given.name, given.size), content=given.read())
    return uploads.keep(sent), sent


def _answers(request: HttpRequest) -> importing.Answers:
    """What a form says; blanks say nothing."""
    parts = {
        name: {
            key.removeprefix(start): str(value).strip()
            for key, value in request.POST.items()
            if key.startswith(start) and value
        }
        for name, start in _FIELDS.items()
    }
    return importing.Answers(**parts)


def _taken(request: HttpRequest, number: int, sent: importing.FileSent) -> HttpResponse:
    answers = _answers(request)
    uploads.answer(number, answers.to_json())
    if request.POST.get("accept") != "yes":
        return _looked(request, number, sent, answers)
    try:
        with measures.in_units(measures.US):
            report = importing.bring_in(
                sent,
                today=dt.date.today(),
                answers=answers,
                accept=True,
                replace=frozenset(request.POST.getlist("replace")),
                rules=asking.question().rules,
                save_as=asking.typed(request, "save_as"),
            )
    except (Misuse, importing.NotUnderstood) as fault:
        return _looked(request, number, sent, answers, fault)
    except BadRecords as fault:
        uploads.drop(number)
        return _door(request, {"unread": fault, "status": 400})
    if report.needs_consent:
        wanted = Misuse(
            "nothing was written.", remedy="Tick every visit whose stored values this file may change, then write."
        )
        return _looked(request, number, sent, answers, wanted)
    uploads.drop(number)
    asking.note(request, told(report))
    return _door(request, _came(report))


def _came(report: entering.Report) -> dict[str, Any]:
    return {
        "report": report,
        "faults": fields.of_file(report.faults[:_SHOWN_FAULTS]),
        "fault_count": len(report.faults),
        "corrected": fields.corrected(report),
        # What is kept is worded in US units; in metric the same notes were read where the file was looked at.
        "notes": [] if measures.is_metric() else report.warnings[:_SHOWN_FAULTS],
        "sums": reviews.sums(report.review.sums, written=report.batch is not None)
        if report.review and report.review.sums
        else "",
        "status": 422 if report.faults else 200,
    }


def _looked(
    request: HttpRequest,
    number: int,
    sent: importing.FileSent,
    answers: importing.Answers,
    fault: Exception | None = None,
) -> HttpResponse:
    """How a file is read, what is asked of it and what would come of it; nothing is written."""
    try:
        look = importing.consider(sent, today=dt.date.today(), answers=answers, rules=asking.question().rules)
    except BadRecords as wrong:
        uploads.drop(number)
        return _door(request, {"unread": wrong, "status": 400})
    except Misuse as wrong:
        # An answer that names nothing: everything is asked again as if it had not been given.
        if answers != importing.Answers():
            return _looked(request, number, sent, importing.Answers(), wrong)
        return _refused(wrong)
    if look.report and look.report.already:
        uploads.drop(number)
        return _door(request, {"report": look.report})
    frame = {"title": f"Import {sent.name}", "number": number, "look": look, "open": fault}
    frame["save_as"] = asking.typed(request, "save_as")
    frame |= _headings(look, answers) | _review(look)
    return render(request, "import_file.html", frame, status=_status(look, fault) if request.method == "POST" else 200)


def _refused(fault: Misuse) -> HttpResponse:
    raise fault


def _status(look: importing.FileLook, fault: Exception | None) -> int:
    wrong = fault is not None or not look.understood or bool(look.report and look.report.faults)
    return 422 if wrong else 200


def _headings(look: importing.FileLook, answers: importing.Answers) -> dict[str, Any]:
    """Each sheet with its headings as they may be changed, and each question with its fields."""
    sheets = look.proposal.sheets if look.proposal else ()
    shown = [
        {
            "sheet": one,
            "headings": [_heading(one, use, answers) for use in one.headings],
            "may_be": importing.columns_of(one.table) if one.table else (),
            "holds": answers.tables.get(one.sheet, ""),
        }
        for one in sheets
    ]
    questions = [
        _question(number, one, answers) for number, one in enumerate(look.proposal.questions if look.proposal else ())
    ]
    more = [one for one in questions if not one["question"].needed]
    return {
        "sheets": shown,
        "needed": [one for one in questions if one["question"].needed],
        "more": more,
        "more_said": any(field["value"] for one in more for field in one["fields"]),
        "tables": importing.foreign_tables(),
    }


def _heading(one: importing.SheetProposal, use: Any, answers: importing.Answers) -> dict[str, Any]:
    named = f"{one.sheet}.{use.heading}"
    unit = f"{one.sheet}.{use.column}"
    return {
        "use": use,
        "column_field": f"as.{named}",
        "column": answers.columns.get(named, answers.columns.get(use.heading, "")),
        "unit_field": f"in.{unit}",
        "unit": answers.units.get(unit, answers.units.get(use.column, "")),
    }


def _question(number: int, one: importing.Question, answers: importing.Answers) -> dict[str, Any]:
    """A question with a field for each key that answers it, what was answered, and the evidence."""
    part = next(name for name, start in _FIELDS.items() if start == _FIELD_OF_KIND[one.kind])
    said = getattr(answers, part)
    plain = [key.rpartition(".")[2] for key in (one.key, *one.also)]
    asked = [
        {
            "name": f"{_FIELD_OF_KIND[one.kind]}{key}",
            "label": fields.as_asked(label),
            "value": said.get(key) or said.get(label) or (one.answer if place == 0 else ""),
            "listed": place == 0 and (label in _LISTED or one.is_closed) and bool(one.choices),
        }
        for place, (key, label) in enumerate(zip((one.key, *one.also), plain, strict=True))
    ]
    return {"number": number, "question": one, "fields": asked, "choices": one.choices}


def _review(look: importing.FileLook) -> dict[str, Any]:
    report = look.report
    if report is None or report.review is None:
        return {"review": None, "faults": fields.of_file(report.faults[:_SHOWN_FAULTS]) if report else []}
    review = report.review
    visits = [
        {
            "seen": seen,
            "state": reviews.state(seen.state),
            "before": reviews.totals(seen.before),
            "after": reviews.totals(seen.after),
            "doubt": reviews.overfull(seen),
            "changes": seen.changes[:_SHOWN_CHANGES],
            "more": max(0, len(seen.changes) - _SHOWN_CHANGES),
            "asks": seen.visit in review.replaces,
            "stays": reviews.staying(seen),
        }
        for seen in review.visits
    ]
    others = [
        {"seen": seen, "state": reviews.state(seen.state), "asks": seen.mark in review.replaces}
        for seen in review.others
        if seen.state != "same"
    ]
    return {
        "review": review,
        "visits": visits,
        "others": others,
        "sums": reviews.sums(review.sums, written=False) if review.sums else "",
        "faults": fields.of_file(report.faults[:_SHOWN_FAULTS]),
        "fault_count": len(report.faults),
        "notes": report.warnings[:_SHOWN_FAULTS],
    }


def told(report: entering.Report) -> str:
    """What came of a file, in a line."""
    if report.already:
        return f"{report.file}, already there as entry {report.batch}"
    if report.faults and not report.batch:
        return f"{report.file}, with {len(report.faults)} faults; waits as {report.quarantine}"
    if not report.batch:
        return f"{report.file}, nothing new"
    rows = ", ".join(f"{count} {name}" for name, count in report.new.items())
    return f"{report.file}, entry {report.batch}: {rows}; {len(report.corrected)} corrected"


def waiting(request: HttpRequest, number: int) -> HttpResponse:
    """Take the good rows of a waiting file, or set it aside; opened, it gives every fault as csv."""
    if request.method != "POST":
        return _fault_file(number)
    if request.POST.get("act") == "release":
        consent = entering.ALL if request.POST.get("replace") == "all" else frozenset()
        # The problems of a waiting file are kept with it, in US units.
        with measures.in_units(measures.US):
            report = importing.release(number, today=dt.date.today(), replace=consent, rules=asking.question().rules)
        asking.note(request, told(report))
        return _door(request, _came(report) | {"status": 422 if report.needs_consent else 200, "release": number})
    importing.discard(number)
    asking.note(request, f"{number} set aside")
    return HttpResponseRedirect("/import/")


def _fault_file(number: int) -> HttpResponse:
    """Every fault of a waiting file, as the command writes them."""
    held = next((row for row in importing.quarantine() if row["id"] == number), None)
    if held is None:
        return HttpResponseRedirect("/import/")
    text = fault_list.as_csv(held["problems"])
    response = HttpResponse(text.encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="faults-{number}.csv"'
    return response


def entry(request: HttpRequest, number: int) -> HttpResponse:
    """What undoing an entry would take out, with all that hangs on it; undone when sent."""
    if request.method == "POST":
        ruling = undoing.undo(number)
        asking.note(request, f"entry {number} undone, undo {ruling}")
        return HttpResponseRedirect("/import/")
    return _undo_page(request, f"entry {number}", undoing.undo_preview(number))


def visit(request: HttpRequest) -> HttpResponse:
    """What undoing a whole visit would take out; undone when sent."""
    name = (request.POST if request.method == "POST" else request.GET).get("visit", "").strip()
    if request.method == "POST":
        ruling = undoing.undo_visit(name)
        asking.note(request, f"visit {name} undone, undo {ruling}")
        return HttpResponseRedirect("/import/")
    return _undo_page(request, f"visit {name}", undoing.visit_preview(name), visit=name)


def _undo_page(request: HttpRequest, what: str, preview: Any, visit: str = "") -> HttpResponse:
    return render(request, "undo.html", {"title": f"Undo {what}", "what": what, "preview": preview, "visit": visit})


def redo(request: HttpRequest, number: int) -> HttpResponse:
    """Take an undo back."""
    if request.method == "POST":
        undoing.redo(number)
        asking.note(request, f"undo {number} taken back")
    return HttpResponseRedirect("/import/")


def species(request: HttpRequest) -> HttpResponse:
    """Species that were not understood, and saying what one is; the import stays."""
    frame: dict[str, Any] = {"title": "Species not understood"}
    status = 200
    if request.method == "POST":
        given = {name: request.POST.get(name, "").strip() for name in ("written", "meant", "stand", "entry")}
        try:
            number = int(given["entry"]) if given["entry"].isdigit() else None
            report = mending.mend_species(
                given["written"], given["meant"], today=dt.date.today(), stand=given["stand"], entry=number
            )
            frame |= {"report": report, "meant": given}
            asking.note(request, f"{given['written']} is {given['meant']}: entry {report.batch}")
        except Misuse as fault:
            frame["open"], status = fault, 422
    return render(request, "unknown_species.html", frame | {"unknown": mending.unknown_species()}, status=status)


def template(request: HttpRequest) -> HttpResponse:
    """Empty sheets with the right headings, as a workbook."""
    answer = HttpResponse(
        session.template_workbook(), content_type="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    )
    answer["Content-Disposition"] = 'attachment; filename="overwood-sheets.xlsx"'
    return answer
