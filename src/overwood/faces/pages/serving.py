"""Settings of the pages, the application the server runs, and starting it on this machine alone."""

from __future__ import annotations

import datetime as dt
import os
import secrets
from pathlib import Path
from typing import Any

_HERE = Path(__file__).resolve().parent
HOST = "127.0.0.1"
# Upload of records: a cruise of a million rows is some 25 MB.
MOST_UPLOAD_BYTES = 64 * 1024 * 1024
_NAMES = ("book", "on", "rules", "prices", "token", "tour")


def web_settings(secret: str) -> dict[str, Any]:
    """What Django needs to serve the pages beside the book."""
    return {
        "SECRET_KEY": secret,
        "ALLOWED_HOSTS": [HOST, "localhost"],
        "ROOT_URLCONF": "overwood.faces.pages.urls",
        "MIDDLEWARE": [
            "overwood.faces.pages.guard.headers",
            "whitenoise.middleware.WhiteNoiseMiddleware",
            "django.middleware.gzip.GZipMiddleware",
            "django.middleware.common.CommonMiddleware",
            "django.middleware.csrf.CsrfViewMiddleware",
            "overwood.faces.pages.guard.only_the_owner",
            "overwood.faces.pages.guard.faults",
        ],
        "TEMPLATES": [
            {
                "BACKEND": "django.template.backends.django.DjangoTemplates",
                "DIRS": [_HERE / "templates"],
                "OPTIONS": {
                    "context_processors": ["django.template.context_processors.csrf", "overwood.faces.pages.asking.everywhere"],
                    "builtins": ["overwood.faces.pages.words"],
                    "string_if_invalid": "",
                },
            }
        ],
        "STATIC_URL": "/static/",
        "WHITENOISE_USE_FINDERS": False,
        "WHITENOISE_AUTOREFRESH": False,
        "STATIC_ROOT": str(_HERE / "static"),
        "CSRF_COOKIE_NAME": "overwood_form",
        "CSRF_COOKIE_HTTPONLY": True,
        "CSRF_COOKIE_SAMESITE": "Strict",
        "CSRF_FAILURE_VIEW": "overwood.faces.pages.guard.stale_form",
        "DATA_UPLOAD_MAX_MEMORY_SIZE": 4 * 1024 * 1024,
        "DATA_UPLOAD_MAX_NUMBER_FIELDS": 4_000,
        "FILE_UPLOAD_MAX_MEMORY_SIZE": 4 * 1024 * 1024,
        "USE_X_FORWARDED_HOST": False,
        "LOGGING_CONFIG": None,
        "DEBUG": False,
    }


def application() -> Any:
    """The WSGI application, made in the server's own process from what ``serve`` left in the environment."""
    from overwood.desk import session
    from overwood.faces.pages import asking

    told = {name: os.environ.get(f"OVERWOOD_SERVE_{name.upper()}", "") for name in _NAMES}
    session.open_book(Path(told["book"]) if told["book"] else None, create=True, web=web_settings(secrets.token_urlsafe(48)))
    asking.begin(
        on=dt.date.fromisoformat(told["on"]) if told["on"] else None,
        overlay=Path(told["rules"]) if told["rules"] else None,
        prices=Path(told["prices"]) if told["prices"] else None,
        token=told["token"],
        book=Path(told["book"]) if told["book"] else None,
        tour=told["tour"] == "yes",
    )
    from django.core.wsgi import get_wsgi_application

    return get_wsgi_application()


def serve(port: int, told: dict[str, str]) -> None:
    """Serve until it is stopped; the address with its one-time token must have been shown before."""
    from granian import Granian
    from granian.constants import Interfaces

    for name in _NAMES:
        os.environ[f"OVERWOOD_SERVE_{name.upper()}"] = told.get(name, "")
    server = Granian(
        "overwood.faces.pages.serving:application",
        factory=True,
        address=HOST,
        port=port,
        interface=Interfaces.WSGI,
        workers=1,
        blocking_threads=4,
        log_enabled=False,
    )
    server.serve()
