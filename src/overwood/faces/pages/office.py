"""An office's pages: log in and out, the own account, accounts and guests for an admin, the audit log, the certificate
to trust."""

from __future__ import annotations

import datetime as dt
from typing import Any
from urllib.parse import urlsplit

from django.contrib import auth
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from overwood.desk import log_in as coming_in
from overwood.desk import office, passkeys
from overwood.faces.pages import asking, guard, stand
from overwood.faces.served import certificate
from overwood.faces.served.serving import FAILED_FROM_ADDRESS, FAILED_LOGINS, WAIT_AFTER_FAILS_MIN
from overwood.ground.errors import Misuse, NotFound

_SHOWN_TRACES = 300
_LONGEST_NAME = 150
_TOKEN_DAYS = 90
# What asks for an address that opens an account once, and what is said and logged of it.
_LINKS = {"invite": "{} is invited", "password link": "{} may set a new password"}


def only_office() -> None:
    """Refuse what only an office has."""
    if not asking.DESK.office:
        raise NotFound(
            "this desk is one person's; it has no accounts.",
            remedy="Start `overwood serve --office` for several people.",
        )


def log_in(request: HttpRequest) -> HttpResponse:
    """Name and password; after some failures a wait."""
    only_office()
    after = safe_address(request.POST.get("next") or request.GET.get("next", "/"))
    context: dict[str, Any] = {"title": "Log in", "next": after, "name": asking.typed(request, "name")}
    if request.method != "POST":
        return render(request, "login.html", context)
    if fails_too_often(request):
        return too_often(request)
    typed = {"password": request.POST.get("password", ""), "code": asking.typed(request, "code")}
    user = auth.authenticate(request, username=asking.typed(request, "name"), **typed)
    person = office.person(user.get_username()) if user is not None else None
    if user is None or person is None:
        # Locked out names are written down by too_often, which the log-in throttle calls.
        _log_in_failed(request, "a log-in failed", 403)
        return render(request, "login.html", context | {"failed": True}, status=403)
    let_in(request, person)
    return HttpResponseRedirect(after)


def safe_address(after: str) -> str:
    """Where to go after the log-in: nowhere but here."""
    return after if url_has_allowed_host_and_scheme(after, allowed_hosts=None, require_https=True) else "/"


def fails_too_often(request: HttpRequest) -> bool:
    """Whether so many log-ins failed from this address that it must wait."""
    return office.failures_from(request.META.get("REMOTE_ADDR", ""), WAIT_AFTER_FAILS_MIN) >= FAILED_FROM_ADDRESS


def let_in(request: HttpRequest, person: office.Person, how: str = "") -> None:
    """Log a person in whose proof holds, and write it down."""
    user = auth.get_user_model().objects.get(username=person.name)
    auth.login(request, user, backend=coming_in.password_backend())
    request.session["since"], request.session["address"] = (
        _now().isoformat(timespec="minutes"),
        request.META.get("REMOTE_ADDR", ""),
    )
    office.trace(person, f"logged in {how}".strip(), request.path, 302)


def count_failure(request: HttpRequest) -> None:
    """Count a log-in by a passkey that failed, as one by password is counted, and write it down."""
    user_login_failed.send(sender=__name__, credentials={"username": "a passkey"}, request=request)
    _log_in_failed(request, "a log-in by a passkey failed", 403)


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def _log_in_failed(request: HttpRequest, what: str, status: int) -> None:
    """Write a failed log-in down, under the name that was tried."""
    tried = office.Person(asking.typed(request, "name")[:_LONGEST_NAME], "")
    office.trace(tried, f"{what}, from {request.META.get('REMOTE_ADDR', '')}", request.path, status)


def too_often(
    request: HttpRequest, credentials: dict[str, Any] | None = None, *more: Any, **named: Any
) -> HttpResponse:
    """Too many log-ins failed from one place."""
    _log_in_failed(request, "locked out after failed log-ins", 429)
    what = f"{FAILED_LOGINS} log-ins with this name, or {FAILED_FROM_ADDRESS} with any, failed from here."
    remedy = f"Wait {WAIT_AFTER_FAILS_MIN} minutes, or ask an admin for a new password."
    return render(request, "fault.html", {"title": "Too many tries", "what": what, "remedy": remedy}, status=429)


@require_POST
def log_out(request: HttpRequest) -> HttpResponse:
    """End this browser's session."""
    only_office()
    auth.logout(request)
    return HttpResponseRedirect("/login/")


def first(request: HttpRequest, token: str) -> HttpResponse:
    """The first admin of an office without accounts, by the address that the server printed."""
    only_office()
    if office.accounts() or not guard.is_token(token):
        raise NotFound("this address was used, or was never given out.", remedy="Log in, or start the server again.")
    context = {"title": "The first account"}
    if request.method != "POST":
        return render(request, "first.html", context)
    office.add(asking.typed(request, "name"), "admin", request.POST.get("password", ""))
    guard.take_token(token)
    office.trace(
        office.Person(asking.typed(request, "name"), "admin"),
        "made the first account",
        request.path.rsplit("/", 2)[0],
        302,
    )
    return HttpResponseRedirect("/login/")


def welcome(request: HttpRequest, token: str) -> HttpResponse:
    """An account by an invitation, or a new password, once."""
    only_office()
    asked = coming_in.invitation(token, _now())
    context = {"title": "Your account" if asked.role else "A new password", "asked": asked}
    if request.method != "POST":
        response = render(request, "welcome.html", context)
        response["Referrer-Policy"] = "same-origin"
        return response
    coming_in.take(token, request.POST.get("password", ""), _now())
    what = (
        f"took the invitation of {asked.made_by}"
        if asked.role
        else f"set a new password by an address of {asked.made_by}"
    )
    office.trace(office.Person(asked.who, asked.role), what, "/welcome/", 302)
    return HttpResponseRedirect("/login/")


def own(request: HttpRequest) -> HttpResponse:
    """The own password, and the own tokens of the API."""
    only_office()
    who = asking.person(request)
    context: dict[str, Any] = {"title": "Your account", "roles": office.ROLES}
    if request.method == "POST":
        act = asking.typed(request, "act")
        if act == "password":
            _new_password(request, who.name)
            context["said"] = "The password is changed; other sessions of yours have ended."
            asking.note(request, "a new password")
        elif act == "token":
            days = _number(request, "days")
            context["token"] = office.new_key(who.name, asking.typed(request, "label"), days, dt.date.today())
            asking.note(request, f"a new token of the API: {asking.typed(request, 'label')}")
        elif act == "end token":
            office.withdraw_key(_number(request, "number"), who.name)
            asking.note(request, f"ended token {asking.typed(request, 'number')}")
        else:
            context |= _changed_log_in(request, act)
    context |= {"second": coming_in.second_factor(who.name), "passkeys": passkeys.of(who.name)}
    context |= {"sessions": coming_in.sessions(who.name), "here": coming_in.session_mark(request.session.session_key)}
    context |= {
        "keys": office.keys(who.name),
        "today": dt.date.today(),
        "days": _TOKEN_DAYS,
        "most_days": office.MOST_TOKEN_DAYS,
    }
    return render(request, "account.html", context)


def _changed_log_in(request: HttpRequest, act: str) -> dict[str, Any]:
    """Changes of the own second factor and log-ins; what the page shows of them."""
    name = asking.person(request).name
    if act == "begin second":
        _with_password(request)
        return {"factor": coming_in.begin_second_factor(name)}
    if act == "confirm second":
        spare = coming_in.confirm_second_factor(name, asking.typed(request, "code"), _now())
        asking.note(request, "a second factor")
        return {"spare": spare}
    if act == "end second":
        _with_password(request)
        coming_in.end_second_factor(name)
        asking.note(request, "took the second factor off")
        return {"said": "The second factor is off."}
    if act == "end passkey":
        passkeys.end(_number(request, "number"), name)
        asking.note(request, "ended a passkey")
        return {"said": "That passkey has ended."}
    if act == "end session":
        coming_in.end_session(asking.typed(request, "mark"), name)
        asking.note(request, "ended a log-in")
        return {"said": "That log-in has ended."}
    raise Misuse("nothing was asked.", remedy="Use a button of the page.")


def _with_password(request: HttpRequest) -> None:
    user: Any = request.user
    if not user.check_password(request.POST.get("old", "")):
        raise Misuse("the password is not right, so nothing was changed.", remedy="Type it again.", field="old")


def _new_password(request: HttpRequest, name: str) -> None:
    user = request.user
    if not user.check_password(request.POST.get("old", "")):
        raise Misuse(
            "the old password is not right.", remedy="Type it again; an admin can give you a new one.", field="old"
        )
    office.set_password(name, request.POST.get("password", ""))
    user.refresh_from_db()
    auth.update_session_auth_hash(request, user)


def _number(request: HttpRequest, name: str) -> int:
    text = asking.typed(request, name)
    if not text.isdigit():
        raise Misuse(f"{text!r} is no number.", remedy="Use a button of the page.")
    return int(text)


def page(request: HttpRequest) -> HttpResponse:
    """Accounts with their roles, and guests' addresses."""
    only_office()
    link = _link(request) if request.method == "POST" and asking.typed(request, "act") in _LINKS else ""
    said = _LINKS[asking.typed(request, "act")].format(asking.typed(request, "name")) if link else ""
    if request.method == "POST" and not link:
        said = _changed(request)
    asking.note(request, said)
    context = {
        "title": "Office",
        "said": said,
        "accounts": office.accounts(),
        "roles": office.ROLES,
        "guests": office.guests(),
        "keys": office.keys(),
        "link": link,
        "hours": coming_in.LINK_HOURS,
        "sessions": coming_in.sessions(),
        "today": dt.date.today(),
    }
    return render(request, "office.html", context)


def _link(request: HttpRequest) -> str:
    """The address of an invitation or for a new password, shown once."""
    name, admin = asking.typed(request, "name"), asking.person(request).name
    if asking.typed(request, "act") == "invite":
        token = coming_in.invite(name, asking.typed(request, "role"), admin, _now())
    else:
        token = coming_in.new_password_link(name, admin, _now())
    return request.build_absolute_uri(f"/welcome/{token}/")


def _changed(request: HttpRequest) -> str:
    act, name, role = asking.typed(request, "act"), asking.typed(request, "name"), asking.typed(request, "role")
    if act == "add":
        office.add(name, role, request.POST.get("password", ""))
        return f"{name} is added as {role}"
    if act == "role":
        office.set_role(name, role)
        return f"{name} is {role} now"
    if act in ("close", "open"):
        office.set_open(name, act == "open")
        return f"the account of {name} is {'open' if act == 'open' else 'closed'}"
    if act == "password":
        office.set_password(name, request.POST.get("password", ""))
        return f"{name} has a new password"
    if act == "end token":
        office.withdraw_key(_number(request, "number"))
        return f"the token {asking.typed(request, 'number')} is ended"
    if act == "end second":
        coming_in.end_second_factor(name)
        return f"the second factor of {name} is off"
    if act == "end session":
        coming_in.end_session(asking.typed(request, "mark"))
        return "that log-in has ended"
    if act == "end guest":
        office.withdraw_guest(_number(request, "number"))
        return f"the guest's address {asking.typed(request, 'number')} is ended"
    raise Misuse("nothing was asked.", remedy="Use a button of the page.")


def audit(request: HttpRequest) -> HttpResponse:
    """Who changed what, newest first."""
    only_office()
    text = request.GET.get("text", "")
    rows = office.traces(text, _SHOWN_TRACES)
    context = {"title": "Audit log", "rows": rows, "text": text, "most": _SHOWN_TRACES, "state": office.log_state()}
    return render(request, "audit.html", context)


def guest(request: HttpRequest, token: str) -> HttpResponse:
    """The page around the one paper that this address shows: what it is, until when, and whom to call."""
    only_office()
    paper = office.guest_paper(token, dt.date.today())
    return _secret(render(request, "guest.html", {"title": paper.title, "paper": paper}))


def guest_pdf(request: HttpRequest, token: str) -> HttpResponse:
    """The one paper that this address shows, as PDF."""
    only_office()
    paper = office.guest_paper(token, dt.date.today())
    office.trace(
        office.Person("", "guest"), f"opened {paper.title} of {paper.stand} by an owner's address", "/guest/", 200
    )
    response = HttpResponse(paper.content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{stand.safe(paper.stand)}-{stand.safe(paper.title)}.pdf"'
    return _secret(response)


def _secret(response: HttpResponse) -> HttpResponse:
    # The address is a secret: no page it leads to is told where the reader came from, and nothing keeps it.
    response["Referrer-Policy"] = "no-referrer"
    return response


def authority(request: HttpRequest) -> HttpResponse:
    """The certificate of the office's own authority, for a phone or a browser to trust."""
    only_office()
    path = asking.DESK.office_folder / certificate.AUTHORITY
    if not path.exists():
        raise NotFound(
            "this office has a certificate that was given to it.", remedy="Nothing needs to be trusted by hand."
        )
    response = HttpResponse(path.read_bytes(), content_type="application/x-pem-file")
    response["Content-Disposition"] = f'attachment; filename="{certificate.AUTHORITY}"'
    return response


def guest_address(request: HttpRequest, token: str) -> str:
    """The whole address a guest opens."""
    parts = urlsplit(request.build_absolute_uri("/"))
    return f"{parts.scheme}://{parts.netloc}/guest/{token}/"
