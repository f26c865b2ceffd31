"""A photo of a sheet of boxes: read, held beside what was read, and taken over into the draft of the tally."""

from __future__ import annotations

import base64
from typing import Any
from urllib.parse import quote, urlencode

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render

from overwood.desk import answers, ticks
from overwood.faces.pages import tally
from overwood.ground import tick_sheet
from overwood.ground.errors import Misuse, OverwoodError
from overwood.ground.species import by_code
from overwood.ground.tick_sheet import TickSheet
from overwood.ground.vocabulary import HEIGHT_CLASSES, height_class_words

_KIND = "reproduction"
_MOST_BYTES = 30_000_000


def page(request: HttpRequest, name: str) -> HttpResponse:
    """Asks for a photo; shows what it read beside it; takes over what the person let stand."""
    answers.stand_file(name)
    context: dict[str, Any] = {
        "title": f"Boxes, {name}",
        "name": name,
        "classes": [*map(height_class_words, HEIGHT_CLASSES)],
        "status": 200,
    }
    if request.method == "POST":
        try:
            if "code" in request.POST:
                _take_over(name, request.POST)
                return HttpResponseRedirect(f"/tally/{quote(name, safe='')}/?{urlencode({'kind': _KIND})}")
            context |= _read(name, request.FILES.get("file"))
        except OverwoodError as fault:
            context |= {"fault": fault, "status": 422}
            if "code" in request.POST:
                context |= _typed(request.POST)
    return render(request, "ticks.html", context, status=context["status"])


def _read(name: str, sent: Any) -> dict[str, Any]:
    if not isinstance(sent, UploadedFile):
        raise Misuse("no photo was sent.", remedy="Choose the photo of a sheet first.", field="file")
    if (sent.size or 0) > _MOST_BYTES:
        raise Misuse(
            f"{sent.name} is larger than {_MOST_BYTES / 1e6:.0f} MB.", remedy="Send the photo as the phone took it."
        )
    seen = ticks.look(name, sent.name or "the photo", sent.read())
    picture = base64.b64encode(seen.picture).decode()
    stems = {cell: "" if count is None else str(count) for cell, count in seen.stems.items()}
    unclear = [point for point, looked in seen.looked.items() if looked is None]
    asked = len(unclear) + sum(count is None for count in seen.stems.values())
    looked = [point for point, one in seen.looked.items() if one]
    return {"picture": picture, "asked": asked, **_grid(seen.sheet, stems, looked, unclear)}


def _typed(sent: QueryDict) -> dict[str, Any]:
    """The form as it was sent, so that nothing typed is lost."""
    sheet = tick_sheet.of_code(sent["code"])
    return {"picture": sent.get("picture", ""), **_grid(sheet, _cells(sheet, sent), sent.getlist("looked"), [])}


def _cells(sheet: TickSheet, sent: QueryDict) -> dict[ticks.Cell, str]:
    cells = dict.fromkeys((box.point, box.species, box.height_class) for box in sheet.boxes)
    return dict(zip(cells, sent.getlist("stems"), strict=False))


def _grid(sheet: TickSheet, stems: dict[ticks.Cell, str], looked: list[str], unclear: list[str]) -> dict[str, Any]:
    plots = [
        {
            "point": point,
            "looked": point in looked,
            "unclear": point in unclear,
            "lines": [
                {
                    "species": by_code(int(code)).common_name,
                    "cells": [
                        (height_class_words(label), stems.get((point, code, label), "")) for label in HEIGHT_CLASSES
                    ],
                }
                for code in sheet.species
            ],
        }
        for point in sheet.points
    ]
    return {"sheet": sheet, "plots": plots}


def _take_over(name: str, sent: QueryDict) -> None:
    sheet = tick_sheet.of_code(sent["code"])
    ticks.check_stand(sheet, name)
    points, rows = ticks.lines(sheet, _cells(sheet, sent), sent.getlist("looked"))
    tally.add_to_draft(name, _KIND, plots=points, lines=rows, plot_area_ac=sheet.plot_area_ac)
