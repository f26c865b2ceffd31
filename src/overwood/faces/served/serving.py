"""Settings of the pages, and starting their server: on this machine alone, or for an office."""

from __future__ import annotations

import datetime as dt
import json
import os
import secrets
import socket
import threading
import time
import webbrowser
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

_PAGES = Path(__file__).resolve().parent.parent / "pages"
HOST = "127.0.0.1"
# Upload of records: a cruise of a million rows is some 25 MB.
MOST_UPLOAD_BYTES = 64 * 1024 * 1024
# Log-ins that fail in a row from one place before it must wait, and how long: our own choice.
FAILED_LOGINS, WAIT_AFTER_FAILS_MIN = 5, 15
# The same from one address whatever the name: several people may sit behind one.
FAILED_FROM_ADDRESS = 20
# An account that did nothing for so long logs in again.
_SESSION_HOURS = 12
# Requests worked on at once, and how long the headers of one may take to arrive.
THREADS, _HEADERS_WITHIN_MS = 8, 10_000
# A request still worked on when the desk is stopped is given up after this: what it writes is written whole or not at
# all.
_STOPS_WITHIN_S = 5
_SHORTEST_PASSWORD = 10
_TOLD = "OVERWOOD_SERVE"
# How often, and how many times, a server that starts is knocked at before the browser is sent to it.
_KNOCK_S, _KNOCKS = 0.5, 240


@dataclass(frozen=True, kw_only=True)
class Told:
    """What the server was started with; handed to its worker as text."""

    book: str = ""
    on: str = ""
    rules: str = ""
    prices: str = ""
    token: str = ""
    tour: bool = False
    metric: bool = False
    backgrounds: tuple[str, ...] = ()
    # Host names of an office; none for a forester alone.
    hosts: tuple[str, ...] = ()
    office_folder: str = ""

    def path(self, name: str) -> Path | None:
        """A file or folder that was named."""
        text = getattr(self, name)
        return Path(text) if text else None


def web_settings(told: Told) -> dict[str, Any]:
    """What Django needs to serve the pages beside the book."""
    office = bool(told.hosts)
    settings: dict[str, Any] = {
        "SECRET_KEY": secrets.token_urlsafe(48),
        "ALLOWED_HOSTS": [HOST, "localhost"],
        "ROOT_URLCONF": "overwood.faces.pages.urls",
        "MIDDLEWARE": [
            "overwood.faces.pages.guard.headers",
            "whitenoise.middleware.WhiteNoiseMiddleware",
            "django.middleware.gzip.GZipMiddleware",
            "overwood.faces.pages.guard.in_page_words",
            *(["django.contrib.sessions.middleware.SessionMiddleware"] if office else []),
            "django.middleware.common.CommonMiddleware",
            "django.middleware.csrf.CsrfViewMiddleware",
            *(["django.contrib.auth.middleware.AuthenticationMiddleware"] if office else []),
            "overwood.faces.pages.guard.in_asked_units",
            "overwood.faces.pages.guard.only_who_may",
            "overwood.faces.pages.guard.faults",
            *(["axes.middleware.AxesMiddleware"] if office else []),
        ],
        "TEMPLATES": [
            {
                "BACKEND": "django.template.backends.django.DjangoTemplates",
                "DIRS": [_PAGES / "templates"],
                "OPTIONS": {
                    "context_processors": [
                        "django.template.context_processors.csrf",
                        "overwood.faces.pages.asking.everywhere",
                    ],
                    "builtins": ["overwood.faces.pages.words"],
                    "string_if_invalid": "",
                },
            }
        ],
        "STATIC_URL": "/static/",
        "WHITENOISE_USE_FINDERS": False,
        "WHITENOISE_AUTOREFRESH": False,
        "STATIC_ROOT": str(_PAGES / "static"),
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
    return settings | _office_settings(told) if office else settings


def _office_settings(told: Told) -> dict[str, Any]:
    """Accounts, sessions and the log-in throttle; cookies only by https."""
    from overwood.desk import log_in, office

    return {
        "SECRET_KEY": _secret(Path(told.office_folder)),
        # The newest seal of the audit log, beside the book and not in it.
        "AUDIT_HEAD": str(Path(told.office_folder) / "log_head"),
        "ALLOWED_HOSTS": list(told.hosts),
        "APPS": office.apps(),
        "AUTHENTICATION_BACKENDS": ["axes.backends.AxesStandaloneBackend", log_in.password_backend()],
        "PASSWORD_HASHERS": ["django.contrib.auth.hashers.Argon2PasswordHasher"],
        "AUTH_PASSWORD_VALIDATORS": [
            {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
            {
                "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
                "OPTIONS": {"min_length": _SHORTEST_PASSWORD},
            },
            {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
            {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
        ],
        "LOGIN_URL": "/login/",
        "SESSION_ENGINE": office.session_engine(),
        "SESSION_COOKIE_NAME": "overwood_session",
        "SESSION_COOKIE_AGE": _SESSION_HOURS * 3600,
        "SESSION_EXPIRE_AT_BROWSER_CLOSE": True,
        "SESSION_COOKIE_SAMESITE": "Strict",
        "SESSION_COOKIE_SECURE": True,
        "CSRF_COOKIE_SECURE": True,
        "AXES_FAILURE_LIMIT": FAILED_LOGINS,
        "AXES_COOLOFF_TIME": dt.timedelta(minutes=WAIT_AFTER_FAILS_MIN),
        "AXES_LOCKOUT_PARAMETERS": [["username", "ip_address"]],
        "AXES_RESET_ON_SUCCESS": True,
        "AXES_SENSITIVE_PARAMETERS": ["username", "ip_address", "code"],
        "AXES_LOCKOUT_CALLABLE": "overwood.faces.pages.office.too_often",
        "AXES_VERBOSE": False,
        "AXES_DISABLE_ACCESS_LOG": True,
    }


def _secret(folder: Path) -> str:
    """What signs the sessions of an office: made once, so that they outlive a restart."""
    path = folder / "secret"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as stream:
            stream.write(secrets.token_urlsafe(64))
    return path.read_text(encoding="ascii")


def told_of(environment: Mapping[str, str]) -> Told:
    """What ``serve`` left for the server's own process."""
    plain = json.loads(environment[_TOLD])
    return Told(**plain | {name: tuple(plain[name]) for name in ("hosts", "backgrounds")})


def serve(
    port: int, told: Told, address: str = HOST, certificate: tuple[Path, Path] | None = None, first_page: str = ""
) -> None:
    """Serve until it is stopped; the address to open must have been shown before. ``first_page`` is opened in the
    browser."""
    from granian import Granian
    from granian.constants import Interfaces
    from granian.http import HTTP1Settings

    from overwood.desk import warm

    warm.ahead()
    os.environ[_TOLD] = json.dumps(vars(told))
    server = Granian(
        "overwood.faces.pages.application:application",
        factory=True,
        address=address,
        port=port,
        interface=Interfaces.ASGINL,
        workers=1,
        websockets=False,
        http1_settings=HTTP1Settings(header_read_timeout=_HEADERS_WITHIN_MS),
        # A worker that dies, by a foreign file or a full memory, is started again.
        respawn_failed_workers=True,
        workers_kill_timeout=_STOPS_WITHIN_S,
        log_enabled=False,
        ssl_cert=certificate[0] if certificate else None,
        ssl_key=certificate[1] if certificate else None,
    )
    if first_page:
        threading.Thread(target=_browse, args=(address, port, first_page), daemon=True).start()
    server.serve()


def _browse(address: str, port: int, page: str) -> None:
    """Open a page in the browser as soon as the server listens."""
    for _ in range(_KNOCKS):
        time.sleep(_KNOCK_S)
        try:
            socket.create_connection((address, port), timeout=_KNOCK_S).close()
        except OSError:
            continue
        webbrowser.open(page)
        return
