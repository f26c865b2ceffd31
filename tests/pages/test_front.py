"""The outer door: which bodies are taken, and which are refused before a thread of the desk works on them."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor

import pytest

from overwood.faces.pages import front

MOST = 1_000_000


def answered(headers, messages, *, ticks=None, before=0, held=()):
    """Status and body that the desk behind the door saw, or the status of the refusal."""
    seen, sent = [], []

    async def inner(scope, receive, send):
        seen.append((scope, await receive()))
        assert door.held.total() == len(seen[-1][1]["body"]) + sum(dict(held).values())
        await send({"type": "http.response.start", "status": 200, "headers": []})

    async def receive():
        if not messages:
            await asyncio.Event().wait()
        return messages.pop(0)

    async def send(message):
        sent.append(message)

    moments = iter(ticks or [])
    door = front.Front(inner, MOST, clock=lambda: next(moments, 0.0))
    door.under_way["1.2.3.4"] = before
    door.held.update(dict(held))
    scope = {"type": "http", "headers": headers, "client": ("1.2.3.4", 5)}
    # In a thread of its own, because a browser of other tests may leave a loop running in this one.
    with ThreadPoolExecutor(1) as own:
        own.submit(asyncio.run, door(scope, receive, send)).result()
    assert door.held == dict(held)
    assert door.under_way["1.2.3.4"] == before
    return sent[0]["status"], seen


def part(body, more=False):
    return {"type": "http.request", "body": body, "more_body": more}


KNOWN = (b"cookie", b"overwood_session=x")


def test_a_body_in_parts_is_handed_on_whole():
    status, seen = answered([KNOWN], [part(b"ab", True), part(b"cd")])
    assert status == 200
    assert seen[0][1]["body"] == b"abcd"


@pytest.mark.parametrize(
    ("headers", "size", "status"),
    [
        ([], front.STRANGER_BYTES, 200),
        ([], front.STRANGER_BYTES + 1, 413),
        ([(b"Cookie", b"overwood_form=x")], front.STRANGER_BYTES + 1, 413),
        ([KNOWN], MOST, 200),
        ([KNOWN], MOST + 1, 413),
        ([(b"Authorization", b"Bearer x")], MOST, 200),
    ],
)
def test_size_is_refused_by_who_sends(headers, size, status):
    said = [(b"content-length", str(size).encode())]
    assert answered(headers, [part(b"x" * size)])[0] == status
    # What says its size is refused before a byte of it is read.
    assert answered(headers + said, [part(b"")])[0] == status


@pytest.mark.parametrize(("headers", "allowed_s"), [([], front.STRANGER_S), ([KNOWN], front.KNOWN_S)])
def test_a_body_that_does_not_come_is_given_up(headers, allowed_s):
    late = allowed_s + 0.001
    assert answered(headers, [part(b"a", True)], ticks=[0.0, 0.0, late])[0] == 408


def test_a_slow_line_that_keeps_moving_is_let_in():
    megabyte = b"x" * 500_000
    slow = len(megabyte) / front.KNOWN_BYTES_S
    assert answered([KNOWN], [part(megabyte, True), part(b"y")], ticks=[0.0, 0.0, slow])[0] == 200


def test_a_sender_who_leaves_reaches_nobody():
    status, seen = answered([KNOWN], [part(b"a", True), {"type": "http.disconnect"}])
    assert (status, seen) == (408, [])


def test_bodies_from_one_address_are_limited_and_plain_requests_are_not():
    length = [(b"content-length", b"5")]
    assert answered([KNOWN, *length], [part(b"abcde")], before=front.MOST_FROM_ADDRESS)[0] == 429
    assert answered([KNOWN], [part(b"")], before=front.MOST_FROM_ADDRESS)[0] == 200


def test_cookies_sent_one_by_one_are_read_as_one():
    _, seen = answered([KNOWN, (b"cookie", b"b=2")], [part(b"")])
    assert [value for name, value in seen[0][0]["headers"] if name == b"cookie"] == [b"overwood_session=x; b=2"]


def test_a_body_counts_until_it_is_answered_and_one_address_leaves_room_for_others(monkeypatch):
    monkeypatch.setattr(front, "MOST_HELD_FROM_ADDRESS", 10)
    monkeypatch.setattr(front, "MOST_HELD_BYTES", 15)
    assert answered([KNOWN], [part(b"123456")], held={"1.2.3.4": 5})[0] == 503
    assert answered([KNOWN], [part(b"12345")], held={"1.2.3.4": 5})[0] == 200
    assert answered([KNOWN], [part(b"123456")], held={"5.6.7.8": 5, "9.9.9.9": 5})[0] == 503
    assert answered([KNOWN], [part(b"12345")], held={"5.6.7.8": 5, "9.9.9.9": 5})[0] == 200
