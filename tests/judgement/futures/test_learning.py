"""Counts against forecasts: on simulated truth the intervals cover as they should; records become the work of each year."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from conftest import DEMO_DAY
from overwood.desk import answers, futures
from overwood.ground.errors import NotFound
from overwood.judgement.evidence import all_figures
from overwood.judgement.futures import learning, start
from overwood.judgement.rules import load
from overwood.science import regeneration as science

# The futures compile for half a minute on a fresh machine.
pytestmark = pytest.mark.slow

RULES = load()


@pytest.fixture
def case(demo_book):
    return learning.case_of(answers.stand_file("S3").as_of(DEMO_DAY), RULES)


def test_the_work_of_each_year_is_that_of_the_records(case):
    # S3: counted Aug 2021, seed cut Dec 2021 to 55.9 ft2/ac, nothing after; its midstory was injected the year before.
    ba, midstory, since, _, _, work = case.history.T

    assert ba.tolist() == pytest.approx([55.9] * 4)
    assert work.tolist() == [2, 0, 0, 0]
    assert since.tolist() == [0, 1, 2, 3]
    assert (midstory == midstory[0]).all()
    assert [row.years for row in case.seen] == [1, 2, 3, 4]


def test_counts_are_those_of_the_evidence(case):
    file = answers.stand_file("S3").as_of(DEMO_DAY)
    figures = all_figures(file, RULES, DEMO_DAY)

    assert case.seen[-1].oaks_ac[1] == pytest.approx(figures["oak_stems_3ft_ac"].number)
    assert case.seen[-1].oaks_ac[2] == pytest.approx(figures["oak_stems_4_5ft_ac"].number)


def weighted_ends(values, weight, low, high):
    order = np.argsort(values)
    share = np.cumsum(weight[order]) - weight[order] / 2
    return np.interp([low, high], share, values[order])


def test_on_simulated_truth_ninety_percent_intervals_cover_about_that_often(case):
    # Truths drawn from the prior, counts simulated from them with the plots' own sampling error, then learned from by other draws.
    draws, truths = 3_000, 150
    parameters = start.draw_parameters(RULES, case.start, draws + truths, np.random.default_rng(3))
    pools = learning.simulated(case.start, case.history, parameters, 4)
    known, hidden = pools[:draws], pools[draws:]
    tempered = RULES.with_value("learn_model_error_share", 0.1)
    names = [name for name in learning.LEARNED if parameters[:, science.PARAMETERS.index(name)].std() > 0]
    covered, ahead, narrowed = {name: [] for name in names}, [], []
    for truth in range(truths):
        counts = hidden[truth]
        seen = [
            dataclasses.replace(row, oaks_ac=tuple(counts[row.years]), se_ac=tuple(np.sqrt(np.maximum(counts[row.years], 18) * 735 / 40)))
            for row in case.seen[:3]
        ]
        weight, _ = learning.weights_of(learning.log_fit(known, seen, tempered), 60)
        for name in names:
            place = science.PARAMETERS.index(name)
            low, high = weighted_ends(parameters[:draws, place], weight, 0.05, 0.95)
            covered[name].append(low <= parameters[draws + truth, place] <= high)
        low, high = weighted_ends(known[:, 4, 1], weight, 0.05, 0.95)
        ahead.append(low <= counts[4, 1] <= high)
        place = science.PARAMETERS.index("growth_established_ft_yr")
        before = np.subtract(*np.percentile(parameters[:draws, place], [95, 5]))
        after = np.subtract(*weighted_ends(parameters[:draws, place], weight, 0.95, 0.05))
        narrowed.append(after / before)

    rates = {name: np.mean(hits) for name, hits in covered.items()}
    assert 0.85 <= np.mean(list(rates.values())) <= 0.95, rates
    assert all(0.80 <= rate <= 0.98 for rate in rates.values()), rates
    assert 0.85 <= np.mean(ahead) <= 0.99
    assert np.mean(narrowed) < 0.95


def test_counts_narrow_what_is_not_known(demo_book):
    found = futures.watch("S3", answers.question(DEMO_DAY), draws=2_000, ahead=4, seed=1, pool=False)
    growth = next(row for row in found.learned if row.name == "growth_established_ft_yr")

    assert growth.after[2] - growth.after[1] < growth.before[2] - growth.before[1]
    assert found.other_stands == ()
    assert found.effective_draws >= 60
    assert [row.year for row in found.ahead] == [2026, 2027, 2028, 2029]
    assert all(0 <= row.gate_after <= 1 for row in found.ahead)


def test_the_decade_of_the_demo_is_forecast_within_its_band(demo_book):
    found = futures.watch("S3", answers.question(DEMO_DAY), draws=1_000, ahead=1, seed=1, pool=False)

    fourth = [row for row in found.scored if row.seen.years == 4]
    assert [row.height_ft for row in fourth] == [3.0, 4.5]
    assert all(row.verdict == "on course" for row in fourth)
    assert all(row.low_ac <= row.middle_ac <= row.high_ac for row in found.scored)


def test_other_stands_of_the_book_teach_too(demo_book):
    found = futures.watch("S3", answers.question(DEMO_DAY), draws=400, ahead=1, seed=1, pool=True)
    assert set(found.other_stands) >= {"S2"}


def test_a_stand_left_behind_is_told_what_to_try(demo_book):
    file = answers.stand_file("S3").as_of(DEMO_DAY)
    last = file.latest("reproduction").visit
    bare = dataclasses.replace(file, seedlings=tuple(row for row in file.seedlings if row.visit != last or row.height_class == "<0.5"))

    found = learning.watch(bare, [], RULES, draws=600, ahead=2, seed=1)

    assert found.scored[-2].verdict == "behind"
    assert any("weed around the best oaks" in words for words in found.advice)


def test_the_same_seed_gives_the_same_answer(demo_book):
    ask = answers.question(DEMO_DAY)
    one, two = (futures.watch("S2", ask, draws=300, ahead=2, seed=3, pool=False) for _ in range(2))
    assert one == two


def test_one_count_teaches_nothing(demo_book):
    with pytest.raises(NotFound, match="not been counted twice"):
        futures.watch("S1", answers.question(DEMO_DAY), draws=300, ahead=2, seed=1, pool=False)


def test_counts_far_from_every_draw_are_trusted_less():
    fit = np.concatenate(([0.0], np.full(999, -50.0)))
    weight, trusted = learning.weights_of(fit, 60)

    assert trusted < 1
    assert 1 / (weight**2).sum() >= 60


def test_a_burn_and_an_injection_come_in_their_years(case):
    file = answers.stand_file("S3").as_of(DEMO_DAY)
    work = [
        dataclasses.replace(
            file.operations[0], operation=f"x{n}", kind=kind, state="done", started_on=day, ended_on=None, ba_after_ft2_ac=None
        )
        for n, (kind, day) in enumerate([("injection", dt.date(2021, 10, 1)), ("burn", dt.date(2023, 3, 1))])
    ]
    history = learning.history_of(dataclasses.replace(file, operations=tuple(work)), case.start, dt.date(2021, 8, 24), 3)

    assert history[:, 1].tolist() == [0, 0, 0]
    assert history[:, 5].tolist() == [0, 1, 0]
