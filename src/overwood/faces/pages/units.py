"""The switch between US and metric units at the foot of every page, and what forms take in."""

from __future__ import annotations

from collections.abc import Mapping

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme

from overwood.faces.pages.asking import DESK
from overwood.faces.pages.guard import FIELD, UNITS
from overwood.ground import measures, typed
from overwood.ground.errors import NotFound

_DAYS_S = 365 * 86_400


def switch(request: HttpRequest, system: str) -> HttpResponse:
    """Say values in this system from now on in this browser, and go back to where one was."""
    if system not in measures.SYSTEMS:
        raise NotFound(f"there are no {system} units.", remedy=f"There are {', '.join(measures.SYSTEMS)}.")
    back = request.GET.get("next", "/")
    response = HttpResponseRedirect(back if url_has_allowed_host_and_scheme(back, allowed_hosts=None) else "/")
    response.set_cookie(UNITS, system, max_age=_DAYS_S, samesite="Strict", httponly=True, secure=DESK.office)
    return response


def in_us(form: Mapping[str, str], text: str, unit: str, held: str = "", places: int | None = None) -> str:
    """A number typed into a form, as text in its US unit; what is no number is handed on for the check to name.

    ``held`` is what the form showed, in the US unit: a field that was left as it was says exactly that again.
    ``places`` are the decimals that are stored; without them as many as were typed.
    """
    if form.get(FIELD) != measures.METRIC or measures.metric_of(unit) is None:
        return text
    if held and text == shown(held, unit):
        return held
    try:
        number = measures.back(typed.number(text), unit)
        return repr(number if places is None else round(number, places)).removesuffix(".0")
    except ValueError:
        return text


def shown(text: str, unit: str) -> str:
    """What a field of a form holds: a number in its US unit, in the system in force; other text as it stands."""
    try:
        number = typed.number(text)
    except ValueError:
        return text
    turned = measures.convert(number, unit)
    return text if turned == number else f"{turned:.7g}"


def led_back(text: str, unit: str, places: int) -> str:
    """A number in its US unit, in metric with the fewest decimals that lead back to it at so many decimals."""
    try:
        number = typed.number(text)
    except ValueError:
        return text
    turned = measures.convert(number, unit)
    for decimals in range(places + 3):
        short = f"{turned:.{decimals}f}"
        if round(measures.back(float(short), unit), places) == round(number, places):
            return short
    return f"{turned:.10g}"
