"""Remedies as a page says them: written once below, where a command answers too, and turned here to what can be done on
a page."""

from __future__ import annotations

import csv
import functools
import html
import re
from pathlib import Path

from django.http import HttpResponse

_FILE = Path(__file__).resolve().with_name("page_words.csv")
_TYPED = re.compile(r"(<textarea\b.*?</textarea>|\bvalue=\"[^\"]*\")", re.DOTALL)
_MARKS = ("`overwood", " --", "(--", "overwood[")


@functools.cache
def _pairs() -> tuple[tuple[str, str], ...]:
    """What is said and what a page says for it, the longest first, so that a part of another is never taken for it."""
    with _FILE.open(encoding="utf-8", newline="") as file:
        rows = [(row["said"], row["on_page"]) for row in csv.DictReader(file)]
    return tuple(sorted(rows, key=lambda row: -len(row[0])))


def on_page(text: str) -> str:
    """The text with every command in it turned to what a page offers."""
    for said, words in _pairs():
        text = text.replace(said, words)
    return text


def _turned(text: str) -> str:
    for said, words in _pairs():
        text = text.replace(html.escape(said), html.escape(words))
    return text


def turned(response: HttpResponse) -> HttpResponse:
    """A page whose words name no command; anything that is no page is left alone."""
    if response.streaming or not response.get("Content-Type", "").startswith("text/html"):
        return response
    text = response.content.decode(response.charset or "utf-8")
    if not any(mark in text for mark in _MARKS):
        return response
    # What somebody typed stays as it was typed: a form that is sent back would keep the turned words.
    parts = _TYPED.split(text)
    parts[::2] = [_turned(part) for part in parts[::2]]
    response.content = "".join(parts)
    if response.has_header("Content-Length"):
        response["Content-Length"] = str(len(response.content))
    return response
