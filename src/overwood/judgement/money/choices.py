"""What each choice pays: dated costs and incomes of a stand under cut now, shelterwood, two ages, thin or wait.

Values come from the tallied trees grown on and priced by the user's list; what comes back as oak is not valued here.
"""

from __future__ import annotations

import copy
import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from overwood.ground import measures
from overwood.ground.errors import Misuse
from overwood.ground.records import StandFile
from overwood.ground.units import FT2_PER_ACRE
from overwood.judgement.course.stage import stage
from overwood.judgement.evidence import layers, site, timber
from overwood.judgement.evidence.growing import grown, response
from overwood.judgement.evidence.tally import cruise_of
from overwood.judgement.gates import Figures
from overwood.judgement.leave_rule import largest_oaks
from overwood.judgement.net_ground import net_area_ac
from overwood.judgement.prices import PriceList
from overwood.judgement.rules import Rules
from overwood.judgement.waiting import of_growth
from overwood.science import money

Mask = NDArray[np.bool_]


def rates_tried(rules: Rules) -> tuple[float, ...]:
    """The owner's real rate, both ends of its range, and one between."""
    rule = rules["real_rate"]
    low, high = float(rule.low or rule.number), float(rule.high or rule.number)
    return tuple(sorted({low, round((low + rule.number) / 2, 6), rule.number, high}))


@dataclass(frozen=True)
class Flow:
    """One cost (below zero) or income."""

    year: float
    amount_usd_ac: float
    what: str
    # What it is for those who reckon with it: "marking" belongs to a sale.
    kind: str = ""


@dataclass(frozen=True)
class Tried:
    """Present value of a choice, US$ an acre, when one thing is changed; ``crop_fails`` for three years running, None
    where no cut waits for acorns."""

    low_prices: float
    high_prices: float
    costs_doubled: float
    costs_halved: float
    slow_site: float
    fast_site: float
    crop_fails: float | None


@dataclass(frozen=True)
class Choice:
    """One way to treat the stand, in money."""

    code: str
    name: str
    flows: tuple[Flow, ...]
    npv: dict[float, float]
    annual_equivalent: float
    rate_earned: float
    rates_earned: tuple[float, ...]
    land_after_npv: float
    tried: Tried
    oak: str
    notes: tuple[str, ...] = ()
    worth: float = 0.0

    DERIVED: ClassVar = ("total_npv", "low", "high")

    @property
    def low(self) -> float:
        """Present value at the low end of every price."""
        return self.tried.low_prices

    @property
    def high(self) -> float:
        """Present value at the high end of every price."""
        return self.tried.high_prices

    @property
    def total_npv(self) -> dict[float, float]:
        """With the land value after the last cut."""
        return {rate: value + self.land_after_npv for rate, value in self.npv.items()}


# What stands under every figure of money that grows trees on; docs/growth.md tells the evidence.
GROWN_BY = (
    "Trees grow by equations of one forest, their level by two, and die at rates of four; thinned trees grow faster "
    "once the lag of their species is over"
)


@dataclass(frozen=True)
class Choices:
    """All choices of a stand with what was tried."""

    stand: str
    rate: float
    choices: tuple[Choice, ...]
    value_now_usd_ac: float
    growth_share_yr: float
    waiting_usd_ac: float
    price_list: str
    missing_costs: tuple[str, ...]
    horizon_yr: float
    # Why the figures of the trees are too old to weigh, "" where they are not.
    too_old: str = ""


class PricedStand:
    """The tallied trees of a stand, grown on and priced."""

    def __init__(self, file: StandFile, rules: Rules, prices: PriceList) -> None:
        visit = file.latest("cruise")
        assert visit is not None
        self.file, self.rules, self.prices, self.end = file, rules, prices, "mean"
        self.acres = net_area_ac(file) or 1.0
        self.cruise = cruise_of(file, visit)
        self.answers = response(rules, site.index_ft(file, rules))
        self.oak = layers.oak_mask(self.cruise)
        self.overwood = layers.overwood_mask(self.cruise, rules)
        self._standing: dict[tuple[int, bytes, int | None], timber.Timber] = {}

    def priced(self, end: str) -> PricedStand:
        """The same stand, grown once, at the low or the high end of every price."""
        other = copy.copy(self)
        other.end = end
        return other

    def _timber_after(self, years: int, kept: Mask | None, cut_yr: int | None) -> timber.Timber:
        """The trees so many years on in logs; kept, since every price asks for the same."""
        key = years, b"" if kept is None else kept.tobytes(), cut_yr
        if key not in self._standing:
            cruise = grown(self.cruise, years, self.answers, standing=kept, cut_yr=cut_yr)
            self._standing[key] = timber.cut_up(cruise, self.rules, self.prices.log_rule)
        return self._standing[key]

    def values_after(self, years: int, kept: Mask | None = None, cut_yr: int | None = None) -> NDArray[np.float64]:
        """US$ an acre of each tree so many years on; the trees not kept are gone from the year of the cut on."""
        standing = self._timber_after(years, kept, cut_yr)
        return timber.tree_values(standing, self.prices, self.end) * timber.trees_per_ac(standing.cruise)


def compare(
    file: StandFile, figures: Figures, rules: Rules, prices: PriceList, extras: tuple[str, ...] = ()
) -> Choices:
    """Every choice in money, with rates, prices, costs and a failed crop tried; ``extras`` are works of EXTRAS to count
    in. Raises Misuse when the list has no cost for an extra."""
    for name in extras:
        if EXTRAS[name] not in prices.costs:
            raise Misuse(
                f"the price list has no cost for {name}.",
                remedy=f"Add {EXTRAS[name]} to its [cost] table, or leave it out.",
            )
    rate = rules.number("real_rate")
    stand = PricedStand(file, rules, prices)

    def flows_of(code: str, priced: PricedStand, delay: int = 0) -> list[Flow]:
        flows = _BUILDERS[code](priced, figures, delay)
        return flows + _extra_flows(code, flows, extras, priced)

    slow, fast = (PricedStand(file, _other_site(rules, sign), prices) for sign in (-1, 1))
    made = {code: flows_of(code, stand) for code in _BUILDERS if _fits(code, file)}

    def tried(code: str) -> Tried:
        flows = made[code]
        return Tried(
            low_prices=_npv(flows_of(code, stand.priced("low")), rate),
            high_prices=_npv(flows_of(code, stand.priced("high")), rate),
            costs_doubled=_npv(_with_costs(flows, 2.0), rate),
            costs_halved=_npv(_with_costs(flows, 0.5), rate),
            slow_site=_npv(flows_of(code, slow), rate),
            fast_site=_npv(flows_of(code, fast), rate),
            crop_fails=_npv(flows_of(code, stand, _CROP_FAILS_YR), rate) if code in _WAITS_FOR_CROP else None,
        )

    ahead = int(rules.number("wait_tried_yr"))
    now, later = float(stand.values_after(0).sum()), float(stand.values_after(ahead).sum())
    waits = of_growth(now, later, ahead, rate, priced=True)
    choices = tuple(_choice(code, made, tried(code), figures, rules) for code in made)
    return Choices(
        stand=file.stand.stand,
        rate=rate,
        choices=choices,
        value_now_usd_ac=now,
        growth_share_yr=waits.growth_share_yr,
        waiting_usd_ac=waits.cost_usd_ac or 0.0,
        price_list=f"{prices.source}, {prices.date}",
        missing_costs=tuple(
            name for name in ("injection", "marking", "count", "sale_fee_share") if name not in prices.costs
        ),
        horizon_yr=horizon_yr(list(made.values())),
    )


def horizon_yr(streams: list[list[Flow]]) -> float:
    """The years over which every choice of a stand is told as a yearly income: to the last cost or income of any of
    them."""
    return max((flow.year for flows in streams for flow in flows), default=0.0) or 1.0


def _npv(flows: list[Flow], rate: float) -> float:
    return money.net_present_value([f.amount_usd_ac for f in flows], [f.year for f in flows], rate) if flows else 0.0


def _choice(code: str, made: dict[str, list[Flow]], tried: Tried, figures: Figures, rules: Rules) -> Choice:
    """One choice of those that are ``made``."""
    flows = made[code]
    rate, last = rules.number("real_rate"), max((flow.year for flow in flows), default=0.0)
    base, earned = _npv(flows, rate), _rates_earned(flows, made["cut_now"])
    land = rules.number("land_value_after_usd_ac") / (1 + rate) ** last if code != "nothing" else 0.0
    return Choice(
        code=code,
        name=_NAMES[code],
        flows=tuple(flows),
        npv={r: _npv(flows, r) for r in rates_tried(rules)},
        annual_equivalent=money.annual_equivalent(base, rate, horizon_yr(list(made.values()))),
        rate_earned=earned[0] if len(earned) == 1 else float("nan"),
        rates_earned=earned,
        land_after_npv=land,
        tried=tried,
        oak=_oak_words(code, figures),
        worth=base,
    )


def _rates_earned(flows: list[Flow], now: list[Flow]) -> tuple[float, ...]:
    """The rates the trees earn by not being cut now: the stream less that of cutting everything at once."""
    if not flows or flows == now:
        return ()
    both = [(flow.amount_usd_ac, flow.year) for flow in flows] + [(-flow.amount_usd_ac, flow.year) for flow in now]
    return money.rates_of_return([amount for amount, _ in both], [year for _, year in both])


def _oak_words(code: str, figures: Figures) -> str:
    """What is known of the oak that would come back; the odds of later cuts are those of the futures."""
    dominants = figures["dominants_at_20_ac"]
    if code == "cut_now":
        if not dominants.measured:
            return "not known: no count of the reproduction"
        leading = measures.amount(dominants.number, "leading oaks an acre")
        return f"about {leading} at age 20 by the stocked-plot rule, of today's tall oaks and stumps alone"
    if code == "nothing":
        return "oak fades as the midstory takes the forest floor; what stands is not counted as income"
    return "depends on crops and counts to come; simulated outcomes try them"


def _with_costs(flows: list[Flow], times: float) -> list[Flow]:
    """The flows with every cost so many times itself."""
    return [dataclasses.replace(f, amount_usd_ac=f.amount_usd_ac * times) if f.amount_usd_ac < 0 else f for f in flows]


def _other_site(rules: Rules, sign: int) -> Rules:
    """The rules for a site at one end of how far sites lie apart."""
    growth_low, _, growth_high = rules["growth_site_z"].span
    death_low, _, death_high = rules["death_site_z"].span
    growth, death = (growth_high, death_low) if sign > 0 else (growth_low, death_high)
    return rules.with_values({"growth_site_z": growth, "death_site_z": death})


def _cost(stand: PricedStand, name: str) -> float:
    """Cost an acre with the fixed cost of coming at all."""
    return -stand.prices.cost(name, stand.acres)


def _cost_share(stand: PricedStand, work: str, year: float) -> list[Flow]:
    """What the user's cost-share table pays back a year after the work, on the acres it covers."""
    return [
        Flow(year, practice.on(stand.acres), f"cost-share {practice.code}".strip())
        for practice in stand.prices.cost_shares
        if practice.work == work
    ]


def _sale(stand: PricedStand, year: float, worth: float, what: str) -> list[Flow]:
    fee = stand.prices.costs.get("sale_fee_share", 0.0)
    return [
        Flow(year, worth, what),
        Flow(year, -fee * worth, f"{what}: sale fee"),
        Flow(year, _cost(stand, "marking"), f"{what}: marking", "marking"),
    ]


def square_fence_ft(area_ac: float) -> float:
    """Length of a fence around a square of a stand's area [ft]."""
    return 4 * math.sqrt(area_ac * FT2_PER_ACRE)


def _extra_flows(code: str, flows: list[Flow], extras: tuple[str, ...], stand: PricedStand) -> list[Flow]:
    """Works the owner asked to count in: a road for any sale, burn, fence and planting where the floor is to
    regenerate."""
    sales = [flow.year for flow in flows if flow.kind == "marking"]
    if not sales:
        return []
    first, regenerates, area = min(sales), code in _REGENERATES, stand.acres
    extra_flows = []
    if "road" in extras:
        extra_flows.append(Flow(first, _cost(stand, EXTRAS["road"]) / area, "road"))
    if "burn" in extras and regenerates:
        burnt = max(first - 1, 0)
        extra_flows.append(Flow(burnt, _cost(stand, EXTRAS["burn"]), "burn in the dormant season before the first cut"))
        extra_flows += _cost_share(stand, "burn", burnt + 1)
    if "fence" in extras and regenerates:
        length_ft = square_fence_ft(area)
        fence = f"fence of {measures.amount(length_ft, 'ft', ',.0f')}, as around a square of the stand's area"
        extra_flows.append(Flow(first, length_ft * _cost(stand, EXTRAS["fence"]) / area, fence))
    if "planting" in extras and regenerates:
        trees = stand.rules.number("planting_trees_ac")
        planting = f"planting of {measures.amount(trees, 'oaks an acre')}"
        extra_flows.append(Flow(first + 1, trees * _cost(stand, EXTRAS["planting"]), planting))
    return extra_flows


def _cut_now(stand: PricedStand, figures: Figures, delay: int) -> list[Flow]:
    return _sale(stand, 0, float(stand.values_after(0).sum()), "cut of everything")


def _wait(stand: PricedStand, figures: Figures, delay: int) -> list[Flow]:
    years = int(stand.rules.number("wait_tried_yr"))
    return _sale(stand, years, float(stand.values_after(years).sum()), f"cut after {years} years")


def _nothing(stand: PricedStand, figures: Figures, delay: int) -> list[Flow]:
    return []


def _preparation(stand: PricedStand, figures: Figures, crop_yr: int) -> list[Flow]:
    flows = []
    if stage(stand.file) == "untreated" and figures["midstory_stems_ac"].number > stand.rules.number(
        "midstory_stems_ac"
    ):
        flows.append(Flow(0, _cost(stand, "injection"), "injection of the midstory"))
        flows += _cost_share(stand, "injection", 1)
    return flows + [
        Flow(year, _cost(stand, "count"), "count of the reproduction")
        for year in _after(crop_yr, stand.rules.number("choice_counts_yr"))
    ]


def _after(year: int, years: float) -> range:
    """Each of so many years behind one."""
    return range(year + 1, year + 1 + int(years))


def _crop_year(stand: PricedStand, delay: int) -> int:
    return (0 if stage(stand.file) == "midstory treated" else 2) + delay


def _in_cuts(
    stand: PricedStand, figures: Figures, delay: int, residuals: tuple[tuple[int, float], ...], last: int
) -> list[Flow]:
    """Cuts to residual basal areas at given years after the crop year, and the last cut of what is left."""
    crop = _crop_year(stand, delay)
    flows = _preparation(stand, figures, crop)
    leave, first = np.ones(len(stand.cruise.trees), dtype=bool), None
    for after, residual in residuals:
        year = crop + after
        worth, stay = stand.values_after(year, leave, first), largest_oaks(stand.cruise, stand.rules, residual) & leave
        flows += _sale(stand, year, float(worth[leave & ~stay].sum()), f"cut to {measures.amount(residual, 'ft2/ac')}")
        leave, first = stay, year if first is None else first
    year = crop + last
    worth = stand.values_after(year, leave, first)
    return flows + _sale(stand, year, float(worth[leave].sum()), "removal of the overwood")


def _residual(rules: Rules) -> float:
    return (rules.number("seed_cut_residual_low_ft2_ac") + rules.number("seed_cut_residual_high_ft2_ac")) / 2


def _two_cuts(stand: PricedStand, figures: Figures, delay: int) -> list[Flow]:
    return _in_cuts(stand, figures, delay, ((0, _residual(stand.rules)),), int(stand.rules.number("removal_delay_yr")))


def _three_cuts(stand: PricedStand, figures: Figures, delay: int) -> list[Flow]:
    later = int(stand.rules.number("removal_delay_yr"))
    step, gap = stand.rules.number("three_cut_step_ft2_ac"), int(stand.rules.number("three_cut_gap_yr"))
    first = stand.rules.number("seed_cut_residual_high_ft2_ac") + step
    return _in_cuts(stand, figures, delay, ((0, first), (gap, _residual(stand.rules) - step)), gap + later)


def _two_ages(stand: PricedStand, figures: Figures, delay: int) -> list[Flow]:
    reserve = stand.rules.number("reserve_ba_ft2_ac")
    return _in_cuts(stand, figures, delay, ((0, reserve),), int(stand.rules.number("two_age_hold_yr")))


def _thin_and_wait(stand: PricedStand, figures: Figures, delay: int) -> list[Flow]:
    stocking, ba = figures["overwood_stocking_pct"], figures["overwood_ba_ft2_ac"]
    left = (
        ba.number * min(1.0, stand.rules.number("thin_residual_stocking_pct") / stocking.number)
        if stocking.number > 0
        else ba.number
    )
    leave, years = largest_oaks(stand.cruise, stand.rules, left), int(stand.rules.number("thin_hold_yr"))
    flows = _sale(stand, 0, float(stand.values_after(0)[~leave].sum()), "thinning")
    return flows + _sale(
        stand, years, float(stand.values_after(years, leave, 0)[leave].sum()), f"cut after {years} years"
    )


_Builder = Callable[[PricedStand, Figures, int], list[Flow]]
_BUILDERS: dict[str, _Builder] = {
    "cut_now": _cut_now,
    "two_cuts": _two_cuts,
    "three_cuts": _three_cuts,
    "two_ages": _two_ages,
    "thin": _thin_and_wait,
    "wait": _wait,
    "nothing": _nothing,
}
_NAMES = {
    "cut_now": "cut all now",
    "two_cuts": "shelterwood in two cuts",
    "three_cuts": "shelterwood in three cuts",
    "two_ages": "two ages",
    "thin": "thin and wait",
    "wait": "wait",
    "nothing": "do nothing",
}
# Works that a choice counts in only when asked to, and the cost each takes from the price list.
EXTRAS = {"burn": "burn", "planting": "planting_per_tree", "fence": "fence_per_ft", "road": "road_each"}
_REGENERATES = ("cut_now", "two_cuts", "three_cuts", "two_ages")
_WAITS_FOR_CROP = ("two_cuts", "three_cuts", "two_ages")
_NEEDS_WHOLE_CANOPY = ("two_cuts", "three_cuts", "thin")
# So many years running without acorns are tried.
_CROP_FAILS_YR = 3


def _fits(code: str, file: StandFile) -> bool:
    """A stand that was opened is not opened again."""
    return code not in _NEEDS_WHOLE_CANOPY or stage(file) in ("untreated", "midstory treated")
