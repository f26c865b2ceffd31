"""The work tray: what a person has asked the desk to work out, how far it is, and the way back to what came of it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import burn_table, work
from overwood.faces.pages import fire, futures, light, papers, plan, stand

# Pieces of work that one server process does at once.
_THREADS = 2
_PLACES = {
    "futures": "/futures/{}/", "search": "/light/{}/", "plan": "/plan/", burn_table.DAYS: "/fire/{}/",
    papers.PRINTING: "/papers/{}/#kept",
}  # fmt: skip
KINDS: dict[str, work.Doing] = {
    "futures": futures.do_run,
    "search": light.do_search,
    "plan": plan.do_run,
    burn_table.DAYS: fire.do_days,
    papers.PRINTING: papers.do_paper,
}


def begin() -> work.Worker:
    """Start doing the work of the book in this process."""
    return work.Worker(KINDS, _THREADS)


def page(request: HttpRequest) -> HttpResponse:
    """Work of who asks, newest first."""
    rows = [(one, _PLACES[one.kind].format(stand.quoted(one.asked["stand"]))) for one in work.mine()]
    return render(request, "tray.html", {"title": "Work", "rows": rows})


@require_POST
def stop(request: HttpRequest, number: int) -> HttpResponse:
    """Stop one piece of work; what it has so far is summed up."""
    work.stop(number)
    return HttpResponseRedirect("/work/")
