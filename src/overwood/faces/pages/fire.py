"""Fire and injection: the order for the midstory, the gates of a burn, days that fit the card, fire and value at
risk."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from overwood.desk import fire
from overwood.desk.answers import Question
from overwood.faces.pages import asking, burn_days, coming, judging
from overwood.ground.errors import Misuse, NotFound
from overwood.ground.weather import Weather
from overwood.judgement.fire import card
from overwood.judgement.injection import product_of

_MOST_BYTES = 32 * 1024 * 1024
WIND_HEIGHTS = ("10m", "20ft")


@coming.at_once("Fire and injection", lambda _request, given: (f"burn {given['name']}",), "fire")
def page(request: HttpRequest, name: str) -> HttpResponse:
    """Gates, card and injection; with a weather file sent also the days that fit and the fire in them."""
    ask = asking.question()
    if request.method == "POST" and "product" in request.POST:
        _lay_down(request, name)
        return redirect(request.path)
    found = _burn(request, name, ask)
    known = judging.standing(ask, 0.0).known.get(name)
    context: dict[str, Any] = {
        "injects": known is not None and known.advice.step == "inject",
        "lost": _lost(found),
        "title": f"Fire and injection, {name}",
        "name": name,
        "burn": found,
        "injection": _injection(name, ask),
        "tested": fire.tested_products(),
        "cautions": fire.cautions(),
        "injection_cautions": fire.injection_cautions(),
        "seasons": [(block.fuel, season, season.days[:8]) for block in found.days for season in block.seasons],
        "calendars": [burn_days.calendar(block) for block in found.days],
    }
    return render(request, "fire.html", context)


def _burn(request: HttpRequest, name: str, ask: Question) -> fire.Burn:
    """The burn by the records alone, or by the weather and the law that were sent."""
    if request.method == "POST":
        return fire.burn(
            name, ask, weather=_weather(request), law=_law(request) or asking.law(), prices=asking.prices()
        )
    found: fire.Burn = asking.kept(
        f"burn {name}", ask, lambda: fire.burn(name, ask, weather=None, law=asking.law(), prices=asking.prices())
    )
    return found


def _lost(burn: fire.Burn) -> list[tuple[str, int]]:
    """What alone kept most hours out of the prescription, for the first fuel model."""
    if not burn.days:
        return []
    return sorted(((what, hours) for what, hours in burn.days[0].lost_to.items() if hours), key=lambda row: -row[1])[:4]


def _law(request: HttpRequest) -> card.Law | None:
    """The law file that was sent beside the weather."""
    given = request.FILES.get("law")
    if not isinstance(given, UploadedFile):
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / Path(given.name or "law.toml").name
        path.write_bytes(given.read())
        with asking.at_field("law"):
            return card.load_law(path)


def _injection(name: str, ask: Question) -> Any:
    try:
        product = fire.product_on_table(name)
        return asking.kept(f"injection {name} {product}", ask, lambda: fire.injection(name, ask, product=product)[0])
    except NotFound as fault:
        return {"missing": str(fault)}


def _lay_down(request: HttpRequest, name: str) -> None:
    """Keep the product that was named for the injection; a blank name takes it away."""
    active = request.POST["product"].strip()
    product = (
        product_of(active, _number(request, "share", 1.0), _number(request, "most_a_year", None)) if active else None
    )
    fire.lay_product_down(name, product)


def _number(request: HttpRequest, name: str, most: float | None) -> float | None:
    """A number of the form above none; None where it is blank."""
    written = request.POST.get(name, "").strip()
    if not written:
        return None
    try:
        value = float(written)
    except ValueError:
        raise Misuse(f"{written!r} is no number.", remedy="Write it with a point, such as 0.5.", field=name) from None
    if not 0 < value <= (most or float("inf")) or value == float("inf"):
        raise Misuse(
            f"{name.replace('_', ' ')} is {written}.",
            remedy=f"Above 0{f' and up to {most:g}' if most else ''}.",
            field=name,
        )
    return value


def _weather(request: HttpRequest) -> Weather:
    given = request.FILES.get("weather")
    if not isinstance(given, UploadedFile):
        raise Misuse(
            "no weather file was sent.", remedy="Choose an hourly csv file of several winters.", field="weather"
        )
    if (given.size or 0) > _MOST_BYTES:
        raise Misuse("the weather file is larger than 32 MB.", remedy="Send fewer winters at a time.", field="weather")
    zone = request.POST.get("zone", "").strip()
    try:
        hours = float(zone) if zone else None
    except ValueError:
        raise Misuse(
            f"{zone!r} is no number of hours.", remedy="Give the hours from UTC, such as -5.", field="zone"
        ) from None
    wind = request.POST.get("wind_height") or WIND_HEIGHTS[0]
    if wind not in WIND_HEIGHTS:
        raise Misuse(
            f"{wind!r} is no height of a wind.", remedy=f"One of {', '.join(WIND_HEIGHTS)}.", field="wind_height"
        )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / Path(given.name or "weather.csv").name
        path.write_bytes(given.read())
        with asking.at_field("weather"):
            return fire.read_weather(
                path,
                columns={},
                units={},
                station="",
                clock=request.POST.get("clock", ""),
                zone_h=hours,
                wind_height=wind,
            )
