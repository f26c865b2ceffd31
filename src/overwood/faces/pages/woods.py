"""The woods kit on the desk's own address: its files, a walk down, taps up."""

from __future__ import annotations

import datetime as dt

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.middleware.csrf import get_token

from overwood.desk import arrivals, tallies, walks
from overwood.faces import woods
from overwood.faces.pages import asking
from overwood.ground.errors import OverwoodError


def kit(request: HttpRequest, name: str = "index.html") -> HttpResponse:
    """A file of the kit. It holds nothing of the book, and the phone keeps it for the woods."""
    if name not in woods.files():
        raise Http404
    answer = HttpResponse(woods.files()[name], content_type=woods.KINDS["." + name.rpartition(".")[2]])
    # The worker keeps the files; the browser's own cache must not hold an older one of a new version.
    answer["Cache-Control"] = "no-cache"
    return answer


def door(request: HttpRequest) -> HttpResponse:
    """Which walks are out, and what a form of this phone must carry."""
    out = [
        {
            "walk": one.walk,
            "stands": one.stands,
            "made_on": one.made_on.isoformat(),
            "expires_on": one.expires_on.isoformat(),
        }
        for one in walks.listed()
        if not one.recalled
    ]
    now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
    return JsonResponse({"token": get_token(request), "now": now, "walks": out})


def walk(request: HttpRequest, number: str) -> HttpResponse:
    """One walk as it was made, with a receipt of what came back from it."""
    held = walks.walk_of(number)
    answer = HttpResponse(walks.as_file(held.content, arrivals.receipt(held.id)), content_type="application/json")
    answer["Content-Disposition"] = f'attachment; filename="{number[:8]}.walk.json"'
    return answer


def up(request: HttpRequest) -> HttpResponse:
    """Keep the taps that a phone sends; the answer names those the desk now holds."""
    if request.method != "POST":
        return HttpResponseRedirect("/woods/")
    try:
        taken = tallies.take(request.body, now=dt.datetime.now(dt.UTC))
    except OverwoodError as fault:
        return JsonResponse({"what": Exception.__str__(fault), "remedy": fault.remedy}, status=400)
    asking.note(request, f"{taken.new} {taken.what} of phone {taken.device}, walk {taken.walk[:8]}")
    return JsonResponse({"held": taken.held, "new": taken.new, "doubts": taken.doubts})
