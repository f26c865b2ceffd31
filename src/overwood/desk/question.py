"""How a question is asked of the book: on which day, under which rules, with which prices."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from overwood.judgement import prices as price_lists
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules, load

# Lists and overlays that a process holds.
_FILES = 8


@dataclass(frozen=True)
class Question:
    """How a question is asked: on which day, under which rules, and with which price list, where there is one."""

    on: dt.date
    rules: Rules
    prices: PriceList | None = None


def question(on: dt.date, overlay: Path | None = None, prices: Path | None = None) -> Question:
    return Question(on, _rules(overlay, _written(overlay)), price_list(prices) if prices else None)


def priced(ask: Question, prices: Path | None) -> Question:
    """The same question with a price list, where one is named."""
    return replace(ask, prices=price_list(prices)) if prices else ask


def price_list(path: Path) -> PriceList:
    """A price list, read anew only when its file changes. Raises BadRule naming the entry and the line."""
    return _prices(path, _written(path))


def _written(path: Path | None) -> bytes | None:
    """What a file says; None where there is none."""
    return path.read_bytes() if path is not None and path.is_file() else None


@lru_cache(_FILES)
def _rules(path: Path | None, _written: bytes | None) -> Rules:
    return load(path)


@lru_cache(_FILES)
def _prices(path: Path, _written: bytes | None) -> PriceList:
    return price_lists.load(path)
