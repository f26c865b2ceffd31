"""Import: a file dropped, its mapping seen and mended, faults by cell, good rows kept, a whole import undone."""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import re
import tempfile
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.desk import entering, importing, session, undoing
from overwood.faces.pages import asking
from overwood.faces.pages.serving import MOST_UPLOAD_BYTES
from overwood.ground.errors import BadRecords, Misuse

_KINDS = (".csv", ".txt", ".xlsx", ".xls", ".ods", ".zip")
_SHOWN_FAULTS = 200
# Files whose mapping is in question, by person and content; the oldest goes first.
_HELD: dict[tuple[str, str], tuple[str, bytes]] = {}
_MOST_HELD = 4
# How the command line answers a question of the mapping; a page has a field for it.
_FLAGS = re.compile(r"[:.]? [Ss]ay (which with )?--.*$")


def page(request: HttpRequest) -> HttpResponse:
    """The door for files, what waits, and what came in."""
    return _shown(request, _taken(request) if request.method == "POST" else {})


def _shown(request: HttpRequest, what: dict[str, Any]) -> HttpResponse:
    """The page with what came of the last request, what waits, and what came in."""
    frame = {"title": "Import", "kinds": ",".join(_KINDS), "waiting": importing.quarantine(), "entries": session.entries()[:30]}
    return render(request, "import.html", frame | what, status=what.get("status", 200))


def file_name(given: str | None, size: int | None) -> str:
    """The plain name of a file that may be read.

    Raises
    ------
    Misuse
        when it is too large, or of a kind that is not read.
    """
    name = Path(given or "file").name
    if Path(name).suffix.lower() not in _KINDS:
        raise Misuse(f"{name} is of a kind that is not read.", remedy=f"Send one of {', '.join(_KINDS)}.")
    if (size or 0) > MOST_UPLOAD_BYTES:
        raise Misuse(f"{name} is larger than {MOST_UPLOAD_BYTES // 2**20} MB.", remedy="Import it with `overwood import`.")
    return name


def _taken(request: HttpRequest) -> dict[str, Any]:
    name, content = _sent(request)
    answers = importing.Answers(
        accept=request.POST.get("accept") == "yes",
        settings=_told(request, "set."),
        codes=_told(request, "code."),
        tables=_told(request, "holds."),
        columns=_told(request, "as."),
        units=_told(request, "in."),
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        return _report(request, path, answers)


def _told(request: HttpRequest, start: str) -> dict[str, str]:
    """What a form says under names with a common beginning; blanks say nothing."""
    return {key.removeprefix(start): str(value) for key, value in request.POST.items() if key.startswith(start) and value}


def _sent(request: HttpRequest) -> tuple[str, bytes]:
    """Name and content of the file that was sent, now or with the question before."""
    given = request.FILES.get("file")
    if isinstance(given, UploadedFile):
        return file_name(given.name, given.size), given.read()
    held = _HELD.get((asking.person(request).name, request.POST.get("held", "")))
    if held is None:
        raise Misuse("no file was sent.", remedy="Choose a file first; after a restart of the server choose it again.")
    return held


def _hold(request: HttpRequest, path: Path) -> str:
    """Keep a file whose mapping is in question, so that it need not be chosen again."""
    content = path.read_bytes()
    mark = hashlib.sha256(content).hexdigest()
    _HELD[asking.person(request).name, mark] = (path.name, content)
    while len(_HELD) > _MOST_HELD:
        _HELD.pop(next(iter(_HELD)))
    return mark


def _report(request: HttpRequest, path: Path, answers: importing.Answers) -> dict[str, Any]:
    try:
        report = importing.bring_in(path, today=dt.date.today(), answers=answers)
    except importing.NeedsMapping as question:
        return _asked(request, path, question.proposal["sheets"], answers)
    except importing.NotUnderstood as fault:
        return _asked(request, path, fault.proposal["sheets"], answers) | {"open": fault, "status": 422}
    except BadRecords as fault:
        return {"unread": fault, "status": 400}
    except Misuse as fault:
        if not answers.accept:
            raise
        # An open question is asked again, with everything that was said so far.
        return _report(request, path, dataclasses.replace(answers, accept=False)) | {"open": fault, "status": 422}
    asking.note(request, told(report))
    return {
        "report": report,
        "faults": report.faults[:_SHOWN_FAULTS],
        "notes": report.warnings[:_SHOWN_FAULTS],
        "status": 422 if report.faults else 200,
    }


def _asked(request: HttpRequest, path: Path, sheets: list[dict[str, Any]], answers: importing.Answers) -> dict[str, Any]:
    """The proposed mapping with what may be changed in it, and what was answered so far."""
    for sheet in sheets:
        if sheet["table"]:
            sheet["questions"] = [_FLAGS.sub(". Answer below.", text).replace("?.", "?") for text in sheet["questions"]]
            sheet["choices"], sheet["may_be"] = importing.mapping_choices(sheet), importing.columns_of(sheet["table"])
    said = {f"set.{name}": value for name, value in answers.settings.items()} | {
        f"code.{name}": value for name, value in answers.codes.items()
    }
    asked = [ask | {"value": said.get(ask["name"], "")} for sheet in sheets for ask in _questions(sheet)]
    return {"proposal": sheets, "file": path.name, "held": _hold(request, path), "asked": asked, "tables": importing.foreign_tables()}


def told(report: entering.Report) -> str:
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
        asking.note(request, told(report))
        return _shown(request, {"report": report, "faults": report.faults[:_SHOWN_FAULTS]})
    importing.discard(number)
    asking.note(request, f"{number} set aside")
    return HttpResponseRedirect("/import/")


def entry(request: HttpRequest, number: int) -> HttpResponse:
    """Undo a whole entry; its rows stay in the history."""
    if request.method == "POST":
        undoing.undo(number)
        asking.note(request, f"entry {number}")
    return HttpResponseRedirect("/import/")
