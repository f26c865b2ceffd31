"""Log-ins in the book, by digest: whoever reads the file cannot take one over. Used by Django as its session engine."""

from __future__ import annotations

import hashlib
from typing import Any

from django.contrib.sessions.backends import db
from django.utils import timezone

_LENGTH = 40


class SessionStore(db.SessionStore):
    """Django's own store, but the book holds a digest of the key that the browser holds."""

    def _get_session_from_db(self) -> Any:
        try:
            return self.model.objects.get(session_key=mark_of(self.session_key), expire_date__gt=timezone.now())
        except self.model.DoesNotExist:
            self._session_key = None
            return None

    def exists(self, session_key: str) -> bool:
        return bool(super().exists(mark_of(session_key)))

    def create_model_instance(self, data: dict[str, Any]) -> Any:
        row = super().create_model_instance(data)
        row.session_key = mark_of(row.session_key)
        return row

    def delete(self, session_key: str | None = None) -> None:
        key = session_key or self.session_key
        if key is not None:
            super().delete(mark_of(key))


def mark_of(key: str | None) -> str:
    """What the book holds of a key: its digest."""
    return hashlib.sha256((key or "").encode()).hexdigest()[:_LENGTH]
