"""Answers and papers as they were made, kept beside the records they rest on."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from django.db.models import Max

from overwood.memory.book.models import Answer, Paper
from overwood.memory.book.store import WHO, data_version


def keep_answer(stand: str, kind: str, made_on: date, rules_version: str, **told: Any) -> int:
    """Add an answer as it was made (settings, result and digest, and the mark of its records); returns its number."""
    head = {"stand": stand, "kind": kind, "made_on": made_on, "rules_version": rules_version}
    kept = Answer.objects.create(
        **head, **told, made_at=datetime.now(UTC), made_by=WHO.get(), data_version=data_version()
    )
    return int(kept.id)


def kept_answers(stand: str | None = None, kind: str | None = None) -> list[dict[str, Any]]:
    """Kept answers, oldest first."""
    query = Answer.objects.order_by("made_on", "id")
    if stand is not None:
        query = query.filter(stand=stand)
    if kind is not None:
        query = query.filter(kind=kind)
    return list(query.values())


def newest_answer(stand: str, kind: str) -> dict[str, Any] | None:
    """The answer of a kind that was kept last for a stand."""
    return Answer.objects.filter(stand=stand, kind=kind).order_by("-id").values().first()


def same_answers(stand: str, kind: str, digest: str, stand_mark: str, rules_version: str) -> list[dict[str, Any]]:
    """Answers that say the same of the same records under the same rules, the first first."""
    same = {"digest": digest, "stand_mark": stand_mark, "rules_version": rules_version}
    return list(Answer.objects.filter(stand=stand, kind=kind, **same).order_by("id").values())


def kept_answer(number: int) -> dict[str, Any] | None:
    """A kept answer by its number."""
    return Answer.objects.filter(id=number).values().first()


def newest_answer_numbers(kind: str) -> dict[str, int]:
    """The newest kept answer of a kind of each stand that has one."""
    return dict(
        Answer.objects.filter(kind=kind)
        .order_by()
        .values("stand")
        .annotate(last=Max("id"))
        .values_list("stand", "last")
    )


def newest_answer_number(kind: str) -> int:
    """Changes whenever an answer of this kind is kept."""
    return Answer.objects.filter(kind=kind).aggregate(last=Max("id"))["last"] or 0


def keep_paper(stand: str, content: bytes, **printed: Any) -> int:
    """Add a document as it was printed, with what is said of it; returns its number."""
    paper = Paper.objects.create(
        stand=stand, content=content, **printed, made_at=datetime.now(UTC), made_by=WHO.get(),
        data_version=data_version(),
    )  # fmt: skip
    return int(paper.id)


def papers(stand: str) -> list[dict[str, Any]]:
    """Kept documents of a stand without their content, newest first."""
    return list(Paper.objects.filter(stand=stand).order_by("-id").values(*_PAPER))


_PAPER = (
    "id", "stand", "which", "title", "own_words", "made_on", "made_at", "made_by", "rules_version", "data_version",
)  # fmt: skip


def paper_content(stand: str, number: int) -> bytes | None:
    """A kept document of a stand as it was printed."""
    row = Paper.objects.filter(stand=stand, id=number).first()
    return bytes(row.content) if row else None
