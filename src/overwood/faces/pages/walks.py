"""Walks for phones: made and recalled; what their taps come to, looked at, settled and written."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render

from overwood.desk import answers, from_phone, photos, session, tallies, walks
from overwood.faces import reviews
from overwood.faces.pages import asking, fields, units
from overwood.faces.served.serving import MOST_UPLOAD_BYTES
from overwood.ground import measures
from overwood.ground.errors import BadRecords, Misuse

_SHOWN_FAULTS = 200


def page(request: HttpRequest) -> HttpResponse:
    """Every walk, making one, and taking a tally file in."""
    frame: dict[str, Any] = {"title": "Walks", "status": 200}
    if request.method == "POST":
        try:
            number = _taken(request) if request.POST.get("act") == "take" else _made(request)
            return HttpResponseRedirect(f"/walks/{number}/")
        except (Misuse, BadRecords) as fault:
            frame |= {"open": fault, "remedy": fault.remedy, "status": 422}
    stands = [stand.stand for stand in session.stands()]
    frame |= {
        "walks": walks.listed(),
        "stands": stands,
        "kinds": walks.KINDS,
        "design": (design := walks.design(asking.question().rules)),
        "baf": units.shown(f"{design.baf_ft2_ac:g}", "ft2/ac"),
        "given": request.POST,
    }
    return render(request, "walks.html", frame, status=frame["status"])


def codes(request: HttpRequest) -> HttpResponse:
    """The texts of the codes on a frame of the desk's camera; nothing of it is kept."""
    frame = request.FILES.get("frame")
    if frame is None:
        return HttpResponseRedirect("/walks/")
    return JsonResponse({"texts": from_phone.texts_on(frame.read())})


def one(request: HttpRequest, number: str) -> HttpResponse:
    """What the taps of a walk come to; written, settled or recalled when sent."""
    fault = None
    standing = None
    if request.method == "POST":
        act = request.POST.get("act")
        try:
            if act == "settle":
                mark, device = request.POST.get("mark", ""), request.POST.get("phone", "")
                tallies.settle(number, mark, device)
                asking.note(request, f"walk {number[:8]}: at {mark} phone {device} stands")
            elif act in ("recall", "back"):
                walks.recall(number, back=act == "back")
                asking.note(request, f"walk {number[:8]} {'goes on' if act == 'back' else 'recalled'}")
            else:
                standing = tallies.write(number, today=dt.date.today(), leave_out_faulty=act == "good rows")
                asking.note(request, f"walk {number[:8]}, entry {standing.report.batch}")
        except Misuse as wrong:
            fault = wrong
    held = walks.walk_of(number)
    written = standing is not None and standing.report.batch is not None
    return render(
        request,
        "walk.html",
        {
            "title": f"Walk {held.id.hex[:8]}", "walk": held, "number": held.id.hex, "written": written, "open": fault,
            "photos": photos.listed(number), "taps": sum(1 for _ in tallies.taps_of(held)),
        } | _told(standing or tallies.standing(number, today=dt.date.today())),
        status=422 if fault or (standing and standing.report.faults and not written) else 200,
    )  # fmt: skip


def photo(request: HttpRequest, number: str, name: str) -> HttpResponse:
    """A photo of a walk."""
    return HttpResponse(photos.picture(number, name), content_type="image/jpeg")


def _told(standing: tallies.Standing) -> dict[str, Any]:
    review = standing.report.review
    return {
        "standing": standing,
        "visits": [reviews.visit(seen) for seen in review.visits] if review else [],
        "changes": reviews.replacements(review, fields.changed) if review else [],
        "others": [reviews.record(seen) for seen in review.others if seen.state != "same"] if review else [],
        "faults": fields.faults(standing.report)[:_SHOWN_FAULTS],
        "aside": sum(map(len, standing.to_set_aside.values())),
    }


def _taken(request: HttpRequest) -> str:
    given = [file for file in request.FILES.getlist("file") if isinstance(file, UploadedFile)]
    if sum(file.size or 0 for file in given) > MOST_UPLOAD_BYTES:
        raise Misuse(
            "the files are larger than a tally can be.",
            remedy="Choose the file that the phone saved, or fewer pictures.",
        )
    files = [(file.name or "file", file.read()) for file in given]
    # A code's last letter may be a space.
    scanned = request.POST.get("scanned", "").strip("\r\n")
    several = from_phone.take(files + ([("scanner", scanned.encode())] if scanned.strip() else []))
    for taken in several:
        asking.note(request, f"{taken.new} {taken.what} of phone {taken.device}, walk {taken.walk[:8]}")
    return several[0].walk


def _made(request: HttpRequest) -> str:
    given = request.POST
    stands = [answers.stand_name(name) for name in given.getlist("stand")]
    rules = asking.question().rules
    design = walks.design(
        rules,
        points=_number(given.get("points"), 1, 5000, "points"),
        baf_ft2_ac=_factor(request, f"{walks.design(rules).baf_ft2_ac:g}"),
        anew=given.get("anew") == "yes",
    )
    declination = None if not given.get("declination") else _decimal(given.get("declination"), -90, 90, "declination")
    kinds, days = given.getlist("kind") or ["cruise"], _number(given.get("days"), 1, 60, "days")
    # The phone says values as the page would: in the units of whoever makes the walk, else of the office.
    with measures.in_units(request.units):
        made = walks.make(stands, kinds, asking.question(), design=design, days=days, declination_deg=declination)
    asking.note(request, f"walk {made['walk'][:8]} for {', '.join(stands)}")
    return str(made["walk"])


def _number(text: str | None, low: int, high: int, what: str) -> int:
    return int(_decimal(text, low, high, what))


def _factor(request: HttpRequest, held: str) -> float:
    """The factor of the prism that was typed, in square feet an acre."""
    text = units.in_us(request.POST, request.POST.get("baf", "").strip(), "ft2/ac", held, places=4)
    return _decimal(text, 1, 120, "factor", "ft2/ac")


def _decimal(text: str | None, low: float, high: float, what: str, unit: str = "") -> float:
    try:
        value = float(text or "")
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        said = units.shown(text or "", unit)
        raise Misuse(f"{what} is {said!r}.", remedy=f"Give a number from {measures.span(low, high, unit, 'g')}.")
    return value
