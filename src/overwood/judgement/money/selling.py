"""Selling: lump sum or scale by the error of the cruise, bids compared net, basis and depletion as arithmetic only."""

from __future__ import annotations

from dataclasses import dataclass

from overwood.ground.figure import Figure
from overwood.judgement.rules import Rules


@dataclass(frozen=True)
class Method:
    """Which way to sell, and why."""

    way: str
    error_pct: float
    why: str


def method_of(volume: Figure, rules: Rules) -> Method:
    """Lump sum where the volume is known well by the cruise, else by scale.

    The error is half of the interval in percent of the mean, as a cruise's sampling error is told.
    """
    low, high = volume.low, volume.high
    error = float("inf")
    if low is not None and high is not None and volume.number > 0:
        # To the tenth that is told, so that the words never contradict the answer.
        error = round(100 * (high - low) / 2 / volume.number, 1)
    limit = rules.number("scale_above_error_pct")
    if error <= limit:
        return Method("lump sum", error, f"the cruise knows the volume within {error:.1f}%, no more than {limit:g}%")
    return Method(
        "by scale",
        error,
        f"the cruise knows the volume within {error:.1f}% only, above {limit:g}%: tally the marked "
        "trees, or sell by scale",
    )


@dataclass(frozen=True)
class Bid:
    """One bid as it came in. ``share_at_signing`` is paid at once, the rest after so many years."""

    bidder: str
    amount_usd: float
    share_at_signing: float
    years_to_rest: float
    default_chance: float
    deductions_usd: float


@dataclass(frozen=True)
class RankedBid:
    """A bid net of terms and the chance that the rest is never paid."""

    bid: Bid
    net_usd: float


def rank_bids(bids: list[Bid], rate: float) -> list[RankedBid]:
    """Bids by what they are worth now: the first part, and the rest discounted and weighed by the chance of default."""
    ranked = []
    for bid in bids:
        rest = bid.amount_usd * (1 - bid.share_at_signing)
        later = rest * (1 - bid.default_chance) / (1 + rate) ** bid.years_to_rest
        ranked.append(RankedBid(bid, bid.amount_usd * bid.share_at_signing + later - bid.deductions_usd))
    return sorted(ranked, key=lambda entry: -entry.net_usd)


@dataclass(frozen=True)
class Depletion:
    """Basis recovered by a sale: information only."""

    unit_usd: float
    allowed_usd: float
    gain_usd: float


def depletion(basis_usd: float, volume_mbf: float, sold_mbf: float, income_usd: float, expense_usd: float) -> Depletion:
    """Depletion unit, what it allows, and the gain (source key ah731); a tax professional takes it from there."""
    unit = basis_usd / volume_mbf
    allowed = unit * sold_mbf
    return Depletion(unit, allowed, income_usd - expense_usd - allowed)
