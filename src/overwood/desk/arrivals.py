"""What came back of a walk, told to its phones as a receipt; and what phones said they have that did not come."""

from __future__ import annotations

import uuid
from collections import Counter, defaultdict
from typing import Any

from overwood.desk import book


def receipt(walk: uuid.UUID) -> dict[str, Any]:
    """What the desk holds of a walk: spans of the numbers of each phone's taps, and the identifiers of its photos."""
    spans: dict[str, list[list[int]]] = {}
    for device, number in book.walks.numbers(walk):
        own = spans.setdefault(device, [])
        if own and number <= own[-1][1] + 1:
            own[-1][1] = number
        else:
            own.append([number, number])
    return {"taps": spans, "photos": [one.id.hex for one in book.walks.photos(walk)]}


def said_by(message: dict[str, Any]) -> dict[str, int]:
    """The last number a phone gave, and how many photos it holds where it says so; older kits do not."""
    pictures = message.get("pictures")
    return {"last": int(message["last"])} | (
        {"pictures": pictures} if isinstance(pictures, int) and pictures >= 0 else {}
    )


def missing(walk: Any) -> tuple[str, ...]:
    """What phones gave numbers to, or photographed, and the desk has not seen."""
    pictures = Counter(one.device for one in book.walks.photos(walk.id))
    seen: dict[str, set[int]] = defaultdict(set)
    for device, number in book.walks.numbers(walk.id):
        seen[device].add(number)
    doubts = []
    for device, said in walk.phones.items():
        gone = said["last"] - sum(number <= said["last"] for number in seen[device])
        if gone > 0:
            doubts.append(
                f"Phone {device} gave {said['last']} numbers by {said['seen'][:16]}; {gone} of them have not arrived."
            )
        unseen = said.get("pictures", 0) - pictures[device]
        if unseen > 0:
            doubts.append(f"Phone {device} holds {said['pictures']} photos; {unseen} of them have not arrived.")
    return tuple(doubts)
