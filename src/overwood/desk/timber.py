"""Timber and money as a person asks for them."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from overwood.desk.answers import Question, stand_file
from overwood.ground.errors import BadRecords, NotFound, Problem
from overwood.judgement import choices, prices, selling
from overwood.judgement.evidence import all_figures
from overwood.judgement.evidence import timber as evidence
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules

_BID_COLUMNS = ("bidder", "amount_usd", "share_at_signing", "years_to_rest", "default_chance", "deductions_usd")


@dataclass(frozen=True)
class StandTimber:
    """The timber of a stand with the way to sell it."""

    stand: str
    area_ac: float | None
    valued: evidence.Valued
    method: selling.Method | None
    price_list: PriceList | None


def price_list(path: Path | None) -> PriceList | None:
    """The user's price list; None where none is named."""
    return None if path is None else prices.load(path)


def timber(name: str, ask: Question, listed: PriceList | None, log_rule: str) -> StandTimber:
    """Volume and value of a stand.

    Raises
    ------
    NotFound
        when the stand was never cruised.
    """
    file = stand_file(name).as_of(ask.on)
    rule = log_rule or (listed.log_rule if listed else "doyle")
    found = evidence.timber_of(file, ask.rules, rule)
    if found is None:
        raise NotFound(f"{name} was not cruised by {ask.on}.", remedy="Bring a cruise in with `overwood import`.")
    if listed is not None and rule != listed.log_rule:
        raise NotFound(f"the price list is by {listed.log_rule}, not {rule}.", remedy="Prices of one rule do not value volumes of another.")
    valued = evidence.value_of(found, listed, ask.rules)
    method = selling.method_of(valued.sawtimber_bf_ac, ask.rules, tallied_all=False) if valued.sawtimber_bf_ac.number > 0 else None
    return StandTimber(name, file.stand.area_ac, valued, method, listed)


def compare(name: str, ask: Question, listed: PriceList, extras: tuple[str, ...] = ()) -> choices.Choices:
    """What each choice pays.

    Raises
    ------
    NotFound
        when the stand was never cruised.
    Misuse
        when the list has no cost for an extra.
    """
    file = stand_file(name).as_of(ask.on)
    if file.latest("cruise") is None:
        raise NotFound(f"{name} was not cruised by {ask.on}.", remedy="Bring a cruise in with `overwood import`.")
    return choices.compare(file, all_figures(file, ask.rules, ask.on), ask.rules, listed, extras)


def bids(path: Path, rules: Rules) -> list[selling.RankedBid]:
    """Bids of a csv file, ranked net of terms and default risk.

    Raises
    ------
    BadRecords
        naming row and column of every bad cell.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            rows = list(csv.DictReader(stream))
    except OSError as fault:
        raise NotFound(f"{path} cannot be read: {fault.strerror}.") from fault
    problems: list[Problem] = []
    found = [_bid(row, number, path.name, problems) for number, row in enumerate(rows, start=2)]
    if problems or not rows:
        remedy = f"Columns: {', '.join(_BID_COLUMNS)}."
        raise BadRecords(f"{path.name} holds no bids that can be compared.", tuple(problems), remedy=remedy)
    return selling.rank_bids([bid for bid in found if bid is not None], rules.number("real_rate"))


def _bid(row: dict[str, str], number: int, file: str, problems: list[Problem]) -> selling.Bid | None:
    limits = {
        "amount_usd": (0, 1_000_000_000),
        "share_at_signing": (0, 1),
        "years_to_rest": (0, 10),
        "default_chance": (0, 1),
        "deductions_usd": (0, 1_000_000_000),
    }
    values: dict[str, float] = {}
    for column, (low, high) in limits.items():
        text = (row.get(column) or "").strip()
        try:
            values[column] = float(text)
            if not low <= values[column] <= high:
                raise ValueError
        except ValueError:
            expected = f"a number from {low:g} to {high:g}"
            problems.append(Problem(what="A value cannot be taken.", file=file, row=number, column=column, found=text, expected=expected))
    return selling.Bid((row.get("bidder") or "").strip() or f"bid {number - 1}", **values) if len(values) == len(limits) else None
