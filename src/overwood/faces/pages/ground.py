"""Streams, roads and sites: a file of them sent, seen by stand with the acres that are left to treat, written."""

from __future__ import annotations

import base64
import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import ground_features, outline_files
from overwood.desk.ground_features import Asked
from overwood.faces.pages import asking, outlines
from overwood.ground import measures, typed
from overwood.ground.errors import Misuse, OverwoodError
from overwood.ground.vocabulary import FEATURE_KINDS


def page(request: HttpRequest) -> HttpResponse:
    """The door for files of features, and what is on record."""
    what = _outcome(request) if request.method == "POST" else {}
    frame = {
        "title": "Streams, roads and sites",
        "kinds": FEATURE_KINDS,
        "endings": ",".join(outline_files.endings_in()),
        "standing": ground_features.standing(),
    }
    return render(request, "ground.html", frame | what, status=what.get("status", 200))


def _outcome(request: HttpRequest) -> dict[str, Any]:
    """What the sent file comes to; written where that was asked for."""
    name, content = outlines.sent(request)
    frame = {
        "file_name": name,
        "carried": base64.b64encode(content).decode(),
        "said": {key: request.POST.get(key, "").strip() for key in ("kind", "buffer", "system", "layer")},
    }
    try:
        look = ground_features.look(name, content, _asked(request), asking.question().rules)
        if request.POST.get("write") == "yes":
            report = ground_features.write(look, dt.date.today())
            asking.note(request, f"features of {name}, entry {report.batch}" if report.batch else "")
            return {"report": report, "written": look}
    except OverwoodError as fault:
        return frame | {"fault": fault, "status": 422}
    return frame | {"look": look}


def _asked(request: HttpRequest) -> Asked:
    """What the form says; the width in the units of the page."""
    text = request.POST.get("buffer", "").strip()
    width = None
    if text:
        try:
            width = typed.number(text)
        except ValueError as fault:
            raise Misuse(f"{text!r} is no number.", remedy="Give the width in figures.", field="buffer") from fault
        width = measures.back(width, "ft") if request.POST.get("units") == measures.METRIC else width
    words = {key: request.POST.get(key, "").strip() for key in ("kind", "system", "layer")}
    return Asked(buffer_ft=width, **words)
