"""Fire and injection: the order for the midstory, the gates of a burn, days that fit the card, fire and value at risk."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import fire
from overwood.desk.answers import Question
from overwood.faces.pages import asking
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.weather import Weather

_MOST_BYTES = 32 * 1024 * 1024


def page(request: HttpRequest, name: str) -> HttpResponse:
    """Gates, card and injection; with a weather file sent also the days that fit and the fire in them."""
    ask = asking.question()
    weather = _weather(request) if request.method == "POST" else None
    found = fire.burn(name, ask, weather=weather, prices=asking.prices())
    context: dict[str, Any] = {
        "title": f"Fire and injection, {name}",
        "name": name,
        "burn": found,
        "injection": _injection(name, ask),
        "cautions": fire.cautions(),
        "injection_cautions": fire.injection_cautions(),
        "seasons": [(block.fuel, season, season.days[:8]) for block in found.days for season in block.seasons],
        "picture": _picture(found) if found.days else "",
    }
    return render(request, "fire.html", context)


def _injection(name: str, ask: Question) -> Any:
    try:
        return fire.injection(name, ask)[0]
    except NotFound as fault:
        return {"missing": str(fault)}


def _weather(request: HttpRequest) -> Weather:
    given = request.FILES.get("weather")
    if not isinstance(given, UploadedFile):
        raise Misuse("no weather file was sent.", remedy="Choose an hourly csv file of several winters.")
    if (given.size or 0) > _MOST_BYTES:
        raise Misuse("the weather file is larger than 32 MB.", remedy="Use `overwood burn STAND --weather FILE`.")
    zone = request.POST.get("zone", "").strip()
    try:
        hours = float(zone) if zone else None
    except ValueError:
        raise Misuse(f"{zone!r} is no number of hours.", remedy="Give the hours from UTC, such as -5.") from None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / Path(given.name or "weather.csv").name
        path.write_bytes(given.read())
        return fire.read_weather(path, columns={}, units={}, station="", clock=request.POST.get("clock", ""), zone_h=hours, wind_height="")


def _picture(found: Any) -> str:
    """The calendar of burn days as a picture inside the page."""
    import base64

    from overwood.faces.papers import burn_calendar, press

    return base64.b64encode(press.svg(burn_calendar.chart(found.days[0])).encode()).decode()
