"""A stand from above: a raster sent, its crowns proposed on a map, and what people find below them written down."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.desk import answers, canopy
from overwood.faces.pages import asking, property, units
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound, OverwoodError
from overwood.judgement.canopy import VERDICTS, CanopyMap

_MOST_BYTES = 64_000_000
# More circles than this make a page heavy; the tallest are drawn then.
_MOST_DRAWN = 3_000


def page(request: HttpRequest, name: str) -> HttpResponse:
    """The map kept last, how to send another, and the form for what stands below a crown."""
    stand = answers.stand_file(name).stand
    frame: dict[str, Any] = {
        "title": f"{name} from above", "name": name, "has_outline": bool(stand.boundary_wkt),
        "kinds": ",".join(canopy.endings_in()),
        "verdicts": VERDICTS, "status": 200,
    }  # fmt: skip
    if request.method == "POST":
        try:
            measures.kept_in_us(lambda: _done(request, stand.stand), OverwoodError)
        except OverwoodError as fault:
            frame |= {"fault": fault, "status": 422, "typed": request.POST}
        else:
            return HttpResponseRedirect(request.path)
    try:
        seen, answer = canopy.newest(name, asking.question())
        frame |= {"seen": seen, "answer": answer, "picture": _picture(seen, stand.boundary_wkt)}
    except NotFound:
        pass
    return render(request, "canopy.html", frame, status=frame["status"])


def crowns(_request: HttpRequest, name: str) -> HttpResponse:
    """The sheet of crowns to take to the woods."""
    response = HttpResponse(
        canopy.sheet(canopy.newest(name, asking.question())[0]), content_type="text/csv; charset=utf-8"
    )
    response["Content-Disposition"] = 'attachment; filename="crowns.csv"'
    return response


def _done(request: HttpRequest, name: str) -> None:
    """Look at the sent raster and keep its map, or write down what a filled sheet or the form says of crowns."""
    ask, sent = asking.question(), request.FILES.get("file")
    file = sent if isinstance(sent, UploadedFile) else None
    if request.POST.get("act") == "check":
        by = request.POST.get("by", "").strip()
        dbh = units.in_us(request.POST, request.POST.get("dbh_in", ""), "in", places=4)
        typed = {**request.POST.dict(), "dbh_in": dbh}
        text = canopy.text_of(file.name or "sheet", _content(file)) if file else canopy.row_of(typed)
        judged = canopy.check(name, canopy.verdicts_of(file.name or "sheet" if file else "the form", text), ask, by=by)
        asking.note(request, f"{name}: {judged.check.checked} crowns from above looked at")
        return
    pieces = {Path(one.name or "file").name: one for one in request.FILES.getlist("file")}
    if not pieces:
        raise Misuse("no file was sent.", remedy="Choose a raster or a point cloud first.", field="file")
    if sum(one.size or 0 for one in pieces.values()) > _MOST_BYTES:
        raise Misuse(
            f"{', '.join(pieces)}: more than {_MOST_BYTES / 1e6:.0f} MB.",
            remedy="Cut the file to the stand, or to coarser cells.",
        )
    height = request.POST.get("height", "")
    flown = _day(request.POST.get("flown", ""))
    contents = {piece: _content(one) for piece, one in pieces.items()}
    seen = canopy.look(name, contents, ask, flown_on=flown, height=height)
    asking.note(request, f"{name}: {len(seen.crowns)} crowns from above, answer {canopy.keep(seen, ask).number}")


def _content(file: UploadedFile) -> bytes:
    """What was sent, as often as it is asked for."""
    file.seek(0)
    return file.read()


def _day(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise Misuse(
            "the day of the flight is not said.", remedy="Give it as 2024-07-01: trees fall and grow after it."
        ) from None


def _picture(seen: CanopyMap, outline_wkt: str) -> dict[str, Any] | None:
    """The stand's outline with a circle for each crown, north up."""
    plane = property.plane({seen.stand: outline_wkt})
    if plane is None:
        return None
    tallest = sorted(seen.crowns, key=lambda crown: -crown.height_ft)[:_MOST_DRAWN]
    circles = []
    for crown in tallest:
        x, y = plane.at(crown.longitude_deg, crown.latitude_deg)
        circles.append(
            {
                "x": f"{x:.1f}",
                "y": f"{y:.1f}",
                "r": f"{plane.length(crown.radius_ft):.1f}",
                "kind": crown.verdict.replace(" ", "-"),
                "number": crown.number,
            }
        )
    drawing = property.shapes_of({seen.stand: outline_wkt}, {})
    return {
        "box": plane.box,
        "circles": circles,
        "left_out": len(seen.crowns) - len(tallest),
        "stands": drawing["stands"] if drawing else (),
    }
