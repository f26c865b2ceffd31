"""Long work and drafts in the book: claimed by one worker at a time, found again after a restart."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q

from overwood.memory.book.models import Draft, Work

WAITING, RUNNING, DONE, FAILED = "waiting", "running", "done", "failed"
_OPEN = (WAITING, RUNNING)
_COLUMNS = (
    "id", "kind", "title", "asked", "who", "state", "done", "total", "note", "fault", "result", "stop", "data_version",
    "made_at",
    "ended_at",
)  # fmt: skip


def add(asked_for: dict[str, Any], worker: str = "") -> int:
    """Ask for work, or put down what a worker does already; returns its number."""
    now = datetime.now(UTC)
    state = {"state": RUNNING, "worker": worker, "beat_at": now} if worker else {"state": WAITING}
    return int(Work.objects.create(**asked_for, **state, made_at=now).id)


def claim(worker: str, silent_s: float) -> dict[str, Any] | None:
    """Take the oldest work that waits, or that a worker silent for so long left; None where there is none.

    One statement changes the row only while it is still free, so two workers never take the same.
    """
    now = datetime.now(UTC)
    free = Q(state=WAITING) | Q(state=RUNNING, beat_at__lt=now - timedelta(seconds=silent_s))
    for number in Work.objects.filter(free).order_by("id").values_list("id", flat=True)[:5]:
        if Work.objects.filter(free, id=number).update(state=RUNNING, worker=worker, beat_at=now):
            return of(number)
    return None


def beat(numbers: list[int], worker: str) -> None:
    """Say that the worker of these still lives."""
    Work.objects.filter(id__in=numbers, worker=worker, state=RUNNING).update(beat_at=datetime.now(UTC))


def step(number: int, worker: str, done: int, note: str) -> bool:
    """Say how far work is; False where it was stopped, or another worker has taken it up."""
    mine = Work.objects.filter(id=number, worker=worker, state=RUNNING)
    mine.update(done=done, note=note, beat_at=datetime.now(UTC))
    return mine.filter(stop=False).exists()


def end(number: int, worker: str, *, result: dict[str, Any] | None = None, fault: str = "") -> bool:
    """Put down what came of work; False where another worker has taken it up."""
    state = FAILED if fault else DONE
    mine = Work.objects.filter(id=number, worker=worker, state=RUNNING)
    return bool(mine.update(state=state, result=result, fault=fault, ended_at=datetime.now(UTC)))


def of(number: int) -> dict[str, Any] | None:
    return Work.objects.filter(id=number).values(*_COLUMNS).first()


def mine(who: str, most: int) -> list[dict[str, Any]]:
    """Work of one person, newest first, without the results."""
    columns = [name for name in _COLUMNS if name != "result"]
    return list(Work.objects.filter(who=who).order_by("-id").values(*columns)[:most])


def count_open(who: str | None = None) -> int:
    """Work that waits or is done, beside what was begun where it was asked for."""
    query = Work.objects.filter(state__in=_OPEN).exclude(asked__here=True)
    return query.filter(who=who).count() if who is not None else query.count()


def ask_to_stop(number: int) -> None:
    """Ask running work to stop and sum up; work that only waits is ended."""
    now = datetime.now(UTC)
    if not Work.objects.filter(id=number, state=WAITING).update(
        state=FAILED, fault="stopped before it began.", stop=True, ended_at=now
    ):
        Work.objects.filter(id=number, state=RUNNING).update(stop=True)


def forget_old(who: str, most: int) -> None:
    """Keep the newest ended work of a person."""
    old = Work.objects.filter(who=who).exclude(state__in=_OPEN).order_by("-id").values_list("id", flat=True)[most:]
    Work.objects.filter(id__in=list(old)).delete()


def forget_like(asked_for: dict[str, Any]) -> None:
    """Let ended work of the same kind, person and file go: what it came to is worked out anew."""
    same = Work.objects.filter(kind=asked_for["kind"], who=asked_for["who"]).exclude(state__in=_OPEN)
    file = asked_for["asked"].get("upload")
    same.filter(**({} if file is None else {"asked__upload": file})).delete()


def forget_looks(kind: str, who: str, upload: int) -> None:
    """Let the looks at a file go that was written or put away."""
    Work.objects.filter(kind=kind, who=who, asked__upload=upload).exclude(state__in=_OPEN).delete()


def newest_result(kind: str, rests_on: str) -> dict[str, Any] | None:
    """What the newest work of a kind came to that rests on the same."""
    same = Work.objects.filter(kind=kind, state=DONE, asked__rests_on=rests_on).order_by("-id")
    return same.values_list("result", flat=True).first()


def draft(who: str, kind: str, stand: str) -> dict[str, Any] | None:
    return (
        Draft.objects.filter(who=who, kind=kind, stand=stand)
        .values("made_for", "stamp", "content", "changed_at")
        .first()
    )


@transaction.atomic
def keep_draft(
    who: str, kind: str, stand: str, made_for: str, content: dict[str, Any], stamp: int | None
) -> int | None:
    """Lay a draft down; returns its new stamp, or None where ``stamp`` is not that of the draft that lies there."""
    row, _ = Draft.objects.select_for_update().get_or_create(
        who=who,
        kind=kind,
        stand=stand,
        defaults={"made_for": made_for, "stamp": 0, "content": content, "changed_at": datetime.now(UTC)},
    )
    if stamp is not None and row.stamp != stamp and row.stamp:
        return None
    row.made_for, row.content, row.stamp, row.changed_at = made_for, content, row.stamp + 1, datetime.now(UTC)
    row.save()
    return int(row.stamp)


def drop_draft(who: str, kind: str, stand: str) -> None:
    Draft.objects.filter(who=who, kind=kind, stand=stand).delete()
