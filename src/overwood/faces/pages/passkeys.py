"""Passkeys of an office: made under the own account, and used at the log-in. A script of the page talks to the
device."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from typing import Any

from django.core import signing
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_POST

from overwood.desk import office as accounts
from overwood.desk import passkeys
from overwood.faces.pages import asking, office
from overwood.ground.errors import Misuse, OverwoodError

_SALT = "passkey"


def _in_words(status: int) -> Callable[..., Callable[..., HttpResponse]]:
    """Faults as JSON, for the script."""

    def wrap(view: Callable[[HttpRequest, dict[str, Any]], dict[str, Any]]) -> Callable[..., HttpResponse]:
        def wrapped(request: HttpRequest) -> HttpResponse:
            office.only_office()
            try:
                return JsonResponse(view(request, _sent(request)))
            except OverwoodError as fault:
                return JsonResponse({"what": str(fault)}, status=status)

        return wrapped

    return wrap


def _sent(request: HttpRequest) -> dict[str, Any]:
    try:
        sent = json.loads(request.body)
    except (ValueError, RecursionError):
        sent = None
    if not isinstance(sent, dict):
        raise Misuse("nothing was asked.", remedy="Use a button of the page.")
    return sent


def _origin(request: HttpRequest) -> str:
    return f"{request.scheme}://{request.get_host()}"


def _asked(asked: passkeys.Asked, who: str) -> dict[str, Any]:
    return {"options": asked.options, "state": signing.dumps({"who": who, **asked.state}, salt=_SALT)}


def _state(sent: dict[str, Any], who: str) -> dict[str, Any]:
    """What was asked of the device, as this desk signed it for this account."""
    try:
        state: dict[str, Any] = signing.loads(str(sent.get("state", "")), salt=_SALT, max_age=passkeys.ANSWER_WITHIN_S)
    except signing.BadSignature as fault:
        raise Misuse("this was not asked, or too long ago.", remedy="Try again.") from fault
    if state.pop("who") != who:
        raise Misuse("this was asked for another account.", remedy="Try again.")
    return state


def _answer(sent: dict[str, Any]) -> dict[str, Any]:
    answer = sent.get("answer")
    return answer if isinstance(answer, dict) else {}


@require_POST
@_in_words(400)
def own(request: HttpRequest, sent: dict[str, Any]) -> dict[str, Any]:
    """Make a passkey of the own account, in two steps; the first asks for the password."""
    who, now = asking.person(request).name, dt.datetime.now(dt.UTC)
    if "answer" not in sent:
        user: Any = request.user
        if not user.check_password(str(sent.get("old", ""))):
            raise Misuse("the password is not right, so nothing was changed.", remedy="Type it again.")
        return _asked(passkeys.begin(who, _origin(request), now), who)
    label = str(sent.get("label", "")).strip()
    passkeys.finish(who, label, _origin(request), _state(sent, who), _answer(sent), now)
    asking.note(request, f"a passkey: {label}")
    return {"after": "/account/#passkeys"}


@require_POST
@_in_words(403)
def log_in(request: HttpRequest, sent: dict[str, Any]) -> dict[str, Any]:
    """Log in by a passkey, in two steps."""
    now = dt.datetime.now(dt.UTC)
    if office.fails_too_often(request):
        raise Misuse("too many log-ins failed from here.", remedy=f"Wait {office.WAIT_AFTER_FAILS_MIN} minutes.")
    if "answer" not in sent:
        return _asked(passkeys.begin_log_in(_origin(request), now), "")
    try:
        name = passkeys.finish_log_in(_origin(request), _state(sent, ""), _answer(sent), now)
    except OverwoodError:
        office.count_failure(request)
        raise
    person = accounts.person(name)
    if person is None:
        office.count_failure(request)
        raise Misuse("the account is closed.", remedy="Ask an admin of your office.")
    office.let_in(request, person, "by a passkey")
    return {"after": office.safe_address(str(sent.get("next", "/")))}
