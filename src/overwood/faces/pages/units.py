"""The switch between US and metric units at the foot of every page."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme

from overwood.faces.pages.asking import DESK
from overwood.faces.pages.guard import UNITS
from overwood.ground import measures
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
