"""What a year of waiting costs a stand: its own growth, and its own value where prices are known."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from overwood.ground import measures
from overwood.ground.records import StandFile
from overwood.judgement.evidence import timber
from overwood.judgement.evidence.growing import grown, response
from overwood.judgement.evidence.site import index_ft as site_index_of
from overwood.judgement.evidence.tally import Cruise, cruise_of
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules
from overwood.science import money


@dataclass(frozen=True)
class Waiting:
    """What a year of waiting costs: the share of the timber's value, and US$ an acre where prices are known."""

    growth_share_yr: float
    rate: float
    cost_share: float
    value_usd_ac: float | None
    cost_usd_ac: float | None
    # The value at the low and the high end of every price.
    value_ends_usd_ac: tuple[float, float] | None = None


def of_growth(now: float, later: float, years: int, rate: float, *, priced: bool) -> Waiting:
    """From what stands now and some years on, in US$ or board feet an acre."""
    growing = (later / now) ** (1 / years) - 1 if now > 0 and later > 0 else 0.0
    share = money.cost_of_waiting(1.0, growth=growing, rate=rate, years=1)
    return Waiting(growing, rate, share, now if priced else None, now * share if priced else None)


def waiting(file: StandFile, rules: Rules, prices: PriceList | None = None) -> Waiting | None:
    """From the latest cruise; None where nobody cruised, or no sawtimber was tallied and no price list says what the
    rest is worth."""
    visit = file.latest("cruise")
    if visit is None:
        return None
    cruise, years = cruise_of(file, visit), int(rules.number("wait_tried_yr"))
    answers = response(rules, site_index_of(file, rules))
    (now, *ends), (later, *_) = (_worth(grown(cruise, ahead, answers), rules, prices) for ahead in (0, years))
    if prices is not None:
        cost = of_growth(now, later, years, rules.number("real_rate"), priced=True)
        return replace(cost, value_ends_usd_ac=(ends[0], ends[1]))
    return of_growth(now, later, years, rules.number("real_rate"), priced=False) if now > 0 else None


def _worth(cruise: Cruise, rules: Rules, prices: PriceList | None) -> tuple[float, ...]:
    """US$ an acre at the mean, the low and the high prices, or board feet an acre without them."""
    cut, per_ac = timber.cut_up(cruise, rules, prices.log_rule if prices else "doyle"), timber.trees_per_ac(cruise)
    if prices is None:
        return (float(np.sum(cut.amounts([piece for piece in cut.pieces if piece.unit == "bd ft"]) * per_ac)),)
    return tuple(float(np.sum(timber.tree_values(cut, prices, end) * per_ac)) for end in ("mean", "low", "high"))


def words(cost: Waiting | None, rules: Rules) -> str:
    """What another year costs, in one sentence."""
    if cost is None:
        return _assumed(rules)
    if cost.value_usd_ac == 0:
        return "nothing that the price list pays for stands here, so another year costs nothing"
    if cost.value_usd_ac is not None and cost.cost_usd_ac is not None:
        grows = (
            f"about {_spanned(cost, 1.0)} of timber stands here, from low to high prices, and grows "
            f"{cost.growth_share_yr:.1%} a year"
        )
        if cost.cost_usd_ac < 0:
            return (
                f"{grows}, more than the real rate of {cost.rate:.0%}: another year earns "
                f"{_spanned(cost, -cost.cost_share)}"
            )
        return f"{grows}: another year costs about {_spanned(cost, cost.cost_share)} at a real rate of {cost.rate:.0%}"
    grows = f"the boards of this stand grow {cost.growth_share_yr:.1%} a year by its own tally"
    if cost.cost_share < 0:
        return f"{grows}, more than the real rate of {cost.rate:.0%}: another year costs nothing"
    priced = (
        f"another year costs about {cost.cost_share:.1%} of what the timber is worth at a real rate of {cost.rate:.0%}"
    )
    return f"{grows}: {priced}; with your price list it is told in US$"


def _spanned(cost: Waiting, share: float) -> str:
    """A share of the timber's value at the mean prices and at the low and high ones: '29 (20 to 38) US$/ac'."""
    usd = [
        measures.digits(share * one, "US$/ac", ",.0f")
        for one in (cost.value_usd_ac, *(cost.value_ends_usd_ac or ()))
        if one is not None
    ]
    ends = f" ({usd[1]} to {usd[2]})" if len(usd) > 1 else ""
    return measures.with_unit(usd[0], measures.unit_word("US$/ac"), ends)


def _assumed(rules: Rules) -> str:
    value, growth, rate = rules["stumpage_ac_usd"], rules["value_growth_share_yr"], rules.number("real_rate")
    costs = [worth * money.cost_of_waiting(1.0, growth=growth.number, rate=rate, years=1) for worth in value.span]
    return (
        "no sawtimber was tallied, so another year costs, by assumption, "
        f"{measures.amount(costs[1], 'US$/ac', ',.0f')} ({measures.digits(costs[0], 'US$/ac', ',.0f')} to "
        f"{measures.digits(costs[2], 'US$/ac', ',.0f')}) "
        f"on {measures.amount(value.number, 'US$/ac', ',.0f')} "
        f"({measures.digits(value.span[0], 'US$/ac', ',.0f')} to "
        f"{measures.digits(value.span[2], 'US$/ac', ',.0f')}) growing {growth.number:.0%} a year, "
        f"at a real rate of {rate:.0%}"
    )
