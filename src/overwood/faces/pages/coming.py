"""A page whose numbers take time comes at once, says so, and fills itself when they are worked out."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from overwood.desk import work
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
    drawn whole."""

    def wrap(view: View) -> View:
        @functools.wraps(view)
        def page(request: HttpRequest, **given: Any) -> HttpResponse:
            def is_known() -> bool:
                ask = asking.question()
                return all(asking.is_kept(name, ask) for name in answers(request, given))

            if request.headers.get("HX-Target") == _TARGET:
                return _worked_out(request, lambda: view(request, **given), is_known)
            if opens(request) and not is_known():
                title = f"{heading}, {given['name']}" if "name" in given else heading
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


def opens(request: HttpRequest) -> bool:
    """Whether a browser opens the page, rather than a program or a part of a page asking for it."""
    return request.method == "GET" and request.headers.get("Sec-Fetch-Mode") == "navigate" and _NOW not in request.GET


def _worked_out(request: HttpRequest, work: Callable[[], HttpResponse], is_known: Callable[[], bool]) -> HttpResponse:
    """Do the work and have the page loaded again; where it cannot be kept the page says why."""
    try:
        work()
    except OverwoodError:
        return HttpResponse(headers={"HX-Redirect": _with_now(request)})
    return HttpResponse(headers={"HX-Refresh": "true"} if is_known() else {"HX-Redirect": _with_now(request)})


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
