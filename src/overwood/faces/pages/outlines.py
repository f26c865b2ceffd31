"""Outlines: a file of them sent, seen on a map beside the stands that are there, questions answered, written; and all
of them given out.

The file travels with the form, so nothing waits in the server between the look and the writing.
"""

from __future__ import annotations

import base64
import binascii
import datetime as dt
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import outline_files, outlines, session
from overwood.desk.outline_files import Look
from overwood.desk.outline_matching import LEFT_OUT, OutlineAnswers, Question
from overwood.faces.pages import asking, property
from overwood.ground.errors import Misuse, OverwoodError

# A form takes 4 MB, and text of 64 letters makes a file a third longer.
_MOST_BYTES = 2_800_000
_TYPES = {
    "gpx": "application/gpx+xml",
    "kml": "application/vnd.google-earth.kml+xml",
    "geojson": "application/geo+json",
    "wkt": "text/plain",
}
# Told apart from a stand's new outline of the same name.
_THERE = "\u200b"


def page(request: HttpRequest) -> HttpResponse:
    """The door for files of outlines, and the outlines of the book to take away."""
    frame = {
        "title": "Outlines",
        "kinds": ",".join(outline_files.endings_in()),
        "out": outline_files.kinds_out(),
        "outline_count": sum(1 for stand in session.stands() if stand.boundary_wkt),
        "areas": outline_files.AREAS,
        "properties": outlines.properties(),
    }
    what = _outcome(request) if request.method == "POST" else {}
    return render(request, "outlines.html", frame | what, status=what.get("status", 200))


def download(request: HttpRequest, kind: str) -> HttpResponse:
    """The outlines of every stand as one file."""
    response = HttpResponse(outline_files.give_out(kind), content_type=_TYPES.get(kind, "application/octet-stream"))
    response["Content-Disposition"] = f'attachment; filename="outlines.{kind}"'
    return response


def _outcome(request: HttpRequest) -> dict[str, Any]:
    """What the sent file comes to; written where that was asked for."""
    name, content = sent(request)
    answers = _answers(request)
    frame = {
        "file_name": name,
        "carried": base64.b64encode(content).decode(),
        "answers": answers,
        "stand_answers": list(answers.stands.items()),
    }
    try:
        look = outline_files.look(name, content, answers)
        if request.POST.get("write") == "yes":
            report = outline_files.write(look, answers, dt.date.today())
            asking.note(request, f"outlines of {name}, entry {report.batch}" if report.batch else "")
            return {"report": report, "written": look}
    except OverwoodError as fault:
        return frame | {"fault": fault, "status": 422} | _shown(_again(name, content, answers))
    return frame | _shown(look)


def _again(name: str, content: bytes, answers: OutlineAnswers) -> Look | None:
    try:
        return outline_files.look(name, content, answers)
    except OverwoodError:
        return None


def _shown(look: Look | None) -> dict[str, Any]:
    if look is None:
        return {}
    asked = [_field(question) for question in look.questions if question.option == "--stand"]
    ask_area = next((question for question in look.questions if question.option == "--area"), None)
    return {"look": look, "asked": asked, "ask_area": ask_area, "preview": _preview(look)}


def _answers(request: HttpRequest) -> OutlineAnswers:
    words = {
        name: request.POST.get(name, "").strip() for name in ("system", "layer", "name_column", "area", "property")
    }
    given = (
        (key.removeprefix("stand."), str(value).strip())
        for key, value in request.POST.items()
        if key.startswith("stand.")
    )
    stands = {label: stand for label, stand in given if stand}
    return OutlineAnswers(
        **words, stands=stands, swap=request.POST.get("swap") == "yes", new=request.POST.get("new") == "yes"
    )


def sent(request: HttpRequest) -> tuple[str, bytes]:
    """Name and content of the file now sent, or of that which the last form carried."""
    given = request.FILES.get("file")
    if isinstance(given, UploadedFile):
        name = Path(given.name or "file").name
        if (given.size or 0) > _MOST_BYTES:
            raise Misuse(
                f"{name} is larger than {_MOST_BYTES / 1e6:.1f} MB.", remedy="Send the outlines in parts.", field="file"
            )
        return name, given.read()
    try:
        content = base64.b64decode(request.POST.get("carried", ""), validate=True)
    except binascii.Error as fault:
        raise Misuse("the file that the page carried is damaged.", remedy="Choose it again.", field="file") from fault
    if not content:
        raise Misuse("no file was sent.", remedy="Choose a file first.", field="file")
    return Path(request.POST.get("file_name") or "file").name, content


def _field(question: Question) -> dict[str, Any]:
    """A list of stands to choose from for a shape that is not yet matched, the likely one first."""
    likely = [choice for choice in question.choices if choice != LEFT_OUT]
    others = [stand.stand for stand in session.stands() if stand.stand not in likely]
    return {"about": question.about, "choices": [*likely, *others]}


def _preview(look: Look) -> dict[str, Any] | None:
    """The outlines of the file among those of the book, in one plane, north up."""
    there = {f"{_THERE}{stand.stand}": stand.boundary_wkt for stand in session.stands()}
    picture = property.shapes_of(there | {one.stand: one.wkt for one in look.outlines}, {})
    for shape in picture["stands"] if picture else ():
        shape["kind"] = "there" if shape["name"].startswith(_THERE) else "coming"
        shape["name"] = shape["name"].lstrip(_THERE)
    return picture
