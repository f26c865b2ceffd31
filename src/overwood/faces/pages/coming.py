"""A page whose numbers take time comes at once, says so, and fills itself when they are worked out."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import work
from overwood.desk.answers import has_stand
from overwood.faces.pages import asking
from overwood.ground.errors import OverwoodError

View = Callable[..., HttpResponse]
# The mark of a request that asks for nothing but the work.
_TARGET = "section#coming"
_NOW = "now"


def at_once(
    heading: str, answers: Callable[[HttpRequest, dict[str, Any]], tuple[str, ...]], here: str = ""
) -> Callable[[View], View]:
    """A view that waits for no calculation when a browser opens it: ``answers`` names what must be kept before it is
    drawn whole. A stand that is not there is refused at once."""

    def wrap(view: View) -> View:
        @functools.wraps(view)
        def page(request: HttpRequest, **given: Any) -> HttpResponse:
            ask, whole = asking.question(), f"whole {request.get_full_path()}"
            if request.headers.get("HX-Target") == _TARGET:
                return _worked_out(request, lambda: asking.kept(whole, ask, lambda: bool(view(request, **given))))
            # What cannot be kept, as a stand without volumes, is worked out for the page itself.
            known = asking.is_kept(whole, ask) or all(asking.is_kept(name, ask) for name in answers(request, given))
            if opens(request) and _is_there(given) and not known:
                title = ", ".join(word for word in (heading, given.get("name", "")) if word)
                context = {
                    "title": title,
                    "here": here,
                    **given,
                    "again": request.get_full_path(),
                    "now": _with_now(request),
                }
                return render(request, "coming.html", context)
            return view(request, **given)

        return page

    return wrap


def _is_there(given: dict[str, Any]) -> bool:
    return "name" not in given or has_stand(given["name"])


def opens(request: HttpRequest) -> bool:
    """Whether a browser opens the page, rather than a program or a part of a page asking for it."""
    return request.method == "GET" and request.headers.get("Sec-Fetch-Mode") == "navigate" and not waits(request)


def waits(request: HttpRequest) -> bool:
    """Whether who asks chose to wait until all is worked out."""
    return _NOW in request.GET


def _worked_out(request: HttpRequest, work: Callable[[], object]) -> HttpResponse:
    """Do the work and have the page loaded again; where it cannot be done the page says why."""
    try:
        work()
    except OverwoodError:
        return HttpResponse(headers={"HX-Redirect": _with_now(request)})
    return HttpResponse(headers={"HX-Refresh": "true"})


def _with_now(request: HttpRequest) -> str:
    query = request.GET.copy()
    query[_NOW] = "yes"
    return f"{request.path}?{query.urlencode()}"


def of_work(request: HttpRequest, number: int, address: str) -> HttpResponse:
    """How far a work is, asked for again at ``address``; the page is loaded again when it has ended. A POST stops
    it."""
    one = work.stop(number) if request.method == "POST" else work.of(number)
    if one.ended:
        return HttpResponse(headers={"HX-Refresh": "true"})
    return render(request, "job.html", {"job": one, "address": address, "title": one.title})
