"""The outer door of the desk: a request's body is taken whole, within a size and a time, before a thread works on it.

Threads of the desk are few. Without this door, four connections that send a byte every other second would hold them
all, and a stranger could fill the disk through the log-in.
"""

from __future__ import annotations

import asyncio
import time
from collections import Counter
from collections.abc import AsyncIterator, Awaitable, Callable, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
# Typed loosely: libraries type the three of the ASGI standard each in their own way.
Application = Callable[[Any, Any, Any], Awaitable[None]]

# Whoever shows neither a log-in's cookie nor a token sends a log-in form and nothing larger.
STRANGER_BYTES = 64 * 1024
STRANGER_S = 10.0
# A known sender may be on a slow line, but not on one that stands still.
KNOWN_S, KNOWN_BYTES_S = 30.0, 8 * 1024
# Bodies on their way from one address, and bytes held until they are answered, of one address and of all.
MOST_FROM_ADDRESS = 100
MOST_HELD_FROM_ADDRESS, MOST_HELD_BYTES = 128 * 1024 * 1024, 256 * 1024 * 1024
_LOG_IN_COOKIES = (b"overwood_session=", b"overwood_owner=")
_WORDS = {
    408: b"The request came too slowly and was given up. Nothing was changed; send it again.",
    413: b"This is larger than is taken here. Nothing was changed; send it in parts.",
    503: b"Too much is being sent at once. Wait a moment and send it again.",
    429: b"Too many requests from this address are under way. Wait a moment and send it again.",
}


class Refused(Exception):
    """A body that is not taken, with the status that says why."""

    def __init__(self, status: int) -> None:
        super().__init__(status)
        self.status = status


class Front:
    """An ASGI application before another: hands on only requests whose body has arrived."""

    def __init__(self, inner: Application, most_bytes: int, *, clock: Callable[[], float] = time.monotonic) -> None:
        self.inner, self.most_bytes, self.clock = inner, most_bytes, clock
        self.under_way: Counter[str] = Counter()
        self.held: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.inner(scope, receive, send)
            return
        parts: list[bytes] = []
        try:
            await self._body(scope, receive, parts)
            body = b"".join(parts)
            await self.inner(_with_one_cookie(scope), _replay(body, receive), send)
        except Refused as refusal:
            await _refuse(send, refusal.status)
        finally:
            # A body waits in memory for a thread, and until it is answered.
            self.held[_address(scope)] -= sum(map(len, parts))
            _drop_zeros(self.held)

    async def _body(self, scope: Scope, receive: Receive, parts: list[bytes]) -> None:
        """Collect the whole body.

        Raises
        ------
        Refused
            when it is too large, too slow, or one of too many.
        """
        known, address = _is_known(scope), _address(scope)
        most = self.most_bytes if known else min(STRANGER_BYTES, self.most_bytes)
        if _said_length(scope) > most:
            raise Refused(413)
        self.under_way[address] += 1
        try:
            if self.under_way[address] > MOST_FROM_ADDRESS and _said_length(scope):
                raise Refused(429)
            size = 0
            async for part in self._parts(receive, known):
                parts.append(part)
                size += len(part)
                self.held[address] += len(part)
                self._refuse_much(size, most, address)
        finally:
            self.under_way[address] -= 1
            _drop_zeros(self.under_way)

    def _refuse_much(self, size: int, most: int, address: str) -> None:
        """Refuse a body that is too large, or one that is too much beside the others that are held."""
        if size > most:
            raise Refused(413)
        if self.held[address] > MOST_HELD_FROM_ADDRESS or self.held.total() > MOST_HELD_BYTES:
            raise Refused(503)

    async def _parts(self, receive: Receive, known: bool) -> AsyncIterator[bytes]:
        """The pieces of a body as they come, within the time that a sender is given."""
        size, began, more = 0, self.clock(), True
        while more:
            allowed_s = KNOWN_S + size / KNOWN_BYTES_S if known else STRANGER_S
            try:
                message = await asyncio.wait_for(receive(), max(began + allowed_s - self.clock(), 0.0))
            except TimeoutError:
                raise Refused(408) from None
            if message["type"] == "http.disconnect":
                raise Refused(408)
            part: bytes = message.get("body", b"")
            size += len(part)
            yield part
            more = message.get("more_body", False)


def _address(scope: Scope) -> str:
    return str((scope.get("client") or ("",))[0])


def _drop_zeros(counts: Counter[str]) -> None:
    for address in [address for address, count in counts.items() if count <= 0]:
        del counts[address]


def _is_known(scope: Scope) -> bool:
    """Whether the sender shows a log-in or a token; whether it is a true one, the desk finds out afterwards."""
    headers = [(name.lower(), value) for name, value in scope["headers"]]
    cookies = b"; ".join(value for name, value in headers if name == b"cookie")
    return any(name == b"authorization" for name, _ in headers) or any(mark in cookies for mark in _LOG_IN_COOKIES)


def _said_length(scope: Scope) -> int:
    """Bytes the request says it carries; 0 where it does not say."""
    texts = [value for name, value in scope["headers"] if name.lower() == b"content-length"]
    return max((int(text) for text in texts if text.isdigit()), default=0)


def _with_one_cookie(scope: Scope) -> Scope:
    """HTTP/2 may send cookies one by one; the desk reads one header (RFC 9113, section 8.2.3)."""
    cookies = [value for name, value in scope["headers"] if name.lower() == b"cookie"]
    if len(cookies) < 2:
        return scope
    others = [(name, value) for name, value in scope["headers"] if name.lower() != b"cookie"]
    return {**scope, "headers": [*others, (b"cookie", b"; ".join(cookies))]}


def _replay(body: bytes, receive: Receive) -> Receive:
    """The body that has arrived, then whatever the connection says."""
    waiting: list[MutableMapping[str, Any]] = [{"type": "http.request", "body": body, "more_body": False}]

    async def next_message() -> MutableMapping[str, Any]:
        return waiting.pop() if waiting else await receive()

    return next_message


async def _refuse(send: Send, status: int) -> None:
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"connection", b"close"),
        (b"cache-control", b"no-store"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": _WORDS[status]})
