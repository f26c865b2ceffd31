"""The work tray: what a person has asked the desk to work out, how far it is, and the way back to what came of it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_POST

from overwood.desk import burn_table, work
from overwood.faces.pages import asking, fire, futures, import_work, judging, light, papers, plan, stand

# Pieces of work that one server process does at once.
_THREADS = 2
_PLACES = {
    "futures": "/futures/{}/", "search": "/light/{}/", "plan": "/plan/", burn_table.DAYS: "/fire/{}/",
    papers.PRINTING: "/papers/{}/#kept", import_work.LOOK: import_work.ADDRESS, import_work.IMPORT: import_work.ADDRESS,
    judging.JUDGING: "/?go=on",
}  # fmt: skip
KINDS: dict[str, work.Doing] = {
    "futures": futures.do_run,
    "search": light.do_search,
    "plan": plan.do_run,
    burn_table.DAYS: fire.do_days,
    papers.PRINTING: papers.do_paper,
    import_work.LOOK: import_work.do_look,
    import_work.IMPORT: import_work.do_import,
    judging.JUDGING: judging.do_judging,
}


def begin() -> None:
    """Start doing the work of the book in this process."""
    asking.DESK.worker = work.Worker(KINDS, _THREADS)


def page(request: HttpRequest) -> HttpResponse:
    """Work of who asks, newest first."""
    rows = [(one, _PLACES[one.kind].format(stand.quoted(one.asked["stand"]) or one.number)) for one in work.mine()]
    return render(request, "tray.html", {"title": "Work", "rows": rows})


@require_POST
def stop(request: HttpRequest, number: int) -> HttpResponse:
    """Stop one piece of work; what it has so far is summed up."""
    work.stop(number)
    return HttpResponseRedirect("/work/")
