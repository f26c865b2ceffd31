"""Who may see the pages, what a browser may load, and faults said in words."""

from __future__ import annotations

import hmac
from collections.abc import Callable

from django.core import signing
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from overwood.faces.pages.asking import DESK
from overwood.ground.errors import NotFound, OverwoodError

Answer = Callable[[HttpRequest], HttpResponse]
COOKIE = "overwood_owner"
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; form-action 'self'; "
    "frame-src 'self'; object-src 'self'; base-uri 'none'; frame-ancestors 'self'"
)
# What is open to everybody: nothing of the book.
_OPEN = ("/static/", "/launch/")


def headers(answer: Answer) -> Answer:
    """A browser loads nothing from elsewhere, keeps no page, and does not guess types."""

    def wrapped(request: HttpRequest) -> HttpResponse:
        response = answer(request)
        # A picture of ours carries its own styles; nothing else may load in it.
        picture = str(response.get("Content-Type", "")).startswith("image/svg")
        response["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'" if picture else _POLICY
        response["X-Content-Type-Options"] = "nosniff"
        response["Referrer-Policy"] = "same-origin"
        response["X-Frame-Options"] = "SAMEORIGIN"
        response["Cross-Origin-Opener-Policy"] = "same-origin"
        if not request.path.startswith("/static/"):
            response["Cache-Control"] = "no-store"
        return response

    return wrapped


def only_the_owner(answer: Answer) -> Answer:
    """Only the browser that came with the launch token goes on."""

    def wrapped(request: HttpRequest) -> HttpResponse:
        if request.path.startswith(_OPEN) or is_owner(request.COOKIES.get(COOKIE)):
            return answer(request)
        return render(request, "locked.html", {"title": "Locked"}, status=403)

    return wrapped


def is_owner(cookie: str | None) -> bool:
    """Whether a cookie is the one that the launch token gave."""
    try:
        return bool(signing.loads(cookie or "", salt=COOKIE) == "owner")
    except signing.BadSignature:
        return False


def launch(request: HttpRequest, token: str) -> HttpResponse:
    """Take the one-time token for a cookie."""
    with DESK.lock:
        right = bool(DESK.token) and hmac.compare_digest(token.encode(), DESK.token.encode())
        if right:
            DESK.token = ""
    if not right:
        return render(request, "locked.html", {"title": "Locked"}, status=403)
    response = HttpResponseRedirect("/")
    response.set_cookie(COOKIE, signing.dumps("owner", salt=COOKIE), httponly=True, samesite="Strict")
    return response


def faults(answer: Answer) -> Answer:
    """A failure a person can act on is a page in words, not a stack."""

    def wrapped(request: HttpRequest) -> HttpResponse:
        return answer(request)

    wrapped.process_exception = _said  # type: ignore[attr-defined]
    return wrapped


def _said(request: HttpRequest, fault: Exception) -> HttpResponse | None:
    if not isinstance(fault, OverwoodError):
        return None
    status = 404 if isinstance(fault, NotFound) else 400
    text = Exception.__str__(fault)
    template = "fault_part.html" if request.headers.get("HX-Request") else "fault.html"
    return render(request, template, {"title": "Not possible", "what": text, "remedy": fault.remedy}, status=status)


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that was not made by this server, or is too old."""
    what = "The form was too old or came from elsewhere, so nothing was changed."
    return render(
        request, "fault.html", {"title": "Not taken", "what": what, "remedy": "Go back, load the page again, and send it."}, status=403
    )


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(
        request, "fault.html", {"title": "No such page", "what": "There is no such page.", "remedy": "Start from the property."}, status=404
    )


def broken(request: HttpRequest) -> HttpResponse:
    what = "This is a fault of the program."
    remedy = "Nothing was changed. The command line says more: `overwood --help`."
    return render(request, "fault.html", {"title": "A fault", "what": what, "remedy": remedy}, status=500)
