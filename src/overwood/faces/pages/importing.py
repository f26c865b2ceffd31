"""Import: a file sent, its headings and answers, what would come of it, and writing it; what waits, what came in, undo
and redo."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.desk import entering, importing, mending, session, undoing, uploads, work
from overwood.faces.pages import asking, coming, fields, import_look, import_work
from overwood.faces.served.serving import MOST_UPLOAD_BYTES
from overwood.faces.telling import fault_list
from overwood.ground import measures
from overwood.ground.errors import Misuse, OverwoodError

_KINDS = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".zip")
_OUTLINES = (".gpkg", ".geojson", ".kml", ".kmz", ".gpx", ".shp")


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
        for name, start in import_look.FIELDS.items()
    }
    return importing.Answers(**parts)


def _taken(request: HttpRequest, number: int, sent: importing.FileSent) -> HttpResponse:
    answers = _answers(request)
    uploads.answer(number, answers.to_json())
    if request.POST.get("accept") != "yes":
        return _looked(request, number, sent, answers)
    asked = {
        "upload": number,
        "name": sent.name,
        "digest": sent.digest,
        "answers": answers.to_json(),
        "replace": request.POST.getlist("replace"),
        "save_as": asking.typed(request, "save_as"),
    }
    return came(request, import_work.bring_in(request, sent.name, asked))


def at_work(request: HttpRequest, number: int) -> HttpResponse:
    """How far a file is, then what came of it. A POST stops it as long as the book is not held."""
    if request.headers.get("HX-Request"):
        return coming.of_work(request, number, import_work.ADDRESS.format(number))
    if request.method == "POST":
        return HttpResponseRedirect(import_work.ADDRESS.format(work.stop(number).number))
    one = work.of(number)
    if not one.ended:
        return import_work.under_way(request, one)
    if one.kind == import_work.LOOK:
        return HttpResponseRedirect(f"/import/file/{one.asked['upload']}/")
    if one.fault:
        raise OverwoodError(one.fault)
    return came(request, one)


def came(request: HttpRequest, one: work.Work) -> HttpResponse:
    """What came of a file once it has ended, and how far it is before."""
    if not one.ended:
        asking.note(request, f"{one.title}, asked for as work {one.number}")
        return HttpResponseRedirect(import_work.ADDRESS.format(one.number))
    result = one.result or {}
    if "refused" in result:
        sent, answers = uploads.one(one.asked["upload"])
        return _looked(request, one.asked["upload"], sent, importing.Answers.from_json(answers), result["refused"])
    if "unread" in result:
        return _door(request, {"unread": result["unread"], "status": 400})
    shown = _came(result)
    if request.method == "POST":
        asking.note(request, told(shown["report"]))
    if "waiting" in one.asked:
        shown |= {"status": 422 if shown["report"].needs_consent else 200, "release": one.asked["waiting"]}
    return _door(request, shown)


def _came(result: dict[str, Any]) -> dict[str, Any]:
    report, beside = import_work.report_of(result)
    return beside | {
        "report": report,
        "faults": fields.of_file(report.faults[: import_look.SHOWN_FAULTS]),
        "fault_count": len(report.faults),
        # What is kept is worded in US units; in metric the same notes were read where the file was looked at.
        "notes": [] if measures.is_metric() else report.warnings[: import_look.SHOWN_FAULTS],
        "status": 422 if report.faults else 200,
    }


def _looked(
    request: HttpRequest, number: int, sent: importing.FileSent, answers: importing.Answers, fault: str = ""
) -> HttpResponse:
    """How a file is read, what is asked of it and what would come of it; nothing is written."""
    one = import_work.look(request, number, sent, answers)
    if not one.ended:
        again = HttpResponseRedirect(f"/import/file/{number}/")
        return again if request.method == "POST" else import_work.under_way(request, one)
    result = one.result or {"fault": one.fault, "html": "", "has_sheets": True, "status": 422}
    if "unread" in result:
        uploads.drop(number)
        return _door(request, {"unread": result["unread"], "status": 400})
    if "report" in result:
        uploads.drop(number)
        return _door(request, {"report": import_work.report_of(result)[0]})
    fault = fault or result.get("fault", "")
    frame = {"title": f"Import {sent.name}", "number": number, "look": result, "open": fault, "file": sent.name}
    frame["save_as"] = asking.typed(request, "save_as")
    status = 422 if fault else result["status"]
    return render(request, "import_file.html", frame, status=status if request.method == "POST" else 200)


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
        name = next((row["file_name"] for row in importing.quarantine() if row["id"] == number), "a waiting file")
        return came(request, import_work.bring_in(request, name, {"waiting": number, "replace": sorted(consent)}))
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
