"""Import: a file dropped, its mapping seen and mended, faults by cell, good rows kept, a whole import undone."""

from __future__ import annotations

import datetime as dt
import tempfile
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.desk import importing, session
from overwood.faces.pages import asking
from overwood.faces.pages.serving import MOST_UPLOAD_BYTES
from overwood.ground.errors import BadRecords, Misuse

_KINDS = (".csv", ".txt", ".xlsx", ".xls", ".ods", ".zip")
_SHOWN_FAULTS = 200


def page(request: HttpRequest) -> HttpResponse:
    """The door for files, what waits, and what came in."""
    return _shown(request, _taken(request) if request.method == "POST" else {})


def _shown(request: HttpRequest, what: dict[str, Any]) -> HttpResponse:
    """The page with what came of the last request, what waits, and what came in."""
    frame = {"title": "Import", "kinds": ",".join(_KINDS), "waiting": importing.quarantine(), "entries": session.entries()[:30]}
    return render(request, "import.html", frame | what, status=what.get("status", 200))


def _taken(request: HttpRequest) -> dict[str, Any]:
    given = request.FILES.get("file")
    if not isinstance(given, UploadedFile):
        raise Misuse("no file was sent.", remedy="Choose a file first.")
    name = Path(given.name or "file").name
    if Path(name).suffix.lower() not in _KINDS:
        raise Misuse(f"{name} is of a kind that is not read.", remedy=f"Send one of {', '.join(_KINDS)}.")
    if (given.size or 0) > MOST_UPLOAD_BYTES:
        raise Misuse(f"{name} is larger than {MOST_UPLOAD_BYTES // 2**20} MB.", remedy="Import it with `overwood import`.")
    settings = {key[4:]: str(value) for key, value in request.POST.items() if key.startswith("set.") and value}
    codes = {key[5:]: str(value) for key, value in request.POST.items() if key.startswith("code.") and value}
    accept = request.POST.get("accept") == "yes"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(given.read())
        return _report(request, path, importing.Answers(accept=accept, settings=settings, codes=codes))


def _report(request: HttpRequest, path: Path, told: importing.Answers) -> dict[str, Any]:
    try:
        report = importing.bring_in(path, today=dt.date.today(), answers=told)
    except importing.NeedsMapping as question:
        sheets = question.proposal["sheets"]
        return {"proposal": sheets, "file": path.name, "asked": [ask for sheet in sheets for ask in _questions(sheet)]}
    except BadRecords as fault:
        return {"unread": fault, "status": 400}
    asking.note(request, _told(report))
    return {
        "report": report,
        "faults": report.faults[:_SHOWN_FAULTS],
        "notes": report.warnings[:_SHOWN_FAULTS],
        "status": 422 if report.faults else 200,
    }


def _told(report: importing.Report) -> str:
    """What came of a file, in a line."""
    if report.already:
        return f"{report.file}, already there as entry {report.batch}"
    if not report.batch:
        return f"{report.file}, with {len(report.faults)} faults; waits as {report.quarantine}"
    rows = ", ".join(f"{count} {name}" for name, count in report.new.items())
    return f"{report.file}, entry {report.batch}: {rows}; {len(report.corrected)} corrected"


def _questions(sheet: dict[str, Any]) -> list[dict[str, str]]:
    """What the sheet does not say: constants to fill in, and codes that may mean several species."""
    found = [
        {"name": f"set.{sheet['sheet']}.{name}", "label": f"{sheet['sheet']}: {name}"}
        for name, value in sheet.get("constants", {}).items()
        if not value
    ]
    open_codes = {written for known in sheet.get("codes", {}).values() for written, code in known.items() if not code}
    return found + [
        {"name": f"code.{written}", "label": f"{sheet['sheet']}: species {written!r}, by FIA code or name"}
        for written in sorted(open_codes)
    ]


def waiting(request: HttpRequest, number: int) -> HttpResponse:
    """Take the good rows of a waiting file, or set it aside."""
    if request.method != "POST":
        return HttpResponseRedirect("/import/")
    if request.POST.get("act") == "release":
        report = importing.release(number, today=dt.date.today())
        asking.note(request, _told(report))
        return _shown(request, {"report": report, "faults": report.faults[:_SHOWN_FAULTS]})
    importing.discard(number)
    asking.note(request, f"{number} set aside")
    return HttpResponseRedirect("/import/")


def entry(request: HttpRequest, number: int) -> HttpResponse:
    """Undo a whole entry; its rows stay in the history."""
    if request.method == "POST":
        importing.undo(number)
        asking.note(request, f"entry {number}")
    return HttpResponseRedirect("/import/")
