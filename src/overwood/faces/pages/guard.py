"""Who may see the pages and change what, what a browser may load, and faults said in words."""

from __future__ import annotations

import contextlib
import hmac
import json
import re
import sys
from collections.abc import Callable
from urllib.parse import quote

from django.core import signing
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render

from overwood.desk import office
from overwood.desk.office import ALONE, Person
from overwood.faces.pages import beside
from overwood.faces.pages.asking import DESK
from overwood.faces.pages.page_words import turned
from overwood.ground import measures
from overwood.ground.errors import NotFound, OverwoodError

Answer = Callable[[HttpRequest], HttpResponse]
COOKIE = "overwood_owner"
UNITS = "overwood_units"
# The field in which a form says the units it was shown in.
FIELD = "units"
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; form-action 'self'; "
    "frame-src 'self'; object-src 'self'; base-uri 'none'; frame-ancestors 'self'"
)
_SAFE = ("GET", "HEAD", "OPTIONS")
_SCHEME = "bearer"
# Days for which a browser asks an office by https only.
_HTTPS_DAYS = 30
_ESCAPES = re.compile(rb"\\u(0000|[dD][89a-fA-F])")


def headers(answer: Answer) -> Answer:
    """A browser loads nothing from elsewhere, keeps no page, and does not guess types."""

    def wrapped(request: HttpRequest) -> HttpResponse:
        response = answer(request)
        # A picture of ours carries its own styles; nothing else may load in it.
        picture = str(response.get("Content-Type", "")).startswith("image/svg")
        response["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'" if picture else _POLICY
        response["X-Content-Type-Options"] = "nosniff"
        response.setdefault("Referrer-Policy", "same-origin")
        response["X-Frame-Options"] = "SAMEORIGIN"
        response["Cross-Origin-Opener-Policy"] = "same-origin"
        if DESK.office:
            response["Strict-Transport-Security"] = f"max-age={_HTTPS_DAYS * 86_400}"
        if not request.path.startswith("/static/") and "Cache-Control" not in response:
            response["Cache-Control"] = "no-store"
        return response

    return wrapped


def in_page_words(answer: Answer) -> Answer:
    """What a page says can be done on a page."""
    return lambda request: turned(answer(request))


def in_asked_units(answer: Answer) -> Answer:
    """Say the values of a page in the units that are asked for; a page that cannot yet says all of them in US units,
    and says so."""

    def wrapped(request: HttpRequest) -> HttpResponse:
        with measures.in_units(measures.US):
            return answer(request)

    wrapped.process_view = _take_units  # type: ignore[attr-defined]
    return wrapped


def _take_units(request: HttpRequest, view: object, given: object, named: object) -> None:
    from overwood.faces.pages.urls import speaks_metric

    assert request.resolver_match is not None
    request.units = request.COOKIES.get(UNITS, measures.METRIC if DESK.metric else measures.US)
    if (sent := request.POST.get(FIELD) or request.GET.get(FIELD)) in measures.SYSTEMS:
        # What was typed means what its form said, though the switch was turned elsewhere since.
        request.units = sent
    if request.units == measures.METRIC and speaks_metric(request.resolver_match.route):
        measures.use(measures.METRIC)


def only_who_may(answer: Answer) -> Answer:
    """Find out who asks, let only those in whose role the place allows, and write down what they changed."""

    def wrapped(request: HttpRequest) -> HttpResponse:
        request.person = _person(request)
        with office.acting_as(request.person or ALONE):
            response = answer(request)
            _trace(request, response)
        return response

    wrapped.process_view = _let_in  # type: ignore[attr-defined]
    return wrapped


def _person(request: HttpRequest) -> Person | None:
    """The owner by the launch token's cookie; in an office the account of the session or of the token."""
    if not DESK.office:
        return ALONE if is_owner(request.COOKIES.get(COOKIE)) else None
    authorization = request.headers.get("Authorization")
    # Where a token is shown the cookie does not count, or a page elsewhere could use it without a form's token.
    if authorization is not None:
        scheme, _, token = authorization.partition(" ")
        # A token opens the API only: a page is for people.
        by_token = scheme.lower() == _SCHEME and request.path.startswith("/api/")
        return office.person_of_key(token.strip()) if by_token else None
    user = request.user
    return office.person(user.get_username()) if user.is_authenticated else None


def _let_in(request: HttpRequest, view: object, given: object, named: object) -> HttpResponse | None:
    """Refuse before a view runs; None lets it run."""
    from overwood.faces.pages.urls import needed

    if not _is_text(request, named):
        return _no_text(request)
    assert request.resolver_match is not None
    role = needed(request.resolver_match.route, request.method or "GET")
    who: Person | None = request.person
    if role == "" or (who is not None and who.may(role)):
        return None
    return _stranger(request) if who is None else _refused(request, who, role)


def _is_text(request: HttpRequest, named: object) -> bool:
    """Whether everything that was sent as text is text that any database and file can hold."""
    parts: list[object] = [named, *(values for form in (request.GET, request.POST) for values in form.lists())]
    # Only an escape can bring half a character or a zero byte into a document of JSON.
    if request.content_type == "application/json" and _ESCAPES.search(request.body):
        with contextlib.suppress(ValueError, RecursionError):
            parts.append(json.loads(request.body))
    return all(map(_plain, parts))


def _plain(value: object) -> bool:
    if isinstance(value, str):
        return "\0" not in value and not any("\ud800" <= letter <= "\udfff" for letter in value)
    if isinstance(value, dict):
        return all(_plain(part) for pair in value.items() for part in pair)
    return not isinstance(value, list | tuple) or all(map(_plain, value))


def _no_text(request: HttpRequest) -> HttpResponse:
    what, remedy = (
        "What was sent holds a character that is no text (a zero byte or half a character).",
        "Nothing was changed. Type it again.",
    )
    if request.path.startswith("/api/"):
        return JsonResponse({"what": what, "remedy": remedy}, status=400)
    return _fault(request, "Not possible", what, remedy, 400)


def _stranger(request: HttpRequest) -> HttpResponse:
    if request.path.startswith("/api/"):
        how = (
            "Send the header `Authorization: Bearer TOKEN`."
            if DESK.office
            else "Open the address that `overwood serve` printed."
        )
        return JsonResponse({"what": "nobody is known by this request.", "remedy": how}, status=401)
    if not DESK.office:
        back = "" if request.method in _SAFE else beside.place_of_form(request)
        return render(request, "locked.html", {"title": "Locked", "back": back}, status=403)
    if request.method in _SAFE and not request.headers.get("HX-Request"):
        return HttpResponseRedirect(f"/login/?next={quote(request.get_full_path())}")
    what = "You are not logged in (any more), so nothing was changed."
    log_in = f"/login/?next={quote(beside.place_of_form(request))}"
    return _fault(
        request,
        "Not logged in",
        what,
        "Log in: the page comes back as you left it, to be sent again.",
        403,
        log_in=log_in,
    )


def _fault(request: HttpRequest, title: str, what: str, remedy: str, status: int, **links: str) -> HttpResponse:
    """A fault in words: a page, or the part of one that was asked for; ``links`` are where to go on."""
    template = "fault_part.html" if request.headers.get("HX-Request") else "fault.html"
    return render(request, template, {"title": title, "what": what, "remedy": remedy, **links}, status=status)


def _refused(request: HttpRequest, who: Person, role: str) -> HttpResponse:
    what = f"This needs the role {role}; {who.name or 'yours'} is {who.role}. Nothing was changed."
    remedy = "Ask an admin of your office."
    if request.path.startswith("/api/"):
        return JsonResponse({"what": what, "remedy": remedy}, status=403)
    return _fault(request, "Not allowed", what, remedy, 403)


def _trace(request: HttpRequest, response: HttpResponse) -> None:
    """In an office, what a known person changed, or was refused, is written down."""
    from overwood.faces.pages.urls import does

    who: Person | None = request.person
    if not DESK.office or who is None or request.method in _SAFE or request.resolver_match is None:
        return
    words = does(request.resolver_match.route)
    told = getattr(request, "changed", "")
    if response.status_code in (401, 403):
        words, told = words or "asked for what is not allowed", "refused"
    if words and (told or response.status_code < 400):
        office.trace(who, ": ".join(part for part in (words, told) if part), request.path, response.status_code)


def is_owner(cookie: str | None) -> bool:
    """Whether a cookie is the one that the launch token gave."""
    try:
        return bool(signing.loads(cookie or "", salt=COOKIE) == "owner")
    except signing.BadSignature:
        return False


def is_token(token: str) -> bool:
    """Whether this is the one-time token, not used yet."""
    return bool(DESK.token) and hmac.compare_digest(token.encode(), DESK.token.encode())


def take_token(token: str) -> bool:
    """Whether this is the one-time token; it is gone then."""
    with DESK.lock:
        right = is_token(token)
        if right:
            DESK.token = ""
    return right


def launch(request: HttpRequest, token: str) -> HttpResponse:
    """Take the one-time token for a cookie."""
    if DESK.office or not take_token(token):
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
    is_form = (
        request.method == "POST" and not request.headers.get("HX-Request") and not request.path.startswith("/api/")
    )
    return (beside.page_again(request, fault, status) if is_form else None) or _fault(
        request, "Not possible", Exception.__str__(fault), fault.remedy, status
    )


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that was not made by this server, or is too old."""
    what = "The form was too old or came from elsewhere, so nothing was changed."
    back = beside.place_of_form(request)
    remedy = "Open the page again: it comes back as you left it, to be sent again."
    return render(
        request, "fault.html", {"title": "Not taken", "what": what, "remedy": remedy, "back": back}, status=403
    )


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(
        request,
        "fault.html",
        {"title": "No such page", "what": "There is no such page.", "remedy": "Start from the property."},
        status=404,
    )


def broken(request: HttpRequest) -> HttpResponse:
    """What failed without words: the book was held by others for too long, or this is a fault of the program."""
    fault, again = (
        sys.exc_info()[1],
        "Load the page again, see whether it was written, and send it again if it was not.",
    )
    if isinstance(fault, OperationalError) and "lock" in str(fault):
        title, what, remedy, status = "Busy", "Others are writing to the book, and this waited too long.", again, 503
    else:
        title, what, remedy, status = (
            "A fault",
            "This is a fault of the program.",
            again,
            500,
        )
    if request.path.startswith("/api/"):
        return JsonResponse({"what": what, "remedy": remedy}, status=status)
    return render(request, "fault.html", {"title": title, "what": what, "remedy": remedy}, status=status)
