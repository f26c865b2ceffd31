"""Photos of plots from the woods: kept once, by their identifier, with the walk, the visit and the plot they show."""

from __future__ import annotations

import base64
import binascii
import datetime as dt
import re
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from overwood.desk import book, walks
from overwood.ground.errors import BadRecords, NotFound
from overwood.ground.records import StandFile

_JPEG, _JPEG_END = b"\xff\xd8\xff", b"\xff\xd9"
_MOST_BYTES = 3 * 1024 * 1024
_AGAIN = "Send it from the phone again; nothing is lost there."


@dataclass(frozen=True, kw_only=True)
class PhotoLine:
    """A photo in a list: its identifier and what it shows."""

    photo: str
    walk: str
    device: str
    made_at: str
    visit: str
    point: str


def rows(said: dict[str, Any], walk: Any) -> list[dict[str, Any]]:
    """The photos of a message from a phone, as the book keeps them. Raises BadRecords when one is damaged, no JPEG
    picture, too large, or of no visit of this walk."""
    return [_row(number, one, str(said["device"]), walk) for number, one in enumerate(said["records"], start=1)]


def _row(number: int, one: Any, device: str, walk: Any) -> dict[str, Any]:
    try:
        dt.datetime.fromisoformat(str(one["at"]))
        jpeg = base64.b64decode(one["jpeg"], validate=True)
        row = {
            "id": uuid.UUID(one["id"]), "device": device, "made_at": str(one["at"]), "visit": str(one["visit"]),
            "point": str(one["point"]),
            "jpeg": jpeg,
        }  # fmt: skip
    except (ValueError, KeyError, TypeError, AttributeError, binascii.Error):
        raise BadRecords(f"photo {number} is damaged.", remedy=_AGAIN) from None
    if not (jpeg.startswith(_JPEG) and jpeg.endswith(_JPEG_END)):
        raise BadRecords(f"photo {number} is no whole JPEG picture.", remedy=_AGAIN)
    if len(jpeg) > _MOST_BYTES:
        raise BadRecords(
            f"photo {number} is larger than {_MOST_BYTES // 2**20} MB.",
            remedy="Update the kit on the phone: it makes them smaller.",
        )
    if row["visit"] not in {visit["visit"] for stand in walk.content["stands"] for visit in stand["visits"]}:
        raise BadRecords(
            f"photo {number} is of a visit that is not in this walk.", remedy="Send it with the walk it was taken on."
        )
    return row


def listed(text: str) -> list[PhotoLine]:
    """The photos of a walk, plot by plot."""
    return [_line(one) for one in book.walks.photos(walks.walk_of(text).id)]


def of_stand(file: StandFile) -> list[PhotoLine]:
    """The photos of a stand's plots, visit by visit: those of its visits in the book, and those of visits of its walks
    that nobody has written yet."""
    name, named = file.stand.stand, {visit.visit for visit in file.visits}
    for walk in book.walks.photographed():
        stands = walk.content["stands"]
        named |= {visit["visit"] for stand in stands if stand["stand"] == name for visit in stand["visits"]}
    return [_line(one) for one in book.walks.photos_of(named)]


def _line(one: Any) -> PhotoLine:
    return PhotoLine(
        photo=one.id.hex, walk=one.walk_id.hex, device=one.device, made_at=one.made_at, visit=one.visit, point=one.point
    )


def picture(text: str, number: str) -> bytes:
    """The picture of a photo. Raises NotFound when the walk has no such photo."""
    try:
        content = book.walks.photo(walks.walk_of(text).id, uuid.UUID(number))
    except ValueError:
        content = None
    if content is None:
        raise NotFound(
            f"walk {text[:8]} has no photo {number[:8]!r}.", remedy="Open the walk: its photos are listed there."
        )
    return content


def write(text: str, folder: Path) -> list[str]:
    """Write the photos of a walk into a folder, each named by its visit, plot and identifier; returns the names."""
    folder.mkdir(parents=True, exist_ok=True)
    names = []
    for line in listed(text):
        names.append("_".join(re.sub(r"[^\w-]+", "-", part) for part in (line.visit, line.point, line.photo)) + ".jpg")
        (folder / names[-1]).write_bytes(picture(text, line.photo))
    return names
