"""What checks a log-in to an office: name, password, and a code where the account has a second factor. Used by
Django."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.contrib.auth.backends import ModelBackend

from overwood.memory.book import second_factor


class Backend(ModelBackend):
    """Django's own check, then the code; a wrong code counts as a failed log-in."""

    def authenticate(
        self, request: Any, username: str | None = None, password: str | None = None, code: str = "", **more: Any
    ) -> Any:
        user = super().authenticate(request, username=username, password=password, **more)
        return user if user is None or second_factor.passes(user.get_username(), code, datetime.now(UTC)) else None
