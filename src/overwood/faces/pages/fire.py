"""Fire and injection: the order for the midstory, the gates of a burn, days that fit the card, fire and value at
risk."""

from __future__ import annotations

from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from overwood.desk import answers, burn_table, fire, kept, work
from overwood.desk.answers import Question
from overwood.faces.pages import asking, burn_days, coming, judging, stand
from overwood.ground.errors import Misuse, NotFound
from overwood.judgement.injection import product_of

_MOST_BYTES = 32 * 1024 * 1024
WIND_HEIGHTS = ("10m", "20ft")


@coming.at_once("Fire and injection", lambda _request, given: (f"burn {given['name']}",), "fire")
def page(request: HttpRequest, name: str) -> HttpResponse:
    """Gates, card and injection, and the days counted last by a weather file; sending a file has them counted."""
    ask = asking.question()
    if request.method == "POST":
        if "product" in request.POST:
            _lay_down(request, name)
        else:
            begin_days(request, name)
        return redirect(request.path)
    burn: kept.NamedAnswer[fire.Burn] = asking.kept(
        f"burn {name}",
        ask,
        lambda: burn_table.answer_of(name, ask, weather=None, law=asking.law(), prices=asking.prices()),
    )
    known = judging.standing(ask, 0.0).known.get(name)
    injection = _injection(name, ask)
    context: dict[str, Any] = {
        "injects": known is not None and known.advice.step == "inject",
        "title": f"Fire and injection, {name}",
        "name": name,
        "burn": burn.answer,
        "burn_named": burn.words,
        "harm": burn.answer.harm,
        "injection": getattr(injection, "answer", injection),
        "injection_named": getattr(injection, "words", ""),
        "tested": fire.tested_products(),
        "cautions": fire.cautions(),
        "injection_cautions": fire.injection_cautions(),
        **_days(name, ask),
    }
    return render(request, "fire.html", context)


def _days(name: str, ask: Question) -> dict[str, Any]:
    """The days that are being counted, and those counted last."""
    own = answers.stand_name(name)
    mine = [one for one in work.mine() if one.kind == burn_table.DAYS and one.asked["stand"] == own]
    running = next((one for one in mine if not one.ended), None)
    shown: dict[str, Any] = {"job": running, "address": _address(name, running.number) if running else ""}
    if not running and mine and mine[0].fault:
        shown["not_counted"] = mine[0].fault
    try:
        days = burn_table.counted(name)
    except kept.Unread as fault:
        return shown | {"not_counted": str(fault)}
    if days is None:
        return shown
    answer, counted = days
    if with_weather := burn_table.kept_on_table(name, ask):
        # The papers print the burn by this weather: its name and its harm stand on the page too.
        shown |= {"burn_named": with_weather.words, "harm": counted.harm}
    return shown | {
        "counted": counted,
        "answer": answer,
        "is_stale": burn_table.is_stale(answer, ask),
        "lost": _lost(counted),
        "seasons": [(block.fuel, season, season.days[:8]) for block in counted.fuels for season in block.seasons],
        "calendars": [burn_days.calendar(block) for block in counted.fuels],
    }


def begin_days(request: HttpRequest, name: str) -> work.Work:
    """Have the days that fit counted: the file is read once here, so that a fault of it stands at its field."""
    file, law = _sent(request, "weather"), _sent(request, "law")
    if file is None:
        raise Misuse(
            "no weather file was sent.", remedy="Choose an hourly csv file of several winters.", field="weather"
        )
    how = {"clock": request.POST.get("clock", ""), "zone_h": _zone(request), "wind_height": _wind_height(request)}
    laid = {"file": file, "law": law, "how": how}
    with asking.at_field("weather"):
        burn_table.weather_of(laid)
    with asking.at_field("law"):
        burn_table.law_of(laid)
    return burn_table.begin_days(name, asking.question(), laid)


def do_days(asked: dict[str, Any], step: work.Step) -> dict[str, Any]:
    """The count itself, as a worker does it."""
    return burn_table.count_days(asked, asking.question(asked["on"]), asking.law(), asking.prices(), step)


def counting(request: HttpRequest, name: str, number: int) -> HttpResponse:
    """How far the count of days is; the page is loaded again when it has ended. A POST stops it."""
    return coming.of_work(request, number, _address(name, number))


def _address(name: str, number: int) -> str:
    return f"/fire/{stand.quoted(name)}/days/{number}/"


def _lost(days: fire.DaysCounted) -> list[tuple[str, int]]:
    """What alone kept most hours out of the prescription, for the first fuel model."""
    rows = ((what, hours) for what, hours in days.fuels[0].lost_to.items() if hours)
    return sorted(rows, key=lambda row: -row[1])[:4]


def _sent(request: HttpRequest, field: str) -> dict[str, str] | None:
    """A file that was sent, as a draft carries it."""
    given = request.FILES.get(field)
    if not isinstance(given, UploadedFile):
        return None
    if (given.size or 0) > _MOST_BYTES:
        raise Misuse(f"the {field} file is larger than 32 MB.", remedy="Send fewer winters at a time.", field=field)
    return burn_table.packed(given.name or f"{field}.csv", given.read())


def _injection(name: str, ask: Question) -> Any:
    try:
        product = fire.product_on_table(name)
        return asking.kept(
            f"injection {name} {product}", ask, lambda: fire.injection_answer(name, ask, product=product)
        )
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


def _zone(request: HttpRequest) -> float | None:
    zone = request.POST.get("zone", "").strip()
    try:
        return float(zone) if zone else None
    except ValueError:
        raise Misuse(
            f"{zone!r} is no number of hours.", remedy="Give the hours from UTC, such as -5.", field="zone"
        ) from None


def _wind_height(request: HttpRequest) -> str:
    wind = request.POST.get("wind_height") or WIND_HEIGHTS[0]
    if wind not in WIND_HEIGHTS:
        raise Misuse(
            f"{wind!r} is no height of a wind.", remedy=f"One of {', '.join(WIND_HEIGHTS)}.", field="wind_height"
        )
    return wind
