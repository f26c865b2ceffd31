"""Codes for labels: only the desk reaches the room that draws them."""

from __future__ import annotations


def drawn(text: str) -> str:
    """A QR code that holds this text, as SVG without its quiet zone."""
    from overwood.memory.exchange import screen_codes

    return screen_codes.svg(text)
