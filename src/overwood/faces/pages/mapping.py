"""The map of the property: outlines drawn, changed, split and merged in place, and own maps behind them."""

from __future__ import annotations

import datetime as dt
import functools
import json
from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import backgrounds, outlines, session, telling
from overwood.faces.pages import asking, judging
from overwood.ground import measures
from overwood.ground.errors import Misuse, NotFound, OverwoodError

# How long the map waits for stands that are still to be judged; it asks again.
_TILE_KEPT_S = 3_600


def shapes(request: HttpRequest) -> JsonResponse:
    """Stands with their outlines and kinds of work, and what may lie behind them."""
    standing = judging.standing(asking.question(), judging.WAIT_S)
    features = [
        {
            "type": "Feature",
            "id": one.stand,
            "geometry": one.geometry,
            "properties": _told(one, standing.known.get(one.stand)),
        }
        for one in outlines.outlines()
    ]
    names = {feature["id"] for feature in features}
    return JsonResponse(
        {
            "stands": {"type": "FeatureCollection", "features": features},
            "without": [stand.stand for stand in standing.stands if stand.stand not in names],
            "properties": list(outlines.properties()),
            "backgrounds": telling.plain(_behind()),
            "left": standing.left,
            "draws": asking.person(request).may("forester"),
        }
    )


def _told(one: outlines.Outline, judged: judging.Judged | None) -> dict[str, Any]:
    kind = judged.advice.work if judged else "unknown"
    title = judged.advice.title if judged else "is being judged"
    return {
        "stand": one.stand,
        "kind": kind,
        "title": title,
        "area_ac": round(one.area_ac, 2),
        "noted_area_ac": one.noted_area_ac,
    }


def _behind() -> list[backgrounds.Background]:
    return [
        asking.DESK.drawn.once(path, asking.mark_of(path), functools.partial(backgrounds.look, path))
        for path in asking.DESK.backgrounds
    ]


def _drawing(request: HttpRequest) -> outlines.Drawing:
    plain = asking.body(request)
    words = {name: str(plain.get(name) or "").strip() for name in ("act", "stand", "other", "property")}
    shape = plain.get("shape")
    return outlines.Drawing(
        **words, shape=shape if isinstance(shape, dict) else None, take_area=plain.get("take_area") is not False
    )


def _answered(work: Callable[[], dict[str, Any]], fault_status: int | None = None) -> JsonResponse:
    """The map is told of a fault in words, not by a page; a drawing that is looked at and found wrong is a good
    answer."""
    try:
        return JsonResponse(work())
    except OverwoodError as fault:
        plain = {"what": Exception.__str__(fault), "remedy": fault.remedy}
        return JsonResponse(plain, status=fault_status or (404 if isinstance(fault, NotFound) else 400))


@require_POST
def check(request: HttpRequest) -> JsonResponse:
    """What a drawing comes to; nothing is kept."""

    def work() -> dict[str, Any]:
        answer: dict[str, Any] = telling.plain(outlines.propose(_drawing(request)))
        for one in answer["outlines"]:
            one["area"] = measures.amount(one["area_ac"], "acres", ".2f")
            one["noted"] = measures.amount(one["noted_area_ac"], "acres", "g") if one["noted_area_ac"] else ""
        return answer

    return _answered(work, fault_status=200)


@require_POST
def keep(request: HttpRequest) -> JsonResponse:
    """Write a drawing down."""

    def work() -> dict[str, Any]:
        drawing = _drawing(request)
        report = outlines.keep(drawing, dt.date.today())
        said = f"{drawing.act} {' '.join(part for part in (drawing.stand, drawing.other) if part)}"
        asking.note(request, f"{said}, entry {report.batch}" if report.batch else "")
        return {"entry": report.batch, "same": report.batch is None}

    return _answered(work)


def typed(request: HttpRequest) -> HttpResponse:
    """An outline by its corners, for who does not draw: a line each of longitude and latitude, or well-known text."""
    if request.method != "POST":
        return HttpResponseRedirect("/")
    name, text = (request.POST.get(key, "").strip() for key in ("stand", "corners"))
    has = {stand.stand for stand in session.stands() if stand.boundary_wkt}
    drawing = outlines.Drawing(
        act="change" if name in has else "draw",
        stand=name,
        property=request.POST.get("property", ""),
        shape=_corners(text),
        take_area=request.POST.get("take_area") == "yes",
    )
    proposal = outlines.propose(drawing)
    report = outlines.keep(drawing, dt.date.today())
    asking.note(request, f"outline of {name} typed, entry {report.batch}" if report.batch else "")
    context = {
        "title": "Outline",
        "name": name,
        "area_ac": proposal.outlines[0].area_ac,
        "notes": proposal.notes,
        "entry": report.batch,
    }
    return render(request, "outlined.html", context)


def _corners(text: str) -> dict[str, Any]:
    import shapely
    from shapely.errors import GEOSException

    if text[:1].isalpha():
        try:
            plain: dict[str, Any] = json.loads(shapely.to_geojson(shapely.from_wkt(text)))
            return plain
        except GEOSException:
            raise Misuse(
                "the well-known text cannot be read.", remedy="Begin with POLYGON ((.", field="corners"
            ) from None
    corners = []
    for number, line in enumerate(text.splitlines(), start=1):
        parts = line.replace(",", " ").split()
        if not parts:
            continue
        try:
            longitude, latitude = map(float, parts)
        except ValueError:
            remedy = "Write longitude and latitude, such as -81.52 38.31."
            raise Misuse(f"line {number}, {line!r}, is no corner.", remedy=remedy, field="corners") from None
        corners.append([longitude, latitude])
    if len(corners) < 3:
        raise Misuse("an outline has three corners or more.", remedy="Write one corner a line.", field="corners")
    return {"type": "Polygon", "coordinates": [[*corners, corners[0]]]}


def tile(request: HttpRequest, number: int, zoom: int, column: int, row: int) -> HttpResponse:
    """One tile of an own map behind the stands."""
    if not 0 <= number < len(asking.DESK.backgrounds):
        raise NotFound(f"there is no background {number}.", remedy="Start the server with --background FILE.")
    image = backgrounds.tile(asking.DESK.backgrounds[number], zoom, column, row)
    response = HttpResponse(image.content, content_type=image.content_type) if image else HttpResponse(status=204)
    response["Cache-Control"] = f"private, max-age={_TILE_KEPT_S}"
    return response
