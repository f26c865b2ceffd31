"""Walks that phones take into the woods, and every tap that came back from them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from overwood.memory.book.models import Photo, Tap, Walk

_MOST_AT_ONCE = 400


def add(walk: UUID, key: str, content: dict[str, Any], expires_on: date, who: str) -> None:
    """Put a walk down as it was handed out."""
    Walk.objects.create(
        id=walk, key=key, content=content, expires_on=expires_on, made_by=who, made_at=datetime.now(UTC)
    )


def one(walk: UUID) -> Walk | None:
    """The walk of an identifier; None where this book handed out none."""
    return Walk.objects.filter(id=walk).first()


def every() -> list[Walk]:
    """All walks, the newest first."""
    return list(Walk.objects.order_by("-made_at"))


def of_several_phones() -> list[Walk]:
    """Walks that more than one phone has sent taps of."""
    return [walk for walk in Walk.objects.defer("content").order_by("made_at") if len(walk.phones) > 1]


def recall(walk: UUID, *, back: bool) -> None:
    """Recall a walk, or take the recall back."""
    Walk.objects.filter(id=walk).update(recalled_at=None if back else datetime.now(UTC))


def taps(walk: UUID) -> list[Tap]:
    """Every tap of a walk, phone by phone in the order of their numbers."""
    return list(Tap.objects.filter(walk_id=walk).order_by("device", "seq", "id"))


def numbers(walk: UUID) -> list[tuple[str, int]]:
    """Phone and number of every tap of a walk, phone by phone in their order."""
    return list(Tap.objects.filter(walk_id=walk).order_by("device", "seq").values_list("device", "seq"))


def keep(walk: UUID, rows: list[dict[str, Any]], device: str, said: dict[str, int]) -> None:
    """Add the taps that are not there yet, and put down what the phone said: the highest number it had given (`last`)
    and how many photos it holds (`pictures`)."""
    now = datetime.now(UTC)
    with transaction.atomic():
        Tap.objects.bulk_create(
            [Tap(walk_id=walk, came_at=now, **row) for row in rows], ignore_conflicts=True, batch_size=_MOST_AT_ONCE
        )
        held = Walk.objects.select_for_update().get(id=walk)
        before = held.phones.get(device, {"last": 0})
        said = said | {"last": max(before["last"], said["last"])}
        held.phones[device] = {**before, **said, "seen": now.isoformat(timespec="seconds")}
        held.save(update_fields=["phones"])


def keep_photos(walk: UUID, rows: list[dict[str, Any]]) -> int:
    """Add the photos that are not there yet; how many were new."""
    now = datetime.now(UTC)
    with transaction.atomic():
        there = set(Photo.objects.filter(id__in=[row["id"] for row in rows]).values_list("id", flat=True))
        Photo.objects.bulk_create([Photo(walk_id=walk, came_at=now, **row) for row in rows], ignore_conflicts=True)
    return len({row["id"] for row in rows} - there)


def photos(walk: UUID) -> list[Photo]:
    """The photos of a walk without their content, plot by plot in the order they were made."""
    return list(Photo.objects.filter(walk_id=walk).defer("jpeg").order_by("visit", "point", "made_at", "id"))


def photographed() -> list[Walk]:
    """Walks that photos came back from."""
    return list(Walk.objects.filter(id__in=Photo.objects.values("walk_id")))


def photos_of(visits: set[str]) -> list[Photo]:
    """The photos of these visits without their content, visit by visit and plot by plot."""
    if not visits:
        return []
    return list(Photo.objects.filter(visit__in=visits).defer("jpeg").order_by("visit", "point", "made_at", "id"))


def photo(walk: UUID, number: UUID) -> bytes | None:
    """The content of a photo of this walk; None where there is none."""
    content = Photo.objects.filter(walk_id=walk, id=number).values_list("jpeg", flat=True).first()
    return None if content is None else bytes(content)


def settle(walk: UUID, mark: str, device: str) -> None:
    """Say whose tally of a point stands."""
    with transaction.atomic():
        held = Walk.objects.select_for_update().get(id=walk)
        held.settled[mark] = device
        held.save(update_fields=["settled"])
