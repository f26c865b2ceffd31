"""The typed JSON API beside the pages: the same desk, roles and words, described by /api/openapi.json."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from ninja import NinjaAPI
from ninja.errors import ValidationError
from ninja.security import APIKeyCookie, HttpBearer

from overwood.desk.office import Person
from overwood.faces.pages import asking
from overwood.faces.pages.api import doing, reading, work
from overwood.faces.pages.guard import COOKIE
from overwood.ground.errors import NotFound, OverwoodError


class _Owner(APIKeyCookie):
    """The cookie that the launch token gave; a change also needs the token of a form."""

    param_name = COOKIE

    def authenticate(self, request: HttpRequest, key: str | None) -> Person | None:
        return None if asking.DESK.office else asking.person(request)


class _Session(APIKeyCookie):
    """The cookie of a log-in to an office; a change also needs the token of a form."""

    param_name = "overwood_session"

    def authenticate(self, request: HttpRequest, key: str | None) -> Person | None:
        by_token = "Authorization" in request.headers
        return asking.person(request) if asking.DESK.office and not by_token else None


class _Token(HttpBearer):
    """A token that an account of an office made."""

    def authenticate(self, request: HttpRequest, token: str) -> Person | None:
        return asking.person(request) if asking.DESK.office else None


api = NinjaAPI(
    title="Overwood", version="1", auth=[_Token(), _Session(), _Owner()], docs_url=None, urls_namespace="api",
    description="Figures, advice, choices and records of one book. A browser's cookie opens it, and changes then need "
        "the header X-CSRFToken; "
    "in an office a token of your account opens it without.",
)  # fmt: skip
# Their operations put themselves on the router as they are imported.
assert doing.router is work.router is reading.router
api.add_router("", reading.router)


@api.exception_handler(OverwoodError)
def _said(request: HttpRequest, fault: Any) -> HttpResponse:
    status = 404 if isinstance(fault, NotFound) else 400
    return api.create_response(request, {"what": Exception.__str__(fault), "remedy": fault.remedy}, status=status)


@api.exception_handler(ValidationError)
def _malformed(request: HttpRequest, fault: Any) -> HttpResponse:
    first = fault.errors[0] if fault.errors else {}
    where = " ".join(str(part) for part in first.get("loc", ()))
    return api.create_response(
        request,
        {"what": f"{where}: {first.get('msg', 'cannot be read')}", "remedy": "See /api/openapi.json."},
        status=422,
    )
