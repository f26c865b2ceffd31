"""How a question is asked of the book: on which day, under which rules, with which prices."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

from overwood.judgement import prices as price_lists
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules, load


@dataclass(frozen=True)
class Question:
    """How a question is asked: on which day, under which rules, and with which price list, where there is one."""

    on: dt.date
    rules: Rules
    prices: PriceList | None = None


def question(on: dt.date, overlay: Path | None = None, prices: Path | None = None) -> Question:
    return Question(on, load(overlay), price_lists.load(prices) if prices else None)


def priced(ask: Question, prices: Path | None) -> Question:
    """The same question with a price list, where one is named."""
    return replace(ask, prices=price_lists.load(prices)) if prices else ask
