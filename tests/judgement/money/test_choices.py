"""What each choice pays, on the demo property and its invented prices."""

from __future__ import annotations

import dataclasses
import functools

import pytest

from conftest import DEMO_DAY, ROOT
from overwood.desk import answers, formulas, timber
from overwood.faces.papers import choices_page
from overwood.ground.errors import Misuse
from overwood.judgement import leave_rule, waiting
from overwood.judgement.money import choices, selling
from overwood.judgement.rules import load
from overwood.science import money

pytestmark = pytest.mark.slow

RULES = load()


@functools.cache
def _compared():
    """Made once, within the first test that has the demo open; it is frozen."""
    return timber.compare("S1", answers.Question(DEMO_DAY, RULES), timber.price_list(ROOT / "demo" / "prices.toml"))


@pytest.fixture
def found(demo_book):
    return _compared()


def by_name(found):
    return {choice.name: choice for choice in found.choices}


def test_every_alternative_is_there(found):
    assert set(by_name(found)) == {
        "cut all now", "shelterwood in two cuts", "shelterwood in three cuts", "two ages", "thin and wait", "wait", "do nothing",
    }  # fmt: skip


def test_cutting_now_is_the_standing_value_less_fee_and_marking(found):
    now = by_name(found)["cut all now"]

    assert now.npv[0.04] == pytest.approx(0.9 * found.value_now_usd_ac - 25)
    assert len(set(now.npv.values())) == 1


def test_a_present_value_is_that_of_its_dated_flows(found):
    for choice in found.choices:
        for rate, value in choice.npv.items():
            assert value == pytest.approx(sum(flow.amount_usd_ac / (1 + rate) ** flow.year for flow in choice.flows))


def test_a_shelterwood_pays_for_injection_and_gets_its_cost_share(found):
    flows = {flow.what: flow for flow in by_name(found)["shelterwood in two cuts"].flows}

    assert flows["injection of the midstory"].amount_usd_ac == pytest.approx(-(165 + 500 / 28))
    assert flows["cost-share 666"].amount_usd_ac == 115
    assert flows["removal of the overwood"].year == 7


def test_price_range_rate_cost_and_failed_crops_are_tried(found):
    choice = by_name(found)["shelterwood in two cuts"]
    npv, tried = choice.npv, choice.tried

    assert tried.low_prices < npv[0.04] < tried.high_prices
    assert npv[0.06] < npv[0.04] < npv[0.02]
    assert tried.costs_doubled < npv[0.04] < tried.costs_halved
    assert tried.slow_site < npv[0.04] < tried.fast_site
    assert tried.crop_fails < npv[0.04]


def test_waiting_costs_what_growth_falls_short_of_the_rate(found):
    expected = money.cost_of_waiting(found.value_now_usd_ac, growth=found.growth_share_yr, rate=found.rate, years=1)

    assert found.waiting_usd_ac == pytest.approx(expected)
    assert 0 < found.growth_share_yr < 0.04


def test_the_rate_earned_makes_waiting_and_cutting_equal(found):
    wait, now = by_name(found)["wait"], by_name(found)["cut all now"]
    rate = wait.rate_earned

    worth = sum(flow.amount_usd_ac / (1 + rate) ** flow.year for flow in wait.flows)
    assert worth == pytest.approx(now.npv[0.04], rel=1e-6)


def test_a_stand_already_opened_is_not_opened_again(demo_book):
    ask = answers.Question(DEMO_DAY, RULES)
    found = timber.compare("S3", ask, timber.price_list(ROOT / "demo" / "prices.toml"))

    assert "shelterwood in two cuts" not in by_name(found)


def test_nothing_is_promised_of_oak_that_was_not_simulated(found):
    oak = {choice.name: choice.oak for choice in found.choices}

    assert "leading oaks" in oak["cut all now"]
    assert "simulated outcomes try them" in oak["shelterwood in two cuts"]


def test_all_choices_are_told_as_a_yearly_income_over_the_same_years(found):
    last = max(flow.year for choice in found.choices for flow in choice.flows)
    rate = found.rate
    factor = rate / (1 - (1 + rate) ** -last)

    assert found.horizon_yr == last
    for choice in found.choices:
        assert choice.annual_equivalent == pytest.approx(choice.npv[rate] * factor)
    # Present value and yearly income rank the choices alike.
    by_income = sorted(found.choices, key=lambda choice: choice.annual_equivalent)
    assert by_income == sorted(found.choices, key=lambda choice: choice.npv[rate])


def test_the_seed_cut_leaves_large_upper_canopy_oaks(demo_book):
    file = answers.stand_file("S1").as_of(DEMO_DAY)
    stand = choices.PricedStand(file, RULES, timber.price_list(ROOT / "demo" / "prices.toml"))

    kept = leave_rule.largest_oaks(stand.cruise, RULES, 60.0)

    assert stand.oak[kept].all()
    assert set(stand.cruise.crown_class[kept]) <= {"dominant", "codominant"}


def test_bids_are_ranked_net_of_terms_and_risk():
    cash = selling.Bid("A", 40_000, 1.0, 0, 0.0, 0)
    later = selling.Bid("B", 42_000, 0.1, 2, 0.1, 0)

    ranked = selling.rank_bids([later, cash], 0.04)

    assert [entry.bid.bidder for entry in ranked] == ["A", "B"]
    assert ranked[1].net_usd == pytest.approx(4_200 + 37_800 * 0.9 / 1.04**2)


def test_depletion_is_the_worked_arithmetic():
    # By hand: basis 18,000 over 180 MBF, 60 sold for 42,000 less 3,360.
    found = selling.depletion(18_000, 180, 60, 42_000, 3_360)

    assert (found.unit_usd, found.allowed_usd, found.gain_usd) == (100, 6_000, 32_640)


def test_a_rate_of_return_equals_a_root_found_elsewhere():
    from scipy.optimize import brentq

    amounts, years = [-200, -50, 40, 500], [0, 2, 5, 20]
    peer = brentq(lambda rate: sum(a / (1 + rate) ** y for a, y in zip(amounts, years, strict=True)), 0.001, 0.5)
    assert money.rates_of_return(amounts, years) == pytest.approx((peer,), abs=1e-9)


@pytest.mark.parametrize(
    ("amounts", "years", "rates"),
    [
        # By hand: 200 / 100 - 1; 100 / 1 - 1; (1 + r) solves 100 x2 - 230 x + 132 = 0; (3000 / 1000)^(1/40) - 1.
        ([-100, 200], [0, 1], (1.0,)),
        ([-1, 100], [0, 1], (99.0,)),
        ([-1, 20_000], [0, 1], (19_999.0,)),
        ([-100, 230, -132], [0, 1, 2], (0.1, 0.2)),
        ([-1000, 3000], [0, 40], (3 ** (1 / 40) - 1,)),
        ([-100, 100], [0, 1], (0.0,)),
        ([100, 100], [0, 1], ()),
        ([-100, -5], [0, 1], ()),
    ],
)
def test_every_rate_of_return_is_found_and_none_is_made_up(amounts, years, rates):
    assert money.rates_of_return(amounts, years) == pytest.approx(rates, rel=1e-9, abs=1e-9)


def test_a_stream_of_two_rates_has_no_single_one_and_says_both():
    irr = formulas.formula("rate-of-return")
    amounts, years = [-100, 230, -132], [0, 1, 2]

    assert money.sign_changes(amounts, years) == 2
    with pytest.raises(Misuse, match=r"turns .* 2 times .*10\.00%, 20\.00%"):
        irr.compute(amounts=amounts, years=years)


def test_flows_of_one_year_count_together_in_the_turns_of_a_stream():
    assert money.sign_changes([-100, 50, -20, 200], [0, 0, 3, 5]) == 1


def test_waiting_costs_what_the_worked_examples_say():
    # 2,600 US$/ac growing 2 % at a rate of 4 %: 2,600 (1 - 1.02/1.04) = 50 for one year, 2,600 (1 - (1.02/1.04)^3) = 147 for three.
    assert money.cost_of_waiting(2600, growth=0.02, rate=0.04, years=1) == pytest.approx(50, abs=0.5)
    assert money.cost_of_waiting(2600, growth=0.02, rate=0.04, years=3) == pytest.approx(147, abs=0.5)


def test_advice_brief_and_choices_say_one_cost_of_waiting(demo_book):
    listed = timber.price_list(ROOT / "demo" / "prices.toml")
    ask = answers.Question(DEMO_DAY, RULES, listed)

    cost = timber.compare("S2", ask, listed).waiting_usd_ac
    said = f"another year costs about {cost:,.0f} ("

    assert said in answers.brief("S2", ask).waiting
    for text in (*answers.advice("S1", ask).follow_on, *answers.advice("S2", ask).follow_on):
        assert "2,600" not in text.words


def test_money_of_a_cruise_too_old_to_advise_on_says_so(demo_book):
    listed = timber.price_list(ROOT / "demo" / "prices.toml")
    ask = answers.Question(DEMO_DAY, RULES, listed)
    old, fresh = (timber.compare(name, ask, listed) for name in ("S8", "S6"))

    assert "12 years old" in old.too_old and fresh.too_old == ""
    assert choices_page.content(old, DEMO_DAY)["lead"].startswith("The cruise of Jul 2013 is 12 years old")


def test_without_prices_waiting_is_told_by_the_stands_own_growth_and_not_in_money(demo_book):
    text = answers.brief("S2", answers.Question(DEMO_DAY, RULES)).waiting

    assert "of this stand grow" in text and "%" in text
    assert "US$/ac" not in text


def test_a_stand_that_grows_faster_than_the_rate_earns_by_waiting():
    found = waiting.of_growth(1_000, 1_000 * 1.07**5, 5, 0.04, priced=True)

    assert found.growth_share_yr == pytest.approx(0.07)
    assert found.cost_usd_ac == pytest.approx(-1_000 * (1.07 / 1.04 - 1))
    # At prices from 700 to 1,300 US$ an acre the year earns as much more or less.
    spanned = dataclasses.replace(found, value_ends_usd_ac=(700.0, 1_300.0))
    assert "earns 29 (20 to 38) US$/ac" in waiting.words(spanned, RULES)


def test_works_asked_for_are_counted_in_where_they_belong(demo_book):
    listed = timber.price_list(ROOT / "demo" / "prices.toml")
    listed = dataclasses.replace(listed, costs={**listed.costs, "fence_per_ft": 4.0, "road_each": 1_200.0})
    ask = answers.Question(DEMO_DAY, RULES)

    bare, full = (by_name(timber.compare("S1", ask, listed, extras)) for extras in ((), ("road", "fence", "planting", "burn")))

    area = answers.stand_file("S1").stand.area_ac
    added = {name: [f for f in full[name].flows if f not in bare[name].flows] for name in full}
    assert added["do nothing"] == []
    assert [(f.what, f.amount_usd_ac) for f in added["wait"]] == [("road", pytest.approx(-1_200 / area))]
    cut = {f.what: f for f in added["shelterwood in two cuts"]}
    first = min(f.year for f in bare["shelterwood in two cuts"].flows if f.what.startswith("cut to"))
    fence = next(flow for what, flow in cut.items() if what.startswith("fence of"))
    assert fence.year == cut["road"].year == first
    assert fence.amount_usd_ac == pytest.approx(-4 * 4 * (area * 43_560) ** 0.5 / area)
    assert cut["planting of 100 oaks an acre"].amount_usd_ac == -700
    assert cut["planting of 100 oaks an acre"].year == first + 1
    assert cut["burn in the dormant season before the first cut"].year == first - 1
    for name, flows in added.items():
        late = money.net_present_value([f.amount_usd_ac for f in flows], [f.year for f in flows], 0.04) if flows else 0.0
        assert full[name].npv[0.04] - bare[name].npv[0.04] == pytest.approx(late, abs=0.01)


def test_a_work_without_a_cost_is_refused(demo_book):
    listed = timber.price_list(ROOT / "demo" / "prices.toml")

    with pytest.raises(Misuse, match="no cost for fence"):
        timber.compare("S1", answers.Question(DEMO_DAY, RULES), listed, ("fence",))
